//! Coverage factors for the figures of this room: the two-sided Student t
//! quantile, the normal one for infinite degrees of freedom (JCGM 100:2008, G.3
//! and G.4).

use crate::quantity::{Expanded, Uncertain};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// The factor by which a standard uncertainty with `dof` degrees of freedom is
/// widened to cover with the chance `coverage`, which lies between 0 and 1.
pub(super) fn coverage_factor(coverage: f64, dof: f64) -> f64 {
    let tail = 0.5 * (1.0 - coverage);
    if dof.is_infinite() {
        return -Normal::standard().inverse_cdf(tail);
    }
    let student = StudentsT::new(0.0, 1.0, dof).expect("degrees of freedom are positive");
    -student.inverse_cdf(tail)
}

/// The expanded uncertainty of a value.
pub(super) fn expanded(value: &Uncertain, coverage: f64) -> Expanded {
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

    #[test]
    fn coverage_factors_are_those_of_the_t_table() {
        // JCGM 100:2008, table G.2: 95 % and 99 %; values from memory.
        assert!((coverage_factor(0.95, 2.0) - 4.30).abs() < 0.005);
        assert!((coverage_factor(0.99, 16.0) - 2.92).abs() < 0.005);
        assert!((coverage_factor(0.95, f64::INFINITY) - 1.96).abs() < 0.005);
    }
}
