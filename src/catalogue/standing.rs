//! Where a shoe stands among its category.

use crate::files::{Key, Slug};
use std::collections::BTreeMap;
use std::sync::Arc;

/// All published shoes, as the ground every single one is placed on.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    /// By category and finding: the scores, rising.
    pub(super) scores: BTreeMap<(Key, Key), Arc<[f64]>>,
    /// By shoe and finding: where it stands.
    pub(super) standings: BTreeMap<Slug, BTreeMap<Key, Standing>>,
    /// By shoe: the nearest others, nearest first.
    pub(super) neighbours: BTreeMap<Slug, Vec<Neighbour>>,
    /// By shoe: those that differ from it in one quantity.
    pub(super) alike: BTreeMap<Slug, Vec<Alike>>,
    /// See [`Catalogue::work`].
    pub(super) work: u64,
}

/// A shoe that differs from another in one quantity and is otherwise alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Alike {
    /// Which.
    pub slug: Slug,
    /// The one quantity in which the two differ by more than their expanded
    /// uncertainties together (in quadrature).
    pub quantity: Key,
    /// By how much: that shoe's value less this one's, in the protocol's unit.
    pub by: f64,
}

/// Where a shoe stands among its category, by one finding.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Mid-rank percentile, 0 to 100; none under the protocol's minimum of shoes.
    pub percentile: Option<f64>,
    /// Rank, 1 for the highest score; equal scores share the better rank.
    pub rank: usize,
    /// How many shoes of the category have the finding.
    pub n: usize,
}

/// A near shoe.
#[derive(Clone, Debug, PartialEq)]
pub struct Neighbour {
    /// Which.
    pub slug: Slug,
    /// Distance in robust-scaled quantities, without unit.
    pub distance: f64,
    /// The quantity in which the two differ most beyond their uncertainty, and
    /// by how much (the neighbour's value less this shoe's, in the protocol's
    /// unit); none if they differ in nothing.
    pub difference: Option<(Key, f64)>,
}

impl Catalogue {
    /// How many comparisons and looks at a shoe it took to place all shoes. Unlike
    /// the time it is the same on every machine; it grows as n·log n.
    pub fn work(&self) -> u64 {
        self.work
    }

    /// The category's scores of a finding, rising.
    pub fn scores(&self, category: &Key, finding: &Key) -> &[f64] {
        self.scores
            .get(&(category.clone(), finding.clone()))
            .map_or(&[], |scores| scores)
    }

    /// Where a shoe stands by a finding.
    pub fn standing(&self, shoe: &Slug, finding: &Key) -> Option<Standing> {
        self.standings.get(shoe)?.get(finding).copied()
    }

    /// What is less, and what is more, in one quantity and otherwise alike: for
    /// each quantity at most one shoe in either direction, the one most alike in
    /// all others. In the protocol's order of quantities, less before more.
    pub fn alike(&self, shoe: &Slug) -> &[Alike] {
        self.alike.get(shoe).map_or(&[], Vec::as_slice)
    }

    /// The nearest other shoes, nearest first.
    pub fn neighbours(&self, shoe: &Slug) -> &[Neighbour] {
        self.neighbours.get(shoe).map_or(&[], Vec::as_slice)
    }
}
