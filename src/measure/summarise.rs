//! From a shoe's readings to one value a quantity, with its uncertainty.

use super::flags::Flag;
use crate::files::Key;
use crate::quantity::{Amount, Uncertain, Unit};
use crate::shoe::Side;
use std::collections::BTreeMap;

/// A shoe's quantities: each one's summary, or why there is none.
pub type Quantities = BTreeMap<Key, Result<Summary, Absent>>;

/// One quantity of one shoe.
#[derive(Clone, Debug)]
pub struct Summary {
    /// The quantity.
    pub quantity: Key,
    /// The unit of every figure here: the protocol's.
    pub unit: Unit,
    /// The shoe's value with the parts of its uncertainty, at the reference size.
    pub value: Uncertain,
    /// How many readings it rests on.
    pub n: usize,
    /// The specimens it was measured on, in the file's order.
    pub specimens: Vec<SpecimenSummary>,
    /// What was added to the readings' mean to compare at the reference size.
    pub size_step: Option<f64>,
    /// Whether the scatter is the lab's pooled repeatability instead of the trials' own.
    pub pooled: bool,
    /// What screening found, in a stated order.
    pub flags: Vec<Flag>,
}

impl Summary {
    /// Whether a flag that nobody accepted makes findings from it provisional.
    pub fn provisional(&self) -> bool {
        self.flags.iter().any(Flag::makes_provisional)
    }
}

/// One quantity of one specimen.
#[derive(Clone, Debug)]
pub struct SpecimenSummary {
    /// The specimen's mark.
    pub id: String,
    /// Left or right.
    pub side: Side,
    /// The trials, in the order they were taken.
    pub trials: Vec<Trial>,
    /// Mean of the trials that count.
    pub mean: f64,
    /// Standard deviation (n − 1) of the trials that count; absent for one.
    pub deviation: Option<f64>,
}

/// One reading of one trial.
#[derive(Clone, Debug)]
pub struct Trial {
    /// As it was written down.
    pub written: Amount,
    /// In the protocol's unit.
    pub value: f64,
    /// Why it is left out, if it is.
    pub left_out: Option<String>,
}

/// Why a quantity has no value for a shoe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Absent {
    /// The quantity.
    pub quantity: Key,
    /// The reason, as a clause: `it was not measured`.
    pub reason: String,
}
