//! Through any function, by differences.

use crate::quantity::Uncertain;

/// A value worked out by `f` from several inputs, with the uncertainty of all of
/// them: each sensitivity is the central difference over ±u of its input
/// (JCGM 100:2008, 5.1.3, note 2), and sources that inputs share stay
/// correlated (5.2.2).
///
/// `f` is called with the inputs' values in their order, twice for each input
/// that has an uncertainty. It must answer an error for what is not a finite
/// number.
///
/// # Errors
/// The first error of `f`.
pub fn through_function<E>(
    value: f64,
    inputs: &[&Uncertain],
    mut f: impl FnMut(&[f64]) -> Result<f64, E>,
) -> Result<Uncertain, E> {
    let mut at: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let mut sensitivities = Vec::with_capacity(inputs.len());
    for (index, input) in inputs.iter().enumerate() {
        let u = input.u();
        if u == 0.0 {
            sensitivities.push(0.0);
            continue;
        }
        let up = moved(&mut at, &[(index, u)], &mut f)?;
        let down = moved(&mut at, &[(index, -u)], &mut f)?;
        sensitivities.push((up - down) / (2.0 * u));
    }
    Ok(Uncertain::combine(
        value,
        sensitivities.into_iter().zip(inputs.iter().copied()),
    ))
}

/// `f` with some inputs moved; they are put back exactly.
pub(super) fn moved<E>(
    at: &mut [f64],
    moves: &[(usize, f64)],
    f: &mut impl FnMut(&[f64]) -> Result<f64, E>,
) -> Result<f64, E> {
    let before: Vec<f64> = moves.iter().map(|(index, _)| at[*index]).collect();
    for (index, by) in moves {
        at[*index] += by;
    }
    let result = f(at);
    for ((index, _), value) in moves.iter().zip(before) {
        at[*index] = value;
    }
    result
}

/// How far a function bends within the uncertainty of its inputs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curvature {
    /// Combined standard uncertainty by the slopes alone.
    pub first: f64,
    /// The same with the second-order terms ½ΣΣ f_ij²u_i²u_j² added.
    pub second: f64,
    /// How far the mean of the result lies from the result at the means,
    /// ½Σ f_ii u_i².
    pub shift: f64,
}

impl Curvature {
    /// Whether the bend shows: the second-order terms change the uncertainty, or
    /// the shift the value, by over half a unit of the uncertainty's second
    /// significant digit (the tolerance of JCGM 101:2008, 7.9.2).
    pub fn shows(&self) -> bool {
        let tolerance = crate::measure::interval::tolerance(self.first, 2);
        self.second - self.first > tolerance || self.shift.abs() > tolerance
    }
}

