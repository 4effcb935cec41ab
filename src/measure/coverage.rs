//! Coverage factors and expanded uncertainty (JCGM 100:2008, clause 6 and G.4).
//!
//! The factor follows from the effective degrees of freedom (G.4.1). Where a
//! part rests on few trials and stands beside parts that are known, that formula
//! gives an interval much narrower than random draws do (JCGM 101:2008, 6.4.9:
//! a scaled Student t). Each part is then widened by its own factor and the
//! expanded parts are added in quadrature, which is exact where one part is all
//! there is, and never narrower than the draws. (The addition in quadrature of
//! a bias limit and t·s is an old usage of test codes; common practice, no source.)

use super::distribution::student_quantile;
use crate::quantity::{Expanded, Part, Shape, Uncertain};
use std::cell::RefCell;

/// The factor k by which a standard uncertainty with `dof` degrees of freedom is
/// widened so that value ± k·u covers with the chance `coverage`: the two-sided
/// Student t quantile, the normal one for infinite degrees of freedom.
///
/// Effective degrees of freedom are used as they come and are not cut down to a
/// whole number; JCGM 100, G.4.1 allows both (its example H.1 cuts 16.7 to 16).
///
/// # Panics
/// If `coverage` is not between 0 and 1, or `dof` is not positive.
pub fn coverage_factor(coverage: f64, dof: f64) -> f64 {
    assert!(
        (0.0..1.0).contains(&coverage),
        "coverage lies between 0 and 1"
    );
    assert!(dof > 0.0, "degrees of freedom are positive");
    FACTORS.with_borrow_mut(|factors| {
        factors.of(coverage, dof, || {
            // The lower tail keeps the digits of a coverage near one.
            -student_quantile(0.5 * (1.0 - coverage), dof)
        })
    })
}

/// Factors worked out before, at places their arguments tell: a folio asks for the
/// same few degrees of freedom a hundred thousand times, and Student's quantile is
/// dear. One that comes to another's place takes it, so they are never many.
struct Factors([(u64, u64, f64); PLACES]);

const PLACES: usize = 256;

thread_local! {
    static FACTORS: RefCell<Factors> = const { RefCell::new(Factors([(0, 0, f64::NAN); PLACES])) };
}

