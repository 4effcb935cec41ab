//! One branch of a loop: looking up, slopes, and energy.
//!
//! The rising fit is isotonic least squares by pooling adjacent violators (R. E.
//! Barlow et al., "Statistical Inference under Order Restrictions", 1972, from
//! memory, unverified); energies are trapezoid sums, slopes straight lines by least
//! squares.

use super::{Estimate, LoopError};
use crate::measure::moments::sum;
use crate::measure::robust::median;

/// Rows that a slope is fitted to, at least.
const FEWEST_FOR_SLOPE: usize = 7;

/// By this share of a load the mean of rows may miss it for rounding alone.
const ROUNDING: f64 = 1e-9;

/// A branch as recorded, and its rising fit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Branch {
    rows: Vec<(f64, f64)>,
    /// Corners of the rising fit: travel and load both strictly rise.
    fit: Vec<(f64, f64)>,
    noise: f64,
}

impl Branch {
    /// # Errors
    /// [`LoopError::LoadDoesNotRise`] if the rising fit is level.
    pub fn new(rows: &[(f64, f64)]) -> Result<Self, LoopError> {
        let fit = rising_fit(rows);
        if fit.len() < 2 {
            return Err(LoopError::LoadDoesNotRise);
        }
        Ok(Branch {
            rows: rows.to_vec(),
            fit,
            noise: load_noise(rows),
        })
    }

    pub fn rows(&self) -> &[(f64, f64)] {
        &self.rows
    }

    /// Standard deviation of a row's load about its neighbours.
    pub fn noise(&self) -> f64 {
        self.noise
    }

    /// The travel at a load. A load within three times the noise of either end is
    /// taken as reached: the fit's ends are means, and a press that turns at the
    /// asked load shows it on about half its rows only. So is one that the mean of
    /// equal rows misses by its rounding.
    pub fn travel_at(&self, load: f64) -> Result<Estimate, LoopError> {
        let slope = self.slope_about(load).value;
        let (first, last) = (self.fit[0], self.fit[self.fit.len() - 1]);
        let held = load.clamp(first.1, last.1);
        let near = (3.0 * self.noise).max(ROUNDING * load.abs());
        let value = if (load - held).abs() <= near {
            look_up(&self.fit, held, |corner| (corner.1, corner.0))? + (load - held) / slope
        } else {
            look_up(&self.fit, load, |corner| (corner.1, corner.0))?
        };
        Ok(Estimate {
            value,
            u: if self.noise == 0.0 {
                0.0
            } else {
                self.noise / slope
            },
        })
    }

    pub fn load_at(&self, travel: f64) -> Result<Estimate, LoopError> {
        Ok(Estimate {
            value: look_up(&self.fit, travel, |corner| corner)?,
            u: self.noise,
        })
    }

    /// Slope of the least-squares line through the rows about a load.
    pub fn slope_about(&self, load: f64) -> Estimate {
        let (first, last) = (self.fit[0].1, self.fit[self.fit.len() - 1].1);
        let mut rows = self.rows.clone();
        rows.sort_by(|a, b| (a.1 - load).abs().total_cmp(&(b.1 - load).abs()));
        let near = rows.partition_point(|row| (row.1 - load).abs() <= 0.05 * (last - first));
        rows.truncate(near.max(FEWEST_FOR_SLOPE));
        // Rows at one travel carry no slope; take more until there is one.
        line(&rows).unwrap_or_else(|| {
            let chord = |two: &[(f64, f64)]| (two[1].1 - two[0].1) / (two[1].0 - two[0].0);
            let at = self.fit.partition_point(|corner| corner.1 < load);
            let at = at.clamp(1, self.fit.len() - 1);
            Estimate {
                value: chord(&self.fit[at - 1..=at]),
                u: 0.0,
            }
        })
    }
}

/// The least-squares slope of load on travel with its standard uncertainty;
/// none if it does not rise.
fn line(rows: &[(f64, f64)]) -> Option<Estimate> {
    let n = rows.len() as f64;
    let travel = sum(rows.iter().map(|row| row.0)) / n;
    let load = sum(rows.iter().map(|row| row.1)) / n;
    let squares = sum(rows.iter().map(|row| (row.0 - travel).powi(2)));
    let products = sum(rows.iter().map(|row| (row.0 - travel) * (row.1 - load)));
    let slope = products / squares;
    let left = sum(rows
        .iter()
        .map(|row| (row.1 - load - slope * (row.0 - travel)).powi(2)));
    (slope.is_finite() && slope > 0.0).then(|| Estimate {
        value: slope,
        u: (left / (n - 2.0) / squares).sqrt(),
    })
}

