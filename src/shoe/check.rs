//! A shoe's file against the lab: every name known, every unit right, every
//! date in order. What is wrong here stops the shoe from being judged; what
//! screening makes of its numbers is the measuring room's business.

use super::file::{Readings, Session, ShoeFile, Specimen};
use super::identity::{check_identity, check_price, check_reasons};
use crate::diagnostics::{Collector, KeyPath};
use crate::files::{Key, LABEL_LIMIT, nearest};
use crate::lab::{Lab, QuantitySpec};
use crate::quantity::{Amount, Unit, fixed};

/// The longest summary, in characters: it stands in lists and previews.
pub const SUMMARY_LIMIT: usize = 300;
/// The longest review, in characters.
pub const REVIEW_LIMIT: usize = 40_000;
/// The longest name of a maker, model or colour, in characters.
pub const TITLE_LIMIT: usize = LABEL_LIMIT;
/// The shortest reason that can say something, in characters.
pub const REASON_LEAST: usize = 8;
/// The most specimens of one shoe.
pub const SPECIMENS_LIMIT: usize = 20;
/// The most trials of one quantity of one specimen.
pub const TRIALS_LIMIT: usize = 100;

/// Reports everything in a shoe's file that does not fit the lab.
pub fn check(slug: &str, file: &ShoeFile, lab: &Lab, to: &mut Collector) {
    let root = KeyPath::root();
    check_identity(slug, file, lab, to);
    check_price(file, to);
    check_reasons(file, to);
    if file.specimens.is_empty() || file.specimens.len() > SPECIMENS_LIMIT {
        to.error(
            "wrong-length",
            root.key("specimens"),
            format!(
                "{} specimens where 1 to {SPECIMENS_LIMIT} are expected",
                file.specimens.len()
            ),
            "say which physical shoe was measured, on which day, and its readings",
        );
    }
    for (at, specimen) in file.specimens.iter().enumerate() {
        let path = root.key("specimens").index(at);
        if file.specimens[..at]
            .iter()
            .any(|other| other.id == specimen.id)
        {
            to.error(
                "duplicate-specimen",
                path.key("id"),
                format!("there are two specimens `{}`", specimen.id),
                "give each specimen a mark of its own",
            );
        }
        check_dates(file, specimen, &path, to);
        check_session(&specimen.session, lab, &path.key("session"), to);
        for (key, readings) in specimen.readings.iter() {
            let path = path.key("readings").key(key.as_str());
            check_readings(file, specimen, key, readings, lab, &path, to);
        }
    }
    check_left_out(file, to);
}

fn check_dates(file: &ShoeFile, specimen: &Specimen, path: &KeyPath, to: &mut Collector) {
    let measured = specimen.session.on;
    if let Some(bought) = &specimen.bought
        && bought.on > measured
    {
        to.error(
            "dates-out-of-order",
            path.key("bought").key("on"),
            format!(
                "bought on {}, after it was measured on {measured}",
                bought.on
            ),
            "check both dates",
        );
    }
    if let Some(publish) = file.publish
        && measured > publish
    {
        to.error(
            "dates-out-of-order",
            path.key("session").key("on"),
            format!("measured on {measured}, after its review of {publish}"),
            "check both dates",
        );
    }
}

fn check_session(session: &Session, lab: &Lab, path: &KeyPath, to: &mut Collector) {
    if !lab.settings.operators.contains(&session.operator) {
        let known: Vec<&str> = lab.settings.operators.keys().map(Key::as_str).collect();
        to.error(
            "unknown-name",
            path.key("operator"),
            format!(
                "there is no operator `{}` in lab/lab.yaml",
                session.operator
            ),
            did_you_mean(
                session.operator.as_str(),
                &known,
                "add the operator to lab/lab.yaml",
            ),
        );
    }
    in_unit(
        session.temperature,
        Unit::Celsius,
        &path.key("temperature"),
        to,
    );
    if let Some(humidity) = in_unit(session.humidity, Unit::Percent, &path.key("humidity"), to)
        && !(0.0..=100.0).contains(&humidity)
    {
        to.error(
            "out-of-range",
            path.key("humidity"),
            format!("a relative humidity of {} can't be", session.humidity),
            "give it in per cent, from 0 to 100",
        );
    }
    if let Some(soaked) = in_unit(session.soaked, Unit::Hour, &path.key("soaked"), to)
        && soaked < 0.0
    {
        to.error(
            "out-of-range",
            path.key("soaked"),
            "a specimen can't be conditioned for less than no time",
            "give the hours it was conditioned",
        );
    }
}