/// The second-order terms of the law of propagation (JCGM 100:2008, 5.1.2,
/// note), by second differences over ±u, for inputs taken as independent. Terms
/// with third derivatives are left out: they vanish for products, and where
/// they matter draws are the method.
///
/// # Errors
/// The first error of `f`.
pub fn curvature<E>(
    inputs: &[&Uncertain],
    mut f: impl FnMut(&[f64]) -> Result<f64, E>,
) -> Result<Curvature, E> {
    let mut at: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let us: Vec<f64> = inputs.iter().map(|input| input.u()).collect();
    let here = f(&at)?;
    let (mut first, mut bend, mut shift) = (0.0, 0.0, 0.0);
    for (i, u) in us.iter().enumerate().filter(|(_, u)| **u > 0.0) {
        let up = moved(&mut at, &[(i, *u)], &mut f)?;
        let down = moved(&mut at, &[(i, -u)], &mut f)?;
        first += (0.5 * (up - down)).powi(2);
        let second = up - 2.0 * here + down;
        bend += 0.5 * second * second;
        shift += 0.5 * second;
        for (j, v) in us.iter().enumerate().skip(i + 1).filter(|(_, v)| **v > 0.0) {
            let mut corner = |a: f64, b: f64| moved(&mut at, &[(i, a * u), (j, b * v)], &mut f);
            let mixed = 0.25
                * (corner(1.0, 1.0)? - corner(1.0, -1.0)? - corner(-1.0, 1.0)?
                    + corner(-1.0, -1.0)?);
            // Twice ½: the pair stands twice in the double sum.
            bend += mixed * mixed;
        }
    }
    Ok(Curvature {
        first: first.sqrt(),
        second: (first + bend).sqrt(),
        shift,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Part, Shape, Source};
    use std::convert::Infallible;

    fn input(source: &'static str, value: f64, u: f64) -> Uncertain {
        Uncertain::new(
            value,
            [Part {
                source: Source::new(source),
                u,
                dof: f64::INFINITY,
                shape: Shape::Normal,
            }],
        )
    }

    #[test]
    fn an_exact_input_moves_nothing_and_keeps_its_place() {
        let (exact, b) = (Uncertain::exact(3.0), input("b", 6.0, 0.02));
        let difference = |x: &[f64]| Ok::<_, Infallible>(2.0 * x[0] - 5.0 * x[1]);
        let result = through_function(-24.0, &[&exact, &b], difference).unwrap();
        assert_eq!(result.parts().len(), 1);
        assert!((result.parts()[0].u + 0.1).abs() < 1e-12, "−5 · 0.02");
    }

    #[test]
    fn a_ratio_has_the_relative_uncertainties_in_quadrature() {
        let (loaded, fixed) = (input("a", 4.4, 0.01), input("b", 6.0, 0.02));
        let ratio = |x: &[f64]| Ok::<_, Infallible>(100.0 * x[0] / x[1]);
        let value = ratio(&[4.4, 6.0]).unwrap();
        let result = through_function(value, &[&loaded, &fixed], ratio).unwrap();
        let expected = value * (0.01_f64 / 4.4).hypot(0.02 / 6.0);
        assert!((result.u() / expected - 1.0).abs() < 2e-5);
    }

    #[test]
    fn what_two_inputs_share_cancels_in_their_difference() {
        let (a, b) = (input("bench", 4.0, 0.1), input("bench", 6.0, 0.1));
        let result = through_function(-2.0, &[&a, &b], |x| Ok::<_, Infallible>(x[0] - x[1]));
        assert!(result.unwrap().u() < 1e-15);
    }

    #[test]
    fn a_value_that_rises_with_its_input_keeps_the_sign_of_its_parts() {
        let a = input("a", 4.0, 0.1);
        for slope in [2.0, -2.0] {
            let result = through_function(8.0, &[&a], |x| Ok::<_, Infallible>(slope * x[0]));
            let u = result.unwrap().parts()[0].u;
            assert!((u - 0.1 * slope).abs() < 1e-12, "{u}");
        }
    }

    #[test]
    fn the_terms_of_a_product_are_those_of_the_guide() {
        // X·Y at (2, 3) with u = 2 and 0.5: (3·2)² + (2·0.5)², and (2·0.5)² beside them.
        let (x, y) = (input("x", 2.0, 2.0), input("y", 3.0, 0.5));
        let found = curvature(&[&x, &y], |x| Ok::<_, Infallible>(x[0] * x[1])).unwrap();
        assert!((found.first - 37.0_f64.sqrt()).abs() < 1e-12, "{found:?}");
        assert!((found.second - 38.0_f64.sqrt()).abs() < 1e-12, "{found:?}");
        assert!(found.shift.abs() < 1e-12, "{found:?}");
    }

    #[test]
    fn a_bend_shows_by_the_uncertainty_or_by_the_value_it_moves_either_way() {
        for (second, shift, shows) in [
            (1.0, 0.0, false),
            (1.04, 0.04, false),
            (1.04, -0.04, false),
            (1.06, 0.0, true),
            (1.0, 0.06, true),
            (1.0, -0.06, true),
        ] {
            let curvature = Curvature {
                first: 1.0,
                second,
                shift,
            };
            assert_eq!(curvature.shows(), shows, "{curvature:?}");
        }
    }

    #[test]
    fn an_error_of_the_function_comes_back() {
        let a = input("a", 1.0, 1.0);
        let answer = through_function(1.0, &[&a], |x| {
            if x[0] > 0.0 {
                Ok(1.0 / x[0])
            } else {
                Err("zero")
            }
        });
        assert_eq!(answer, Err("zero"));
    }

    #[test]
    fn the_square_of_nothing_bends_and_a_straight_line_does_not() {
        // X² at 0 with u = 1: variance 2, mean 1.
        let x = input("x", 0.0, 1.0);
        let bent = curvature(&[&x], |x| Ok::<_, Infallible>(x[0] * x[0])).unwrap();
        assert_eq!((bent.first, bent.shift), (0.0, 1.0));
        assert!((bent.second - 2.0_f64.sqrt()).abs() < 1e-15);
        assert!(bent.shows());
        // X·Y at 0, 0: variance u²v².
        let y = input("y", 0.0, 3.0);
        let product = curvature(&[&x, &y], |x| Ok::<_, Infallible>(x[0] * x[1])).unwrap();
        assert!((product.second - 3.0).abs() < 1e-15);
        let straight = curvature(&[&x, &y], |x| Ok::<_, Infallible>(x[0] + 2.0 * x[1])).unwrap();
        assert!(!straight.shows());
    }
}