/// The rising least-squares fit by pooling adjacent violators, each pool as its
/// centre; rows in order of travel.
fn rising_fit(rows: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut sorted = rows.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    // (sum of travels, sum of loads, count)
    let mut pools: Vec<(f64, f64, f64)> = Vec::with_capacity(sorted.len());
    let centre = |pool: &(f64, f64, f64)| (pool.0 / pool.2, pool.1 / pool.2);
    for (travel, load) in sorted {
        pools.push((travel, load, 1.0));
        while let [.., before, last] = pools.as_slice() {
            let (below, above) = (centre(before), centre(last));
            if below.1 < above.1 && below.0 < above.0 {
                break;
            }
            let joined = (before.0 + last.0, before.1 + last.1, before.2 + last.2);
            pools.truncate(pools.len() - 2);
            pools.push(joined);
        }
    }
    pools.iter().map(centre).collect()
}

/// Straight between corners; `axes` gives what is known and what is sought.
fn look_up(
    fit: &[(f64, f64)],
    wanted: f64,
    axes: impl Fn((f64, f64)) -> (f64, f64),
) -> Result<f64, LoopError> {
    let (first, last) = (axes(fit[0]), axes(fit[fit.len() - 1]));
    if wanted < first.0 {
        return Err(LoopError::StartsAbove {
            wanted,
            lowest: first.0,
        });
    }
    if wanted > last.0 {
        return Err(LoopError::NeverReached {
            wanted,
            highest: last.0,
        });
    }
    let above = fit.partition_point(|corner| axes(*corner).0 < wanted);
    if above == 0 {
        return Ok(first.1);
    }
    let (below, above) = (axes(fit[above - 1]), axes(fit[above]));
    let share = (wanted - below.0) / (above.0 - below.0);
    Ok(below.1 + share * (above.1 - below.1))
}

/// Standard deviation of rows about the middle of their neighbours.
pub(super) fn row_noise(values: impl Iterator<Item = f64>) -> f64 {
    let values: Vec<f64> = values.collect();
    let off: Vec<f64> = values
        .windows(3)
        .map(|three| (three[1] - 0.5 * (three[0] + three[2])).abs() / 1.5_f64.sqrt())
        .collect();
    to_sigma(&off)
}

/// Standard deviation of loads about the line through their neighbours: robust,
/// so that a corner or the turn does not count.
fn load_noise(rows: &[(f64, f64)]) -> f64 {
    let off: Vec<f64> = rows
        .windows(3)
        .map(|three| {
            let across = three[2].0 - three[0].0;
            let share = (three[1].0 - three[0].0) / across;
            // Where travel is all noise the rows stand at equal steps of time.
            let share = if (0.0..=1.0).contains(&share) {
                share
            } else {
                0.5
            };
            let line = three[0].1 + share * (three[2].1 - three[0].1);
            (three[1].1 - line).abs() / (1.0 + share * share + (1.0 - share).powi(2)).sqrt()
        })
        .collect();
    to_sigma(&off)
}

fn to_sigma(off: &[f64]) -> f64 {
    median(off).unwrap_or(0.0) * crate::measure::robust::TO_SIGMA
}

/// ∫ load d(travel) along rows by trapezoids. Its uncertainty is the noise of the
/// rows through their weights in the sum, loads and travels (a path whose ends
/// lie a little off misses the load there times that), and the error of the rule
/// as a third of the step from every second row to all of them (Richardson).
pub(super) fn path_integral(path: &[(f64, f64)], load_noise: f64) -> Estimate {
    let value = trapezoids(path);
    let last = path.len() - 1;
    let half: Vec<_> = path
        .iter()
        .enumerate()
        .filter(|(at, _)| at % 2 == 0 || *at == last)
        .map(|(_, row)| *row)
        .collect();
    let rule = (value - trapezoids(&half)).abs() / 3.0;
    let travel_noise = row_noise(path.iter().map(|row| row.0));
    let (mut by_load, mut by_travel) = (0.0, 0.0);
    for at in 0..path.len() {
        let (before, after) = (path[at.saturating_sub(1)], path[(at + 1).min(last)]);
        by_load += (0.5 * (after.0 - before.0)).powi(2);
        by_travel += if at == 0 || at == last {
            (0.5 * (after.1 + before.1)).powi(2)
        } else {
            (0.5 * (after.1 - before.1)).powi(2)
        };
    }
    let scatter = (load_noise * by_load.sqrt()).hypot(travel_noise * by_travel.sqrt());
    Estimate {
        value,
        u: scatter.hypot(rule),
    }
}

fn trapezoids(path: &[(f64, f64)]) -> f64 {
    sum(path
        .windows(2)
        .map(|two| 0.5 * (two[1].0 - two[0].0) * (two[1].1 + two[0].1)))
}
