//! The band ruler's geometry, on a width of 1000 units for scores of 0 to 100.
//!
//! Ticks that would fall on one another are one tick. In a large category they
//! also snap to a coarser grid: the picture is no wider than a column of text,
//! so finer places can't be seen, and a page would otherwise grow with the
//! catalogue and change with every shoe that joined it.

use super::composer::Composer;
use super::figures::{Print, coordinate};
use super::views::{RulerBandView, RulerView};
use crate::files::Key;
use crate::rules::{Banded, Judged};
use crate::words::say;

const WIDTH: f64 = 1000.0;
const TOP_SCORE: f64 = 100.0;

/// Over this many shoes of a category, ticks snap to the coarse grid.
const CROWD: usize = 300;
const COARSE_STEP: f64 = 4.0;

/// The ruler of a banded finding.
pub(super) fn ruler(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    banded: &Banded,
) -> RulerView {
    let score = banded.score.value;
    let (low, high) = banded.interval;
    let others = others(composer, judged, key, score);
    RulerView {
        bands: bands(composer, banded),
        at: coordinate(place(score)),
        low: coordinate(place(low)),
        high: coordinate(place(high)),
        description: description(composer, judged, key, banded, others.len()),
        ticks: ticks(&others),
    }
}

/// Where a score lies; beyond the ends it lies at the end.
fn place(score: f64) -> f64 {
    (score / TOP_SCORE * WIDTH).clamp(0.0, WIDTH)
}

/// The scores of the category's other shoes, rising: all but one that is this shoe's own.
fn others(composer: &Composer<'_>, judged: &Judged, key: &Key, own: f64) -> Vec<f64> {
    let category = &judged.shoe.file.category;
    let mut scores = composer.edition.catalogue.scores(category, key).to_vec();
    if let Some(at) = scores.iter().position(|score| *score == own) {
        scores.remove(at);
    }
    scores
}

fn ticks(scores: &[f64]) -> Vec<String> {
    let step = if scores.len() > CROWD {
        COARSE_STEP
    } else {
        1.0
    };
    let mut ticks: Vec<String> = scores
        .iter()
        .map(|score| coordinate((place(*score) / step).round() * step))
        .collect();
    ticks.dedup();
    ticks
}

fn edges(banded: &Banded) -> Vec<f64> {
    let cuts = banded.scale.cuts.iter().copied();
    std::iter::once(0.0)
        .chain(cuts)
        .chain(std::iter::once(TOP_SCORE))
        .collect()
}

fn bands(composer: &Composer<'_>, banded: &Banded) -> Vec<RulerBandView> {
    let edges = edges(banded);
    let names = banded.scale.names.iter().enumerate();
    names
        .zip(edges.windows(2))
        .map(|((at, name), edge)| RulerBandView {
            name: composer.word(name),
            from: coordinate(place(edge[0])),
            width: coordinate(place(edge[1]) - place(edge[0])),
            stated: at == banded.band,
        })
        .collect()
}

/// The picture in words.
fn description(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    banded: &Banded,
    others: usize,
) -> String {
    let figure = composer.figure(Print::score().figure_between(&banded.score, banded.interval));
    let spread = figure
        .uncertainty
        .map_or_else(String::new, |spread| format!(" \u{b1} {spread}"));
    let edges = edges(banded);
    let band = composer.word(banded.name());
    let band = match edges.get(banded.band..banded.band + 2) {
        Some([from, to]) => say!(
            composer,
            "{band}, {from} to {to}",
            band = band,
            from = composer.number(&coordinate(*from)),
            to = composer.number(&coordinate(*to))
        ),
        _ => band,
    };
    let mut text = say!(
        composer,
        "{finding}: {score} of 100, in the band {band}.",
        finding = composer.label(key),
        score = format!("{}{spread}", figure.number),
        band = band
    );
    if others > 0 {
        text.push(' ');
        text.push_str(&say!(
            composer,
            "Ticks show {n} other {category} shoes.",
            one = "Ticks show {n} other {category} shoe.",
            n = others,
            category = composer.inside(&composer.category(&judged.shoe.file.category))
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_that_fall_together_are_one_and_stay_in_order() {
        assert_eq!(ticks(&[10.0, 10.01, 50.0, 120.0]), ["100", "500", "1000"]);
    }

    #[test]
    fn a_crowd_snaps_to_the_coarse_grid() {
        let crowd: Vec<f64> = (0..2000).map(|at| f64::from(at) / 20.0).collect();
        let ticks = ticks(&crowd);
        assert!(ticks.len() <= 251, "{} ticks", ticks.len());
        assert_eq!(ticks.first().map(String::as_str), Some("0"));
    }
}
