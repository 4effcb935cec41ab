//! Whom the shoe's figures suit: two lists of options with a condition each.
//!
//! # What it says
//! For each option of two lists (such as builds down the side and foot postures
//! across the top) whether the shoe's figures suit it, are close, or speak for
//! another shoe; and the same for each pair of them. It describes shoes, not
//! people, and is no medical advice.
//!
//! # Formula and source
//! `suits` is a condition in the Common Expression Language, cut down to numbers
//! and truths. It holds if it does so at the estimates, with each figure moved
//! alone through its published interval (JCGM 100:2008, clause 6), and, for four
//! figures or fewer, with all of them moved together, whatever they share; if it
//! holds at some of these points only it is close. A figure is moved to the ends of
//! its interval and, where it is compared with constants that lie within, to each of
//! these and midway between them, so that a condition that turns and turns back is
//! noticed; of four figures together that would be tried at more than 1000 points,
//! the ends alone. A pair suits if both its options do. The decision rule is this
//! laboratory's own; JCGM 106:2012, 8 describes the kind.
//!
//! # Inputs and units
//! As in a `formula`: a quantity is its value in the protocol's unit, a finding
//! with bands its score, a `formula` its number; names take underscores for
//! hyphens, and every number is written with a decimal point.
//!
//! # When data are missing
//! An option whose condition comes to need a missing figure is unknown; one that
//! is decided without it (`false && …`, `true || …`) is decided.
//!
//! # Example
//! ```yaml
//! builds:
//!   kind: fit
//!   label: Build and foot posture
//!   rows:
//!     label: Build
//!     options:
//!       light: {label: Light build, suits: "platform < 70.0"}
//!       heavy: {label: Heavy build, suits: "platform >= 50.0"}
//!   columns:
//!     label: Foot posture
//!     options:
//!       neutral: {label: Neutral, suits: "torsion < 75.0"}
//! ```

use crate::diagnostics::KeyPath;
use crate::files::{Key, Map};
use crate::measure::drawn::Drawn;
use crate::rules::bands::check_label;
use crate::rules::condition::Figures;
use crate::rules::expression::{self, TruthExpression, Variables};
use crate::rules::{
    self, Facts, Finding, FitAxis, FitOption, Form, Grounds, Head, Kind, Mistake, NotJudged, Rule,
    RuleMethod, Says, TraceStep, Verdict, Yields,
};
use crate::words::{said, text};
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// The kind `fit`.
pub struct Fit;

/// Whom the shoe's figures suit.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How the finding is called on a page.
    #[schemars(extend("examples" = ["Build and foot posture"]))]
    pub label: String,
    /// The options down the side.
    #[schemars(extend("examples" = [{"label": "Build", "options": {"light": {"label": "Light build", "suits": "platform < 70.0"}}}]))]
    pub rows: Axis,
    /// The options across the top.
    #[schemars(extend("examples" = [{"label": "Foot posture", "options": {"neutral": {"label": "Neutral", "suits": "torsion < 75.0"}}}]))]
    pub columns: Axis,
}

/// One list of options of a fit.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Axis {
    /// How the list is called on a page.
    #[schemars(extend("examples" = ["Build"]))]
    pub label: String,
    /// The options by name, in the order they are shown.
    #[schemars(extend("examples" = [{"light": {"label": "Light build", "suits": "platform < 70.0 && heel_firmness < 80.0"}}]))]
    pub options: Map<Key, Choice>,
}

/// One option of a fit.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Choice {
    /// How the option is called on a page.
    #[schemars(extend("examples" = ["Light build"]))]
    pub label: String,
    /// The condition under which the shoe's figures suit it.
    #[schemars(length(max = 400), extend("format" = "expression"))]
    #[schemars(extend("examples" = ["platform < 70.0 && heel_firmness < 80.0"]))]
    pub suits: String,
}

#[derive(Debug)]
struct FitRule {
    head: Head,
    variables: Variables,
    rows: BuiltAxis,
    columns: BuiltAxis,
}

#[derive(Debug)]
struct BuiltAxis {
    label: Arc<str>,
    options: Vec<BuiltOption>,
}

#[derive(Debug)]
struct BuiltOption {
    key: Key,
    label: Arc<str>,
    text: String,
    suits: TruthExpression,
}

impl Kind for Fit {
    const NAME: &'static str = "fit";
    const WORD: &'static str = text!("[kind of rule] fit");
    const YIELDS: Yields = Yields::Words;
    type Settings = Settings;

    fn label(settings: &Settings) -> &str {
        &settings.label
    }

