//! What a laboratory lets do outside: programs of its own that work out a finding
//! or make files, as `lab/lab.yaml` names them.
//!
//! Naming one runs nothing. It is run only where the command line allows it, with
//! the arguments that stand here, and without a shell.

use super::SETTINGS;
use crate::diagnostics::{Collector, KeyPath};
use crate::files::{Key, Map};
use schemars::JsonSchema;
use serde::Deserialize;

/// An outside program: what it is for, how it is run, what it may take.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct OutsideProgram {
    /// What it is for: `rule` works out a finding of each shoe, `output` makes files.
    pub purpose: Purpose,
    /// The program and its arguments, as they are: no shell reads them. Paths are
    /// relative to the lab's folder.
    #[schemars(length(min = 1, max = 50))]
    #[schemars(extend("examples" = [["python3", "lab/programs/ride.py"]]))]
    pub run: Vec<String>,
    /// Further files of the lab's folder the program reads: it is run again when
    /// one of them changes. The files named in `run` are minded anyway.
    #[serde(default)]
    #[schemars(extend("examples" = [["lab/programs/table.csv"]]))]
    pub files: Vec<String>,
    /// What one line of its input is made for; only for an `output`.
    pub made_for: Option<MadeFor>,
    /// What happens if it fails.
    #[serde(default)]
    pub on_failure: OnFailure,
    /// What it may take.
    #[serde(default)]
    #[schemars(extend("examples" = [{"seconds": 120}]))]
    pub limits: ProgramLimits,
}

/// What an outside program is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// It works out a finding of each shoe, for rules of kind `program`.
    Rule,
    /// It makes files of the folio, in a folder of its own there.
    Output,
}

/// What something is made for: a page of the lab's own, or a line of a program's input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MadeFor {
    /// Each shoe whose review stands.
    EachShoe,
    /// Each week in which something came out.
    EachWeek,
    /// The folio as a whole.
    Once,
}

/// What happens if an outside program fails.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OnFailure {
    /// Nothing is published.
    #[default]
    Stop,
    /// What it was to say is left out, with the reason in its place, and all else
    /// is published.
    LeaveOut,
}

/// What an outside program may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub struct ProgramLimits {
    /// Seconds for a whole run, whatever the number of shoes.
    #[schemars(range(min = 1, max = 3600))]
    #[schemars(extend("examples" = [60]))]
    pub seconds: u32,
    /// MiB it may answer with.
    #[schemars(range(min = 1, max = 256))]
    #[schemars(extend("examples" = [16]))]
    pub output: u32,
    /// MiB of memory each of its processes may have.
    #[schemars(range(min = 16, max = 16384))]
    #[schemars(extend("examples" = [1024]))]
    pub memory: u32,
}

impl Default for ProgramLimits {
    fn default() -> Self {
        ProgramLimits {
            seconds: 60,
            output: 16,
            memory: 1024,
        }
    }
}

/// Where a program stands in `lab/lab.yaml`.
pub fn program_path(name: &Key) -> KeyPath {
    KeyPath::root().key("programs").key(name.as_str())
}

/// Checks what is said of each program against itself.
pub(super) fn check(programs: &Map<Key, OutsideProgram>, to: &mut Collector) {
    debug_assert_eq!(to.file(), SETTINGS);
    for (name, program) in programs.iter() {
        let path = program_path(name);
        if program
            .run
            .first()
            .is_none_or(|first| first.trim().is_empty())
        {
            to.error(
                "nothing-given",
                path.key("run"),
                format!("`{name}` names no program to run"),
                "write it and its arguments as a list, such as `[python3, lab/programs/ride.py]`",
            );
        }
        for (at, argument) in program.run.iter().enumerate() {
            if argument.contains('\0') {
                to.error(
                    "program-setting",
                    path.key("run").index(at),
                    "an argument holds the character NUL, which no program can be given",
                    "take it out",
                );
            }
        }
        match (program.purpose, program.made_for) {
            (Purpose::Output, None) => to.error(
                "program-setting",
                path.key("purpose"),
                format!("`{name}` makes files, and nothing says for what"),
                "add `made-for: each-shoe`, `each-week` or `once`",
            ),
            (Purpose::Rule, Some(_)) => to.error(
                "program-setting",
                path.key("made-for"),
                format!("`{name}` is a rule, and a rule is asked of every shoe"),
                "take `made-for` away, or say `purpose: output`",
            ),
            _ => {}
        }
        let ProgramLimits {
            seconds,
            output,
            memory,
        } = program.limits;
        for (key, value, least, most) in [
            ("seconds", seconds, 1, 3600),
            ("output", output, 1, 256),
            ("memory", memory, 16, 16384),
        ] {
            if !(least..=most).contains(&value) {
                to.error(
                    "program-setting",
                    path.key("limits").key(key),
                    format!("a limit of {value} is out of range: {least} to {most}"),
                    format!("write a number from {least} to {most}"),
                );
            }
        }
    }
}
