//! How quantities become findings: the trait, the registry, one file a kind.

mod finding;
mod judged;
mod rule;

pub use finding::{
    Advice, BandScale, Banded, Finding, Fit, FitAxis, FitOption, NotJudged, Says, Value, Verdict,
};
pub use judged::Judged;
pub use rule::{Facts, Findings, Grounds, Kind, Mistake, Rule, RuleMethod, Yields};

pub use crate::measure::TraceStep;

use crate::files::{Date, Key, Map};
use crate::lab::RuleSetVersion;

/// The rule set, built: its rules in an order in which each comes after what it needs.
#[derive(Debug)]
pub struct RuleSet {
    /// Its version.
    pub version: u32,
    /// The day from which it holds.
    pub effective: Date,
    /// The chance under which a finding is borderline.
    pub borderline_below: f64,
    /// The names of the five bands.
    pub bands: [String; 5],
    /// What changed from version to version.
    pub history: Vec<RuleSetVersion>,
    /// The findings a review leads with, in this order.
    pub page: Vec<Key>,
    /// The rules, in the file's order.
    pub rules: Map<Key, Box<dyn Rule>>,
    /// The order of judging: places in `rules`.
    pub(crate) order: Vec<usize>,
}
