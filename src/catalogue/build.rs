//! How the catalogue is worked out of all published shoes.

use super::alike::alike;
use super::nearest::{Tree, numbers};
use super::space::Space;
use super::standing::{Catalogue, Neighbour, Standing};
use crate::files::{Key, Slug};
use crate::lab::Protocol;
use crate::measure::percentile_rank_mid;
use crate::rules::{Judged, RuleSet, Says};
use std::collections::BTreeMap;

/// How many alternatives a review names.
const ALTERNATIVES: usize = 3;

impl Catalogue {
    /// The catalogue of these shoes, which are all that are out and not taken
    /// back. Their order does not matter. Grows as n·log n.
    pub fn of(shoes: &[&Judged], protocol: &Protocol, rules: &RuleSet) -> Self {
        let mut catalogue = Catalogue::default();
        let mut categories: BTreeMap<&Key, Vec<&Judged>> = BTreeMap::new();
        for judged in shoes {
            categories
                .entry(&judged.shoe.file.category)
                .or_default()
                .push(judged);
        }
        for (category, mut shoes) in categories {
            shoes.sort_by(|a, b| a.shoe.slug.cmp(&b.shoe.slug));
            catalogue.place(category, &shoes, protocol);
            catalogue.pair(&shoes, protocol, rules);
        }
        catalogue
    }

    /// Percentiles and ranks of one category.
    fn place(&mut self, category: &Key, shoes: &[&Judged], protocol: &Protocol) {
        let mut scores: BTreeMap<&Key, Vec<(f64, &Slug)>> = BTreeMap::new();
        for judged in shoes {
            for (key, finding) in &judged.findings {
                if let Ok(finding) = finding
                    && let Says::Band(banded) = &finding.says
                {
                    scores
                        .entry(key)
                        .or_default()
                        .push((banded.score.value, &judged.shoe.slug));
                }
            }
        }
        for (key, mut of) in scores {
            of.sort_by(|a, b| {
                self.work += 1;
                a.0.total_cmp(&b.0).then(a.1.cmp(b.1))
            });
            let sorted: Vec<f64> = of.iter().map(|(score, _)| *score).collect();
            for (score, slug) in &of {
                let standing = Standing {
                    percentile: (sorted.len() >= protocol.minimum_shoes)
                        .then(|| Some(100.0 * percentile_rank_mid(&sorted, *score)?))
                        .flatten(),
                    rank: sorted.len() - sorted.partition_point(|other| other <= score) + 1,
                    n: sorted.len(),
                };
                self.standings
                    .entry((*slug).clone())
                    .or_default()
                    .insert(key.clone(), standing);
            }
            self.scores
                .insert((category.clone(), key.clone()), sorted.into());
        }
    }

    /// Neighbours of one category: near in every quantity that a rule judges,
    /// each scaled by the category's robust deviation. A shoe that lacks one of
    /// them has no place in this space, and no neighbour.
    fn pair(&mut self, shoes: &[&Judged], protocol: &Protocol, rules: &RuleSet) {
        let space = Space::of(shoes, protocol, rules);
        let axes: Vec<usize> = (0..space.axes()).collect();
        let points = space.points(&axes);
        let tree = Tree::new(&points, axes.len(), &numbers(space.len()));
        self.work += tree.compared;
        let mut neighbours: Vec<Vec<Neighbour>> = vec![Vec::new(); space.len()];
        for at in tree.order().iter().map(|at| *at as usize) {
            let from = &points[at * axes.len()..(at + 1) * axes.len()];
            let other_model = |other: u32| !space.same_model(at, other as usize);
            let (found, looked) = tree.nearest(from, ALTERNATIVES, other_model);
            self.work += looked as u64;
            neighbours[at] = found
                .into_iter()
                .map(|found| Neighbour {
                    slug: space.slugs[found.at as usize].clone(),
                    distance: found.squared.sqrt(),
                    difference: difference(&space, at, found.at as usize),
                })
                .collect();
        }
        let (alike, work) = alike(&space);
        self.work += work;
        for ((slug, neighbours), alike) in space.slugs.iter().zip(neighbours).zip(alike) {
            self.neighbours.insert((*slug).clone(), neighbours);
            self.alike.insert((*slug).clone(), alike);
        }
    }
}

/// The quantity in which two shoes differ most, among those in which they differ
/// by more than their expanded uncertainties together (in quadrature).
fn difference(space: &Space<'_>, at: usize, other: usize) -> Option<(Key, f64)> {
    (0..space.axes())
        .filter_map(|axis| {
            let apart = space.apart(at, other, axis)?;
            Some((apart.abs() / space.scales[axis], axis, apart))
        })
        .reduce(|most, next| if next.0 > most.0 { next } else { most })
        .map(|(_, axis, apart)| (space.keys[axis].clone(), apart))
}
