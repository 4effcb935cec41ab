//! Whether the analytic coverage interval stands up to random draws
//! (JCGM 101:2008, clause 8), and which of the two is to be stated.
//!
//! They part where a function bends or is cut off: no interval value ± U fits
//! there. They part where one coarse display makes up most of the uncertainty:
//! nothing lies beyond half its step. And they part a little where few trials
//! stand beside parts that are known: Welch and Satterthwaite's interval would be
//! narrower than that of draws by a third, so the parts are widened one by one (see
//! [`expanded`]), which is wider by a few hundredths.
//!
//! Drawing for every finding of every shoe would be slow and would change nothing,
//! so a rule draws only where a cheap criterion ([`may_part`], a bend within reach,
//! third-order terms) says that the two may part by more than [`STATED`]; what is
//! stated then is what [`interval_or_draws`] decides.
//!
//! A quantity's own model is a plain sum: mean of means, size step, errors of
//! instruments. So its standard uncertainty by the law of propagation is exact and
//! nothing bends, but a sum of errors need not be distributed as Student's t, and
//! the factor k may not fit (JCGM 101:2008, 5.7.2, from memory, asks for both). What
//! is stated after its ± is what [`stated`] decides, on the same criterion.

use super::coverage::{expanded, stands_on_few};
use super::drawn::{Drawn, Function};
use crate::quantity::{Expanded, Shape, Uncertain};
use std::convert::Infallible;

/// The stated numerical tolerance of a finding's interval, as a share of its
/// standard uncertainty: a twentieth.
///
/// With u = c × 10^l, c of two digits, JCGM 101:2008, 7.9.2 asks for half a unit of
/// the last digit, which is u/20 at c = 10 and u/198 at c = 99; with one digit it is
/// u/18 at its tightest. A twentieth is thus the tolerance of two digits at its
/// widest and tighter than that of one digit ever is. Nothing tighter would mean
/// anything: a deviation of 58 degrees of freedom is itself known to 9 %
/// (JCGM 100:2008, E.4.3), so the second digit of u is hardly known.
pub const STATED: f64 = 0.05;

/// The share of the variance, squared and summed over displays, from which on
/// value ± U is wider than draws say by more than [`STATED`] at 95 %: one display
/// with half the variance parts by 0.043 of the standard uncertainty, with 0.6 by
/// 0.068 (worked out with draws).
const COARSE: f64 = 0.25;

/// Whether value ± U may part from draws of the value by more than [`STATED`],
/// though nothing bends: few trials beside other parts, or one coarse display that
/// makes up most of the uncertainty.
pub fn may_part(value: &Uncertain) -> bool {
    let variance = value.u().powi(2);
    let steps: f64 = value
        .parts()
        .iter()
        .filter(|part| part.shape == Shape::Rectangular)
        .map(|part| (part.u.powi(2) / variance).powi(2))
        .sum();
    steps > COARSE || stands_on_few(value)
}

/// A quantity is drawn as the sum of its errors.
const ITSELF: Function<'static> = Function {
    kind: "quantity",
    text: "",
    numbers: &[],
};

/// What stands after a quantity's ±, and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// The expanded uncertainty; its factor is that of the draws where they are stated.
    pub expanded: Expanded,
    /// [`Method::Analytic`], or [`Method::Draws`].
    pub method: Method,
}

/// The expanded uncertainty of a sum of errors, such as every quantity is: k·u of
/// JCGM 100:2008 (6.2), or, where [`may_part`] says that k may not fit and draws of
/// the sum part from it by more than [`STATED`], half the width of the draws'
/// interval (JCGM 101:2008, 7.7). Errors here are as likely up as down, so that
/// interval lies even about the value, and it depends on the parts alone: the same
/// parts give the same draws, whatever the value. What `drawn` remembers is not drawn
/// again.
///
/// # Panics
/// If `coverage` is not between 0 and 1.
pub fn stated(value: &Uncertain, coverage: f64, drawn: &Drawn) -> Stated {
    let usual = Stated {
        expanded: expanded(value, coverage),
        method: Method::Analytic,
    };
    if value.parts().is_empty() || !may_part(value) {
        return usual;
    }
    let (error, u) = (value.through(0.0, 1.0), value.u());
    let itself = |x: &[f64]| Ok::<f64, Infallible>(x[0]);
    let Ok(ends) = drawn.interval(&[&error], coverage, ITSELF, itself);
    let found = interval_or_draws(plain(&error, coverage), ends, STATED * u);
    if found.method == Method::Analytic {
        return usual;
    }
    let half = 0.5 * (found.high - found.low);
    Stated {
        expanded: Expanded {
            U: half,
            k: half / u,
            coverage,
        },
        method: Method::Draws,
    }
}

