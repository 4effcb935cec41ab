//! From a shoe's readings to one value a quantity, with its uncertainty.
//!
//! The measurand is the mean of the specimens measured: the value is the mean
//! of the specimens' means, whatever the number of trials on each, and what
//! sets a pair's left from its right is screened, not hidden in the scatter.
//! Missing stays missing: a quantity without a reading is [`Absent`] with its
//! reason.

use super::drawn::Drawn;
use super::flags::Flag;
use super::hysteresis::Estimate;
use super::interval::{Stated, stated};
use super::screen::screen;
use super::{f_upper_tail, mean_and_deviation};
use crate::files::Key;
use crate::lab::{Protocol, QuantitySpec};
use crate::quantity::{Amount, Part, Shape, Source, Uncertain, Unit};
use crate::shoe::{Readings, Shoe, Side, Specimen};
use crate::words::said;
use std::collections::BTreeMap;

/// A shoe's quantities: each one's summary, or why there is none.
pub type Quantities = BTreeMap<Key, Result<Summary, Absent>>;

/// One quantity of one shoe.
#[derive(Clone, Debug)]
pub struct Summary {
    /// The quantity.
    pub quantity: Key,
    /// The unit of every figure here: the protocol's.
    pub unit: Unit,
    /// The shoe's value with the parts of its uncertainty, at the reference size.
    pub value: Uncertain,
    /// What stands after its ± at the protocol's coverage.
    pub stated: Stated,
    /// How many readings it rests on.
    pub n: usize,
    /// The specimens it was measured on, in the file's order.
    pub specimens: Vec<SpecimenSummary>,
    /// What was added to the readings' mean to compare at the reference size.
    pub size_step: Option<f64>,
    /// Whether the scatter is the lab's pooled repeatability instead of the trials' own.
    pub pooled: bool,
    /// What screening found, in a stated order.
    pub flags: Vec<Flag>,
}

impl Summary {
    /// Its interval, lower end first.
    pub fn interval(&self) -> (f64, f64) {
        let half = self.stated.expanded.U;
        (self.value.value - half, self.value.value + half)
    }

    /// Whether a flag that nobody accepted makes findings from it provisional.
    pub fn provisional(&self) -> bool {
        self.flags.iter().any(Flag::makes_provisional)
    }
}

/// One quantity of one specimen.
#[derive(Clone, Debug)]
pub struct SpecimenSummary {
    /// The specimen's mark.
    pub id: String,
    /// Left or right.
    pub side: Side,
    /// The trials, in the order they were taken.
    pub trials: Vec<Trial>,
    /// Mean of the trials that count.
    pub mean: f64,
    /// Standard deviation (n − 1) of the trials that count; absent for one.
    pub deviation: Option<f64>,
}

/// One reading of one trial.
#[derive(Clone, Debug)]
pub struct Trial {
    /// As it was written down.
    pub written: Amount,
    /// In the protocol's unit.
    pub value: f64,
    /// Why it is left out, if it is.
    pub left_out: Option<String>,
}

/// Why a quantity has no value for a shoe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Absent {
    /// The quantity.
    pub quantity: Key,
    /// The reason, as a clause: `it was not measured`.
    pub reason: String,
}

/// Every quantity of the protocol for one shoe.
///
/// `figures` are the curve figures worked out beforehand, by specimen and
/// quantity; a quantity that the protocol takes from a curve is looked up there.
/// What `drawn` remembers is not drawn again.
pub fn summarise(shoe: &Shoe, protocol: &Protocol, figures: &Figures, drawn: &Drawn) -> Quantities {
    protocol
        .quantities
        .iter()
        .map(|(key, spec)| {
            (
                key.clone(),
                summary(shoe, protocol, (key, spec), figures, drawn),
            )
        })
        .collect()
}

/// Figures of raw curves: by specimen (counted from 0) and quantity.
pub type Figures = BTreeMap<(usize, Key), Result<Estimate, String>>;

