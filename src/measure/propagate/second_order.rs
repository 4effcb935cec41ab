//! The interval of a function that bends within the uncertainty of its inputs.
//!
//! The function is taken as its Taylor polynomial of the second order, and the
//! inputs as normal with the covariance their shared sources give them
//! (JCGM 100:2008, 5.2.2). Mean, variance and third central moment of such a
//! quadratic form are exact: with slopes g, second derivatives H and covariance
//! C they are f + ½ tr(HC), gᵀCg + ½ tr(HCHC) and 3 gᵀCHCg + tr(HCHCHC)
//! (JCGM 100, 5.1.2, note, has the first two). The ends follow by the first term
//! of the Cornish–Fisher expansion (E. A. Cornish & R. A. Fisher, Revue de
//! l'Institut International de Statistique 5:307–320, 1937; from memory,
//! unverified).

use super::differences::moved;
use crate::measure::coverage::expanded;
use crate::measure::interval::STATED;
use crate::quantity::{Source, Uncertain};
use std::collections::BTreeMap;

/// Skewness from which on the next term of the expansion, γ²·(2k³ − 5k)/36, moves
/// an end by over a twentieth of the standard uncertainty at 95 %.
const MOST_SKEW: f64 = 0.55;

/// The interval of a function, to the second order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FunctionInterval {
    /// Its ends, the lower first.
    pub ends: (f64, f64),
    /// Whether the second order is enough for the stated tolerance
    /// ([`STATED`]); if not, draws are the method.
    pub holds: bool,
}

/// The coverage interval of `result`, which is `f` at the inputs with its
/// uncertainty by first order, as [`through_function`](super::through_function)
/// gives it. `f` is called with the inputs' values in their order.
///
/// On a straight function this is value ± U. Whether the second order is enough
/// is looked at where it matters, at the ends: with each input moved alone by k
/// standard uncertainties, and with all of them along the steepest way. A function
/// without slope, which has no such way, is also tried with every two moved.
///
/// # Errors
/// The first error of `f`.
///
/// # Panics
/// If `coverage` is not between 0 and 1.
pub fn function_interval<E>(
    result: &Uncertain,
    inputs: &[&Uncertain],
    coverage: f64,
    mut f: impl FnMut(&[f64]) -> Result<f64, E>,
) -> Result<FunctionInterval, E> {
    let wide = expanded(result, coverage);
    let first = result.u();
    let plain = |holds: bool| FunctionInterval {
        ends: (result.value - wide.U, result.value + wide.U),
        holds,
    };
    let unsure: Vec<usize> = (0..inputs.len())
        .filter(|at| inputs[*at].u() > 0.0)
        .collect();
    let steps: Vec<f64> = unsure.iter().map(|at| inputs[*at].u()).collect();
    let mut at: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let here = f(&at)?;
    if first == 0.0 {
        // Level at the inputs; a corner, a step or the foot of a square may lie within
        // reach all the same.
        let end = |at: &usize| (*at, expanded(inputs[*at], coverage).U);
        let ends: Vec<(usize, f64)> = unsure.iter().map(end).collect();
        return Ok(plain(is_level(&mut at, &ends, here, &mut f)));
    }
    let n = unsure.len();
    // In steps of one standard uncertainty each, so that C is a matrix of correlations.
    let (mut slopes, mut bends) = (vec![0.0; n], vec![vec![0.0; n]; n]);
    for i in 0..n {
        let up = moved(&mut at, &[(unsure[i], steps[i])], &mut f)?;
        let down = moved(&mut at, &[(unsure[i], -steps[i])], &mut f)?;
        slopes[i] = 0.5 * (up - down);
        bends[i][i] = up - 2.0 * here + down;
        for j in 0..i {
            let mut corner = |a: f64, b: f64| {
                let moves = [(unsure[i], a * steps[i]), (unsure[j], b * steps[j])];
                moved(&mut at, &moves, &mut f)
            };
            let mixed = 0.25
                * (corner(1.0, 1.0)? - corner(1.0, -1.0)? - corner(-1.0, 1.0)?
                    + corner(-1.0, -1.0)?);
            bends[i][j] = mixed;
            bends[j][i] = mixed;
        }
    }
    let correlation = correlations(&unsure.iter().map(|at| inputs[*at]).collect::<Vec<_>>());
    let turned = product(&bends, &correlation);
    let twice = product(&turned, &turned);
    let thrice = product(&twice, &turned);
    let carried = times(&correlation, &slopes);
    let variance = dot(&slopes, &carried) + 0.5 * trace(&twice);
    let third = 3.0 * dot(&carried, &times(&bends, &carried)) + trace(&thrice);
    if variance <= 0.0 || !variance.is_finite() || !third.is_finite() {
        return Ok(plain(false));
    }
    let u = variance.sqrt();
    let middle = result.value + 0.5 * trace(&turned);
    let skew = third / (variance * u);
    let lean = skew / 6.0 * (wide.k * wide.k - 1.0);
    let quadratic =
        |moves: &[f64]| here + dot(&slopes, moves) + 0.5 * dot(moves, &times(&bends, moves));
    let steepest = dot(&slopes, &carried).sqrt();
    let along = |by: f64| {
        let share = if steepest > 0.0 { by / steepest } else { 0.0 };
        carried.iter().map(|slope| share * slope).collect()
    };
    let alone = |i: usize, by: f64| (0..n).map(|j| if i == j { by } else { 0.0 }).collect();
    let mut probes: Vec<Vec<f64>> = vec![along(wide.k), along(-wide.k)];
    probes.extend((0..n).flat_map(|i| [alone(i, wide.k), alone(i, -wide.k)]));
    let mut holds = skew.abs() <= MOST_SKEW;
    for probe in probes {
        let moves: Vec<(usize, f64)> = (0..n).map(|i| (unsure[i], probe[i] * steps[i])).collect();
        // Where there is no result at all the second order says nothing of it.
        let off = moved(&mut at, &moves, &mut f).map(|there| (there - quadratic(&probe)).abs());
        holds &= off.is_ok_and(|off| off <= STATED * u);
    }
    Ok(FunctionInterval {
        ends: (middle + u * (lean - wide.k), middle + u * (lean + wide.k)),
        holds,
    })
}

