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
    #[schemars(extend("examples" = ["Fennick & Vale"]))]
    pub maker: String,
    /// The model's name, without its version.
    #[schemars(extend("examples" = ["Quarrel"]))]
    pub model: String,
    /// The model's version; a number or a word.
    #[schemars(extend("examples" = [2, "GTX"]))]
    pub version: Option<Version>,
    /// The colour, where one model is measured in several.
    #[schemars(extend("examples" = ["ash"]))]
    pub colour: Option<String>,
    /// One of the lab's categories.
    #[schemars(extend("examples" = ["road"]))]
    pub category: Key,
    /// The size that was measured.
    #[schemars(extend("examples" = [{"system": "mondopoint", "value": 270}]))]
    pub size: Size,
    /// What it costs.
    #[schemars(extend("examples" = [{"amount": 135, "currency": "EUR"}]))]
    pub price: Option<Price>,
    /// The month it was released.
    #[schemars(extend("examples" = ["2026-03"]))]
    pub released: Option<Month>,
    /// The day its review is published; without one it is a draft.
    #[schemars(extend("examples" = ["2026-11-26"]))]
    pub publish: Option<Date>,
    /// The physical shoes that were measured.
    #[schemars(length(min = 1, max = 20))]
    #[schemars(extend("examples" = [[{"id": "Q2-L", "side": "left", "session": {"on": "2026-11-18", "operator": "ivo", "temperature": "22.8 °C", "humidity": "48 %", "soaked": "14 h"}, "readings": {"mass": [262, 263, 262], "midfoot-torque": [4.3, "38 in·lbf"]}}]]))]
    pub specimens: Vec<Specimen>,
    /// The shoe in one sentence.
    #[schemars(extend("examples" = ["An even-tempered road shoe for daily miles."]))]
    pub summary: Option<String>,
    /// What the numbers can't say, in Markdown.
    #[schemars(extend("examples" = ["The tongue is **thin**; lace it loosely."]))]
    pub review: Option<String>,
    /// Words of an editor instead of the lab's phrase, by finding.
    #[serde(default)]
    #[schemars(extend("examples" = [{"torsion": "The plate under the arch does most of this."}]))]
    pub words: Map<Key, String>,
    /// Flags that are accepted, by code, with the reason that the page shows.
    #[serde(default)]
    #[schemars(extend("examples" = [[{"flag": "calibration-overdue", "of": "rebound-travel", "reason": "Checked against the reference block the same day."}]]))]
    pub accept: Vec<Accept>,
    /// Readings that are left out, with the reason that the page shows.
    #[serde(default)]
    #[schemars(extend("examples" = [[{"specimen": "Q2-L", "quantity": "mass", "trial": 2, "reason": "The lace lay on the pan's edge."}]]))]
    pub leave_out: Vec<LeaveOut>,
    /// Earlier addresses of this shoe; each becomes a page that leads here.
    #[serde(default)]
    #[schemars(extend("examples" = [["fennick-vale-quarrel-ii"]]))]
    pub formerly: Vec<Slug>,
    /// The review was taken back.
    #[schemars(extend("examples" = [{"on": "2026-12-01", "reason": "The specimen was mislabelled."}]))]
    pub withdrawn: Option<Withdrawn>,
    /// What an editor wrote of this shoe, in the folio's other languages, by tag.
    #[serde(default)]
    #[schemars(extend("examples" = [{"de": {"summary": "Ein ruhiger Straßenschuh."}}]))]
    pub translations: Map<Key, Translation>,
    /// Not published: for the desk.
    #[schemars(extend("examples" = ["Ask the maker for a second lot."]))]
    pub notes: Option<String>,
}

/// What an editor wrote of a shoe, in another language. What is not here is shown
/// as it stands in the lab's own.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Translation {
    /// The shoe in one sentence.
    #[schemars(extend("examples" = ["Ein ruhiger Straßenschuh."]))]
    pub summary: Option<String>,
    /// What the numbers can't say, in Markdown; the texts of its pictures too.
    #[schemars(extend("examples" = ["Die Ferse gibt früh nach."]))]
    pub review: Option<String>,
    /// Words of an editor instead of the lab's phrase, by finding.
    #[serde(default)]
    #[schemars(extend("examples" = [{"torsion": "Dreht sich leicht."}]))]
    pub words: Map<Key, String>,
}

/// A model's version: a number or a word.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Version {
    /// Such as 2.
    Number(#[schemars(range(max = u32::MAX))] u32),
    /// Such as `GTX`.
    Word(String),
}

