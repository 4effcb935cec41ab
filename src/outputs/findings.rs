//! A shoe's findings as a review shows them: bands, numbers, fits, advice.
//!
//! Where a finding was not made, its reason stands in its place. Words come
//! from the lab's phrases; where the lab has none for a result the page says
//! so, and where an editor wrote words of their own the page says that.

use super::composer::Composer;
use super::entry::banded;
use super::figures::{LEAST_SCORE, Print};
use super::ruler::ruler;
use super::views::{
    AdviceView, BandSaysView, BandView, FigureView, FitRowView, FitView, ValueView, VerdictView,
};
use super::wording::{all_of, chance, fill};
use crate::files::Key;
use crate::lab::{AdviceWeight, FitWords};
use crate::measure::expanded;
use crate::measure::interval::{Method, wider_side};
use crate::quantity::{Expanded, Uncertain, Unit, round_half_even};
use crate::rules::{Advice, Banded, Finding, Fit, FitAxis, Form, Judged, Says, Value, Verdict};
use crate::words::{said, say, text};

/// Said where the lab's phrases have no entry for a result.
const NO_WORDS: &str = text!("The lab has no words for this result yet.");

/// A banded finding.
pub(super) fn band(composer: &Composer<'_>, judged: &Judged, key: &Key) -> BandView {
    let (not_judged, says) = match made(judged, key) {
        Ok((finding, Says::Band(banded))) => {
            (None, Some(band_says(composer, judged, finding, banded)))
        }
        Ok(_) => (Some(say!(composer, "it is not a finding in bands")), None),
        Err(reason) => (Some(composer.retell(&reason)), None),
    };
    BandView {
        key: key.to_string(),
        label: composer.label(key),
        not_judged,
        says,
    }
}

/// A shoe's finding and what it says, or why there is none.
fn made<'j>(judged: &'j Judged, key: &Key) -> Result<(&'j Finding, &'j Says), String> {
    match judged.findings.get(key) {
        Some(Ok(finding)) => Ok((finding, &finding.says)),
        Some(Err(not_judged)) => Err(not_judged.reason.clone()),
        None => Err(said!("the rule set did not judge it")),
    }
}

fn band_says(
    composer: &Composer<'_>,
    judged: &Judged,
    finding: &Finding,
    banded: &Banded,
) -> BandSaysView {
    let value = banded
        .value
        .as_ref()
        .map(|(value, unit)| measured(composer, judged, &finding.key, value, *unit));
    let score = score_figure(composer, banded);
    let limit = composer.edition.rules.borderline_below;
    let chance = chance(composer.language, banded.chance(), limit);
    let name = composer.word(banded.name());
    let words = words(
        composer,
        judged,
        &finding.key,
        banded.name(),
        &Put {
            value: value.as_ref().unwrap_or(&score),
            band: &name,
            score: &score.number,
            chance: &chance,
        },
    );
    BandSaysView {
        band: name,
        band_index: banded.band,
        bands: banded.scale.names.len(),
        borderline: banded
            .neighbour
            .and_then(|at| Some(composer.word(banded.scale.names.get(at)?))),
        provisional: finding.provisional,
        short: words.short,
        means: words.means,
        means_language: words.language,
        by_editor: words.by_editor,
        standing: standing(composer, judged, &finding.key),
        ruler: ruler(composer, judged, &finding.key, banded),
        held: is_held(composer, judged, &finding.key, banded),
        value,
        score,
        chance,
    }
}

/// A score as it is printed. Where nothing of its interval is left, as for a shoe that
/// lies far beyond the end of the scale, it has no ±: `± 0` would claim too much.
pub(super) fn score_figure(composer: &Composer<'_>, banded: &Banded) -> FigureView {
    let figure = composer.figure(Print::score().figure_between(&banded.score, banded.interval));
    FigureView {
        uncertainty: figure.uncertainty.filter(|_| !is_flat(banded)),
        ..figure
    }
}

/// Whether nothing of a score's interval is left.
fn is_flat(banded: &Banded) -> bool {
    wider_side(banded.score.value, banded.interval) < LEAST_SCORE
}

/// What stands after a score's ±, unrounded: 0 where a measured shoe lies so far beyond
/// the scale's end that nothing is left of it; none where no uncertainty is known.
pub(super) fn score_spread(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    banded: &Banded,
) -> Option<f64> {
    if is_flat(banded) && is_measured(composer, judged, key, banded) {
        return Some(0.0);
    }
    let known = !banded.score.parts().is_empty();
    known.then(|| wider_side(banded.score.value, banded.interval))
}

