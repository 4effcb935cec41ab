//! How far gathering is, for whoever waits for it.

use std::fmt;
use std::sync::Arc;

/// A step of gathering.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// So many shoes will be read.
    Reading(usize),
    /// One of them was.
    Read,
    /// So many shoes will be judged.
    Judging(usize),
    /// One of them was.
    Judged,
}

/// Hears the steps, from many threads. Nobody listens at first.
#[derive(Clone, Default)]
pub struct Ear(Option<Arc<dyn Fn(Step) + Send + Sync>>);

impl Ear {
    /// Hands every step over.
    pub fn new(hear: impl Fn(Step) + Send + Sync + 'static) -> Self {
        Ear(Some(Arc::new(hear)))
    }

    pub(super) fn hear(&self, step: Step) {
        if let Some(hear) = &self.0 {
            hear(step);
        }
    }
}

impl fmt::Debug for Ear {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Ear").finish_non_exhaustive()
    }
}
