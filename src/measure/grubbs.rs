//! Grubbs' test for one outlier.
//!
//! F. E. Grubbs, "Procedures for detecting outlying observations in samples",
//! Technometrics 11:1–21, 1969; the critical value from Student's t as in the
//! NIST/SEMATECH e-Handbook, 1.3.5.17.1, two-sided. It flags a reading; it
//! never drops one.
//!
//! At three readings the test is nearly blind: the largest G there can be is
//! 1.1547 and the 5 % critical value is 1.1543, so it speaks only if two
//! readings are thirty times closer to each other than to the third. Two equal
//! readings beside a different one reach the largest G always, and readings
//! rounded to the instrument's step are often equal: use [`grubbs_rounded`] on
//! bench readings, or the rounding itself is flagged.

use super::distribution::student_quantile;
use super::moments::mean_and_deviation;

/// A reading that stands out.
#[expect(non_snake_case, reason = "G is the symbol of the test")]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlier {
    /// Its place among the readings, from 0; the first of equals.
    pub index: usize,
    /// Its distance from the mean in standard deviations.
    pub G: f64,
    /// The distance that G had to be over.
    pub critical: f64,
}

/// The reading farthest from the mean and its G; none for fewer than three
/// readings or readings that are all equal.
pub fn grubbs_statistic(readings: &[f64]) -> Option<(usize, f64)> {
    statistic(readings, 0.0)
}

/// `extra` is a variance added to that of the readings.
fn statistic(readings: &[f64], extra: f64) -> Option<(usize, f64)> {
    let moments = mean_and_deviation(readings).filter(|moments| moments.n >= 3)?;
    let spread = moments.deviation.filter(|s| *s > 0.0)?.powi(2) + extra;
    let (index, distance) = readings
        .iter()
        .map(|reading| (reading - moments.mean).abs())
        .enumerate()
        .reduce(|far, next| if next.1 > far.1 { next } else { far })?;
    Some((index, distance / spread.sqrt()))
}

/// The two-sided critical value of G for `n` readings; none for fewer than three.
///
/// # Panics
/// If `significance` is not between 0 and 1.
pub fn grubbs_critical(n: usize, significance: f64) -> Option<f64> {
    if n < 3 {
        return None;
    }
    let count = n as f64;
    let t = student_quantile(significance / (2.0 * count), count - 2.0);
    let share = t * t / (count - 2.0 + t * t);
    Some((count - 1.0) * (share / count).sqrt())
}

/// The one reading that stands out at this significance (two-sided), if any.
/// Fewer than three readings, or equal ones, have none.
///
/// # Panics
/// If `significance` is not between 0 and 1.
pub fn grubbs(readings: &[f64], significance: f64) -> Option<Outlier> {
    grubbs_rounded(readings, significance, 0.0)
}

/// Grubbs' test of readings rounded to steps of `resolution`: the variance of
/// the rounding, resolution²/12 (JCGM 100:2008, F.2.2.1), is added to that of
/// the readings, so that a reading one step off two equal ones is not flagged.
/// The addition is this laboratory's own caution and no part of the published
/// test; it never flags more than the plain test.
///
/// # Panics
/// If `significance` is not between 0 and 1.
pub fn grubbs_rounded(readings: &[f64], significance: f64, resolution: f64) -> Option<Outlier> {
    let (index, distance) = statistic(readings, resolution * resolution / 12.0)?;
    let critical = grubbs_critical(readings.len(), significance)?;
    (distance > critical).then_some(Outlier {
        index,
        G: distance,
        critical,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn too_few_or_equal_readings_have_no_outlier() {
        assert_eq!(grubbs(&[1.0, 9.0], 0.05), None);
        assert_eq!(grubbs(&[4.0, 4.0, 4.0], 0.05), None);
        assert_eq!(grubbs_statistic(&[4.0, 4.0, 4.0]), None);
        assert_eq!(grubbs_critical(2, 0.05), None);
        assert_eq!(grubbs_statistic(&[1.0, 9.0]), None);
    }

    #[test]
    fn the_farthest_reading_may_lie_below_and_the_first_of_equals_is_named() {
        let outlier = grubbs(&[6.12, 3.05, 6.13], 0.05).unwrap();
        assert_eq!(outlier.index, 1);
        // 5 from the mean, s = 5.
        assert_eq!(grubbs_statistic(&[0.0, 5.0, 10.0]), Some((0, 1.0)));
    }

    #[test]
    fn the_rounding_s_variance_is_a_twelfth_of_the_step_squared() {
        // s² = 0.25 about a mean of 6.25, the rounding's 0.1²/12.
        let rounded = grubbs_rounded(&[6.0, 6.0, 6.0, 7.0], 0.05, 0.1).unwrap();
        let expected = 0.75 / (0.25 + 0.01 / 12.0_f64).sqrt();
        assert!((rounded.G - expected).abs() < 1e-9, "{rounded:?}");
    }

    #[test]
    fn a_reading_far_off_two_near_ones_stands_out_even_among_three() {
        let outlier = grubbs(&[6.12, 9.05, 6.13], 0.05).unwrap();
        assert_eq!(outlier.index, 1);
        assert!(outlier.G > outlier.critical);
        assert_eq!(grubbs(&[6.12, 6.05, 6.17], 0.05), None);
    }

    #[test]
    fn one_step_of_the_display_beside_equal_readings_is_rounding_and_no_outlier() {
        let readings = [262.0, 263.0, 262.0];
        assert!(grubbs(&readings, 0.05).is_some(), "the plain test's trap");
        assert_eq!(grubbs_rounded(&readings, 0.05, 1.0), None);
        assert_eq!(
            grubbs_rounded(&[262.0, 292.0, 262.0], 0.05, 1.0)
                .unwrap()
                .index,
            1
        );
    }

    proptest! {
        #[test]
        fn prop_scale_and_shift_change_nothing(
            readings in prop::collection::vec(-100..100_i32, 3..20), scale in 1..50_i32, shift in -50..50_i32,
        ) {
            let before: Vec<f64> = readings.iter().map(|r| f64::from(*r)).collect();
            let after: Vec<f64> = readings.iter().map(|r| f64::from(r * scale + shift)).collect();
            match (grubbs_statistic(&before), grubbs_statistic(&after)) {
                (None, None) => {}
                (Some(a), Some(b)) => prop_assert!((a.1 - b.1).abs() < 1e-9),
                other => prop_assert!(false, "{other:?}"),
            }
        }
    }
}
