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
    pub instruments: Map<Key, Instrument>,
}

/// One instrument.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    /// How it is called on a page.
    pub label: String,
    /// The smallest step it shows. A reading may lie anywhere within half a step
    /// (rectangular; JCGM 100:2008, 4.3.7 and F.2.2.1).
    pub resolution: Amount,
    /// Its latest calibration.
    pub calibration: Calibration,
}

/// One calibration, as its certificate states it.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// The day it was calibrated.
    pub on: Date,
    /// The first day on which it is overdue.
    pub due: Date,
    /// The certificate's expanded uncertainty.
    pub uncertainty: Amount,
    /// The certificate's coverage factor (JCGM 100:2008, 4.3.3).
    pub k: f64,
}