/// Whether an uncertainty of what a score rests on is known, though the score may have
/// none left; of a blend, that of each score in it.
pub(super) fn is_measured(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    banded: &Banded,
) -> bool {
    match &banded.value {
        Some((value, _)) => !value.parts().is_empty(),
        None => all_of_blend(composer, judged, key, is_measured),
    }
}

/// Whether a score is held at an end of its scale, beyond which the shoe lies so far
/// that nothing of the score's interval is left; of a blend, whether each score in it is.
pub(super) fn is_held(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    banded: &Banded,
) -> bool {
    let at_end = |end: Option<&(f64, f64)>| {
        end.is_some_and(|(_, score)| (score - banded.score.value).abs() < LEAST_SCORE)
    };
    let ends = match (&banded.value, &banded.points) {
        (Some((value, _)), Some(points)) => {
            !value.parts().is_empty() && (at_end(points.first()) || at_end(points.last()))
        }
        (Some(_), None) => false,
        (None, _) => all_of_blend(composer, judged, key, is_held),
    };
    ends && is_flat(banded)
}

/// Whether all scores that a blend weighs are so.
fn all_of_blend(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    so: fn(&Composer<'_>, &Judged, &Key, &Banded) -> bool,
) -> bool {
    let rule = composer.edition.rules.rules.get(key);
    rule.is_some_and(|rule| {
        let mut needs = rule.needs().iter();
        needs.all(|need| banded(judged, need).is_some_and(|of| so(composer, judged, need, of)))
    })
}

/// A rule's value as its quantity is printed; in the rule's own unit where it
/// rests on no quantity of that dimension.
pub(super) fn measured(
    composer: &Composer<'_>,
    judged: &Judged,
    rule: &Key,
    value: &Uncertain,
    unit: Unit,
) -> FigureView {
    let wide = expanded_as_stated(composer, judged, rule, value).U;
    let needs = composer.edition.rules.rules.get(rule);
    let spec = needs
        .into_iter()
        .flat_map(|rule| rule.needs())
        .find_map(|need| composer.quantity(need))
        .filter(|spec| spec.unit.dimension() == unit.dimension());
    let converted = spec.and_then(|spec| {
        let number = unit.convert(value.value, spec.unit).ok()?;
        let factor = unit.sensitivity(spec.unit).ok()?;
        Some((spec, value.through(number, factor), wide * factor.abs()))
    });
    composer.figure(match converted {
        Some((spec, value, wide)) => {
            Print::quantity(spec, composer.edition.lab.settings.units).figure_within(&value, wide)
        }
        None => Print::plain(unit, 1).figure_within(value, wide),
    })
}

/// The expanded uncertainty of the value a rule put on its scale: where that value is
/// a quantity's whose draws are stated, with their factor.
pub(super) fn expanded_as_stated(
    composer: &Composer<'_>,
    judged: &Judged,
    rule: &Key,
    value: &Uncertain,
) -> Expanded {
    let needs = composer.edition.rules.rules.get(rule).into_iter();
    let stated = needs.flat_map(|rule| rule.needs()).find_map(|need| {
        let summary = judged.quantities.get(need)?.as_ref().ok()?;
        (summary.stated.method == Method::Draws).then_some(summary.stated.expanded)
    });
    match stated {
        Some(drawn) => Expanded {
            U: drawn.k * value.u(),
            ..drawn
        },
        None => expanded(value, composer.edition.lab.protocol.coverage),
    }
}

/// What the placeholders of a phrase stand for.
struct Put<'a> {
    value: &'a FigureView,
    band: &'a str,
    score: &'a str,
    chance: &'a str,
}

struct Words {
    short: String,
    means: String,
    language: Option<String>,
    by_editor: bool,
}

/// The words for a result: the lab's, or the editor's for this shoe.
fn words(composer: &Composer<'_>, judged: &Judged, key: &Key, entry: &str, put: &Put<'_>) -> Words {
    let title = judged.shoe.title();
    let value = figure_text(put.value);
    let values = [
        ("shoe", title.as_str()),
        ("value", value.as_str()),
        ("band", put.band),
        ("score", put.score),
        ("chance", put.chance),
    ];
    let phrase = composer
        .phrases()
        .findings
        .get(key)
        .and_then(|entries| entries.get(entry));
    let own = composer.own_words(judged, key);
    let lab_means = phrase.map_or_else(
        || composer.say(NO_WORDS, &[]),
        |phrase| fill(&phrase.means, &values),
    );
    Words {
        short: phrase.map_or_else(
            || put.band.to_owned(),
            |phrase| fill(&phrase.short, &values),
        ),
        means: own.map_or(lab_means, |own| fill(own.text, &values)),
        language: own.and_then(|own| own.language(composer)),
        by_editor: own.is_some(),
    }
}

