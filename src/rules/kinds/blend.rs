//! Several scores weighed into one.
//!
//! # What it says
//! One score from 0 to 100 for several findings together, its band, and the
//! chance that this band is right.
//!
//! # Formula and source
//! s = Σ wᵢ·sᵢ with weights that add up to one. The uncertainty is combined by the
//! weights as sensitivity coefficients (JCGM 100:2008, 5.1.2); what two scores
//! share (an instrument's calibration, a quantity that enters twice) is kept
//! correlated (5.2.2). Where a scale bends within reach of one of the quantities
//! the interval is that of draws laid out as a grid (JCGM 101:2008); where they
//! share a cause besides, or rest on few trials or a coarse display, of random draws
//! if these part from s ± U by more than u/20; else s ± U. Where one of the scores is
//! itself a blend, what they share widens the grid's interval as it widens u(s).
//! The chance of a band follows Student's t with the effective
//! degrees of freedom on the score (G.4.1; JCGM 106:2012, 7).
//!
//! # Inputs and units
//! `of` names findings with scores (kinds `scale` and `blend`) and their weights:
//! positive, adding up to 1. `cuts` and `names` change the bands; without them
//! there are the five of the rule set, cut at 20, 40, 60 and 80.
//!
//! # When data are missing
//! Without one of the scores the finding is not made, and the reason that score
//! is missing stands in its place: the weights are never spread over the rest.
//!
//! # Example
//! ```yaml
//! pace:
//!   kind: blend
//!   label: Pace
//!   of: {lightness: 0.5, rebound: 0.5}
//!   cuts: [25, 50, 75]
//!   names: [easy, daily, tempo, race]
//! ```

use crate::diagnostics::KeyPath;
use crate::files::{Key, Map};
use crate::measure::band_chances;
use crate::measure::drawn::{Drawn, Function};
use crate::measure::interval::{Method, STATED, interval_or_draws, may_part, plain};
use crate::measure::propagate::{Addend, bends_near, piecewise_at, sum_interval};
use crate::quantity::{Uncertain, Unit};
use crate::rules::bands::{Bands, Placed, check_label, settle};
use crate::rules::input::{Input, lower};
use crate::rules::names::Meaning;
use crate::rules::{
    Banded, Facts, Finding, Form, Grounds, Head, Kind, Mistake, NotJudged, Rule, RuleMethod, Says,
    TraceStep, Yields, text,
};
use crate::words::{said, text};
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// How far from one the weights may add up: rounding of written decimals.
const WEIGHTS_TOLERANCE: f64 = 1e-9;

/// The kind `blend`.
pub struct Blend;

/// Several scores weighed into one.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How the finding is called on a page.
    #[schemars(extend("examples" = ["Platform"]))]
    pub label: String,
    /// The findings, each with its weight; weights are positive and add up to 1.
    #[schemars(extend("examples" = [{"torsion": 0.5, "heel-firmness": 0.5}]))]
    pub of: Map<Key, f64>,
    /// The scores at which the next band begins, rising; 20, 40, 60, 80 unless given.
    #[schemars(extend("examples" = [[30, 50, 70, 90]]))]
    pub cuts: Option<Vec<f64>>,
    /// The bands' names from the lowest, one more than there are cuts; the rule
    /// set's five unless given.
    #[schemars(extend("examples" = [["easy", "daily", "tempo", "race"]]))]
    pub names: Option<Vec<String>>,
}

#[derive(Debug)]
struct BlendRule {
    head: Head,
    inputs: Vec<(Input, f64)>,
    /// What the weights add up to: a hair off one where they are thirds.
    total: f64,
    bands: Bands,
    coverage: f64,
}

impl Kind for Blend {
    const NAME: &'static str = "blend";
    const WORD: &'static str = text!("[kind of rule] blend");
    const YIELDS: Yields = Yields::Score;
    type Settings = Settings;

    fn label(settings: &Settings) -> &str {
        &settings.label
    }

    fn mentions(settings: &Settings) -> Vec<Key> {
        settings.of.keys().cloned().collect()
    }

