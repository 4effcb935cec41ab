//! The nearest points to a point, among many: a k-d tree of as many dimensions
//! as a lab has quantities.
//!
//! Build is n·log n (median splits), a query about log n for the few dimensions
//! a bench has, and never more than the looks it is given. Ties are broken by the
//! points' order, so the answer does not depend on how the tree was built. The
//! points lie in the tree's own order, one after the other: who asks for them in
//! that order ([`Tree::order`]) finds the neighbourhood still at hand. Work is
//! counted, so that a test can hold its growth.
//!
//! The method is J. L. Bentley, "Multidimensional binary search trees used for
//! associative searching", Communications of the ACM 18:509–517, 1975; the
//! distance to a cell kept up on the way down is S. Arya & D. M. Mount,
//! "Algorithms for fast vector quantization", 1993 (both from memory, unverified).

use std::ops::Range;

/// How many points a leaf holds; below this a plain scan is faster than a split.
const LEAF: usize = 4;

/// A tree over points of equal dimension.
pub(super) struct Tree {
    dimensions: usize,
    /// The points' numbers, ordered so that every node is a stretch.
    order: Vec<u32>,
    /// The points in that order, one after the other: a leaf is read in one go.
    coordinates: Vec<f64>,
    /// The least and the most of a node's points along the tree's own measure, at
    /// the node's own point or at a leaf's first.
    bounds: Vec<(f64, f64)>,
    /// How many comparisons it took to build.
    pub compared: u64,
}

/// A found point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Found {
    /// Its number.
    pub at: u32,
    /// Its squared distance.
    pub squared: f64,
}

impl Found {
    /// Whether this one is nearer, or as near and earlier in the points' order.
    pub fn before(&self, other: &Found) -> bool {
        (self.squared, self.at) < (other.squared, other.at)
    }
}

/// Who walks through a tree.
pub(super) trait Visitor {
    /// Whether anything is wanted of a cell no point of which is nearer than the
    /// root of `squared`, and whose points lie between `least` and `most` along the
    /// tree's own measure.
    fn wants(&self, squared: f64, least: f64, most: f64) -> bool;

    /// A point of such a cell.
    fn meet(&mut self, found: Found);
}

/// One way down the tree and back.
struct Walk<'w, V> {
    from: &'w [f64],
    /// How far a point may lie away on each axis; everywhere if there is none.
    reach: Option<&'w [f64]>,
    /// How many more points may be looked at.
    looks: usize,
    /// How far the cell at hand lies away on each axis.
    away: Vec<f64>,
    visitor: &'w mut V,
}

impl Tree {
    /// A tree over `points`, which lie one after the other with `dimensions`
    /// coordinates each. `along` has one number a point: a measure by which a
    /// [`Visitor`] can tell cells that hold nothing for it. For
    /// [`nearest`](Tree::nearest) it is the point's own number ([`numbers`]).
    pub fn new(points: &[f64], dimensions: usize, along: &[f64]) -> Self {
        let count = along.len();
        let mut tree = Tree {
            dimensions,
            order: (0..u32::try_from(count).unwrap_or(u32::MAX)).collect(),
            coordinates: Vec::new(),
            bounds: vec![(f64::INFINITY, f64::NEG_INFINITY); count],
            compared: 0,
        };
        let mut order = std::mem::take(&mut tree.order);
        split(points, dimensions, &mut order, 0, &mut tree.compared);
        tree.coordinates = order
            .iter()
            .flat_map(|at| &points[*at as usize * dimensions..(*at as usize + 1) * dimensions])
            .copied()
            .collect();
        tree.order = order;
        tree.bound(0..count, along);
        tree
    }

    /// The points' numbers, near ones near one another.
    pub fn order(&self) -> &[u32] {
        &self.order
    }

    /// The `k` nearest points to `from` that `wanted` lets through, nearest first,
    /// and how many points were looked at.
    pub fn nearest(
        &self,
        from: &[f64],
        k: usize,
        wanted: impl Fn(u32) -> bool,
    ) -> (Vec<Found>, usize) {
        let mut nearest = Nearest {
            k,
            best: Vec::with_capacity(k + 1),
            wanted,
        };
        let looked = self.walk(from, None, usize::MAX, &mut nearest);
        (nearest.best, looked)
    }

    /// Leads `visitor` to the points about `from`, nearer branches first, that lie
    /// on every axis within its `reach`. No more than `looks` points are looked at:
    /// a bound on the work where nearly all are turned away. Returns how many were.
    pub fn walk<V: Visitor>(
        &self,
        from: &[f64],
        reach: Option<&[f64]>,
        looks: usize,
        visitor: &mut V,
    ) -> usize {
        let mut walk = Walk {
            from,
            reach,
            looks,
            away: vec![0.0; self.dimensions],
            visitor,
        };
        self.visit(0..self.order.len(), 0, &mut walk);
        looks - walk.looks
    }

