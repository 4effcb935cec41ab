//! The forms a text may have to take: the `format` of a JSON Schema, each with its parser.

use crate::files::nearest;
use crate::files::{Address, Date, Key, Month, RelPath, Week};
use crate::quantity::{Amount, Unit};
use std::fmt;

/// Why a text has not the form it should have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Misformed {
    /// What is wrong, in words that name the text.
    pub reason: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl Misformed {
    /// A reason without a hint.
    pub fn because(reason: impl fmt::Display) -> Misformed {
        Misformed {
            reason: reason.to_string(),
            hint: None,
        }
    }
}

/// Checks one text.
pub type Check = fn(&str) -> Result<(), Misformed>;

/// One form: the schema's `format`, what to call it, and its parser.
#[derive(Clone, Copy, Debug)]
pub struct Form {
    /// The `format` keyword's value.
    pub name: &'static str,
    /// What is expected, in words: `a date such as 2026-11-18`.
    pub expected: &'static str,
    /// The parser.
    pub check: Check,
}

/// The forms that are checked. A `format` that is not among them is not checked
/// here; the type that carries it refuses wrong texts itself.
#[derive(Clone, Debug)]
pub struct Forms(Vec<Form>);

impl Forms {
    /// Dates, months, weeks, amounts, names, addresses and paths.
    pub fn standard() -> Forms {
        let form = |name, expected, check| Form {
            name,
            expected,
            check,
        };
        Forms(vec![
            form("date", "a date such as 2026-11-18", parses::<Date>),
            form("month", "a month such as 2026-03", parses::<Month>),
            form("week", "a week such as 2026-W48", parses::<Week>),
            form("amount", "a number, with or without its unit", amount),
            form(
                "name",
                "a name of small letters, digits and hyphens",
                parses::<Key>,
            ),
            form("address", "a web address", parses::<Address>),
            form(
                "relative-path",
                "a path relative to this file",
                parses::<RelPath>,
            ),
        ])
    }

    /// With one form more, or another parser for a known one.
    #[must_use]
    pub fn with(mut self, form: Form) -> Forms {
        self.0.retain(|known| known.name != form.name);
        self.0.push(form);
        self
    }

    /// The form of a name.
    pub fn get(&self, name: &str) -> Option<&Form> {
        self.0.iter().find(|form| form.name == name)
    }
}

fn parses<T: std::str::FromStr<Err: fmt::Display>>(text: &str) -> Result<(), Misformed> {
    match text.parse::<T>() {
        Ok(_) => Ok(()),
        Err(error) => Err(Misformed::because(error)),
    }
}

fn amount(text: &str) -> Result<(), Misformed> {
    let Err(error) = text.parse::<Amount>() else {
        return Ok(());
    };
    let pointed = text.replacen(',', ".", 1);
    if pointed != text && pointed.parse::<Amount>().is_ok() {
        return Err(Misformed {
            reason: error.reason,
            hint: Some(format!("write `{pointed}`")),
        });
    }
    // An unknown unit's reason lists all units; the list is better kept for the hint.
    let mut misformed = Misformed::because(&error.reason);
    if let Some((reason, known)) = error.reason.split_once("; known are ") {
        misformed.reason = reason.to_owned();
        let unit = text.trim().trim_start_matches(|c: char| {
            c.is_ascii_digit() || c.is_whitespace() || matches!(c, '.' | '-' | '+' | '−')
        });
        misformed.hint = Some(match nearest(unit, Unit::symbols()) {
            Some(meant) => format!("did you mean `{meant}`? known are {known}"),
            None => format!("known are {known}"),
        });
    }
    Err(misformed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_unit_names_the_nearest_in_its_hint() {
        let misformed = amount("38 in.lbf").unwrap_err();
        assert!(misformed.reason.contains("`in.lbf`"), "{misformed:?}");
        assert!(!misformed.reason.contains("known are"));
        let hint = misformed.hint.unwrap();
        assert!(hint.starts_with("did you mean `in·lbf`?"), "{hint}");
    }

    #[test]
    fn a_form_can_be_added_and_replaced() {
        let strict = Form {
            name: "name",
            expected: "nothing",
            check: |_| Err(Misformed::because("never")),
        };
        let forms = Forms::standard().with(strict);
        assert!((forms.get("name").unwrap().check)("a").is_err());
        assert!(forms.get("expression").is_none());
    }
}
