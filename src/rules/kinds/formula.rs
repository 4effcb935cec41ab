//! A number worked out by an expression.
//!
//! # What it says
//! A number with a unit and its uncertainty, worked out of quantities and other
//! findings. It has no score and no band; a `scale` can put it on one.
//!
//! # Formula and source
//! `is` is an expression of the Common Expression Language, cut down to numbers
//! and truths. Its sensitivity to each input is the central difference over ±u of
//! that input (JCGM 100:2008, 5.1.3, note 2); what inputs share stays correlated
//! (5.2.2). The printed interval takes the expression's bend into account: mean,
//! variance and skewness to the second order (5.1.2, note), its ends by the
//! Cornish–Fisher expansion; on a straight expression it is value ± U. Where the
//! second order is not enough (a corner or a denominator's zero within reach, a
//! strong lean) or the figures rest on few trials or a coarse display, random draws
//! are stated where they part from it by more than u/20 (JCGM 101:2008, 8).
//!
//! # Inputs and units
//! A quantity is its value in the protocol's unit, a finding with bands its score,
//! a finding of kind `formula` its number in its own unit. Names take underscores
//! for hyphens: `loaded-drop` is `loaded_drop`. Every number is written with a
//! decimal point. `unit` is the unit the result is in; the expression must bring
//! it about.
//!
//! # When data are missing
//! Without a fact the expression comes to need, the finding is not made, and the
//! fact's reason stands in its place. The same where the result, at the estimates
//! or within the uncertainty of an input, is not a finite number.
//!
//! # Example
//! ```yaml
//! drop-kept:
//!   kind: formula
//!   label: Drop kept under load
//!   unit: "%"
//!   decimals: 0
//!   is: "100.0 * loaded_drop / static_drop"
//! ```

use crate::diagnostics::KeyPath;
use crate::files::Key;
use crate::measure::drawn::{Drawn, Function};
use crate::measure::interval::{Method, STATED, interval_or_draws, may_part};
use crate::measure::propagate::{function_interval, through_function};
use crate::quantity::{Uncertain, Unit};
use crate::rules::bands::check_label;
use crate::rules::expression::{self, NumberExpression, Undecided, Variables};
use crate::rules::input::{Known, lower};
use crate::rules::printed::{check_decimals, check_unit, one_decimal};
use crate::rules::{
    Facts, Finding, Form, Grounds, Head, Kind, Mistake, NotJudged, Rule, RuleMethod, Says,
    TraceStep, Value, Yields, text,
};
use crate::words::{said, text};
use schemars::JsonSchema;
use serde::Deserialize;

/// The kind `formula`.
pub struct Formula;

/// A number worked out by an expression.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How the finding is called on a page.
    #[schemars(extend("examples" = ["Drop kept under load"]))]
    pub label: String,
    /// The unit of the result.
    #[schemars(extend("format" = "unit"))]
    #[schemars(extend("examples" = ["%"]))]
    pub unit: String,
    /// How many decimals the result is printed with.
    #[serde(default = "one_decimal")]
    #[schemars(range(max = 9))]
    #[schemars(extend("examples" = [0]))]
    pub decimals: u8,
    /// The expression, such as `100.0 * loaded_drop / static_drop`.
    #[schemars(length(max = 400), extend("format" = "expression"))]
    #[schemars(extend("examples" = ["100.0 * loaded_drop / static_drop"]))]
    pub is: String,
}

#[derive(Debug)]
struct FormulaRule {
    head: Head,
    unit: Unit,
    decimals: u8,
    text: String,
    expression: NumberExpression,
    /// What tells the expression from every other.
    compiled: String,
    variables: Variables,
    coverage: f64,
}

impl Kind for Formula {
    const NAME: &'static str = "formula";
    const WORD: &'static str = text!("[kind of rule] formula");
    const YIELDS: Yields = Yields::Number;
    type Settings = Settings;

    fn label(settings: &Settings) -> &str {
        &settings.label
    }

    fn mentions(settings: &Settings) -> Vec<Key> {
        expression::mentions(&settings.is)
    }

    fn unit(settings: &Settings) -> Option<Unit> {
        settings.unit.parse().ok()
    }

