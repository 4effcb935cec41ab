//! `record`: readings into a shoe's file, and at once what they say.

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Key, RelPath, Slug, Source, edit, nearest};
use crate::quantity::{Amount, Unit};
use crate::serve::{Answer, Ground, Writer, answer};
use crate::shoe::Specimen;
use anyhow::Context as _;
use clap::Args;
use std::fmt::Write as _;

/// Add readings to those of a shoe's specimen, and show at once their mean,
/// spread, flags, band, chance and standing. Only the readings change in the
/// file: comments, order and spacing stay.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The shoe's address: its file's name without the ending
    shoe: String,
    /// The quantity, such as mass
    quantity: String,
    /// The readings, in the protocol's unit or with their own: 4.3 "38 in·lbf"
    #[arg(required = true, allow_negative_numbers = true)]
    values: Vec<String>,
    /// The specimen's mark; not needed where the shoe has only one
    #[arg(long, value_name = "ID")]
    specimen: Option<String>,
    /// The unit of readings that carry none
    #[arg(long, value_name = "U")]
    unit: Option<String>,
    /// Put them in the place of the readings that are there
    #[arg(long)]
    replace: bool,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let writer = Writer::new(&root).context("recording needs a folder on the disk")?;
    let ground = match Ground::read(&root, Desk::today()) {
        Ok(ground) => ground,
        Err(problems) => {
            desk.show_problems(&root, problems);
            return Ok(Exit::Problems);
        }
    };
    let (slug, path) = shoe_file(&ground, &arguments.shoe)?;
    let quantity = quantity(&ground, &arguments.quantity)?;
    let words = words(
        &ground,
        &quantity,
        &arguments.values,
        arguments.unit.as_deref(),
    )?;
    let before = match root.read(&path) {
        Ok(source) => source,
        Err(problem) => return Ok(problems(desk, &ground, vec![problem])),
    };
    // What is edited keeps its end as it is, so that every later run says so too.
    if let Some(cut_off) = before.cut_off().filter(|_| !desk.json()) {
        desk.show_problems(&root, vec![cut_off]);
    }
    let judged = match ground.judge(&slug, &before) {
        Ok(judged) => judged,
        Err(found) => return Ok(problems(desk, &ground, found)),
    };
    let specimens = &judged.shoe.file.specimens;
    let at = specimen(specimens, arguments.specimen.as_deref())?;
    let id = &specimens[at].id;
    let readings = KeyPath::root().key("specimens").index(at).key("readings");
    let mut all = match edit::words(&before, &readings, quantity.as_str()) {
        Some(present) if !arguments.replace => present,
        _ => Vec::new(),
    };
    all.extend(words);
    let text = match edit::set(&before, &readings, quantity.as_str(), &all) {
        Ok(text) => text,
        Err(refused) => return Ok(problems(desk, &ground, vec![not_edited(&path, &refused)])),
    };
    let judged = match ground.judge(&slug, &Source::new(path.as_str(), &*text)) {
        Ok(judged) => judged,
        Err(mut found) => {
            // Their places are in a text that was never written.
            for problem in &mut found {
                problem.place = None;
            }
            return Ok(problems(desk, &ground, found));
        }
    };
    if let Err(not_written) = writer.replace(&path, before.hash, &text) {
        return Ok(problems(desk, &ground, vec![not_written.problem(&path)?]));
    }
    let said = answer(&ground, &judged, id, &quantity, &all)
        .context("the quantity is one of the protocol's")?;
    if desk.json() {
        let text = serde_json::to_string_pretty(&serde_json::json!({
            "shoe": slug, "specimen": id, "file": path.as_str(), "answer": said,
        }))?;
        desk.print(&format!("{text}\n"));
    } else {
        desk.print(&for_people(&judged.shoe.title(), id, &said));
    }
    Ok(Exit::Done)
}

fn problems(desk: &Desk, ground: &Ground, found: Vec<Problem>) -> Exit {
    desk.show_problems(ground.root(), found);
    desk.say("nothing was written");
    Exit::Problems
}

/// The problem of a file that can't be edited without disturbing it.
pub(super) fn not_edited(path: &RelPath, refused: &edit::NotEdited) -> Problem {
    let problem = Problem::error(
        "edit-refused",
        path.as_str(),
        KeyPath::root(),
        refused.reason.clone(),
    )
    .hint("put the readings in by hand");
    match refused.place {
        Some(place) => problem.at(place.line, place.column),
        None => problem,
    }
}

