//! A shoe against all others: percentiles, ranks, neighbours.

mod build;
mod nearest;
mod standing;

pub use standing::{Catalogue, Neighbour, Standing};
