//! What makes a reader less sure, all of it in words: what screening found,
//! what was accepted or left out and why, scatter that had to be borrowed, and
//! findings that stand on any of it.

use super::composer::Composer;
use super::findings::advice_not_judged;
use super::views::DoubtView;
use super::wording::{all_of, amount, capital, sentence};
use crate::lab::QuantitySpec;
use crate::measure::interval::Method;
use crate::measure::{Flag, Summary};
use crate::quantity::{Amount, fixed};
use crate::rules::{Finding, Judged};
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
        .filter(|id| !said.contains(&id.to_lowercase()))
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

fn left_out<'a>(
    composer: &'a Composer<'_>,
    spec: &'a QuantitySpec,
    summary: &'a Summary,
) -> impl Iterator<Item = DoubtView> + 'a {
    summary.specimens.iter().flat_map(move |specimen| {
        let trials = specimen.trials.iter().enumerate();
        trials.filter_map(move |(at, trial)| {
            let reason = trial.left_out.as_ref()?;
            let written = Amount {
                unit: Some(trial.written.unit.unwrap_or(spec.unit)),
                ..trial.written
            };
            let reason = composer.editors(reason);
            Some(DoubtView {
                code: "left-out".into(),
                message: say!(
                    composer,
                    "{quantity}, specimen {specimen}: trial {n} ({reading}) is left out.",
                    quantity = capital(&composer.word(&spec.label)),
                    specimen = specimen.id,
                    n = at + 1,
                    reading = amount(composer.language, written)
                ),
                reason_language: reason.language(composer),
                reason: Some(sentence(reason.text)),
                ..DoubtView::default()
            })
        })
    })
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
                "{quantity}: too few trials to know this shoe's own scatter; the lab's pooled repeatability (with {dof} degrees of freedom) stands for it.",
                quantity = capital(&composer.word(&spec.label)),
                dof = fixed(dof.floor(), 0)
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
