//! Screening: what a careful person would say of the readings before using them.
//!
//! Nothing is dropped here. A flag is said on the page; one that
//! [stops](FlagWeight::Stops) keeps the shoe from being published until its file
//! says `accept` with a reason, and findings that rest on it are provisional
//! either way.
//!
//! The limits are the protocol's own. Two flags rest on tests: one outlier by F. E.
//! Grubbs, Technometrics 11:1–21, 1969 (NIST/SEMATECH e-Handbook, 1.3.5.17.1), and
//! scatter beyond the pooled repeatability by the F test of two variances (the same,
//! 1.3.5.9).

use super::drift::{Drift, DriftChart};
use super::flags::{Flag, FlagWeight};
use super::grubbs_rounded;
use super::summarise::{SpecimenSummary, scatters_more};
use crate::files::Key;
use crate::lab::{Instrument, Lab, QuantitySpec, Spread};
use crate::quantity::{Unit, fixed, round_half_even};
use crate::shoe::{Shoe, Side, Specimen};
use crate::words::said;

/// Trials of one specimen differ more than the protocol allows.
pub const SPREAD: &str = "spread";
/// Trials of one specimen scatter more than the lab's repeatability.
pub const SCATTER: &str = "scatter";
/// One reading is an outlier by Grubbs' test.
pub const OUTLIER: &str = "outlier";
/// Left and right differ more than the protocol allows.
pub const LEFT_RIGHT: &str = "left-right";
/// Fewer trials than the protocol wants.
pub const TOO_FEW_TRIALS: &str = "too-few-trials";
/// The instrument's calibration was overdue.
pub const CALIBRATION_OVERDUE: &str = "calibration-overdue";
/// The bench was too warm or too cold.
pub const TEMPERATURE: &str = "temperature";
/// The bench was too dry or too damp.
pub const HUMIDITY: &str = "humidity";
/// The specimen was conditioned too shortly.
pub const SOAKED_SHORT: &str = "soaked-short";

/// The control shoe was out of control on the day.
pub const BENCH_OUT_OF_CONTROL: &str = "bench-out-of-control";

/// Every flag a shoe's file may accept.
pub const FLAGS: [&str; 10] = [
    SPREAD,
    SCATTER,
    OUTLIER,
    LEFT_RIGHT,
    TOO_FEW_TRIALS,
    CALIBRATION_OVERDUE,
    TEMPERATURE,
    HUMIDITY,
    SOAKED_SHORT,
    BENCH_OUT_OF_CONTROL,
];

/// Significance of Grubbs' test.
const OUTLIER_SIGNIFICANCE: f64 = 0.05;

/// What screening finds in one quantity's readings.
pub(super) fn screen(
    shoe: &Shoe,
    key: &Key,
    spec: &QuantitySpec,
    specimens: &[SpecimenSummary],
) -> Vec<Flag> {
    let mut flags = Vec::new();
    let mut flag = |code, weight, specimen: Option<&str>, message| {
        flags.push(Flag {
            code,
            weight,
            quantity: Some(key.clone()),
            specimen: specimen.map(str::to_owned),
            message,
            accepted: accepted(shoe, code, Some(key)),
        });
    };
    for specimen in specimens {
        if let Some(message) = beyond_spread(specimen, spec) {
            flag(SPREAD, FlagWeight::Stops, Some(&specimen.id), message);
        }
        if let Some(message) = scattered(specimen, spec) {
            flag(SCATTER, FlagWeight::Said, Some(&specimen.id), message);
        }
        if let Some(message) = outlying(specimen, spec) {
            flag(OUTLIER, FlagWeight::Said, Some(&specimen.id), message);
        }
        let n = specimen.n();
        if n < spec.trials {
            let message = said!(
                "{n} of the {all} trials the protocol wants",
                n = n,
                all = spec.trials
            );
            flag(
                TOO_FEW_TRIALS,
                FlagWeight::Said,
                Some(&specimen.id),
                message,
            );
        }
    }
    if let Some(message) = left_against_right(specimens, spec) {
        flag(LEFT_RIGHT, FlagWeight::Said, None, message);
    }
    flags
}

