//! How likely the true value lies where it is said to lie (JCGM 106:2012).
//!
//! The knowledge of the true value is Student's t about the measured one,
//! widened by the standard uncertainty, with the effective degrees of freedom
//! (JCGM 101:2008, 6.4.9); the normal distribution where they are infinite. No
//! earlier knowledge of the value enters (JCGM 106, 7.2.2 with a flat prior).

use super::coverage::coverage_factor;
use super::distribution::{normal_cdf, student_cdf, student_upper_tail};

/// The chance that the true value lies between `low` and `high`; a side that is
/// `None` is open. With `u` = 0 it is 1 inside and on the limits, else 0.
///
/// # Panics
/// If `dof` is not positive.
pub fn chance_between(value: f64, u: f64, dof: f64, low: Option<f64>, high: Option<f64>) -> f64 {
    if u == 0.0 {
        let inside = low.is_none_or(|low| value >= low) && high.is_none_or(|high| value <= high);
        return f64::from(u8::from(inside));
    }
    let low = low.map_or(f64::NEG_INFINITY, |low| (low - value) / u);
    let high = high.map_or(f64::INFINITY, |high| (high - value) / u);
    between(low, high, dof)
}

/// Chance that a t variable lies between two places, worked out in the tail
/// that both share so that a small chance keeps its digits.
fn between(low: f64, high: f64, dof: f64) -> f64 {
    if low >= high {
        0.0
    } else if low > 0.0 {
        student_upper_tail(low, dof) - student_upper_tail(high, dof)
    } else if high < 0.0 {
        student_cdf(high, dof) - student_cdf(low, dof)
    } else {
        1.0 - student_cdf(low, dof) - student_upper_tail(high, dof)
    }
}

/// The chance of each band, from the lowest to the highest: `cuts`, in rising
/// order, part the line into one band more than there are cuts. With `u` = 0
/// one band has the chance 1; a value on a cut is in the band above it.
///
/// # Panics
/// If `dof` is not positive.
pub fn band_chances(value: f64, u: f64, dof: f64, cuts: &[f64]) -> Vec<f64> {
    if u == 0.0 {
        let stated = cuts.partition_point(|cut| *cut <= value);
        return (0..=cuts.len())
            .map(|band| f64::from(u8::from(band == stated)))
            .collect();
    }
    let place = |cut: f64| (cut - value) / u;
    (0..=cuts.len())
        .map(|band| {
            let low = band
                .checked_sub(1)
                .map_or(f64::NEG_INFINITY, |below| place(cuts[below]));
            let high = cuts.get(band).map_or(f64::INFINITY, |cut| place(*cut));
            between(low, high, dof)
        })
        .collect()
}

/// How far inside a limit a value must lie so that the chance of being beyond
/// the limit is at most `risk` (JCGM 106:2012, 8.3): the one-sided quantile
/// times `u`.
///
/// # Panics
/// If `risk` is not between 0 and ½, or `dof` is not positive.
pub fn guard_band(u: f64, dof: f64, risk: f64) -> f64 {
    assert!(
        risk > 0.0 && risk <= 0.5,
        "a risk lies between 0 and a half"
    );
    // The two-sided factor of 1 − 2·risk leaves `risk` on either side.
    coverage_factor(1.0 - 2.0 * risk, dof) * u
}

/// An interval with possibly open ends, of tolerance or of acceptance.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// The lower limit, if there is one.
    pub low: Option<f64>,
    /// The upper limit, if there is one.
    pub high: Option<f64>,
}

impl Limits {
    fn holds(self, value: f64) -> bool {
        self.low.is_none_or(|low| value >= low) && self.high.is_none_or(|high| value <= high)
    }
}

/// The global risks of accepting and rejecting items of a process
/// (JCGM 106:2012, 9.5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Risks {
    /// Share of items out of tolerance.
    pub nonconforming: f64,
    /// Share of items out of tolerance and accepted all the same.
    pub consumer: f64,
    /// Share of items within tolerance and rejected all the same.
    pub producer: f64,
}

/// Global risks when items with the density `process` are measured with the
/// standard uncertainty `u` > 0 (normal errors) and accepted if the measured
/// value lies in `acceptance`.
///
/// `domain` holds all the process; outside it the density is taken as zero. The
/// integrals are Gauss–Legendre sums on panels of an eighth of `u` or finer,
/// cut at the tolerance limits.
pub fn global_risks(
    process: impl Fn(f64) -> f64,
    domain: (f64, f64),
    tolerance: Limits,
    acceptance: Limits,
    u: f64,
) -> Risks {
    let accepted = |item: f64| {
        let high = acceptance
            .high
            .map_or(1.0, |high| normal_cdf((high - item) / u));
        let low = acceptance
            .low
            .map_or(0.0, |low| normal_cdf((low - item) / u));
        high - low
    };
    let mut risks = Risks {
        nonconforming: 0.0,
        consumer: 0.0,
        producer: 0.0,
    };
    let mut edges = vec![domain.0];
    edges.extend(
        [tolerance.low, tolerance.high]
            .into_iter()
            .flatten()
            .filter(|limit| *limit > domain.0 && *limit < domain.1),
    );
    edges.push(domain.1);
    for stretch in edges.windows(2) {
        let (from, to) = (stretch[0], stretch[1]);
        let all = integrate(&process, from, to, u / 8.0);
        let kept = integrate(|item| process(item) * accepted(item), from, to, u / 8.0);
        if tolerance.holds(0.5 * (from + to)) {
            risks.producer += all - kept;
        } else {
            risks.nonconforming += all;
            risks.consumer += kept;
        }
    }
    risks
}

