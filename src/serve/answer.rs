//! What is said at once of readings: mean, spread, flags, bands, chances, where
//! the shoe lies, and what to measure again.
//!
//! Every figure comes from the rooms that publish it; here it is only worded and
//! rounded. Where something can't be said, the reason stands in its place.

use super::Ground;
use crate::files::Key;
use crate::lab::{QuantitySpec, Spread};
use crate::measure::interval::wider_side;
use crate::measure::{Flag, SpecimenSummary, Summary, percentile_rank_mid};
use crate::quantity::{Amount, decimals_for_uncertainty, fixed, round_half_even};
use crate::rules::{Banded, Judged, Rule, Says};
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Of an interval under this nothing is left, as for a shoe far beyond its scale's end;
/// `± 0` would claim too much, there as on a page.
const LEAST: f64 = 0.5e-9;

/// The answer to the readings of one quantity of one specimen.
#[derive(Clone, Debug, Serialize)]
pub struct Answer {
    /// The quantity's key.
    pub quantity: Key,
    /// How it is called.
    pub label: String,
    /// The protocol's unit.
    pub unit: String,
    /// How many trials the protocol wants.
    pub wanted: usize,
    /// The trials, as they were given.
    pub trials: Vec<TrialAnswer>,
    /// Mean of the specimen's trials that count, with its unit.
    pub mean: Option<String>,
    /// The same in the protocol's second unit.
    pub also: Option<String>,
    /// Largest less smallest.
    pub spread: Option<String>,
    /// The most the protocol allows.
    pub allowed: Option<String>,
    /// The shoe's value with its expanded uncertainty.
    pub value: Option<String>,
    /// What screening found.
    pub flags: Vec<FlagAnswer>,
    /// What to do now.
    pub advice: Option<String>,
    /// The findings that rest on the quantity.
    pub findings: Vec<FindingAnswer>,
    /// Why there is no value, if there is none.
    pub missing: Option<String>,
}

/// One trial.
#[derive(Clone, Debug, Serialize)]
pub struct TrialAnswer {
    /// As it was given.
    pub written: String,
    /// In the protocol's unit, if it is in another.
    pub converted: Option<String>,
    /// Why it does not count, if it doesn't.
    pub wrong: Option<String>,
    /// Whether it is the one to measure again.
    pub again: bool,
}

/// One flag.
#[derive(Clone, Debug, Serialize)]
pub struct FlagAnswer {
    /// Its stable name.
    pub code: &'static str,
    /// What was found.
    pub message: String,
    /// Whether it stops publishing.
    pub stops: bool,
}

/// One finding.
#[derive(Clone, Debug, Serialize)]
pub struct FindingAnswer {
    /// Its key.
    pub key: Key,
    /// How it is called.
    pub label: String,
    /// The band.
    pub band: Option<String>,
    /// The chance that the band is right, in per cent.
    pub chance: Option<String>,
    /// The neighbour band, if it is borderline.
    pub neighbour: Option<String>,
    /// The score, as text.
    pub score: Option<String>,
    /// The ruler.
    pub ruler: Option<RulerAnswer>,
    /// Where it lies among the published shoes of its category, in words.
    pub standing: Option<String>,
    /// Whether a reading it rests on is in doubt.
    pub provisional: bool,
    /// Why it is not judged, if it isn't.
    pub missing: Option<String>,
}

/// A ruler from 0 to 100.
#[derive(Clone, Debug, Serialize)]
pub struct RulerAnswer {
    /// The bands: name, from, to.
    pub bands: Vec<(String, f64, f64)>,
    /// The score.
    pub score: f64,
    /// Ends of the published interval, kept on the ruler.
    pub between: (f64, f64),
    /// Every other published shoe of the category.
    pub others: Vec<f64>,
}