/// Value ± U, lower end first.
///
/// # Panics
/// If `coverage` is not between 0 and 1.
pub fn plain(value: &Uncertain, coverage: f64) -> (f64, f64) {
    let half = expanded(value, coverage).U;
    (value.value - half, value.value + half)
}

/// The wider side of an interval about a value; what is printed after ±.
pub fn wider_side(value: f64, (low, high): (f64, f64)) -> f64 {
    (value - low).max(high - value).max(0.0)
}

/// The numerical tolerance of a standard uncertainty: with `u` written as
/// c × 10^l, c whole with `digits` digits, half of 10^l (JCGM 101:2008, 7.9.2).
/// Zero for an uncertainty of zero.
///
/// # Panics
/// If `digits` is zero.
pub fn tolerance(u: f64, digits: u8) -> f64 {
    assert!(digits > 0, "an uncertainty has significant digits");
    if u == 0.0 {
        return 0.0;
    }
    let digits = i32::from(digits);
    let whole = |exponent: i32| (u / 10_f64.powi(exponent)).round();
    let mut exponent = u.log10().floor() as i32 - (digits - 1);
    // The logarithm may be a hair off at a power of ten, and 9.96 rounds to 10.
    if whole(exponent) >= 10_f64.powi(digits) {
        exponent += 1;
    } else if whole(exponent) < 10_f64.powi(digits - 1) {
        exponent -= 1;
    }
    0.5 * 10_f64.powi(exponent)
}

/// How an analytic interval compares with that of draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validation {
    /// By how much the ends may differ.
    pub tolerance: f64,
    /// By how much the lower ends differ.
    pub low: f64,
    /// By how much the upper ends differ.
    pub high: f64,
}

impl Validation {
    /// Whether both ends agree within the tolerance, so that the analytic
    /// interval may be stated.
    pub fn holds(&self) -> bool {
        self.low <= self.tolerance && self.high <= self.tolerance
    }
}

/// Where a stated interval comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// The law of propagation (JCGM 100): value ± U, or carried through a bend.
    Analytic,
    /// Outcomes laid out as a grid, as much left over on either side: draws of
    /// JCGM 101 in an orderly form.
    Grid,
    /// Random draws (JCGM 101), as much left over on either side.
    Draws,
}

/// A coverage interval to be stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Its lower end, in the value's unit.
    pub low: f64,
    /// Its upper end, in the value's unit.
    pub high: f64,
    /// Where it comes from.
    pub method: Method,
    /// What the comparison said.
    pub validation: Validation,
}

/// Compares an analytic interval with that of draws of the same result, at the same
/// coverage.
///
/// The draws have to be many enough that their own scatter stays under the
/// tolerance (JCGM 101, 8.2 asks for a fifth of it): [`DRAWS`](super::drawn::DRAWS) for [`STATED`], a
/// million and more for two digits (see [`tolerance`]).
pub fn validate(analytic: (f64, f64), drawn: (f64, f64), tolerance: f64) -> Validation {
    Validation {
        tolerance,
        low: (analytic.0 - drawn.0).abs(),
        high: (analytic.1 - drawn.1).abs(),
    }
}

