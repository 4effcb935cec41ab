//! What makes a reader less sure, all of it in words: what screening found,
//! what was accepted or left out and why, scatter that had to be borrowed, and
//! findings that stand on any of it.

use super::composer::Composer;
use super::findings::advice_not_judged;
use super::views::DoubtView;
use super::wording::{amount, capital, inside, list, sentence};
use crate::lab::QuantitySpec;
use crate::measure::interval::Method;
use crate::measure::{Flag, Summary};
use crate::quantity::{Amount, fixed};
use crate::rules::{Finding, Judged};

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
            doubts.extend(left_out(spec, summary));
            doubts.extend(pooled(spec, summary));
        }
    }
    doubts.extend(provisional(composer, judged));
    doubts.extend(drawn(composer, judged));
    doubts.extend(
        advice_not_judged(composer, judged).map(|message| DoubtView {
            code: "advice-not-judged".into(),
            message,
            accepted: None,
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
        .map(|key| {
            composer
                .quantity(key)
                .map_or_else(|| key.to_string(), |spec| spec.label.to_string())
        })
        .filter(|label| !said.contains(&label.to_lowercase()));
    let specimen = flag
        .specimen
        .as_ref()
        .filter(|id| !said.contains(&id.to_lowercase()))
        .map(|id| format!("specimen {id}"));
    let about: Vec<String> = quantity.into_iter().chain(specimen).collect();
    let message = if about.is_empty() {
        sentence(&flag.message)
    } else {
        sentence(&format!("{}: {}", about.join(", "), flag.message))
    };
    DoubtView {
        code: flag.code.into(),
        message,
        accepted: flag.accepted.clone(),
    }
}

fn left_out<'a>(
    spec: &'a QuantitySpec,
    summary: &'a Summary,
) -> impl Iterator<Item = DoubtView> + 'a {
    summary.specimens.iter().flat_map(move |specimen| {
        let trials = specimen.trials.iter().enumerate();
        trials.filter_map(move |(at, trial)| {
            let reason = trial.left_out.as_ref()?;
            let written = amount(Amount {
                unit: Some(trial.written.unit.unwrap_or(spec.unit)),
                ..trial.written
            });
            Some(DoubtView {
                code: "left-out".into(),
                message: format!(
                    "{}, specimen {}: trial {} ({written}) is left out. {}",
                    capital(&spec.label),
                    specimen.id,
                    at + 1,
                    sentence(reason)
                ),
                accepted: None,
            })
        })
    })
}

fn pooled(spec: &QuantitySpec, summary: &Summary) -> Option<DoubtView> {
    let basis = match spec.repeatability {
        Some((_, dof)) if dof >= 1.0 => {
            format!(" (with {} degrees of freedom)", fixed(dof.floor(), 0))
        }
        _ => String::new(),
    };
    // Pooled repeatability is the rule; it is a doubt where trials are missing.
    let few = summary
        .specimens
        .iter()
        .any(|specimen| specimen.n() < spec.trials);
    (summary.pooled && few).then(|| DoubtView {
        code: "pooled-scatter".into(),
        message: format!(
            "{}: too few trials to know this shoe's own scatter; the lab's pooled repeatability{basis} stands for it.",
            capital(&spec.label)
        ),
        accepted: None,
    })
}

/// The names of the findings that were made and are `so`, in the rules' order.
fn labels(composer: &Composer<'_>, judged: &Judged, so: impl Fn(&Finding) -> bool) -> Vec<String> {
    let rules = composer.edition.rules.rules.keys();
    rules
        .filter(|key| matches!(judged.findings.get(*key), Some(Ok(finding)) if so(finding)))
        .map(|key| inside(&composer.label(key)))
        .collect()
}

/// Which findings' intervals were drawn, in one sentence.
fn drawn(composer: &Composer<'_>, judged: &Judged) -> Option<DoubtView> {
    let labels = labels(composer, judged, |finding| {
        finding.method() == Some(Method::Draws)
    });
    (!labels.is_empty()).then(|| DoubtView {
        code: "drawn-interval".into(),
        message: format!(
            "The interval was taken from random draws, since the usual formula does not fit here: {}.",
            list(&labels, "and")
        ),
        accepted: None,
    })
}

/// Which findings are provisional, in one sentence.
fn provisional(composer: &Composer<'_>, judged: &Judged) -> Option<DoubtView> {
    let labels = labels(composer, judged, |finding| finding.provisional);
    (!labels.is_empty()).then(|| DoubtView {
        code: "provisional".into(),
        message: format!(
            "Provisional, because a reading behind it is in doubt: {}.",
            list(&labels, "and")
        ),
        accepted: None,
    })
}
