//! Quantiles of a sample and the rank of a value in it.
//!
//! R. J. Hyndman & Y. Fan, "Sample quantiles in statistical packages", The
//! American Statistician 50:361–365, 1996: nine definitions under one formula.

/// The nine definitions of Hyndman & Fan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Type {
    /// 1: inverse of the empirical distribution.
    Inverse,
    /// 2: the same, averaged at steps.
    AveragedInverse,
    /// 3: nearest even order statistic.
    NearestEven,
    /// 4: interpolated empirical distribution.
    Interpolated,
    /// 5: midway knots.
    Midway,
    /// 6: p(n + 1), the NIST handbook's (7.2.6.2).
    Handbook,
    /// 7: p(n − 1) + 1, most spreadsheets' and R's own.
    Spreadsheet,
    /// 8: about median-unbiased, the paper's recommendation.
    MedianUnbiased,
    /// 9: about unbiased for normal data.
    NormalUnbiased,
}

/// The `p` quantile of values in rising order; none for no values.
///
/// # Panics
/// If `p` is not between 0 and 1.
pub fn quantile(sorted: &[f64], p: f64, kind: Type) -> Option<f64> {
    assert!((0.0..=1.0).contains(&p), "a quantile lies between 0 and 1");
    debug_assert!(sorted.is_sorted(), "the values are in rising order");
    let n = sorted.len() as f64;
    let (a, b) = match kind {
        Type::Inverse | Type::AveragedInverse => return stepped(sorted, n * p, kind),
        Type::NearestEven => return stepped(sorted, n * p - 0.5, kind),
        Type::Interpolated => (0.0, 1.0),
        Type::Midway => (0.5, 0.5),
        Type::Handbook => (0.0, 0.0),
        Type::Spreadsheet => (1.0, 1.0),
        Type::MedianUnbiased => (1.0 / 3.0, 1.0 / 3.0),
        Type::NormalUnbiased => (3.0 / 8.0, 3.0 / 8.0),
    };
    let (below, part) = split(a + p * (n + 1.0 - a - b));
    let low = order(sorted, below)?;
    let high = order(sorted, below + 1.0)?;
    Some(low + part * (high - low))
}

/// The definitions that jump from one order statistic to the next.
fn stepped(sorted: &[f64], place: f64, kind: Type) -> Option<f64> {
    let (below, part) = split(place);
    let low = order(sorted, below)?;
    let high = order(sorted, below + 1.0)?;
    Some(match kind {
        _ if part > 0.0 => high,
        Type::AveragedInverse => 0.5 * (low + high),
        Type::NearestEven if below % 2.0 != 0.0 => high,
        _ => low,
    })
}

/// Whole and fractional part; a place within rounding of a whole number is that
/// number, so that 0.3 of ten values is the third.
fn split(place: f64) -> (f64, f64) {
    let slack = 4.0 * f64::EPSILON * place.abs().max(1.0);
    let whole = (place + slack).floor();
    let part = place - whole;
    (whole, if part.abs() <= slack { 0.0 } else { part })
}

/// The order statistic at a place counted from 1, held inside the sample.
fn order(sorted: &[f64], place: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let index = (place - 1.0).max(0.0) as usize;
    Some(sorted[index.min(last)])
}

/// The share of the sample under a value, from 0 to 1, values equal to it
/// counted half: the mid-rank percentile rank. None for no values, which come in
/// rising order.
pub fn percentile_rank_mid(sorted: &[f64], value: f64) -> Option<f64> {
    // Not asserted: a look at all values for each of them would grow as n².
    let under = sorted.partition_point(|other| *other < value);
    let up_to = sorted.partition_point(|other| *other <= value);
    (!sorted.is_empty()).then(|| 0.5 * (under + up_to) as f64 / sorted.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn equal_values_count_half() {
        let sorted = [1.0, 2.0, 2.0, 3.0];
        assert_eq!(percentile_rank_mid(&sorted, 2.0), Some(0.5));
        assert_eq!(percentile_rank_mid(&sorted, 1.0), Some(0.125));
        assert_eq!(percentile_rank_mid(&sorted, 9.0), Some(1.0));
        assert_eq!(percentile_rank_mid(&sorted, 0.0), Some(0.0));
        assert_eq!(percentile_rank_mid(&[], 0.0), None);
    }

    #[test]
    fn no_values_have_no_quantile() {
        assert_eq!(quantile(&[], 0.5, Type::Handbook), None);
        assert_eq!(quantile(&[], 0.5, Type::Inverse), None);
    }

    proptest! {
        #[test]
        fn prop_order_of_the_sample_does_not_matter(
            mut values in prop::collection::vec(-50..50_i32, 1..40).prop_shuffle(), at in 0..40_usize,
        ) {
            let value = f64::from(values[at % values.len()]);
            // Counted one by one, in the order the values came.
            let counted: f64 = values
                .iter()
                .map(|other| match f64::from(*other).total_cmp(&value) {
                    std::cmp::Ordering::Less => 1.0,
                    std::cmp::Ordering::Equal => 0.5,
                    std::cmp::Ordering::Greater => 0.0,
                })
                .sum::<f64>() / values.len() as f64;
            values.sort_unstable();
            let sorted: Vec<f64> = values.iter().map(|v| f64::from(*v)).collect();
            prop_assert_eq!(percentile_rank_mid(&sorted, value), Some(counted));
        }

        #[test]
        fn prop_quantiles_rise_with_p_and_stay_inside(
            mut values in prop::collection::vec(-50.0..50.0_f64, 1..40), p in 0.0..1.0_f64, q in 0.0..1.0_f64,
        ) {
            values.sort_by(f64::total_cmp);
            for kind in [Type::Inverse, Type::NearestEven, Type::Handbook, Type::MedianUnbiased] {
                let low = quantile(&values, p.min(q), kind).unwrap();
                let high = quantile(&values, p.max(q), kind).unwrap();
                prop_assert!(low <= high + 1e-12);
                prop_assert!(low >= values[0] && high <= values[values.len() - 1] + 1e-12);
            }
        }
    }
}
