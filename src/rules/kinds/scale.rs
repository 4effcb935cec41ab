//! A quantity put on a scale from 0 to 100 and into a band.
//!
//! # What it says
//! How much of something a shoe has: a score from 0 to 100, the band the score
//! lies in, and the chance that this band is right. High is not good and low is
//! not bad.
//!
//! # Formula and source
//! Between two neighbouring points (x₁, s₁) and (x₂, s₂) the score is
//! s = s₁ + (x − x₁)·(s₂ − s₁)/(x₂ − x₁); beyond the outermost points it stays at
//! theirs. A score on a cut lies in the band above it. The uncertainty goes through
//! the bends by statistical linearisation (slope times u on a straight stretch,
//! JCGM 100:2008, 5.1.2). The chance of a band is worked out on the quantity
//! itself: the cuts are carried back through the scale, which never turns, and
//! Student's t with the effective degrees of freedom gives the chance between
//! them (JCGM 106:2012, 7).
//!
//! # Inputs and units
//! `of` is a quantity, or a finding of kind `formula`; `unit` any unit that
//! measures the same. `points` are [value in `unit`, score]: two at least, values
//! strictly rising or strictly falling, scores between 0 and 100 that only rise or
//! only fall. `cuts` and `names` change the bands; without them there are the five
//! of the rule set, cut at 20, 40, 60 and 80.
//!
//! # When data are missing
//! Without the quantity the finding is not made, and the quantity's reason stands
//! in its place.
//!
//! # Example
//! ```yaml
//! lift:
//!   kind: scale
//!   label: Lift
//!   of: loaded-drop
//!   unit: mm
//!   points: [[0, 0], [3, 20], [6, 40], [9, 60], [12, 80], [15, 100]]
//! ```

use crate::diagnostics::KeyPath;
use crate::files::Key;
use crate::measure::band_chances;
use crate::measure::propagate::through_piecewise;
use crate::quantity::{Source, Unit};
use crate::rules::bands::{Bands, check_label, settle};
use crate::rules::input::{Input, lower};
use crate::rules::names::Meaning;
use crate::rules::{
    BandScale, Facts, Finding, Grounds, Kind, Mistake, NotJudged, Rule, RuleMethod, Says,
    TraceStep, Yields, text,
};
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// The kind `scale`.
pub struct Scale;

/// A quantity put on a scale from 0 to 100.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How the finding is called on a page.
    pub label: String,
    /// The quantity, or a finding of kind `formula`.
    pub of: Key,
    /// The unit of the points' values.
    #[schemars(extend("format" = "unit"))]
    pub unit: String,
    /// Points of the scale: `[value, score]`, two at least, in rising or falling
    /// order of value; scores from 0 to 100 that only rise or only fall.
    #[schemars(length(min = 2, max = 100))]
    pub points: Vec<[f64; 2]>,
    /// The scores at which the next band begins, rising; 20, 40, 60, 80 unless given.
    pub cuts: Option<Vec<f64>>,
    /// The bands' names from the lowest, one more than there are cuts; the rule
    /// set's five unless given.
    pub names: Option<Vec<String>>,
}

#[derive(Debug)]
struct ScaleRule {
    key: Key,
    label: String,
    needs: [Key; 1],
    input: Input,
    unit: Unit,
    /// In rising order of value.
    points: Vec<(f64, f64)>,
    bands: Bands,
    /// The cuts carried back to the quantity, in rising order of value; infinite
    /// where no value reaches a cut, or every value does.
    thresholds: Vec<f64>,
    /// Whether the score falls as the value rises.
    falling: bool,
    residual: Source,
}

impl Kind for Scale {
    const NAME: &'static str = "scale";
    const YIELDS: Yields = Yields::Score;
    type Settings = Settings;

    fn label(settings: &Settings) -> &str {
        &settings.label
    }

    fn mentions(settings: &Settings) -> Vec<Key> {
        vec![settings.of.clone()]
    }