impl Factors {
    fn of(&mut self, coverage: f64, dof: f64, find: impl FnOnce() -> f64) -> f64 {
        let (coverage, dof) = (coverage.to_bits(), dof.to_bits());
        // Knuth's multiplicative hashing: the highest bits are the best mixed.
        let mixed = (coverage ^ dof.rotate_left(32)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let place = &mut self.0[(mixed >> (u64::BITS - PLACES.ilog2())) as usize];
        if (place.0, place.1) != (coverage, dof) {
            *place = (coverage, dof, find());
        }
        place.2
    }
}

/// Degrees of freedom from which on Welch and Satterthwaite's formula holds
/// against draws to a twentieth of the standard uncertainty, whatever the shares.
const ENOUGH_FREEDOM: f64 = 20.0;

/// Whether a value rests on trials with so few degrees of freedom, beside other
/// parts, that the effective degrees of freedom say too little.
pub fn stands_on_few(value: &Uncertain) -> bool {
    value.parts().len() > 1
        && value
            .parts()
            .iter()
            .any(|part| freedom(part) < ENOUGH_FREEDOM)
}

/// Degrees of freedom of trials. What a bend leaves over also has a finite number
/// of them, but only as a share in those of the whole.
fn freedom(part: &Part) -> f64 {
    match part.shape {
        Shape::Student => part.dof,
        Shape::Normal | Shape::Rectangular => f64::INFINITY,
    }
}

/// Expanded uncertainty at a coverage, with the effective degrees of freedom of
/// the value (JCGM 100:2008, G.6.4); see the module for values that rest on few
/// trials.
///
/// # Panics
/// If `coverage` is not between 0 and 1.
pub fn expanded(value: &Uncertain, coverage: f64) -> Expanded {
    let k = if stands_on_few(value) {
        factor_in_quadrature(value, coverage)
    } else {
        coverage_factor(coverage, value.dof())
    };
    Expanded {
        U: k * value.u(),
        k,
        coverage,
    }
}

/// √(Σ (kᵢ uᵢ)²) / u. Not under the factor of the effective degrees of freedom.
fn factor_in_quadrature(value: &Uncertain, coverage: f64) -> f64 {
    let u = value.u();
    let squares: f64 = value
        .parts()
        .iter()
        .map(|part| (coverage_factor(coverage, freedom(part)) * part.u / u).powi(2))
        .sum();
    squares.sqrt().max(coverage_factor(coverage, value.dof()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Source;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn prop_a_factor_worked_out_before_is_that_of_its_arguments(
            asked in proptest::collection::vec((0..3_usize, 1..400_u32), 1..800),
        ) {
            for (coverage, dof) in asked {
                let (coverage, dof) = ([0.95, 0.9545, 0.99][coverage], f64::from(dof) / 4.0);
                let plain = -student_quantile(0.5 * (1.0 - coverage), dof);
                prop_assert_eq!(coverage_factor(coverage, dof), plain);
            }
        }
    }

    fn value(u: f64, dof: f64) -> Uncertain {
        Uncertain::new(
            10.0,
            [Part {
                source: Source::new("trials"),
                u,
                dof,
                shape: Shape::Student,
            }],
        )
    }

    fn parts(given: [(&'static str, f64, f64, Shape); 2]) -> Uncertain {
        let part = |(name, u, dof, shape)| Part {
            source: Source::new(name),
            u,
            dof,
            shape,
        };
        Uncertain::new(10.0, given.map(part))
    }

    /// 0.3 with two degrees of freedom beside 0.4 of a certificate, so u is 0.5. By the
    /// tables (R: qt(0.975, 2) and qnorm(0.975)) k is √((4.3027·0.6)² + (1.96·0.8)²);
    /// that of the 15.4 effective degrees of freedom would be 2.13.
    #[test]
    fn few_trials_beside_a_certificate_have_their_own_factor_each() {
        let few = [
            ("trials", 0.3, 2.0, Shape::Student),
            ("certificate", 0.4, f64::INFINITY, Shape::Normal),
        ];
        let found = expanded(&parts(few), 0.95);
        assert!((found.k - 3.020_455_103_185_76).abs() < 1e-9, "{}", found.k);
        assert!((found.U - 0.5 * found.k).abs() < 1e-12);
    }

    #[test]
    fn few_are_under_twenty_of_trials_that_are_not_alone() {
        let beside = |dof, shape| {
            parts([
                ("trials", 0.3, dof, shape),
                ("certificate", 0.4, f64::INFINITY, Shape::Normal),
            ])
        };
        assert!(stands_on_few(&beside(19.9, Shape::Student)));
        assert!(!stands_on_few(&beside(20.0, Shape::Student)));
        // What a bend leaves over has few too, and is no trial.
        assert!(!stands_on_few(&beside(2.0, Shape::Normal)));
        assert!(!stands_on_few(&value(0.3, 2.0)), "alone");
        assert!(!stands_on_few(&Uncertain::exact(1.0)));
    }

    #[test]
    fn an_exact_value_has_an_interval_of_nothing() {
        let found = expanded(&Uncertain::exact(3.0), 0.95);
        assert_eq!(found.U, 0.0);
        assert!((found.k - 1.959_963_984_540_054).abs() < 1e-14);
        assert_eq!(coverage_factor(0.0, 4.0), 0.0);
    }

    #[test]
    fn few_trials_beside_a_calibration_are_as_wide_as_draws_and_little_wider() {
        use crate::measure::propagate::through_draws;
        let itself = |x: &[f64]| Ok::<_, std::convert::Infallible>(x[0]);
        for dof in [2.0, 3.0, 5.0, 10.0] {
            for share in [0.2, 0.5, 1.0, 2.0] {
                let part = |name: &'static str, u, dof, shape| Part {
                    source: Source::new(name),
                    u,
                    dof,
                    shape,
                };
                let value = Uncertain::new(
                    0.0,
                    [
                        part("trials", share, dof, Shape::Student),
                        part("calibration", 1.0, f64::INFINITY, Shape::Normal),
                    ],
                );
                let draws = through_draws(&[&value], itself, 200_000, 5).unwrap();
                let (low, high) = draws.interval(0.95);
                let ratio = 2.0 * expanded(&value, 0.95).U / (high - low);
                assert!((0.985..1.07).contains(&ratio), "{dof} {share}: {ratio}");
            }
        }
    }

    /// Student's t at 97.5 % for 80 and 100 degrees of freedom stands as 1.990 and
    /// 1.984 in the NIST/SEMATECH handbook's table (1.3.6.7.2).
    #[test]
    fn enough_trials_beside_a_calibration_have_the_factor_of_the_effective_freedom() {
        for (dof, factor) in [(20.0, 1.990), (25.0, 1.984)] {
            let part = |name: &'static str, dof, shape| Part {
                source: Source::new(name),
                u: 1.0,
                dof,
                shape,
            };
            let value = Uncertain::new(
                0.0,
                [
                    part("trials", dof, Shape::Student),
                    part("calibration", f64::INFINITY, Shape::Normal),
                ],
            );
            assert!((value.dof() - 4.0 * dof).abs() < 1e-9);
            let found = expanded(&value, 0.95).k;
            assert!((found - factor).abs() < 5e-4, "{dof}: {found}");
        }
    }

    proptest! {
        #[test]
        fn prop_the_interval_widens_with_uncertainty_and_coverage_and_with_less_freedom(
            u in 0.001..10.0_f64, dof in 1.0..300.0_f64, coverage in 0.5..0.99_f64, more in 1.001..3.0_f64,
        ) {
            let width = expanded(&value(u, dof), coverage).U;
            prop_assert!(expanded(&value(u * more, dof), coverage).U > width);
            prop_assert!(expanded(&value(u, dof * more), coverage).U < width);
            prop_assert!(expanded(&value(u, dof), 1.0 - (1.0 - coverage) / more).U > width);
        }
    }
}
