//! A shoe's file, as it is written.

use crate::files::{Date, Key, Map, Month, Slug};
use crate::lab::{SchemaVersion, Size};
use crate::quantity::Amount;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One shoe: who made it, what was measured, when it is published.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct ShoeFile {
    /// Version of this file's form; 1.
    pub schema: SchemaVersion,
    /// Who makes it.
    pub maker: String,
    /// The model's name, without its version.
    pub model: String,
    /// The model's version; a number or a word.
    pub version: Option<Version>,
    /// The colour, where one model is measured in several.
    pub colour: Option<String>,
    /// One of the lab's categories.
    pub category: Key,
    /// The size that was measured.
    pub size: Size,
    /// What it costs.
    pub price: Option<Price>,
    /// The month it was released.
    pub released: Option<Month>,
    /// The day its review is published; without one it is a draft.
    pub publish: Option<Date>,
    /// The physical shoes that were measured.
    #[schemars(length(min = 1, max = 20))]
    pub specimens: Vec<Specimen>,
    /// The shoe in one sentence.
    pub summary: Option<String>,
    /// What the numbers can't say, in Markdown.
    pub review: Option<String>,
    /// Words of an editor instead of the lab's phrase, by finding.
    #[serde(default)]
    pub words: Map<Key, String>,
    /// Flags that are accepted, by code, with the reason that the page shows.
    #[serde(default)]
    pub accept: Vec<Accept>,
    /// Readings that are left out, with the reason that the page shows.
    #[serde(default)]
    pub leave_out: Vec<LeaveOut>,
    /// Earlier addresses of this shoe; each becomes a page that leads here.
    #[serde(default)]
    pub formerly: Vec<Slug>,
    /// The review was taken back.
    pub withdrawn: Option<Withdrawn>,
    /// What an editor wrote of this shoe, in the folio's other languages, by tag.
    #[serde(default)]
    pub translations: Map<Key, Translation>,
    /// Not published: for the desk.
    pub notes: Option<String>,
}

/// What an editor wrote of a shoe, in another language. What is not here is shown
/// as it stands in the lab's own.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Translation {
    /// The shoe in one sentence.
    pub summary: Option<String>,
    /// What the numbers can't say, in Markdown; the texts of its pictures too.
    pub review: Option<String>,
    /// Words of an editor instead of the lab's phrase, by finding.
    #[serde(default)]
    pub words: Map<Key, String>,
}

/// A model's version: a number or a word.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Version {
    /// Such as 2.
    Number(u32),
    /// Such as `GTX`.
    Word(String),
}

/// What a shoe costs.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// The amount.
    #[schemars(range(min = 0.0))]
    pub amount: f64,
    /// ISO 4217 code of the currency.
    #[schemars(regex(pattern = "^[A-Z]{3}$"))]
    pub currency: String,
}

/// One physical shoe that was measured.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Specimen {
    /// The lab's own mark on it.
    pub id: String,
    /// Left or right.
    pub side: Side,
    /// The maker's lot, where it is known.
    pub lot: Option<String>,
    /// How the lab came by it.
    pub bought: Option<Bought>,
    /// The session it was measured in.
    pub session: Session,
    /// Its readings, by quantity or curve.
    pub readings: Map<Key, Readings>,
}

/// Left or right.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize, Serialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// A left shoe.
    Left,
    /// A right shoe.
    Right,
}

/// How the lab came by a specimen.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bought {
    /// The day.
    pub on: Date,
    /// The way.
    pub how: Way,
}

/// How a lab comes by a shoe.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Bought in a shop like anyone else's.
    Retail,
    /// Lent by the maker.
    Lent,
    /// Given by the maker.
    Given,
}

/// One sitting at the bench.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Session {
    /// The day.
    pub on: Date,
    /// Who measured: one of the lab's operators.
    pub operator: Key,
    /// Temperature at the bench.
    pub temperature: Amount,
    /// Relative humidity at the bench.
    pub humidity: Amount,
    /// How long the specimen was conditioned before.
    pub soaked: Amount,
}

/// The readings of one quantity of one specimen.
#[derive(Clone, Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Readings {
    /// A single trial.
    One(Amount),
    /// Several trials, in the order they were taken.
    Trials(#[schemars(length(min = 1, max = 100))] Vec<Amount>),
    /// A raw curve beside the shoe's file.
    Curve(CurveRef),
}

/// A raw curve beside the shoe's file.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CurveRef {
    /// The CSV file, relative to the shoe's file.
    #[schemars(extend("format" = "relative-path"))]
    pub curve: String,
}

/// A flag that is accepted.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Accept {
    /// The flag's code, such as `calibration-overdue`.
    pub flag: Key,
    /// The quantity it is raised for; without one, every quantity.
    pub of: Option<Key>,
    /// Why it is accepted; the page shows it.
    #[schemars(length(min = 8))]
    pub reason: String,
}

/// A reading that is left out.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LeaveOut {
    /// The specimen's mark.
    pub specimen: String,
    /// The quantity.
    pub quantity: Key,
    /// Which trial, counted from 1.
    #[schemars(range(min = 1))]
    pub trial: usize,
    /// Why it is left out; the page shows it.
    #[schemars(length(min = 8))]
    pub reason: String,
}

/// A review that was taken back.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Withdrawn {
    /// The day.
    pub on: Date,
    /// Why; the page shows it.
    #[schemars(length(min = 8))]
    pub reason: String,
}
