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
//! JCGM 100:2008, 5.1.2). The printed interval is the scale at the ends of the
//! quantity's own interval: quantiles go through a scale that never turns as they
//! are (JCGM 101:2008, 5.3). Where that interval may itself part from random draws
//! by more than u/20 (few trials beside other parts, a coarse display) it is drawn,
//! and the draws are stated where they part. The chance of a band is worked out on the quantity
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
use crate::measure::drawn::{Drawn, Function};
use crate::measure::interval::{Method, STATED, interval_or_draws, may_part};
use crate::measure::propagate::{piecewise_at, scale_interval, through_piecewise};
use crate::quantity::{Source, Uncertain, Unit};
use crate::rules::bands::{Bands, Placed, check_label, settle};
use crate::rules::input::{Input, lower};
use crate::rules::names::Meaning;
use crate::rules::points::Points;
use crate::rules::{
    Banded, Facts, Finding, Form, Grounds, Head, Kind, Mistake, NotJudged, Rule, RuleMethod, Says,
    TraceStep, Yields, text,
};
use crate::words::{said, text};
use schemars::JsonSchema;
use serde::Deserialize;
use std::convert::Infallible;
use std::sync::Arc;

/// The kind `scale`.
pub struct Scale;

/// A quantity put on a scale from 0 to 100.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How the finding is called on a page.
    #[schemars(extend("examples" = ["Torsion"]))]
    pub label: String,
    /// The quantity, or a finding of kind `formula`.
    #[schemars(extend("examples" = ["midfoot-torque"]))]
    pub of: Key,
    /// The unit of the points' values.
    #[schemars(extend("format" = "unit"))]
    #[schemars(extend("examples" = ["in·lbf"]))]
    pub unit: String,
    /// Points of the scale: `[value, score]`, two at least, in rising or falling
    /// order of value; scores from 0 to 100 that only rise or only fall.
    #[schemars(length(min = 2, max = 100))]
    #[schemars(extend("examples" = [[[0, 0], [15, 20], [30, 40], [45, 60], [65, 80], [90, 100]]]))]
    pub points: Vec<[f64; 2]>,
    /// The scores at which the next band begins, rising; 20, 40, 60, 80 unless given.
    #[schemars(extend("examples" = [[20, 40, 60, 80]]))]
    pub cuts: Option<Vec<f64>>,
    /// The bands' names from the lowest, one more than there are cuts; the rule
    /// set's five unless given.
    #[schemars(extend("examples" = [["very low", "low", "medium", "high", "very high"]]))]
    pub names: Option<Vec<String>>,
}

#[derive(Debug)]
struct ScaleRule {
    head: Head,
    input: Input,
    unit: Unit,
    points: Points,
    bands: Bands,
    /// The cuts carried back to the quantity, in rising order of value; infinite
    /// where no value reaches a cut, or every value does.
    thresholds: Vec<f64>,
    residual: Source,
    /// The points, shared by all findings made on them.
    shared: Arc<[(f64, f64)]>,
    coverage: f64,
}

impl Kind for Scale {
    const NAME: &'static str = "scale";
    const WORD: &'static str = text!("[kind of rule] scale");
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
        let (input, own) = match find_input(key, &settings.of, grounds) {
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
        let points = match Points::build(&settings.points) {
            Ok(points) => Some(points),
            Err(more) => {
                mistakes.extend(more);
                None
            }
        };
        let bands = match Bands::build(settings.cuts, settings.names, grounds) {
            Ok(bands) => Some(bands),
            Err(more) => {
                mistakes.extend(more);
                None
            }
        };
        let (Some(input), Some(unit), Some(points), Some(bands), true) =
            (input, unit, points, bands, mistakes.is_empty())
        else {
            return Err(mistakes);
        };
        Ok(Box::new(ScaleRule {
            head: Head::of::<Scale>(key, settings.label, vec![settings.of]),
            input,
            unit,
            thresholds: points.thresholds(&bands.scale.cuts),
            shared: points.all().into(),
            coverage: grounds.protocol.coverage,
            points,
            bands,
            residual: Source::new(format!("bends of the scale of {key}")),
        }))
    }
}

