//! The measuring: summary of trials, screening, uncertainty, conformity,
//! curves, control chart, gauge study. Pure; one file an idea, each naming its
//! published method.

mod flags;
mod screen;
mod summarise;

pub use flags::{Flag, FlagWeight};
pub use screen::{FLAGS, screen_sessions};
pub use summarise::{Absent, Figures, Quantities, SpecimenSummary, Summary, Trial, summarise};
