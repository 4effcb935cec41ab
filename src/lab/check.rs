//! The settings and the instruments, each checked against itself; and the checks
//! that all files of `lab/` share.

use super::instruments::Instruments;
use super::settings::Settings;
use crate::diagnostics::text::quote;
use crate::diagnostics::{Collector, KeyPath, Step};
use crate::files::{Address, LABEL_LIMIT, PARAGRAPH_LIMIT, WORD_LIMIT, too_long};

/// The most quantities of a protocol; with as many curves beside them.
pub const QUANTITIES_LIMIT: usize = 200;
/// The longest address of electronic mail, in characters (RFC 5321, 4.5.3.1.3:
/// 256 with the brackets around it).
pub const MAIL_LIMIT: usize = 254;

/// Reports a text that is longer than its place holds.
pub(super) fn length(text: &str, path: KeyPath, limit: usize, to: &mut Collector) {
    let name = match path.0.last() {
        Some(Step::Key(key)) => key.clone(),
        _ => "the text".to_owned(),
    };
    if let Some(message) = too_long(&name, text, limit) {
        to.too_long(path, message);
    }
}

/// Reports a map of more entries than can be.
pub(super) fn count(number: usize, path: KeyPath, limit: usize, what: &str, to: &mut Collector) {
    if number > limit {
        to.error(
            "wrong-length",
            path,
            format!("{number} {what}; {limit} are the most"),
            "take out what is not measured any more",
        );
    }
}

pub(super) fn positive(value: f64, path: &KeyPath, what: &str, to: &mut Collector) {
    if value <= 0.0 {
        to.error(
            "out-of-range",
            path.clone(),
            format!("{what} must be above zero, not {value}"),
            "give a positive number",
        );
    }
}

/// Reports a number that can be zero and not less.
pub(super) fn not_negative(value: f64, path: &KeyPath, what: &str, to: &mut Collector) {
    if value < 0.0 {
        to.error(
            "out-of-range",
            path.clone(),
            format!("{what} can't be negative, and is {value}"),
            "give a number of zero or more",
        );
    }
}

/// Reports a label that is too long, or says nothing.
pub(super) fn label(text: &str, path: KeyPath, to: &mut Collector) {
    if text.trim().is_empty() {
        return to.error(
            "nothing-given",
            path,
            "the label is empty",
            "say what it is called on pages",
        );
    }
    length(text, path, LABEL_LIMIT, to);
}

/// Whether a text has the shape of a language's code: letters and digits in parts
/// of 8 at most, the first of 2 letters or more (RFC 5646, 2.1); whether there is
/// such a language is not looked up.
fn is_language(text: &str) -> bool {
    let mut parts = text.split('-');
    let of_letters = |part: &str| part.bytes().all(|b| b.is_ascii_alphabetic());
    let first = parts.next().unwrap_or_default();
    let fits = |part: &str| {
        (1..=8).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_alphanumeric())
    };
    text.len() <= WORD_LIMIT
        && (2..=8).contains(&first.len())
        && of_letters(first)
        && parts.all(fits)
}

/// Checks the settings against themselves.
pub(super) fn check_settings(settings: &Settings, to: &mut Collector) {
    let root = KeyPath::root();
    super::programs::check(&settings.programs, to);
    if settings.categories.is_empty() {
        to.error(
            "nothing-given",
            root.key("categories"),
            "there is no category",
            "give at least one, such as `road: Road`",
        );
    }
    for (text, key, limit) in [
        (&settings.name, "name", LABEL_LIMIT),
        (&settings.about, "about", PARAGRAPH_LIMIT),
        (&settings.contact, "contact", MAIL_LIMIT),
    ] {
        length(text, root.key(key), limit, to);
        if text.trim().is_empty() {
            to.error(
                "nothing-given",
                root.key(key),
                format!("`{key}` is empty"),
                "write it out",
            );
        }
    }
    if !is_language(&settings.language) {
        to.error(
            "wrong-form",
            root.key("language"),
            format!("{} is no language", quote(&settings.language)),
            "write its code, such as `en` or `pt-BR` (RFC 5646)",
        );
    }
    let licence = root.key("licence");
    length(&settings.licence.name, licence.key("name"), WORD_LIMIT, to);
    length(
        &settings.licence.title,
        licence.key("title"),
        LABEL_LIMIT,
        to,
    );
    for (map, names) in [
        ("categories", &settings.categories),
        ("operators", &settings.operators),
    ] {
        count(names.len(), root.key(map), QUANTITIES_LIMIT, map, to);
        for (key, name) in names.iter() {
            length(name, root.key(map).key(key.as_str()), LABEL_LIMIT, to);
        }
    }
    for (text, path) in [
        (&settings.address, root.key("address")),
        (
            &settings.licence.address,
            root.key("licence").key("address"),
        ),
    ] {
        if let Err(fault) = text.parse::<Address>() {
            to.error(
                "wrong-form",
                path,
                fault.to_string(),
                "write the whole address, such as https://lab.example/",
            );
        }
    }
    if !settings.contact.contains('@') || settings.contact.contains(char::is_whitespace) {
        to.error(
            "wrong-form",
            root.key("contact"),
            format!("`{}` is no electronic mail address", settings.contact),
            "write it as desk@lab.example",
        );
    }
}

/// Checks the instruments against themselves.
pub(super) fn check_instruments(file: &Instruments, to: &mut Collector) {
    let all = KeyPath::root().key("instruments");
    count(
        file.instruments.len(),
        all,
        QUANTITIES_LIMIT,
        "instruments",
        to,
    );
    for (key, instrument) in file.instruments.iter() {
        let path = KeyPath::root().key("instruments").key(key.as_str());
        label(&instrument.label, path.key("label"), to);
        positive(
            instrument.resolution.value,
            &path.key("resolution"),
            "a resolution",
            to,
        );
        let calibration = path.key("calibration");
        positive(
            instrument.calibration.k,
            &calibration.key("k"),
            "a coverage factor",
            to,
        );
        if instrument.calibration.uncertainty.value < 0.0 {
            to.error(
                "out-of-range",
                calibration.key("uncertainty"),
                "an uncertainty can't be negative",
                "give the certificate's expanded uncertainty",
            );
        }
        for (amount, at) in [
            (instrument.resolution, path.key("resolution")),
            (
                instrument.calibration.uncertainty,
                calibration.key("uncertainty"),
            ),
        ] {
            if amount.unit.is_none() {
                to.error(
                    "unit-missing",
                    at,
                    format!("`{amount}` has no unit"),
                    "write the unit behind the number, such as `0.05 N·m`",
                );
            }
        }
        if instrument.calibration.due <= instrument.calibration.on {
            to.error(
                "dates-out-of-order",
                calibration.key("due"),
                format!(
                    "calibration is due on {} but was done on {}",
                    instrument.calibration.due, instrument.calibration.on
                ),
                "a calibration is due after the day it was done",
            );
        }
    }
}
