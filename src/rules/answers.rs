//! What outside programs have answered of one shoe, and what they were asked.
//!
//! Rules stay pure: a program is run elsewhere, before its rule judges, and the
//! rule only takes its answer. An answer belongs to the facts it was given for;
//! for other facts it counts as none.

use crate::files::Key;
use crate::quantity::Unit;
use std::collections::BTreeMap;

/// One fact as a program is told it.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// The quantity or finding.
    pub key: Key,
    /// Its value.
    pub value: f64,
    /// Its combined standard uncertainty.
    pub u: f64,
    /// Its effective degrees of freedom; infinite where they are.
    pub dof: f64,
    /// Its unit; a score has `Unit::Score`.
    pub unit: Unit,
    /// The band it lies in, for a finding that has bands.
    pub band: Option<String>,
}

/// A program's answer of one shoe, checked, in the rule's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answer {
    /// The number.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Its degrees of freedom.
    pub dof: f64,
}

/// What came of asking a program.
#[derive(Clone, Debug, PartialEq)]
pub struct Answered {
    /// What it was told.
    pub facts: Vec<Fact>,
    /// What it said, or why it said nothing, as a clause.
    pub answer: Result<Answer, String>,
}

/// The answers of one shoe by the finding they make.
pub type Answers = BTreeMap<Key, Answered>;

/// A rule's use of an outside program.
#[derive(Clone, Copy, Debug)]
pub struct ProgramUse<'r> {
    /// Its name in `lab/lab.yaml`.
    pub program: &'r Key,
    /// The unit its answers are wanted in.
    pub unit: Unit,
}