    fn visit<V: Visitor>(&self, stretch: Range<usize>, depth: usize, walk: &mut Walk<'_, V>) {
        // Added up in the order of the axes, as a point's own distance is: rounding
        // then never puts a cell farther away than a point in it.
        let squared = walk.away.iter().map(|away| away * away).sum();
        let wanted = |(least, most): (f64, f64)| walk.visitor.wants(squared, least, most);
        if walk.looks == 0 || stretch.is_empty() || !wanted(self.bounds[self.keeper(&stretch)]) {
            return;
        }
        if self.is_leaf(&stretch) {
            for place in stretch {
                self.look(place, walk);
            }
            return;
        }
        let axis = depth % self.dimensions;
        let middle = middle(&stretch);
        let (low, high) = (stretch.start..middle, middle + 1..stretch.end);
        let away = walk.from[axis] - self.coordinates[middle * self.dimensions + axis];
        // Of points in one place those that come first lie in the lower branch.
        let (near, far) = if away > 0.0 { (high, low) } else { (low, high) };
        self.visit(near, depth + 1, walk);
        self.look(middle, walk);
        if walk.reach.is_some_and(|reach| away.abs() > reach[axis]) {
            return;
        }
        let before = std::mem::replace(&mut walk.away[axis], away);
        self.visit(far, depth + 1, walk);
        walk.away[axis] = before;
    }

    fn look<V: Visitor>(&self, place: usize, walk: &mut Walk<'_, V>) {
        if walk.looks == 0 {
            return;
        }
        walk.looks -= 1;
        let point = &self.coordinates[place * self.dimensions..(place + 1) * self.dimensions];
        let near = |(axis, reach): (usize, &f64)| (walk.from[axis] - point[axis]).abs() <= *reach;
        if walk
            .reach
            .is_some_and(|reach| !reach.iter().enumerate().all(near))
        {
            return;
        }
        let squared = squared(walk.from, point);
        let at = self.order[place];
        walk.visitor.meet(Found { at, squared });
    }

    fn is_leaf(&self, stretch: &Range<usize>) -> bool {
        stretch.len() <= LEAF || self.dimensions == 0
    }

    /// The place that keeps a node's bounds: its own point's, or a leaf's first.
    fn keeper(&self, stretch: &Range<usize>) -> usize {
        if self.is_leaf(stretch) {
            stretch.start
        } else {
            middle(stretch)
        }
    }

    /// Works out the least and the most of a node's points along the measure.
    fn bound(&mut self, stretch: Range<usize>, along: &[f64]) -> (f64, f64) {
        let of = |at: u32| (along[at as usize], along[at as usize]);
        let both = |a: (f64, f64), b: (f64, f64)| (a.0.min(b.0), a.1.max(b.1));
        let nothing = (f64::INFINITY, f64::NEG_INFINITY);
        if stretch.is_empty() {
            return nothing;
        }
        let keeper = self.keeper(&stretch);
        let bounds = if self.is_leaf(&stretch) {
            let points = &self.order[stretch];
            points.iter().fold(nothing, |all, at| both(all, of(*at)))
        } else {
            let low = self.bound(stretch.start..keeper, along);
            let high = self.bound(keeper + 1..stretch.end, along);
            both(both(low, high), of(self.order[keeper]))
        };
        self.bounds[keeper] = bounds;
        bounds
    }
}

/// The points' own numbers, as a measure.
pub(super) fn numbers(count: usize) -> Vec<f64> {
    (0..count).map(|at| at as f64).collect()
}

fn middle(stretch: &Range<usize>) -> usize {
    stretch.start + stretch.len() / 2
}

/// The visitor that keeps the nearest.
struct Nearest<F> {
    k: usize,
    best: Vec<Found>,
    wanted: F,
}

impl<F: Fn(u32) -> bool> Visitor for Nearest<F> {
    /// At equal distances only what comes earlier in the points' order: of very
    /// many points in one place the first few are enough.
    fn wants(&self, squared: f64, least: f64, _: f64) -> bool {
        match self.best.last() {
            Some(worst) if self.best.len() == self.k => {
                (squared, least) < (worst.squared, f64::from(worst.at))
            }
            _ => self.k > 0,
        }
    }

    fn meet(&mut self, found: Found) {
        let place = self.best.partition_point(|other| other.before(&found));
        if place < self.k && (self.wanted)(found.at) {
            self.best.insert(place, found);
            self.best.truncate(self.k);
        }
    }
}

fn squared(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum()
}

