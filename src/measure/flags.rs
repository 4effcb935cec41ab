//! What screening finds: a flag is said on the page, never acted on in silence.

use crate::files::Key;

/// How much a flag weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FlagWeight {
    /// Publishing stops until the shoe says `accept` with a reason.
    Stops,
    /// Said on the page.
    Said,
}

/// One thing screening found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flag {
    /// A stable name, such as `calibration-overdue`.
    pub code: &'static str,
    /// How much it weighs.
    pub weight: FlagWeight,
    /// The quantity it is about; none where it is about a whole session.
    pub quantity: Option<Key>,
    /// The specimen it is about.
    pub specimen: Option<String>,
    /// What was found and what was expected, with numbers.
    pub message: String,
    /// The reason it was accepted with.
    pub accepted: Option<String>,
}

impl Flag {
    /// Whether it stops publishing.
    pub fn stops(&self) -> bool {
        self.weight == FlagWeight::Stops && self.accepted.is_none()
    }

    /// Whether findings that rest on it are provisional, accepted or not.
    pub fn makes_provisional(&self) -> bool {
        self.weight == FlagWeight::Stops
    }
}