    fn mentions(settings: &Settings) -> Vec<Key> {
        [&settings.rows, &settings.columns]
            .into_iter()
            .flat_map(|axis| axis.options.iter())
            .flat_map(|(_, option)| expression::mentions(&option.suits))
            .collect()
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
        let mut axis = |axis, name| {
            build_axis(
                axis,
                &root.key(name),
                grounds,
                &mut variables,
                &mut mistakes,
            )
        };
        let rows = axis(settings.rows, "rows");
        let columns = axis(settings.columns, "columns");
        if !mistakes.is_empty() {
            return Err(mistakes);
        }
        Ok(Box::new(FitRule {
            head: Head::of::<Fit>(key, settings.label, variables.keys()),
            variables,
            rows,
            columns,
        }))
    }
}

fn build_axis(
    axis: Axis,
    path: &KeyPath,
    grounds: &Grounds<'_>,
    variables: &mut Variables,
    mistakes: &mut Vec<Mistake>,
) -> BuiltAxis {
    mistakes.extend(check_label(&axis.label, path.key("label")));
    if axis.options.is_empty() {
        mistakes.push(
            Mistake::new(
                "no-options",
                path.key("options"),
                "a fit needs one option at least in each of its two lists",
            )
            .hint("write them as name: {label: …, suits: \"condition\"}"),
        );
    }
    let mut options = Vec::with_capacity(axis.options.len());
    for (key, option) in axis.options.iter() {
        let path = path.key("options").key(key.as_str());
        mistakes.extend(check_label(&option.label, path.key("label")));
        match TruthExpression::build(&option.suits, grounds.names, variables, &path.key("suits")) {
            Ok(suits) => options.push(BuiltOption {
                key: key.clone(),
                label: option.label.as_str().into(),
                text: option.suits.clone(),
                suits,
            }),
            Err(more) => mistakes.extend(more),
        }
    }
    BuiltAxis {
        label: axis.label.into(),
        options,
    }
}

impl BuiltAxis {
    fn judge(&self, figures: &mut Figures) -> FitAxis {
        FitAxis {
            label: self.label.clone(),
            options: self
                .options
                .iter()
                .map(|option| FitOption {
                    key: option.key.clone(),
                    label: option.label.clone(),
                    verdict: figures.verdict(&option.suits).0,
                })
                .collect(),
        }
    }
}

impl Rule for FitRule {
    fn head(&self) -> &Head {
        &self.head
    }

    fn judge(&self, facts: &Facts<'_>, _drawn: &Drawn) -> Result<Finding, NotJudged> {
        let mut figures = Figures::gather(&self.variables, facts);
        let fit = rules::Fit {
            rows: self.rows.judge(&mut figures),
            columns: self.columns.judge(&mut figures),
        };
        let mut verdicts = fit.rows.options.iter().chain(&fit.columns.options);
        let mut options = self.rows.options.iter().chain(&self.columns.options);
        if verdicts.all(|option| option.verdict == Verdict::Unknown)
            && let Some(reason) =
                options.find_map(|option| figures.reason(&option.suits, &self.variables, facts))
        {
            return Err(NotJudged {
                finding: self.head.key.clone(),
                reason,
            });
        }
        Ok(Finding {
            key: self.head.key.clone(),
            says: Says::Fit(fit),
            provisional: figures.provisional,
        })
    }

    fn steps(&self, facts: &Facts<'_>, finding: &Finding) -> Vec<TraceStep> {
        let Says::Fit(fit) = &finding.says else {
            return Vec::new();
        };
        let figures = Figures::gather(&self.variables, facts);
        let of_axis = |axis: &BuiltAxis, judged: &FitAxis| {
            axis.options
                .iter()
                .zip(&judged.options)
                .map(|(option, judged)| TraceStep {
                    what: format!("{}: does it suit {}?", axis.label, option.label),
                    formula: option.text.clone(),
                    numbers: figures.text(&self.variables, &option.suits, judged.verdict, facts),
                })
                .collect::<Vec<_>>()
        };
        let mut steps = of_axis(&self.rows, &fit.rows);
        steps.extend(of_axis(&self.columns, &fit.columns));
        steps
    }

    fn phrases(&self) -> Vec<String> {
        Vec::new()
    }

    fn words(&self) -> Vec<String> {
        [&self.rows, &self.columns]
            .into_iter()
            .flat_map(|axis| {
                let options = axis.options.iter().map(|option| option.label.to_string());
                std::iter::once(axis.label.to_string()).chain(options)
            })
            .collect()
    }

    fn form(&self) -> Form {
        Form::Fit
    }

