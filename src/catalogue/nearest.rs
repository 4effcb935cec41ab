//! The nearest points to a point, among many: a k-d tree of as many dimensions
//! as a lab has quantities.
//!
//! Build is n·log n (median splits), a query about log n for the few dimensions
//! a bench has. Ties are broken by the points' order, so the answer does not
//! depend on how the tree was built. The method is J. L. Bentley,
//! "Multidimensional binary search trees used for associative searching",
//! Communications of the ACM 18:509–517, 1975 (from memory).

use std::ops::Range;

/// How many points a leaf holds; below this a plain scan is faster than a split.
const LEAF: usize = 16;

/// A tree over points of equal dimension.
pub(super) struct Tree {
    dimensions: usize,
    /// The points' numbers, ordered so that every node is a stretch.
    order: Vec<u32>,
    /// The points in that order, one after the other: a leaf is read in one go.
    coordinates: Vec<f64>,
}

/// What is looked for.
struct Query<'q> {
    k: usize,
    wanted: &'q dyn Fn(u32) -> bool,
    within: f64,
}

/// A found point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Found {
    /// Its number.
    pub at: u32,
    /// Its squared distance.
    pub squared: f64,
}

impl Tree {
    /// A tree over `points`, which all have the same dimension.
    pub fn new(points: &[Vec<f64>]) -> Self {
        let mut order: Vec<u32> = (0..u32::try_from(points.len()).unwrap_or(u32::MAX)).collect();
        split(points, &mut order, 0);
        let coordinates = order
            .iter()
            .flat_map(|at| points[*at as usize].iter().copied())
            .collect();
        Tree {
            dimensions: points.first().map_or(0, Vec::len),
            order,
            coordinates,
        }
    }

    /// The `k` nearest points to `from` that `wanted` lets through, nearest first.
    pub fn nearest(&self, from: &[f64], k: usize, wanted: &dyn Fn(u32) -> bool) -> Vec<Found> {
        let query = Query {
            k,
            wanted,
            within: f64::INFINITY,
        };
        self.search(from, query, usize::MAX)
    }

    /// The same among the points no farther away than the root of `within`, and
    /// with no more than `looks` points looked at, nearer branches first: a bound
    /// on the work where `wanted` turns nearly all away.
    pub fn nearest_within(
        &self,
        from: &[f64],
        k: usize,
        within: f64,
        looks: usize,
        wanted: &dyn Fn(u32) -> bool,
    ) -> Vec<Found> {
        self.search(from, Query { k, wanted, within }, looks)
    }

    fn search(&self, from: &[f64], query: Query<'_>, mut looks: usize) -> Vec<Found> {
        let mut best = Vec::with_capacity(query.k + 1);
        if query.k > 0 {
            self.visit(0..self.order.len(), 0, from, &query, &mut looks, &mut best);
        }
        best
    }

    fn visit(
        &self,
        stretch: Range<usize>,
        depth: usize,
        from: &[f64],
        query: &Query<'_>,
        looks: &mut usize,
        best: &mut Vec<Found>,
    ) {
        if *looks == 0 {
            return;
        }
        if stretch.len() <= LEAF || from.is_empty() {
            *looks = looks.saturating_sub(stretch.len());
            for place in stretch {
                self.offer(place, from, query, best);
            }
            return;
        }
        let axis = depth % from.len();
        let middle = stretch.start + stretch.len() / 2;
        let (low, high) = (stretch.start..middle, middle + 1..stretch.end);
        let away = from[axis] - self.coordinates[middle * self.dimensions + axis];
        let (near, far) = if away < 0.0 { (low, high) } else { (high, low) };
        self.visit(near, depth + 1, from, query, looks, best);
        *looks = looks.saturating_sub(1);
        self.offer(middle, from, query, best);
        // Equal distances are visited too: the tie is broken by the points' order.
        let reach = match best.last() {
            Some(worst) if best.len() == query.k => worst.squared,
            _ => query.within,
        };
        if away * away <= reach {
            self.visit(far, depth + 1, from, query, looks, best);
        }
    }