fn beyond_spread(specimen: &SpecimenSummary, spec: &QuantitySpec) -> Option<String> {
    let used = specimen.used();
    let low = used.iter().copied().reduce(f64::min)?;
    let high = used.iter().copied().reduce(f64::max)?;
    let limit = match spec.spread? {
        Spread::Absolute(limit) => limit,
        Spread::OfMean(share) => share * specimen.mean.abs(),
    };
    // A reading is a decimal: 262.3 − 260.3 is 2.0 to the lab, whatever the binary says.
    let tolerance = 1e-9 * limit.abs().max(high.abs());
    (high - low > limit + tolerance).then(|| {
        let places = places_that_show(spec.decimals.saturating_add(1), |read| {
            read(high - low) > read(limit)
        });
        said!(
            "trials differ by {difference} {unit}, from {low} to {high}; the protocol allows {limit} {unit}",
            difference = fixed(high - low, places),
            low = fixed(low, places),
            high = fixed(high, places),
            limit = fixed(limit, places),
            unit = spec.unit.of_differences(),
        )
    })
}

/// The fewest places, `least` or more, at which printed figures still show what is said
/// of them: 60.4 % is over 60 %, and printed as 60 % it would not be. `shows` is given
/// how a figure reads.
fn places_that_show(least: u8, shows: impl Fn(&dyn Fn(f64) -> f64) -> bool) -> u8 {
    (least..least.saturating_add(6))
        .find(|places| shows(&|figure| round_half_even(figure, *places)))
        .unwrap_or(least)
}

fn scattered(specimen: &SpecimenSummary, spec: &QuantitySpec) -> Option<String> {
    let (own, pooled) = (specimen.scatter()?, spec.repeatability?);
    let places = spec.decimals.saturating_add(2);
    scatters_more(own, pooled).then(|| {
        said!(
            "trials scatter by s = {own} {unit}, significantly more than the lab's repeatability of {pooled} {unit}; \
             their own scatter is used",
            own = fixed(own.0, places),
            pooled = fixed(pooled.0, places),
            unit = spec.unit.of_differences(),
        )
    })
}

/// Grubbs' test asks for scatter that is the instrument's or the method's, not
/// that of a coarse display: on `6.0 6.0 6.1` a plain test calls one step of the
/// gauge an outlier. The rounding's variance is added to that of the trials.
fn outlying(specimen: &SpecimenSummary, spec: &QuantitySpec) -> Option<String> {
    let used = specimen.used();
    let outlier = grubbs_rounded(&used, OUTLIER_SIGNIFICANCE, spec.resolution.unwrap_or(0.0))?;
    Some(said!(
        "{reading} {unit} stands apart from the other trials by Grubbs' test (G = {g}, critical {critical} at 5 %)",
        reading = fixed(used[outlier.index], spec.decimals.saturating_add(1)),
        unit = spec.unit,
        g = fixed(outlier.G, 3),
        critical = fixed(outlier.critical, 3),
    ))
}

fn left_against_right(specimens: &[SpecimenSummary], spec: &QuantitySpec) -> Option<String> {
    let limit = spec.left_right?;
    let mean = |side: Side| {
        let means: Vec<f64> = specimens
            .iter()
            .filter(|specimen| specimen.side == side && specimen.n() > 0)
            .map(|specimen| specimen.mean)
            .collect();
        (!means.is_empty()).then(|| means.iter().sum::<f64>() / means.len() as f64)
    };
    let (left, right) = (mean(Side::Left)?, mean(Side::Right)?);
    let difference = (left - right).abs();
    // As for the spread: 6.4 − 6.1 is 0.3 to the lab.
    let tolerance = 1e-9 * limit.max(left.abs()).max(right.abs());
    (difference > limit + tolerance).then(|| {
        let places = places_that_show(spec.decimals.saturating_add(1), |read| {
            read(difference) > read(limit)
        });
        said!(
            "left {left} and right {right} {unit} differ by {difference}; the protocol allows {limit} {unit}",
            left = fixed(left, places),
            right = fixed(right, places),
            difference = fixed(difference, places),
            limit = fixed(limit, places),
            unit = spec.unit.of_differences(),
        )
    })
}

/// What screening finds in a shoe's sessions: conditioning, calibration of the
/// instruments its readings were taken on, and whether the bench was in control.
pub fn screen_sessions(shoe: &Shoe, lab: &Lab, drift: &Drift) -> Vec<Flag> {
    let mut flags = Vec::new();
    for specimen in &shoe.file.specimens {
        conditioning(shoe, specimen, lab, &mut flags);
        for (key, spec) in lab.protocol.quantities.iter() {
            let read = match &spec.from {
                None => specimen.readings.contains(key),
                Some((curve, _)) => specimen.readings.contains(curve),
            };
            if read && let Some(found) = drift.out_on(key, specimen.session.on) {
                flags.push(out_of_control(shoe, specimen, (key, spec), found));
            }
            let Some(instrument) = lab.instruments.get(&spec.instrument) else {
                continue;
            };
            if read && specimen.session.on >= instrument.calibration.due {
                flags.push(overdue(shoe, specimen, key, instrument));
            }
        }
    }
    flags
}

