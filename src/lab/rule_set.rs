//! `lab/rules.yaml`: the versioned thresholds and weights.
//!
//! Here a rule is only its kind's name and its settings as written; the rules'
//! room turns them into rules that judge.

use super::settings::SchemaVersion;
use crate::files::{Date, Key, Map};
use schemars::JsonSchema;
use serde::Deserialize;

/// A line of the rule set's history.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleSetVersion {
    /// The version this line of the history tells of.
    #[schemars(extend("examples" = [3]))]
    pub version: u32,
    /// The day from which it held.
    #[schemars(extend("examples" = ["2026-04-01"]))]
    pub effective: Date,
    /// What changed, in a sentence a reader understands.
    #[schemars(extend("examples" = ["Lift is judged on the loaded drop; it was the static drop before."]))]
    pub note: String,
}

/// `lab/rules.yaml`, with rules of kind `R`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct RuleSetFile<R> {
    /// Version of this file's form; 1.
    pub schema: SchemaVersion,
    /// The rule set's version. Any change of a rule needs a new one.
    #[schemars(extend("examples" = [4]))]
    pub version: u32,
    /// The day from which this version holds.
    #[schemars(extend("examples" = ["2026-11-01"]))]
    pub effective: Date,
    /// A finding whose band is right with less than this chance is borderline; above 0.5, below 1.
    #[schemars(extend("examples" = [0.8]))]
    pub borderline_below: f64,
    /// The five names of the bands, from the lowest.
    #[schemars(extend("examples" = [["very low", "low", "medium", "high", "very high"]]))]
    pub bands: [String; 5],
    /// What changed from version to version.
    #[serde(default)]
    #[schemars(extend("examples" = [[{"version": 3, "effective": "2026-04-01", "note": "Lift is judged on the loaded drop; it was the static drop before."}]]))]
    pub history: Vec<RuleSetVersion>,
    /// The rules by the name of their finding.
    #[schemars(extend("examples" = [{"torsion": {"kind": "scale", "label": "Torsion", "of": "midfoot-torque", "unit": "in·lbf", "points": [[0, 0], [45, 60], [90, 100]]}}]))]
    pub rules: Map<Key, R>,
    /// The findings a review leads with, in this order.
    #[schemars(extend("examples" = [["torsion", "heel-firmness", "platform"]]))]
    pub page: Vec<Key>,
}
