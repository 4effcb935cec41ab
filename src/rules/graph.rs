//! What rests on what: circles among the rules, and an order of judging.

use std::collections::BTreeSet;

/// The rules each rule needs, by place in the file.
pub(super) struct Graph(pub Vec<Vec<usize>>);

/// How far the walk has come with a rule.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Mark {
    New,
    Open,
    Done,
}

/// What a walk found.
pub(super) struct Walk {
    /// Every rule after those it needs; otherwise as in the file.
    pub order: Vec<usize>,
    /// Each circle once, from its first rule in the file, back to it.
    pub circles: Vec<Vec<usize>>,
}

impl Graph {
    /// Walks all rules in the file's order, each after what it needs.
    ///
    /// The walk keeps its own stack: a chain of rules may be as long as a file allows.
    pub fn walk(&self) -> Walk {
        let mut marks = vec![Mark::New; self.0.len()];
        let mut walk = Walk {
            order: Vec::with_capacity(self.0.len()),
            circles: Vec::new(),
        };
        let mut seen = BTreeSet::new();
        for start in 0..self.0.len() {
            if marks[start] != Mark::New {
                continue;
            }
            marks[start] = Mark::Open;
            let mut trail = vec![(start, 0)];
            while let Some((at, next)) = trail.last_mut() {
                let at = *at;
                let Some(needed) = self.0[at].get(*next).copied() else {
                    marks[at] = Mark::Done;
                    walk.order.push(at);
                    trail.pop();
                    continue;
                };
                *next += 1;
                match marks[needed] {
                    Mark::Done => {}
                    Mark::New => {
                        marks[needed] = Mark::Open;
                        trail.push((needed, 0));
                    }
                    Mark::Open => {
                        let circle = circle(&trail, needed);
                        if seen.insert(circle.clone()) {
                            walk.circles.push(circle);
                        }
                    }
                }
            }
        }
        walk
    }
}

/// The part of the trail from `from` on, turned so that it begins with its first
/// rule in the file, and closed.
fn circle(trail: &[(usize, usize)], from: usize) -> Vec<usize> {
    let mut places: Vec<usize> = trail
        .iter()
        .map(|(place, _)| *place)
        .skip_while(|place| *place != from)
        .collect();
    let least = (0..places.len())
        .min_by_key(|at| places[*at])
        .unwrap_or_default();
    places.rotate_left(least);
    places.push(places[0]);
    places
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_rule_comes_after_what_it_needs_and_otherwise_as_in_the_file() {
        let walk = Graph(vec![vec![2], vec![], vec![3], vec![]]).walk();
        assert_eq!(walk.order, [3, 2, 0, 1]);
        assert!(walk.circles.is_empty());
    }

    #[test]
    fn each_circle_is_named_once_from_its_first_rule_in_the_file() {
        let walk = Graph(vec![vec![1], vec![2], vec![1], vec![3], vec![0, 2]]).walk();
        assert_eq!(walk.circles, [vec![1, 2, 1], vec![3, 3]]);
    }

    #[test]
    fn a_chain_of_a_hundred_thousand_rules_needs_no_deep_stack() {
        let n = 100_000;
        let graph = Graph((0..n).map(|at| vec![(at + 1) % n]).collect());
        assert_eq!(graph.walk().circles.len(), 1);
    }

    proptest! {
        #[test]
        fn prop_an_order_without_circles_holds_every_rule_once_after_its_needs(
            needs in prop::collection::vec(prop::collection::vec(0..1000_usize, 0..4), 1..30)
        ) {
            // A rule needs only earlier ones, so there is no circle.
            let graph = Graph(
                needs
                    .iter()
                    .enumerate()
                    .map(|(at, of)| of.iter().filter(|_| at > 0).map(|n| n % at.max(1)).collect())
                    .collect(),
            );
            let walk = graph.walk();
            prop_assert!(walk.circles.is_empty());
            let mut place = vec![None; needs.len()];
            for (nth, at) in walk.order.iter().enumerate() {
                prop_assert_eq!(place[*at].replace(nth), None);
            }
            for (at, of) in graph.0.iter().enumerate() {
                for needed in of {
                    prop_assert!(place[*needed] < place[at]);
                }
            }
        }
    }
}
