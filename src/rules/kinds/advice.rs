//! An advice that is given when a condition holds.
//!
//! # What it says
//! Whether an advice or a caution applies to the shoe, surely or closely; the
//! words are the lab's, in `phrases.yaml`.
//!
//! # Formula and source
//! `when` is a condition in the Common Expression Language, cut down to numbers
//! and truths. It applies if it holds at the estimates, with each figure moved
//! alone through its published interval (JCGM 100:2008, clause 6), and, for four
//! figures or fewer, with all of them moved together; if it holds at some of these
//! points only it is close. A figure is moved to the ends of its interval and, where
//! it is compared with constants that lie within, to each of these and midway
//! between them, so that a condition that turns and turns back is noticed; of four
//! figures together that would be tried at more than 1000 points, the ends alone.
//!
//! # Inputs and units
//! As in a `formula`: a quantity is its value in the protocol's unit, a finding
//! with bands its score, a `formula` its number; names take underscores for
//! hyphens, and every number is written with a decimal point. `say` names the
//! entry under `advice` of `phrases.yaml`.
//!
//! # When data are missing
//! If the condition comes to need a missing figure the advice is not judged, and
//! the figure's reason stands in its place; a condition that is decided without it
//! is decided.
//!
//! # Example
//! ```yaml
//! low-drop:
//!   kind: advice
//!   label: Low drop under load
//!   when: "loaded_drop < 3.0"
//!   say: low-drop
//! ```

use crate::diagnostics::KeyPath;
use crate::files::Key;
use crate::measure::drawn::Drawn;
use crate::rules::bands::check_label;
use crate::rules::condition::Figures;
use crate::rules::expression::{self, TruthExpression, Variables};
use crate::rules::{
    self, Facts, Finding, Form, Grounds, Head, Kind, Mistake, NotJudged, Rule, RuleMethod, Says,
    TraceStep, Verdict, Yields,
};
use crate::words::{said, text};
use schemars::JsonSchema;
use serde::Deserialize;

/// The kind `advice`.
pub struct Advice;

/// An advice that is given when a condition holds.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How the advice is called in a list.
    #[schemars(extend("examples" = ["Low drop under load"]))]
    pub label: String,
    /// The condition, such as `loaded_drop < 3.0`.
    #[schemars(length(max = 400), extend("format" = "expression"))]
    #[schemars(extend("examples" = ["loaded_drop < 3.0"]))]
    pub when: String,
    /// The entry under `advice` of `phrases.yaml` that says it.
    #[schemars(extend("examples" = ["low-drop"]))]
    pub say: Key,
}

#[derive(Debug)]
struct AdviceRule {
    head: Head,
    variables: Variables,
    text: String,
    when: TruthExpression,
    say: Key,
}

impl Kind for Advice {
    const NAME: &'static str = "advice";
    const WORD: &'static str = text!("[kind of rule] advice");
    const YIELDS: Yields = Yields::Words;
    type Settings = Settings;

    fn label(settings: &Settings) -> &str {
        &settings.label
    }

    fn mentions(settings: &Settings) -> Vec<Key> {
        expression::mentions(&settings.when)
    }

    fn build(
        key: &Key,
        settings: Settings,
        grounds: &Grounds<'_>,
    ) -> Result<Box<dyn Rule>, Vec<Mistake>> {
        let root = KeyPath::root();
        let mut mistakes = Vec::new();
        mistakes.extend(check_label(&settings.label, root.key("label")));
        let mut variables = Variables::default();
        let path = root.key("when");
        match TruthExpression::build(&settings.when, grounds.names, &mut variables, &path) {
            Ok(when) if mistakes.is_empty() => Ok(Box::new(AdviceRule {
                head: Head::of::<Advice>(key, settings.label, variables.keys()),
                variables,
                text: settings.when,
                when,
                say: settings.say,
            })),
            Ok(_) => Err(mistakes),
            Err(more) => {
                mistakes.extend(more);
                Err(mistakes)
            }
        }
    }
}