/// A shoe's address and file.
pub(super) fn shoe_file(ground: &Ground, name: &str) -> anyhow::Result<(Slug, RelPath)> {
    let found = name
        .parse::<Slug>()
        .ok()
        .and_then(|slug| Some((slug.clone(), ground.files.get(&slug)?.clone())));
    found.ok_or_else(|| {
        let near = nearest(name, ground.files.keys().map(Slug::as_str));
        let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
        UsageError(format!("there is no shoe `{name}`{hint}")).into()
    })
}

/// A quantity of the protocol that is read off.
fn quantity(ground: &Ground, name: &str) -> anyhow::Result<Key> {
    let quantities = &ground.lab.protocol.quantities;
    let key = name.parse::<Key>().ok();
    let key = key.filter(|key| quantities.contains(key)).ok_or_else(|| {
        let known = || quantities.keys().map(Key::as_str);
        let hint = match nearest(name, known()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("it has {}", known().collect::<Vec<_>>().join(", ")),
        };
        UsageError(format!("the protocol has no quantity `{name}`; {hint}"))
    })?;
    match quantities.get(&key).and_then(|spec| spec.from.as_ref()) {
        None => Ok(key),
        Some((curve, _)) => Err(UsageError(format!(
            "`{key}` is worked out from `{curve}` and is not read off"
        ))
        .into()),
    }
}

/// The readings as they will be written.
fn words(
    ground: &Ground,
    quantity: &Key,
    values: &[String],
    unit: Option<&str>,
) -> anyhow::Result<Vec<String>> {
    let spec = ground.lab.protocol.quantities.get(quantity);
    let unit = unit
        .map(str::parse::<Unit>)
        .transpose()
        .map_err(|unknown| UsageError(unknown.to_string()))?;
    let protocol = spec.map(|spec| spec.unit);
    values
        .iter()
        .map(|value| {
            let value = value.trim();
            let amount: Amount = value
                .parse()
                .map_err(|error| UsageError(format!("{error}")))?;
            Ok(match unit {
                Some(unit) if amount.unit.is_none() && Some(unit) != protocol => {
                    format!("{value} {unit}")
                }
                _ => value.to_owned(),
            })
        })
        .collect()
}

fn specimen(specimens: &[Specimen], wanted: Option<&str>) -> anyhow::Result<usize> {
    let ids = || specimens.iter().map(|specimen| specimen.id.as_str());
    let list = || ids().collect::<Vec<_>>().join(", ");
    match (wanted, specimens) {
        (None, [_]) => Ok(0),
        (None, _) => {
            Err(UsageError(format!("say which specimen with --specimen: {}", list())).into())
        }
        (Some(id), _) => specimens
            .iter()
            .position(|specimen| specimen.id == id)
            .ok_or_else(|| {
                UsageError(format!("there is no specimen `{id}`; there are {}", list())).into()
            }),
    }
}

/// An answer in lines.
fn for_people(title: &str, id: &str, said: &Answer) -> String {
    let mut text = format!("{title}, {id}: {}\n", said.label.to_lowercase());
    let trials: Vec<String> = said
        .trials
        .iter()
        .map(|trial| match &trial.converted {
            Some(converted) => format!("{} = {converted}", trial.written),
            None => trial.written.clone(),
        })
        .collect();
    let _ = writeln!(
        text,
        "  trials    {} ({} of {})",
        trials.join(", "),
        said.trials.len(),
        said.wanted
    );
    let mut line = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            let _ = writeln!(text, "  {name:<9} {value}");
        }
    };
    line(
        "mean",
        said.mean.clone().map(|mean| match &said.also {
            Some(also) => format!("{mean} ({also})"),
            None => mean,
        }),
    );
    line(
        "spread",
        said.spread.clone().map(|spread| match &said.allowed {
            Some(allowed) => format!("{spread}; the protocol allows {allowed}"),
            None => spread,
        }),
    );
    line("shoe", said.value.clone());
    line("missing", said.missing.clone());
    for flag in &said.flags {
        line("flag", Some(format!("{}: {}", flag.code, flag.message)));
    }
    line("advice", said.advice.clone());
    for finding in &said.findings {
        let _ = writeln!(text, "  {}", of_finding(finding));
    }
    text
}

fn of_finding(finding: &crate::serve::FindingAnswer) -> String {
    let label = &finding.label;
    if let Some(reason) = &finding.missing {
        return format!("{label} is not judged: {reason}");
    }
    let mut text = format!(
        "{label}: {} (chance {}",
        finding.band.as_deref().unwrap_or_default(),
        finding.chance.as_deref().unwrap_or_default()
    );
    if let Some(neighbour) = &finding.neighbour {
        let _ = write!(text, ", borderline with {neighbour}");
    }
    text.push(')');
    for part in [&finding.score, &finding.standing].into_iter().flatten() {
        let _ = write!(text, "; {part}");
    }
    if finding.provisional {
        text.push_str("; provisional");
    }
    text
}
