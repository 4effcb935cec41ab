//! The walk over small types of every shape, and laws that hold for any text.

use super::*;
use crate::files::{Address, Date, Key, Map, Month, RelPath};
use crate::quantity::Amount;
use proptest::prelude::*;
use serde::Deserialize;

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Shoe {
    schema: u32,
    maker: String,
    model: String,
    category: Option<Key>,
    size: Option<Size>,
    released: Option<Month>,
    publish: Option<Date>,
    #[serde(default)]
    specimens: Vec<Specimen>,
    review: Option<String>,
    home: Option<Address>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Size {
    system: System,
    value: f64,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum System {
    /// Foot length in millimetres.
    Mondopoint,
    Paris,
    /// United States.
    Us,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Specimen {
    id: String,
    left: Option<bool>,
    readings: Map<Key, Reading>,
    plausible: Option<(Amount, Amount)>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(untagged)]
enum Reading {
    One(Amount),
    Trials(Vec<Amount>),
    Curve(Curve),
    LeftOut(LeftOut),
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Curve {
    curve: RelPath,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LeftOut {
    reading: u8,
    reason: String,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RuleSet {
    version: u8,
    rules: Map<Key, Rule>,
    paper: Option<Paper>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
enum Rule {
    Scale(Scale),
    Blend {
        of: Map<Key, f64>,
        #[serde(default)]
        cuts: Vec<f64>,
    },
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Scale {
    of: Key,
    points: Vec<(f64, f64)>,
    note: Option<String>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum Paper {
    A4,
    Own(Size),
    Named { name: String },
}

const SHOE: &str = "\
schema: 1
maker: Fennick & Vale            # invented
model: Quarrel
category: road
size: {system: mondopoint, value: 270}
released: 2026-03
publish: 2026-11-26
specimens:
  - id: Q2-L
    left: true
    readings:
      mass: [262, 263 g, 262]
      static-drop: 6.0
      heel-load-curve: {curve: curves/x.csv}
      odd: {reading: 2, reason: slipped}
    plausible: [90 g, 600]
review: |
  *Even-tempered*: for daily miles.
";

fn shoe(text: &str) -> Vec<Problem> {
    read::<Shoe>(&Source::new("shoes/a.yaml", text)).unwrap_err()
}

/// The shoe with one piece of its text replaced.
fn with(old: &str, new: &str) -> String {
    assert!(SHOE.contains(old), "{old}");
    SHOE.replacen(old, new, 1)
}

/// Problems in short: `code line:column path | message | hint`.
fn short(problems: &[Problem]) -> String {
    let line = |p: &Problem| {
        let place = p.place.unwrap();
        let hint = p.hint.as_deref().unwrap_or("-");
        let path = &p.path;
        format!(
            "{} {}:{} {path} | {} | {hint}",
            p.code, place.line, place.column, p.message
        )
    };
    problems.iter().map(line).collect::<Vec<_>>().join("\n")
}

fn broken(old: &str, new: &str) -> String {
    short(&shoe(&with(old, new)))
}

fn rules(text: &str) -> String {
    short(&read::<RuleSet>(&Source::new("lab/rules.yaml", text)).unwrap_err())
}

#[test]
fn a_right_file_reads_on_both_ways() {
    let fast: Shoe = read(&Source::new("a", SHOE)).unwrap();
    let slow: Shoe = read_slowly(&Source::new("a", SHOE), &Forms::standard(), None).unwrap();
    assert_eq!(fast, slow);
    assert_eq!(fast.specimens[0].readings.len(), 4);
}
