//! The band ruler's geometry, on a width of 1000 units for scores of 0 to 100.
//!
//! Ticks that would fall on one another are one tick. In a large category they
//! also snap to a coarser grid: the picture is no wider than a column of text,
//! so finer places can't be seen, and a page would otherwise grow with the
//! catalogue and change with every shoe that joined it.

use super::composer::Composer;
use super::figures::coordinate;
use super::findings::score_figure;
use super::views::{RulerBandView, RulerView};
use super::wording::as_fixed;
use crate::edition::Edition;
use crate::files::Key;
use crate::rules::{Banded, Judged};
use crate::words::say;
use std::collections::BTreeMap;

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
    let (ticks, others) = others(composer, judged, key, score);
    RulerView {
        bands: bands(composer, banded),
        at: coordinate(place(score)),
        low: coordinate(place(low)),
        high: coordinate(place(high)),
        description: description(composer, judged, key, banded, others),
        ticks,
    }
}

/// Where a score lies; beyond the ends it lies at the end.
fn place(score: f64) -> f64 {
    (score / TOP_SCORE * WIDTH).clamp(0.0, WIDTH)
}

/// The ticks of a category's shoes by one rule, laid out once for all their pages.
#[derive(Debug)]
struct Row {
    step: f64,
    /// Each tick's place on the grid, how many shoes share it, and its text; rising.
    ticks: Vec<(f64, usize, String)>,
}

/// The ticks of every category and rule.
#[derive(Debug, Default)]
pub(super) struct Rows(BTreeMap<Key, BTreeMap<Key, Row>>);

impl Rows {
    /// Lays the ticks of an edition out. Without it every page would place every
    /// shoe anew, and a catalogue of twice the shoes would take four times as long.
    pub fn of(edition: &Edition) -> Self {
        let row = |category: &Key, rule: &Key| {
            let scores = edition.catalogue.scores(category, rule);
            // A page shows the others, so one less than there are.
            let row = || Row::of(scores, step(scores.len() - 1));
            (!scores.is_empty()).then(row)
        };
        let categories = edition.lab.settings.categories.keys();
        Rows(
            categories
                .map(|category| {
                    let rules = edition.rules.rules.keys();
                    let rows = rules.filter_map(|rule| Some((rule.clone(), row(category, rule)?)));
                    (category.clone(), rows.collect())
                })
                .collect(),
        )
    }

    fn get(&self, category: &Key, rule: &Key) -> Option<&Row> {
        self.0.get(category)?.get(rule)
    }
}

impl Row {
    /// The ticks of scores that rise.
    fn of(scores: &[f64], step: f64) -> Self {
        let mut ticks: Vec<(f64, usize, String)> = Vec::new();
        for score in scores {
            let at = snapped(*score, step);
            match ticks.last_mut() {
                Some((last, shoes, _)) if *last == at => *shoes += 1,
                _ => ticks.push((at, 1, coordinate(at))),
            }
        }
        Row { step, ticks }
    }

    /// The ticks without one shoe's.
    fn without(&self, own: f64) -> Vec<String> {
        let at = snapped(own, self.step);
        let others = |(place, shoes, _): &&(f64, usize, String)| *place != at || *shoes > 1;
        let ticks = self.ticks.iter().filter(others);
        ticks.map(|(_, _, text)| text.clone()).collect()
    }

    fn all(&self) -> Vec<String> {
        self.ticks.iter().map(|(_, _, text)| text.clone()).collect()
    }
}

/// Where the category's other shoes are, rising, and how many they are: all but
/// one that is this shoe's own.
fn others(composer: &Composer<'_>, judged: &Judged, key: &Key, own: f64) -> (Vec<String>, usize) {
    let category = &judged.shoe.file.category;
    let scores = composer.edition.catalogue.scores(category, key);
    let place = scores.partition_point(|score| *score < own);
    if scores.get(place) != Some(&own) {
        let all = Row::of(scores, step(scores.len())).all();
        return (all, scores.len());
    }
    let others = scores.len() - 1;
    let ticks = match composer.rows().get(category, key) {
        Some(row) => row.without(own),
        None => Row::of(scores, step(others)).without(own),
    };
    (ticks, others)
}

/// How fine the grid is for so many ticks.
fn step(shoes: usize) -> f64 {
    if shoes > CROWD { COARSE_STEP } else { 1.0 }
}

fn snapped(score: f64, step: f64) -> f64 {
    (place(score) / step).round() * step
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
    let figure = score_figure(composer, banded);
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
            from = as_fixed(composer.language, *from),
            to = as_fixed(composer.language, *to)
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
    use crate::outputs::entry::banded;
    use crate::outputs::{Surroundings, testing};
    use proptest::prelude::*;
    use std::sync::Arc;

    fn ticks(scores: &[f64]) -> Vec<String> {
        Row::of(scores, step(scores.len())).all()
    }

    #[test]
    fn the_words_tell_a_band_s_ends_as_the_rule_set_has_them() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let judged = edition.shoe(&testing::slug("quarrel-2")).unwrap();
        let key = testing::key("torsion");
        let mut banded = banded(judged, &key).unwrap().clone();
        let mut scale = (*banded.scale).clone();
        scale.cuts = vec![20.0, 33.33, 66.67, 80.0];
        banded.scale = Arc::new(scale);
        let said = description(&composer, judged, &key, &banded, 0);
        assert!(said.contains("medium, 33.33 to 66.67"), "{said}");
    }

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

    #[test]
    fn a_shoe_is_no_tick_of_its_own_page_unless_another_is_there_too() {
        let row = Row::of(&[10.0, 10.01, 50.0], 1.0);
        assert_eq!(row.without(10.0), ["100", "500"]);
        assert_eq!(row.without(50.0), ["100"]);
    }

    proptest! {
        /// A row laid out once is what a page would lay out for itself.
        #[test]
        fn prop_a_row_without_a_shoe_is_that_of_the_others(
            mut scores in proptest::collection::vec(-10.0..110.0_f64, 1..700), at in any::<usize>()
        ) {
            scores.sort_by(f64::total_cmp);
            let own = scores[at % scores.len()];
            let row = Row::of(&scores, step(scores.len() - 1));
            let mut others = scores;
            others.remove(others.iter().position(|score| *score == own).unwrap());
            prop_assert_eq!(row.without(own), ticks(&others));
        }
    }
}
