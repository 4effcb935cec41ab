//! How the catalogue is worked out of all published shoes.

use super::alike::alike;
use super::nearest::Tree;
use super::standing::{Catalogue, Neighbour, Standing};
use crate::files::{Key, Slug};
use crate::lab::Protocol;
use crate::measure::{Summary, expanded, percentile_rank_mid, robust};
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
            of.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(b.1)));
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
        let keys: Vec<&Key> = protocol
            .quantities
            .keys()
            .filter(|key| is_scaled(rules, key))
            .collect();
        let mut places: Vec<(&Judged, Vec<&Summary>)> = shoes
            .iter()
            .filter_map(|judged| {
                let summaries: Option<Vec<&Summary>> = keys
                    .iter()
                    .map(|key| judged.quantities.get(*key)?.as_ref().ok())
                    .collect();
                Some((*judged, summaries?))
            })
            .collect();
        places.sort_by(|a, b| a.0.shoe.slug.cmp(&b.0.shoe.slug));
        let scales: Vec<f64> = (0..keys.len())
            .map(|axis| {
                let values: Vec<f64> = places.iter().map(|(_, of)| of[axis].value.value).collect();
                // A category whose shoes are all alike in a quantity is not told
                // apart by it.
                robust::scaled_deviation(&values)
                    .filter(|scale| *scale > 0.0)
                    .unwrap_or(f64::INFINITY)
            })
            .collect();
        let points: Vec<Vec<f64>> = places
            .iter()
            .map(|(_, of)| {
                of.iter()
                    .zip(&scales)
                    .map(|(one, scale)| one.value.value / scale)
                    .collect()
            })
            .collect();
        // Expanded uncertainties cost a quantile each; every pair below asks for them.
        let wide: Vec<Vec<f64>> = places
            .iter()
            .map(|(_, of)| {
                of.iter()
                    .map(|one| expanded(&one.value, protocol.coverage).U)
                    .collect()
            })
            .collect();
        let tree = Tree::new(&points);
        for (at, (judged, summaries)) in places.iter().enumerate() {
            let other_model = |other: u32| !same_model(judged, places[other as usize].0);
            let found = tree.nearest(&points[at], ALTERNATIVES, &other_model);
            let neighbours = found
                .into_iter()
                .map(|found| {
                    let other_at = found.at as usize;
                    let (other, of_other) = &places[other_at];
                    Neighbour {
                        slug: other.shoe.slug.clone(),
                        distance: found.squared.sqrt(),
                        difference: difference(
                            (summaries, &wide[at]),
                            (of_other, &wide[other_at]),
                            &scales,
                        ),
                    }
                })
                .collect();
            self.neighbours.insert(judged.shoe.slug.clone(), neighbours);
        }
        self.alike.extend(alike(&places, &points, &scales, &wide));
    }
}

/// Whether a scale is laid on a quantity: what readers see of a shoe, and so what
/// makes two shoes alike.
fn is_scaled(rules: &RuleSet, quantity: &Key) -> bool {
    rules
        .rules
        .iter()
        .any(|(_, rule)| rule.kind() == "scale" && rule.needs().contains(quantity))
}

/// Whether two shoes are one model in another version's clothes: a shoe is no
/// alternative to its own other colour.
pub(super) fn same_model(a: &Judged, b: &Judged) -> bool {
    let (a, b) = (&a.shoe.file, &b.shoe.file);
    a.maker == b.maker && a.model == b.model && a.version == b.version
}

/// The quantity in which two shoes differ most, among those in which they differ
/// by more than their expanded uncertainties together (in quadrature). Each shoe
/// comes with its expanded uncertainties.
fn difference(
    (own, own_wide): (&[&Summary], &[f64]),
    (other, other_wide): (&[&Summary], &[f64]),
    scales: &[f64],
) -> Option<(Key, f64)> {
    own.iter()
        .zip(other)
        .zip(own_wide.iter().zip(other_wide))
        .zip(scales)
        .filter_map(|(((own, other), (own_wide, other_wide)), scale)| {
            let apart = other.value.value - own.value.value;
            let unsure = own_wide.hypot(*other_wide);
            (apart.abs() > unsure).then(|| (apart.abs() / scale, own.quantity.clone(), apart))
        })
        .reduce(|most, next| if next.0 > most.0 { next } else { most })
        .map(|(_, key, apart)| (key, apart))
}