fn check_readings(
    file: &ShoeFile,
    specimen: &Specimen,
    key: &Key,
    readings: &Readings,
    lab: &Lab,
    path: &KeyPath,
    to: &mut Collector,
) {
    let spec = lab.protocol.quantities.get(key);
    match (spec, readings) {
        (Some(spec), _) if spec.from.is_some() => {
            let (curve, _) = spec.from.as_ref().expect("checked by the guard");
            to.error(
                "worked-out",
                path.clone(),
                format!("`{key}` is worked out from `{curve}` and is not read off"),
                format!("give the raw curve: `{curve}: {{curve: curves/….csv}}`"),
            );
        }
        (Some(spec), Readings::One(amount)) => {
            check_reading(file, specimen, key, (0, *amount), spec, path, to);
        }
        (Some(spec), Readings::Trials(amounts)) => {
            if amounts.is_empty() {
                to.error(
                    "nothing-given",
                    path.clone(),
                    format!("`{key}` has no reading"),
                    "give the readings, or leave the quantity away: missing is never zero",
                );
            }
            if amounts.len() > TRIALS_LIMIT {
                to.error(
                    "wrong-length",
                    path.clone(),
                    format!(
                        "`{key}` has {} trials; {TRIALS_LIMIT} are the most",
                        amounts.len()
                    ),
                    "a raw curve belongs in a CSV file beside the shoe's",
                );
            }
            for (at, amount) in amounts.iter().enumerate() {
                check_reading(
                    file,
                    specimen,
                    key,
                    (at, *amount),
                    spec,
                    &path.index(at),
                    to,
                );
            }
        }
        (Some(_), Readings::Curve(_)) => to.error(
            "wrong-type",
            path.clone(),
            format!("`{key}` is a quantity; a raw curve was found"),
            "give its readings, such as `[6.1, 6.0, 6.2]`",
        ),
        (None, Readings::Curve(_)) if lab.protocol.curves.contains(key) => {}
        (None, _) if lab.protocol.curves.contains(key) => to.error(
            "wrong-type",
            path.clone(),
            format!("`{key}` is a raw curve; readings were found"),
            "name its file: `{curve: curves/….csv}`",
        ),
        (None, _) => {
            let known: Vec<&str> = lab
                .protocol
                .quantities
                .keys()
                .chain(lab.protocol.curves.keys())
                .map(Key::as_str)
                .collect();
            to.push(
                crate::diagnostics::Problem::error(
                    "unknown-name",
                    to.file().to_owned(),
                    path.clone(),
                    format!(
                        "the protocol has no quantity `{key}`; it has {}",
                        known.join(", ")
                    ),
                )
                .hint(did_you_mean(
                    key.as_str(),
                    &known,
                    "add it to lab/protocol.yaml",
                ))
                .on_key(),
            );
        }
    }
}

fn check_reading(
    file: &ShoeFile,
    specimen: &Specimen,
    key: &Key,
    (at, amount): (usize, Amount),
    spec: &QuantitySpec,
    path: &KeyPath,
    to: &mut Collector,
) {
    let Some(value) = in_unit(amount, spec.unit, path, to) else {
        return;
    };
    let left_out = file
        .leave_out
        .iter()
        .any(|left| left.specimen == specimen.id && left.quantity == *key && left.trial == at + 1);
    let (low, high) = spec.plausible;
    if !left_out && !(low..=high).contains(&value) {
        let places = spec.decimals.saturating_add(1);
        // As written, unless it was written in another unit.
        let converted = match amount.unit {
            Some(unit) if unit != spec.unit => {
                format!(" is {} {}:", fixed(value, places), spec.unit)
            }
            _ => " is".to_owned(),
        };
        to.error(
            "implausible",
            path.clone(),
            format!(
                "`{amount}`{converted} outside the plausible {low} to {high} {unit} of {key}",
                unit = spec.unit
            ),
            "check the reading and its unit, measure again, or leave it out with its reason under `leave-out`",
        );
    }
}

fn check_left_out(file: &ShoeFile, to: &mut Collector) {
    for (at, left) in file.leave_out.iter().enumerate() {
        let path = KeyPath::root().key("leave-out").index(at);
        let Some(specimen) = file
            .specimens
            .iter()
            .find(|specimen| specimen.id == left.specimen)
        else {
            let known: Vec<&str> = file
                .specimens
                .iter()
                .map(|specimen| specimen.id.as_str())
                .collect();
            to.error(
                "unknown-name",
                path.key("specimen"),
                format!("there is no specimen `{}`", left.specimen),
                did_you_mean(&left.specimen, &known, "name one of this shoe's specimens"),
            );
            continue;
        };
        let trials = match specimen.readings.get(&left.quantity) {
            Some(Readings::One(_)) => 1,
            Some(Readings::Trials(amounts)) => amounts.len(),
            Some(Readings::Curve(_)) | None => {
                let known: Vec<&str> = specimen.readings.keys().map(Key::as_str).collect();
                to.error(
                    "unknown-name",
                    path.key("quantity"),
                    format!(
                        "specimen `{}` has no readings of `{}`",
                        left.specimen, left.quantity
                    ),
                    did_you_mean(
                        left.quantity.as_str(),
                        &known,
                        "name a quantity it has readings of",
                    ),
                );
                continue;
            }
        };
        if left.trial == 0 || left.trial > trials {
            to.error(
                "out-of-range",
                path.key("trial"),
                format!(
                    "`{}` has {trials} {}; there is no trial {}",
                    left.quantity,
                    if trials == 1 { "reading" } else { "readings" },
                    left.trial
                ),
                match trials {
                    1 => "write 1: it is the only trial".to_owned(),
                    _ => format!("write a trial from 1 to {trials}"),
                },
            );
        }
        if file.leave_out[..at].iter().any(|other| {
            (&other.specimen, &other.quantity, other.trial)
                == (&left.specimen, &left.quantity, left.trial)
        }) {
            to.error(
                "duplicate-entry",
                path,
                "this reading is left out already",
                "leave it out once",
            );
        }
    }
}

fn in_unit(amount: Amount, unit: Unit, path: &KeyPath, to: &mut Collector) -> Option<f64> {
    let value = amount.in_unit(unit);
    if value.is_err() {
        to.error(
            "wrong-unit",
            path.clone(),
            format!("`{amount}` is not in {unit} nor in a unit that converts into it"),
            format!("give it in {unit}, or write the unit it was read in"),
        );
    }
    value.ok()
}

pub(super) fn did_you_mean(word: &str, known: &[&str], otherwise: &str) -> String {
    match nearest(word, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => otherwise.to_owned(),
    }
}
