//! Words for a value that is not of the kind that is expected.

use super::scalar::{Plain, classify};
use super::schema::Kinds;
use super::tree::{Node, Scalar, Value};
use crate::diagnostics::text::quote;
use crate::quantity::Amount;

/// What was found, such as `the text `abc``.
pub(super) fn found(node: &Node) -> String {
    match &node.value {
        Value::List(_) => "a list".into(),
        Value::Map(_) => "a map".into(),
        Value::Refused => "a value that is not read".into(),
        Value::Scalar(scalar) if !scalar.plain => format!("the text {}", quote(&scalar.text)),
        Value::Scalar(scalar) => {
            let kind = match classify(&scalar.text) {
                Plain::Null => return "no value".into(),
                Plain::Bool(_) => "",
                Plain::Whole(_) | Plain::Number(_) | Plain::NotFinite => "the number ",
                Plain::Text => "the text ",
            };
            format!("{kind}{}", quote(&scalar.text))
        }
    }
}

/// What to do about it, if it can be guessed.
pub(super) fn hint(node: &Node, wanted: Kinds) -> Option<String> {
    let Value::Scalar(scalar) = &node.value else {
        let map = matches!(node.value, Value::Map(_));
        let text = map && wanted.meets(Kinds::TEXT);
        return text
            .then(|| "put the text in quotes if it holds `: ` or begins with a brace".into());
    };
    if wanted == Kinds::LIST {
        let short = scalar.text.chars().count() <= 30 && scalar.plain;
        let shown = if short { &scalar.text } else { "…" };
        return Some(format!(
            "put it in brackets, even if it is one: `[{shown}]`"
        ));
    }
    if wanted == Kinds::BOOL {
        return boolean(&scalar.text);
    }
    if wanted.meets(Kinds::NUMBER) {
        return number(scalar, wanted);
    }
    None
}

fn boolean(text: &str) -> Option<String> {
    let meant = match text.to_ascii_lowercase().as_str() {
        "yes" | "y" | "on" | "true" | "1" => "true",
        "no" | "n" | "off" | "false" | "0" => "false",
        _ => return None,
    };
    Some(format!("write `{meant}`, without quotes"))
}

fn number(scalar: &Scalar, wanted: Kinds) -> Option<String> {
    let text = scalar.text.trim();
    if !scalar.plain && matches!(classify(text), Plain::Whole(_) | Plain::Number(_)) {
        return Some(format!("take the quotes away: `{text}`"));
    }
    if scalar.plain && matches!(classify(text), Plain::Number(_)) && wanted == Kinds::WHOLE {
        return Some("write it without decimals or exponent".into());
    }
    let pointed = text.replacen(',', ".", 1);
    if pointed != text && matches!(classify(&pointed), Plain::Number(_)) {
        return Some(format!("write a decimal point: `{pointed}`"));
    }
    if text.parse::<f64>().is_ok_and(f64::is_infinite) {
        return Some("the number is too large to be read".into());
    }
    let amount = text
        .parse::<Amount>()
        .ok()
        .filter(|amount| amount.unit.is_some());
    if let Some(amount) = amount {
        return Some(format!(
            "the unit is fixed here: write `{}` alone",
            amount.value
        ));
    }
    let absent = ["-", "--", "n/a", "na", "nan", "none", "?", "tbd", "—", "–"];
    if absent.contains(&text.to_ascii_lowercase().as_str()) {
        return Some("leave the value out if there is none".into());
    }
    None
}
