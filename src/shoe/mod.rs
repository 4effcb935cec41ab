//! One shoe: identity, specimens, readings and curves.

mod check;
mod file;
#[expect(
    clippy::module_inception,
    reason = "the room's one type has the room's name"
)]
mod shoe;

pub use check::{REVIEW_LIMIT, SPECIMENS_LIMIT, SUMMARY_LIMIT, TITLE_LIMIT, TRIALS_LIMIT, check};
pub use file::{
    Accept, Bought, CurveRef, LeaveOut, Price, Readings, Session, ShoeFile, Side, Specimen,
    Translation, Version, Way, Withdrawn,
};
pub use shoe::{RawCurve, Shoe};
