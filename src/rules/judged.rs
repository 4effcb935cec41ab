//! A shoe with all that was worked out of it.

use super::answers::Answers;
use super::rule::{Facts, Findings};
use crate::measure::{Flag, Quantities};
use crate::shoe::Shoe;
use std::sync::Arc;

/// A shoe with all that was worked out of it.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The shoe.
    pub shoe: Arc<Shoe>,
    /// Its quantities.
    pub quantities: Quantities,
    /// Its findings.
    pub findings: Findings,
    /// What screening found of its sessions; each quantity carries its own flags.
    pub session_flags: Vec<Flag>,
    /// What outside programs answered of it.
    pub answers: Answers,
}

impl Judged {
    /// Everything known of the shoe, as its rules see it.
    pub fn facts(&self) -> Facts<'_> {
        Facts {
            quantities: &self.quantities,
            findings: &self.findings,
            answers: &self.answers,
        }
    }
}