fn find_input(
    own: &Key,
    of: &Key,
    grounds: &Grounds<'_>,
) -> Result<(Input, Option<Unit>), Mistake> {
    let path = KeyPath::root().key("of");
    let usable = |meaning| matches!(meaning, Meaning::Quantity(_) | Meaning::Number(_));
    let Some(name) = grounds.names.get(of) else {
        return Err(Mistake::new(
            "unknown-name",
            path,
            format!("`{of}` is neither a quantity nor a finding"),
        )
        .hint(grounds.names.hint(of.as_str(), own, usable)));
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

impl ScaleRule {
    /// The score's interval, and where it comes from: the scale at the ends of the
    /// quantity's, unless value ± U itself may part from draws.
    fn interval(&self, value: &Uncertain, u: f64, drawn: &Drawn) -> ((f64, f64), Method) {
        let points = self.points.all();
        let analytic = scale_interval(value, points, self.coverage);
        if !may_part(value) {
            return (analytic, Method::Analytic);
        }
        let scaled = |x: &[f64]| Ok::<f64, Infallible>(piecewise_at(points, x[0]));
        let numbers: Vec<f64> = points.iter().flat_map(|(x, y)| [*x, *y]).collect();
        let function = Function {
            kind: Scale::NAME,
            text: "",
            numbers: &numbers,
        };
        let Ok(ends) = drawn.interval(&[value], self.coverage, function, scaled);
        let stated = interval_or_draws(analytic, ends, STATED * u);
        ((stated.low, stated.high), stated.method)
    }

    /// Where the stated band begins and ends on the quantity: `high is 45 to 65 in·lbf`.
    fn limits(&self, banded: &Banded) -> String {
        let bands = self.bands.scale.names.len();
        let nth = if self.points.falling() {
            bands - 1 - banded.band
        } else {
            banded.band
        };
        // An infinite threshold is a cut that no value reaches, or every value does.
        let finite = |at: &f64| at.is_finite().then(|| text::number(*at, 0.0));
        let below = nth.checked_sub(1).map(|at| &self.thresholds[at]);
        let from = below.and_then(finite);
        let to = self.thresholds.get(nth).and_then(finite);
        let (name, unit) = (banded.name(), self.unit);
        match (from, to) {
            (Some(from), Some(to)) => format!("{name} is {from} to {to} {unit}"),
            (Some(from), None) => format!("{name} is from {from} {unit}"),
            (None, Some(to)) => format!("{name} is up to {to} {unit}"),
            (None, None) => format!("{name} is any value"),
        }
    }
}

impl Rule for ScaleRule {
    fn head(&self) -> &Head {
        &self.head
    }

    fn judge(&self, facts: &Facts<'_>, drawn: &Drawn) -> Result<Finding, NotJudged> {
        let not_judged = |reason: String| NotJudged {
            finding: self.head.key.clone(),
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
        let mut score = through_piecewise(&value, self.points.all(), self.residual.clone());
        score.value = settle(score.value);
        let (interval, method) = self.interval(&value, score.u(), drawn);
        let u = value.u();
        let chances = if u == 0.0 {
            self.bands.certain(score.value)
        } else {
            let mut chances = band_chances(x, u, value.dof(), &self.thresholds);
            if self.points.falling() {
                chances.reverse();
            }
            chances
        };
        Ok(Finding {
            key: self.head.key.clone(),
            says: Says::Band(self.bands.place(Placed {
                value: Some((value, self.unit)),
                points: Some(self.shared.clone()),
                score,
                interval,
                method,
                chances,
            })),
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
        let (formula, numbers) = match self.points.piece(value.value) {
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
        steps.push(TraceStep {
            what: match banded.method {
                Method::Analytic | Method::Grid => {
                    "the interval of the score: the scale at the ends of the quantity's \
                     (JCGM 101, 5.3)"
                        .into()
                }
                Method::Draws => text::drawn("the interval of the score"),
            },
            formula: match banded.method {
                Method::Analytic | Method::Grid => "[s(x − U), s(x + U)]".into(),
                Method::Draws => "the ends of s(x) drawn".into(),
            },
            numbers: text::interval(banded),
        });
        steps.extend(self.bands.steps(banded, Some(self.limits(banded))));
        steps
    }

    fn phrases(&self) -> Vec<String> {
        let (low, high) = self.points.scores();
        self.bands.reachable(low, high)
    }

    fn method(&self) -> RuleMethod {
        let points: Vec<String> = self
            .points
            .all()
            .iter()
            .map(|(x, score)| format!("{x} {} → {score}", self.unit))
            .collect();
        RuleMethod {
            plain: said!(
                "{what} puts {quantity} on a scale from 0 to 100, straight between its points and held at \
                 the outermost ones; the score's band is {bands}.",
                what = self.head.label,
                quantity = lower(&self.input.label),
                bands = self.bands.text()
            ),
            formula: format!(
                "s = s₁ + (x − x₁)·(s₂ − s₁)/(x₂ − x₁); points {}",
                points.join(", ")
            ),
        }
    }

    fn form(&self) -> Form {
        Form::Band(Arc::clone(&self.bands.scale))
    }
}

#[cfg(test)]
mod tests {
    use crate::quantity::Unit;
    use crate::rules::fixture::{build, judge, quantities, rules, shoe, with_dof};
    use crate::rules::{Banded, Judged, RuleSet, Says};
    use proptest::prelude::*;

    const TORSION: &str = "
torsion:
  kind: scale
  label: Torsion
  of: midfoot-torque
  unit: in·lbf
  points: [[0, 0], [15, 20], [30, 40], [45, 60], [65, 80], [90, 100]]";

    const FIRMNESS: &str = "
firmness:
  kind: scale
  label: Heel firmness
  of: heel-compression
  unit: mm
  points: [[11, 0], [9, 20], [7, 40], [5.5, 60], [4, 80], [3, 100]]";

    /// Reaches neither the lowest nor the highest band, and is level at a cut.
    const LEVEL: &str = "
level:
  kind: scale
  label: Level
  of: mass
  unit: g
  points: [[100, 30], [200, 60], [300, 60], [400, 75]]";

    fn banded<'a>(judged: &'a Judged, name: &str) -> &'a Banded {
        match &judged.made(name).says {
            Says::Band(banded) => banded,
            other => panic!("{other:?}"),
        }
    }

    fn firmness(set: &RuleSet, x: f64, u: f64) -> Banded {
        banded(&judge(set, &[("heel-compression", x, u)]), "firmness").clone()
    }

    #[test]
    fn the_value_is_converted_and_its_uncertainty_with_it() {
        let set = rules(TORSION);
        let value = Unit::InchPoundForce
            .convert(60.0, Unit::NewtonMetre)
            .unwrap();
        let judged = judge(&set, &[("midfoot-torque", value, value / 60.0)]);
        let torsion = banded(&judged, "torsion");
        assert_eq!(torsion.score.value, 75.0);
        assert!((torsion.value.as_ref().unwrap().0.u() - 1.0).abs() < 1e-12);
        // Slope 1 score an in·lbf; both bends are five u away.
        assert!((torsion.score.u() - 1.0).abs() < 1e-3);
        assert_eq!(torsion.name(), "high");
    }

    #[test]
    fn a_score_on_a_cut_lies_in_the_upper_band_in_whichever_unit_it_was_written() {
        let set = rules(TORSION);
        for (at, band) in [(15.0, 1), (30.0, 2), (45.0, 3), (65.0, 4)] {
            let value = Unit::InchPoundForce.convert(at, Unit::NewtonMetre).unwrap();
            let judged = judge(&set, &[("midfoot-torque", value, 0.0)]);
            let torsion = banded(&judged, "torsion");
            assert_eq!((torsion.band, torsion.chance()), (band, 1.0), "{at}");
        }
        let set = rules(FIRMNESS);
        assert_eq!(firmness(&set, 4.0, 0.0).name(), "very high");
        assert_eq!(firmness(&set, 4.0, 0.0).chances, [0.0, 0.0, 0.0, 0.0, 1.0]);
    }

    #[test]
    fn beyond_the_outermost_points_the_score_stays() {
        let set = rules(FIRMNESS);
        assert_eq!(firmness(&set, 30.0, 0.1).score.value, 0.0);
        assert_eq!(firmness(&set, 1.0, 0.1).score.value, 100.0);
        assert!(firmness(&set, 1.0, 0.1).chance() > 0.999_999);
    }

    #[test]
    fn the_chance_of_a_band_is_that_of_the_quantity_between_its_limits() {
        // Normal distribution at ±1 and ±2 standard deviations, from memory,
        // unverified: 0.841345, 0.977250.
        let set = rules(FIRMNESS);
        let found = firmness(&set, 4.5, 0.5);
        assert_eq!(found.name(), "high");
        assert!((found.chances[4] - 0.158_655).abs() < 1e-6);
        assert!((found.chances[3] - (0.841_345 - 0.022_750)).abs() < 2e-6);
        assert_eq!(found.neighbour, None);
        let close = firmness(&set, 4.1, 0.5);
        assert_eq!(close.neighbour, Some(4));
        assert!(close.chance() < 0.8);
    }

    #[test]
    fn few_degrees_of_freedom_widen_the_chances() {
        // Student's t with one degree of freedom is Cauchy's: ¼ lies beyond 1.
        let set = rules(FIRMNESS);
        let mut given = quantities(&[("heel-compression", 4.5, 0.5)]);
        let summary = given.get_mut("heel-compression").unwrap().as_mut().unwrap();
        summary.value = with_dof("trials", 4.5, 0.5, 1.0);
        let judged = set.judge(shoe(), given, Vec::new());
        assert!((banded(&judged, "firmness").chances[4] - 0.25).abs() < 1e-9);
    }

    #[test]
    fn bands_no_value_reaches_have_no_chance_and_a_level_stretch_is_the_upper_bands() {
        let set = rules(LEVEL);
        let at = |x, u| banded(&judge(&set, &[("mass", x, u)]), "level").clone();
        let found = at(250.0, 20.0);
        assert_eq!((found.name(), found.score.value), ("high", 60.0));
        assert_eq!((found.chances[0], found.chances[4]), (0.0, 0.0));
        // P(mass ≥ 200) of 250 ± 20: normal at 2.5, from memory, unverified: 0.993790.
        assert!((found.chances[3] - 0.993_790).abs() < 1e-6);
        assert_eq!(set.phrases()[0].1, ["low", "medium", "high"]);
        assert!((at(50.0, 10.0).chances[1] - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_missing_quantity_gives_its_reason() {
        let judged = judge(&rules(TORSION), &[]);
        assert_eq!(judged.reason("torsion"), "midfoot torque was not measured");
    }

    #[test]
    fn a_scale_may_stand_on_a_formula() {
        let set = rules(
            "
kept: {kind: scale, label: Kept, of: share, unit: '%', points: [[0, 0], [100, 100]]}
share: {kind: formula, label: Share, unit: '1', is: loaded_drop / static_drop}",
        );
        let judged = judge(
            &set,
            &[("loaded-drop", 3.0, 0.1), ("static-drop", 6.0, 0.1)],
        );
        assert!((banded(&judged, "kept").score.value - 50.0).abs() < 1e-9);
    }

    #[test]
    fn the_steps_tell_the_way_with_formula_and_numbers() {
        let set = rules(TORSION);
        let value = Unit::InchPoundForce
            .convert(60.0, Unit::NewtonMetre)
            .unwrap();
        let judged = judge(&set, &[("midfoot-torque", value, 0.05)]);
        let steps = crate::rules::trace::steps(&set, &judged, &"torsion".parse().unwrap());
        let text: Vec<String> = steps
            .iter()
            .map(|step| format!("{}\n  {}\n  {}", step.what, step.formula, step.numbers))
            .collect();
        insta::assert_snapshot!(text.join("\n"), @r"
        convert midfoot torque into in·lbf
          x in in·lbf = x in N·m, exact factors
          6.779 N·m = 60.00 in·lbf; u = 0.44 in·lbf
        put midfoot torque on the scale
          s = s₁ + (x − x₁)·(s₂ − s₁)/(x₂ − x₁)
          60 + (60.00 − 45)·(80 − 60)/(65 − 45) = 75.0
        carry the uncertainty through the scale (JCGM 100, 5.1.2)
          u(s)² = (mean slope · u(x))² + what the bends leave over²
          u(x) = 0.44 in·lbf, u(s) = 0.44 of 100, ν = ∞
        the interval of the score: the scale at the ends of the quantity's (JCGM 101, 5.3)
          [s(x − U), s(x + U)]
          74.1 to 75.9 of 100
        put the score into its band
          60 ≤ score < 80
          75.0 → high
        the chance of each band, by Student's t (JCGM 106)
          P(band) = F((upper − value)/u) − F((lower − value)/u)
          high is 45 to 65 in·lbf; very low 0.0 %, low 0.0 %, medium 0.0 %, high 100.0 %, very high 0.0 %; 100.0 % is not under 80.0 %: not borderline
        ");
    }

    #[test]
    fn on_a_falling_scale_a_band_lies_between_the_quantitys_limits_of_its_own() {
        let set = rules(
            "drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 100], [10, 0]]}",
        );
        for (drop, limits) in [
            (3.0, "high is 2 to 4 mm"),
            (1.0, "very high is up to 2 mm"),
            (9.0, "very low is from 8 mm"),
        ] {
            let judged = judge(&set, &[("loaded-drop", drop, 0.05)]);
            let steps = crate::rules::trace::steps(&set, &judged, &"drop".parse().unwrap());
            let last = &steps.last().unwrap().numbers;
            assert!(last.starts_with(limits), "{last}");
        }
    }

    #[test]
    fn a_score_keeps_no_noise_of_binary_numbers() {
        // 100·(9.2 − 8)/(11 − 8) is 39.999 999 999 999 97 in binary, and 40 is a cut.
        let set = rules(
            "drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[8, 0], [11, 100]]}",
        );
        let judged = judge(&set, &[("loaded-drop", 9.2, 0.05)]);
        let drop = banded(&judged, "drop");
        assert_eq!((drop.score.value, drop.name()), (40.0, "medium"));
    }

    #[test]
    fn a_temperature_converts_as_a_temperature() {
        let set = rules(
            "warmth: {kind: scale, label: Warmth, of: temperature, unit: °F, points: [[50, 0], [86, 100]]}",
        );
        let judged = judge(&set, &[("temperature", 20.0, 0.5)]);
        let warmth = banded(&judged, "warmth");
        // 20 °C is 68 °F, half way; 0.5 K is 0.9 °F, 2.5 of 100.
        assert_eq!(warmth.score.value, 50.0);
        assert!((warmth.score.u() - 2.5).abs() < 1e-6);
        assert!(
            build(
                "w: {kind: scale, label: W, of: temperature, unit: K, points: [[0, 0], [1, 1]]}",
                ""
            )
            .is_err()
        );
    }

    proptest! {
        #[test]
        fn prop_a_greater_compression_never_scores_higher(
            x in 1.0..14.0_f64, more in 0.0..5.0_f64, u in 0.0..1.0_f64,
        ) {
            let set = rules(FIRMNESS);
            let (less, greater) = (firmness(&set, x, u), firmness(&set, x + more, u));
            prop_assert!(greater.score.value <= less.score.value);
            prop_assert!(greater.band <= less.band);
        }

        #[test]
        fn prop_chances_add_up_to_one(x in 0.0..500.0_f64, u in 0.0..80.0_f64) {
            let set = rules(LEVEL);
            let judged = judge(&set, &[("mass", x, u)]);
            let found = banded(&judged, "level");
            prop_assert!((found.chances.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            prop_assert!(found.chances.iter().all(|chance| *chance >= 0.0));
            prop_assert!((30.0..=75.0).contains(&found.score.value));
            prop_assert!(found.neighbour != Some(found.band));
            prop_assert_eq!(found.neighbour.is_some(), found.chance() < 0.8);
        }

        #[test]
        fn prop_points_read_the_same_whichever_way_they_are_written(x in 1.0..14.0_f64, u in 0.0..1.0_f64) {
            let turned = FIRMNESS.replace(
                "[[11, 0], [9, 20], [7, 40], [5.5, 60], [4, 80], [3, 100]]",
                "[[3, 100], [4, 80], [5.5, 60], [7, 40], [9, 20], [11, 0]]",
            );
            let (a, b) = (firmness(&rules(FIRMNESS), x, u), firmness(&rules(&turned), x, u));
            prop_assert_eq!(a.score.value, b.score.value);
            prop_assert_eq!(a.chances, b.chances);
        }
    }
}
