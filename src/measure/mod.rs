//! The measuring: summary of trials, screening, uncertainty, conformity,
//! curves, control chart, gauge study. Pure; one file an idea, each naming its
//! published method.

mod flags;
mod summarise;

pub use flags::{Flag, FlagWeight};
pub use summarise::{Absent, Quantities, SpecimenSummary, Summary, Trial};