impl Rule for AdviceRule {
    fn head(&self) -> &Head {
        &self.head
    }

    fn judge(&self, facts: &Facts<'_>, _drawn: &Drawn) -> Result<Finding, NotJudged> {
        let mut figures = Figures::gather(&self.variables, facts);
        let (verdict, at_estimate) = figures.verdict(&self.when);
        if verdict == Verdict::Unknown
            && let Some(reason) = figures.reason(&self.when, &self.variables, facts)
        {
            return Err(NotJudged {
                finding: self.head.key.clone(),
                reason,
            });
        }
        Ok(Finding {
            key: self.head.key.clone(),
            says: Says::Advice(rules::Advice {
                verdict,
                at_estimate,
                phrase: self.say.clone(),
            }),
            provisional: figures.provisional,
        })
    }

    fn steps(&self, facts: &Facts<'_>, finding: &Finding) -> Vec<TraceStep> {
        let Says::Advice(advice) = &finding.says else {
            return Vec::new();
        };
        let figures = Figures::gather(&self.variables, facts);
        vec![TraceStep {
            what: format!("does the advice “{}” apply?", self.head.label),
            formula: self.text.clone(),
            numbers: figures.text(&self.variables, &self.when, advice.verdict, facts),
        }]
    }

    fn phrases(&self) -> Vec<String> {
        Vec::new()
    }

    fn form(&self) -> Form {
        Form::Advice
    }

    fn method(&self) -> RuleMethod {
        RuleMethod {
            plain: said!(
                "{what} is said when its condition holds throughout the figures' uncertainty, and as \
                 close when it turns within it.",
                what = self.head.label
            ),
            formula: self.text.clone(),
        }
    }

    fn advice(&self) -> Option<&Key> {
        Some(&self.say)
    }
}

#[cfg(test)]
mod tests {
    use crate::measure::{Flag, FlagWeight};
    use crate::rules::fixture::{judge, key, quantities, rules, shoe};
    use crate::rules::{Says, Verdict, trace};

    const LOW: &str =
        "low: {kind: advice, label: Low drop, when: loaded_drop < 3.0, say: low-drop}";

    #[test]
    fn it_applies_surely_closely_or_not() {
        let set = rules(LOW);
        for (drop, verdict, at_estimate) in [
            (2.5, Verdict::Holds, true),
            (2.9, Verdict::Close, true),
            (3.1, Verdict::Close, false),
            (3.5, Verdict::Fails, false),
        ] {
            let judged = judge(&set, &[("loaded-drop", drop, 0.1)]);
            let Says::Advice(advice) = &judged.made("low").says else {
                panic!("low is an advice")
            };
            assert_eq!(
                (advice.verdict, advice.at_estimate),
                (verdict, at_estimate),
                "{drop}"
            );
            assert_eq!(advice.phrase, key("low-drop"));
        }
        assert_eq!(set.advice_phrases(), [(&key("low"), &key("low-drop"))]);
        assert!(set.phrases().is_empty());
    }

    #[test]
    fn without_the_figure_it_is_not_judged() {
        assert_eq!(
            judge(&rules(LOW), &[]).reason("low"),
            "loaded drop was not measured"
        );
    }

    #[test]
    fn of_two_missing_figures_the_one_it_comes_to_need_gives_the_reason() {
        let set = rules(
            "low: {kind: advice, label: Low, when: 'static_drop > 3.0 ? mass > 1.0 : loaded_drop > 1.0', say: low}",
        );
        for (drop, reason) in [
            (6.0, "mass was not measured"),
            (1.0, "loaded drop was not measured"),
        ] {
            let judged = judge(&set, &[("static-drop", drop, 0.1)]);
            assert_eq!(judged.reason("low"), reason);
        }
    }