    fn build(
        key: &Key,
        settings: Settings,
        grounds: &Grounds<'_>,
    ) -> Result<Box<dyn Rule>, Vec<Mistake>> {
        let mut mistakes = Vec::new();
        mistakes.extend(check_label(&settings.label, KeyPath::root().key("label")));
        mistakes.extend(check_weights(&settings.of));
        let mut inputs = Vec::with_capacity(settings.of.len());
        for (of, weight) in settings.of.iter() {
            match find_input(key, of, grounds) {
                Ok(input) => inputs.push((input, *weight)),
                Err(mistake) => mistakes.push(mistake),
            }
        }
        let total = sum_of_weights(&settings.of);
        match Bands::build(settings.cuts, settings.names, grounds) {
            Ok(bands) if mistakes.is_empty() => Ok(Box::new(BlendRule {
                head: Head::of::<Blend>(key, settings.label, settings.of.keys().cloned().collect()),
                inputs,
                total,
                bands,
                coverage: grounds.protocol.coverage,
            })),
            Ok(_) => Err(mistakes),
            Err(more) => {
                mistakes.extend(more);
                Err(mistakes)
            }
        }
    }
}

fn find_input(own: &Key, of: &Key, grounds: &Grounds<'_>) -> Result<Input, Mistake> {
    let path = KeyPath::root().key("of").key(of.as_str());
    let Some(name) = grounds.names.get(of) else {
        return Err(Mistake::new(
            "unknown-name",
            path,
            format!("`{of}` is neither a quantity nor a finding"),
        )
        .hint(
            grounds
                .names
                .hint(of.as_str(), own, |meaning| meaning == Meaning::Score),
        ));
    };
    let what = match name.meaning {
        Meaning::Score => return Ok(Input::new(name)),
        Meaning::Quantity(_) => "a quantity",
        Meaning::Number(_) => "a number without a score",
        Meaning::Words => "a finding in words",
    };
    Err(Mistake::new(
        "needs-a-score",
        path,
        format!("`{of}` is {what}, and a blend weighs scores"),
    )
    .hint("put it on a `scale` first, and name that"))
}

fn sum_of_weights(of: &Map<Key, f64>) -> f64 {
    of.iter().map(|(_, weight)| weight).sum()
}

fn check_weights(of: &Map<Key, f64>) -> Vec<Mistake> {
    let path = KeyPath::root().key("of");
    let mut mistakes = Vec::new();
    if of.is_empty() {
        mistakes.push(
            Mistake::new("no-inputs", path, "a blend of nothing has no score")
                .hint("write findings and their weights, as {torsion: 0.5, lift: 0.5}"),
        );
        return mistakes;
    }
    for (key, weight) in of.iter() {
        if !(weight.is_finite() && *weight > 0.0) {
            mistakes.push(
                Mistake::new(
                    "weight-not-positive",
                    path.key(key.as_str()),
                    format!("a weight of {weight} is not above 0"),
                )
                .hint("leave the finding out, or give it a positive weight"),
            );
        }
    }
    let sum = sum_of_weights(of);
    if mistakes.is_empty() && (sum - 1.0).abs() > WEIGHTS_TOLERANCE {
        mistakes.push(
            Mistake::new(
                "weights-do-not-add-up",
                path,
                format!(
                    "the weights add up to {}, and must add up to 1",
                    settle(sum)
                ),
            )
            .hint("divide each weight by their sum"),
        );
    }
    mistakes
}

impl Rule for BlendRule {
    fn head(&self) -> &Head {
        &self.head
    }

