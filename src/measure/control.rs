//! Whether the bench drifts: charts of the control shoe.
//!
//! The chart of individuals with its moving range (NIST/SEMATECH e-Handbook,
//! 6.3.2.2), the exponentially weighted moving average (6.3.2.4) and the
//! cumulative sum (6.3.2.3). Run rules follow the published Western Electric
//! (1956) and Nelson (Journal of Quality Technology 16:237–239, 1984) sets, from
//! memory, unverified; their names here say what each detects.
//!
//! The factors for ranges of two are exact: d₂ = 2/√π and d₃ = √(2 − 4/π).
//! Books print d₂ as 1.128, or 3/d₂ as 2.66, so limits worked out from a book
//! differ from these in the fifth digit.

use super::moments::mean_and_deviation;
use crate::words::text;
use std::f64::consts::PI;

/// Limits of a chart of individuals, from a stretch taken as in control.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chart {
    /// Mean of the stretch.
    pub centre: f64,
    /// Standard deviation as the mean moving range over d₂ shows it.
    pub sigma: f64,
    /// Mean moving range.
    pub mean_range: f64,
}

impl Chart {
    /// Centre less three sigma.
    pub fn lower(&self) -> f64 {
        self.centre - 3.0 * self.sigma
    }

    /// Centre and three sigma.
    pub fn upper(&self) -> f64 {
        self.centre + 3.0 * self.sigma
    }

    /// The upper limit of a moving range, D₄ times their mean; the lower is zero.
    pub fn range_upper(&self) -> f64 {
        (1.0 + 3.0 * spread_of_range() / mean_of_range()) * self.mean_range
    }

    /// How many sigma a value lies above the centre. Without any sigma a value
    /// off the centre lies infinitely far out.
    fn place(&self, value: f64) -> f64 {
        let off = value - self.centre;
        if off == 0.0 { 0.0 } else { off / self.sigma }
    }
}

/// d₂ for two: the mean range of two values in standard deviations.
fn mean_of_range() -> f64 {
    2.0 / PI.sqrt()
}

/// d₃ for two: the deviation of that range.
fn spread_of_range() -> f64 {
    (2.0 - 4.0 / PI).sqrt()
}

/// How far each value lies from the one before.
pub fn moving_ranges(values: &[f64]) -> Vec<f64> {
    values
        .windows(2)
        .map(|two| (two[1] - two[0]).abs())
        .collect()
}

/// The chart of a stretch in control; none for fewer than two values. About
/// twenty make limits one can rely on.
pub fn individuals(stretch: &[f64]) -> Option<Chart> {
    let centre = mean_and_deviation(stretch)?.mean;
    let mean_range = mean_and_deviation(&moving_ranges(stretch))?.mean;
    Some(Chart {
        centre,
        sigma: mean_range / mean_of_range(),
        mean_range,
    })
}

/// What a run of points can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RunRule {
    /// One point beyond three sigma.
    BeyondLimits,
    /// Two of three points beyond two sigma on one side.
    TwoOfThreeFarOut,
    /// Four of five points beyond one sigma on one side.
    FourOfFiveOut,
    /// Nine points in a row on one side of the centre.
    OnOneSide,
    /// Six points in a row, each higher, or each lower, than the one before.
    SteadyTrend,
    /// Fourteen points in a row, up and down by turns.
    UpAndDownByTurns,
    /// Fifteen points in a row within one sigma: the limits are too wide.
    HugsTheCentre,
    /// Eight points in a row beyond one sigma, on whichever side.
    AvoidsTheCentre,
}

impl RunRule {
    /// Every rule. Together they raise a false alarm far more often than the
    /// limits alone.
    pub const ALL: [RunRule; 8] = [
        RunRule::BeyondLimits,
        RunRule::TwoOfThreeFarOut,
        RunRule::FourOfFiveOut,
        RunRule::OnOneSide,
        RunRule::SteadyTrend,
        RunRule::UpAndDownByTurns,
        RunRule::HugsTheCentre,
        RunRule::AvoidsTheCentre,
    ];

    /// The rules that speak of a shift or a drift.
    pub const DRIFT: [RunRule; 5] = [
        RunRule::BeyondLimits,
        RunRule::TwoOfThreeFarOut,
        RunRule::FourOfFiveOut,
        RunRule::OnOneSide,
        RunRule::SteadyTrend,
    ];

