//! Where a weighed sum of bent scores lies.
//!
//! A scale only rises or only falls, so the ends of its interval are the scale
//! at the ends of the quantity's: quantiles go through a monotone function as
//! they are (JCGM 101:2008, 5.3, where the transformation is monotone). A sum of
//! several such scores has no such short way. Where no scale bends within reach
//! the law of propagation is exact enough; beside a corner or at a clamped end
//! the distributions are laid out as a grid of equally likely outcomes and added
//! outcome by outcome, which are draws of JCGM 101 in an orderly form: the same
//! on every machine, without scatter, and cheap.

use super::piecewise::piecewise_at;
use crate::measure::coverage::{coverage_factor, expanded};
use crate::measure::distribution::normal_quantile;
use crate::quantity::Uncertain;
use std::sync::OnceLock;

/// Outcomes of one addend, and how far apart those lie that meet in turn: two
/// neighbours of the Fibonacci sequence.
const OUTCOMES: usize = 4181;
const APART: usize = 2584;

/// How far a corner must lie from a value, in expanded uncertainties, to be out
/// of reach: three standard uncertainties at a coverage of 95 %.
const REACH: f64 = 1.5;

/// One addend of a weighed sum.
#[derive(Clone, Copy, Debug)]
pub enum Addend<'a> {
    /// A quantity through a scale.
    Scaled {
        /// The quantity.
        value: &'a Uncertain,
        /// The scale's points, in rising or falling order of value.
        points: &'a [(f64, f64)],
    },
    /// A score of which only the interval is known.
    Between {
        /// The score.
        score: f64,
        /// Its interval.
        interval: (f64, f64),
    },
}

/// Whether a scale bends, or ends, within reach of the value.
pub fn bends_near(value: &Uncertain, points: &[(f64, f64)], coverage: f64) -> bool {
    let reach = REACH * expanded(value, coverage).U;
    reach > 0.0
        && points
            .iter()
            .any(|(at, _)| (at - value.value).abs() <= reach)
}

/// The interval of a scale's score: the scale at the ends of the value's own
/// interval, lower end first.
///
/// # Panics
/// If there are no points.
pub fn scale_interval(value: &Uncertain, points: &[(f64, f64)], coverage: f64) -> (f64, f64) {
    let half = expanded(value, coverage).U;
    let (a, b) = (
        piecewise_at(points, value.value - half),
        piecewise_at(points, value.value + half),
    );
    (a.min(b), a.max(b))
}

