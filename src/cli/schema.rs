//! `schema`: the JSON Schema of each file, line and view, for editors and programs.

use super::{Desk, Exit};
use crate::lab::{Instruments, PhrasesFile, ProtocolFile, RuleSetFile, Settings, WordsFile};
use crate::outputs::pages::PageHeader;
use crate::outputs::views::{ALL, ViewDoc};
use crate::programs::ProgramLines;
use crate::rules::RuleFile;
use crate::shoe::ShoeFile;
use clap::Args;
use clap::builder::PossibleValuesParser;
use schemars::{Schema, schema_for};

/// Print the JSON Schema (draft 2020-12) of one of the lab's files, of the lines an
/// outside program reads and writes, or of a view that templates and programs see.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Which: a file of the lab, `page` (the header of a page template), `program`
    /// (an outside program's lines), or a view
    #[arg(value_parser = PossibleValuesParser::new(names()))]
    name: String,
}

/// A file or form that has a schema.
#[derive(Clone, Copy, Debug)]
pub struct Named {
    /// As the command line names it.
    pub word: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Whether it is a file of the lab that an editor checks.
    pub is_file: bool,
    schema: fn() -> Schema,
}

/// What has a schema beside the views.
pub const FILES: &[Named] = &[
    named("shoe", "A file of shoes/", true, || schema_for!(ShoeFile)),
    named("lab", "lab/lab.yaml", true, || schema_for!(Settings)),
    named("protocol", "lab/protocol.yaml", true, || {
        schema_for!(ProtocolFile)
    }),
    named("instruments", "lab/instruments.yaml", true, || {
        schema_for!(Instruments)
    }),
    named("rules", "lab/rules.yaml", true, || {
        schema_for!(RuleSetFile<RuleFile>)
    }),
    named(
        "phrases",
        "lab/phrases.yaml, and phrases.yaml of a further language",
        true,
        || schema_for!(PhrasesFile),
    ),
    named("words", "lab/languages/<tag>/words.yaml", true, || {
        schema_for!(WordsFile)
    }),
    named("page", "The header of a page the lab adds", false, || {
        schema_for!(PageHeader)
    }),
    named(
        "program",
        "The lines an outside program reads and writes",
        false,
        || schema_for!(ProgramLines),
    ),
];

const fn named(
    word: &'static str,
    what: &'static str,
    is_file: bool,
    schema: fn() -> Schema,
) -> Named {
    Named {
        word,
        what,
        is_file,
        schema,
    }
}

impl Named {
    /// The schema itself.
    pub fn schema(&self) -> Schema {
        (self.schema)()
    }
}

fn names() -> impl Iterator<Item = &'static str> {
    let views = ALL.iter().map(|view: &ViewDoc| view.name);
    FILES.iter().map(|named| named.word).chain(views)
}

fn schema(name: &str) -> Option<Schema> {
    let file = FILES.iter().find(|named| named.word == name);
    file.map(Named::schema)
        .or_else(|| Some(ALL.iter().find(|view| view.name == name)?.schema()))
}

/// Prints a schema.
///
/// # Errors
/// None but a failed write.
pub fn run(desk: &Desk, arguments: Arguments) -> anyhow::Result<Exit> {
    // The command line knows no other names.
    let schema = schema(&arguments.name).ok_or_else(|| anyhow::anyhow!("no such schema"))?;
    let text = serde_json::to_string_pretty(&schema)?;
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
        for named in FILES.iter().filter(|named| named.is_file) {
            let schema = named.schema();
            let root = schema.as_value();
            let mut found = Vec::new();
            keys(root, named.word, &mut found);
            assert!(found.len() > 5, "{} has keys", named.word);
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