/// Number and unit as they stand in a sentence; of a ratio the number alone.
pub(super) fn figure_text(figure: &FigureView) -> String {
    if figure.unit == Unit::Degree.symbol() {
        format!("{}{}", figure.number, figure.unit)
    } else if figure.unit.is_empty() {
        figure.number.clone()
    } else {
        format!("{} {}", figure.number, figure.unit)
    }
}

/// A number with its uncertainty and its unit: `73 ± 5 %`.
pub(super) fn with_spread(figure: &FigureView) -> String {
    match &figure.uncertainty {
        Some(spread) => figure_text(&FigureView {
            number: format!("{} \u{b1} {spread}", figure.number),
            ..figure.clone()
        }),
        None => figure_text(figure),
    }
}

/// The place among the category: `higher than 72 % of 31 road shoes`.
fn standing(composer: &Composer<'_>, judged: &Judged, key: &Key) -> Option<String> {
    let catalogue = &composer.edition.catalogue;
    let standing = catalogue.standing(&judged.shoe.slug, key)?;
    let percentile = standing.percentile?;
    let file = &judged.shoe.file;
    let category = composer.inside(&composer.category(&file.category));
    let n = standing.n;
    let among = say!(
        composer,
        "{n} {category} shoes",
        one = "{n} {category} shoe",
        n = n,
        category = category
    );
    let scores = catalogue.scores(&file.category, key);
    let lowest = scores.first() == scores.get(n.saturating_sub(standing.rank));
    Some(if scores.first() == scores.last() {
        say!(composer, "level with all {among}", among = among)
    } else if standing.rank == 1 {
        say!(composer, "the highest of {among}", among = among)
    } else if lowest {
        say!(composer, "the lowest of {among}", among = among)
    } else {
        let share = round_half_even(percentile, 0).clamp(1.0, 99.0);
        say!(
            composer,
            "higher than {share} of {among}",
            share = composer.percent(share / 100.0),
            among = among
        )
    })
}

/// A finding that is a number.
pub(super) fn number(composer: &Composer<'_>, judged: &Judged, key: &Key) -> ValueView {
    let mut view = ValueView {
        key: key.to_string(),
        label: composer.label(key),
        figure: None,
        not_judged: None,
        means: None,
        means_language: None,
        by_editor: false,
        provisional: false,
    };
    match made(judged, key) {
        Ok((finding, Says::Value(value))) => {
            let figure = value_figure(composer, value);
            let put = Put {
                value: &figure,
                band: &figure_text(&figure),
                score: &figure.number,
                chance: &composer.coverage(),
            };
            let words = words(composer, judged, key, "any", &put);
            view.means = Some(words.means);
            view.means_language = words.language;
            view.by_editor = words.by_editor;
            view.provisional = finding.provisional;
            view.figure = Some(figure);
        }
        Ok(_) => view.not_judged = Some(say!(composer, "it is not a number")),
        Err(reason) => view.not_judged = Some(composer.retell(&reason)),
    }
    view
}

/// A number as it is printed.
pub(super) fn value_figure(composer: &Composer<'_>, value: &Value) -> FigureView {
    let print = Print::plain(value.unit, value.decimals);
    composer.figure(print.figure_between(&value.value, value.interval))
}

/// A fit.
pub(super) fn fit(composer: &Composer<'_>, judged: &Judged, key: &Key) -> FitView {
    let mut view = FitView {
        key: key.to_string(),
        label: composer.label(key),
        row_label: String::new(),
        column_label: String::new(),
        columns: Vec::new(),
        rows: Vec::new(),
        not_judged: None,
    };
    match made(judged, key) {
        Ok((_, Says::Fit(fit))) => {
            view.row_label = composer.word(&fit.rows.label);
            view.column_label = composer.word(&fit.columns.label);
            view.columns = labels(composer, &fit.columns);
            view.rows = fit_rows(composer, fit);
        }
        Ok(_) => view.not_judged = Some(say!(composer, "it is not a fit")),
        Err(reason) => view.not_judged = Some(composer.retell(&reason)),
    }
    view
}