    /// What the rule detects, in plain words.
    pub fn what(self) -> &'static str {
        match self {
            RunRule::BeyondLimits => text!("beyond the control limits"),
            RunRule::TwoOfThreeFarOut => text!("two of three beyond two sigma on one side"),
            RunRule::FourOfFiveOut => text!("four of five beyond one sigma on one side"),
            RunRule::OnOneSide => text!("nine in a row on one side of the centre"),
            RunRule::SteadyTrend => text!("six in a row steadily rising or falling"),
            RunRule::UpAndDownByTurns => text!("fourteen in a row up and down by turns"),
            RunRule::HugsTheCentre => text!("fifteen in a row within one sigma"),
            RunRule::AvoidsTheCentre => text!("eight in a row beyond one sigma"),
        }
    }

    /// How many points the rule looks at.
    fn window(self) -> usize {
        match self {
            RunRule::BeyondLimits => 1,
            RunRule::TwoOfThreeFarOut => 3,
            RunRule::FourOfFiveOut => 5,
            RunRule::OnOneSide => 9,
            RunRule::SteadyTrend => 6,
            RunRule::UpAndDownByTurns => 14,
            RunRule::HugsTheCentre => 15,
            RunRule::AvoidsTheCentre => 8,
        }
    }

    /// Whether a window of places, in sigma, shows it at its last point.
    fn shows(self, places: &[f64]) -> bool {
        let last = places[places.len() - 1];
        // On the last point's side, which has to be one of those that are out.
        let on_its_side = |beyond: f64, least: usize| {
            let side = last.signum();
            side * last > beyond && places.iter().filter(|p| side * **p > beyond).count() >= least
        };
        let steps = || places.windows(2).map(|two| two[1] - two[0]);
        match self {
            RunRule::BeyondLimits => last.abs() > 3.0,
            RunRule::TwoOfThreeFarOut => on_its_side(2.0, 2),
            RunRule::FourOfFiveOut => on_its_side(1.0, 4),
            RunRule::OnOneSide => on_its_side(0.0, 9),
            RunRule::SteadyTrend => {
                steps().all(|step| step > 0.0) || steps().all(|step| step < 0.0)
            }
            RunRule::UpAndDownByTurns => {
                let steps: Vec<f64> = steps().collect();
                steps.windows(2).all(|two| two[0] * two[1] < 0.0)
            }
            RunRule::HugsTheCentre => places.iter().all(|p| p.abs() < 1.0),
            RunRule::AvoidsTheCentre => places.iter().all(|p| p.abs() > 1.0),
        }
    }
}

/// A point at which a rule speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Signal {
    /// The first point the rule looked at, from 0.
    pub from: usize,
    /// The point that completed the pattern, from 0.
    pub at: usize,
    /// The rule.
    pub rule: RunRule,
}

/// Every point at which one of the rules speaks, in order of the points, then of
/// the rules as given.
pub fn signals(values: &[f64], chart: &Chart, rules: &[RunRule]) -> Vec<Signal> {
    let places: Vec<f64> = values.iter().map(|value| chart.place(*value)).collect();
    (0..values.len())
        .flat_map(|at| rules.iter().map(move |rule| (at, *rule)))
        .filter_map(|(at, rule)| {
            let from = (at + 1).checked_sub(rule.window())?;
            rule.shows(&places[from..=at])
                .then_some(Signal { from, at, rule })
        })
        .collect()
}

/// Exponentially weighted moving averages, from `start` (the target) on, with
/// the weight of the newest value.
pub fn moving_averages(values: &[f64], start: f64, weight: f64) -> Vec<f64> {
    values
        .iter()
        .scan(start, |average, value| {
            *average = weight * value + (1.0 - weight) * *average;
            Some(*average)
        })
        .collect()
}

/// How far from the target a moving average stays in control in the long run:
/// three of its standard deviations, 3σ·√(λ/(2 − λ)).
pub fn moving_average_limit(sigma: f64, weight: f64) -> f64 {
    3.0 * sigma * (weight / (2.0 - weight)).sqrt()
}

/// Cumulative sums on either side of a target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sums {
    /// What has gathered above target and allowance; zero or more.
    pub high: f64,
    /// What has gathered below target and allowance; zero or more.
    pub low: f64,
}

