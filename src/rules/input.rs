//! One thing a rule needs: found among the facts, or the reason it is missing.

use super::names::{Meaning, Name};
use super::{Banded, Facts, Says};
use crate::files::Key;
use crate::quantity::{Uncertain, Unit};
use crate::words::said;
use std::sync::Arc;

/// A quantity or a finding a rule needs.
#[derive(Clone, Debug)]
pub(super) struct Input {
    pub key: Key,
    pub label: Arc<str>,
    quantity: bool,
}

/// An input as the facts have it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Known<'a> {
    pub value: &'a Uncertain,
    pub unit: Unit,
    /// Its published interval; of a quantity value ± U.
    pub interval: (f64, f64),
    pub provisional: bool,
}

impl Input {
    pub fn new(name: &Name) -> Self {
        Input {
            key: name.key.clone(),
            label: name.label.clone(),
            quantity: matches!(name.meaning, Meaning::Quantity(_)),
        }
    }

    /// The input's number, or why there is none, as a clause.
    pub fn find<'a>(&self, facts: &Facts<'a>) -> Result<Known<'a>, String> {
        if self.quantity {
            return match facts.quantities.get(&self.key) {
                Some(Ok(summary)) => Ok(Known {
                    value: &summary.value,
                    unit: summary.unit,
                    interval: summary.interval(),
                    provisional: summary.provisional(),
                }),
                Some(Err(absent)) => Err(self.clause(&absent.reason)),
                None => Err(self.clause(&said!("it was not measured"))),
            };
        }
        match facts.findings.get(&self.key) {
            Some(Ok(finding)) => match &finding.says {
                Says::Band(banded) => Ok(Known {
                    value: &banded.score,
                    unit: Unit::Score,
                    interval: banded.interval,
                    provisional: finding.provisional,
                }),
                Says::Value(value) => Ok(Known {
                    value: &value.value,
                    unit: value.unit,
                    interval: value.interval,
                    provisional: finding.provisional,
                }),
                Says::Fit(_) | Says::Advice(_) => {
                    Err(said!("{what} is no number", what = lower(&self.label)))
                }
            },
            Some(Err(not_judged)) => Err(not_judged.reason.clone()),
            None => Err(said!("{what} was not judged", what = lower(&self.label))),
        }
    }

    /// The banded finding this input is, if it is one and was made.
    pub fn banded<'a>(&self, facts: &Facts<'a>) -> Option<&'a Banded> {
        match &facts.findings.get(&self.key)?.as_ref().ok()?.says {
            Says::Band(banded) if !self.quantity => Some(banded),
            _ => None,
        }
    }

    /// `it was not measured` said of this input: `midfoot torque was not measured`.
    fn clause(&self, reason: &str) -> String {
        match reason.strip_prefix("it ") {
            Some("was not measured") => said!("{what} was not measured", what = lower(&self.label)),
            Some(rest) => format!("{} {rest}", lower(&self.label)),
            None => format!("{}: {reason}", lower(&self.label)),
        }
    }
}

/// A label within a sentence: small first letter, unless the word is an abbreviation.
pub(super) fn lower(label: &str) -> String {
    let mut letters = label.chars();
    match (letters.next(), letters.next()) {
        (Some(first), second) if !second.is_some_and(char::is_uppercase) => {
            first.to_lowercase().chain(label.chars().skip(1)).collect()
        }
        _ => label.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_within_a_sentence_begins_small_unless_it_is_an_abbreviation() {
        assert_eq!(lower("Midfoot torque"), "midfoot torque");
        assert_eq!(lower("EVA hardness"), "EVA hardness");
        assert_eq!(lower("R"), "r");
        assert_eq!(lower(""), "");
    }
}
