//! Load–travel and torque–angle loops: how far it gives, how stiff it is, how
//! much of the squeeze comes back.
//!
//! A loop is read from rows in the order they were recorded. Its turning points
//! are found with a dead band, so that noise does not count as turning: the
//! travel has to come back by a tenth of its whole range (more where the rows
//! are noisy). Of several cycles the last whole one is used, after the earlier
//! ones have worked the specimen in. Loads and travels on a branch are looked up
//! on its rising (isotonic) least-squares fit (R. E. Barlow et al., "Statistical
//! Inference under Order Restrictions", 1972), which leaves rows without noise
//! as they are; energies are trapezoid sums over the rows as recorded.
//!
//! Each result has a standard uncertainty from the loop itself: the scatter of
//! the rows about their neighbours, and for energies the step from half the rows
//! to all of them. What the instruments contribute is not in it and has to be
//! added. Units are the caller's: travel in mm with load in N, or angle in
//! degrees with torque in N·m; travel and load both grow while loading.

use crate::words::{said, text};
mod branch;
#[cfg(test)]
mod tests;
mod turning;

use crate::quantity::fixed;
use branch::{Branch, path_integral};
use std::fmt;

/// What the two columns are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Axes {
    /// Travel in mm, load in N.
    LoadTravel,
    /// Angle in degrees, torque in N·m.
    TorqueAngle,
}

impl Axes {
    /// Joules in one unit of load times travel.
    fn joules(self) -> f64 {
        match self {
            Axes::LoadTravel => 1e-3,
            Axes::TorqueAngle => std::f64::consts::PI / 180.0,
        }
    }
}

/// From where travel is counted and energy gathered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Zero {
    /// As the columns have it; the whole cycle gives the energy.
    AsRecorded,
    /// Where the loading branch passes this load, the settling or contact load;
    /// the energy is that above it.
    AtLoad(f64),
}

/// How a loop is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// What the columns are.
    pub axes: Axes,
    /// From where travel is counted.
    pub zero: Zero,
    /// The widest step of travel between two rows, as a share of the branch's
    /// whole travel; a wider one is a gap.
    pub widest_step: f64,
    /// How many whole cycles there must be: the protocol's preconditioning and
    /// the one that counts.
    pub cycles: usize,
}

impl Settings {
    /// Travel counted as recorded, gaps from 15 % of the travel, one cycle.
    pub fn new(axes: Axes) -> Self {
        Settings {
            axes,
            zero: Zero::AsRecorded,
            widest_step: 0.15,
            cycles: 1,
        }
    }
}

/// Why rows are no loop, or what a loop does not hold. Rows count from 0.
#[derive(Clone, Debug, PartialEq)]
pub enum LoopError {
    /// There are too few rows to make two branches of.
    TooFewRows {
        /// How many there are.
        found: usize,
        /// How many it takes.
        needed: usize,
    },
    /// The travel never comes back, or not far enough to make a whole cycle.
    NoUnloadingBranch,
    /// There are fewer whole cycles than the protocol wants.
    TooFewCycles {
        /// How many there are.
        found: usize,
        /// How many there must be.
        needed: usize,
    },
    /// The load does not grow with the travel.
    LoadDoesNotRise,
    /// The travel jumps back and forth by more than noise.
    Unsorted {
        /// The first row that is out of order.
        row: usize,
    },
    /// The travel steps too far from one row to the next.
    Gap {
        /// The row after the gap.
        row: usize,
    },
    /// A load or travel is asked for that the loading branch ends below.
    NeverReached {
        /// What was asked for.
        wanted: f64,
        /// How far the branch goes.
        highest: f64,
    },
    /// A load or travel is asked for that the loading branch starts above.
    StartsAbove {
        /// What was asked for.
        wanted: f64,
        /// Where the branch starts.
        lowest: f64,
    },
}