/// Two-sided cumulative sums with an allowance on either side, all in the
/// values' unit. The process has shifted where a sum is over the decision
/// interval.
pub fn cumulative_sums(values: &[f64], target: f64, allowance: f64) -> Vec<Sums> {
    values
        .iter()
        .scan(
            Sums {
                high: 0.0,
                low: 0.0,
            },
            |sums, value| {
                sums.high = (sums.high + value - target - allowance).max(0.0);
                sums.low = (sums.low + target - allowance - value).max(0.0);
                Some(*sums)
            },
        )
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const UNIT: Chart = Chart {
        centre: 0.0,
        sigma: 1.0,
        mean_range: 1.128,
    };

    fn first(rule: RunRule, values: &[f64]) -> Option<(usize, usize)> {
        signals(values, &UNIT, &[rule])
            .first()
            .map(|s| (s.from, s.at))
    }

    #[test]
    fn fewer_than_two_values_make_no_chart() {
        assert_eq!(individuals(&[]), None);
        assert_eq!(individuals(&[50.0]), None);
    }

    #[test]
    fn each_rule_speaks_at_the_point_that_completes_its_pattern_and_not_before() {
        assert_eq!(
            first(RunRule::BeyondLimits, &[0.0, 3.0, -3.1]),
            Some((2, 2))
        );
        assert_eq!(
            first(RunRule::TwoOfThreeFarOut, &[2.1, 0.0, 2.2]),
            Some((0, 2))
        );
        assert_eq!(first(RunRule::TwoOfThreeFarOut, &[2.1, 0.0, -2.2]), None);
        assert_eq!(first(RunRule::TwoOfThreeFarOut, &[2.1, 2.1, 0.0]), None);
        assert_eq!(
            first(RunRule::FourOfFiveOut, &[-1.1, -1.2, 0.5, -1.1, -1.3]),
            Some((0, 4))
        );
        assert_eq!(first(RunRule::OnOneSide, &[0.1; 9]), Some((0, 8)));
        assert_eq!(first(RunRule::OnOneSide, &[0.1; 8]), None);
        let rising = [-0.5, -0.4, -0.3, -0.2, -0.1, 0.0];
        assert_eq!(first(RunRule::SteadyTrend, &rising), Some((0, 5)));
        assert_eq!(first(RunRule::SteadyTrend, &[0.0; 6]), None);
        let turns: Vec<f64> = (0..14)
            .map(|at| if at % 2 == 0 { 0.5 } else { -0.5 })
            .collect();
        assert_eq!(first(RunRule::UpAndDownByTurns, &turns), Some((0, 13)));
        assert_eq!(first(RunRule::HugsTheCentre, &[0.9; 15]), Some((0, 14)));
        assert_eq!(first(RunRule::AvoidsTheCentre, &[1.1; 8]), Some((0, 7)));
    }

    #[test]
    fn a_pattern_with_one_point_out_of_it_is_none() {
        let rising: Vec<f64> = (0..6).map(|at| f64::from(at) * 0.1).collect();
        let falling: Vec<f64> = rising.iter().rev().copied().collect();
        let turns: Vec<f64> = (0..14)
            .map(|at| 0.6 + if at % 2 == 0 { 0.1 } else { -0.1 })
            .collect();
        // What spoils a pattern, of a point's place and value.
        type Spoil = fn(usize, f64) -> f64;
        let cases: [(RunRule, &[f64], Spoil); 6] = [
            (RunRule::SteadyTrend, &rising, |at, _| {
                [9.0, -9.0][at.min(1)]
            }),
            (RunRule::SteadyTrend, &falling, |at, _| {
                [-9.0, 9.0][at.min(1)]
            }),
            (RunRule::UpAndDownByTurns, &turns, |_, value| 1.2 - value),
            (RunRule::OnOneSide, &[0.1; 9], |_, _| -0.1),
            (RunRule::HugsTheCentre, &[0.9; 15], |_, _| -1.0),
            (RunRule::AvoidsTheCentre, &[1.1; 8], |_, _| 1.0),
        ];
        for (rule, whole, spoil) in cases {
            assert_eq!(first(rule, whole), Some((0, whole.len() - 1)), "{rule:?}");
            for at in 0..whole.len() {
                let mut one_off = whole.to_vec();
                one_off[at] = spoil(at, whole[at]);
                assert_eq!(first(rule, &one_off), None, "{rule:?} at {at}");
            }
        }
        // What lies on a limit is not beyond it.
        for (rule, on, beyond) in [
            (RunRule::BeyondLimits, vec![-3.0], vec![-3.01]),
            (
                RunRule::TwoOfThreeFarOut,
                vec![2.0, 2.5, 2.0],
                vec![2.01, 0.0, 2.01],
            ),
            (
                RunRule::FourOfFiveOut,
                vec![-1.1, -1.1, -1.1, -1.0, -1.0],
                vec![-1.1, -1.1, -1.1, 0.0, -1.01],
            ),
        ] {
            assert_eq!(first(rule, &on), None, "{rule:?}");
            assert_eq!(first(rule, &beyond), Some((0, on.len() - 1)), "{rule:?}");
        }
        // Two of three, not one; four of five, not three.
        assert_eq!(first(RunRule::TwoOfThreeFarOut, &[0.0, 0.0, 2.5]), None);
        let three = [0.0, 0.0, 1.5, 1.5, 1.5];
        assert_eq!(first(RunRule::FourOfFiveOut, &three), None);
    }

    #[test]
    fn without_scatter_any_other_value_is_beyond_the_limits() {
        let chart = individuals(&[5.0, 5.0, 5.0]).unwrap();
        let found = signals(&[5.0, 5.001], &chart, &RunRule::ALL);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].at, found[0].rule), (1, RunRule::BeyondLimits));
    }
}
