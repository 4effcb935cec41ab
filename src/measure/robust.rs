//! Centre and spread that a few odd values do not move.
//!
//! The median and the median absolute deviation scaled to the normal
//! distribution's standard deviation (F. R. Hampel, "The influence curve and its
//! role in robust estimation", Journal of the American Statistical Association
//! 69:383–393, 1974).

/// 1/Φ⁻¹(¾): makes the median absolute deviation of normal data its σ.
pub(crate) const TO_SIGMA: f64 = 1.482_602_218_505_602;

/// The median; none for no values.
pub fn median(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let mut values = values.to_vec();
    let middle = values.len() / 2;
    let even = values.len().is_multiple_of(2);
    let (below, upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    // Of an even number, the largest of the lower half is the other middle one.
    let lower = below.iter().copied().reduce(f64::max).filter(|_| even);
    Some(lower.map_or(*upper, |lower| lower + 0.5 * (*upper - lower)))
}

/// The median absolute deviation from the median, scaled so that it estimates a
/// normal standard deviation; in the values' unit. None for no values; zero if
/// more than half of them are equal.
pub fn scaled_deviation(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let off: Vec<f64> = values.iter().map(|value| (value - centre).abs()).collect();
    Some(TO_SIGMA * median(&off)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_median_is_the_middle_one_or_between_the_two_middle_ones() {
        assert_eq!(median(&[]), None);
        assert_eq!(median(&[7.0]), Some(7.0));
        assert_eq!(median(&[9.0, 1.0]), Some(5.0));
        assert_eq!(median(&[9.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 3.0, 2.0]), Some(2.5));
    }

    #[test]
    fn the_scale_makes_a_normal_quartile_one_sigma() {
        assert!((TO_SIGMA * crate::measure::normal_quantile(0.75) - 1.0).abs() < 1e-15);
        assert_eq!(
            scaled_deviation(&[1.0, 2.0, 3.0, 4.0, 100.0]),
            Some(TO_SIGMA)
        );
        assert_eq!(scaled_deviation(&[2.0, 2.0, 2.0, 9.0]), Some(0.0));
        assert_eq!(scaled_deviation(&[]), None);
    }

    proptest! {
        #[test]
        fn prop_order_does_not_matter_and_half_lie_on_either_side(
            values in prop::collection::vec(-1e3..1e3_f64, 1..50),
        ) {
            let middle = median(&values).unwrap();
            let mut sorted = values.clone();
            sorted.sort_by(f64::total_cmp);
            prop_assert_eq!(median(&sorted), Some(middle));
            let under = values.iter().filter(|v| **v < middle).count();
            let over = values.iter().filter(|v| **v > middle).count();
            prop_assert!(2 * under <= values.len() && 2 * over <= values.len());
        }
    }
}