impl fmt::Display for LoopError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LoopError::TooFewRows { found, needed } => {
                f.write_str(&said!(
                    "the curve has {found} rows; a loop needs at least {needed}",
                    found = found,
                    needed = needed
                ))
            }
            LoopError::NoUnloadingBranch => f.write_str(text!(
                "the curve has no unloading branch; record until the load is off again, keep the \
                 rows in the order they were recorded, and count travel and load upward while loading"
            )),
            LoopError::TooFewCycles { found, needed } => f.write_str(&said!(
                "the curve has {found} whole cycles; the protocol wants {needed}, the last of which counts",
                found = found,
                needed = needed
            )),
            LoopError::LoadDoesNotRise => f.write_str(text!(
                "the load does not grow with the travel; check which column is which, and the signs"
            )),
            LoopError::Unsorted { row } => f.write_str(&said!(
                "row {row} is out of order: the travel jumps back by more than noise; keep the rows \
                 in the order they were recorded",
                row = row + 1
            )),
            LoopError::Gap { row } => f.write_str(&said!(
                "rows are missing before row {row}: the travel steps too far; record at shorter steps",
                row = row + 1
            )),
            LoopError::NeverReached { wanted, highest } => {
                let (wanted, highest) = apart(*wanted, *highest);
                f.write_str(&said!(
                    "the loading branch never reaches {wanted}; it ends at {highest}",
                    wanted = wanted,
                    highest = highest
                ))
            }
            LoopError::StartsAbove { wanted, lowest } => {
                let (wanted, lowest) = apart(*wanted, *lowest);
                f.write_str(&said!(
                    "the loading branch starts at {lowest}, above {wanted}",
                    lowest = lowest,
                    wanted = wanted
                ))
            }
        }
    }
}

impl std::error::Error for LoopError {}

/// Two numbers with as many places, two at least, as tell them apart.
fn apart(one: f64, other: f64) -> (String, String) {
    let places = (2..9)
        .find(|places| fixed(one, *places) != fixed(other, *places))
        .unwrap_or(9);
    (fixed(one, places), fixed(other, places))
}

/// A number with the standard uncertainty that the loop itself gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty, in the same unit.
    pub u: f64,
}

/// What goes in and comes back, in joules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Energy {
    /// Stored while loading.
    pub stored: Estimate,
    /// Returned while unloading.
    pub returned: Estimate,
    /// Lost: the area of the loop.
    pub lost: Estimate,
    /// Energy return in per cent of what was stored; none if nothing was.
    pub energy_return: Option<Estimate>,
}

/// Rows of (travel, load) along a branch.
type Path = Vec<(f64, f64)>;

/// One cycle of loading and unloading.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop {
    settings: Settings,
    loading: Branch,
    unloading: Branch,
    cycles: usize,
    /// Travel at the zero point, as recorded.
    zero: Estimate,
}

impl Loop {
    /// Reads a loop from rows of (travel, load), in the order recorded.
    ///
    /// # Errors
    /// [`LoopError`] if the rows don't make a whole, orderly cycle.
    pub fn from_rows(rows: &[(f64, f64)], settings: Settings) -> Result<Self, LoopError> {
        let cycle = turning::last_cycle(rows, settings.widest_step)?;
        if cycle.count < settings.cycles {
            return Err(LoopError::TooFewCycles {
                found: cycle.count,
                needed: settings.cycles,
            });
        }
        let loading = Branch::new(&rows[cycle.start..=cycle.turn])?;
        let unloading = Branch::new(&rows[cycle.turn..=cycle.end])?;
        let mut read = Loop {
            settings,
            loading,
            unloading,
            cycles: cycle.count,
            zero: Estimate { value: 0.0, u: 0.0 },
        };
        if let Zero::AtLoad(load) = settings.zero {
            read.zero = read.loading.travel_at(load)?;
        }
        Ok(read)
    }

    /// How many whole cycles the rows held; the last one is used.
    pub fn cycles(&self) -> usize {
        self.cycles
    }

    /// The loading branch, (travel, load) as recorded.
    pub fn loading(&self) -> &[(f64, f64)] {
        self.loading.rows()
    }

    /// The unloading branch, (travel, load) as recorded, from the turning point
    /// on.
    pub fn unloading(&self) -> &[(f64, f64)] {
        self.unloading.rows()
    }

    /// The travel, as recorded, from which travel is counted.
    pub fn zero(&self) -> Estimate {
        self.zero
    }

