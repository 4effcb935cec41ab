//! Problems of one file, so many and no more.

use crate::diagnostics::{KeyPath, Problem, Severity, render};

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

/// The problems in their order, each once; of every file as many as are listed, errors
/// before warnings, and one that counts the rest. For problems of checks that come after
/// reading, once they are placed: a file of sixty thousand unknown names has as many. A
/// file whose problems were counted when it was read keeps them.
pub fn limited(mut problems: Vec<Problem>) -> Vec<Problem> {
    render::sort(&mut problems);
    problems.dedup();
    let mut limited = Vec::with_capacity(problems.len());
    for of_file in problems.chunk_by(|a, b| a.file == b.file) {
        let counted = of_file.iter().any(|one| one.code == "more-problems");
        if of_file.len() <= PROBLEM_LIMIT || counted {
            limited.extend_from_slice(of_file);
            continue;
        }
        let (errors, warnings): (Vec<&Problem>, Vec<&Problem>) =
            of_file.iter().partition(|one| one.is_error());
        let mut found = Found::default();
        let severity = if errors.is_empty() {
            Severity::Warning
        } else {
            Severity::Error
        };
        for one in errors.into_iter().chain(warnings) {
            found.push(one.clone());
        }
        let mut listed = found.into_problems(&of_file[0].file);
        if let Some(rest) = listed.last_mut() {
            rest.severity = severity;
        }
        limited.append(&mut listed);
    }
    limited
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_each_file_a_hundred_are_listed_and_the_rest_counted() {
        let refused = |file: &str, line: usize| {
            Problem::error("unknown-name", file, KeyPath::root(), "x").at(line, 1)
        };
        let mut problems: Vec<Problem> = (1..=150).rev().map(|line| refused("a", line)).collect();
        problems.push(refused("b", 7));
        problems.push(refused("b", 7));
        problems.push(Problem::warning("cut-off", "a", KeyPath::root(), "x").at(1, 1));
        let listed = limited(problems);
        let lines = |file: &str| -> Vec<Option<usize>> {
            let of_file = listed.iter().filter(|one| one.file == file);
            of_file.map(|one| one.place.map(|at| at.line)).collect()
        };
        let mut expected: Vec<Option<usize>> = (1..=100).map(Some).collect();
        expected.push(None);
        assert_eq!(lines("a"), expected);
        assert_eq!(lines("b"), [Some(7)]);
        assert_eq!(listed[100].message, "51 more problems in this file");
        assert!(listed[100].is_error());
        assert_eq!(limited(listed.clone()), {
            let mut sorted = listed;
            render::sort(&mut sorted);
            sorted
        });
    }

    #[test]
    fn warnings_alone_are_counted_by_a_warning() {
        let warning =
            |line| Problem::warning("text-not-said", "a", KeyPath::root(), "x").at(line, 1);
        let listed = limited((1..=101).map(warning).collect());
        assert_eq!(listed.len(), 101);
        assert!(!listed.iter().any(Problem::is_error));
    }
}
