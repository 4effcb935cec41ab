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
    #[schemars(extend("examples" = [2]))]
    pub version: u32,
    /// The day from which this version holds.
    #[schemars(extend("examples" = ["2026-09-01"]))]
    pub effective: Date,
    /// Coverage probability of every printed interval, such as `95 %`.
    #[schemars(extend("examples" = ["95 %"]))]
    pub coverage: Amount,
    /// How a specimen is conditioned before it is measured.
    #[schemars(extend("examples" = [{"temperature": "23 °C", "temperature-tolerance": "1.5 °C", "humidity": "50 %", "humidity-tolerance": "10 %", "soak": "12 h", "measure-within": "30 min"}]))]
    pub conditioning: ConditioningFile,
    /// The size at which masses are compared.
    #[schemars(extend("examples" = [{"system": "mondopoint", "value": 270}]))]
    pub reference_size: Size,
    /// The fewest shoes of a category for which a percentile is given.
    #[schemars(extend("examples" = [5]))]
    pub minimum_shoes: usize,
    /// What is measured, by name.
    #[schemars(extend("examples" = [{"mass": {"label": "Mass", "what": "The whole shoe, as worn.", "unit": "g", "also": "oz", "decimals": 0, "instrument": "scale-1", "trials": 3, "spread": "2 g", "plausible": ["90 g", "600 g"]}}]))]
    pub quantities: Map<Key, QuantityFile>,
    /// Raw curves, by name.
    #[serde(default)]
    #[schemars(extend("examples" = [{"heel-load-curve": {"label": "Heel load against travel", "travel": "mm", "load": "N", "to": "450 N"}}]))]
    pub curves: Map<Key, CurveFile>,
}

/// How a specimen is conditioned before it is measured.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct ConditioningFile {
    /// The temperature.
    #[schemars(extend("examples" = ["23 °C"]))]
    pub temperature: Amount,
    /// How far from it a session may be; a difference of temperatures.
    #[schemars(extend("examples" = ["1.5 °C"]))]
    pub temperature_tolerance: Amount,
    /// The relative humidity.
    #[schemars(extend("examples" = ["50 %"]))]
    pub humidity: Amount,
    /// How far from it a session may be.
    #[schemars(extend("examples" = ["10 %"]))]
    pub humidity_tolerance: Amount,
    /// How long, at least.
    #[schemars(extend("examples" = ["12 h"]))]
    pub soak: Amount,
    /// Within what time after conditioning the readings are to be taken; the bench
    /// counts it down.
    #[schemars(extend("examples" = ["30 min"]))]
    pub measure_within: Option<Amount>,
}

/// A shoe size.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Size {
    /// The size system.
    pub system: SizeSystem,
    /// The size in that system.
    #[schemars(extend("examples" = [270]))]
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
    #[schemars(extend("examples" = ["Midfoot torque"]))]
    pub label: String,
    /// What it is, in a sentence.
    #[schemars(extend("examples" = ["The torque that twists the forefoot 15° against the clamped heel."]))]
    pub what: String,
    /// The load, angle or other condition it is read at.
    #[schemars(extend("examples" = ["15°", "450 N"]))]
    pub at: Option<Amount>,
    /// The unit of bare readings, and the first unit of printed values.
    #[schemars(extend("format" = "unit"))]
    #[schemars(extend("examples" = ["N·m", "mm"]))]
    pub unit: String,
    /// A second unit to print beside the first.
    #[schemars(extend("format" = "unit"))]
    #[schemars(extend("examples" = ["in·lbf"]))]
    pub also: Option<String>,
    /// How many decimals a printed value has in the first unit.
    #[schemars(range(max = 6))]
    #[schemars(extend("examples" = [2]))]
    pub decimals: u8,
    /// The instrument it is read on.
    #[schemars(extend("examples" = ["torque-1"]))]
    pub instrument: Key,
    /// How many trials a specimen needs.
    #[schemars(range(min = 1, max = 100))]
    #[schemars(extend("examples" = [3]))]
    pub trials: usize,
    /// The most by which trials of one specimen may differ (largest less
    /// smallest): an amount, or per cent of the mean.
    #[schemars(extend("examples" = ["12 %", "0.6 mm"]))]
    pub spread: Option<Amount>,
    /// The plausible range: a reading outside it is a problem.
    #[schemars(extend("examples" = [["0.3 N·m", "15 N·m"]]))]
    pub plausible: [Amount; 2],
    /// The lab's pooled repeatability, used where a shoe has too few trials.
    #[schemars(extend("examples" = [{"s": "0.12 N·m", "dof": 58}]))]
    pub repeatability: Option<Repeatability>,
    /// The most by which a left and a right specimen may differ.
    #[schemars(extend("examples" = ["0.9 N·m"]))]
    pub left_right: Option<Amount>,
    /// Change of the value a millimetre of Mondopoint length, for comparison at
    /// the reference size.
    #[schemars(extend("examples" = ["1.0 g"]))]
    pub per_size: Option<Amount>,
    /// The raw curve it is worked out from.
    #[schemars(extend("examples" = [{"curve": "heel-load-curve", "take": "energy-return"}]))]
    pub from: Option<FromCurve>,
    /// Words for a shoe that has more or less of it than another.
    #[schemars(extend("examples" = [{"more": "stiffer at the toes", "less": "easier to bend at the toes"}]))]
    pub differs: Option<Differs>,
}

/// Words for a shoe that has more or less of a quantity than another.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Differs {
    /// Such as `stiffer at the toes`.
    #[schemars(extend("examples" = ["stiffer at the toes"]))]
    pub more: String,
    /// Such as `easier to bend at the toes`.
    #[schemars(extend("examples" = ["easier to bend at the toes"]))]
    pub less: String,
}

/// The lab's pooled repeatability of one quantity.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Repeatability {
    /// Pooled standard deviation of single trials.
    #[schemars(extend("examples" = ["0.12 N·m"]))]
    pub s: Amount,
    /// Its degrees of freedom.
    #[schemars(extend("examples" = [58]))]
    pub dof: f64,
}

/// Which figure of which curve a quantity is.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FromCurve {
    /// The curve's name.
    #[schemars(extend("examples" = ["heel-load-curve"]))]
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
    #[schemars(extend("examples" = ["Heel load against travel"]))]
    pub label: String,
    /// Unit of travel or angle, where the file's header names none.
    #[schemars(extend("format" = "unit"))]
    #[schemars(extend("examples" = ["mm", "°"]))]
    pub travel: String,
    /// Unit of load or torque, where the file's header names none.
    #[schemars(extend("format" = "unit"))]
    #[schemars(extend("examples" = ["N", "N·m"]))]
    pub load: String,
    /// The load or torque the loop goes to.
    #[schemars(extend("examples" = ["450 N"]))]
    pub to: Amount,
    /// How many cycles the file holds; the last is used.
    #[serde(default = "one")]
    #[schemars(range(min = 1, max = 100))]
    #[schemars(extend("examples" = [1, 5]))]
    pub cycles: usize,
}

fn one() -> usize {
    1
}
