//! Units, amounts as written, values with uncertainty, and rounding.
//!
//! Pure: no file, clock or thread. Everything here works on one value at a time.

mod amount;
mod rounding;
mod uncertain;
mod unit;

pub use amount::{Amount, NotAnAmount};
pub use rounding::{decimals_for_uncertainty, fixed, round_half_even};
pub use uncertain::{Expanded, Part, Shape, Source, Uncertain};
pub use unit::{Dimension, Incommensurable, Unit, UnknownUnit};