/// What a shoe costs.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Price {
    /// The amount.
    #[schemars(range(min = 0.0))]
    #[schemars(extend("examples" = [135, 129.95]))]
    pub amount: f64,
    /// ISO 4217 code of the currency.
    #[schemars(regex(pattern = "^[A-Z]{3}$"))]
    #[schemars(extend("examples" = ["EUR"]))]
    pub currency: String,
}

/// One physical shoe that was measured.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Specimen {
    /// The lab's own mark on it.
    #[schemars(extend("examples" = ["Q2-L"]))]
    pub id: String,
    /// Left or right.
    pub side: Side,
    /// The maker's lot, where it is known.
    #[schemars(extend("examples" = ["0426-B"]))]
    pub lot: Option<String>,
    /// How the lab came by it.
    #[schemars(extend("examples" = [{"on": "2026-10-02", "how": "retail"}]))]
    pub bought: Option<Bought>,
    /// The session it was measured in.
    #[schemars(extend("examples" = [{"on": "2026-11-18", "operator": "ivo", "temperature": "22.8 °C", "humidity": "48 %", "soaked": "14 h"}]))]
    pub session: Session,
    /// Its readings, by quantity or curve.
    #[schemars(extend("examples" = [{"mass": [262, 263, 262], "midfoot-torque": [4.3, "38 in·lbf", "4.2 N·m"], "static-drop": 6.0, "heel-load-curve": {"curve": "curves/quarrel-2-heel.csv"}}]))]
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
    #[schemars(extend("examples" = ["2026-10-02"]))]
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
    #[schemars(extend("examples" = ["2026-11-18"]))]
    pub on: Date,
    /// Who measured: one of the lab's operators.
    #[schemars(extend("examples" = ["ivo"]))]
    pub operator: Key,
    /// Temperature at the bench.
    #[schemars(extend("examples" = ["22.8 °C"]))]
    pub temperature: Amount,
    /// Relative humidity at the bench.
    #[schemars(extend("examples" = ["48 %"]))]
    pub humidity: Amount,
    /// How long the specimen was conditioned before.
    #[schemars(extend("examples" = ["14 h"]))]
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
    #[schemars(extend("examples" = ["curves/quarrel-2-heel.csv"]))]
    pub curve: String,
}

/// A flag that is accepted.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Accept {
    /// The flag's code, such as `calibration-overdue`.
    #[schemars(extend("examples" = ["calibration-overdue"]))]
    pub flag: Key,
    /// The quantity it is raised for; without one, every quantity.
    #[schemars(extend("examples" = ["rebound-travel"]))]
    pub of: Option<Key>,
    /// Why it is accepted; the page shows it.
    #[schemars(length(min = 8))]
    #[schemars(extend("examples" = ["Checked against the reference block the same day."]))]
    pub reason: String,
}

/// A reading that is left out.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LeaveOut {
    /// The specimen's mark.
    #[schemars(extend("examples" = ["Q2-L"]))]
    pub specimen: String,
    /// The quantity.
    #[schemars(extend("examples" = ["mass"]))]
    pub quantity: Key,
    /// Which trial, counted from 1.
    #[schemars(range(min = 1))]
    #[schemars(extend("examples" = [2]))]
    pub trial: usize,
    /// Why it is left out; the page shows it.
    #[schemars(length(min = 8))]
    #[schemars(extend("examples" = ["The lace lay on the pan's edge."]))]
    pub reason: String,
}

/// A review that was taken back.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Withdrawn {
    /// The day.
    #[schemars(extend("examples" = ["2026-12-01"]))]
    pub on: Date,
    /// Why; the page shows it.
    #[schemars(length(min = 8))]
    #[schemars(extend("examples" = ["The specimen was mislabelled."]))]
    pub reason: String,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::{Source, yaml};

    #[test]
    fn a_version_too_large_is_refused_in_words_where_it_stands() {
        let source = Source::new("a.yaml", "version: 99999999999\n");
        let problems = yaml::read::<Map<Key, Version>>(&source).unwrap_err();
        let told: Vec<_> = problems.iter().map(|one| (one.code, one.place)).collect();
        let place = crate::diagnostics::Place {
            line: 1,
            column: 10,
        };
        assert_eq!(told, [("out-of-range", Some(place))], "{problems:?}");
        for good in ["version: 2\n", "version: GTX\n"] {
            assert!(yaml::read::<Map<Key, Version>>(&Source::new("a.yaml", good)).is_ok());
        }
    }
}
