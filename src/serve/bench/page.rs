//! The bench's page, built into the program, and what it is told on loading.

use super::draft::Draft;
use crate::files::Slug;
use crate::rules::Judged;
use crate::serve::Ground;
use crate::shoe::Session;
use serde_json::{Value, json};
use std::collections::BTreeMap;

pub(super) const PAGE: &str = include_str!("bench.html");
pub(super) const STYLE: &str = include_str!("bench.css");
pub(super) const SCRIPT: &str = include_str!("bench.js");

/// The lab as the page needs it.
pub(super) fn state(ground: &Ground, drafts: &BTreeMap<(Slug, String), Draft>) -> Value {
    let protocol = &ground.lab.protocol;
    let conditioning = &protocol.conditioning;
    let quantities: Vec<Value> = protocol
        .quantities
        .iter()
        .filter(|(_, spec)| spec.from.is_none())
        .map(|(key, spec)| {
            let instrument = ground.lab.instruments.get(&spec.instrument);
            json!({
                "key": key,
                "label": spec.label,
                "what": spec.what,
                "at": spec.at.map(|at| at.to_string()),
                "unit": spec.unit.to_string(),
                "trials": spec.trials,
                "instrument": instrument.map(|one| one.label.clone()),
                "overdue": instrument.is_some_and(|one| one.calibration.due <= ground.today),
                "due": instrument.map(|one| one.calibration.due.text()),
            })
        })
        .collect();
    let unsaved: Vec<Value> = drafts
        .iter()
        .filter(|(_, draft)| draft.is_unsaved())
        .map(|((shoe, specimen), _)| json!({ "shoe": shoe, "specimen": specimen }))
        .collect();
    json!({
        "lab": ground.lab.settings.name,
        "invented": ground.lab.settings.invented,
        "today": ground.today.to_string(),
        "shoes": ground.shoes.iter().map(shoe).collect::<Vec<_>>(),
        "broken": ground.files.keys().filter(|slug| ground.shoe(slug).is_none()).collect::<Vec<_>>(),
        "unsaved": unsaved,
        "categories": pairs(ground.lab.settings.categories.iter()),
        "operators": pairs(ground.lab.settings.operators.iter()),
        "quantities": quantities,
        "conditioning": format!(
            "{} ± {} °C, {} ± {} %, {} h at least",
            conditioning.temperature,
            conditioning.temperature_tolerance,
            conditioning.humidity,
            conditioning.humidity_tolerance,
            conditioning.soak
        ),
        "within": conditioning.measure_within,
        "last": last_session(ground, drafts),
    })
}

fn pairs<'p>(
    of: impl Iterator<Item = (&'p crate::files::Key, &'p String)>,
) -> Vec<(&'p str, &'p str)> {
    of.map(|(key, name)| (key.as_str(), name.as_str()))
        .collect()
}

fn shoe(judged: &Judged) -> Value {
    let specimens = judged.shoe.file.specimens.iter();
    json!({
        "shoe": judged.shoe.slug,
        "code": super::code_of(&judged.shoe.slug),
        "title": judged.shoe.title(),
        "specimens": specimens.map(|one| &one.id).collect::<Vec<_>>(),
    })
}

/// The conditions of the latest session, begun here or in a file.
fn last_session(ground: &Ground, drafts: &BTreeMap<(Slug, String), Draft>) -> Value {
    let begun = drafts
        .values()
        .filter_map(|draft| draft.new_specimen.as_ref())
        .max_by(|a, b| a.on.cmp(&b.on));
    let in_files = ground
        .shoes
        .iter()
        .flat_map(|judged| &judged.shoe.file.specimens)
        .map(|specimen| &specimen.session)
        .max_by_key(|session: &&Session| session.on);
    match (begun, in_files) {
        (Some(begun), session) if session.is_none_or(|s| s.on.to_string() <= begun.on) => json!({
            "operator": begun.operator,
            "temperature": begun.temperature,
            "humidity": begun.humidity,
            "soaked": begun.soaked,
        }),
        (_, Some(session)) => json!({
            "operator": session.operator,
            "temperature": session.temperature.to_string(),
            "humidity": session.humidity.to_string(),
            "soaked": session.soaked.to_string(),
        }),
        _ => Value::Null,
    }
}
