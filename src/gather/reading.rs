//! How a lab is read: as of when, with what in a file's place, and who hears of it.

use super::heard::Ear;
use crate::files::{Date, Source};
use crate::measure::drawn::Drawn;
use crate::programs::Outside;
use std::sync::Arc;

/// How a lab's files are read.
#[derive(Clone, Debug, Default)]
pub struct Reading {
    /// The edition's date: rule set and protocol are those that held then, where
    /// the lab keeps them, and the control shoe's log ends there. Without it all
    /// are the present ones.
    pub as_of: Option<Date>,
    /// Files that stand in for the lab's own, by their names, to see what they
    /// would change.
    pub instead: Vec<Source>,
    /// Whether a version that was sealed may say something else now: only to try.
    pub trial: bool,
    /// Whether the lab's outside programs may be run.
    pub outside: Outside,
    /// Intervals that were drawn before.
    pub drawn: Arc<Drawn>,
    /// Who hears how far it is.
    pub ear: Ear,
}

impl Reading {
    /// As it is read on a day, with nothing else asked for.
    pub fn on(day: Date) -> Reading {
        Reading {
            as_of: Some(day),
            ..Reading::default()
        }
    }
}
