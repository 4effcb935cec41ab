//! What makes a reader less sure, all of it in words: what screening found,
//! what was accepted or left out and why, scatter that had to be borrowed, and
//! findings that stand on any of it.

use super::composer::Composer;
use super::findings::advice_not_judged;
use super::views::DoubtView;
use super::wording::{all_of, amount, capital, sentence};
use crate::files::Key;
use crate::lab::QuantitySpec;
use crate::measure::interval::Method;
use crate::measure::{Flag, Summary};
use crate::quantity::{Amount, fixed};
use crate::rules::{Finding, Judged};
use crate::shoe::Readings;
use crate::words::say;

/// Every doubt of a review: sessions first, then quantity by quantity in the
/// protocol's order, then the findings that stand on them.
pub(super) fn doubts(composer: &Composer<'_>, judged: &Judged) -> Vec<DoubtView> {
    let mut doubts: Vec<DoubtView> = judged
        .session_flags
        .iter()
        .map(|flag| flag_view(composer, flag))
        .collect();
    for (key, spec) in composer.edition.lab.protocol.quantities.iter() {
        if let Some(Ok(summary)) = judged.quantities.get(key) {
            doubts.extend(summary.flags.iter().map(|flag| flag_view(composer, flag)));
            doubts.extend(left_out(composer, spec, summary));
            doubts.extend(pooled(composer, spec, summary));
        } else {
            doubts.extend(left_out_of_none(composer, judged, key, spec));
        }
    }
    doubts.extend(provisional(composer, judged));
    doubts.extend(drawn(composer, judged));
    doubts.extend(
        advice_not_judged(composer, judged).map(|message| DoubtView {
            code: "advice-not-judged".into(),
            message,
            ..DoubtView::default()
        }),
    );
    dedup(doubts)
}

/// The same doubt is said once: a quantity may repeat a flag of its session.
fn dedup(doubts: Vec<DoubtView>) -> Vec<DoubtView> {
    let mut kept: Vec<DoubtView> = Vec::with_capacity(doubts.len());
    for doubt in doubts {
        let same = |known: &DoubtView| known.code == doubt.code && known.message == doubt.message;
        if !kept.iter().any(same) {
            kept.push(doubt);
        }
    }
    kept
}

/// A flag as a sentence that names its quantity and specimen, unless it does so itself.
fn flag_view(composer: &Composer<'_>, flag: &Flag) -> DoubtView {
    let said = flag.message.to_lowercase();
    let quantity = flag
        .quantity
        .as_ref()
        .filter(|key| {
            // A flag names its quantity, if it does, by the lab's own word.
            let spec = composer.quantity(key);
            !spec.is_some_and(|spec| said.contains(&spec.label.to_lowercase()))
        })
        .map(|key| composer.quantity_label(key));
    let specimen = flag
        .specimen
        .as_ref()
        .filter(|id| !names_specimen(&said, id))
        .map(|id| say!(composer, "specimen {specimen}", specimen = id));
    let about: Vec<String> = quantity.into_iter().chain(specimen).collect();
    let message = composer.retell(&flag.message);
    let message = if about.is_empty() {
        sentence(&message)
    } else {
        sentence(&format!("{}: {message}", about.join(", ")))
    };
    let accepted = flag
        .accepted
        .as_deref()
        .map(|reason| composer.editors(reason));
    DoubtView {
        code: flag.code.into(),
        message,
        accepted_language: accepted.and_then(|reason| reason.language(composer)),
        accepted: accepted.map(|reason| reason.text.to_owned()),
        ..DoubtView::default()
    }
}

/// Whether a text in small letters names a specimen by its mark. The mark alone is
/// not looked for: `L` and `1` are in most texts.
fn names_specimen(said: &str, id: &str) -> bool {
    let name = format!("specimen {}", id.to_lowercase());
    let longer = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
    said.match_indices(&name)
        .any(|(at, _)| !said[at + name.len()..].starts_with(longer))
}

