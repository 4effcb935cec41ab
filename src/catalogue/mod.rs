//! A shoe against all others: percentiles, ranks, neighbours.

mod alike;
mod build;
#[cfg(test)]
mod by_hand;
mod nearest;
mod space;
mod standing;

pub use standing::{Alike, Catalogue, Neighbour, Standing};
