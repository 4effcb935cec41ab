//! `schema`: the JSON Schema of each file, for editors.

use super::{Desk, Exit};
use crate::lab::{Instruments, PhrasesFile, ProtocolFile, RuleSetFile, Settings, WordsFile};
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
    /// lab/phrases.yaml, and phrases.yaml of a further language
    Phrases,
    /// lab/languages/<tag>/words.yaml
    Words,
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
            Name::Words => "words",
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
            Name::Words => schema_for!(WordsFile),
        }
    }
}

pub fn run(desk: &Desk, arguments: Arguments) -> anyhow::Result<Exit> {
    let text = serde_json::to_string_pretty(&arguments.name.schema())?;
    desk.print(&format!("{text}\n"));
    Ok(Exit::Done)
}
