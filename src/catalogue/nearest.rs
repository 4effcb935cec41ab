//! The nearest points to a point, among many: a k-d tree of as many dimensions
//! as a lab has quantities.
//!
//! Build is n·log n (median splits), a query about log n for the few dimensions
//! a bench has. Ties are broken by the points' order, so the answer does not
//! depend on how the tree was built. The method is J. L. Bentley,
//! "Multidimensional binary search trees used for associative searching",
//! Communications of the ACM 18:509–517, 1975 (from memory).

/// How many points a leaf holds; below this a plain scan is faster than a split.
const LEAF: usize = 16;

/// A tree over points of equal dimension.
pub(super) struct Tree<'p> {
    points: &'p [Vec<f64>],
    /// The points' numbers, ordered so that every node is a stretch.
    order: Vec<u32>,
}

/// A found point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Found {
    /// Its number.
    pub at: u32,
    /// Its squared distance.
    pub squared: f64,
}

impl<'p> Tree<'p> {
    /// A tree over `points`, which all have the same dimension.
    pub fn new(points: &'p [Vec<f64>]) -> Self {
        let mut order: Vec<u32> = (0..u32::try_from(points.len()).unwrap_or(u32::MAX)).collect();
        split(points, &mut order, 0);
        Tree { points, order }
    }

    /// The `k` nearest points to `from` that `wanted` lets through, nearest first.
    pub fn nearest(&self, from: &[f64], k: usize, wanted: &dyn Fn(u32) -> bool) -> Vec<Found> {
        let mut best = Vec::with_capacity(k + 1);
        if k > 0 {
            self.visit(&self.order, 0, from, k, wanted, &mut best);
        }
        best
    }

    fn visit(
        &self,
        stretch: &[u32],
        depth: usize,
        from: &[f64],
        k: usize,
        wanted: &dyn Fn(u32) -> bool,
        best: &mut Vec<Found>,
    ) {
        if stretch.len() <= LEAF || from.is_empty() {
            for at in stretch {
                self.offer(*at, from, k, wanted, best);
            }
            return;
        }
        let axis = depth % from.len();
        let middle = stretch.len() / 2;
        let (low, rest) = stretch.split_at(middle);
        let (pivot, high) = rest
            .split_first()
            .expect("a stretch over a leaf's size has a middle");
        let away = from[axis] - self.points[*pivot as usize][axis];
        let (near, far) = if away < 0.0 { (low, high) } else { (high, low) };
        self.visit(near, depth + 1, from, k, wanted, best);
        self.offer(*pivot, from, k, wanted, best);
        // Equal distances are visited too: the tie is broken by the points' order.
        if best.len() < k
            || best
                .last()
                .is_some_and(|worst| away * away <= worst.squared)
        {
            self.visit(far, depth + 1, from, k, wanted, best);
        }
    }

    fn offer(
        &self,
        at: u32,
        from: &[f64],
        k: usize,
        wanted: &dyn Fn(u32) -> bool,
        best: &mut Vec<Found>,
    ) {
        let squared = squared(from, &self.points[at as usize]);
        let closer = |other: &Found| (other.squared, other.at) < (squared, at);
        let place = best.iter().take_while(|other| closer(other)).count();
        if place < k && wanted(at) {
            best.insert(place, Found { at, squared });
            best.truncate(k);
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
