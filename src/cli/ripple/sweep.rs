//! How many shoes change band as one number moves along a range.

use super::alter::{Alterable, ValuePath};
use crate::files::{Key, Slug, Source, yaml};
use crate::lab::{Protocol, RULES, RuleSetFile};
use crate::measure::drawn::Drawn;
use crate::quantity::fixed;
use crate::rules::{Findings, Judged, RuleFile, RuleSet, Says};
use rayon::prelude::*;
use serde::Serialize;
use serde_yaml::Value;
use std::str::FromStr;
use std::sync::Arc;

/// From where to where a number moves: `40..50`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The first value.
    pub from: f64,
    /// The last value.
    pub to: f64,
}

impl FromStr for Range {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let number = |text: &str| text.trim().parse::<f64>().ok().filter(|n| n.is_finite());
        text.split_once("..")
            .and_then(|(from, to)| Some((number(from)?, number(to)?)))
            .filter(|(from, to)| from < to)
            .map(|(from, to)| Range { from, to })
            .ok_or_else(|| format!("`{text}` is no range; write one such as `40..50`"))
    }
}

/// What became of the shoes along a range.
#[derive(Clone, Debug, Serialize)]
pub struct Sweep {
    /// The number's path.
    pub path: String,
    /// Its present value.
    pub now: f64,
    /// How many shoes there are.
    pub shoes: usize,
    /// One entry a value, rising.
    pub steps: Vec<Step>,
}

/// What became of the shoes at one value.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Step {
    /// The value.
    pub value: f64,
    /// The value, as it is written.
    pub text: String,
    /// Why there can be no such rule set; then nothing below counts.
    pub refused: Option<String>,
    /// Shoes of which some band is another than now.
    pub changed: usize,
    /// Bands that are higher than now.
    pub up: usize,
    /// Bands that are lower than now.
    pub down: usize,
    /// Findings that are borderline.
    pub borderline: usize,
    /// Which shoes, each with its findings as `Torsion: medium → high`.
    pub moved: Vec<(Slug, Vec<String>)>,
}

/// Moves a number along a range.
///
/// # Errors
/// If the path leads to no number and to no point of a scale.
pub fn sweep(
    rules: &str,
    path: &ValuePath,
    range: Range,
    steps: usize,
    shoes: &[Judged],
    (protocol, drawn): (&Protocol, &Arc<Drawn>),
) -> Result<Sweep, String> {
    let mut base = Alterable::parse(rules)?;
    // Of a point, its place on the quantity moves; its score stays.
    let (path, now) = match base.get(path)? {
        value if value.as_f64().is_some() => (path.clone(), value.as_f64()),
        Value::Sequence(point) if point.len() == 2 => {
            (format!("{path}[0]").parse()?, point[0].as_f64())
        }
        _ => (path.clone(), None),
    };
    let now = now.ok_or_else(|| format!("`{path}` is no number and no point of a scale"))?;
    let last = steps.saturating_sub(1).max(1);
    let steps = (0..=last)
        .into_par_iter()
        .map(|at| {
            let share = at as f64 / last as f64;
            let text = plain(range.from + (range.to - range.from) * share);
            at_value(&base, &path, &text, shoes, (protocol, drawn))
        })
        .collect::<Result<Vec<Step>, String>>()?;
    Ok(Sweep {
        path: path.to_string(),
        now,
        shoes: shoes.len(),
        steps,
    })
}

/// A number without needless digits; six decimals at most.
pub fn plain(value: f64) -> String {
    let text = fixed(value, 6);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn at_value(
    base: &Alterable,
    path: &ValuePath,
    text: &str,
    shoes: &[Judged],
    (protocol, drawn): (&Protocol, &Arc<Drawn>),
) -> Result<Step, String> {
    let mut altered = base.clone();
    let value: f64 = text.parse().map_err(|_| format!("`{text}` is no number"))?;
    altered.set(path, Value::from(value))?;
    let mut step = Step {
        value,
        text: text.to_owned(),
        ..Step::default()
    };
    let source = Source::new(RULES, altered.text());
    let built = yaml::read::<RuleSetFile<RuleFile>>(&source)
        .and_then(|file| RuleSet::build(file, protocol, RULES));
    let mut rules = match built {
        Ok(rules) => rules,
        Err(problems) => {
            let first = problems.into_iter().next();
            step.refused = Some(first.map_or_else(String::new, |problem| problem.message));
            return Ok(step);
        }
    };
    rules.drawn = Arc::clone(drawn);
    for judged in shoes {
        let then = rules.judge_with(
            judged.shoe.clone(),
            judged.quantities.clone(),
            judged.session_flags.clone(),
            judged.answers.clone(),
        );
        let moved = moved(&judged.findings, &then.findings, &rules, &mut step);
        if !moved.is_empty() {
            step.changed += 1;
            step.moved.push((judged.shoe.slug.clone(), moved));
        }
    }
    Ok(step)
}

/// The bands that are others, in words.
fn moved(now: &Findings, then: &Findings, rules: &RuleSet, step: &mut Step) -> Vec<String> {
    let mut moved = Vec::new();
    for (key, then) in then {
        let Some(then) = band(then) else { continue };
        step.borderline += usize::from(then.2);
        let Some(now) = now.get(key).and_then(band) else {
            continue;
        };
        if now.0 != then.0 {
            if then.0 > now.0 {
                step.up += 1;
            } else {
                step.down += 1;
            }
            moved.push(format!("{}: {} → {}", label(rules, key), now.1, then.1));
        }
    }
    moved
}

fn label(rules: &RuleSet, key: &Key) -> String {
    rules
        .rule(key)
        .map_or_else(|| key.to_string(), |rule| rule.label().to_owned())
}

fn band(finding: &crate::rules::Made) -> Option<(usize, String, bool)> {
    match &finding.as_ref().ok()?.says {
        Says::Band(banded) => Some((
            banded.band,
            banded.name().to_owned(),
            banded.neighbour.is_some(),
        )),
        _ => None,
    }
}