    fn judge(&self, facts: &Facts<'_>, drawn: &Drawn) -> Result<Finding, NotJudged> {
        let mut provisional = false;
        let mut scores = Vec::with_capacity(self.inputs.len());
        for (input, weight) in &self.inputs {
            let known = input.find(facts).map_err(|reason| NotJudged {
                finding: self.head.key.clone(),
                reason,
            })?;
            provisional |= known.provisional;
            scores.push((*weight, known.value));
        }
        let sum: f64 = scores
            .iter()
            .map(|(weight, score)| weight * score.value)
            .sum();
        // Over their sum, so that scores that all lie on a cut stay on it.
        let score = Uncertain::combine(settle(sum / self.total), scores);
        let u = score.u();
        let chances = if u == 0.0 {
            self.bands.certain(score.value)
        } else {
            band_chances(score.value, u, score.dof(), &self.bands.scale.cuts)
        };
        let (interval, method) = self.interval(facts, &score, drawn);
        Ok(Finding {
            key: self.head.key.clone(),
            says: Says::Band(self.bands.place(Placed {
                value: None,
                points: None,
                interval,
                method,
                score,
                chances,
            })),
            provisional,
        })
    }

    fn steps(&self, facts: &Facts<'_>, finding: &Finding) -> Vec<TraceStep> {
        let Says::Band(banded) = &finding.says else {
            return Vec::new();
        };
        let known: Vec<_> = self
            .inputs
            .iter()
            .filter_map(|(input, weight)| Some((input, *weight, input.find(facts).ok()?)))
            .collect();
        let terms: Vec<String> = known
            .iter()
            .map(|(_, weight, known)| format!("{weight}·{}", text::score(known.value.value)))
            .collect();
        let uncertainties: Vec<String> = known
            .iter()
            .map(|(input, _, known)| {
                format!(
                    "u({}) = {}",
                    lower(&input.label),
                    text::uncertainty(known.value.u())
                )
            })
            .collect();
        let mut steps = vec![
            TraceStep {
                what: "weigh the scores into one".into(),
                formula: self.formula(),
                numbers: format!(
                    "{} = {}",
                    terms.join(" + "),
                    text::score(banded.score.value)
                ),
            },
            TraceStep {
                what: "combine their uncertainty; what they share stays correlated \
                       (JCGM 100, 5.1.2 and 5.2.2)"
                    .into(),
                formula: "u(s)² = Σ over causes of (Σ wᵢ·uᵢ)²".into(),
                numbers: format!(
                    "{}; u(s) = {} of 100, ν = {}",
                    uncertainties.join(", "),
                    text::uncertainty(banded.score.u()),
                    text::dof(&banded.score)
                ),
            },
        ];
        let apart = u_apart(
            known
                .iter()
                .map(|(_, weight, one)| (*weight, one.value.u())),
        );
        steps.push(TraceStep {
            what: match banded.method {
                Method::Analytic => "the interval of the score (JCGM 100, 6.2)".into(),
                Method::Grid => "the interval of the score, by outcomes laid out as a grid, since \
                                 a scale bends within reach of a quantity (JCGM 101, 7.7)"
                    .into(),
                Method::Draws => text::drawn("the interval of the score"),
            },
            formula: match banded.method {
                Method::Analytic => "s ± k·u(s)".into(),
                Method::Grid if shares(&banded.score, apart) => {
                    "the ends of Σ wᵢ·sᵢ over the grid, their distance from s times \
                     u(s)/√(Σ (wᵢ·uᵢ)²) for what the scores share"
                        .into()
                }
                Method::Grid => "the ends of Σ wᵢ·sᵢ over the grid".into(),
                Method::Draws => "the ends of Σ wᵢ·sᵢ drawn".into(),
            },
            numbers: text::interval(banded),
        });
        steps.extend(self.bands.steps(banded, None));
        steps
    }

    fn phrases(&self) -> Vec<String> {
        self.bands.reachable(0.0, 100.0)
    }

    fn method(&self) -> RuleMethod {
        let parts: Vec<String> = self
            .inputs
            .iter()
            .map(|(input, weight)| {
                let share = text::with_unit(100.0 * weight, 0.0, Unit::Percent);
                format!("{} ({share})", lower(&input.label))
            })
            .collect();
        RuleMethod {
            plain: said!(
                "{what} weighs the scores of {parts} into one; the score's band is {bands}.",
                what = self.head.label,
                parts = parts.join(", "),
                bands = self.bands.text()
            ),
            formula: self.formula(),
        }
    }

    fn form(&self) -> Form {
        Form::Band(Arc::clone(&self.bands.scale))
    }
}

