//! Through a scale of straight pieces.
//!
//! A scale bends at its points and is level beyond the outermost ones, so the
//! slope at the value is not enough: beside a corner, or at a clamped end, it
//! says too much or nothing. The error of the value is taken as normal and the
//! scale is linearised statistically (A. Gelb, ed., "Applied Optimal
//! Estimation", 1974, section 6.2, from memory, unverified): the slope is the
//! mean slope E\[f′(X)\], which is also Cov(f(X), X)/u² (Stein's lemma), and
//! what this line leaves over, Var f(X) − c²u², is uncorrelated with X and
//! becomes a part of its own. Both have closed forms by the normal distribution
//! on each piece. On a straight stretch this is slope times u (JCGM 100:2008,
//! 5.1.2) with nothing left over.

use crate::measure::distribution::{normal_cdf, normal_density, normal_upper_tail};
use crate::quantity::{Part, Shape, Source, Uncertain};

/// A remainder smaller than this share of the combined uncertainty is rounding.
const NOTHING: f64 = 1e-6;

/// An uncertainty smaller than this share of the scale's height is none: the value lies
/// so far beyond an end that no error brings it back.
const OUT_OF_REACH: f64 = 1e-9;

/// The scale at `x`: straight between its points, level beyond them.
///
/// `points` are (x, value) in strictly rising or strictly falling order of x.
///
/// # Panics
/// If there are no points.
pub fn piecewise_at(points: &[(f64, f64)], x: f64) -> f64 {
    let pieces = Pieces::new(points);
    let (first, last) = (pieces.get(0), pieces.get(points.len() - 1));
    if x <= first.0 {
        return first.1;
    }
    if x >= last.0 {
        return last.1;
    }
    let mut low = 0;
    let mut high = points.len() - 1;
    while high - low > 1 {
        let middle = usize::midpoint(low, high);
        if pieces.get(middle).0 <= x {
            low = middle;
        } else {
            high = middle;
        }
    }
    let (from, to) = (pieces.get(low), pieces.get(high));
    let share = (x - from.0) / (to.0 - from.0);
    // Written so that each point gives its own value to the last digit.
    from.1 * (1.0 - share) + to.1 * share
}

/// A scale seen through an uncertain value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linearised {
    /// Mean of the scale over the values that may be true. Beside a corner it
    /// differs from the scale at the value; the difference is stated here and
    /// corrected nowhere.
    pub mean: f64,
    /// Mean slope, by which every source of the value moves the result.
    pub slope: f64,
    /// Standard uncertainty that the mean slope leaves over.
    pub remainder: f64,
}

/// The scale linearised for a normal error `u` about `x`.
///
/// # Panics
/// If there are no points.
pub fn linearise(points: &[(f64, f64)], x: f64, u: f64) -> Linearised {
    let pieces = Pieces::new(points);
    let here = piecewise_at(points, x);
    let held = Linearised {
        mean: here,
        slope: 0.0,
        remainder: 0.0,
    };
    if u == 0.0 {
        return held;
    }
    let mut slope = 0.0;
    for piece in pieces.iter() {
        slope += piece.slope * moments_between(piece.standard(x, u)).0;
    }
    // What the line of the mean slope through the value leaves over, piece by
    // piece as α + β·t: on a straight stretch both vanish, and no digits cancel.
    let (mut first, mut second) = (0.0, 0.0);
    for piece in pieces.iter() {
        let alpha = piece.value_at(x) - here;
        let beta = (piece.slope - slope) * u;
        let (m0, m1, m2) = moments_between(piece.standard(x, u));
        first += alpha * m0 + beta * m1;
        second += alpha * alpha * m0 + 2.0 * alpha * beta * m1 + beta * beta * m2;
    }
    let remainder = (second - first * first).max(0.0).sqrt();
    let total = remainder.hypot(slope * u);
    let values = || points.iter().map(|(_, value)| *value);
    let height = values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min);
    if total <= OUT_OF_REACH * height {
        return held;
    }
    Linearised {
        mean: here + first,
        slope,
        remainder: if remainder <= NOTHING * total {
            0.0
        } else {
            remainder
        },
    }
}

/// An uncertain value through the scale.
///
/// The estimate is the scale at the value, held at the outermost points. The
/// remainder becomes a part with the source `residual`; its degrees of freedom
/// are chosen so that the result has those of the value, whose uncertainty is
/// all it stems from (taken as independent they would nearly double).
///
/// # Panics
/// If there are no points.
pub fn through_piecewise(value: &Uncertain, points: &[(f64, f64)], residual: Source) -> Uncertain {
    let u = value.u();
    let line = linearise(points, value.value, u);
    let here = piecewise_at(points, value.value);
    let carried = value.through(here, line.slope);
    if line.remainder == 0.0 {
        return carried;
    }
    let straight = (line.slope * u).powi(2);
    let left = line.remainder.powi(2);
    let part = Part {
        source: residual,
        u: line.remainder,
        dof: value.dof() * left / (2.0 * straight + left),
        shape: Shape::Normal,
    };
    Uncertain::new(here, carried.parts().iter().cloned().chain([part]))
}