fn left_out<'a>(
    composer: &'a Composer<'_>,
    spec: &'a QuantitySpec,
    summary: &'a Summary,
) -> impl Iterator<Item = DoubtView> + 'a {
    summary.specimens.iter().flat_map(move |specimen| {
        let trials = specimen.trials.iter().enumerate();
        trials.filter_map(move |(at, trial)| {
            let reason = trial.left_out.as_ref()?;
            let place = (specimen.id.as_str(), at + 1);
            Some(left_out_view(composer, spec, place, trial.written, reason))
        })
    })
}

/// What is left out of a quantity that came to no value, as where it is all that was
/// read: there is no summary then, so the shoe's file tells it.
fn left_out_of_none<'a>(
    composer: &'a Composer<'_>,
    judged: &'a Judged,
    key: &'a Key,
    spec: &'a QuantitySpec,
) -> impl Iterator<Item = DoubtView> + 'a {
    let file = &judged.shoe.file;
    file.specimens.iter().flat_map(move |specimen| {
        let trials: &[Amount] = match specimen.readings.get(key) {
            Some(Readings::One(amount)) => std::slice::from_ref(amount),
            Some(Readings::Trials(amounts)) => amounts,
            Some(Readings::Curve(_)) | None => &[],
        };
        trials.iter().enumerate().filter_map(move |(at, written)| {
            let left = file.leave_out.iter().find(|left| {
                left.specimen == specimen.id && left.quantity == *key && left.trial == at + 1
            })?;
            let place = (specimen.id.as_str(), at + 1);
            Some(left_out_view(composer, spec, place, *written, &left.reason))
        })
    })
}

/// A reading that is left out, by its specimen and its trial, counted from 1.
fn left_out_view(
    composer: &Composer<'_>,
    spec: &QuantitySpec,
    (specimen, trial): (&str, usize),
    written: Amount,
    reason: &str,
) -> DoubtView {
    let written = Amount {
        unit: Some(written.unit.unwrap_or(spec.unit)),
        ..written
    };
    let reason = composer.editors(reason);
    DoubtView {
        code: "left-out".into(),
        message: say!(
            composer,
            "{quantity}, specimen {specimen}: trial {n} ({reading}) is left out.",
            quantity = capital(&composer.word(&spec.label)),
            specimen = specimen,
            n = trial,
            reading = amount(composer.language, written)
        ),
        reason_language: reason.language(composer),
        reason: Some(sentence(reason.text)),
        ..DoubtView::default()
    }
}

fn pooled(composer: &Composer<'_>, spec: &QuantitySpec, summary: &Summary) -> Option<DoubtView> {
    // Pooled repeatability is the rule; it is a doubt where trials are missing.
    let few = summary
        .specimens
        .iter()
        .any(|specimen| specimen.n() < spec.trials);
    (summary.pooled && few).then(|| DoubtView {
        code: "pooled-scatter".into(),
        message: match spec.repeatability {
            Some((_, dof)) if dof >= 1.0 => say!(
                composer,
                "{quantity}: too few trials to know this shoe's own scatter; the lab's pooled repeatability (with {n} degrees of freedom) stands for it.",
                one = "{quantity}: too few trials to know this shoe's own scatter; the lab's pooled repeatability (with {n} degree of freedom) stands for it.",
                quantity = capital(&composer.word(&spec.label)),
                n = fixed(dof.floor(), 0)
            ),
            _ => say!(
                composer,
                "{quantity}: too few trials to know this shoe's own scatter; the lab's pooled repeatability stands for it.",
                quantity = capital(&composer.word(&spec.label))
            ),
        },
        ..DoubtView::default()
    })
}

/// The names of the findings that were made and are `so`, in the rules' order.
fn labels(composer: &Composer<'_>, judged: &Judged, so: impl Fn(&Finding) -> bool) -> Vec<String> {
    let rules = composer.edition.rules.rules.keys();
    rules
        .filter(|key| matches!(judged.findings.get(*key), Some(Ok(finding)) if so(finding)))
        .map(|key| composer.inside(&composer.label(key)))
        .collect()
}

