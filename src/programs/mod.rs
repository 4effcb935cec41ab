//! Outside programs of the lab: asked, heard, checked, remembered.
//!
//! What it is for: a lab that doesn't write Rust can still work out a finding or
//! make files of the folio with a program of its own. This room runs it and
//! checks what it answers; `rules` take the answers, `outputs` make the views,
//! and the press alone writes files.
//!
//! # What it guarantees
//!
//! - A program is run only if `lab/lab.yaml` names it and the command line allows
//!   it ([`Outside::allowed`]); never through a shell; one process for all shoes.
//! - Its time, output and memory are limited (the process's module says how), and
//!   its whole process group is gone when the run is over.
//! - Its answers are checked like any input: form, unit, finite numbers,
//!   uncertainty of 0 or more, shoes that were asked for, one answer each; paths
//!   inside its own folder of the folio.
//! - **An answer is remembered by content**: of the program's file and of every
//!   file of the lab it names, and of the line it answers (a rule) or of all lines
//!   (an output). What is remembered is used without running anything, also where
//!   running is not allowed.
//! - **A failure is whole**: if a run fails, the finding is left out of every
//!   shoe, or all files of the output, so that what is published doesn't depend on
//!   how far the program came or on what was remembered.
//!
//! # What it doesn't
//!
//! It promises nothing of what a program does besides answering: it runs with the
//! user's rights, and may read and write files and use the network like any
//! program the user starts. Nor that it answers the same thing twice; a lab whose
//! program doesn't has a folio that isn't reproducible.
//!
//! # How it fails
//!
//! With problems, each a code of its own: errors where the lab says
//! `on-failure: stop`, warnings where it says `leave-out`.

mod lines;
mod output;
mod process;
mod rule;

pub use lines::{
    AnswerLine, FactLine, FileLine, HeadLine, LINES, ProgramLines, ShoeLine, ViewLine,
};
pub use output::{MadeFile, make_all, sheets};
pub use rule::{Asked, Said, Wanted, ask_rule};

use crate::diagnostics::Problem;
use crate::files::{Key, RelPath, Root};
use crate::lab::{OnFailure, OutsideProgram, SETTINGS, program_path};
use blake3::{Hash, Hasher};
use process::{Failure, Limits, Order, Ran};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Raised whenever this code takes the same answer otherwise.
const READING: &str = "programs 1";

/// The largest file of the lab that a program may name, in bytes.
const FILE_LIMIT: u64 = 1024 * 1024 * 1024;

/// Where answers are remembered between runs.
pub trait Memory: Send + Sync + std::fmt::Debug {
    /// What is kept under a name.
    fn recall(&self, name: &str) -> Option<Vec<u8>>;
    /// Keeps something under a name, instead of what was kept there.
    fn keep(&self, name: &str, bytes: &[u8]);
}

/// Whether outside programs may be run, and what is known from before.
#[derive(Clone, Debug, Default)]
pub struct Outside {
    /// Whether the command line allows it.
    pub allowed: bool,
    /// Where answers are remembered.
    pub memory: Option<Arc<dyn Memory>>,
    /// Raised when somebody wants to stop.
    pub stop: Arc<AtomicBool>,
}

/// A program as the lab names it.
#[derive(Clone, Copy, Debug)]
pub struct Named<'p> {
    /// The lab's folder.
    pub root: &'p Root,
    /// Its name in `lab/lab.yaml`.
    pub name: &'p Key,
    /// What is said of it there.
    pub program: &'p OutsideProgram,
}

