//! A shoe against all others: percentiles, ranks, neighbours.

mod build;
#[cfg(test)]
mod by_hand;
mod nearest;
mod standing;

pub use standing::{Catalogue, Neighbour, Standing};
