//! Confidence limits of sums and differences of mean squares, by the modified
//! large-sample method: F. A. Graybill & C. M. Wang 1980 for sums, N. Ting et al.
//! 1990 for differences (both from memory, unverified; in full one room up).

use super::Component;
use crate::measure::anova::Row;
use crate::measure::distribution::f_upper_quantile;
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// A mean square with its weight in a component.
#[derive(Clone, Copy)]
pub(super) struct Term {
    pub weight: f64,
    pub row: Row,
}

/// A component from its mean squares, with its limits.
pub(super) fn component(terms: &[Term], coverage: f64) -> Component {
    let variance: f64 = terms.iter().map(|t| t.weight * t.row.mean_square()).sum();
    let (below, above) = reach(terms, coverage);
    Component {
        deviation: variance.max(0.0).sqrt(),
        set_to_zero: variance < 0.0,
        limits: (
            (variance - below).max(0.0).sqrt(),
            (variance + above).max(0.0).sqrt(),
        ),
    }
}

/// How far the limits of a sum of weighted mean squares lie below and above it,
/// by the modified large-sample method.
fn reach(terms: &[Term], coverage: f64) -> (f64, f64) {
    let tail = 0.5 * (1.0 - coverage);
    let size = |term: &Term| term.weight.abs() * term.row.mean_square();
    let (plus, minus): (Vec<&Term>, Vec<&Term>) = terms.iter().partition(|t| t.weight > 0.0);
    let mut below = 0.0;
    let mut above = 0.0;
    for term in &plus {
        below += (shrink(term.row.dof, tail) * size(term)).powi(2);
        above += (grow(term.row.dof, tail) * size(term)).powi(2);
    }
    for term in &minus {
        below += (grow(term.row.dof, tail) * size(term)).powi(2);
        above += (shrink(term.row.dof, tail) * size(term)).powi(2);
        for other in &plus {
            let (q, r) = (other.row.dof, term.row.dof);
            let far = f_upper_quantile(tail, q, r);
            let near = f_upper_quantile(1.0 - tail, q, r);
            let low =
                ((far - 1.0).powi(2) - (shrink(q, tail) * far).powi(2) - grow(r, tail).powi(2))
                    / far;
            let high =
                ((1.0 - near).powi(2) - (grow(q, tail) * near).powi(2) - shrink(r, tail).powi(2))
                    / near;
            below += low * size(other) * size(term);
            above += high * size(other) * size(term);
        }
    }
    if !minus.is_empty() {
        // Pairs of what is added, where something is taken away too.
        for (at, one) in plus.iter().enumerate() {
            for other in &plus[at + 1..] {
                let (q, t) = (one.row.dof, other.row.dof);
                let both = shrink(q + t, tail).powi(2) * (q + t).powi(2) / (q * t);
                let each = shrink(q, tail).powi(2) * q / t + shrink(t, tail).powi(2) * t / q;
                below += (both - each) / (plus.len() - 1) as f64 * size(one) * size(other);
            }
        }
    }
    (below.max(0.0).sqrt(), above.max(0.0).sqrt())
}

/// 1 − ν/χ² at the upper tail: what the lower limit takes off.
fn shrink(dof: f64, tail: f64) -> f64 {
    1.0 - dof / chi_squared(1.0 - tail, dof)
}

/// ν/χ² at the lower tail − 1: what the upper limit puts on.
fn grow(dof: f64, tail: f64) -> f64 {
    dof / chi_squared(tail, dof) - 1.0
}

fn chi_squared(p: f64, dof: f64) -> f64 {
    ChiSquared::new(dof)
        .expect("a study's degrees of freedom are positive")
        .inverse_cdf(p)
}