impl BlendRule {
    /// The score's interval, and where it comes from: score ± U where every scale is
    /// straight within reach and the parts are such that draws would say the same;
    /// else draws where all comes down to quantities that share a cause or may part
    /// from value ± U, and else the bent scores added on a grid.
    fn interval(
        &self,
        facts: &Facts<'_>,
        score: &Uncertain,
        drawn: &Drawn,
    ) -> ((f64, f64), Method) {
        let addends: Vec<(f64, &Banded)> = self
            .inputs
            .iter()
            .filter_map(|(input, weight)| Some((*weight, input.banded(facts)?)))
            .collect();
        let values: Vec<&Uncertain> = addends
            .iter()
            .filter_map(|(_, banded)| banded.points.as_ref().and(banded.value.as_ref()))
            .map(|(value, _)| value)
            .collect();
        let bent = |(_, banded): &(f64, &Banded)| match (&banded.value, &banded.points) {
            (Some((value, _)), Some(points)) => bends_near(value, points, self.coverage),
            _ => leans(banded),
        };
        let parted = may_part(score) || values.iter().any(|value| may_part(value));
        let analytic = plain(score, self.coverage);
        if !parted && !addends.iter().any(bent) {
            return (analytic, Method::Analytic);
        }
        if values.len() == addends.len() && (parted || share_a_source(&values)) {
            let weighed = |x: &[f64]| {
                let terms = x.iter().zip(&addends).filter_map(|(x, (weight, banded))| {
                    Some(weight * piecewise_at(banded.points.as_deref()?, *x))
                });
                Ok::<f64, std::convert::Infallible>(terms.sum())
            };
            let numbers: Vec<f64> = addends
                .iter()
                .filter_map(|(weight, banded)| Some((weight, banded.points.as_deref()?)))
                .flat_map(|(weight, points)| {
                    let ends = points.iter().flat_map(|(x, y)| [*x, *y]);
                    [*weight, points.len() as f64].into_iter().chain(ends)
                })
                .collect();
            let function = Function {
                kind: Blend::NAME,
                text: "",
                numbers: &numbers,
            };
            let Ok(ends) = drawn.interval(&values, self.coverage, function, weighed);
            let stated = interval_or_draws(analytic, ends, STATED * score.u());
            return ((stated.low, stated.high), stated.method);
        }
        let apart = u_apart(addends.iter().map(|(weight, one)| (*weight, one.score.u())));
        let addends: Vec<(f64, Addend<'_>)> = addends
            .into_iter()
            .map(|(weight, banded)| (weight, addend(banded)))
            .collect();
        let grid = sum_interval(&addends, self.coverage);
        (with_what_is_shared(score, apart, grid), Method::Grid)
    }

    /// `0.5·torsion + 0.5·heel firmness`.
    fn formula(&self) -> String {
        let terms: Vec<String> = self
            .inputs
            .iter()
            .map(|(input, weight)| format!("{weight}·{}", lower(&input.label)))
            .collect();
        format!("s = {}", terms.join(" + "))
    }
}

fn addend(banded: &Banded) -> Addend<'_> {
    match (&banded.value, &banded.points) {
        (Some((value, _)), Some(points)) => Addend::Scaled { value, points },
        _ => Addend::Between {
            score: banded.score.value,
            interval: banded.interval,
        },
    }
}

/// The interval of a grid, whose outcomes are added as if the scores had no cause in
/// common, as wide as u(s) is with what they share: `apart` is u(s) without it. Scores
/// that come down to quantities are drawn instead; those of blends can't be.
fn with_what_is_shared(score: &Uncertain, apart: f64, (low, high): (f64, f64)) -> (f64, f64) {
    if !shares(score, apart) {
        return (low, high);
    }
    let wider = score.u() / apart;
    let (below, above) = (score.value - low, high - score.value);
    (
        (score.value - wider * below).max(0.0),
        (score.value + wider * above).min(100.0),
    )
}

/// Whether what scores share shows in u(s), by more than rounding.
fn shares(score: &Uncertain, apart: f64) -> bool {
    apart > 0.0 && (score.u() / apart - 1.0).abs() > 1e-9
}