/// Which findings' and quantities' intervals were drawn, in one sentence.
fn drawn(composer: &Composer<'_>, judged: &Judged) -> Option<DoubtView> {
    let mut labels = labels(composer, judged, |finding| {
        finding.method() == Some(Method::Draws)
    });
    let quantities = composer.edition.lab.protocol.quantities.iter();
    labels.extend(quantities.filter_map(|(key, spec)| {
        let summary = judged.quantities.get(key)?.as_ref().ok()?;
        (summary.stated.method == Method::Draws)
            .then(|| composer.inside(&composer.word(&spec.label)))
    }));
    (!labels.is_empty()).then(|| DoubtView {
        code: "drawn-interval".into(),
        message: say!(
            composer,
            "The interval was taken from random draws, since the usual formula does not fit here: {findings}.",
            findings = all_of(composer.language, &labels)
        ),
        ..DoubtView::default()
    })
}

/// Which findings are provisional, in one sentence.
fn provisional(composer: &Composer<'_>, judged: &Judged) -> Option<DoubtView> {
    let labels = labels(composer, judged, |finding| finding.provisional);
    (!labels.is_empty()).then(|| DoubtView {
        code: "provisional".into(),
        message: say!(
            composer,
            "Provisional, because a reading behind it is in doubt: {findings}.",
            findings = all_of(composer.language, &labels)
        ),
        ..DoubtView::default()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{Absent, FlagWeight};
    use crate::outputs::{Surroundings, testing};
    use crate::shoe::LeaveOut;
    use std::sync::Arc;

    #[test]
    fn each_of_two_specimens_is_named_however_short_its_mark() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let said = |specimen: &str, message: &str| {
            let flag = Flag {
                code: "calibration-overdue",
                weight: FlagWeight::Stops,
                quantity: Some(testing::key("mass")),
                specimen: Some(specimen.into()),
                message: message.into(),
                accepted: None,
            };
            flag_view(&composer, &flag).message
        };
        let overdue = "Scale 1 was due for calibration on 2026-10-05";
        for mark in ["L", "R", "1"] {
            let named = format!("Mass, specimen {mark}: {overdue}.");
            assert_eq!(said(mark, overdue), named);
        }
        let long = "specimen A-L was conditioned for 11 h";
        assert_eq!(said("A-L", long), format!("Mass: {long}."));
        assert_eq!(said("A", long), format!("Mass, specimen A: {long}."));
    }

    #[test]
    fn one_degree_of_freedom_is_one() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let key = testing::key("loaded-drop");
        let judged = edition.shoe(&testing::slug("quarrel-2")).unwrap();
        let summary = judged.quantities.get(&key).unwrap().as_ref().unwrap();
        for (dof, told) in [
            (58.0, "(with 58 degrees of freedom)"),
            (1.9, "(with 1 degree of freedom)"),
        ] {
            let spec = QuantitySpec {
                repeatability: Some((0.12, dof)),
                ..composer.quantity(&key).unwrap().clone()
            };
            let message = pooled(&composer, &spec, summary).unwrap().message;
            assert!(message.contains(told), "{message}");
        }
    }

    #[test]
    fn what_is_left_out_is_told_where_it_is_all_that_was_read_too() {
        let mut edition = testing::edition();
        let slug = testing::slug("quarrel-2");
        let key = testing::key("mass");
        let shoes = &mut edition.shoes;
        let judged = shoes.iter_mut().find(|one| one.shoe.slug == slug).unwrap();
        let reason = "the lace lay on the pan's edge";
        let file = &mut Arc::make_mut(&mut judged.shoe).file;
        file.leave_out.push(LeaveOut {
            specimen: "A-L".into(),
            quantity: key.clone(),
            trial: 1,
            reason: reason.into(),
        });
        let absent = Absent {
            quantity: key.clone(),
            reason: "every reading of it is left out".into(),
        };
        judged.quantities.insert(key, Err(absent));
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let doubts = doubts(&composer, edition.shoe(&slug).unwrap());
        let of_mass = |doubt: &&DoubtView| doubt.message.starts_with("Mass");
        let told = doubts.iter().find(of_mass).unwrap();
        assert_eq!(
            told.message,
            "Mass, specimen A-L: trial 1 (262 g) is left out."
        );
        let because = "The lace lay on the pan's edge.";
        assert_eq!(told.reason.as_deref(), Some(because));
    }
}
