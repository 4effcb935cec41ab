//! `lab/protocol.yaml`: how each quantity is measured.

use super::settings::SchemaVersion;
use crate::files::{Date, Key, Map};
use crate::quantity::Amount;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// `lab/protocol.yaml`: how each quantity is measured.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct ProtocolFile {
    /// Version of this file's form; 1.
    pub schema: SchemaVersion,
    /// The protocol's version; a page names it.
    pub version: u32,
    /// The day from which this version holds.
    pub effective: Date,
    /// Coverage probability of every printed interval, such as `95 %`.
    pub coverage: Amount,
    /// How a specimen is conditioned before it is measured.
    pub conditioning: ConditioningFile,
    /// The size at which masses are compared.
    pub reference_size: Size,
    /// The fewest shoes of a category for which a percentile is given.
    pub minimum_shoes: usize,
    /// What is measured, by name.
    pub quantities: Map<Key, QuantityFile>,
    /// Raw curves, by name.
    #[serde(default)]
    pub curves: Map<Key, CurveFile>,
}

/// How a specimen is conditioned before it is measured.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct ConditioningFile {
    /// The temperature.
    pub temperature: Amount,
    /// How far from it a session may be; a difference of temperatures.
    pub temperature_tolerance: Amount,
    /// The relative humidity.
    pub humidity: Amount,
    /// How far from it a session may be.
    pub humidity_tolerance: Amount,
    /// How long, at least.
    pub soak: Amount,
    /// Within what time after conditioning the readings are to be taken; the bench
    /// counts it down.
    pub measure_within: Option<Amount>,
}

/// A shoe size.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Size {
    /// The size system.
    pub system: SizeSystem,
    /// The size in that system.
    pub value: f64,
}

/// A size system.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SizeSystem {
    /// ISO 9407: length of the foot in millimetres.
    Mondopoint,
    /// The same length in centimetres, as it is counted in Japan (JIS S 5037).
    Cm,
    /// Paris points: two thirds of a centimetre of last length.
    Paris,
    /// United Kingdom, adults: thirds of an inch.
    Uk,
    /// United States, men: thirds of an inch.
    UsMen,
    /// United States, women: thirds of an inch.
    UsWomen,
}

/// How one quantity is measured.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct QuantityFile {
    /// How it is called on a page.
    pub label: String,
    /// What it is, in a sentence.
    pub what: String,
    /// The load, angle or other condition it is read at.
    pub at: Option<Amount>,
    /// The unit of bare readings, and the first unit of printed values.
    #[schemars(extend("format" = "unit"))]
    pub unit: String,
    /// A second unit to print beside the first.
    #[schemars(extend("format" = "unit"))]
    pub also: Option<String>,
    /// How many decimals a printed value has in the first unit.
    #[schemars(range(max = 6))]
    pub decimals: u8,
    /// The instrument it is read on.
    pub instrument: Key,
    /// How many trials a specimen needs.
    #[schemars(range(min = 1, max = 100))]
    pub trials: usize,
    /// The most by which trials of one specimen may differ (largest less
    /// smallest): an amount, or per cent of the mean.
    pub spread: Option<Amount>,
    /// The plausible range: a reading outside it is a problem.
    pub plausible: [Amount; 2],
    /// The lab's pooled repeatability, used where a shoe has too few trials.
    pub repeatability: Option<Repeatability>,
    /// The most by which a left and a right specimen may differ.
    pub left_right: Option<Amount>,
    /// Change of the value a millimetre of Mondopoint length, for comparison at
    /// the reference size.
    pub per_size: Option<Amount>,
    /// The raw curve it is worked out from.
    pub from: Option<FromCurve>,
}

/// The lab's pooled repeatability of one quantity.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Repeatability {
    /// Pooled standard deviation of single trials.
    pub s: Amount,
    /// Its degrees of freedom.
    pub dof: f64,
}

/// Which figure of which curve a quantity is.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FromCurve {
    /// The curve's name.
    pub curve: Key,
    /// The figure.
    pub take: CurveFigure,
}

/// A figure of a load–travel or torque–angle loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CurveFigure {
    /// Travel (or angle) at the curve's `to` load (or torque), while loading.
    Travel,
    /// Load (or torque) at the quantity's `at` travel (or angle), while loading.
    Load,
    /// Load over travel from rest to the curve's `to`.
    SecantStiffness,
    /// Slope of the loading branch at the curve's `to`.
    TangentStiffness,
    /// Energy put in while loading.
    EnergyIn,
    /// Energy that comes back while unloading.
    EnergyBack,
    /// Energy lost in the loop.
    EnergyLost,
    /// Energy back over energy in.
    EnergyReturn,
}

/// What a raw curve holds.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CurveFile {
    /// How it is called on a page.
    pub label: String,
    /// Unit of travel or angle, where the file's header names none.
    #[schemars(extend("format" = "unit"))]
    pub travel: String,
    /// Unit of load or torque, where the file's header names none.
    #[schemars(extend("format" = "unit"))]
    pub load: String,
    /// The load or torque the loop goes to.
    pub to: Amount,
    /// How many cycles the file holds; the last is used.
    #[serde(default = "one")]
    #[schemars(range(min = 1, max = 100))]
    pub cycles: usize,
}

fn one() -> usize {
    1
}
