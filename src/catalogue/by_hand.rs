//! A catalogue by hand, for tests of the rooms above.

use super::{Catalogue, Neighbour, Standing};
use crate::files::{Key, Slug};

impl Catalogue {
    /// With the scores of a category's finding, rising.
    pub fn with_scores(mut self, category: Key, finding: Key, scores: &[f64]) -> Self {
        self.scores.insert((category, finding), scores.into());
        self
    }

    /// With where a shoe stands by a finding.
    pub fn with_standing(mut self, shoe: Slug, finding: Key, standing: Standing) -> Self {
        let of_shoe = self.standings.entry(shoe).or_default();
        of_shoe.insert(finding, standing);
        self
    }

    /// With a shoe's nearest others.
    pub fn with_neighbours(mut self, shoe: Slug, neighbours: Vec<Neighbour>) -> Self {
        self.neighbours.insert(shoe, neighbours);
        self
    }
}
