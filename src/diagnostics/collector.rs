//! Gathers the problems of one file while it is checked.

use super::{KeyPath, Problem};

/// The problems of one file, in the order they were found.
#[derive(Debug)]
pub struct Collector {
    file: String,
    problems: Vec<Problem>,
}

impl Collector {
    /// A collector for one file, named relative to the lab's root.
    pub fn new(file: impl Into<String>) -> Self {
        Collector {
            file: file.into(),
            problems: Vec::new(),
        }
    }

    /// The file's name.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// Adds an error with what to do about it.
    pub fn error(
        &mut self,
        code: &'static str,
        path: KeyPath,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.problems
            .push(Problem::error(code, self.file.clone(), path, message).hint(hint));
    }

    /// Adds a warning.
    pub fn warning(
        &mut self,
        code: &'static str,
        path: KeyPath,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.problems
            .push(Problem::warning(code, self.file.clone(), path, message).hint(hint));
    }

    /// Adds an error for a text that is longer than its place holds.
    pub fn too_long(&mut self, path: KeyPath, message: impl Into<String>) {
        self.error("text-too-long", path, message, "shorten it");
    }

    /// Adds a problem that is placed already.
    pub fn push(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    /// Whether an error is among them.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(Problem::is_error)
    }

    /// The problems.
    pub fn into_problems(self) -> Vec<Problem> {
        self.problems
    }
}
