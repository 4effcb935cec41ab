//! Problems: what is wrong in a lab's files, where, and what to do about it.
//!
//! A problem is data until the very end: rooms collect problems, nobody prints
//! them but the command line, for people or as JSON ([`render`]). [`codes`] says
//! of every code what it means, why it matters and how it is mended.

pub mod codes;
pub mod render;
pub mod text;

mod collector;

pub use collector::Collector;

use serde::Serialize;
use std::fmt;

/// How much a problem weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Nothing is published until it is mended.
    Error,
    /// Published, and shown where it matters.
    Warning,
}

/// One step of the way to a value in a file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// A key of a map.
    Key(String),
    /// A place in a list, counted from 0.
    Index(usize),
}

/// The way from a file's root to a value: `specimens[0].readings.mass[2]`.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KeyPath(pub Vec<Step>);

impl KeyPath {
    /// The file's root.
    pub fn root() -> Self {
        KeyPath::default()
    }

    /// This path and one key more.
    #[must_use]
    pub fn key(&self, key: impl Into<String>) -> Self {
        let mut steps = self.0.clone();
        steps.push(Step::Key(key.into()));
        KeyPath(steps)
    }

    /// This path and one list index more.
    #[must_use]
    pub fn index(&self, index: usize) -> Self {
        let mut steps = self.0.clone();
        steps.push(Step::Index(index));
        KeyPath(steps)
    }
}

impl fmt::Display for KeyPath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, step) in self.0.iter().enumerate() {
            match step {
                Step::Key(key) if at == 0 => write!(f, "{key}")?,
                Step::Key(key) => write!(f, ".{key}")?,
                Step::Index(index) => write!(f, "[{index}]")?,
            }
        }
        Ok(())
    }
}

/// Where in a file: line and column are counted from 1; a column counts characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// One problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// A stable name, such as `unknown-key`; its page in the docs has the same name.
    pub code: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// The file, relative to the lab's root, with forward slashes.
    pub file: String,
    /// Where in the file; filled in from `path` when the file's places are looked up.
    pub place: Option<Place>,
    /// The way to the value.
    pub path: KeyPath,
    /// Whether the place is that of the key rather than of its value.
    pub at_key: bool,
    /// What is wrong, and what was expected. Starts lower-case and names the thing.
    pub message: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl Problem {
    /// An error at a path of a file.
    pub fn error(
        code: &'static str,
        file: impl Into<String>,
        path: KeyPath,
        message: impl Into<String>,
    ) -> Self {
        Problem {
            code,
            severity: Severity::Error,
            file: file.into(),
            place: None,
            path,
            at_key: false,
            message: message.into(),
            hint: None,
        }
    }

    /// A warning at a path of a file.
    pub fn warning(
        code: &'static str,
        file: impl Into<String>,
        path: KeyPath,
        message: impl Into<String>,
    ) -> Self {
        Problem {
            severity: Severity::Warning,
            ..Problem::error(code, file, path, message)
        }
    }

    /// With what to do about it.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// With its place known already.
    #[must_use]
    pub fn at(mut self, line: usize, column: usize) -> Self {
        self.place = Some(Place { line, column });
        self
    }

    /// Placed at the key, not at its value.
    #[must_use]
    pub fn on_key(mut self) -> Self {
        self.at_key = true;
        self
    }

    /// Whether it stops publishing.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}
