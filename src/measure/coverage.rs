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
