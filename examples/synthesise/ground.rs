//! What every shoe is written against: limits, trials, conditions and dates, all
//! read from the lab's own files, so that a changed protocol changes the readings.

use anyhow::{Context, Result, ensure};
use jiff::civil::{Date, Weekday};
use serde::de::DeserializeOwned;
use solefolio::lab::{Instruments, ProtocolFile, Settings};
use solefolio::quantity::Unit;
use std::fs;
use std::path::Path;

/// What the lab's files say of one quantity, in its own unit.
pub(super) struct Bench {
    pub(super) name: &'static str,
    pub(super) decimals: usize,
    pub(super) resolution: f64,
    pub(super) scatter: f64,
    pub(super) trials: usize,
    pub(super) spread: Option<Limit>,
    pub(super) plausible: (f64, f64),
    pub(super) left_right: Option<f64>,
}

pub(super) enum Limit {
    Absolute(f64),
    OfMean(f64),
}

pub(super) const QUANTITIES: [&str; 6] = [
    "mass",
    "midfoot-torque",
    "heel-compression",
    "rebound-travel",
    "static-drop",
    "loaded-drop",
];

/// What every shoe is written against.
pub(super) struct Ground {
    pub(super) bench: Vec<Bench>,
    pub(super) operators: Vec<String>,
    /// Temperature and tolerance, humidity and tolerance, least hours of soak.
    pub(super) conditioning: (f64, f64, f64, f64, f64),
    /// The Thursday of the newest batch: every calibration still holds on it.
    pub(super) newest: Date,
    pub(super) weeks: u32,
    pub(super) seed: u64,
}

fn read<T: DeserializeOwned>(path: &Path) -> Result<T> {
    let text = fs::read_to_string(path).with_context(|| format!("reading {}", path.display()))?;
    serde_yaml::from_str(&text).with_context(|| format!("reading {}", path.display()))
}

/// The ground for this many shoes.
///
/// # Errors
/// If a file of the lab can't be read or lacks a quantity that is synthesised.
pub(super) fn ground(lab: &Path, shoes: u32, seed: u64) -> Result<Ground> {
    let protocol: ProtocolFile = read(&lab.join("protocol.yaml"))?;
    let instruments: Instruments = read(&lab.join("instruments.yaml"))?;
    let settings: Settings = read(&lab.join("lab.yaml"))?;
    let mut due: Option<Date> = None;
    let mut bench = Vec::new();
    for name in QUANTITIES {
        let spec = protocol
            .quantities
            .get(name)
            .with_context(|| format!("the protocol has no {name}"))?;
        let unit: Unit = spec.unit.parse()?;
        let instrument = instruments
            .instruments
            .get(&spec.instrument)
            .with_context(|| format!("no instrument {}", spec.instrument))?;
        let until = instrument.calibration.due.civil();
        due = Some(due.map_or(until, |earliest| earliest.min(until)));
        let resolution = instrument.resolution.in_unit(unit)?;
        bench.push(Bench {
            name,
            decimals: decimals(resolution),
            resolution,
            scatter: match &spec.repeatability {
                Some(pooled) => pooled.s.in_unit(unit)?,
                None => resolution,
            },
            trials: spec.trials,
            spread: match spec.spread {
                Some(amount) if amount.unit == Some(Unit::Percent) => {
                    Some(Limit::OfMean(amount.value / 100.0))
                }
                Some(amount) => Some(Limit::Absolute(amount.in_unit(unit)?)),
                None => None,
            },
            plausible: (
                spec.plausible[0].in_unit(unit)?,
                spec.plausible[1].in_unit(unit)?,
            ),
            left_right: spec.left_right.map(|most| most.in_unit(unit)).transpose()?,
        });
    }
    let mut newest = due.context("no quantity has an instrument")?.yesterday()?;
    while newest.weekday() != Weekday::Thursday {
        newest = newest.yesterday()?;
    }
    ensure!(!settings.operators.is_empty(), "lab.yaml names no operator");
    let rules = &protocol.conditioning;
    Ok(Ground {
        bench,
        operators: settings.operators.keys().map(ToString::to_string).collect(),
        conditioning: (
            rules.temperature.in_unit(Unit::Celsius)?,
            rules
                .temperature_tolerance
                .difference_in(Unit::CelsiusDegree)?,
            rules.humidity.in_unit(Unit::Percent)?,
            rules.humidity_tolerance.in_unit(Unit::Percent)?,
            rules.soak.in_unit(Unit::Hour)?,
        ),
        newest,
        // About forty shoes a week, over six years at the most.
        weeks: (shoes / 40).clamp(6, 312),
        seed,
    })
}

/// Decimals that write a step of `resolution` exactly.
fn decimals(resolution: f64) -> usize {
    let whole = |places: &usize| {
        let scaled = (0..*places).fold(resolution, |step, _| step * 10.0);
        (scaled - scaled.round()).abs() < 1e-6
    };
    (0..6).find(whole).unwrap_or(6)
}
