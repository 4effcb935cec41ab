//! Mean and standard deviation of trials, and their pooling over groups.
//!
//! The corrected two-pass algorithm (Chan, Golub & LeVeque, "Algorithms for
//! computing the sample variance", The American Statistician 37:242–247, 1983)
//! on sums compensated after Neumaier (ZAMM 54:39–51, 1974).

/// Adds without losing the small summands: Neumaier's compensated sum.
pub(crate) fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let mut total = 0.0_f64;
    let mut lost = 0.0_f64;
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

/// Number, mean and deviation of some values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// How many values there were; at least one.
    pub n: usize,
    /// Arithmetic mean, in the values' unit.
    pub mean: f64,
    /// Standard deviation with n − 1 (JCGM 100:2008, 4.2.2), in the values'
    /// unit; none for a single value.
    pub deviation: Option<f64>,
}

impl Moments {
    /// Standard uncertainty of the mean, s/√n (JCGM 100:2008, 4.2.3).
    pub fn standard_error(&self) -> Option<f64> {
        self.deviation.map(|s| s / (self.n as f64).sqrt())
    }

    /// Deviation over the mean's size, as a fraction; none without a deviation
    /// or about a mean of zero.
    pub fn coefficient_of_variation(&self) -> Option<f64> {
        self.deviation
            .filter(|_| self.mean != 0.0)
            .map(|s| s / self.mean.abs())
    }
}

/// Mean and standard deviation (n − 1); none for no values.
pub fn mean_and_deviation(values: &[f64]) -> Option<Moments> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let rough = sum(values.iter().copied()) / n as f64;
    // The rough mean is rounded; what is left over corrects it and the squares.
    let left = sum(values.iter().map(|value| value - rough)) / n as f64;
    let mean = rough + left;
    let deviation = (n > 1).then(|| (squares_about(values, rough, left) / (n - 1) as f64).sqrt());
    Some(Moments { n, mean, deviation })
}

/// Sum of squared deviations from `rough + left`, without rounding that sum.
fn squares_about(values: &[f64], rough: f64, left: f64) -> f64 {
    let squares = sum(values.iter().map(|value| {
        let off = value - rough;
        off * off
    }));
    (squares - left * left * values.len() as f64).max(0.0)
}

/// A standard deviation pooled over groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pooled {
    /// Pooled standard deviation s_p, in the values' unit.
    pub s: f64,
    /// Its degrees of freedom: the sum of the groups'.
    pub dof: f64,
}

/// Pools standard deviations by their degrees of freedom,
/// s_p² = Σνᵢsᵢ²/Σνᵢ (JCGM 100:2008, H.3.6 and H.5.2 use the same);
/// none if no group has a degree of freedom.
pub fn pool(groups: impl IntoIterator<Item = Pooled>) -> Option<Pooled> {
    let (squares, dof) = groups
        .into_iter()
        .fold((0.0, 0.0), |(squares, dof), group| {
            (squares + group.dof * group.s * group.s, dof + group.dof)
        });
    (dof > 0.0).then(|| Pooled {
        s: (squares / dof).sqrt(),
        dof,
    })
}

/// The deviation within groups of trials, whatever the groups' means; groups of
/// one value say nothing and are passed over.
pub fn pooled_deviation<'a>(groups: impl IntoIterator<Item = &'a [f64]>) -> Option<Pooled> {
    pool(groups.into_iter().filter_map(|group| {
        let moments = mean_and_deviation(group)?;
        Some(Pooled {
            s: moments.deviation?,
            dof: (moments.n - 1) as f64,
        })
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn one_pair_is_pooled_as_it_is_and_single_readings_are_nothing() {
        let pair = Pooled { s: 0.25, dof: 1.0 };
        assert_eq!(pool([pair]), Some(pair));
        assert_eq!(pool([Pooled { s: 0.0, dof: 0.0 }]), None);
        assert_eq!(pool([]), None);
    }

    #[test]
    fn no_value_has_no_mean_and_one_value_has_no_deviation() {
        assert_eq!(mean_and_deviation(&[]), None);
        let one = mean_and_deviation(&[262.0]).unwrap();
        assert_eq!((one.n, one.mean, one.deviation), (1, 262.0, None));
        assert_eq!(one.standard_error(), None);
        assert_eq!(one.coefficient_of_variation(), None);
    }

    #[test]
    fn small_summands_beside_large_ones_are_not_lost() {
        assert_eq!(sum([1.0, 1e100, 1.0, -1e100]), 2.0);
        assert_eq!(sum([-1e16, 1.0, 1e16]), 1.0);
        assert_eq!(sum([1.0, -1e16, 1e16]), 1.0);
    }

    #[test]
    fn the_mean_s_own_uncertainty_is_the_deviation_over_the_root_of_the_number() {
        // s² = (9 + 1 + 1 + 9)/3 over the root of four.
        let moments = mean_and_deviation(&[1.0, 3.0, 5.0, 7.0]).unwrap();
        let expected = (20.0_f64 / 3.0).sqrt() / 2.0;
        assert!((moments.standard_error().unwrap() - expected).abs() < 1e-15);
    }

    #[test]
    fn a_mean_of_zero_has_no_coefficient_of_variation() {
        let moments = mean_and_deviation(&[-1.0, 1.0]).unwrap();
        assert_eq!(moments.coefficient_of_variation(), None);
        let moments = mean_and_deviation(&[-3.0, -1.0]).unwrap();
        assert_eq!(
            moments.coefficient_of_variation(),
            Some(2.0_f64.sqrt() / 2.0)
        );
    }

    #[test]
    fn groups_pool_by_their_degrees_of_freedom_whatever_their_means() {
        let pooled = pooled_deviation([&[1.0, 3.0][..], &[101.0, 102.0, 103.0], &[7.0]]).unwrap();
        // (1·2 + 2·1)/3
        assert!((pooled.s - (4.0_f64 / 3.0).sqrt()).abs() < 1e-15);
        assert_eq!(pooled.dof, 3.0);
        assert_eq!(pooled_deviation([&[7.0][..]]), None);
    }

    proptest! {
        #[test]
        fn prop_a_shift_moves_the_mean_and_leaves_the_deviation(
            values in prop::collection::vec(-1e3..1e3_f64, 2..40), shift in -1e6..1e6_f64,
        ) {
            let before = mean_and_deviation(&values).unwrap();
            let moved: Vec<f64> = values.iter().map(|value| value + shift).collect();
            let after = mean_and_deviation(&moved).unwrap();
            prop_assert!((after.mean - before.mean - shift).abs() < 1e-8);
            prop_assert!((after.deviation.unwrap() - before.deviation.unwrap()).abs() < 1e-8);
        }
    }
}