fn summary(
    shoe: &Shoe,
    protocol: &Protocol,
    (key, spec): (&Key, &QuantitySpec),
    figures: &Figures,
    drawn: &Drawn,
) -> Result<Summary, Absent> {
    let absent = |reason: String| Absent {
        quantity: key.clone(),
        reason,
    };
    // Without room for more, as a folio keeps all of them.
    let mut specimens = Vec::with_capacity(shoe.file.specimens.len());
    let mut noise = Vec::new();
    let mut failed = None;
    for (at, specimen) in shoe.file.specimens.iter().enumerate() {
        let trials = match &spec.from {
            None => written_trials(shoe, specimen, key, spec),
            Some(_) => match figures.get(&(at, key.clone())) {
                None => Vec::new(),
                Some(Ok(found)) => {
                    noise.extend(loop_noise(found, key, specimen));
                    vec![Trial {
                        written: Amount {
                            value: found.value,
                            unit: Some(spec.unit),
                        },
                        value: found.value,
                        left_out: None,
                    }]
                }
                Some(Err(reason)) => {
                    failed = Some(reason.clone());
                    Vec::new()
                }
            },
        };
        specimens.extend(of_specimen(specimen, trials));
    }
    let measured: Vec<&SpecimenSummary> = specimens
        .iter()
        .filter(|specimen| specimen.n() > 0)
        .collect();
    if measured.is_empty() {
        return Err(absent(match failed {
            Some(reason) => reason,
            None if specimens.is_empty() => said!("it was not measured"),
            None => said!("every reading of it is left out"),
        }));
    }
    let mut parts = Vec::new();
    let mut pooled = false;
    let share = 1.0 / measured.len() as f64;
    for specimen in &measured {
        let (part, from_pool) = type_a(key, spec, specimen)
            .ok_or_else(|| absent(said!("one trial, and the protocol states no repeatability")))?;
        pooled |= from_pool;
        parts.push(Part {
            u: part.u * share,
            ..part
        });
    }
    parts.extend(noise.into_iter().map(|part| Part {
        u: part.u * share,
        ..part
    }));
    parts.extend(type_b(key, spec));
    let mean = measured.iter().map(|specimen| specimen.mean).sum::<f64>() * share;
    let size_step = size_step(shoe, protocol, spec);
    let n = measured.iter().map(|specimen| specimen.n()).sum();
    let flags = screen(shoe, key, spec, &specimens);
    let value = Uncertain::new(mean + size_step.unwrap_or(0.0), parts);
    Ok(Summary {
        quantity: key.clone(),
        unit: spec.unit,
        stated: stated(&value, protocol.coverage, drawn),
        value,
        n,
        specimens,
        size_step,
        pooled,
        flags,
    })
}

/// A specimen's readings of a quantity in the protocol's unit. Readings that do
/// not convert were refused when the shoe was read.
fn written_trials(shoe: &Shoe, specimen: &Specimen, key: &Key, spec: &QuantitySpec) -> Vec<Trial> {
    let amounts: &[Amount] = match specimen.readings.get(key) {
        Some(Readings::One(amount)) => std::slice::from_ref(amount),
        Some(Readings::Trials(amounts)) => amounts,
        Some(Readings::Curve(_)) | None => &[],
    };
    let trial = |(at, amount): (usize, &Amount)| {
        let left_out = shoe.file.leave_out.iter().find(|left| {
            left.specimen == specimen.id && left.quantity == *key && left.trial == at + 1
        });
        Some(Trial {
            written: *amount,
            value: amount.in_unit(spec.unit).ok()?,
            left_out: left_out.map(|left| left.reason.clone()),
        })
    };
    let mut trials = Vec::with_capacity(amounts.len());
    trials.extend(amounts.iter().enumerate().filter_map(trial));
    trials
}

fn of_specimen(specimen: &Specimen, trials: Vec<Trial>) -> Option<SpecimenSummary> {
    if trials.is_empty() {
        return None;
    }
    let used: Vec<f64> = used(&trials).collect();
    let moments = mean_and_deviation(&used);
    Some(SpecimenSummary {
        id: specimen.id.clone(),
        side: specimen.side,
        trials,
        // A specimen whose every reading is left out takes no part (`n` is 0).
        mean: moments.as_ref().map_or(0.0, |moments| moments.mean),
        deviation: moments.and_then(|moments| moments.deviation),
    })
}

fn used(trials: &[Trial]) -> impl Iterator<Item = f64> + '_ {
    trials
        .iter()
        .filter(|trial| trial.left_out.is_none())
        .map(|trial| trial.value)
}

impl SpecimenSummary {
    /// How many readings count.
    pub fn n(&self) -> usize {
        used(&self.trials).count()
    }