    fn build(
        key: &Key,
        settings: Settings,
        grounds: &Grounds<'_>,
    ) -> Result<Box<dyn Rule>, Vec<Mistake>> {
        let mut mistakes = Vec::new();
        mistakes.extend(check_label(&settings.label, KeyPath::root().key("label")));
        let (input, own) = match find_input(&settings.of, grounds) {
            Ok((input, unit)) => (Some(input), unit),
            Err(mistake) => {
                mistakes.push(mistake);
                (None, None)
            }
        };
        let unit = match find_unit(&settings.unit, &settings.of, own) {
            Ok(unit) => Some(unit),
            Err(mistake) => {
                mistakes.push(mistake);
                None
            }
        };
        mistakes.extend(check_points(&settings.points));
        let bands = match Bands::build(settings.cuts, settings.names, grounds) {
            Ok(bands) => Some(bands),
            Err(more) => {
                mistakes.extend(more);
                None
            }
        };
        let (Some(input), Some(unit), Some(bands), true) =
            (input, unit, bands, mistakes.is_empty())
        else {
            return Err(mistakes);
        };
        let mut points: Vec<(f64, f64)> = settings.points.iter().map(|p| (p[0], p[1])).collect();
        if points[0].0 > points[points.len() - 1].0 {
            points.reverse();
        }
        let falling = points[0].1 > points[points.len() - 1].1;
        Ok(Box::new(ScaleRule {
            key: key.clone(),
            label: settings.label,
            needs: [settings.of],
            input,
            unit,
            thresholds: thresholds(&points, falling, &bands.scale.cuts),
            points,
            bands,
            falling,
            residual: Source::new(format!("bends of the scale of {key}")),
        }))
    }
}

fn find_input(of: &Key, grounds: &Grounds<'_>) -> Result<(Input, Option<Unit>), Mistake> {
    let path = KeyPath::root().key("of");
    let usable = |meaning| matches!(meaning, Meaning::Quantity(_) | Meaning::Number(_));
    let Some(name) = grounds.names.get(of) else {
        return Err(Mistake::new(
            "unknown-name",
            path,
            format!("`{of}` is neither a quantity nor a finding"),
        )
        .hint(grounds.names.hint(of.as_str(), usable)));
    };
    match name.meaning {
        Meaning::Quantity(unit) => Ok((Input::new(name), Some(unit))),
        Meaning::Number(unit) => Ok((Input::new(name), unit)),
        Meaning::Score | Meaning::Words => Err(Mistake::new(
            "needs-a-quantity",
            path,
            format!("`{of}` is a finding, and a scale needs a quantity"),
        )
        .hint("name a quantity of the protocol, or weigh scores with a `blend`")),
    }
}

fn find_unit(written: &str, of: &Key, own: Option<Unit>) -> Result<Unit, Mistake> {
    let path = KeyPath::root().key("unit");
    let unit: Unit = written
        .parse()
        .map_err(|unknown: crate::quantity::UnknownUnit| {
            Mistake::new("unknown-unit", path.clone(), unknown.to_string())
                .hint("write one of the units named")
        })?;
    match own {
        Some(own) if own.sensitivity(unit).is_err() || own.convert(1.0, unit).is_err() => {
            Err(Mistake::new(
                "wrong-unit",
                path,
                format!("`{of}` is measured in {own}, which does not convert into {unit}"),
            )
            .hint(format!("write a unit that measures the same as {own}")))
        }
        _ => Ok(unit),
    }
}

fn check_points(points: &[[f64; 2]]) -> Vec<Mistake> {
    let path = KeyPath::root().key("points");
    let mut mistakes = Vec::new();
    if points.len() < 2 {
        mistakes.push(
            Mistake::new(
                "too-few-points",
                path.clone(),
                format!(
                    "a scale needs two points at least, and there are {}",
                    points.len()
                ),
            )
            .hint("write them as [[value, score], [value, score]]"),
        );
    }
    for (at, [value, score]) in points.iter().enumerate() {
        if !value.is_finite() || !score.is_finite() {
            mistakes.push(Mistake::new(
                "not-finite",
                path.index(at),
                "a point is made of two finite numbers",
            ));
        } else if !(0.0..=100.0).contains(score) {
            mistakes.push(
                Mistake::new(
                    "score-out-of-range",
                    path.index(at).index(1),
                    format!("a score of {score} is out of range; scores go from 0 to 100"),
                )
                .hint("a point is written [value, score]; are the two the wrong way round?"),
            );
        }
    }
    if mistakes.is_empty() {
        mistakes.extend(check_order(points, &path));
    }
    mistakes
}