impl Named<'_> {
    /// A problem of the program as a whole: an error, unless the lab leaves it out.
    fn problem(&self, code: &'static str, message: String) -> Problem {
        let problem = Problem::error(code, SETTINGS, program_path(self.name), message).on_key();
        self.weighed(problem)
    }

    fn weighed(&self, problem: Problem) -> Problem {
        match self.program.on_failure {
            OnFailure::Stop => problem,
            OnFailure::LeaveOut => Problem {
                severity: crate::diagnostics::Severity::Warning,
                ..problem
            },
        }
    }

    fn command(&self) -> String {
        self.program.run.join(" ")
    }

    /// The program's file, or what is wrong with it.
    fn file(&self) -> Result<(PathBuf, PathBuf), Problem> {
        let first = self.program.run.first().map_or("", String::as_str);
        let Some(folder) = self.root.path() else {
            return Err(self.problem(
                "program-not-found",
                format!("`{}` can't be run: the lab is in memory only", self.name),
            ));
        };
        match process::find(first, folder) {
            Some(file) => Ok((file, folder.to_owned())),
            None => Err(self
                .problem(
                    "program-not-found",
                    format!(
                        "`{}` is run by `{first}`, and there is no such program",
                        self.name
                    ),
                )
                .hint("install it, or write its path from the lab's folder")),
        }
    }

    /// The content of the program: its file's, its arguments', and that of every
    /// file of the lab's folder it names.
    fn print(&self) -> Result<Hash, Problem> {
        let (file, _) = self.file()?;
        let unreadable = |what: String| {
            self.problem("program-not-found", what)
                .hint("check the name; it is relative to the lab's folder")
        };
        let mut hasher = Hasher::new();
        let mut part = |text: &[u8]| {
            hasher.update(&(text.len() as u64).to_le_bytes());
            hasher.update(text);
        };
        part(READING.as_bytes());
        let bytes = std::fs::read(&file)
            .map_err(|error| unreadable(format!("{}: {error}", file.display())))?;
        part(blake3::hash(&bytes).as_bytes());
        for argument in &self.program.run {
            part(argument.as_bytes());
            let path = argument.parse::<RelPath>().ok();
            let Some(path) = path.filter(|path| self.root.holds(path)) else {
                continue;
            };
            match self.root.read_bytes(&path, FILE_LIMIT) {
                Ok(bytes) => part(&bytes),
                // What it holds would change unseen.
                Err(problem) if problem.code == "file-too-large" => {
                    return Err(unreadable(format!("`{argument}`: {}", problem.message)));
                }
                // A folder, or a link out of the lab, is no file of the lab's.
                Err(_) => {}
            }
        }
        for name in &self.program.files {
            let path: RelPath = name
                .parse()
                .map_err(|error| unreadable(format!("`{name}`: {error}")))?;
            let bytes = self
                .root
                .read_bytes(&path, FILE_LIMIT)
                .map_err(|problem| unreadable(format!("`{name}`: {}", problem.message)))?;
            part(name.as_bytes());
            part(&bytes);
        }
        Ok(hasher.finalize())
    }

    /// Runs it, if that is allowed.
    fn run(&self, input: Vec<u8>, what: &str, outside: &Outside) -> Result<Ran, Problem> {
        let (program, folder) = self.file()?;
        if !outside.allowed {
            return Err(self
                .problem(
                    "program-not-allowed",
                    format!(
                        "`{}` would be run for {what}: `{}`; nothing of it was run",
                        self.name,
                        self.command()
                    ),
                )
                .hint("look at what it does, then allow it with `--allow-programs`; it runs with your rights"));
        }
        let limits = self.program.limits;
        let order = Order {
            program,
            arguments: self.program.run[1..].to_vec(),
            folder,
        };
        let limits = Limits {
            time: std::time::Duration::from_secs(limits.seconds.into()),
            output: u64::from(limits.output) << 20,
            memory: u64::from(limits.memory) << 20,
        };
        Ok(process::run(&order, input, limits, &outside.stop))
    }

    /// A failed run in words, with its code and what to do.
    fn failure(&self, failure: &Failure, said: Option<&str>) -> (&'static str, String, String) {
        let name = self.name;
        let limits = &self.program.limits;
        let (code, what, hint) = match failure {
            Failure::NotStarted(error) => (
                "program-not-found",
                format!("`{name}` could not be started: {error}"),
                "check that the file may be run, or name its interpreter first".to_owned(),
            ),
            Failure::Ended(how) => (
                "program-failed",
                format!("`{name}` failed: {how}"),
                format!(
                    "run it by hand in the lab's folder: `{}`; it may have {} MiB of memory and {} s of the processor",
                    self.command(),
                    limits.memory,
                    limits.seconds
                ),
            ),
            Failure::TooSlow(time) => (
                "program-too-slow",
                format!(
                    "`{name}` was ended: it took longer than {} s",
                    time.as_secs()
                ),
                "let it read to the end of its input and end then, or raise `limits.seconds`"
                    .to_owned(),
            ),
            Failure::TooMuch(_) => (
                "program-too-much",
                format!(
                    "`{name}` was ended: it answered more than {} MiB",
                    limits.output
                ),
                "let it answer one line for each line it reads, or raise `limits.output`"
                    .to_owned(),
            ),
            Failure::LeftOpen => (
                "program-failed",
                format!("`{name}` ended, but left a process behind that keeps its output open"),
                "let it wait for what it starts".to_owned(),
            ),
            Failure::Stopped => (
                "program-failed",
                format!("`{name}` was stopped before it had answered"),
                "run again".to_owned(),
            ),
        };
        let what = match said {
            Some(said) => format!("{what}; it said: {said}"),
            None => what,
        };
        (code, what, hint)
    }
}

/// What is remembered of one program's answers: a line each, with the content they
/// belong to.
fn recalled(outside: &Outside, name: &str) -> std::collections::HashMap<String, String> {
    let bytes = outside
        .memory
        .as_ref()
        .and_then(|memory| memory.recall(name));
    let text = bytes
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .unwrap_or_default();
    text.lines()
        .filter_map(|line| line.split_once(' '))
        .map(|(print, line)| (print.to_owned(), line.to_owned()))
        .collect()
}

fn keep(outside: &Outside, name: &str, lines: &[(String, String)]) {
    if let Some(memory) = &outside.memory {
        let text: String = lines
            .iter()
            .map(|(print, line)| format!("{print} {line}\n"))
            .collect();
        memory.keep(name, text.as_bytes());
    }
}

/// The files outside programs rest on, as far as they can be found: the programs
/// themselves, wherever they lie, and what the lab names of its folder.
pub fn files_of(root: &Root, programs: &crate::files::Map<Key, OutsideProgram>) -> Vec<PathBuf> {
    let Some(folder) = root.path() else {
        return Vec::new();
    };
    let mut files = Vec::new();
    for (_, program) in programs.iter() {
        files.extend(
            program
                .run
                .first()
                .and_then(|first| process::find(first, folder)),
        );
        let named = program.run.iter().skip(1).chain(&program.files);
        let inside = named.filter_map(|name| name.parse::<RelPath>().ok());
        files.extend(
            inside
                .filter(|path| root.holds(path))
                .map(|path| folder.join(path.as_str())),
        );
    }
    files.sort();
    files.dedup();
    files
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn a_large_file_among_the_arguments_is_part_of_what_a_program_is() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("model.bin");
        let mut bytes = vec![0_u8; 9 << 20];
        std::fs::write(&file, &bytes).unwrap();
        let root = Root::open(folder.path()).unwrap();
        let name: Key = "ride".parse().unwrap();
        let program: OutsideProgram =
            serde_yaml::from_str("{purpose: rule, run: [sh, model.bin]}").unwrap();
        let named = Named {
            root: &root,
            name: &name,
            program: &program,
        };
        let before = named.print().unwrap();
        bytes[0] = 1;
        std::fs::write(&file, &bytes).unwrap();
        assert_ne!(named.print().unwrap(), before);
    }
}
