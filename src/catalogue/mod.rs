//! A shoe against all others: percentiles, ranks, neighbours.

#[cfg(test)]
mod by_hand;
mod standing;

pub use standing::{Catalogue, Neighbour, Standing};