/// The first point out of order, in its value and in its score.
fn check_order(points: &[[f64; 2]], path: &KeyPath) -> Vec<Mistake> {
    let mut mistakes = Vec::new();
    // The first step says which way the points run; equal values run nowhere.
    let direction = points[1][0] - points[0][0];
    let backwards = |pair: &[[f64; 2]]| {
        let step = pair[1][0] - pair[0][0];
        step == 0.0 || (step > 0.0) != (direction > 0.0)
    };
    if let Some(at) = points.windows(2).position(backwards) {
        mistakes.push(
            Mistake::new(
                "points-not-in-order",
                path.index(at + 1),
                format!(
                    "the value {} comes after {}; values must only rise or only fall",
                    points[at + 1][0],
                    points[at][0]
                ),
            )
            .hint("sort the points by value, and write each value once"),
        );
    }
    let rises = |pair: &[[f64; 2]]| pair[1][1] > pair[0][1];
    let falls = |pair: &[[f64; 2]]| pair[1][1] < pair[0][1];
    let first_rise = points.windows(2).position(rises);
    let first_fall = points.windows(2).position(falls);
    match (first_rise, first_fall) {
        (Some(rise), Some(fall)) => {
            let at = rise.max(fall) + 1;
            mistakes.push(
                Mistake::new(
                    "scores-not-in-order",
                    path.index(at),
                    format!(
                        "the score {} comes after {}; along the points scores must only rise or only fall",
                        points[at][1],
                        points[at - 1][1]
                    ),
                )
                .hint("a scale must not turn back: one score would stand for two values"),
            );
        }
        (None, None) => mistakes.push(
            Mistake::new(
                "scores-not-in-order",
                path.clone(),
                format!(
                    "every point has the score {}, so the scale says nothing",
                    points[0][1]
                ),
            )
            .hint("give the points scores that rise or fall"),
        ),
        _ => {}
    }
    mistakes
}

/// Where on the quantity the bands meet: for a rising scale the least value that
/// reaches a cut, for a falling one the greatest.
fn thresholds(points: &[(f64, f64)], falling: bool, cuts: &[f64]) -> Vec<f64> {
    if falling {
        // The same scale seen in a mirror rises.
        let mirrored: Vec<_> = points.iter().rev().map(|(x, s)| (-x, *s)).collect();
        let mut found: Vec<f64> = cuts.iter().map(|cut| -reaches(&mirrored, *cut)).collect();
        found.reverse();
        found
    } else {
        cuts.iter().map(|cut| reaches(points, *cut)).collect()
    }
}

/// The least value at which a rising scale has the score `cut`.
fn reaches(points: &[(f64, f64)], cut: f64) -> f64 {
    match points.iter().position(|(_, score)| *score >= cut) {
        None => f64::INFINITY,
        Some(0) => f64::NEG_INFINITY,
        Some(at) => {
            let ((x1, s1), (x2, s2)) = (points[at - 1], points[at]);
            x1 + (cut - s1) / (s2 - s1) * (x2 - x1)
        }
    }
}

impl ScaleRule {
    /// The piece a value lies on, or the end it is held at.
    fn piece(&self, x: f64) -> Result<[(f64, f64); 2], (f64, f64)> {
        let (first, last) = (self.points[0], self.points[self.points.len() - 1]);
        if x < first.0 {
            return Err(first);
        }
        if x > last.0 {
            return Err(last);
        }
        let above = self.points.partition_point(|(at, _)| *at <= x);
        let above = above.clamp(1, self.points.len() - 1);
        Ok([self.points[above - 1], self.points[above]])
    }
}

impl Rule for ScaleRule {
    fn key(&self) -> &Key {
        &self.key
    }

    fn label(&self) -> &str {
        &self.label
    }