/// The analytic interval where draws of the same result bear it out, else that
/// of the draws; see [`validate`].
pub fn interval_or_draws(analytic: (f64, f64), drawn: (f64, f64), tolerance: f64) -> Interval {
    let validation = validate(analytic, drawn, tolerance);
    let (method, (low, high)) = if validation.holds() {
        (Method::Analytic, analytic)
    } else {
        (Method::Draws, drawn)
    };
    Interval {
        low,
        high,
        method,
        validation,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::propagate::{through_draws, through_piecewise};
    use crate::quantity::{Part, Shape, Source};
    use proptest::prelude::*;
    use std::convert::Infallible;

    fn input(name: String, value: f64, u: f64) -> Uncertain {
        Uncertain::new(
            value,
            [Part {
                source: Source::new(name),
                u,
                dof: f64::INFINITY,
                shape: Shape::Normal,
            }],
        )
    }

    #[test]
    fn the_tolerance_is_half_the_last_meaningful_digit() {
        // JCGM 101:2008, 7.9.2, examples 1 and 2: 0.000 35 g and 2 K (from memory, unverified).
        assert!((tolerance(0.000_35, 2) - 0.000_005).abs() < 1e-18);
        assert!((tolerance(2.0, 1) - 0.5).abs() < 1e-15);
        assert!(
            (tolerance(0.996, 2) - 0.05).abs() < 1e-15,
            "0.996 is 1.0 to two digits"
        );
        assert!((tolerance(1000.0, 2) - 50.0).abs() < 1e-12);
        assert_eq!(tolerance(0.0, 2), 0.0);
    }

    #[test]
    fn what_is_printed_after_the_sign_is_the_wider_side() {
        assert_eq!(wider_side(5.0, (2.0, 6.0)), 3.0);
        assert_eq!(wider_side(5.0, (4.0, 8.0)), 3.0);
        assert_eq!(wider_side(5.0, (5.0, 5.0)), 0.0);
    }

    #[test]
    fn both_ends_must_agree_within_the_tolerance_whichever_way_they_differ() {
        let x = input("calibration".into(), 10.0, 1.0);
        let itself = |x: &[f64]| Ok::<_, Infallible>(x[0]);
        let draws = through_draws(&[&x], itself, 1000, 3).unwrap();
        let (low, high) = draws.interval(0.95);
        for (below, above, holds) in [
            (0.25, 0.25, true),
            (-0.25, -0.25, true),
            (0.75, 0.25, false),
            (-0.75, 0.25, false),
            (0.25, 0.75, false),
            (0.25, -0.75, false),
        ] {
            let found = validate((low + below, high + above), (low, high), 0.5);
            assert!((found.low - below.abs()).abs() < 1e-12, "{found:?}");
            assert!((found.high - above.abs()).abs() < 1e-12, "{found:?}");
            assert_eq!(found.holds(), holds, "{found:?}");
        }
        let at = Validation {
            tolerance: 0.5,
            low: 0.5,
            high: 0.5,
        };
        assert!(at.holds());
    }

    #[test]
    fn three_trials_beside_a_calibration_need_draws_and_pooled_repeatability_does_not() {
        for (dof, method, narrower) in [(2.0, Method::Draws, 1.02), (58.0, Method::Analytic, 0.995)]
        {
            let part = |name: &'static str, dof: f64, shape: Shape| Part {
                source: Source::new(name),
                u: 0.035,
                dof,
                shape,
            };
            let travel = Uncertain::new(
                6.1,
                [
                    part("trials", dof, Shape::Student),
                    part("calibration", f64::INFINITY, Shape::Normal),
                ],
            );
            let itself = |x: &[f64]| Ok::<_, Infallible>(x[0]);
            let draws = through_draws(&[&travel], itself, 400_000, 11).unwrap();
            let stated = interval_or_draws(
                plain(&travel, 0.95),
                draws.interval(0.95),
                tolerance(travel.u(), 2),
            );
            assert_eq!(may_part(&travel), method == Method::Draws);
            assert_eq!(stated.method, method, "{dof} degrees of freedom");
            let (low, high) = draws.interval(0.95);
            let share = 2.0 * expanded(&travel, 0.95).U / (high - low);
            assert!(
                (share - narrower).abs() < 0.01,
                "{dof} degrees of freedom: {share}"
            );
        }
    }

    #[test]
    fn a_display_that_makes_up_most_of_the_uncertainty_is_known_for_what_it_is() {
        for (share, parts) in [(0.0, false), (0.45, false), (0.6, true), (1.0, true)] {
            let part = |name: &'static str, share: f64, shape: Shape| Part {
                source: Source::new(name),
                u: f64::sqrt(share),
                dof: f64::INFINITY,
                shape,
            };
            let value = Uncertain::new(
                3.0,
                [
                    part("resolution", share, Shape::Rectangular),
                    part("calibration", 1.0 - share, Shape::Normal),
                ],
            );
            assert_eq!(may_part(&value), parts, "{share}");
            let itself = |x: &[f64]| Ok::<_, Infallible>(x[0]);
            let draws = through_draws(&[&value], itself, 400_000, 17).unwrap();
            let stated = interval_or_draws(plain(&value, 0.95), draws.interval(0.95), STATED);
            assert_eq!(stated.method == Method::Draws, parts, "{share}");
        }
    }

    #[test]
    fn a_quantity_states_what_a_million_draws_bear_out() {
        const KNOWN: f64 = f64::INFINITY;
        let of = |value: f64, parts: &[(&'static str, f64, f64, Shape)]| {
            let part = |&(name, u, dof, shape): &(&'static str, f64, f64, Shape)| Part {
                source: Source::new(name),
                u,
                dof,
                shape,
            };
            Uncertain::new(value, parts.iter().map(part))
        };
        let trials = |u: f64, dof: f64| ("trials", u, dof, Shape::Student);
        let display = |u: f64| ("display", u, KNOWN, Shape::Rectangular);
        let calibration = |u: f64| ("calibration", u, KNOWN, Shape::Normal);
        for (value, method) in [
            (
                of(
                    6.1,
                    &[trials(0.04, 58.0), display(0.003), calibration(0.02)],
                ),
                Method::Analytic,
            ),
            (of(6.1, &[trials(0.04, 2.0)]), Method::Analytic),
            (of(6.1, &[display(0.3)]), Method::Draws),
            (of(-4.0, &[trials(0.05, 58.0), display(0.3)]), Method::Draws),
            (
                of(250.0, &[trials(0.4, 2.0), calibration(0.6)]),
                Method::Draws,
            ),
        ] {
            let found = stated(&value, 0.95, &Drawn::default());
            assert_eq!(found.method, method, "{value:?}");
            let itself = |x: &[f64]| Ok::<_, Infallible>(x[0]);
            let drawn = through_draws(&[&value], itself, 1_000_000, 20_261_125).unwrap();
            let (low, high) = drawn.interval(0.95);
            let half = found.expanded.U;
            // Where the density at the ends is thin, draws scatter by so much of the interval.
            let within = STATED * value.u().max((high - low) / 4.0);
            assert!(
                (value.value - half - low).abs() <= within
                    && (value.value + half - high).abs() <= within,
                "{value:?}: ± {half} but a million draws say ({low}, {high})"
            );
            assert!((found.expanded.k * value.u() / half - 1.0).abs() < 1e-12);
        }
        // Nothing lies beyond half a step: √3·0.95 standard uncertainties, not 1.96.
        let k = stated(&of(6.1, &[display(0.3)]), 0.95, &Drawn::default())
            .expanded
            .k;
        assert!((k - 0.95 * f64::sqrt(3.0)).abs() < 0.02, "{k}");
        let exact = stated(&Uncertain::exact(3.0), 0.95, &Drawn::default());
        assert_eq!(exact.expanded.U, 0.0);
    }

    #[test]
    fn the_same_parts_have_the_same_u_whatever_the_value() {
        let of = |value: f64| {
            let part = Part {
                source: Source::new("display"),
                u: 0.3,
                dof: f64::INFINITY,
                shape: Shape::Rectangular,
            };
            stated(&Uncertain::new(value, [part]), 0.95, &Drawn::default())
        };
        assert_eq!(of(6.1), of(-250.0));
    }

    #[test]
    fn at_a_clamped_end_the_draws_take_over() {
        let points = [(0.0, 0.0), (10.0, 100.0)];
        let x = input("calibration".into(), 9.99, 0.5);
        let score = through_piecewise(&x, &points, Source::new("bend"));
        let scale = |x: &[f64]| Ok::<_, Infallible>((10.0 * x[0]).clamp(0.0, 100.0));
        let draws = through_draws(&[&x], scale, 100_000, 5).unwrap();
        let interval = interval_or_draws(
            plain(&score, 0.95),
            draws.interval(0.95),
            tolerance(score.u(), 2),
        );
        assert_eq!(interval.method, Method::Draws);
        assert_eq!(interval.high, 100.0);
        assert!(score.value + expanded(&score, 0.95).U > 100.0);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(12))]
        #[test]
        fn prop_on_straight_models_draws_bear_out_the_analytic_interval(
            weights in prop::collection::vec(-3.0..3.0_f64, 1..5), us in prop::collection::vec(0.1..2.0_f64, 5), seed: u64,
        ) {
            let inputs: Vec<Uncertain> = us
                .iter()
                .take(weights.len())
                .enumerate()
                .map(|(at, u)| input(format!("source {at}"), at as f64, *u))
                .collect();
            let value: f64 = weights.iter().zip(&inputs).map(|(w, x)| w * x.value).sum();
            let result = Uncertain::combine(value, weights.iter().copied().zip(&inputs));
            let all: Vec<&Uncertain> = inputs.iter().collect();
            let model = |x: &[f64]| Ok::<_, Infallible>(x.iter().zip(&weights).map(|(x, w)| x * w).sum());
            let draws = through_draws(&all, model, 100_000, seed).unwrap();
            // An end of the interval scatters by √(p(1−p)/n)/φ = 0.0085 u; five of these.
            let within = tolerance(result.u(), 1);
            let validation = validate(plain(&result, 0.95), draws.interval(0.95), within);
            prop_assert!(validation.low < 0.043 * result.u(), "{validation:?}");
            prop_assert!(validation.high < 0.043 * result.u());
            let stated = interval_or_draws(plain(&result, 0.95), draws.interval(0.95), within);
            prop_assert!(stated.method == Method::Analytic && !may_part(&result));
        }
    }
}