    /// The readings that count.
    pub fn used(&self) -> Vec<f64> {
        used(&self.trials).collect()
    }

    /// The trials' own standard deviation with its degrees of freedom; none for one.
    pub(super) fn scatter(&self) -> Option<(f64, f64)> {
        self.deviation.map(|s| (s, (self.n() - 1) as f64))
    }
}

/// Type A (JCGM 100:2008, 4.2): the lab's pooled repeatability over the root of
/// the number of trials (4.2.4), or the trials' own standard deviation where the
/// protocol states none.
///
/// Two or three trials say next to nothing of their own scatter: three that read
/// alike would claim to be perfect, and their two degrees of freedom make the
/// Welch–Satterthwaite interval too narrow beside a calibration of equal size.
/// The pooled figure rests on dozens. It gives way where the trials scatter
/// significantly more than it says: this shoe is then not what was pooled.
/// Tells also whether the pooled one was taken.
fn type_a(key: &Key, spec: &QuantitySpec, specimen: &SpecimenSummary) -> Option<(Part, bool)> {
    let (s, dof, pooled) = match (specimen.scatter(), spec.repeatability) {
        (Some(own), Some(pooled)) if scatters_more(own, pooled) => (own.0, own.1, false),
        (_, Some((s, dof))) => (s, dof, true),
        (Some((s, dof)), None) => (s, dof, false),
        (None, None) => return None,
    };
    let part = Part {
        source: trials_of(key, &specimen.id),
        u: s / (specimen.n() as f64).sqrt(),
        dof,
        shape: Shape::Student,
    };
    Some((part, pooled))
}

/// What the scatter of a specimen's trials is called.
pub(super) fn trials_of(key: &Key, specimen: &str) -> Source {
    Source::new(format!("trials of {key} on {specimen}"))
}

/// Whether a standard deviation is larger than the pooled one by the F test of two
/// variances (NIST/SEMATECH e-Handbook, 1.3.5.9, from memory), one-sided at 1 %.
pub(super) fn scatters_more((s, dof): (f64, f64), (pooled, of_pooled): (f64, f64)) -> bool {
    f_upper_tail((s / pooled).powi(2), dof, of_pooled) < 0.01
}

/// Type B (JCGM 100:2008, 4.3): the instrument's resolution, rectangular over one
/// step (4.3.7), and its calibration, normal with the certificate's coverage
/// factor (4.3.3). The resolution is taken whole, whatever the number of trials:
/// trials that all read the same step would otherwise look better than they are.
/// Quantities read on one instrument share the calibration's part, so that it
/// stays correlated between them; their resolutions are independent.
fn type_b(key: &Key, spec: &QuantitySpec) -> impl Iterator<Item = Part> {
    let resolution = spec.resolution.map(|step| Part {
        source: Source::new(format!("resolution of {} in {key}", spec.instrument)),
        u: step / 12_f64.sqrt(),
        dof: f64::INFINITY,
        shape: Shape::Rectangular,
    });
    let calibration = spec.calibration.map(|u| Part {
        source: Source::new(format!("calibration of {}", spec.instrument)),
        u,
        dof: f64::INFINITY,
        shape: Shape::Normal,
    });
    resolution.into_iter().chain(calibration)
}

/// What every source that is the scatter of a curve's own rows begins with.
pub(super) const CURVE_NOISE: &str = "noise of the curve";

/// What the scatter of a curve's own rows adds to a figure taken from it. Each figure
/// has its own: energy in and energy back are sums over different rows, and a load and
/// a stiffness need not err the same way, so nothing may cancel between them.
fn loop_noise(found: &Estimate, key: &Key, specimen: &Specimen) -> Option<Part> {
    (found.u > 0.0).then(|| Part {
        source: Source::new(format!("{CURVE_NOISE} for {key} on {}", specimen.id)),
        u: found.u,
        dof: f64::INFINITY,
        shape: Shape::Normal,
    })
}

/// What is added to compare at the reference size; none where the protocol has
/// no step for the quantity or the shoe was measured at that size.
fn size_step(shoe: &Shoe, protocol: &Protocol, spec: &QuantitySpec) -> Option<f64> {
    let away = protocol.reference_size.millimetres() - shoe.file.size.millimetres();
    let step = spec.per_size? * away;
    (step != 0.0).then_some(step)
}
