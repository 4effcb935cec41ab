//! What a social card shows: a picture, so places and tints are worked out.

use schemars::JsonSchema;
use serde::Serialize;

/// A picture that stands for a page where it is shared.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ImageView {
    /// Its path from the folio's root.
    pub path: String,
    /// What it says, in words.
    pub alt: String,
    /// In pixels.
    pub width: u32,
    /// In pixels.
    pub height: u32,
}

/// A shoe's social card.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CardView {
    /// What it says, in words.
    pub alt: String,
    /// Language tag.
    pub language: String,
    /// The laboratory.
    pub lab: String,
    /// Where the folio is, without its scheme.
    pub address: String,
    /// Whether lab, makers and shoes are made up; the card says so.
    pub invented: bool,
    /// Whether the review is a draft; the card says so.
    pub drafts: bool,
    /// Who makes the shoe.
    pub maker: String,
    /// Its category.
    pub category: String,
    /// Model, version and colour, in one or two lines.
    pub title: Vec<String>,
    /// The size of the title's letters, in pixels.
    pub title_size: f64,
    /// The findings a review leads with.
    pub bands: Vec<CardBandView>,
}

/// One finding on a card.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CardBandView {
    /// Where its line stands, in pixels from the top.
    pub y: f64,
    /// How it is called.
    pub label: String,
    /// Its band; none if it was not judged.
    pub band: Option<String>,
    /// Whether the neighbour band may be the right one.
    pub borderline: bool,
    /// The bands as cells, the lowest first.
    pub cells: Vec<CardCellView>,
}

/// One band as a cell.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CardCellView {
    /// Where it begins, in pixels from the left.
    pub x: f64,
    /// How wide it is, in pixels.
    pub width: f64,
    /// Whether it is the stated one.
    pub stated: bool,
    /// Its colour.
    pub tint: String,
}
