//! Problems of one file, so many and no more.

use crate::diagnostics::{KeyPath, Problem};

/// The most problems reported of one file; a file with more is broken in one way
/// that repeats.
pub const PROBLEM_LIMIT: usize = 100;

/// Collects problems up to the limit and counts the rest.
#[derive(Clone, Debug, Default)]
pub(crate) struct Found {
    problems: Vec<Problem>,
    more: usize,
}

impl Found {
    pub(crate) fn from(problems: Vec<Problem>) -> Found {
        Found { problems, more: 0 }
    }

    pub(crate) fn push(&mut self, problem: Problem) {
        if self.problems.len() < PROBLEM_LIMIT {
            self.problems.push(problem);
        } else {
            self.more += 1;
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.problems.len() + self.more
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.problems.is_empty()
    }

    pub(crate) fn append(&mut self, other: Found) {
        for problem in other.problems {
            self.push(problem);
        }
        self.more += other.more;
    }

    pub(crate) fn retain(&mut self, keep: impl FnMut(&Problem) -> bool) {
        self.problems.retain(keep);
        self.more = 0;
    }

    /// The problems, and one that counts what was left out.
    pub(crate) fn into_problems(mut self, file: &str) -> Vec<Problem> {
        if self.more > 0 {
            self.problems.push(
                Problem::error(
                    "more-problems",
                    file,
                    KeyPath::root(),
                    format!("{} more problems in this file", self.more),
                )
                .hint("mend those above first"),
            );
        }
        self.problems
    }
}
