//! The protocol as the other rooms use it: units resolved, amounts in them.

use super::protocol::{CurveFigure, Differs, Size};
use crate::files::{Date, Key, Map};
use crate::quantity::{Amount, Unit};
use std::sync::Arc;

/// The protocol, checked: every amount in the unit of its quantity.
#[derive(Clone, Debug)]
pub struct Protocol {
    /// Its version.
    pub version: u32,
    /// The day from which it holds.
    pub effective: Date,
    /// Coverage probability of printed intervals, between 0 and 1.
    pub coverage: f64,
    /// How a specimen is conditioned.
    pub conditioning: Conditioning,
    /// The size at which masses are compared.
    pub reference_size: Size,
    /// The fewest shoes of a category for a percentile.
    pub minimum_shoes: usize,
    /// What is measured, in the file's order.
    pub quantities: Map<Key, QuantitySpec>,
    /// Raw curves, in the file's order.
    pub curves: Map<Key, CurveSpec>,
}

/// How a specimen is conditioned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditioning {
    /// °C.
    pub temperature: f64,
    /// K.
    pub temperature_tolerance: f64,
    /// % relative humidity.
    pub humidity: f64,
    /// % relative humidity.
    pub humidity_tolerance: f64,
    /// Hours, at least.
    pub soak: f64,
    /// Minutes after conditioning within which readings are to be taken.
    pub measure_within: Option<f64>,
}

/// How one quantity is measured; every figure in `unit`.
#[derive(Clone, Debug)]
pub struct QuantitySpec {
    /// How it is called.
    pub label: Arc<str>,
    /// What it is.
    pub what: String,
    /// The load, angle or other condition it is read at.
    pub at: Option<Amount>,
    /// Its unit.
    pub unit: Unit,
    /// A second unit to print.
    pub also: Option<Unit>,
    /// Decimals of a printed value in `unit`.
    pub decimals: u8,
    /// The instrument's key.
    pub instrument: Key,
    /// The instrument's resolution; none if it is read in another dimension
    /// (a quantity worked out from a curve).
    pub resolution: Option<f64>,
    /// Standard uncertainty of the instrument's calibration; none as above.
    pub calibration: Option<f64>,
    /// Trials a specimen needs.
    pub trials: usize,
    /// The allowed spread.
    pub spread: Option<Spread>,
    /// The plausible range.
    pub plausible: (f64, f64),
    /// Pooled standard deviation of single trials, and its degrees of freedom.
    pub repeatability: Option<(f64, f64)>,
    /// The most by which left and right may differ.
    pub left_right: Option<f64>,
    /// Change a millimetre of Mondopoint length.
    pub per_size: Option<f64>,
    /// The curve and figure it is worked out from.
    pub from: Option<(Key, CurveFigure)>,
    /// Words for a shoe that has more or less of it than another.
    pub differs: Option<Differs>,
}

/// The allowed spread of one specimen's trials: largest less smallest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spread {
    /// In the quantity's unit.
    Absolute(f64),
    /// As a share of the mean, 0.12 for 12 %.
    OfMean(f64),
}

/// What a raw curve holds.
#[derive(Clone, Debug)]
pub struct CurveSpec {
    /// How it is called.
    pub label: String,
    /// Unit of travel or angle.
    pub travel: Unit,
    /// Unit of load or torque.
    pub load: Unit,
    /// Where the loop goes to, in `load`.
    pub to: f64,
    /// How many cycles; the last is used.
    pub cycles: usize,
}