/// Answers the readings of a quantity on a specimen of a judged shoe. `words` are
/// all readings as they were given; those that can't be read or are out of the
/// plausible range are not in the judged shoe, and are said to be wrong here.
pub fn answer(
    ground: &Ground,
    judged: &Judged,
    specimen: &str,
    quantity: &Key,
    words: &[String],
) -> Option<Answer> {
    let spec = ground.lab.protocol.quantities.get(quantity)?;
    let mut answer = Answer {
        quantity: quantity.clone(),
        label: spec.label.to_string(),
        unit: spec.unit.to_string(),
        wanted: spec.trials,
        trials: words.iter().map(|word| trial(word, spec)).collect(),
        mean: None,
        also: None,
        spread: None,
        allowed: spec.spread.map(|spread| match spread {
            Spread::Absolute(most) => format!("{most} {}", spec.unit),
            Spread::OfMean(share) => format!("{} % of the mean", fixed(share * 100.0, 0)),
        }),
        value: None,
        flags: Vec::new(),
        advice: None,
        findings: findings(ground, judged, quantity),
        missing: None,
    };
    match judged.quantities.get(quantity) {
        None => answer.missing = Some("it was not measured".to_owned()),
        Some(Err(absent)) => answer.missing = Some(absent.reason.clone()),
        Some(Ok(summary)) => {
            let coverage = ground.lab.protocol.coverage;
            answer.value = Some(value(summary, coverage));
            of_specimen(&mut answer, summary, specimen, spec);
            let flags = summary.flags.iter().chain(&judged.session_flags);
            answer.flags = flags
                .filter(|flag| flag.specimen.as_deref().is_none_or(|id| id == specimen))
                .filter(|flag| flag.quantity.as_ref().is_none_or(|of| of == quantity))
                .map(of_flag)
                .collect();
        }
    }
    advise(&mut answer);
    Some(answer)
}

/// Whether a word is a reading that can be taken, or what is wrong with it.
///
/// # Errors
/// What is wrong, as a clause.
pub(crate) fn reading(word: &str, spec: &QuantitySpec) -> Result<f64, String> {
    let amount: Amount = word
        .parse()
        .map_err(|error: crate::quantity::NotAnAmount| error.reason)?;
    let value = amount
        .in_unit(spec.unit)
        .map_err(|_| format!("`{word}` is not in {} nor converts into it", spec.unit))?;
    let (low, high) = spec.plausible;
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(format!(
            "out of range: {} is outside the plausible {low} to {high} {}",
            with_unit(value, spec),
            spec.unit
        ))
    }
}

fn with_unit(value: f64, spec: &QuantitySpec) -> String {
    format!("{} {}", fixed(value, spec.decimals), spec.unit)
}

fn trial(word: &str, spec: &QuantitySpec) -> TrialAnswer {
    let read = reading(word, spec);
    let own_unit = word
        .parse::<Amount>()
        .is_ok_and(|amount| amount.unit.is_none_or(|unit| unit == spec.unit));
    TrialAnswer {
        written: word.to_owned(),
        converted: match &read {
            Ok(value) if !own_unit => Some(with_unit(*value, spec)),
            _ => None,
        },
        wrong: read.err(),
        again: false,
    }
}

fn value(summary: &Summary, coverage: f64) -> String {
    let spread = summary.stated.expanded;
    let places = decimals_for_uncertainty(spread.U, 4);
    format!(
        "{} ± {} {} (k = {}, {} %)",
        fixed(summary.value.value, places),
        fixed(spread.U, places),
        summary.unit,
        fixed(spread.k, 2),
        round_half_even(coverage * 100.0, 2)
    )
}

fn of_specimen(answer: &mut Answer, summary: &Summary, id: &str, spec: &QuantitySpec) {
    let Some(own) = summary.specimens.iter().find(|one| one.id == id) else {
        return;
    };
    let used = own.used();
    if used.is_empty() {
        return;
    }
    // One decimal more than a reading shows: the mean of three lies between steps.
    let places = spec.decimals + u8::from(used.len() > 1);
    answer.mean = Some(format!("{} {}", fixed(own.mean, places), spec.unit));
    answer.also = spec.also.and_then(|also| {
        let converted = spec.unit.convert(own.mean, also).ok()?;
        // As fine as in the protocol's unit, to the nearest decimal.
        let finer = -spec.unit.sensitivity(also).ok()?.abs().log10().round();
        let places = (f64::from(places) + finer).clamp(0.0, 6.0) as u8;
        Some(format!("{} {also}", fixed(converted, places)))
    });
    if used.len() > 1 {
        let (low, high) = ends(&used);
        answer.spread = Some(with_unit(high - low, spec));
    }
    mark_again(answer, own, summary);
}

fn ends(values: &[f64]) -> (f64, f64) {
    values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(*value), high.max(*value))
        })
}

