//! What the lab keeps of its own bench: readings of the control shoe day by day,
//! and a gauge study. Both are optional; their files are read in the room above.

use crate::files::{Date, Key};

/// Readings of the control shoe: a column `date`, then one column a quantity.
pub const CONTROL: &str = "lab/control.csv";

/// A crossed gauge study: columns `part`, `operator`, `trial`, then one column a quantity.
pub const STUDY: &str = "lab/gauge-study.csv";

/// The control shoe's readings of one quantity, in the order of their days.
#[derive(Clone, Debug, PartialEq)]
pub struct ControlReadings {
    /// The quantity.
    pub quantity: Key,
    /// The days; none comes before the one above it.
    pub days: Vec<Date>,
    /// The readings, one a day, in the protocol's unit.
    pub values: Vec<f64>,
}

/// The log as it stood on a day: what was read later was not known.
pub fn known_on(control: &[ControlReadings], day: Date) -> Vec<ControlReadings> {
    let mut control = control.to_vec();
    for readings in &mut control {
        let known = readings.days.partition_point(|read| *read <= day);
        readings.days.truncate(known);
        readings.values.truncate(known);
    }
    control.retain(|readings| !readings.days.is_empty());
    control
}

/// The readings of one quantity in a gauge study.
#[derive(Clone, Debug, PartialEq)]
pub struct StudyReadings {
    /// The quantity.
    pub quantity: Key,
    /// Part, operator and reading, in the protocol's unit.
    pub readings: Vec<(String, String, f64)>,
}