/// The points in rising order of x, whichever way they were written.
#[derive(Clone, Copy)]
struct Pieces<'a> {
    points: &'a [(f64, f64)],
    falling: bool,
}

/// One piece: from `from` to `to` the line through (`at`, `value`).
struct Piece {
    from: f64,
    to: f64,
    at: f64,
    value: f64,
    slope: f64,
}

impl<'a> Pieces<'a> {
    fn new(points: &'a [(f64, f64)]) -> Self {
        assert!(!points.is_empty(), "a scale has points");
        let falling = points[0].0 > points[points.len() - 1].0;
        debug_assert!(
            points
                .windows(2)
                .all(|pair| (pair[0].0 > pair[1].0) == falling && pair[0].0 != pair[1].0),
            "the points of a scale are in order"
        );
        Pieces { points, falling }
    }

    fn get(self, index: usize) -> (f64, f64) {
        if self.falling {
            self.points[self.points.len() - 1 - index]
        } else {
            self.points[index]
        }
    }

    /// Level, the pieces between the points, level.
    fn iter(self) -> impl Iterator<Item = Piece> + 'a {
        let last = self.points.len() - 1;
        (0..=last + 1).map(move |index| {
            let (at, value) = self.get(index.min(last));
            if index == 0 {
                return Piece {
                    from: f64::NEG_INFINITY,
                    to: at,
                    at,
                    value,
                    slope: 0.0,
                };
            }
            if index > last {
                return Piece {
                    from: at,
                    to: f64::INFINITY,
                    at,
                    value,
                    slope: 0.0,
                };
            }
            let (from, before) = self.get(index - 1);
            Piece {
                from,
                to: at,
                at,
                value,
                slope: (value - before) / (at - from),
            }
        })
    }
}

impl Piece {
    fn value_at(&self, x: f64) -> f64 {
        self.value + self.slope * (x - self.at)
    }

    fn standard(&self, x: f64, u: f64) -> (f64, f64) {
        ((self.from - x) / u, (self.to - x) / u)
    }
}

