//! Coverage factors and expanded uncertainty (JCGM 100:2008, clause 6 and G.4).

use super::distribution::student_quantile;
use crate::quantity::{Expanded, Uncertain};

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
    // The lower tail keeps the digits of a coverage near one.
    -student_quantile(0.5 * (1.0 - coverage), dof)
}

/// Expanded uncertainty at a coverage, with the effective degrees of freedom of
/// the value (JCGM 100:2008, G.6.4).
///
/// # Panics
/// If `coverage` is not between 0 and 1.
pub fn expanded(value: &Uncertain, coverage: f64) -> Expanded {
    let k = coverage_factor(coverage, value.dof());
    Expanded {
        U: k * value.u(),
        k,
        coverage,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Part, Shape, Source};
    use proptest::prelude::*;

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

    #[test]
    fn an_exact_value_has_an_interval_of_nothing() {
        let found = expanded(&Uncertain::exact(3.0), 0.95);
        assert_eq!(found.U, 0.0);
        assert!((found.k - 1.959_963_984_540_054).abs() < 1e-14);
        assert_eq!(coverage_factor(0.0, 4.0), 0.0);
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
