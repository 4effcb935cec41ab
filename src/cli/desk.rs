//! What every command needs: the lab's folder, how to speak, how to end.

use super::{Color, Common, Format};
use crate::diagnostics::text::neutral;
use crate::diagnostics::{Problem, render};
use crate::files::{Date, RelPath, Root, Source, limited, yaml};
use crate::gather::{Gathered, Reading, gather_as};
use crate::press::AnswerFiles;
use crate::programs::Outside;
use anstream::{AutoStream, ColorChoice};
use std::io::{ErrorKind, Write};
use std::process::ExitCode;
use std::sync::{Arc, OnceLock};

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// It did what was asked.
    Done,
    /// The inputs have problems; nothing was written, but what `intake` could take.
    Problems,
    /// The command line is wrong.
    Usage,
    /// An outside tool failed.
    Tool,
    /// Reading or writing failed.
    Disk,
    /// Somebody stopped it; nothing was written.
    Interrupted,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(match exit {
            Exit::Done => 0,
            Exit::Problems => 1,
            Exit::Usage => 2,
            Exit::Tool => 3,
            Exit::Disk => 4,
            // What a shell tells of a program that Ctrl-C ended.
            Exit::Interrupted => 130,
        })
    }
}

/// An error of the command line itself: a shoe that isn't there, a date that is none.
#[derive(Debug)]
pub struct UsageError(pub String);

impl std::fmt::Display for UsageError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for UsageError {}

/// An outside tool that failed or is missing.
#[derive(Debug)]
pub struct ToolError(pub String);

impl std::fmt::Display for ToolError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for ToolError {}

/// A text of some lines, without characters that act on the terminal.
fn lines_neutral(text: &str) -> String {
    let lines: Vec<_> = text.split('\n').map(neutral).collect();
    lines.join("\n")
}

/// Writes lines to standard error; where that can't be written, nobody can be told.
fn tell(text: &str) {
    let _ = writeln!(anstream::stderr().lock(), "{}", lines_neutral(text));
}

fn source(root: &Root, file: &str) -> Option<Source> {
    root.read(&file.parse::<RelPath>().ok()?).ok()
}

/// Problems with their places in the files, of each file as many as are listed.
fn placed(root: &Root, mut problems: Vec<Problem>) -> Vec<Problem> {
    yaml::place_all(&mut problems, |file| source(root, file));
    limited(problems)
}

/// What a command does with the answers of outside programs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answers {
    /// It uses those that are remembered.
    Read,
    /// It remembers new ones too.
    Keep,
}

/// Where a command works and how it speaks.
#[derive(Debug)]
pub struct Desk {
    /// What every command takes.
    pub common: Common,
    /// Why a result is not on standard output, or not all of it.
    unprinted: OnceLock<std::io::Error>,
}

impl Desk {
    /// A desk as the command line says.
    pub fn new(common: Common) -> Self {
        let choice = match common.color {
            Color::Auto => ColorChoice::Auto,
            Color::Always => ColorChoice::Always,
            Color::Never => ColorChoice::Never,
        };
        choice.write_global();
        Desk {
            common,
            unprinted: OnceLock::new(),
        }
    }

    /// Whether results are for programs.
    pub fn json(&self) -> bool {
        self.common.format == Format::Json
    }

    /// Opens the lab's folder.
    ///
    /// # Errors
    /// If it is no folder or can't be opened.
    pub fn root(&self) -> anyhow::Result<Root> {
        Root::open(&self.common.root)
    }

    /// Today, by the machine's clock and time zone.
    pub fn today() -> Date {
        Date::from(jiff::ZonedDateTime::now().date())
    }

    /// Gathers the lab as it held on a day, or shows every problem and gives the
    /// exit code.
    ///
    /// # Errors
    /// If the folder can't be opened.
    pub fn gather_as_of(&self, root: &Root, as_of: Date) -> anyhow::Result<Result<Gathered, Exit>> {
        let reading = Reading {
            as_of: Some(as_of),
            outside: self.outside(root, Answers::Read),
            ..Reading::default()
        };
        Ok(gather_as(root, &reading).map_err(|problems| {
            self.show_problems(root, problems);
            Exit::Problems
        }))
    }

