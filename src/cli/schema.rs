//! `schema`: the JSON Schema of each file, for editors.

use super::{Desk, Exit};
use crate::lab::{Instruments, PhrasesFile, ProtocolFile, RuleSetFile, Settings};
use crate::rules::RuleFile;
use crate::shoe::ShoeFile;
use clap::{Args, ValueEnum};
use schemars::{Schema, schema_for};

/// Print the JSON Schema (draft 2020-12) of one of the lab's files.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Which file
    #[arg(value_enum)]
    name: Name,
}

/// The files that have a schema.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Name {
    /// A file of shoes/
    Shoe,
    /// lab/lab.yaml
    Lab,
    /// lab/protocol.yaml
    Protocol,
    /// lab/instruments.yaml
    Instruments,
    /// lab/rules.yaml
    Rules,
    /// lab/phrases.yaml
    Phrases,
}

impl Name {
    /// As the command line names it.
    pub fn word(self) -> &'static str {
        match self {
            Name::Shoe => "shoe",
            Name::Lab => "lab",
            Name::Protocol => "protocol",
            Name::Instruments => "instruments",
            Name::Rules => "rules",
            Name::Phrases => "phrases",
        }
    }

    /// The schema itself.
    pub fn schema(self) -> Schema {
        match self {
            Name::Shoe => schema_for!(ShoeFile),
            Name::Lab => schema_for!(Settings),
            Name::Protocol => schema_for!(ProtocolFile),
            Name::Instruments => schema_for!(Instruments),
            Name::Rules => schema_for!(RuleSetFile<RuleFile>),
            Name::Phrases => schema_for!(PhrasesFile),
        }
    }
}

pub fn run(desk: &Desk, arguments: Arguments) -> anyhow::Result<Exit> {
    let text = serde_json::to_string_pretty(&arguments.name.schema())?;
    desk.print(&format!("{text}\n"));
    Ok(Exit::Done)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    /// Whether a key's schema, or what it refers to, has a word for editors.
    fn has(root: &Value, schema: &Value, words: &[&str]) -> bool {
        if words.iter().any(|word| schema.get(*word).is_some()) {
            return true;
        }
        let target = schema["$ref"]
            .as_str()
            .and_then(|reference| root.pointer(reference.trim_start_matches('#')));
        let choices = ["anyOf", "oneOf", "allOf"]
            .iter()
            .filter_map(|word| schema.get(*word)?.as_array())
            .flatten();
        target
            .into_iter()
            .chain(choices)
            .any(|one| has(root, one, words))
    }

    /// Every key of every map of the schema, with the way to it.
    fn keys<'s>(schema: &'s Value, way: &str, found: &mut Vec<(String, &'s Value)>) {
        match schema {
            Value::Object(map) => {
                for (word, inner) in map {
                    if word == "properties"
                        && let Value::Object(properties) = inner
                    {
                        for (key, of) in properties {
                            found.push((format!("{way}/{key}"), of));
                        }
                    }
                    // What looks like a schema in an example is none.
                    if word != "examples" {
                        keys(inner, &format!("{way}/{word}"), found);
                    }
                }
            }
            Value::Array(list) => {
                for (at, inner) in list.iter().enumerate() {
                    keys(inner, &format!("{way}/{at}"), found);
                }
            }
            _ => {}
        }
    }

    #[test]
    fn every_key_of_every_schema_has_a_description_and_an_example_or_its_choices() {
        let mut lacking = Vec::new();
        for name in Name::value_variants() {
            let schema = name.schema();
            let root = schema.as_value();
            let mut found = Vec::new();
            keys(root, name.word(), &mut found);
            assert!(found.len() > 5, "{} has keys", name.word());
            for (way, key) in found {
                if !has(root, key, &["description"]) {
                    lacking.push(format!("{way}: no description"));
                }
                if !has(root, key, &["examples", "enum", "const"]) {
                    lacking.push(format!("{way}: no example"));
                }
            }
        }
        assert_eq!(lacking, [] as [String; 0]);
    }
}