/// Whether `f` stays as it is `here` with each input, and with every two of them, moved
/// to their ends.
fn is_level<E>(
    at: &mut [f64],
    ends: &[(usize, f64)],
    here: f64,
    f: &mut impl FnMut(&[f64]) -> Result<f64, E>,
) -> bool {
    let mut stays = |moves: &[(usize, f64)]| moved(at, moves, f).is_ok_and(|there| there == here);
    for (i, &(one, by)) in ends.iter().enumerate() {
        for by in [by, -by] {
            let mut pairs = ends[..i].iter().flat_map(|&(other, along)| {
                [along, -along].map(|along| [(one, by), (other, along)])
            });
            if !stays(&[(one, by)]) || !pairs.all(|pair| stays(&pair)) {
                return false;
            }
        }
    }
    true
}

/// How strongly inputs go together by the sources they share.
fn correlations(inputs: &[&Uncertain]) -> Vec<Vec<f64>> {
    let parts: Vec<BTreeMap<&Source, f64>> = inputs
        .iter()
        .map(|input| {
            let u = input.u();
            let share = |part: &'_ crate::quantity::Part| part.u / u;
            input
                .parts()
                .iter()
                .map(|part| (&part.source, share(part)))
                .collect()
        })
        .collect();
    let together = |a: &BTreeMap<&Source, f64>, b: &BTreeMap<&Source, f64>| {
        a.iter()
            .filter_map(|(source, share)| Some(share * b.get(source)?))
            .sum::<f64>()
    };
    parts
        .iter()
        .map(|a| parts.iter().map(|b| together(a, b)).collect())
        .collect()
}

