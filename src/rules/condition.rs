//! Whether a condition holds throughout the uncertainty of the figures it rests on.
//!
//! That uncertainty is the interval a page prints of each figure, with its lean
//! beside a bend, drawn where it was drawn. What figures share is not used: within
//! their intervals they are moved apart as if they had no cause in common, so a
//! verdict may be close where it is sure, and never the other way for that.
//!
//! A figure is tried at the ends of its interval, and, where it is compared with
//! constants that lie within, at these and midway between them: of up to four
//! figures, each compared with constants alone, no turn is missed, unless the trials
//! of all together would be too many.

use super::bands::settle;
use super::expression::{TruthExpression, Undecided, Variables};
use super::input::{Input, Known};
use super::{Facts, Verdict, text};
use crate::measure::interval::wider_side;
use crate::quantity::Unit;

/// With more figures than this only one is moved at a time.
const MOST_TOGETHER: usize = 4;

/// With more trials of all figures together than this they are the corners of their
/// intervals alone.
const MOST_TRIALS: usize = 1000;

/// The figures of one shoe, each with how far it may be off; settled as scores are, so
/// that one that lies on the constant it is compared with does so whatever rounding
/// made of it.
pub(super) struct Figures {
    at: Vec<Option<f64>>,
    moves: Vec<Option<Move>>,
    /// Whether a reading behind any of them is in doubt.
    pub provisional: bool,
}

/// How far one figure may lie to either side.
#[derive(Clone, Copy)]
struct Move {
    low: f64,
    high: f64,
    /// The expanded uncertainty: the wider side, where the two differ.
    by: f64,
}

impl Figures {
    /// The facts a rule names, with their published intervals.
    pub fn gather(variables: &Variables, facts: &Facts<'_>) -> Self {
        let mut figures = Figures {
            at: Vec::with_capacity(variables.0.len()),
            moves: Vec::with_capacity(variables.0.len()),
            provisional: false,
        };
        for input in &variables.0 {
            let known = input.find(facts).ok();
            figures.provisional |= known.is_some_and(|known| known.provisional);
            figures
                .at
                .push(known.map(|known| settle(known.value.value)));
            figures.moves.push(known.and_then(|known| moved(&known)));
        }
        figures
    }

    /// The figures a condition rests on and what it came to, for the trace.
    pub fn text(
        &self,
        variables: &Variables,
        condition: &TruthExpression,
        verdict: Verdict,
        facts: &Facts<'_>,
    ) -> String {
        let given: Vec<String> = condition
            .uses
            .iter()
            .map(|place| self.figure(*place, &variables.0[*place], facts))
            .collect();
        let outcome = match verdict {
            Verdict::Holds => "holds throughout their uncertainty",
            Verdict::Close => "turns within their uncertainty: close",
            Verdict::Fails => "fails throughout their uncertainty",
            Verdict::Unknown => "is not decided",
        };
        format!("{}: {outcome}", given.join(", "))
    }

    /// `torsion = 75.0 ± 2.1 of 100`, or why it is missing.
    fn figure(&self, place: usize, input: &Input, facts: &Facts<'_>) -> String {
        let name = input.key.variable();
        let known = match input.find(facts) {
            Ok(known) => known,
            Err(reason) => return format!("{name} is missing ({reason})"),
        };
        let value = known.value.value;
        match self.moves[place] {
            None => format!("{name} = {}", text::with_unit(value, 0.0, known.unit)),
            Some(by) => {
                let half = by.by;
                format!(
                    "{name} = {} ± {}",
                    text::number(value, half),
                    text::with_unit_of_difference(half, known.unit)
                )
            }
        }
    }

    /// What the condition comes to, and whether it holds at the estimates.
    ///
    /// It holds (or fails) if it does so at the estimates, with each figure moved
    /// alone through its interval, and, for four figures or fewer, with all of them
    /// moved together. Anything else is close.
    pub fn verdict(&mut self, condition: &TruthExpression) -> (Verdict, bool) {
        let Ok(here) = condition.at(&self.at) else {
            return (Verdict::Unknown, false);
        };
        let stays = self.stays(condition, here);
        let verdict = match (stays, here) {
            (false, _) => Verdict::Close,
            (true, true) => Verdict::Holds,
            (true, false) => Verdict::Fails,
        };
        (verdict, here)
    }

    /// Why a condition is not decided: the reason of the missing figure it comes to
    /// need, or of any it names where it is undecided for a part without a value. None
    /// if it is decided, or nothing it names is missing.
    pub fn reason(
        &self,
        condition: &TruthExpression,
        variables: &Variables,
        facts: &Facts<'_>,
    ) -> Option<String> {
        let needed = match condition.at(&self.at) {
            Ok(_) => return None,
            Err(Undecided::Missing(place)) => Some(place),
            Err(Undecided::NotFinite) => None,
        };
        needed
            .into_iter()
            .chain(condition.uses.iter().copied())
            .find_map(|place| variables.0[place].find(facts).err())
    }

    fn stays(&mut self, condition: &TruthExpression, here: bool) -> bool {
        let tried = |place: &usize| Some((*place, self.trials(*place, condition)?));
        let mut moving: Vec<(usize, Vec<f64>)> = condition.uses.iter().filter_map(tried).collect();
        for (place, trials) in &moving {
            let estimate = self.at[*place];
            let mut same = true;
            for trial in trials {
                self.at[*place] = Some(*trial);
                same &= condition.at(&self.at) == Ok(here);
            }
            self.at[*place] = estimate;
            if !same {
                return false;
            }
        }
        // One figure alone has been tried everywhere.
        if moving.len() < 2 || moving.len() > MOST_TOGETHER {
            return true;
        }
        let count = |moving: &[(usize, Vec<f64>)]| -> usize {
            moving.iter().map(|(_, trials)| trials.len()).product()
        };
        if count(&moving) > MOST_TRIALS {
            for (_, trials) in &mut moving {
                trials.truncate(2);
            }
        }
        let mut together = self.at.clone();
        (0..count(&moving)).all(|mut nth| {
            for (place, trials) in &moving {
                together[*place] = Some(trials[nth % trials.len()]);
                nth /= trials.len();
            }
            condition.at(&together) == Ok(here)
        })
    }

    /// Where a figure is tried: the two ends of its interval first, then each constant
    /// within that it is compared with, and the middle of each stretch between these.
    /// None for a figure without uncertainty.
    fn trials(&self, place: usize, condition: &TruthExpression) -> Option<Vec<f64>> {
        let Move { low, high, .. } = self.moves[place]?;
        let mut trials = vec![low, high];
        let mut from = low;
        for (compared, turn) in &condition.turns {
            if *compared == place && low < *turn && *turn < high {
                trials.extend([from + 0.5 * (turn - from), *turn]);
                from = *turn;
            }
        }
        if trials.len() > 2 {
            trials.push(from + 0.5 * (high - from));
        }
        Some(trials)
    }
}

/// The ends of a figure's interval, as it is published; a score stays between 0 and 100.
fn moved(known: &Known<'_>) -> Option<Move> {
    let (low, high) = known.interval;
    if low == high {
        return None;
    }
    let by = wider_side(known.value.value, (low, high));
    let (low, high) = (settle(low), settle(high));
    Some(if known.unit == Unit::Score {
        Move {
            low: low.max(0.0),
            high: high.min(100.0),
            by,
        }
    } else {
        Move { low, high, by }
    })
}