/// Five-point Gauss–Legendre on panels no wider than `panel`, at most 20,000.
fn integrate(f: impl Fn(f64) -> f64, from: f64, to: f64, panel: f64) -> f64 {
    // Nodes and weights: Abramowitz & Stegun, table 25.4, n = 5, in closed form.
    let outer = (5.0 + 2.0 * (10.0_f64 / 7.0).sqrt()).sqrt() / 3.0;
    let inner = (5.0 - 2.0 * (10.0_f64 / 7.0).sqrt()).sqrt() / 3.0;
    let (light, heavy) = (
        (322.0 - 13.0 * 70.0_f64.sqrt()) / 900.0,
        (322.0 + 13.0 * 70.0_f64.sqrt()) / 900.0,
    );
    let rule = [
        (0.0, 128.0 / 225.0),
        (inner, heavy),
        (-inner, heavy),
        (outer, light),
        (-outer, light),
    ];
    let panels = ((to - from) / panel).ceil().clamp(64.0, 20_000.0);
    let half = 0.5 * (to - from) / panels;
    (0..panels as usize)
        .map(|at| {
            let middle = from + half * (2.0 * at as f64 + 1.0);
            rule.iter()
                .map(|(node, weight)| weight * f(middle + half * node))
                .sum::<f64>()
                * half
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn without_uncertainty_the_band_is_certain_and_a_cut_belongs_to_the_band_above() {
        let cuts = [20.0, 40.0];
        assert_eq!(band_chances(19.9, 0.0, 3.0, &cuts), [1.0, 0.0, 0.0]);
        assert_eq!(band_chances(20.0, 0.0, 3.0, &cuts), [0.0, 1.0, 0.0]);
        assert_eq!(band_chances(99.0, 0.0, 3.0, &cuts), [0.0, 0.0, 1.0]);
        assert_eq!(chance_between(5.0, 0.0, 1.0, Some(5.0), None), 1.0);
        assert_eq!(chance_between(5.0, 0.0, 1.0, None, Some(4.9)), 0.0);
        assert_eq!(chance_between(5.0, 1.0, 9.0, Some(6.0), Some(5.0)), 0.0);
        for (value, chance) in [(4.9, 0.0), (5.0, 1.0), (5.5, 1.0), (6.0, 1.0), (6.1, 0.0)] {
            let found = chance_between(value, 0.0, 1.0, Some(5.0), Some(6.0));
            assert_eq!(found, chance, "{value}");
        }
    }

    #[test]
    fn a_small_chance_far_out_keeps_its_digits() {
        // Upper tail Φ(−6): 9.865876450376981e-10 (R 4.2.2, pnorm).
        let chance = chance_between(0.0, 1.0, f64::INFINITY, Some(6.0), None);
        assert!((chance / 9.865_876_450_376_98e-10 - 1.0).abs() < 1e-12);
        let below = chance_between(0.0, 1.0, f64::INFINITY, None, Some(-6.0));
        assert_eq!(below, chance);
    }

    #[test]
    fn a_value_on_a_limit_is_as_likely_within_as_beyond() {
        assert_eq!(chance_between(2.0, 0.3, 4.0, Some(2.0), None), 0.5);
    }

    #[test]
    fn the_guard_band_leaves_the_risk_it_was_asked_for() {
        for dof in [2.0, 9.5, f64::INFINITY] {
            let width = guard_band(0.4, dof, 0.05);
            let beyond = chance_between(10.0 - width, 0.4, dof, Some(10.0), None);
            assert!((beyond - 0.05).abs() < 1e-12);
        }
        assert_eq!(guard_band(0.4, 3.0, 0.5), 0.0);
    }

    proptest! {
        #[test]
        fn prop_the_chances_of_all_bands_sum_to_one(
            value in -200.0..200.0_f64, u in 0.0..50.0_f64, dof in 0.5..500.0_f64,
            mut cuts in prop::collection::vec(-150.0..150.0_f64, 0..6),
        ) {
            cuts.sort_by(f64::total_cmp);
            let chances = band_chances(value, u, dof, &cuts);
            prop_assert_eq!(chances.len(), cuts.len() + 1);
            prop_assert!(chances.iter().all(|chance| (0.0..=1.0).contains(chance)));
            prop_assert!((chances.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }

        #[test]
        fn prop_more_uncertainty_makes_a_value_inside_less_sure(
            value in 0.01..0.99_f64, u in 0.001..2.0_f64, more in 1.01..5.0_f64,
        ) {
            let sure = chance_between(value, u, 7.0, Some(0.0), Some(1.0));
            let less = chance_between(value, u * more, 7.0, Some(0.0), Some(1.0));
            prop_assert!(less <= sure);
        }
    }
}