fn product(a: &[Vec<f64>], b: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let entry = |row: &[f64], column: usize| {
        row.iter()
            .zip(b)
            .map(|(x, other)| x * other[column])
            .sum::<f64>()
    };
    a.iter()
        .map(|row| (0..b.len()).map(|column| entry(row, column)).collect())
        .collect()
}

fn times(matrix: &[Vec<f64>], vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, vector)).collect()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

fn trace(matrix: &[Vec<f64>]) -> f64 {
    matrix.iter().enumerate().map(|(at, row)| row[at]).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::propagate::{through_draws, through_function};
    use crate::quantity::{Part, Shape};
    use std::convert::Infallible;

    fn value(x: f64, parts: &[(&'static str, f64)]) -> Uncertain {
        Uncertain::new(
            x,
            parts.iter().map(|(name, u)| Part {
                source: Source::new(*name),
                u: *u,
                dof: f64::INFINITY,
                shape: Shape::Normal,
            }),
        )
    }

    fn both(
        inputs: &[&Uncertain],
        f: impl Fn(&[f64]) -> f64,
    ) -> (Uncertain, (f64, f64), (f64, f64)) {
        let f = |x: &[f64]| Ok::<_, Infallible>(f(x));
        let at: Vec<f64> = inputs.iter().map(|input| input.value).collect();
        let result = through_function(f(&at).unwrap(), inputs, f).unwrap();
        let interval = function_interval(&result, inputs, 0.95, f).unwrap();
        assert!(interval.holds);
        let interval = interval.ends;
        let drawn = through_draws(inputs, f, 400_000, 3).unwrap().interval(0.95);
        (result, interval, drawn)
    }

    #[test]
    fn on_a_straight_function_it_is_value_and_expanded_uncertainty() {
        let (a, b) = (value(4.0, &[("a", 0.1)]), value(6.0, &[("b", 0.2)]));
        let (result, (low, high), _) = both(&[&a, &b], |x| x[0] - 2.0 * x[1]);
        let half = expanded(&result, 0.95).U;
        assert!((low - (-8.0 - half)).abs() < 1e-9 && (high - (-8.0 + half)).abs() < 1e-9);
    }

    #[test]
    fn a_ratio_of_two_drops_on_one_gauge_leans_as_draws_do() {
        // Loaded over static drop: the gauge's calibration moves both, and partly cancels.
        for (loaded, fixed) in [(4.4, 6.0), (1.9, 4.0), (8.0, 8.1)] {
            let a = value(loaded, &[("trials a", 0.08), ("gauge", 0.075)]);
            let b = value(fixed, &[("trials b", 0.12), ("gauge", 0.075)]);
            let (result, found, drawn) = both(&[&a, &b], |x| 100.0 * x[0] / x[1]);
            let within = 0.02 * result.u();
            assert!((found.0 - drawn.0).abs() < within, "{found:?} {drawn:?}");
            assert!((found.1 - drawn.1).abs() < within, "{found:?} {drawn:?}");
            // What they share cancels in part: taken as independent the ratio would be less sure.
            let apart = value(fixed, &[("trials b", 0.12), ("another gauge", 0.075)]);
            let (independent, _, _) = both(&[&a, &apart], |x| 100.0 * x[0] / x[1]);
            assert!(result.u() < 0.95 * independent.u());
        }
    }

    // 40a + 30b + a² + 3ab at (1, 2), in steps of u(a) = 0.5 and u(b) = 1: slopes 24 and
    // 33, second derivatives 0.5, 1.5 and 0, correlation 0.6·0.6 by the shared bench.
    // Mean, variance and third moment by the module's formulas, worked out apart from
    // this code; a million draws of the model agree to 0.003 standard uncertainties.
    #[test]
    fn a_quadratic_form_has_the_mean_the_width_and_the_lean_of_its_moments() {
        let a = value(1.0, &[("bench", 0.3), ("a", 0.4)]);
        let b = value(2.0, &[("bench", 0.6), ("b", 0.8)]);
        let f = |x: &[f64]| {
            Ok::<_, Infallible>(40.0 * x[0] + 30.0 * x[1] + x[0] * x[0] + 3.0 * x[0] * x[1])
        };
        let result = through_function(107.0, &[&a, &b], f).unwrap();
        let found = function_interval(&result, &[&a, &b], 0.95, f).unwrap();
        assert!(found.holds);
        assert!((found.ends.0 - 18.315_869_043).abs() < 1e-6, "{found:?}");
        assert!((found.ends.1 - 203.776_381_673).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn a_result_that_leans_too_far_either_way_is_not_told_by_its_skewness() {
        // A square is its own second order; only its skewness is beyond what is taken.
        let x = value(0.5, &[("x", 0.5)]);
        for sign in [1.0, -1.0] {
            let f = |x: &[f64]| Ok::<_, Infallible>(sign * x[0] * x[0]);
            let result = through_function(sign * 0.25, &[&x], f).unwrap();
            assert!(!function_interval(&result, &[&x], 0.95, f).unwrap().holds);
        }
    }

    #[test]
    fn where_the_second_order_is_not_enough_it_says_so() {
        let holds = |inputs: &[&Uncertain], f: fn(&[f64]) -> f64| {
            let f = |x: &[f64]| Ok::<_, Infallible>(f(x));
            let at: Vec<f64> = inputs.iter().map(|input| input.value).collect();
            let result = through_function(f(&at).unwrap(), inputs, f).unwrap();
            function_interval(&result, inputs, 0.95, f).unwrap().holds
        };
        let (loaded, fixed) = (value(4.4, &[("a", 0.08)]), value(6.0, &[("b", 0.12)]));
        assert!(holds(&[&loaded, &fixed], |x| x[0] / x[1]));
        // A denominator near zero.
        assert!(!holds(&[&loaded, &value(0.5, &[("b", 0.12)])], |x| x[0] / x[1]));
        // A corner within reach, and out of reach.
        assert!(!holds(&[&loaded], |x| x[0].max(4.3)));
        assert!(holds(&[&loaded], |x| x[0].max(4.0)));
        // No result at one end.
        let bounded = |x: &[f64]| if x[0] > 4.3 { Ok(x[0]) } else { Err("low") };
        let narrow = value(4.4, &[("a", 0.08)]);
        assert!(
            !function_interval(&narrow, &[&narrow], 0.95, bounded)
                .unwrap()
                .holds
        );
    }

    #[test]
    fn a_function_without_slope_is_sure_only_if_it_is_level_as_far_as_the_ends() {
        let (x, y) = (value(4.4, &[("a", 0.1)]), value(0.0, &[("b", 0.1)]));
        let holds = |f: fn(&[f64]) -> f64| {
            let f = |x: &[f64]| Ok::<_, Infallible>(f(x));
            let result = through_function(f(&[4.4, 0.0]).unwrap(), &[&x, &y], f).unwrap();
            assert_eq!(result.u(), 0.0);
            function_interval(&result, &[&x, &y], 0.95, f)
                .unwrap()
                .holds
        };
        assert!(holds(|_| 7.0));
        assert!(holds(|x| x[0].max(4.7)));
        // A corner and a step between one and two standard uncertainties away.
        assert!(!holds(|x| x[0].max(4.55)));
        assert!(!holds(|x| if x[0] > 4.55 { 1.0 } else { 0.0 }));
        assert!(!holds(|x| if x[0] < 4.25 { 1.0 } else { 0.0 }));
        // The foot of a square, and the middle of a saddle.
        assert!(!holds(|x| x[1] * x[1]));
        assert!(!holds(|x| (x[0] - 4.4) * x[1]));
    }

    #[test]
    fn an_error_of_the_function_comes_back() {
        let a = value(1.0, &[("a", 1.0)]);
        let answer = function_interval(&a, &[&a], 0.95, |x| {
            if x[0] > 0.5 { Ok(x[0]) } else { Err("low") }
        });
        assert_eq!(answer, Err("low"));
    }
}
