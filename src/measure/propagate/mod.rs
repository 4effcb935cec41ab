//! Uncertainty carried through a function: a scale of straight pieces, any
//! function by differences, and any function by random draws.
//!
//! Sources of uncertainty are kept apart all the way, so that what two inputs
//! share stays correlated.

mod differences;
mod draws;
mod piecewise;
mod second_order;
mod sums;

pub use differences::{Curvature, curvature, through_function};
pub use draws::{Draws, drawn_interval, seed_of, through_draws};
pub use piecewise::{Linearised, linearise, piecewise_at, through_piecewise};
pub use second_order::{FunctionInterval, function_interval};
pub use sums::{Addend, bends_near, scale_interval, sum_interval};
