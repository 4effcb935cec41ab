//! `lab/instruments.yaml`: what readings are taken on.

use super::settings::SchemaVersion;
use crate::files::{Date, Key, Map};
use crate::quantity::Amount;
use schemars::JsonSchema;
use serde::Deserialize;

/// `lab/instruments.yaml`: what readings are taken on.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Instruments {
    /// Version of this file's form; 1.
    pub schema: SchemaVersion,
    /// The instruments by name.
    #[schemars(extend("examples" = [{"scale-1": {"label": "Bench scale no. 1", "resolution": "1 g", "calibration": {"on": "2026-03-02", "due": "2027-03-02", "uncertainty": "0.6 g", "k": 2}}}]))]
    pub instruments: Map<Key, Instrument>,
}

/// One instrument.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    /// How it is called on a page.
    #[schemars(extend("examples" = ["Bench scale no. 1"]))]
    pub label: String,
    /// The smallest step it shows. A reading may lie anywhere within half a step
    /// (rectangular; JCGM 100:2008, 4.3.7 and F.2.2.1).
    #[schemars(extend("examples" = ["1 g", "0.01 mm"]))]
    pub resolution: Amount,
    /// Its latest calibration.
    #[schemars(extend("examples" = [{"on": "2026-03-02", "due": "2027-03-02", "uncertainty": "0.6 g", "k": 2}]))]
    pub calibration: Calibration,
}

/// One calibration, as its certificate states it.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// The day it was calibrated.
    #[schemars(extend("examples" = ["2026-03-02"]))]
    pub on: Date,
    /// The first day on which it is overdue.
    #[schemars(extend("examples" = ["2027-03-02"]))]
    pub due: Date,
    /// The certificate's expanded uncertainty.
    #[schemars(extend("examples" = ["0.6 g"]))]
    pub uncertainty: Amount,
    /// The certificate's coverage factor (JCGM 100:2008, 4.3.3).
    #[schemars(extend("examples" = [2]))]
    pub k: f64,
}