fn split(points: &[f64], dimensions: usize, order: &mut [u32], depth: usize, compared: &mut u64) {
    if order.len() <= LEAF || dimensions == 0 {
        return;
    }
    let axis = depth % dimensions;
    let middle = order.len() / 2;
    let coordinate = |at: u32| points[at as usize * dimensions + axis];
    order.select_nth_unstable_by(middle, |a, b| {
        *compared += 1;
        coordinate(*a).total_cmp(&coordinate(*b)).then(a.cmp(b))
    });
    let (low, rest) = order.split_at_mut(middle);
    split(points, dimensions, low, depth + 1, compared);
    split(points, dimensions, &mut rest[1..], depth + 1, compared);
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn scan(points: &[f64], from: &[f64], wanted: impl Fn(u32) -> bool) -> Vec<Found> {
        let mut all: Vec<Found> = points
            .chunks(from.len())
            .enumerate()
            .map(|(at, point)| Found {
                at: at as u32,
                squared: squared(from, point),
            })
            .filter(|found| wanted(found.at))
            .collect();
        all.sort_by(|a, b| a.squared.total_cmp(&b.squared).then(a.at.cmp(&b.at)));
        all
    }

    /// Keeps all it meets, of a measure no more than `most`.
    struct All {
        most: f64,
        met: Vec<u32>,
    }

    impl Visitor for All {
        fn wants(&self, _: f64, least: f64, _: f64) -> bool {
            least <= self.most
        }

        fn meet(&mut self, found: Found) {
            self.met.push(found.at);
        }
    }

    #[test]
    fn finds_the_nearest_of_a_published_example() {
        // scikit-learn 1.9.1, docstring of NearestNeighbors: nearest to (1, 1, 1)
        // is point 2 at 0.5.
        let points = [0., 0., 0., 0., 0.5, 0., 1., 1., 0.5];
        let (found, looked) =
            Tree::new(&points, 3, &numbers(3)).nearest(&[1., 1., 1.], 1, |_| true);
        let nearest = Found {
            at: 2,
            squared: 0.25,
        };
        assert_eq!((found, looked), (vec![nearest], 3));
    }

    #[test]
    fn points_without_a_dimension_are_all_as_near() {
        let (found, _) = Tree::new(&[], 0, &numbers(40)).nearest(&[], 2, |at| at > 4);
        let numbers: Vec<u32> = found.iter().map(|found| found.at).collect();
        assert_eq!(numbers, [5, 6]);
    }

    #[test]
    fn no_more_is_looked_at_than_was_allowed() {
        let points: Vec<f64> = (0..3000_u32)
            .map(|at| f64::from(at * 7919 % 1009))
            .collect();
        let tree = Tree::new(&points, 3, &numbers(1000));
        let mut all = All {
            most: 1000.0,
            met: Vec::new(),
        };
        assert_eq!(tree.walk(&[500.0; 3], None, 100, &mut all), 100);
        assert_eq!(all.met.len(), 100);
    }

    proptest! {
        #[test]
        fn prop_within_a_reach_the_tree_meets_what_a_plain_scan_finds(
            points in prop::collection::vec(-3i8..3, 0..600),
            from in prop::collection::vec(-3i8..3, 3),
            reach in prop::collection::vec(0.0..4.0_f64, 3),
            most in -3.0..3.0_f64,
        ) {
            let points: Vec<f64> = points.chunks_exact(3).flatten().map(|x| f64::from(*x)).collect();
            let from: Vec<f64> = from.iter().map(|x| f64::from(*x)).collect();
            let along: Vec<f64> = points.chunks(3).map(|point| point[0] + point[2]).collect();
            let mut all = All { most, met: Vec::new() };
            let looked = Tree::new(&points, 3, &along).walk(&from, Some(&reach), usize::MAX, &mut all);
            prop_assert!(looked <= along.len());
            // A cell is met whole, so what is turned away by the measure may be met too.
            let mut met = all.met;
            met.retain(|at| along[*at as usize] <= most);
            met.sort_unstable();
            let inside = |at: u32| along[at as usize] <= most && (0..3).all(|axis| {
                (points[3 * at as usize + axis] - from[axis]).abs() <= reach[axis]
            });
            let mut expected: Vec<u32> = scan(&points, &from, inside).iter().map(|f| f.at).collect();
            expected.sort_unstable();
            prop_assert_eq!(met, expected);
        }

        #[test]
        fn prop_the_tree_finds_what_a_plain_scan_finds(
            points in prop::collection::vec(-3i8..3, 0..600),
            from in prop::collection::vec(-3i8..3, 3),
            k in 0usize..6,
            odd in any::<bool>(),
        ) {
            let points: Vec<f64> = points.chunks_exact(3).flatten().map(|x| f64::from(*x)).collect();
            let from: Vec<f64> = from.iter().map(|x| f64::from(*x)).collect();
            let wanted = |at: u32| !odd || at % 2 == 1;
            let mut expected = scan(&points, &from, wanted);
            expected.truncate(k);
            let tree = Tree::new(&points, 3, &numbers(points.len() / 3));
            prop_assert_eq!(tree.nearest(&from, k, wanted).0, expected);
        }
    }
}