    fn method(&self) -> RuleMethod {
        let labels = |axis: &BuiltAxis| {
            let labels: Vec<&str> = axis.options.iter().map(|o| &*o.label).collect();
            format!("{} ({})", axis.label, labels.join(", "))
        };
        let conditions: Vec<String> = [&self.rows, &self.columns]
            .into_iter()
            .flat_map(|axis| &axis.options)
            .map(|option| format!("{}: {}", option.label, option.text))
            .collect();
        RuleMethod {
            plain: said!(
                "{what} asks for each option of {rows} and of {columns} whether its condition holds throughout \
                 the figures' uncertainty; a pair suits if both do, and is close if one of them \
                 turns within it.",
                what = self.head.label,
                rows = labels(&self.rows),
                columns = labels(&self.columns)
            ),
            formula: conditions.join("; "),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Verdict::{Close, Fails, Holds, Unknown};
    use crate::rules::fixture::{judge, key, rules};
    use crate::rules::{Judged, RuleSet, Says, Verdict, trace};

    fn set() -> RuleSet {
        rules(
            "
drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 0], [10, 100]]}
builds:
  kind: fit
  label: Builds
  rows:
    label: Build
    options:
      light: {label: Light, suits: mass < 250.0}
      heavy: {label: Heavy, suits: mass >= 250.0 || drop > 90.0}
  columns:
    label: Posture
    options:
      low: {label: Low, suits: drop < 50.0}
      full: {label: Full, suits: drop <= 100.0}
      corner: {label: Corner, suits: drop + mass / 10.0 < 71.6}",
        )
    }

    fn verdicts(judged: &Judged) -> Vec<Verdict> {
        let Says::Fit(fit) = &judged.made("builds").says else {
            panic!("builds is a fit")
        };
        let options = fit.rows.options.iter().chain(&fit.columns.options);
        options.map(|option| option.verdict).collect()
    }

    #[test]
    fn a_condition_holds_fails_or_is_close_by_the_interval_about_the_figures() {
        // U = 1.96 u of mass is 9.8 g.
        let at = |mass| {
            let judged = judge(&set(), &[("mass", mass, 5.0), ("loaded-drop", 2.0, 0.1)]);
            verdicts(&judged)[..2].to_vec()
        };
        assert_eq!(at(239.0), [Holds, Fails]);
        assert_eq!(at(241.0), [Close, Close]);
        assert_eq!(at(261.0), [Fails, Holds]);
    }

    #[test]
    fn figures_that_turn_a_condition_only_together_make_it_close() {
        // U: 1.96 of the drop's score, 0.98 of a tenth of the mass; 69 + 1.96 and
        // 69 + 0.98 stay under 71.6, their sum does not.
        let judged = judge(&set(), &[("mass", 290.0, 5.0), ("loaded-drop", 4.0, 0.1)]);
        assert_eq!(verdicts(&judged)[4], Close);
    }

    #[test]
    fn a_score_is_never_moved_out_of_its_scale() {
        let judged = judge(&set(), &[("mass", 200.0, 5.0), ("loaded-drop", 9.9, 0.5)]);
        assert_eq!(verdicts(&judged)[3], Holds);
    }

    #[test]
    fn what_it_rests_on_is_judged_first_wherever_that_stands() {
        let set = rules(
            "
builds:
  kind: fit
  label: Builds
  rows: {label: Build, options: {light: {label: Light, suits: drop < 50.0}}}
  columns: {label: Posture, options: {low: {label: Low, suits: drop > 90.0}}}
drop: {kind: scale, label: Drop, of: loaded-drop, unit: mm, points: [[0, 0], [10, 100]]}",
        );
        let judged = judge(&set, &[("loaded-drop", 2.0, 0.1)]);
        assert_eq!(verdicts(&judged), [Holds, Fails]);
    }

    #[test]
    fn what_a_missing_figure_leaves_open_is_unknown_and_the_rest_is_decided() {
        let judged = judge(&set(), &[("loaded-drop", 9.8, 0.01)]);
        assert_eq!(verdicts(&judged), [Unknown, Holds, Fails, Holds, Unknown]);
        assert_eq!(judge(&set(), &[]).reason("builds"), "mass was not measured");
    }

    #[test]
    fn the_steps_name_each_options_condition_and_figures() {
        let set = set();
        let judged = judge(&set, &[("mass", 244.0, 4.0)]);
        let steps = trace::steps(&set, &judged, &key("builds"));
        assert_eq!(steps.len(), 5);
        assert_eq!(steps[0].what, "Build: does it suit Light?");
        assert_eq!(
            steps[0].numbers,
            "mass = 244.0 ± 7.8 g: turns within their uncertainty: close"
        );
        assert_eq!(
            steps[2].numbers,
            "drop is missing (loaded drop was not measured): is not decided"
        );
    }
}