/// ∫φ, ∫tφ and ∫t²φ between two places of the standard normal distribution.
fn moments_between((low, high): (f64, f64)) -> (f64, f64, f64) {
    let chance = if low > 0.0 {
        normal_upper_tail(low) - normal_upper_tail(high)
    } else {
        normal_cdf(high) - normal_cdf(low)
    };
    let (at_low, at_high) = (normal_density(low), normal_density(high));
    let times = |place: f64, density: f64| {
        if place.is_infinite() {
            0.0
        } else {
            place * density
        }
    };
    (
        chance,
        at_low - at_high,
        chance + times(low, at_low) - times(high, at_high),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SCALE: &[(f64, f64)] = &[
        (0.0, 0.0),
        (15.0, 20.0),
        (30.0, 40.0),
        (45.0, 60.0),
        (65.0, 80.0),
    ];

    #[test]
    fn without_an_error_the_scale_is_its_own_value_and_has_no_slope_to_carry() {
        let found = linearise(SCALE, 50.0, 0.0);
        // 60 + 5·20/20.
        assert_eq!((found.mean, found.slope, found.remainder), (65.0, 0.0, 0.0));
    }

    fn normal(value: f64, u: f64) -> Uncertain {
        Uncertain::new(
            value,
            [Part {
                source: Source::new("calibration"),
                u,
                dof: 9.0,
                shape: Shape::Normal,
            }],
        )
    }

    #[test]
    fn the_scale_gives_its_points_to_the_last_digit_whichever_way_they_are_written() {
        let falling: Vec<_> = SCALE.iter().rev().copied().collect();
        for (x, value) in SCALE {
            assert_eq!(piecewise_at(SCALE, *x), *value);
            assert_eq!(piecewise_at(&falling, *x), *value);
        }
        assert_eq!(piecewise_at(SCALE, -3.0), 0.0);
        assert_eq!(piecewise_at(SCALE, 300.0), 80.0);
        assert_eq!(piecewise_at(&falling, 60.0), 75.0);
        assert_eq!(piecewise_at(&[(1.0, 5.0)], 9.0), 5.0);
    }

    #[test]
    fn on_a_straight_stretch_it_is_slope_times_u_and_nothing_is_left_over() {
        let result = through_piecewise(&normal(55.0, 0.5), SCALE, Source::new("bend"));
        assert_eq!(result.parts().len(), 1);
        assert!((result.u() - 0.5).abs() < 1e-14);
        assert_eq!(result.dof(), 9.0);
    }

    #[test]
    fn at_a_clamped_end_half_the_error_remains() {
        // min(X, 0) of a standard normal X: mean −1/√(2π), variance ½ − 1/(2π).
        let line = linearise(&[(-100.0, -100.0), (0.0, 0.0)], 0.0, 1.0);
        let pi = std::f64::consts::PI;
        assert!((line.mean + 1.0 / (2.0 * pi).sqrt()).abs() < 1e-14);
        assert!((line.slope - 0.5).abs() < 1e-14);
        let variance = line.remainder.powi(2) + 0.25;
        assert!((variance - (0.5 - 0.5 / pi)).abs() < 1e-14);
    }

    #[test]
    fn across_a_corner_the_slopes_mix() {
        // |X| of a standard normal X: mean √(2/π), variance 1 − 2/π, slope 0.
        let line = linearise(&[(-50.0, 50.0), (0.0, 0.0), (50.0, 50.0)], 0.0, 1.0);
        let pi = std::f64::consts::PI;
        assert!((line.mean - (2.0 / pi).sqrt()).abs() < 1e-14);
        assert!(line.slope.abs() < 1e-15);
        assert!((line.remainder.powi(2) - (1.0 - 2.0 / pi)).abs() < 1e-13);
    }

    #[test]
    fn far_beyond_the_end_nothing_moves() {
        let result = through_piecewise(&normal(300.0, 0.5), SCALE, Source::new("bend"));
        assert_eq!((result.value, result.u()), (80.0, 0.0));
        assert_eq!(result.dof(), f64::INFINITY);
        // Some standard uncertainties beyond the end.
        let beyond = |x: f64| through_piecewise(&normal(x, 1.0), SCALE, Source::new("bend"));
        let end = SCALE[SCALE.len() - 1].0;
        assert_eq!(beyond(end + 8.0).u(), 0.0);
        assert!(beyond(end + 5.0).u() > 1e-9, "{}", beyond(end + 5.0).u());
    }

    #[test]
    fn a_corner_leaves_the_degrees_of_freedom_as_they_are() {
        let result = through_piecewise(&normal(45.0, 4.0), SCALE, Source::new("bend"));
        assert_eq!(result.parts().len(), 2);
        assert!((result.dof() - 9.0).abs() < 1e-12, "{}", result.dof());
    }

    fn scales() -> impl Strategy<Value = Vec<(f64, f64)>> {
        prop::collection::vec((0.1..10.0_f64, -10.0..10.0_f64), 2..7).prop_map(|steps| {
            let mut x = 0.0;
            steps
                .into_iter()
                .map(|(step, value)| {
                    x += step;
                    (x, value)
                })
                .collect()
        })
    }

    proptest! {
        #[test]
        fn prop_a_rising_scale_never_falls(x in -10.0..90.0_f64, more in 0.0..30.0_f64) {
            prop_assert!(piecewise_at(SCALE, x) <= piecewise_at(SCALE, x + more) + 1e-12);
        }

        #[test]
        fn prop_closed_forms_agree_with_sums_over_the_normal_distribution(
            points in scales(), x in -5.0..40.0_f64, u in 0.01..8.0_f64,
        ) {
            let line = linearise(&points, x, u);
            // Midpoint sums over ±9u.
            let steps = 40_000;
            let width = 18.0 / f64::from(steps);
            let (mut mean, mut square, mut with) = (0.0, 0.0, 0.0);
            for step in 0..steps {
                let t = -9.0 + width * (f64::from(step) + 0.5);
                let weight = normal_density(t) * width;
                let value = piecewise_at(&points, x + u * t);
                mean += weight * value;
                square += weight * value * value;
                with += weight * value * t;
            }
            let variance = line.remainder.powi(2) + (line.slope * u).powi(2);
            prop_assert!((line.mean - mean).abs() < 1e-5, "{} {mean}", line.mean);
            prop_assert!((variance - (square - mean * mean)).abs() < 1e-4);
            prop_assert!((line.slope * u - with).abs() < 1e-5);
        }

        #[test]
        fn prop_on_a_rising_scale_more_uncertainty_never_narrows_the_score(
            x in 5.0..60.0_f64, u in 0.01..4.0_f64, more in 1.01..2.0_f64,
        ) {
            let spread = |u: f64| {
                let line = linearise(&[(0.0, 0.0), (30.0, 40.0), (65.0, 80.0)], x, u);
                line.remainder.hypot(line.slope * u)
            };
            prop_assert!(spread(u * more) >= spread(u) - 1e-12);
        }
    }
}
