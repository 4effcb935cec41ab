//! Whether the bench was in control, day by day: the control shoe's charts.
//!
//! Limits come from a stated base stretch, the first [`BASE`] readings, and are
//! not moved by what comes after them: a bench that drifts must not widen its own
//! limits. The charts are those of the NIST/SEMATECH e-Handbook, 6.3.2.2; the runs
//! those of Western Electric 1956 and L. S. Nelson, Journal of Quality Technology
//! 16:237–239, 1984 (from memory, unverified). A day is out of control where one of
//! the rules that speak of a shift or a drift ([`RunRule::DRIFT`]) is completed by it,
//! or where the reading moved from the one before by more than the moving range's limit
//! (the step back from a reading beyond the limits is not held against the day after).

use super::control::{Chart, RunRule, individuals, moving_ranges, signals};
use crate::files::{Date, Key};
use crate::lab::ControlReadings;
use crate::words::text;
use std::collections::BTreeMap;

/// How many readings from the first make the limits; about twenty are wanted
/// (see [`individuals`]).
pub const BASE: usize = 20;

/// Under this many readings there is no chart.
pub const FEWEST: usize = 8;

/// Every chart of the control shoe.
#[derive(Clone, Debug, Default)]
pub struct Drift {
    charts: BTreeMap<Key, DriftChart>,
}

/// The chart of one quantity.
#[derive(Clone, Debug)]
pub struct DriftChart {
    /// The days.
    pub days: Vec<Date>,
    /// The readings, in the protocol's unit.
    pub values: Vec<f64>,
    /// How many of them, from the first, made the limits.
    pub base: usize,
    /// The limits; none for too few readings, or readings that are all alike.
    pub limits: Option<Chart>,
    /// What each reading shows, in the order of the rules.
    pub shows: Vec<Vec<Shown>>,
}

/// What one reading shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// A run rule is completed.
    Run(RunRule),
    /// It moved from the one before by more than the moving range's limit.
    Jump,
}

impl Shown {
    /// In plain words.
    pub fn what(self) -> &'static str {
        match self {
            Shown::Run(rule) => rule.what(),
            Shown::Jump => {
                text!("a step from the reading before beyond the moving range's limit")
            }
        }
    }
}

impl Drift {
    /// The charts of a lab's control shoe. Days are in order, as they were read.
    pub fn of(control: &[ControlReadings]) -> Drift {
        Drift {
            charts: control
                .iter()
                .map(|readings| (readings.quantity.clone(), DriftChart::of(readings)))
                .collect(),
        }
    }

    /// The chart of a quantity.
    pub fn chart(&self, quantity: &Key) -> Option<&DriftChart> {
        self.charts.get(quantity)
    }

    /// What the control shoe's readings of a quantity on a day show; none where
    /// the day was in control or the control shoe was not measured.
    pub fn out_on(&self, quantity: &Key, day: Date) -> Option<(&DriftChart, usize)> {
        let chart = self.chart(quantity)?;
        let from = chart.days.partition_point(|known| *known < day);
        (from..chart.days.len())
            .take_while(|at| chart.days[*at] == day)
            .find(|at| !chart.shows[*at].is_empty())
            .map(|at| (chart, at))
    }
}

impl DriftChart {
    fn of(readings: &ControlReadings) -> DriftChart {
        let values = readings.values.clone();
        let base = values.len().min(BASE);
        let limits = individuals(&values[..base])
            .filter(|chart| values.len() >= FEWEST && chart.sigma > 0.0);
        let mut shows = vec![Vec::new(); values.len()];
        if let Some(chart) = &limits {
            for signal in signals(&values, chart, &RunRule::DRIFT) {
                shows[signal.at].push(Shown::Run(signal.rule));
            }
            for (at, range) in moving_ranges(&values).into_iter().enumerate() {
                // The way back from a reading that is out is the other reading's step.
                let back = (values[at] - chart.centre).abs() > 3.0 * chart.sigma;
                if range > chart.range_upper() && !back {
                    shows[at + 1].push(Shown::Jump);
                }
            }
        }
        DriftChart {
            days: readings.days.clone(),
            values,
            base,
            limits,
            shows,
        }
    }

