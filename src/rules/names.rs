//! What the names of a rule set stand for: the protocol's quantities and the
//! rules' findings, by key and by the variable of an expression.

use crate::files::Key;
use crate::files::nearest;
use crate::quantity::Unit;
use std::sync::Arc;

/// What a quantity or a finding can be used as by a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// A quantity of the protocol, in its unit.
    Quantity(Unit),
    /// A finding with a score from 0 to 100.
    Score,
    /// A finding that is a number; its unit, unless it is written wrong.
    Number(Option<Unit>),
    /// A finding in words, which others can't compute with.
    Words,
}

/// One name.
#[derive(Clone, Debug)]
pub struct Name {
    /// The name.
    pub key: Key,
    /// The same as a variable of an expression.
    pub variable: String,
    /// How it is called on a page.
    pub label: Arc<str>,
    /// What it can be used as.
    pub meaning: Meaning,
}

/// Every quantity and finding a rule may name.
#[derive(Clone, Debug, Default)]
pub struct Names(Vec<Name>);

impl Names {
    /// Adds a name; the first of two equal ones is the one that is found.
    pub(super) fn add(&mut self, key: &Key, label: &str, meaning: Meaning) {
        self.0.push(Name {
            key: key.clone(),
            variable: key.variable(),
            label: label.into(),
            meaning,
        });
    }

    /// By key.
    pub fn get(&self, key: &Key) -> Option<&Name> {
        self.0.iter().find(|name| name.key == *key)
    }

    /// By variable.
    pub fn variable(&self, variable: &str) -> Option<&Name> {
        self.0.iter().find(|name| name.variable == variable)
    }

    /// What to do about a name that is not known: `wanted` says which could stand
    /// here, and `own` is the rule that asks, which can't need itself.
    pub(super) fn hint(&self, key: &str, own: &Key, wanted: impl Fn(Meaning) -> bool) -> String {
        let usable = || {
            let could = |name: &&Name| wanted(name.meaning) && name.key != *own;
            self.0.iter().filter(could)
        };
        match nearest(key, usable().map(|name| name.key.as_str())) {
            Some(known) => format!("did you mean `{known}`?"),
            None => format!(
                "known here are {}",
                listed(usable().map(|n| n.key.as_str()))
            ),
        }
    }

    /// What to do where an expression subtracts because a name is written with its
    /// hyphens: `loaded-drop` reads as `loaded` less `drop`.
    pub(super) fn written_with_hyphens(&self, text: &str, part: &str) -> Option<String> {
        let meant = |name: &&Name| {
            let key = name.key.as_str();
            key.contains('-') && key.split('-').any(|word| word == part) && text.contains(key)
        };
        let name = self.0.iter().find(meant)?;
        Some(format!(
            "write `{}`: in an expression a hyphen is a minus",
            name.variable
        ))
    }

    /// The name an expression holds with its hyphens, though it reads as a subtraction:
    /// `drop-kept` as `drop` less `kept`, where these are names too.
    pub(super) fn read_as_subtraction(&self, text: &str) -> Option<&Name> {
        let meant = |name: &&Name| {
            let key = name.key.as_str();
            key.contains('-') && holds_word(text, key)
        };
        self.0.iter().find(meant)
    }

    /// What to do where an expression holds a name that none can be written with.
    pub(super) fn out_of_reach(&self, text: &str) -> Option<String> {
        let held = |name: &&Name| {
            let key = name.key.as_str();
            (begins_with_digit(key) || KEYWORDS.contains(&key))
                && (holds_word(text, key) || holds_word(text, &name.variable))
        };
        let key = self.0.iter().find(held)?.key.as_str();
        let why = if begins_with_digit(key) {
            "a name begins with a letter there"
        } else {
            "it is a word of the expression language"
        };
        Some(format!(
            "no expression can name `{key}`: {why}; call the quantity or finding otherwise"
        ))
    }

    /// What to do about a variable that is not known.
    pub(super) fn variable_hint(&self, variable: &str) -> String {
        let usable = || {
            let computable = |name: &&Name| name.meaning != Meaning::Words;
            self.0.iter().filter(computable)
        };
        match nearest(variable, usable().map(|name| name.variable.as_str())) {
            Some(known) => format!("did you mean `{known}`?"),
            None => format!(
                "known here are {}",
                listed(usable().map(|name| name.variable.as_str()))
            ),
        }
    }
}

/// Words of the Common Expression Language that are no names (its published
/// definition, under lexis).
const KEYWORDS: [&str; 21] = [
    "as",
    "break",
    "const",
    "continue",
    "else",
    "false",
    "for",
    "function",
    "if",
    "import",
    "in",
    "let",
    "loop",
    "namespace",
    "null",
    "package",
    "return",
    "true",
    "var",
    "void",
    "while",
];

fn begins_with_digit(key: &str) -> bool {
    key.starts_with(|c: char| c.is_ascii_digit())
}

/// Whether a text holds a word that is no part of a longer word or number.
fn holds_word(text: &str, word: &str) -> bool {
    let goes_on = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.');
    text.match_indices(word).any(|(at, _)| {
        !text[..at].ends_with(goes_on) && !text[at + word.len()..].starts_with(goes_on)
    })
}

/// Names in a row; at most twelve, so that a message stays readable.
fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    const MOST: usize = 12;
    let all: Vec<String> = names.map(|name| format!("`{name}`")).collect();
    match all.len() {
        0 => "none".into(),
        n if n > MOST => format!("{} and {} more", all[..MOST].join(", "), n - MOST),
        _ => all.join(", "),
    }
}
