//! One-way analysis of variance: do groups differ by more than their scatter?
//!
//! The textbook table (NIST/SEMATECH e-Handbook, 7.4.3), with the values first
//! shifted by one of them: between values that agree in their leading digits
//! that difference is exact, and the sums of squares keep their digits. Sums
//! are compensated.

use super::distribution::f_upper_tail;
use super::moments::{mean_and_deviation, sum};

/// A row of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Sum of squares, in the values' unit squared.
    pub squares: f64,
    /// Degrees of freedom; whole.
    pub dof: f64,
}

impl Row {
    /// Mean square.
    pub fn mean_square(&self) -> f64 {
        self.squares / self.dof
    }
}

/// A one-way analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneWay {
    /// Between the groups.
    pub between: Row,
    /// Within the groups.
    pub within: Row,
}

impl OneWay {
    /// Mean square between over mean square within; none if there is no scatter
    /// within.
    pub fn ratio(&self) -> Option<f64> {
        (self.within.squares > 0.0).then(|| self.between.mean_square() / self.within.mean_square())
    }

    /// The chance of so large a ratio if the groups don't differ.
    pub fn chance(&self) -> Option<f64> {
        Some(f_upper_tail(
            self.ratio()?,
            self.between.dof,
            self.within.dof,
        ))
    }

    /// The share of the sum of squares that lies between the groups, R².
    pub fn share_between(&self) -> Option<f64> {
        let total = self.between.squares + self.within.squares;
        (total > 0.0).then(|| self.between.squares / total)
    }

    /// Standard deviation within the groups, in the values' unit.
    pub fn residual_deviation(&self) -> f64 {
        self.within.mean_square().sqrt()
    }
}

/// The one-way table of groups of values; none for fewer than two groups, an
/// empty group, or no group with two values.
pub fn one_way(groups: &[&[f64]]) -> Option<OneWay> {
    let origin = *groups.first()?.first()?;
    let mut all = Vec::new();
    let mut means = Vec::with_capacity(groups.len());
    let mut within = Vec::with_capacity(groups.len());
    for group in groups {
        let shifted: Vec<f64> = group.iter().map(|value| value - origin).collect();
        let moments = mean_and_deviation(&shifted)?;
        within.push(sum(shifted
            .iter()
            .map(|value| (value - moments.mean).powi(2))));
        means.push((moments.mean, moments.n as f64));
        all.extend(shifted);
    }
    let grand = mean_and_deviation(&all)?.mean;
    let (between_dof, within_dof) = (groups.len() - 1, all.len() - groups.len());
    (between_dof > 0 && within_dof > 0).then(|| OneWay {
        between: Row {
            squares: sum(means.iter().map(|(mean, n)| n * (mean - grand).powi(2))),
            dof: between_dof as f64,
        },
        within: Row {
            squares: sum(within),
            dof: within_dof as f64,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_compared_has_no_table() {
        assert_eq!(one_way(&[]), None);
        assert_eq!(one_way(&[&[1.0, 2.0]]), None);
        assert_eq!(one_way(&[&[1.0], &[2.0]]), None);
        assert_eq!(one_way(&[&[1.0, 2.0], &[]]), None);
    }

    #[test]
    fn groups_without_scatter_have_no_ratio() {
        let table = one_way(&[&[1.0, 1.0], &[2.0, 2.0]]).unwrap();
        assert_eq!((table.ratio(), table.chance()), (None, None));
        assert_eq!(table.share_between(), Some(1.0));
    }
}