    /// The reading's moving range; none for the first.
    pub fn range(&self, at: usize) -> Option<f64> {
        let before = at.checked_sub(1)?;
        Some((self.values[at] - self.values[before]).abs())
    }

    /// What a reading shows, in words; empty where it is in control.
    pub fn words(&self, at: usize) -> String {
        let said: Vec<&str> = self.shows[at].iter().map(|shown| shown.what()).collect();
        said.join("; ")
    }

    /// How many days are out of control.
    pub fn out(&self) -> usize {
        self.shows.iter().filter(|shown| !shown.is_empty()).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(values: &[f64]) -> ControlReadings {
        let first: Date = "2026-09-01".parse().unwrap();
        ControlReadings {
            quantity: "mass".parse().unwrap(),
            days: (0..values.len())
                .map(|at| {
                    Date::from(
                        first
                            .civil()
                            .saturating_add(jiff::Span::new().days(at as i64)),
                    )
                })
                .collect(),
            values: values.to_vec(),
        }
    }

    fn steady(n: usize) -> Vec<f64> {
        (0..n)
            .map(|at| [10.0, 10.3, 9.8, 10.1, 9.9][at % 5])
            .collect()
    }

    #[test]
    fn a_far_reading_is_out_on_its_day_and_on_no_other() {
        let mut values = steady(25);
        values[22] = 13.0;
        let drift = Drift::of(&[readings(&values)]);
        let mass: Key = "mass".parse().unwrap();
        let chart = drift.chart(&mass).unwrap();
        let (_, at) = drift.out_on(&mass, chart.days[22]).unwrap();
        assert_eq!(at, 22);
        assert!(chart.words(22).contains("beyond the control limits"));
        assert!(drift.out_on(&mass, chart.days[10]).is_none());
        // The step back to where it was is the far reading's, not the next day's.
        assert_eq!(chart.shows[23], []);
        assert!(chart.shows[22].contains(&Shown::Jump));
        assert!(
            drift
                .out_on(&"lift".parse().unwrap(), chart.days[22])
                .is_none()
        );
    }

    #[test]
    fn a_reading_far_below_is_out_as_one_far_above_and_counts_as_one_day() {
        let mut values = steady(25);
        values[22] = 7.0;
        let chart = DriftChart::of(&readings(&values));
        assert!(chart.shows[22].contains(&Shown::Jump));
        assert_eq!(chart.shows[23], []);
        assert_eq!(chart.out(), 1);
        assert_eq!(chart.range(0), None);
        // From 10.3 down to 7.0, and up to 10.1.
        assert!((chart.range(22).unwrap() - 3.3).abs() < 1e-12);
        assert!((chart.range(23).unwrap() - 3.1).abs() < 1e-12);
    }

    #[test]
    fn enough_readings_have_limits() {
        let chart = DriftChart::of(&readings(&steady(FEWEST)));
        assert!(chart.limits.is_some());
    }

    #[test]
    fn what_comes_after_the_base_stretch_moves_no_limit() {
        let mut values = steady(BASE);
        let before = Drift::of(&[readings(&values)]);
        values.extend((0..40).map(|at| 10.0 + 0.1 * f64::from(at)));
        let after = Drift::of(&[readings(&values)]);
        let mass: Key = "mass".parse().unwrap();
        let (before, after) = (before.chart(&mass).unwrap(), after.chart(&mass).unwrap());
        assert_eq!(before.limits, after.limits);
        assert_eq!(before.out(), 0);
        assert!(after.words(45).contains("steadily"), "{}", after.words(45));
    }

    #[test]
    fn few_readings_or_readings_all_alike_have_no_limits() {
        for values in [steady(FEWEST - 1), vec![5.0; 30]] {
            let drift = Drift::of(&[readings(&values)]);
            let chart = drift.chart(&"mass".parse().unwrap()).unwrap();
            assert_eq!((chart.limits, chart.out()), (None, 0));
        }
    }
}