/// The interval of Σ weight · addend for independent addends, as much left over
/// on either side.
///
/// # Panics
/// If there are no addends, or `coverage` is not between 0 and 1.
pub fn sum_interval(addends: &[(f64, Addend<'_>)], coverage: f64) -> (f64, f64) {
    let mut addends = addends.iter();
    let mut sum = outcomes(addends.next().expect("a sum has addends"), coverage);
    for addend in addends {
        sum.sort_unstable_by(f64::total_cmp);
        sum = add(&sum, &outcomes(addend, coverage));
    }
    let tail = 0.5 * (1.0 - coverage);
    (quantile(&mut sum, tail), quantile(&mut sum, 1.0 - tail))
}

/// An addend as equally likely outcomes.
fn outcomes((weight, addend): &(f64, Addend<'_>), coverage: f64) -> Vec<f64> {
    let places = places();
    // The normal shape, as wide as the expanded uncertainty at the coverage.
    let z = coverage_factor(coverage, f64::INFINITY);
    match addend {
        Addend::Scaled { value, points } => {
            let width = expanded(value, coverage).U / z;
            places
                .iter()
                .map(|place| weight * piecewise_at(points, value.value + width * place))
                .collect()
        }
        Addend::Between { score, interval } => places
            .iter()
            .map(|place| {
                let half = if *place < 0.0 {
                    score - interval.0
                } else {
                    interval.1 - score
                };
                weight * (score + half / z * place)
            })
            .collect(),
    }
}

/// The middles of equally likely stretches of the standard normal distribution.
fn places() -> &'static [f64; OUTCOMES] {
    static PLACES: OnceLock<[f64; OUTCOMES]> = OnceLock::new();
    PLACES.get_or_init(|| {
        std::array::from_fn(|at| normal_quantile((at as f64 + 0.5) / OUTCOMES as f64))
    })
}

/// Every outcome of one with one of the other.
fn add(sum: &[f64], to: &[f64]) -> Vec<f64> {
    sum.iter()
        .enumerate()
        .map(|(at, one)| one + to[at * APART % OUTCOMES])
        .collect()
}

/// The p-quantile of outcomes in any order, straight between the middles of their
/// steps. They are only put in order as far as that asks for.
fn quantile(outcomes: &mut [f64], p: f64) -> f64 {
    let at = (p * outcomes.len() as f64 - 0.5).clamp(0.0, (outcomes.len() - 1) as f64);
    let below = at.floor();
    let (_, one, rest) = outcomes.select_nth_unstable_by(below as usize, f64::total_cmp);
    let one = *one;
    let next = rest.iter().copied().min_by(f64::total_cmp).unwrap_or(one);
    let share = at - below;
    one * (1.0 - share) + next * share
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::propagate::through_draws;
    use crate::quantity::{Part, Shape, Source};
    use proptest::prelude::*;
    use std::convert::Infallible;

    fn value(name: &'static str, x: f64, u: f64) -> Uncertain {
        Uncertain::new(
            x,
            [Part {
                source: Source::new(name),
                u,
                dof: f64::INFINITY,
                shape: Shape::Normal,
            }],
        )
    }

    const RISING: [(f64, f64); 3] = [(0.0, 0.0), (50.0, 60.0), (100.0, 100.0)];
    const FALLING: [(f64, f64); 3] = [(0.0, 100.0), (40.0, 60.0), (60.0, 0.0)];

    #[test]
    fn a_scale_held_at_its_end_has_an_interval_to_one_side() {
        let x = value("x", 99.0, 2.0);
        let (low, high) = scale_interval(&x, &RISING, 0.95);
        assert_eq!(high, 100.0);
        assert!((low - (99.2 - 0.8 * 1.959_963_985 * 2.0)).abs() < 1e-6);
        assert!(bends_near(&x, &RISING, 0.95));
        assert!(!bends_near(&value("x", 75.0, 2.0), &RISING, 0.95));
    }

    #[test]
    fn a_falling_scale_has_its_interval_lower_end_first() {
        let (low, high) = scale_interval(&value("x", 50.0, 2.0), &FALLING, 0.95);
        let half = 3.0 * 1.959_963_985 * 2.0;
        assert!((low - (30.0 - half)).abs() < 1e-6, "{low}");
        assert!((high - (30.0 + half)).abs() < 1e-6, "{high}");
    }

    #[test]
    fn a_corner_is_within_reach_at_half_as_much_again_as_the_interval() {
        for (u, distance, near) in [(0.5, 1.4, true), (0.5, 1.5, false), (4.0, 11.7, true)] {
            for x in [50.0 - distance, 50.0 + distance] {
                let found = bends_near(&value("x", x, u), &RISING, 0.95);
                assert_eq!(found, near, "{x} {u}");
            }
        }
        assert!(!bends_near(&Uncertain::exact(50.0), &RISING, 0.95));
    }

    #[test]
    fn one_addend_keeps_its_interval_and_independent_ones_add_in_quadrature() {
        let holds = |addends: &[(f64, Addend<'_>)], low: f64, high: f64| {
            let found = sum_interval(addends, 0.95);
            assert!((found.0 - low).abs() < 0.05, "{found:?} {low}");
            assert!((found.1 - high).abs() < 0.05, "{found:?} {high}");
        };
        let between = |score, low, high| Addend::Between {
            score,
            interval: (low, high),
        };
        holds(&[(1.0, between(50.0, 40.0, 55.0))], 40.0, 55.0);
        holds(&[(0.5, between(50.0, 40.0, 55.0))], 20.0, 27.5);
        let half = 0.5 * 10.0_f64.hypot(20.0);
        holds(
            &[
                (0.5, between(50.0, 40.0, 60.0)),
                (0.5, between(30.0, 10.0, 50.0)),
            ],
            40.0 - half,
            40.0 + half,
        );
        let x = value("x", 75.0, 2.0);
        let scaled = Addend::Scaled {
            value: &x,
            points: &RISING,
        };
        // Four fifths of a point each: 80 ± 0.8·1.96·2.
        holds(&[(1.0, scaled)], 80.0 - 3.136, 80.0 + 3.136);
        let half = 0.5 * 3.136_f64.hypot(10.0);
        holds(
            &[(0.5, scaled), (0.5, between(20.0, 10.0, 30.0))],
            50.0 - half,
            50.0 + half,
        );
    }

    #[test]
    fn a_quantile_lies_straight_between_the_middles_of_the_steps() {
        let steps = [1.0, 2.0, 4.0, 8.0];
        for (p, expected) in [
            (0.0, 1.0),
            (0.125, 1.0),
            (0.25, 1.5),
            (0.5, 3.0),
            (0.75, 6.0),
            (0.875, 8.0),
            (1.0, 8.0),
        ] {
            assert_eq!(quantile(&mut steps.clone(), p), expected, "{p}");
        }
    }

    #[test]
    fn an_exact_value_has_an_interval_of_one_point() {
        let x = Uncertain::exact(50.0);
        assert_eq!(scale_interval(&x, &RISING, 0.95), (60.0, 60.0));
        let addend = Addend::Scaled {
            value: &x,
            points: &RISING,
        };
        let (low, high) = sum_interval(&[(0.5, addend), (0.5, addend)], 0.95);
        assert!((low - 60.0).abs() < 1e-12 && (high - 60.0).abs() < 1e-12);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        #[test]
        fn prop_draws_bear_out_a_sum_beside_its_corners(
            x in -2.0..105.0_f64, y in -2.0..65.0_f64, u in 0.2..4.0_f64, v in 0.2..4.0_f64, weight in 0.2..0.8_f64, seed: u64,
        ) {
            let (a, b) = (value("a", x, u), value("b", y, v));
            let addends = [
                (weight, Addend::Scaled { value: &a, points: &RISING }),
                (1.0 - weight, Addend::Scaled { value: &b, points: &FALLING }),
            ];
            let (low, high) = sum_interval(&addends, 0.95);
            let model = |at: &[f64]| Ok::<_, Infallible>(
                weight * piecewise_at(&RISING, at[0]) + (1.0 - weight) * piecewise_at(&FALLING, at[1]),
            );
            let draws = through_draws(&[&a, &b], model, 200_000, seed).unwrap();
            let drawn = draws.interval(0.95);
            // A twentieth of the standard uncertainty, and what the draws scatter by.
            let within = 0.05 * draws.u + 5.0 * 0.006 * draws.u + 1e-9;
            prop_assert!((low - drawn.0).abs() < within, "{low} {drawn:?} u {}", draws.u);
            prop_assert!((high - drawn.1).abs() < within, "{high} {drawn:?} u {}", draws.u);
        }
    }
}