    fn kind(&self) -> &'static str {
        Scale::NAME
    }

    fn needs(&self) -> &[Key] {
        &self.needs
    }

    fn judge(&self, facts: &Facts<'_>) -> Result<Finding, NotJudged> {
        let not_judged = |reason: String| NotJudged {
            finding: self.key.clone(),
            reason,
        };
        let known = self.input.find(facts).map_err(not_judged)?;
        let convert = || {
            let x = known.unit.convert(known.value.value, self.unit)?;
            Ok((x, known.unit.sensitivity(self.unit)?))
        };
        let (x, factor) = convert().map_err(|wrong: crate::quantity::Incommensurable| {
            not_judged(format!("{}: {wrong}", lower(&self.input.label)))
        })?;
        let value = known.value.through(x, factor);
        let mut score = through_piecewise(&value, &self.points, self.residual.clone());
        score.value = settle(score.value);
        let u = value.u();
        let chances = if u == 0.0 {
            self.bands.certain(score.value)
        } else {
            let mut chances = band_chances(x, u, value.dof(), &self.thresholds);
            if self.falling {
                chances.reverse();
            }
            chances
        };
        Ok(Finding {
            key: self.key.clone(),
            says: Says::Band(self.bands.place(Some((value, self.unit)), score, chances)),
            provisional: known.provisional,
        })
    }

    fn steps(&self, facts: &Facts<'_>, finding: &Finding) -> Vec<TraceStep> {
        let Says::Band(banded) = &finding.says else {
            return Vec::new();
        };
        let Some((value, unit)) = &banded.value else {
            return Vec::new();
        };
        let mut steps = Vec::new();
        if let Ok(known) = self.input.find(facts)
            && known.unit != *unit
        {
            steps.push(TraceStep {
                what: format!("convert {} into {unit}", lower(&self.input.label)),
                formula: format!("x in {unit} = x in {}, exact factors", known.unit),
                numbers: format!(
                    "{} = {}; u = {} {unit}",
                    text::with_unit(known.value.value, known.value.u(), known.unit),
                    text::with_unit(value.value, value.u(), *unit),
                    text::uncertainty(value.u()),
                ),
            });
        }
        let x = text::number(value.value, value.u());
        let result = text::score(banded.score.value);
        let (formula, numbers) = match self.piece(value.value) {
            Ok([(x1, s1), (x2, s2)]) => (
                "s = s₁ + (x − x₁)·(s₂ − s₁)/(x₂ − x₁)".to_owned(),
                format!("{s1} + ({x} − {x1})·({s2} − {s1})/({x2} − {x1}) = {result}"),
            ),
            Err((end, score)) => (
                "beyond the outermost point the score stays at its score".to_owned(),
                format!("{x} {unit} lies beyond {end} {unit}: {score} = {result}"),
            ),
        };
        steps.push(TraceStep {
            what: format!("put {} on the scale", lower(&self.input.label)),
            formula,
            numbers,
        });
        steps.push(TraceStep {
            what: "carry the uncertainty through the scale (JCGM 100, 5.1.2)".into(),
            formula: "u(s)² = (mean slope · u(x))² + what the bends leave over²".into(),
            numbers: format!(
                "u(x) = {} {unit}, u(s) = {} of 100, ν = {}",
                text::uncertainty(value.u()),
                text::uncertainty(banded.score.u()),
                text::dof(&banded.score),
            ),
        });
        steps.extend(self.bands.steps(banded));
        steps
    }

    fn phrases(&self) -> Vec<String> {
        let (first, last) = (self.points[0].1, self.points[self.points.len() - 1].1);
        self.bands.reachable(first.min(last), first.max(last))
    }

    fn method(&self) -> RuleMethod {
        let points: Vec<String> = self
            .points
            .iter()
            .map(|(x, score)| format!("{x} {} → {score}", self.unit))
            .collect();
        RuleMethod {
            plain: format!(
                "{} puts {} on a scale from 0 to 100, straight between its points and held at \
                 the outermost ones; the score's band is {}.",
                self.label,
                lower(&self.input.label),
                self.bands.text()
            ),
            formula: format!(
                "s = s₁ + (x − x₁)·(s₂ − s₁)/(x₂ − x₁); points {}",
                points.join(", ")
            ),
        }
    }

    fn bands(&self) -> Option<&Arc<BandScale>> {
        Some(&self.bands.scale)
    }
}