    /// Whether outside programs may be run, and where their answers are remembered.
    pub fn outside(&self, root: &Root, answers: Answers) -> Outside {
        let out = root.path().map(|folder| folder.join("out"));
        let files = out.map(match answers {
            Answers::Read => AnswerFiles::read_only,
            Answers::Keep => AnswerFiles::of,
        });
        Outside {
            allowed: self.common.allow_programs,
            memory: files.map(|files| Arc::new(files) as _),
            ..Outside::default()
        }
    }

    /// Writes problems where the format wants them: for people on standard error,
    /// for programs on standard output.
    pub fn show_problems(&self, root: &Root, problems: Vec<Problem>) {
        let text = self.problems_text(root, problems);
        if self.json() {
            self.print(&text);
        } else {
            let _ = write!(anstream::stderr().lock(), "{text}");
        }
    }

    /// Problems placed in their files, to stand in a larger result for programs.
    pub fn problems_value(&self, root: &Root, problems: Vec<Problem>) -> serde_json::Value {
        render::value(&placed(root, problems))
    }

    /// Problems in the wanted format, placed in their files.
    pub fn problems_text(&self, root: &Root, problems: Vec<Problem>) -> String {
        let problems = placed(root, problems);
        if self.json() {
            return render::json(&problems);
        }
        let most = if self.common.verbose {
            usize::MAX
        } else {
            render::SHOWN
        };
        // Colours are written always and taken off by the stream where they don't belong.
        let mut text = render::human(
            &problems,
            |file| source(root, file).map(|source| source.text),
            render::ColorChoice::Always,
            most,
        );
        if let Some(first) = render::first(&problems).filter(|_| !self.common.quiet) {
            text.push_str(&format!("`solefolio explain {}` says more\n", first.code));
        }
        text
    }

    /// Writes a result to standard output. A reader that went away is no mistake; any
    /// other failure is told by [`Desk::end`].
    pub fn print(&self, text: &str) {
        let mut out = AutoStream::auto(std::io::stdout().lock());
        let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
        if let Err(error) = written
            && error.kind() != ErrorKind::BrokenPipe
        {
            let _ = self.unprinted.set(error);
        }
    }

    /// Writes a result for programs to standard output.
    pub fn print_value(&self, value: &serde_json::Value) {
        self.print(&render::escape(&format!("{value:#}")));
    }

    /// Says something to people, unless they asked for quiet.
    pub fn say(&self, text: impl std::fmt::Display) {
        if !self.common.quiet {
            tell(&text.to_string());
        }
    }

    /// The exit code of a command that ended so: another if its result could not be
    /// printed, as onto a full disk.
    pub fn end(&self, exit: Exit) -> Exit {
        match self.unprinted.get() {
            None => exit,
            Some(error) => {
                tell(&format!("error: can't write to standard output: {error}"));
                Exit::Disk
            }
        }
    }

    /// Shows an error with its causes and gives the exit code it means.
    pub fn failed(&self, error: &anyhow::Error) -> Exit {
        let mut causes: Vec<String> = error.chain().map(ToString::to_string).collect();
        // Some errors tell their cause themselves.
        causes.dedup_by(|cause, teller| teller.ends_with(cause.as_str()));
        if self.json() {
            self.print(&format!("{}\n", serde_json::json!({"error": causes})));
        } else {
            // A cause may quote what the command line or the system says.
            tell(&format!("error: {}", causes.join(": ")));
        }
        if error.chain().any(|cause| cause.is::<UsageError>()) {
            Exit::Usage
        } else if error.chain().any(|cause| cause.is::<ToolError>()) {
            Exit::Tool
        } else {
            Exit::Disk
        }
    }
}