/// Marks the trial farthest from the middle, where the trials do not agree.
fn mark_again(answer: &mut Answer, own: &SpecimenSummary, summary: &Summary) {
    let apart = summary.flags.iter().any(|flag| {
        matches!(flag.code, "spread" | "outlier" | "scatter")
            && flag.specimen.as_deref() == Some(own.id.as_str())
    });
    let used = own.used();
    if !apart || used.len() < 3 {
        return;
    }
    let mut sorted = used.clone();
    sorted.sort_by(f64::total_cmp);
    let middle = f64::midpoint(sorted[(sorted.len() - 1) / 2], sorted[sorted.len() / 2]);
    let farthest = used
        .iter()
        .map(|value| (value - middle).abs())
        .fold(0.0, f64::max);
    // The trials that count stand in the order in which the good words were given.
    let mut of_used = used.iter();
    for (trial, of_file) in answer
        .trials
        .iter_mut()
        .filter(|trial| trial.wrong.is_none())
        .zip(&own.trials)
    {
        if of_file.left_out.is_some() {
            continue;
        }
        if let Some(value) = of_used.next()
            && (value - middle).abs() >= farthest
        {
            trial.again = true;
        }
    }
}

fn of_flag(flag: &Flag) -> FlagAnswer {
    FlagAnswer {
        code: flag.code,
        message: flag.message.clone(),
        stops: flag.stops(),
    }
}

fn advise(answer: &mut Answer) {
    let numbers = |chosen: &dyn Fn(&TrialAnswer) -> bool| -> Vec<String> {
        let all = answer.trials.iter().enumerate();
        all.filter(|(_, trial)| chosen(trial))
            .map(|(at, _)| (at + 1).to_string())
            .collect()
    };
    let wrong = numbers(&|trial| trial.wrong.is_some());
    let again = numbers(&|trial| trial.again);
    let good = answer.trials.len() - wrong.len();
    let apart = answer
        .flags
        .iter()
        .any(|flag| matches!(flag.code, "spread" | "outlier" | "scatter"));
    answer.advice = if !wrong.is_empty() {
        Some(format!("measure again: {}", named(&wrong)))
    } else if !again.is_empty() {
        let lie = if again.len() == 1 { "lies" } else { "lie" };
        Some(format!(
            "measure again: {} {lie} apart from the others",
            named(&again)
        ))
    } else if apart {
        Some("measure again: the trials lie too far apart; take one more to see which".to_owned())
    } else if good > 0 && good < answer.wanted {
        Some(match answer.wanted - good {
            1 => "one trial more".to_owned(),
            more => format!("{more} trials more"),
        })
    } else {
        None
    };
}

/// `trial 3`, `trials 1 and 3`.
fn named(trials: &[String]) -> String {
    match trials {
        [one] => format!("trial {one}"),
        many => format!("trials {}", many.join(" and ")),
    }
}

/// The findings that rest on a quantity, straight or through others, as a page orders them.
fn findings(ground: &Ground, judged: &Judged, quantity: &Key) -> Vec<FindingAnswer> {
    let mut touched: BTreeSet<&Key> = BTreeSet::from([quantity]);
    let mut answers = Vec::new();
    for rule in ground.rules.in_order() {
        if !rule.needs().iter().any(|need| touched.contains(need)) {
            continue;
        }
        touched.insert(rule.key());
        answers.extend(finding(ground, judged, rule));
    }
    answers
}

fn finding(ground: &Ground, judged: &Judged, rule: &dyn Rule) -> Option<FindingAnswer> {
    let mut answer = FindingAnswer {
        key: rule.key().clone(),
        label: rule.label().to_owned(),
        band: None,
        chance: None,
        neighbour: None,
        score: None,
        ruler: None,
        standing: None,
        provisional: false,
        missing: None,
    };
    match judged.findings.get(rule.key())? {
        Err(not) => answer.missing = Some(not.reason.clone()),
        Ok(finding) => {
            // Fits and advice are for the page; at the bench the bands say enough.
            let Says::Band(banded) = &finding.says else {
                return None;
            };
            answer.provisional = finding.provisional;
            answer.band = Some(banded.name().to_owned());
            answer.chance = Some(format!("{} %", fixed(banded.chance() * 100.0, 0)));
            answer.neighbour = banded.neighbour.map(|at| banded.scale.names[at].clone());
            of_score(&mut answer, ground, judged, banded);
        }
    }
    Some(answer)
}

