//! A shoe against all others: percentiles, ranks, neighbours.

mod standing;

pub use standing::{Catalogue, Neighbour, Standing};