    fn build(
        key: &Key,
        settings: Settings,
        grounds: &Grounds<'_>,
    ) -> Result<Box<dyn Rule>, Vec<Mistake>> {
        let path = KeyPath::root();
        let mut mistakes = Vec::new();
        mistakes.extend(check_label(&settings.label, path.key("label")));
        let unit = check_unit(&settings.unit).map_err(|mistake| mistakes.push(mistake));
        mistakes.extend(check_decimals(settings.decimals));
        let mut variables = Variables::default();
        let built =
            NumberExpression::build(&settings.is, grounds.names, &mut variables, &path.key("is"));
        match (unit, built) {
            (Ok(unit), Ok(expression)) if mistakes.is_empty() => Ok(Box::new(FormulaRule {
                head: Head::of::<Formula>(key, settings.label, variables.keys()),
                unit,
                decimals: settings.decimals,
                text: settings.is,
                compiled: format!("{expression:?}"),
                expression,
                variables,
                coverage: grounds.protocol.coverage,
            })),
            (_, built) => {
                mistakes.extend(built.err().unwrap_or_default());
                Err(mistakes)
            }
        }
    }
}

/// The interval of an expression's result, and where it comes from: to the second
/// order, unless that is not enough for the stated tolerance or the result may part
/// from value ± U for its parts; draws then decide.
fn stated(
    value: &Uncertain,
    inputs: &[&Uncertain],
    coverage: f64,
    (function, drawn): (Function<'_>, &Drawn),
    mut at: impl FnMut(&[f64]) -> Result<f64, Undecided>,
) -> Result<((f64, f64), Method), Undecided> {
    let analytic = function_interval(value, inputs, coverage, &mut at)?;
    if analytic.holds && !may_part(value) {
        return Ok((analytic.ends, Method::Analytic));
    }
    let ends = drawn.interval(inputs, coverage, function, at)?;
    let stated = interval_or_draws(analytic.ends, ends, STATED * value.u());
    Ok(((stated.low, stated.high), stated.method))
}

impl FormulaRule {
    fn reason(&self, undecided: Undecided, facts: &Facts<'_>) -> String {
        match undecided {
            Undecided::Missing(place) => match self.variables.0[place].find(facts) {
                Err(reason) => reason,
                Ok(_) => said!(
                    "{formula} comes to no number",
                    formula = format!("`{}`", self.text)
                ),
            },
            Undecided::NotFinite => said!(
                "{formula} has no finite value for these figures, as in a division by zero",
                formula = format!("`{}`", self.text)
            ),
        }
    }
}

impl Rule for FormulaRule {
    fn head(&self) -> &Head {
        &self.head
    }

    fn judge(&self, facts: &Facts<'_>, drawn: &Drawn) -> Result<Finding, NotJudged> {
        let not_judged = |reason: String| NotJudged {
            finding: self.head.key.clone(),
            reason,
        };
        let known: Vec<Option<Known<'_>>> = self
            .variables
            .0
            .iter()
            .map(|input| input.find(facts).ok())
            .collect();
        let mut at: Vec<Option<f64>> = known
            .iter()
            .map(|known| known.map(|known| known.value.value))
            .collect();
        let estimate = self
            .expression
            .at(&at)
            .map_err(|undecided| not_judged(self.reason(undecided, facts)))?;
        let (places, inputs): (Vec<usize>, Vec<&Uncertain>) = known
            .iter()
            .enumerate()
            .filter_map(|(place, known)| Some((place, known.as_ref()?.value)))
            .unzip();
        let mut moved = |moved: &[f64]| {
            for (place, value) in places.iter().zip(moved) {
                at[*place] = Some(*value);
            }
            self.expression.at(&at)
        };
        // Which of its names have a figure is part of what it is.
        let numbers: Vec<f64> = places.iter().map(|place| *place as f64).collect();
        let function = Function {
            kind: Formula::NAME,
            text: &self.compiled,
            numbers: &numbers,
        };
        let memory = (function, drawn);
        let (value, (interval, method)) = through_function(estimate, &inputs, &mut moved)
            .and_then(|value| {
                let interval = stated(&value, &inputs, self.coverage, memory, &mut moved)?;
                Ok((value, interval))
            })
            .map_err(|undecided| {
                not_judged(said!(
                    "within the uncertainty of its figures, {reason}",
                    reason = self.reason(undecided, facts)
                ))
            })?;
        Ok(Finding {
            key: self.head.key.clone(),
            says: Says::Value(Value {
                value,
                interval,
                method,
                unit: self.unit,
                decimals: self.decimals,
            }),
            provisional: known.iter().flatten().any(|known| known.provisional),
        })
    }

    fn steps(&self, facts: &Facts<'_>, finding: &Finding) -> Vec<TraceStep> {
        let Says::Value(Value {
            value,
            interval: (low, high),
            method,
            unit,
            ..
        }) = &finding.says
        else {
            return Vec::new();
        };
        let mut given = Vec::new();
        let mut moved = Vec::new();
        for input in &self.variables.0 {
            let Ok(known) = input.find(facts) else {
                continue;
            };
            let name = input.key.variable();
            let u = known.value.u();
            given.push(format!(
                "{name} = {}",
                text::with_unit(known.value.value, u, known.unit)
            ));
            moved.push(format!("u({name}) = {}", text::uncertainty(u)));
        }
        vec![
            TraceStep {
                what: format!("work out {}", lower(&self.head.label)),
                formula: self.text.clone(),
                numbers: format!(
                    "with {}: {}",
                    given.join(", "),
                    text::with_unit(value.value, value.u(), *unit)
                ),
            },
            TraceStep {
                what: "carry the uncertainty through by differences (JCGM 100, 5.1.3 note 2)"
                    .into(),
                formula: "cᵢ = (f(xᵢ + uᵢ) − f(xᵢ − uᵢ))/(2uᵢ), u² = Σ over causes of (Σ cᵢ·uᵢ)²"
                    .into(),
                numbers: format!(
                    "{}; u = {}, ν = {}",
                    moved.join(", "),
                    text::with_unit_of_difference(value.u(), *unit),
                    text::dof(value)
                ),
            },
            TraceStep {
                what: match method {
                    Method::Analytic | Method::Grid => {
                        "the interval, with the bend of the expression (JCGM 100, 5.1.2 note)"
                            .into()
                    }
                    Method::Draws => text::drawn("the interval"),
                },
                formula: match method {
                    Method::Analytic | Method::Grid => {
                        "y + ½·tr(HC) + u·(±k + γ·(k² − 1)/6)".into()
                    }
                    Method::Draws => "the ends of y drawn".into(),
                },
                numbers: format!(
                    "{} to {}",
                    text::with_unit(*low, value.u(), *unit),
                    text::with_unit(*high, value.u(), *unit)
                ),
            },
        ]
    }

    fn phrases(&self) -> Vec<String> {
        vec!["any".into()]
    }

    fn form(&self) -> Form {
        Form::Value(self.unit, self.decimals)
    }

    fn method(&self) -> RuleMethod {
        let inputs: Vec<String> = self
            .variables
            .0
            .iter()
            .map(|input| lower(&input.label))
            .collect();
        RuleMethod {
            plain: said!(
                "{what} is worked out from {inputs}, in {unit}.",
                what = self.head.label,
                inputs = inputs.join(" and "),
                unit = self.unit
            ),
            formula: self.text.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::quantity::Unit;
    use crate::rules::fixture::{doubted, judge, key, quantities, rules, shoe, uncertain};
    use crate::rules::{Judged, Says, Value, trace};

    const KEPT: &str = "kept: {kind: formula, label: Drop kept, unit: '%', decimals: 0, is: 100.0 * loaded_drop / static_drop}";

    fn value<'a>(judged: &'a Judged, name: &str) -> &'a Value {
        match &judged.made(name).says {
            Says::Value(value) => value,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_ratio_has_the_relative_uncertainties_in_quadrature() {
        let judged = judge(
            &rules(KEPT),
            &[("loaded-drop", 4.5, 0.01), ("static-drop", 6.0, 0.02)],
        );
        let kept = value(&judged, "kept");
        assert_eq!(
            (kept.value.value, kept.unit, kept.decimals),
            (75.0, Unit::Percent, 0)
        );
        let expected = 75.0 * (0.01_f64 / 4.5).hypot(0.02 / 6.0);
        assert!((kept.value.u() / expected - 1.0).abs() < 1e-4);
    }

    #[test]
    fn what_two_readings_share_cancels_in_their_ratio() {
        // Both one per cent too large for one cause: their ratio does not move.
        let mut given = quantities(&[("loaded-drop", 4.5, 0.0), ("static-drop", 6.0, 0.0)]);
        for (name, value) in [("loaded-drop", 4.5), ("static-drop", 6.0)] {
            let summary = given.get_mut(name).unwrap().as_mut().unwrap();
            summary.value = uncertain("calibration", value, value / 100.0);
        }
        let judged = rules(KEPT).judge(shoe(), given, Vec::new());
        assert!(value(&judged, "kept").value.u() < 0.01);
    }

    #[test]
    fn a_division_by_zero_is_not_judged_and_says_so() {
        let set = rules(KEPT);
        let judged = judge(
            &set,
            &[("loaded-drop", 4.5, 0.0), ("static-drop", 0.0, 0.0)],
        );
        assert!(
            judged.reason("kept").contains("no finite value"),
            "{}",
            judged.reason("kept")
        );
        let near = judge(
            &set,
            &[("loaded-drop", 4.5, 0.1), ("static-drop", 0.1, 0.1)],
        );
        assert!(
            near.reason("kept").starts_with("within the uncertainty"),
            "{}",
            near.reason("kept")
        );
    }

    #[test]
    fn a_missing_figure_gives_its_reason_unless_it_is_not_needed() {
        let judged = judge(&rules(KEPT), &[("static-drop", 6.0, 0.1)]);
        assert_eq!(judged.reason("kept"), "loaded drop was not measured");
        let either = rules(
            "low: {kind: formula, label: Low, unit: mm, is: 'static_drop > 3.0 ? static_drop : loaded_drop'}",
        );
        let judged = judge(&either, &[("static-drop", 6.0, 0.1)]);
        assert_eq!(value(&judged, "low").value.value, 6.0);
    }

    #[test]
    fn one_decimal_is_printed_unless_the_rule_says_how_many() {
        let set = rules("low: {kind: formula, label: Low, unit: mm, is: 2.0 * static_drop}");
        let judged = judge(&set, &[("static-drop", 6.0, 0.1)]);
        assert_eq!(value(&judged, "low").decimals, 1);
    }

    #[test]
    fn one_figure_in_doubt_makes_it_provisional() {
        let set = rules(KEPT);
        let given = [("loaded-drop", 4.5, 0.01), ("static-drop", 6.0, 0.02)];
        let provisional = |all| set.judge(shoe(), all, Vec::new()).made("kept").provisional;
        assert!(!provisional(quantities(&given)));
        assert!(provisional(doubted(&given, "loaded-drop")));
        assert!(provisional(doubted(&given, "static-drop")));
    }

    #[test]
    fn what_rests_on_it_names_it_by_its_label_and_in_its_unit() {
        let set = rules(
            "kept: {kind: formula, label: Drop kept, unit: '%', is: 100.0 * loaded_drop / static_drop}\n\
             lost: {kind: formula, label: Drop lost, unit: '%', is: 100.0 - kept}\n\
             scored: {kind: scale, label: Scored, of: kept, unit: '1', points: [[0, 0], [1, 100]]}",
        );
        let method = set.rules.get(&key("lost")).unwrap().method();
        assert_eq!(
            method.plain,
            "Drop lost is worked out from drop kept, in %."
        );
        let judged = judge(
            &set,
            &[("loaded-drop", 4.5, 0.01), ("static-drop", 6.0, 0.02)],
        );
        let Says::Band(banded) = &judged.made("scored").says else {
            panic!("a scale is banded")
        };
        assert_eq!(banded.score.value, 75.0);
    }

    #[test]
    fn the_steps_fill_in_the_numbers() {
        let set = rules(KEPT);
        let judged = judge(
            &set,
            &[("loaded-drop", 4.5, 0.01), ("static-drop", 6.0, 0.02)],
        );
        let steps = trace::steps(&set, &judged, &key("kept"));
        let way = trace::way(&set, &judged, &key("kept"));
        let way: Vec<&str> = way.iter().map(crate::files::Key::as_str).collect();
        assert_eq!(way, ["loaded-drop", "static-drop", "kept"]);
        assert_eq!(steps[0].formula, "100.0 * loaded_drop / static_drop");
        assert_eq!(
            steps[0].numbers,
            "with loaded_drop = 4.500 mm, static_drop = 6.000 mm: 75.00 %"
        );
        assert_eq!(
            steps[1].numbers,
            "u(loaded_drop) = 0.010, u(static_drop) = 0.020; u = 0.30 %, ν = ∞"
        );
    }
}
