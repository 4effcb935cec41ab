//! A shoe or specimen that was begun at the desk and is in no file yet.

use super::refusal::Refusal;
use crate::files::edit::{self, New};
use crate::files::{Key, Slug};
use crate::lab::SizeSystem;
use crate::shoe::Side;
use serde::{Deserialize, Serialize};

/// A shoe that is not in a file yet, as the form has it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct NewShoe {
    pub maker: String,
    pub model: String,
    #[serde(default)]
    pub version: String,
    pub category: Key,
    pub system: SizeSystem,
    pub size: f64,
}

/// A specimen that is not in a file yet, as the form has it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct NewSpecimen {
    pub id: String,
    pub side: Side,
    pub on: String,
    pub operator: String,
    pub temperature: String,
    pub humidity: String,
    pub soaked: String,
}

impl NewShoe {
    /// Its address: maker, model and version in small letters.
    pub fn slug(&self) -> Result<Slug, Refusal> {
        let words: Vec<String> = format!("{} {} {}", self.maker, self.model, self.version)
            .to_lowercase()
            .split(|c: char| !c.is_ascii_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_owned)
            .collect();
        words.join("-").parse().map_err(|_| {
            Refusal::said(
                422,
                "give the maker and the model; they make the shoe's address",
            )
        })
    }

    /// Its file, as it begins.
    pub fn text(&self, specimen: &NewSpecimen) -> String {
        let word = |text: &str| New::Word(text.to_owned());
        let named = |text: &str| New::Text(text.trim().to_owned());
        let mut entries = vec![
            ("schema", word("1")),
            ("maker", named(&self.maker)),
            ("model", named(&self.model)),
        ];
        if !self.version.trim().is_empty() {
            entries.push(("version", word(self.version.trim())));
        }
        let system = serde_json::to_value(self.system).ok();
        let system = system
            .as_ref()
            .and_then(|system| system.as_str())
            .unwrap_or_default();
        entries.push(("category", word(self.category.as_str())));
        entries.push((
            "size",
            New::Flow(vec![
                ("system".to_owned(), word(system)),
                ("value".to_owned(), word(&self.size.to_string())),
            ]),
        ));
        let entries: Vec<(String, New)> = entries
            .into_iter()
            .map(|(key, value)| (key.to_owned(), value))
            .collect();
        let mut text = edit::write_new("", &entries);
        text.push_str("specimens:\n");
        for (at, line) in edit::write_new("", &specimen.entries()).lines().enumerate() {
            text.push_str(if at == 0 { "  - " } else { "    " });
            text.push_str(line);
            text.push('\n');
        }
        text
    }
}

impl NewSpecimen {
    /// Its entries in a shoe's file.
    pub fn entries(&self) -> Vec<(String, New)> {
        let side = match self.side {
            Side::Left => "left",
            Side::Right => "right",
        };
        // A bare number takes the unit that its place implies.
        let word = |text: &str| New::Word(text.trim().to_owned());
        let session = [
            ("on", word(&self.on)),
            ("operator", word(&self.operator)),
            ("temperature", word(&tidy(&self.temperature))),
            ("humidity", word(&tidy(&self.humidity))),
            ("soaked", word(&tidy(&self.soaked))),
        ];
        let session = session.map(|(key, value)| (key.to_owned(), value)).into();
        [
            ("id", New::Text(self.id.trim().to_owned())),
            ("side", word(side)),
            ("session", New::Flow(session)),
            ("readings", New::Block(Vec::new())),
        ]
        .map(|(key, value)| (key.to_owned(), value))
        .into()
    }
}

/// A word as it will stand in the file: no space around it, and the decimal comma
/// of a number pad made a point.
pub(super) fn tidy(word: &str) -> String {
    let word = word.trim();
    if word.matches(',').count() == 1 && !word.contains('.') {
        word.replace(',', ".")
    } else {
        word.to_owned()
    }
}