/// The names of a list's options.
pub(super) fn labels(composer: &Composer<'_>, axis: &FitAxis) -> Vec<String> {
    axis.options
        .iter()
        .map(|option| composer.word(&option.label))
        .collect()
}

fn fit_rows(composer: &Composer<'_>, fit: &Fit) -> Vec<FitRowView> {
    let words = &composer.phrases().fit;
    let rows = fit.rows.options.iter().enumerate();
    rows.map(|(row, option)| FitRowView {
        label: composer.word(&option.label),
        cells: (0..fit.columns.options.len())
            .map(|column| verdict(fit.cell(row, column), words))
            .collect(),
    })
    .collect()
}

/// The verdicts of one list, in its order.
pub(super) fn verdicts(axis: &FitAxis, words: &FitWords) -> Vec<VerdictView> {
    axis.options
        .iter()
        .map(|option| verdict(option.verdict, words))
        .collect()
}

/// A verdict in the lab's words.
pub(super) fn verdict(verdict: Verdict, words: &FitWords) -> VerdictView {
    let (key, words) = match verdict {
        Verdict::Holds => ("suits", &words.suits),
        Verdict::Close => ("close", &words.close),
        Verdict::Fails => ("other", &words.other),
        Verdict::Unknown => ("unknown", &words.unknown),
    };
    VerdictView {
        key,
        words: words.clone(),
    }
}

/// A shoe's fit by a rule, if it was judged.
pub(super) fn fit_of<'j>(judged: &'j Judged, key: &Key) -> Option<&'j Fit> {
    match made(judged, key).ok()?.1 {
        Says::Fit(fit) => Some(fit),
        _ => None,
    }
}

/// The advice that applies, cautions first, then in the rule set's order.
///
/// An advice applies if its condition holds, or holds somewhere within the
/// figures' uncertainty; then it says that it is close.
pub(super) fn advice(composer: &Composer<'_>, judged: &Judged) -> Vec<AdviceView> {
    let rules = composer.rules_of(|form| *form == Form::Advice);
    let mut advice: Vec<AdviceView> = rules
        .into_iter()
        .filter_map(|key| match made(judged, key).ok()?.1 {
            Says::Advice(advice) => advice_view(composer, judged, key, advice),
            _ => None,
        })
        .collect();
    advice.sort_by_key(|advice| advice.weight != "caution");
    advice
}

fn advice_view(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    advice: &Advice,
) -> Option<AdviceView> {
    if !matches!(advice.verdict, Verdict::Holds | Verdict::Close) {
        return None;
    }
    let title = judged.shoe.title();
    let values = [("shoe", title.as_str())];
    let phrase = composer.phrases().advice.get(&advice.phrase);
    let own = composer.own_words(judged, key);
    let none = composer.say(NO_WORDS, &[]);
    let lab_text = phrase.map_or(none.as_str(), |phrase| phrase.text.as_str());
    Some(AdviceView {
        key: key.to_string(),
        // Without its phrase an advice is taken for the graver of the two.
        weight: match phrase.map(|phrase| phrase.weight) {
            Some(AdviceWeight::Note) => "note",
            Some(AdviceWeight::Caution) | None => "caution",
        },
        short: phrase.map_or_else(
            || composer.label(key),
            |phrase| fill(&phrase.short, &values),
        ),
        text: fill(own.map_or(lab_text, |own| own.text), &values),
        text_language: own.and_then(|own| own.language(composer)),
        by_editor: own.is_some(),
        close: advice.verdict == Verdict::Close,
    })
}

/// The advice that could not be judged, as a clause with its reasons; none if all could.
pub(super) fn advice_not_judged(composer: &Composer<'_>, judged: &Judged) -> Option<String> {
    let rules = composer.rules_of(|form| *form == Form::Advice);
    let unknown: Vec<String> = rules
        .into_iter()
        .filter(|key| match made(judged, key) {
            Ok((_, Says::Advice(advice))) => advice.verdict == Verdict::Unknown,
            Ok(_) => false,
            Err(_) => true,
        })
        .map(|key| composer.inside(&composer.label(key)))
        .collect();
    (!unknown.is_empty()).then(|| {
        say!(
            composer,
            "A figure is missing, so whether this advice applies is not known: {advice}.",
            advice = all_of(composer.language, &unknown)
        )
    })
}
