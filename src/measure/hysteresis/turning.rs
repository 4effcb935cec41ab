//! Where a recorded loop turns, and which of its cycles is used: a turning point is
//! taken for one once the travel has come back by more than a dead band (common
//! practice, no source).

use super::LoopError;
use super::branch::row_noise;

/// The travel has turned when it comes back by this share of its range.
const DEAD_BAND: f64 = 0.1;
/// Within a branch travel may slip back by this share of the range.
const SLIP: f64 = 0.03;
/// Fewer rows make no branch.
const FEWEST: usize = 8;
/// A swing of fewer rows is no movement but rows out of order.
const NO_SWING: usize = 4;

/// One cycle, by its rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cycle {
    pub start: usize,
    pub turn: usize,
    pub end: usize,
    /// How many whole cycles there were.
    pub count: usize,
}

/// Finds the last whole cycle and checks that its rows are in order.
pub(super) fn last_cycle(rows: &[(f64, f64)], widest_step: f64) -> Result<Cycle, LoopError> {
    if rows.len() < 2 * FEWEST {
        return Err(LoopError::TooFewRows {
            found: rows.len(),
            needed: 2 * FEWEST,
        });
    }
    let travels = || rows.iter().map(|row| row.0);
    let range = travels().fold(f64::MIN, f64::max) - travels().fold(f64::MAX, f64::min);
    if range <= 0.0 {
        return Err(LoopError::NoUnloadingBranch);
    }
    let noise = row_noise(travels());
    let turns = turning_points(rows, (DEAD_BAND * range).max(8.0 * noise).min(0.3 * range));
    if let Some(short) = turns.windows(2).find(|two| two[1] - two[0] < NO_SWING) {
        return Err(LoopError::Unsorted { row: short[1] });
    }
    let rising = |from: usize, to: usize| rows[to].0 > rows[from].0;
    let mut cycle = None;
    let mut count = 0;
    for three in turns.windows(3) {
        let [start, turn, end] = [three[0], three[1], three[2]];
        if rising(start, turn) && comes_back(rows, start, turn, end) {
            count += 1;
            cycle = Some(Cycle {
                start,
                turn,
                end,
                count,
            });
        }
    }
    let cycle = cycle.ok_or(LoopError::NoUnloadingBranch)?;
    let peak = rows[cycle.start..=cycle.turn]
        .iter()
        .map(|row| row.1)
        .fold(f64::MIN, f64::max);
    if peak <= rows[cycle.start].1 {
        return Err(LoopError::LoadDoesNotRise);
    }
    for (from, to, sign) in [
        (cycle.start, cycle.turn, 1.0),
        (cycle.turn, cycle.end, -1.0),
    ] {
        if to - from + 1 < FEWEST {
            return Err(LoopError::TooFewRows {
                found: to - from + 1,
                needed: FEWEST,
            });
        }
        in_order(
            rows,
            (from, to),
            sign,
            (SLIP * range).max(6.0 * noise),
            widest_step,
        )?;
    }
    Ok(cycle)
}

/// The first row, the rows where the travel turns by more than `band`, and the
/// last extreme. Rows before the first swing belong to it only from its extreme
/// on.
fn turning_points(rows: &[(f64, f64)], band: f64) -> Vec<usize> {
    let mut turns = Vec::new();
    let (mut lowest, mut highest) = (0, 0);
    let mut up: Option<bool> = None;
    for (row, (travel, _)) in rows.iter().enumerate() {
        if *travel > rows[highest].0 {
            highest = row;
        }
        // The last of equal valleys: a rest between cycles belongs to neither.
        if *travel <= rows[lowest].0 {
            lowest = row;
        }
        if up != Some(true) && travel - rows[lowest].0 > band {
            turns.push(lowest);
            up = Some(true);
            highest = row;
        } else if up != Some(false) && rows[highest].0 - travel > band {
            turns.push(highest);
            up = Some(false);
            lowest = row;
        }
    }
    match up {
        Some(true) => turns.push(highest),
        Some(false) => turns.push(first_at(rows, &turns, lowest)),
        None => {}
    }
    turns
}

/// The end of the last unloading: the first row that is as low as the lowest, so
/// that a rest at the end is left off.
fn first_at(rows: &[(f64, f64)], turns: &[usize], lowest: usize) -> usize {
    let from = turns.last().copied().unwrap_or(0);
    (from..=lowest)
        .find(|row| rows[*row].0 <= rows[lowest].0)
        .unwrap_or(lowest)
}

/// Whether unloading goes on until a tenth of the load, or of the travel, is
/// left.
fn comes_back(rows: &[(f64, f64)], start: usize, turn: usize, end: usize) -> bool {
    let peak = rows[start..=turn]
        .iter()
        .map(|row| row.1)
        .fold(f64::MIN, f64::max);
    let least = rows[turn..=end]
        .iter()
        .map(|row| row.1)
        .fold(f64::MAX, f64::min);
    let load_left = least - rows[start].1;
    let travel_left = rows[end].0 - rows[start].0;
    load_left <= 0.1 * (peak - rows[start].1) || travel_left <= 0.1 * (rows[turn].0 - rows[start].0)
}

/// Refuses a branch whose travel slips back by more than `slip` or steps ahead
/// by more than its share.
fn in_order(
    rows: &[(f64, f64)],
    (from, to): (usize, usize),
    sign: f64,
    slip: f64,
    widest_step: f64,
) -> Result<(), LoopError> {
    let widest = widest_step * (rows[to].0 - rows[from].0).abs();
    let mut farthest = sign * rows[from].0;
    for (row, (travel, _)) in rows.iter().enumerate().take(to + 1).skip(from + 1) {
        let travel = sign * travel;
        if farthest - travel > slip {
            return Err(LoopError::Unsorted { row });
        }
        if travel - farthest > widest {
            return Err(LoopError::Gap { row });
        }
        farthest = farthest.max(travel);
    }
    Ok(())
}