    /// The travel at a load while loading, counted from the zero point.
    ///
    /// # Errors
    /// [`LoopError`] if the branch does not pass the load.
    pub fn travel_at(&self, load: f64) -> Result<Estimate, LoopError> {
        let found = self.loading.travel_at(load)?;
        Ok(Estimate {
            value: found.value - self.zero.value,
            u: found.u.hypot(self.zero.u),
        })
    }

    /// The load at a travel, counted from the zero point, while loading.
    ///
    /// # Errors
    /// [`LoopError`] if the branch does not pass the travel.
    pub fn load_at(&self, travel: f64) -> Result<Estimate, LoopError> {
        let found = self
            .loading
            .load_at(travel + self.zero.value)
            .map_err(|error| {
                // The branch knows travels as recorded; the asker counts from zero.
                match error {
                    LoopError::NeverReached { highest, .. } => LoopError::NeverReached {
                        wanted: travel,
                        highest: highest - self.zero.value,
                    },
                    LoopError::StartsAbove { lowest, .. } => LoopError::StartsAbove {
                        wanted: travel,
                        lowest: lowest - self.zero.value,
                    },
                    other => other,
                }
            })?;
        let slope = self.loading.slope_about(found.value).value;
        Ok(Estimate {
            value: found.value,
            u: found.u.hypot(slope * self.zero.u),
        })
    }

    /// Load over travel between two loads while loading, in load per travel.
    ///
    /// # Errors
    /// [`LoopError`] if the branch does not pass both loads, or they lie at one
    /// travel.
    pub fn secant_stiffness(&self, from: f64, to: f64) -> Result<Estimate, LoopError> {
        let (first, second) = (self.loading.travel_at(from)?, self.loading.travel_at(to)?);
        let travel = second.value - first.value;
        if travel == 0.0 {
            return Err(LoopError::LoadDoesNotRise);
        }
        let value = (to - from) / travel;
        Ok(Estimate {
            value,
            u: (value * first.u.hypot(second.u) / travel).abs(),
        })
    }

    /// The slope at a load while loading, by a least-squares line through the
    /// rows within 5 % of the branch's load about it, seven at least. Where the
    /// branch bends within them it is their mean slope.
    ///
    /// # Errors
    /// [`LoopError`] if the branch does not pass the load.
    pub fn tangent_stiffness(&self, load: f64) -> Result<Estimate, LoopError> {
        self.loading.travel_at(load)?;
        Ok(self.loading.slope_about(load))
    }

    /// What was stored, returned and lost.
    pub fn energy(&self) -> Energy {
        let joules = self.settings.axes.joules();
        let measured = |path: &[(f64, f64)], noise: f64| {
            let found = path_integral(path, noise);
            Estimate {
                value: found.value * joules,
                u: found.u * joules,
            }
        };
        let (up, down) = self.paths();
        let stored = measured(&up, self.loading.noise());
        let back = measured(&down, self.unloading.noise());
        // Unloading runs towards less travel.
        let returned = Estimate {
            value: -back.value,
            u: back.u,
        };
        let lost = Estimate {
            value: stored.value - returned.value,
            u: stored.u.hypot(returned.u),
        };
        let energy_return = (stored.value > 0.0).then(|| {
            let share = returned.value / stored.value;
            Estimate {
                value: 100.0 * share,
                u: 100.0 * (returned.u / stored.value).hypot(share * stored.u / stored.value),
            }
        });
        Energy {
            stored,
            returned,
            lost,
            energy_return,
        }
    }

    /// The rows that energy is gathered over, cut at the zero load.
    fn paths(&self) -> (Path, Path) {
        let (up, down) = (self.loading(), self.unloading());
        let Zero::AtLoad(load) = self.settings.zero else {
            return (up.to_vec(), down.to_vec());
        };
        let from = self.zero.value;
        let mut loading = vec![(from, load)];
        loading.extend(up.iter().filter(|row| row.0 > from));
        let Ok(left) = self.unloading.travel_at(load) else {
            // The load stays above: all of the branch counts.
            return (loading, down.to_vec());
        };
        let mut unloading: Vec<_> = down
            .iter()
            .copied()
            .filter(|row| row.0 > left.value)
            .collect();
        unloading.push((left.value, load));
        (loading, unloading)
    }
}
