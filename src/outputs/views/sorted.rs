//! What a list sorted beforehand shows.

use super::{FigureView, HeadView, LinkView, SiteView};
use schemars::JsonSchema;
use serde::Serialize;

/// All shoes by one finding, lowest first.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SortedView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// How the finding is called.
    pub label: String,
    /// The lists of the other findings.
    pub others: Vec<LinkView>,
    /// The shoes, by band where the finding has bands; those not judged last.
    pub groups: Vec<SortedGroupView>,
}

/// The shoes of one band.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SortedGroupView {
    /// Its place in the page's address.
    pub key: String,
    /// The band's name; none where there are no bands.
    pub name: Option<String>,
    /// The band, counted from 0.
    pub band_index: Option<usize>,
    /// How many bands there are.
    pub bands: usize,
    /// Whether these shoes have the finding.
    pub judged: bool,
    /// The shoes.
    pub rows: Vec<SortedRowView>,
}

/// One shoe in a list.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SortedRowView {
    /// Maker, model, version and colour.
    pub title: String,
    /// Its review's path from the root.
    pub path: String,
    /// Its category's name.
    pub category: String,
    /// The score of 100, where the finding has bands.
    pub score: Option<FigureView>,
    /// The measured value or the number found.
    pub value: Option<FigureView>,
    /// The neighbour band, where it can't be ruled out.
    pub borderline: Option<String>,
    /// Why the finding could not be made.
    pub not_judged: Option<String>,
}