    #[test]
    fn the_steps_show_figure_and_verdict() {
        let set = rules(LOW);
        let judged = judge(&set, &[("loaded-drop", 2.5, 0.1)]);
        let steps = trace::steps(&set, &judged, &key("low"));
        assert_eq!(steps[0].formula, "loaded_drop < 3.0");
        assert_eq!(
            steps[0].numbers,
            "loaded_drop = 2.50 ± 0.20 mm: holds throughout their uncertainty"
        );
    }

    /// The verdict of a condition for a shoe with these quantities, and whether it
    /// holds at the estimates.
    fn verdict(when: &str, given: &[(&str, f64, f64)]) -> (Verdict, bool) {
        let set = rules(&format!(
            "
drop: {{kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 0], [10, 100]]}}
tried: {{kind: advice, label: Tried, when: \"{when}\", say: tried}}"
        ));
        match &judge(&set, given).made("tried").says {
            Says::Advice(advice) => (advice.verdict, advice.at_estimate),
            other => panic!("tried is an advice, not {other:?}"),
        }
    }

    #[test]
    fn figures_that_turn_it_only_together_make_it_close() {
        // 100 ± 1.96 and 10 ± 1.96: alone each stays on its side, not both at once.
        let given = [("mass", 100.0, 1.0), ("static-drop", 10.0, 1.0)];
        for (when, expected) in [
            ("mass + static_drop < 113.0", Verdict::Close),
            ("mass + static_drop < 114.0", Verdict::Holds),
            ("mass + static_drop > 107.0", Verdict::Close),
            ("mass + static_drop > 106.0", Verdict::Holds),
            ("mass - static_drop < 93.0", Verdict::Close),
            ("mass - static_drop < 94.0", Verdict::Holds),
            ("mass - static_drop > 87.0", Verdict::Close),
            ("mass - static_drop > 86.0", Verdict::Holds),
        ] {
            assert_eq!(verdict(when, &given), (expected, true), "{when}");
        }
    }

    #[test]
    fn four_figures_are_moved_together_and_five_alone() {
        let given = [
            ("mass", 0.0, 1.0),
            ("static-drop", 0.0, 1.0),
            ("heel-compression", 0.0, 1.0),
            ("rebound-travel", 0.0, 1.0),
            ("midfoot-torque", 0.0, 1.0),
        ];
        let four = "mass + static_drop + heel_compression + rebound_travel";
        assert_eq!(verdict(&format!("{four} < 7.0"), &given).0, Verdict::Close);
        assert_eq!(verdict(&format!("{four} < 8.0"), &given).0, Verdict::Holds);
        let five = format!("{four} + midfoot_torque < 9.0");
        assert_eq!(verdict(&five, &given).0, Verdict::Holds);
    }

    #[test]
    fn a_condition_that_turns_and_turns_back_within_an_interval_is_close() {
        // 46.4 ± 1.3 by k = 1.96.
        let one = [("mass", 46.4, 0.663)];
        for (when, expected) in [
            ("mass > 45.9 && mass < 46.1", (Verdict::Close, false)),
            ("45.9 < mass && !(mass >= 46.1)", (Verdict::Close, false)),
            ("mass < 45.9 || mass > 46.1", (Verdict::Close, true)),
            ("mass == 46.0", (Verdict::Close, false)),
            ("(mass == 46.0 ? 1.0 : 0.0) > 0.5", (Verdict::Close, false)),
            ("mass > 47.8 && mass < 48.0", (Verdict::Fails, false)),
            ("mass < 47.0 || mass >= 47.0", (Verdict::Holds, true)),
        ] {
            assert_eq!(verdict(when, &one), expected, "{when}");
        }
        // Only where both are moved, and neither to an end, does this hold.
        let two = [("mass", 46.4, 0.663), ("static-drop", 46.4, 0.663)];
        let both = "mass > 45.9 && mass < 46.1 && static_drop > 45.9 && static_drop < 46.1";
        assert_eq!(verdict(both, &two), (Verdict::Close, false));
    }