/// u(s) of weighed uncertainties that share no cause.
fn u_apart(weighed: impl Iterator<Item = (f64, f64)>) -> f64 {
    weighed
        .map(|(weight, u)| (weight * u).powi(2))
        .sum::<f64>()
        .sqrt()
}

/// Whether a score lies off the middle of its interval by more than rounding.
fn leans(banded: &Banded) -> bool {
    let (low, high) = banded.interval;
    (low + high - 2.0 * banded.score.value).abs() > 1e-6 * (high - low)
}

fn share_a_source(values: &[&Uncertain]) -> bool {
    let mut sources: Vec<_> = values
        .iter()
        .flat_map(|value| value.parts())
        .map(|part| &part.source)
        .collect();
    sources.sort_unstable();
    sources.windows(2).any(|two| two[0] == two[1])
}

#[cfg(test)]
mod tests {
    use crate::measure::interval::Method;
    use crate::rules::fixture::{doubted, judge, key, quantities, rules, shoe};
    use crate::rules::{Banded, Judged, Says, trace};
    use proptest::prelude::*;

    const RULES: &str = "
drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 0], [10, 100]]}
rebound: {kind: scale, label: Rebound, of: rebound-travel, unit: mm, points: [[0, 0], [10, 100]]}
both: {kind: blend, label: Both, of: {drop: 0.25, rebound: 0.75}, cuts: [30, 50, 70, 90]}
twice: {kind: blend, label: Twice, of: {both: 0.5, drop: 0.5}, cuts: [50], names: [less, more]}";

    fn banded<'a>(judged: &'a Judged, name: &str) -> &'a Banded {
        match &judged.made(name).says {
            Says::Band(banded) => banded,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn scores_are_weighed_and_their_uncertainty_with_them() {
        let judged = judge(
            &rules(RULES),
            &[("loaded-drop", 4.0, 0.04), ("rebound-travel", 6.0, 0.03)],
        );
        let both = banded(&judged, "both");
        assert_eq!((both.score.value, both.name()), (55.0, "medium"));
        // √((0.25·0.4)² + (0.75·0.3)²)
        assert!((both.score.u() - 0.1_f64.hypot(0.225)).abs() < 1e-9);
        assert!(both.value.is_none());
    }

    #[test]
    fn what_enters_twice_stays_correlated() {
        let judged = judge(
            &rules(RULES),
            &[("loaded-drop", 4.0, 0.04), ("rebound-travel", 6.0, 0.03)],
        );
        // 0.5·0.25 + 0.5 of the drop's 0.4; 0.5·0.75 of the rebound's 0.3.
        let twice = banded(&judged, "twice");
        assert!((twice.score.u() - 0.25_f64.hypot(0.1125)).abs() < 1e-9);
        assert_eq!(twice.name(), "less");
        assert_eq!(twice.score.parts().len(), 2);
    }

    #[test]
    fn without_one_score_there_is_none_and_the_first_reason_is_passed_on() {
        let judged = judge(&rules(RULES), &[("loaded-drop", 4.0, 0.04)]);
        assert_eq!(judged.reason("both"), "rebound travel was not measured");
        assert_eq!(judged.reason("twice"), "rebound travel was not measured");
        assert_eq!(banded(&judged, "drop").score.value, 40.0);
    }

    #[test]
    fn the_way_tells_each_thing_once_after_what_it_rests_on() {
        let set = rules(RULES);
        let judged = judge(&set, &[("loaded-drop", 4.0, 0.04)]);
        let way = trace::way(&set, &judged, &key("twice"));
        let way: Vec<_> = way.iter().map(crate::files::Key::as_str).collect();
        assert_eq!(
            way,
            [
                "loaded-drop",
                "drop",
                "rebound-travel",
                "rebound",
                "both",
                "twice"
            ]
        );
        assert!(trace::way(&set, &judged, &key("nothing")).is_empty());
        assert!(trace::steps(&set, &judged, &key("twice")).is_empty());
    }

    #[test]
    fn the_steps_tell_weights_and_scores() {
        let set = rules(RULES);
        let judged = judge(
            &set,
            &[("loaded-drop", 4.0, 0.04), ("rebound-travel", 6.0, 0.03)],
        );
        let steps = trace::steps(&set, &judged, &key("both"));
        assert_eq!(steps[0].formula, "s = 0.25·drop + 0.75·rebound");
        assert_eq!(steps[0].numbers, "0.25·40.0 + 0.75·60.0 = 55.0");
        assert!(
            steps[1]
                .numbers
                .starts_with("u(drop) = 0.40, u(rebound) = 0.30; u(s) = 0.25 of 100")
        );
        assert_eq!(steps[2].numbers, "54.5 to 55.5 of 100");
        assert_eq!(steps[3].numbers, "55.0 → medium");
    }

    #[test]
    fn the_method_tells_the_weights_and_the_bands() {
        let set = rules(RULES);
        let method = set.rules.get(&key("both")).unwrap().method();
        assert_eq!(
            method.plain,
            "Both weighs the scores of drop (25 %), rebound (75 %) into one; the score's band is \
             very low under 30, low under 50, medium under 70, high under 90, very high from 90."
        );
        let twice = set.rules.get(&key("twice")).unwrap().method();
        assert_eq!(twice.formula, "s = 0.5·both + 0.5·drop");
    }

    #[test]
    fn thirds_of_three_scores_on_a_cut_lie_on_it() {
        let set = rules(&format!(
            "{RULES}
still: {{kind: scale, label: Still, of: static-drop, unit: mm, points: [[0, 0], [10, 100]]}}
third: {{kind: blend, label: Third, of: {{drop: 0.3333333333, rebound: 0.3333333333, still: 0.3333333333}}}}"
        ));
        let given = [
            ("loaded-drop", 6.0, 0.0),
            ("rebound-travel", 6.0, 0.0),
            ("static-drop", 6.0, 0.0),
        ];
        let judged = judge(&set, &given);
        let third = banded(&judged, "third");
        assert_eq!((third.score.value, third.name()), (60.0, "high"));
    }

    #[test]
    fn a_score_without_uncertainty_is_surely_in_its_band() {
        let exact = judge(
            &rules(RULES),
            &[("loaded-drop", 4.0, 0.0), ("rebound-travel", 6.0, 0.0)],
        );
        assert_eq!(banded(&exact, "both").chances, [0.0, 0.0, 1.0, 0.0, 0.0]);
        // 55 of 100 with u = 2.5: the cut at 50 is two standard uncertainties off.
        let judged = judge(
            &rules(RULES),
            &[("loaded-drop", 4.0, 0.4), ("rebound-travel", 6.0, 0.3)],
        );
        let chances = &banded(&judged, "both").chances;
        let below = banded(&judged, "both").score.u().recip() * 5.0;
        assert!((below - 2.03).abs() < 0.01);
        // Normal distribution: 2.1 % lie further down than 2.03 standard uncertainties.
        assert!((chances[1] - 0.0212).abs() < 2e-4, "{chances:?}");
    }

    #[test]
    fn one_score_in_doubt_makes_the_blend_provisional() {
        let set = rules(RULES);
        let given = [("loaded-drop", 4.0, 0.04), ("rebound-travel", 6.0, 0.03)];
        let provisional = |all| set.judge(shoe(), all, Vec::new()).made("both").provisional;
        assert!(!provisional(quantities(&given)));
        assert!(provisional(doubted(&given, "loaded-drop")));
        assert!(provisional(doubted(&given, "rebound-travel")));
    }

    #[test]
    fn straight_scores_lie_in_the_middle_and_scores_held_at_an_end_do_not() {
        let interval = |drop, rebound| {
            let judged = judge(
                &rules(RULES),
                &[("loaded-drop", drop, 0.2), ("rebound-travel", rebound, 0.2)],
            );
            let both = banded(&judged, "both").clone();
            let (low, high) = both.interval;
            (both.score.value - low, high - both.score.value)
        };
        let (below, above) = interval(4.0, 6.0);
        assert!((below - above).abs() < 1e-9);
        let (below, above) = interval(4.0, 10.0);
        assert!(above < 0.7 * below, "{below} {above}");
        let (below, above) = interval(30.0, 30.0);
        assert!(below.abs() < 1e-9 && above.abs() < 1e-9);
    }

    #[test]
    fn a_blend_of_a_blend_keeps_the_lean_it_rests_on_and_has_none_of_its_own() {
        let set = rules(&format!(
            "{RULES}\nover: {{kind: blend, label: Over, of: {{both: 1.0}}}}"
        ));
        let judged = |rebound| {
            judge(
                &set,
                &[("loaded-drop", 4.0, 0.2), ("rebound-travel", rebound, 0.2)],
            )
        };
        let straight = judged(6.0);
        assert_eq!(banded(&straight, "over").method, Method::Analytic);
        // Held at the upper end, so the interval reaches further down than up.
        let held = judged(10.0);
        let (below, over) = (banded(&held, "both"), banded(&held, "over"));
        assert_eq!(over.method, Method::Grid);
        assert!(
            (over.interval.0 - below.interval.0).abs() < 0.05,
            "{over:?}"
        );
        assert!(
            (over.interval.1 - below.interval.1).abs() < 0.05,
            "{over:?}"
        );
    }

    #[test]
    fn a_blend_of_two_equal_blends_lies_where_each_of_them_does() {
        let of = "of: {drop: 0.5, rebound: 0.5}";
        let set = rules(&format!(
            "{RULES}
one: {{kind: blend, label: One, {of}}}
other: {{kind: blend, label: Other, {of}}}
same: {{kind: blend, label: Same, of: {{one: 0.5, other: 0.5}}}}"
        ));
        // Held at the upper end, so that both lean and neither is score ± U.
        let judged = judge(
            &set,
            &[("loaded-drop", 4.0, 0.2), ("rebound-travel", 10.0, 0.2)],
        );
        let (one, same) = (banded(&judged, "one"), banded(&judged, "same"));
        assert_eq!((one.method, same.method), (Method::Grid, Method::Grid));
        assert!((same.interval.0 - one.interval.0).abs() < 0.02, "{same:?}");
        assert!((same.interval.1 - one.interval.1).abs() < 0.02, "{same:?}");
        let told = |name| trace::steps(&set, &judged, &key(name))[2].formula.clone();
        assert!(told("same").contains("what the scores share"));
        assert!(!told("one").contains("what the scores share"));
    }

    #[test]
    fn what_bent_scores_share_makes_their_blend_less_sure() {
        let set = rules(
            "
low: {kind: scale, label: Low, of: mass, unit: g, points: [[0, 0], [100, 50], [400, 100]]}
high: {kind: scale, label: High, of: mass, unit: g, points: [[0, 0], [100, 40], [400, 100]]}
apart: {kind: scale, label: Apart, of: loaded-drop, unit: mm, points: [[0, 0], [100, 40], [400, 100]]}
both: {kind: blend, label: Both, of: {low: 0.5, high: 0.5}}
other: {kind: blend, label: Other, of: {low: 0.5, apart: 0.5}}",
        );
        let judged = judge(&set, &[("mass", 101.0, 5.0), ("loaded-drop", 101.0, 5.0)]);
        let width = |name| {
            let (low, high) = banded(&judged, name).interval;
            high - low
        };
        assert!(width("both") > 1.3 * width("other"));
    }

    proptest! {
        #[test]
        fn prop_a_blend_lies_between_its_scores_and_its_chances_add_up(
            a in -2.0..12.0_f64, b in -2.0..12.0_f64, u in 0.0..3.0_f64,
        ) {
            let judged = judge(&rules(RULES), &[("loaded-drop", a, u), ("rebound-travel", b, u)]);
            let score = |name| banded(&judged, name).score.value;
            let (low, high) = (score("drop").min(score("rebound")), score("drop").max(score("rebound")));
            prop_assert!(score("both") >= low - 1e-9 && score("both") <= high + 1e-9);
            let sum: f64 = banded(&judged, "both").chances.iter().sum();
            prop_assert!((sum - 1.0).abs() < 1e-9);
        }
    }
}
