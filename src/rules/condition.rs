//! Whether a condition holds throughout the uncertainty of the figures it rests on.
//!
//! That uncertainty is the interval a page prints of each figure, with its lean
//! beside a bend, drawn where it was drawn. What figures share is not used: at the
//! corners of their intervals they are moved apart as if they had no cause in
//! common, so a verdict may be close where it is sure, and never the other way.

use super::expression::{TruthExpression, Undecided, Variables};
use super::input::{Input, Known};
use super::{Facts, Verdict, text};
use crate::measure::interval::wider_side;
use crate::quantity::Unit;

/// With more figures than this only one is moved at a time.
const MOST_CORNERS: usize = 4;

/// The figures of one shoe, each with how far it may be off.
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
            figures.at.push(known.map(|known| known.value.value));
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
    /// alone to either end of its interval, and, for four figures or fewer, at
    /// every corner of the intervals together. Anything else is close.
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
        let used = |place: &usize| self.moves[*place].map(|by| (*place, by));
        let moving: Vec<(usize, Move)> = condition.uses.iter().filter_map(used).collect();
        for (place, by) in &moving {
            let estimate = self.at[*place];
            let mut same = true;
            for end in [by.low, by.high] {
                self.at[*place] = Some(end);
                same &= condition.at(&self.at) == Ok(here);
            }
            self.at[*place] = estimate;
            if !same {
                return false;
            }
        }
        // One figure has no corners beside its ends.
        if moving.len() < 2 || moving.len() > MOST_CORNERS {
            return true;
        }
        let mut corner = self.at.clone();
        (0..1_u32 << moving.len()).all(|ends| {
            for (bit, (place, by)) in moving.iter().enumerate() {
                let high = ends >> bit & 1 == 1;
                corner[*place] = Some(if high { by.high } else { by.low });
            }
            condition.at(&corner) == Ok(here)
        })
    }
}

/// The ends of a figure's interval, as it is published; a score stays between 0 and 100.
fn moved(known: &Known<'_>) -> Option<Move> {
    let (low, high) = known.interval;
    if low == high {
        return None;
    }
    let by = wider_side(known.value.value, (low, high));
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