    #[test]
    fn trials_of_all_figures_together_are_bounded() {
        let names = ["mass", "static_drop", "temperature"];
        let given = [
            ("mass", 0.0, 1.0),
            ("static-drop", 0.0, 1.0),
            ("temperature", 0.0, 1.0),
        ];
        let spot = "!(mass == 1.1 && static_drop == 1.1 && temperature == 1.1)";
        // Each is under 9 throughout; the more constants, the more trials.
        let among = |constants: &[&str]| -> String {
            let of = |name: &&str| {
                let more = constants
                    .iter()
                    .map(|constant| format!(" || {name} < {constant}"));
                format!("({name} < 9.0{}) && ", more.collect::<String>())
            };
            names.iter().map(of).collect::<String>() + spot
        };
        // 5³ trials find the spot; 11³ are too many.
        assert_eq!(verdict(&among(&[]), &given).0, Verdict::Close);
        let many = among(&["1.1", "1.2", "1.3", "1.4"]);
        assert_eq!(verdict(&many, &given).0, Verdict::Holds);
    }

    #[test]
    fn a_figure_that_rounding_put_beside_a_constant_lies_on_it() {
        // 0.1 + 0.2 is a little more than 0.3.
        let given = [("mass", 0.1 + 0.2, 0.0)];
        for (when, expected) in [
            ("mass <= 0.3", (Verdict::Holds, true)),
            ("mass > 0.3", (Verdict::Fails, false)),
        ] {
            assert_eq!(verdict(when, &given), expected, "{when}");
        }
    }

    #[test]
    fn a_score_is_never_moved_beyond_its_scale() {
        for (drop, when) in [(9.9, "drop < 100.5"), (0.1, "drop > -0.5")] {
            let given = [("loaded-drop", drop, 0.1)];
            assert_eq!(verdict(when, &given), (Verdict::Holds, true), "{when}");
        }
    }

    #[test]
    fn what_has_no_value_is_neither_true_at_the_estimates_nor_in_doubt() {
        let divided = verdict("1.0 / mass > 3.0", &[("mass", 0.0, 1.0)]);
        assert_eq!(divided, (Verdict::Unknown, false));
        let set = rules(
            "either: {kind: advice, label: Either, when: mass > 1.0 || static_drop > 1.0, say: either}",
        );
        assert!(
            !judge(&set, &[("mass", 100.0, 1.0)])
                .made("either")
                .provisional
        );
    }

    #[test]
    fn a_figure_that_is_named_twice_is_told_once() {
        let set = rules(
            "middling: {kind: advice, label: Middling, when: mass > 100.0 && mass < 900.0, say: middling}",
        );
        let judged = judge(&set, &[("mass", 250.0, 1.0)]);
        assert_eq!(
            trace::steps(&set, &judged, &key("middling"))[0].numbers,
            "mass = 250.0 ± 2.0 g: holds throughout their uncertainty"
        );
    }

    #[test]
    fn a_figure_or_a_session_in_doubt_makes_it_provisional_even_where_it_is_accepted() {
        let set = rules(LOW);
        let flag = Flag {
            code: "spread",
            weight: FlagWeight::Stops,
            quantity: Some(key("loaded-drop")),
            specimen: None,
            message: "too wide".into(),
            accepted: Some("measured again".into()),
        };
        let given = quantities(&[("loaded-drop", 2.5, 0.1)]);
        let mut doubted = given.clone();
        let summary = doubted.get_mut("loaded-drop").unwrap().as_mut().unwrap();
        summary.flags.push(flag.clone());
        let of = |quantities, session| {
            set.judge(shoe(), quantities, session)
                .made("low")
                .provisional
        };
        assert!(of(doubted, vec![]));
        assert!(of(given.clone(), vec![flag]));
        assert!(!of(given, vec![]));
    }
}