/// Said and not stopped: an alarm may be false, and the reading is what it is.
fn out_of_control(
    shoe: &Shoe,
    specimen: &Specimen,
    (key, spec): (&Key, &QuantitySpec),
    (chart, at): (&DriftChart, usize),
) -> Flag {
    let places = spec.decimals.saturating_add(1);
    let (day, read) = (chart.days[at], fixed(chart.values[at], places));
    let message = match chart.limits {
        Some(limits) => said!(
            "on {day} the control shoe read {reading} {unit} (limits {low} to {high}): {shows}",
            day = day,
            reading = read,
            unit = spec.unit,
            low = fixed(limits.lower(), places),
            high = fixed(limits.upper(), places),
            shows = chart.words(at)
        ),
        None => said!(
            "on {day} the control shoe read {reading} {unit}: {shows}",
            day = day,
            reading = read,
            unit = spec.unit,
            shows = chart.words(at)
        ),
    };
    Flag {
        code: BENCH_OUT_OF_CONTROL,
        weight: FlagWeight::Said,
        quantity: Some(key.clone()),
        specimen: Some(specimen.id.clone()),
        message,
        accepted: accepted(shoe, BENCH_OUT_OF_CONTROL, Some(key)),
    }
}

fn overdue(shoe: &Shoe, specimen: &Specimen, key: &Key, instrument: &Instrument) -> Flag {
    Flag {
        code: CALIBRATION_OVERDUE,
        weight: FlagWeight::Stops,
        quantity: Some(key.clone()),
        specimen: Some(specimen.id.clone()),
        message: said!(
            "{instrument} was due for calibration on {due} and was used on {day}",
            instrument = instrument.label,
            due = instrument.calibration.due,
            day = specimen.session.on
        ),
        accepted: accepted(shoe, CALIBRATION_OVERDUE, Some(key)),
    }
}

fn conditioning(shoe: &Shoe, specimen: &Specimen, lab: &Lab, flags: &mut Vec<Flag>) {
    let wanted = &lab.protocol.conditioning;
    let session = &specimen.session;
    let mut flag = |code, message| {
        flags.push(Flag {
            code,
            weight: FlagWeight::Stops,
            quantity: None,
            specimen: Some(specimen.id.clone()),
            message,
            accepted: accepted(shoe, code, None),
        });
    };
    let off = |value: f64, middle: f64, tolerance: f64| (value - middle).abs() > tolerance + 1e-9;
    if let Ok(value) = session.temperature.in_unit(Unit::Celsius)
        && off(value, wanted.temperature, wanted.temperature_tolerance)
    {
        let (middle, tolerance) = (wanted.temperature, wanted.temperature_tolerance);
        let places = places_that_show(1, |read| off(read(value), read(middle), read(tolerance)));
        flag(
            TEMPERATURE,
            said!(
                "measured at {value} °C; the protocol wants {wanted} ± {tolerance} °C",
                value = fixed(value, places),
                wanted = fixed(middle, places),
                tolerance = fixed(tolerance, places)
            ),
        );
    }
    if let Ok(value) = session.humidity.in_unit(Unit::Percent)
        && off(value, wanted.humidity, wanted.humidity_tolerance)
    {
        let (middle, tolerance) = (wanted.humidity, wanted.humidity_tolerance);
        let places = places_that_show(0, |read| off(read(value), read(middle), read(tolerance)));
        flag(
            HUMIDITY,
            said!(
                "measured at {value} % humidity; the protocol wants {wanted} ± {tolerance} %",
                value = fixed(value, places),
                wanted = fixed(middle, places),
                tolerance = fixed(tolerance, places)
            ),
        );
    }
    if let Ok(value) = session.soaked.in_unit(Unit::Hour)
        && value < wanted.soak - 1e-9
    {
        let places = places_that_show(1, |read| read(value) < read(wanted.soak));
        flag(
            SOAKED_SHORT,
            said!(
                "conditioned for {value} h; the protocol wants at least {wanted} h",
                value = fixed(value, places),
                wanted = fixed(wanted.soak, places)
            ),
        );
    }
}

/// The reason a flag was accepted with. An entry without a quantity accepts the
/// flag for all of them.
fn accepted(shoe: &Shoe, code: &str, quantity: Option<&Key>) -> Option<String> {
    shoe.file
        .accept
        .iter()
        .find(|accept| {
            accept.flag.as_str() == code && accept.of.as_ref().is_none_or(|of| Some(of) == quantity)
        })
        .map(|accept| accept.reason.clone())
}

#[cfg(test)]
#[path = "screen_tests.rs"]
mod tests;
