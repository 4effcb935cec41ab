//! The bench page: the control shoe's charts and the gauge study.

use super::{DateView, HeadView, SiteView, TickView};
use schemars::JsonSchema;
use serde::Serialize;

/// The bench page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DriftView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// How many readings from the first make the limits.
    pub base: usize,
    /// One chart a quantity, in the order of the log's columns.
    pub charts: Vec<DriftChartView>,
    /// One study a quantity.
    pub studies: Vec<StudyView>,
}

/// The control shoe's chart of one quantity: individuals in a box of 600 × 200,
/// moving ranges in one of 600 × 100.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DriftChartView {
    /// The quantity.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// The unit of its readings.
    pub unit: String,
    /// The picture in words.
    pub description: String,
    /// The individuals as points of a polyline.
    pub line: String,
    /// The moving ranges as points of a polyline.
    pub ranges: String,
    /// Where the base stretch ends; none where it is all there is.
    pub base: Option<String>,
    /// The centre.
    pub centre: Option<TickView>,
    /// The lower limit.
    pub lower: Option<TickView>,
    /// The upper limit.
    pub upper: Option<TickView>,
    /// The mean moving range.
    pub range_mean: Option<TickView>,
    /// The moving range's upper limit.
    pub range_upper: Option<TickView>,
    /// One sigma, with its unit.
    pub sigma: Option<String>,
    /// The readings.
    pub points: Vec<DriftPointView>,
}

/// One reading of the control shoe.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DriftPointView {
    /// The day.
    pub day: DateView,
    /// Its place along.
    pub x: String,
    /// Its place up.
    pub y: String,
    /// The reading.
    pub value: String,
    /// How far it lies from the one before.
    pub range: Option<String>,
    /// What it shows, where it is out of control.
    pub shows: Option<String>,
}

/// A gauge study.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StudyView {
    /// The quantity.
    pub label: String,
    /// The unit of the deviations.
    pub unit: String,
    /// The parts.
    pub parts: Vec<String>,
    /// The operators.
    pub operators: Vec<String>,
    /// What became of the interaction.
    pub interaction: String,
    /// The components of the spread.
    pub rows: Vec<StudyRowView>,
    /// How many kinds of parts the measuring tells apart.
    pub categories: Option<u32>,
    /// Confidence of the limits.
    pub coverage: String,
    /// The picture in words.
    pub description: String,
    /// The readings: operator counted from 0, place along, place up.
    pub marks: Vec<(usize, String, String)>,
    /// The ticks of its side.
    pub ticks: Vec<TickView>,
    /// The line for the protocol.
    pub repeatability: String,
}

/// One component of a study's spread.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StudyRowView {
    /// What it is.
    pub label: String,
    /// Its standard deviation.
    pub deviation: String,
    /// Its confidence limits.
    pub limits: String,
    /// Its share of the total deviation.
    pub share: String,
    /// Whether its variance came out negative.
    pub set_to_zero: bool,
}