fn of_score(answer: &mut FindingAnswer, ground: &Ground, judged: &Judged, banded: &Banded) {
    let score = banded.score.value;
    let spread = wider_side(score, banded.interval);
    answer.score = Some(if spread < LEAST {
        format!("{} of 100", fixed(score, 0))
    } else {
        let places = decimals_for_uncertainty(spread, 1);
        // Never rounded to nothing.
        let spread = fixed(spread.max(0.1), places);
        format!("{} ± {spread} of 100", fixed(score, places))
    });
    let mut others: Vec<f64> = ground
        .others(judged)
        .filter_map(
            |other| match &other.findings.get(&answer.key)?.as_ref().ok()?.says {
                Says::Band(banded) => Some(banded.score.value),
                _ => None,
            },
        )
        .collect();
    others.sort_by(f64::total_cmp);
    answer.standing = Some(standing(ground, judged, score, &others));
    let cuts = &banded.scale.cuts;
    let edge = |at: usize| match at.checked_sub(1) {
        None => 0.0,
        Some(at) => cuts.get(at).copied().unwrap_or(100.0),
    };
    let names = banded.scale.names.iter().enumerate();
    answer.ruler = Some(RulerAnswer {
        bands: names
            .map(|(at, name)| (name.clone(), edge(at), edge(at + 1)))
            .collect(),
        score,
        between: (
            banded.interval.0.clamp(0.0, 100.0),
            banded.interval.1.clamp(0.0, 100.0),
        ),
        others,
    });
}

fn standing(ground: &Ground, judged: &Judged, score: f64, others: &[f64]) -> String {
    let category = &judged.shoe.file.category;
    let named = ground.lab.settings.categories.get(category);
    let category = named.map_or_else(|| category.to_string(), |name| name.to_lowercase());
    if others.is_empty() {
        return format!("no other {category} shoe is published");
    }
    let above = others.len() - others.partition_point(|other| *other <= score);
    let n = others.len() + 1;
    let mut all = others.to_vec();
    all.insert(all.partition_point(|other| *other < score), score);
    let mut text = format!("no. {} of {n} {category} shoes, highest first", above + 1);
    if n >= ground.lab.protocol.minimum_shoes
        && let Some(percentile) = percentile_rank_mid(&all, score)
    {
        let _ = write!(text, "; percentile {}", fixed(percentile, 0));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::Root;
    use crate::measure::FlagWeight;

    #[test]
    fn a_score_has_the_interval_that_is_published_and_a_quantity_its_own_flags() {
        let root = Root::open(env!("CARGO_MANIFEST_DIR")).unwrap();
        let ground = Ground::read(&root, "2026-11-28".parse().unwrap()).unwrap();
        let (mut uneven, mut of_others) = (0, 0);
        let of_another = |quantity: &Key| Flag {
            code: "calibration-overdue",
            weight: FlagWeight::Said,
            quantity: Some(quantity.clone()),
            specimen: None,
            message: format!("another's: {quantity}"),
            accepted: None,
        };
        let mut shoes = ground.shoes.clone();
        for judged in &mut shoes {
            let flags = judged.quantities.keys().map(of_another);
            judged.session_flags.extend(flags);
        }
        for judged in &shoes {
            for quantity in judged.quantities.keys() {
                let specimen = &judged.shoe.file.specimens[0].id;
                let Some(said) = answer(&ground, judged, specimen, quantity, &[]) else {
                    continue;
                };
                let own = |flag: &Flag| flag.quantity.as_ref().is_none_or(|of| of == quantity);
                let (mine, others): (Vec<_>, Vec<_>) =
                    judged.session_flags.iter().partition(|flag| own(flag));
                for flag in others {
                    // One instrument reads several quantities, and is said of each.
                    let twin = mine.iter().any(|one| one.message == flag.message);
                    let said = said.flags.iter().any(|one| one.message == flag.message);
                    assert!(twin || !said, "{quantity}: {}", flag.message);
                    of_others += 1;
                }
                for finding in &said.findings {
                    let (Some(ruler), Ok(judged)) =
                        (&finding.ruler, &judged.findings[&finding.key])
                    else {
                        continue;
                    };
                    let Says::Band(banded) = &judged.says else {
                        panic!("a ruler is a band's");
                    };
                    let (low, high) = banded.interval;
                    let kept = (low.clamp(0.0, 100.0), high.clamp(0.0, 100.0));
                    assert_eq!(ruler.between, kept, "{}", finding.key);
                    let score = finding.score.as_deref().unwrap();
                    assert!(!score.contains("± 0.0 "), "{score}");
                    uneven += usize::from((high + low - 2.0 * banded.score.value).abs() > 0.1);
                }
            }
        }
        assert!(uneven > 0 && of_others > 0, "{uneven} {of_others}");
    }
}