    fn offer(&self, place: usize, from: &[f64], query: &Query<'_>, best: &mut Vec<Found>) {
        let at = self.order[place];
        let point = &self.coordinates[place * self.dimensions..(place + 1) * self.dimensions];
        let squared = squared(from, point);
        let worst = best.last().filter(|_| best.len() == query.k);
        if squared > worst.map_or(query.within, |worst| worst.squared.min(query.within)) {
            return;
        }
        let closer = |other: &Found| (other.squared, other.at) < (squared, at);
        let place = best.iter().take_while(|other| closer(other)).count();
        if place < query.k && (query.wanted)(at) {
            best.insert(place, Found { at, squared });
            best.truncate(query.k);
        }
    }
}

fn squared(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum()
}

fn split(points: &[Vec<f64>], order: &mut [u32], depth: usize) {
    let dimensions = points.first().map_or(0, Vec::len);
    if order.len() <= LEAF || dimensions == 0 {
        return;
    }
    let axis = depth % dimensions;
    let middle = order.len() / 2;
    order.select_nth_unstable_by(middle, |a, b| {
        points[*a as usize][axis]
            .total_cmp(&points[*b as usize][axis])
            .then(a.cmp(b))
    });
    let (low, rest) = order.split_at_mut(middle);
    split(points, low, depth + 1);
    split(points, &mut rest[1..], depth + 1);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn scan(
        points: &[Vec<f64>],
        from: &[f64],
        k: usize,
        wanted: &dyn Fn(u32) -> bool,
    ) -> Vec<Found> {
        let mut all: Vec<Found> = (0..points.len())
            .map(|at| at as u32)
            .filter(|at| wanted(*at))
            .map(|at| Found {
                at,
                squared: squared(from, &points[at as usize]),
            })
            .collect();
        all.sort_by(|a, b| a.squared.total_cmp(&b.squared).then(a.at.cmp(&b.at)));
        all.truncate(k);
        all
    }

    #[test]
    fn finds_the_nearest_of_a_published_example() {
        // scikit-learn 1.9.1, docstring of NearestNeighbors: nearest to (1, 1, 1)
        // is point 2 at 0.5.
        let points = vec![vec![0., 0., 0.], vec![0., 0.5, 0.], vec![1., 1., 0.5]];
        let found = Tree::new(&points).nearest(&[1., 1., 1.], 1, &|_| true);
        assert_eq!(
            found,
            [Found {
                at: 2,
                squared: 0.25
            }]
        );
    }

    proptest! {
        #[test]
        fn prop_within_a_distance_the_tree_finds_what_a_plain_scan_finds(
            points in prop::collection::vec(prop::collection::vec(-3i8..3, 3), 0..200),
            from in prop::collection::vec(-3i8..3, 3),
            within in 0.0..20.0_f64,
        ) {
            let points: Vec<Vec<f64>> = points.iter().map(|p| p.iter().map(|x| f64::from(*x)).collect()).collect();
            let from: Vec<f64> = from.iter().map(|x| f64::from(*x)).collect();
            let odd = |at: u32| at % 2 == 1;
            let mut expected = scan(&points, &from, 4, &odd);
            expected.retain(|found| found.squared <= within);
            prop_assert_eq!(Tree::new(&points).nearest_within(&from, 4, within, usize::MAX, &odd), expected);
        }

        #[test]
        fn prop_the_tree_finds_what_a_plain_scan_finds(
            points in prop::collection::vec(prop::collection::vec(-3i8..3, 3), 0..200),
            from in prop::collection::vec(-3i8..3, 3),
            k in 0usize..6,
            odd in any::<bool>(),
        ) {
            let points: Vec<Vec<f64>> = points.iter().map(|p| p.iter().map(|x| f64::from(*x)).collect()).collect();
            let from: Vec<f64> = from.iter().map(|x| f64::from(*x)).collect();
            let wanted = |at: u32| !odd || at % 2 == 1;
            prop_assert_eq!(Tree::new(&points).nearest(&from, k, &wanted), scan(&points, &from, k, &wanted));
        }
    }
}
