//! What differs from a shoe in one quantity and is otherwise alike.
//!
//! Two shoes differ in a quantity where their values lie farther apart than their
//! expanded uncertainties together, in quadrature; otherwise they are alike in it.
//! For each quantity a tree of all the others is walked, once for every shoe and in
//! the tree's own order, within the reach of the uncertainties; both what is less
//! and what is more come of the same walk. A walk has a fixed number of looks, the
//! nearer ones first, and leaves out what holds no shoe that is less or more; so the
//! whole grows as n·log n whatever the shoes are like. Among very many that can't be
//! told apart it gives up.

use super::nearest::{Found, Tree, Visitor};
use super::space::Space;
use super::standing::Alike;

/// How many shoes one search looks at. Among 12,500 invented shoes a search without
/// this limit finds one alternative in sixty more, and would take ever longer.
const LOOKS: usize = 80;

/// Up to how many shoes of a category every search may look at all of them: nothing
/// is then missed, and the work is still no more than a fixed number a shoe.
const WHOLE: usize = 512;

/// For each shoe of the space what is otherwise alike, in order of quantities, less
/// before more; and how many looks and comparisons it took.
pub(super) fn alike(space: &Space<'_>) -> (Vec<Vec<Alike>>, u64) {
    let mut found: Vec<Vec<Alike>> = vec![Vec::new(); space.len()];
    let mut work = 0;
    let looks = if space.len() <= WHOLE {
        space.len()
    } else {
        LOOKS
    };
    let widest: Vec<f64> = (0..space.axes())
        .map(|axis| {
            (0..space.len())
                .map(|at| space.wide(at, axis))
                .fold(0.0, f64::max)
        })
        .collect();
    for axis in 0..space.axes() {
        let others: Vec<usize> = (0..space.axes()).filter(|other| *other != axis).collect();
        let points = space.points(&others);
        let tree = Tree::new(&points, others.len(), &space.column(axis));
        work += tree.compared;
        let mut reach = vec![0.0; others.len()];
        for at in tree.order().iter().map(|at| *at as usize) {
            for (reach, other) in reach.iter_mut().zip(&others) {
                let unsure = space.wide(at, *other).hypot(widest[*other]);
                // Rounding of the scaled places must not cut off what lies at the edge.
                *reach = unsure / space.scales[*other] * (1.0 + 1e-9) + 1e-9;
            }
            let mut sides = Sides::about(space, at, axis, &others);
            let from = &points[at * others.len()..(at + 1) * others.len()];
            work += tree.walk(from, Some(&reach), looks, &mut sides) as u64;
            let both = sides.less.into_iter().chain(sides.more);
            found[at].extend(both.map(|(near, by)| Alike {
                slug: space.slugs[near.at as usize].clone(),
                quantity: space.keys[axis].clone(),
                by,
            }));
        }
    }
    (found, work)
}

/// The nearest shoe on either side of one, and by how much it is less or more.
struct Sides<'s> {
    space: &'s Space<'s>,
    at: usize,
    axis: usize,
    others: &'s [usize],
    /// What is less lies under the first, what is more over the second.
    beyond: (f64, f64),
    less: Option<(Found, f64)>,
    more: Option<(Found, f64)>,
}

impl<'s> Sides<'s> {
    fn about(space: &'s Space<'s>, at: usize, axis: usize, others: &'s [usize]) -> Self {
        let (value, wide) = (space.value(at, axis), space.wide(at, axis));
        Sides {
            space,
            at,
            axis,
            others,
            beyond: (value - wide, value + wide),
            less: None,
            more: None,
        }
    }
}

impl Visitor for Sides<'_> {
    fn wants(&self, squared: f64, least: f64, most: f64) -> bool {
        let nearer = |known: &Option<(Found, f64)>| {
            known
                .as_ref()
                .is_none_or(|(known, _)| squared <= known.squared)
        };
        (least <= self.beyond.0 && nearer(&self.less))
            || (most >= self.beyond.1 && nearer(&self.more))
    }

    fn meet(&mut self, near: Found) {
        let (space, at, other) = (self.space, self.at, near.at as usize);
        let Some(by) = space.apart(at, other, self.axis) else {
            return;
        };
        let known = if by < 0.0 {
            &mut self.less
        } else {
            &mut self.more
        };
        if known.as_ref().is_none_or(|(known, _)| near.before(known))
            && !space.same_model(at, other)
            && self
                .others
                .iter()
                .all(|each| space.apart(at, other, *each).is_none())
        {
            *known = Some((near, by));
        }
    }
}
