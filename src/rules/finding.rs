//! What one rule says of one shoe.

use crate::files::Key;
use crate::measure::interval::Method;
use crate::quantity::{Uncertain, Unit};
use std::{fmt, sync::Arc};

/// What one rule says of one shoe.
#[derive(Clone, Debug)]
pub struct Finding {
    /// Its name: the rule's.
    pub key: Key,
    /// What it says.
    pub says: Says,
    /// Whether a reading it rests on is in doubt.
    pub provisional: bool,
}

/// The forms of a finding.
#[derive(Clone, Debug)]
pub enum Says {
    /// A score from 0 to 100 and the band it lies in.
    Band(Banded),
    /// A number with a unit.
    Value(Value),
    /// Whom a shoe's figures suit.
    Fit(Fit),
    /// Whether an advice applies.
    Advice(Advice),
}

/// A score and its band.
#[derive(Clone, Debug)]
pub struct Banded {
    /// The quantity's value in the rule's unit; absent for a blend.
    pub value: Option<(Uncertain, Unit)>,
    /// The score, 0 to 100.
    pub score: Uncertain,
    /// The score's interval at the protocol's coverage, lower end first. Beside a
    /// bend of a scale, and at its ends, the score does not lie in its middle.
    pub interval: (f64, f64),
    /// How that interval came about.
    pub method: Method,
    /// The points of the scale that made the score of `value`; absent for a blend.
    pub points: Option<Arc<[(f64, f64)]>>,
    /// The scale it lies on; shared by all shoes.
    pub scale: Arc<BandScale>,
    /// The band, counted from 0.
    pub band: usize,
    /// The chance of each band; they add up to one.
    pub chances: Vec<f64>,
    /// The likeliest other band, where the chance of the stated one is under the rule set's limit.
    pub neighbour: Option<usize>,
}

impl Banded {
    /// The stated band's name.
    pub fn name(&self) -> &str {
        &self.scale.names[self.band]
    }

    /// The chance that the stated band is right, 0 to 1.
    pub fn chance(&self) -> f64 {
        self.chances[self.band]
    }
}

/// The bands of a score.
#[derive(Clone, Debug, PartialEq)]
pub struct BandScale {
    /// Names, from the lowest; one more than there are cuts.
    pub names: Vec<String>,
    /// The scores at which the next band begins, rising.
    pub cuts: Vec<f64>,
}

/// A number with a unit.
#[derive(Clone, Debug)]
pub struct Value {
    /// The number.
    pub value: Uncertain,
    /// Its interval at the protocol's coverage, lower end first.
    pub interval: (f64, f64),
    /// How that interval came about.
    pub method: Method,
    /// Its unit.
    pub unit: Unit,
    /// How many decimals it is printed with.
    pub decimals: u8,
}

/// Whom a shoe's figures suit: two lists of options, and the cells between them.
#[derive(Clone, Debug)]
pub struct Fit {
    /// The options down the side.
    pub rows: FitAxis,
    /// The options across the top.
    pub columns: FitAxis,
}

/// One list of options of a fit.
#[derive(Clone, Debug)]
pub struct FitAxis {
    /// How the list is called.
    pub label: Arc<str>,
    /// Its options, in the file's order.
    pub options: Vec<FitOption>,
}

/// One option and what the shoe's figures say of it.
#[derive(Clone, Debug)]
pub struct FitOption {
    /// Its name.
    pub key: Key,
    /// How it is called.
    pub label: Arc<str>,
    /// What the figures say.
    pub verdict: Verdict,
}

/// What a condition comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// It holds throughout the figures' uncertainty.
    Holds,
    /// It holds or not depending on where in their uncertainty the figures lie.
    Close,
    /// It fails throughout.
    Fails,
    /// A figure it needs is missing.
    Unknown,
}

impl Fit {
    /// The verdict for one row and one column: both conditions must hold.
    pub fn cell(&self, row: usize, column: usize) -> Verdict {
        use Verdict::{Close, Fails, Holds, Unknown};
        match (
            self.rows.options[row].verdict,
            self.columns.options[column].verdict,
        ) {
            (Fails, _) | (_, Fails) => Fails,
            (Unknown, _) | (_, Unknown) => Unknown,
            (Close, _) | (_, Close) => Close,
            (Holds, Holds) => Holds,
        }
    }
}

/// Whether an advice applies.
#[derive(Clone, Debug)]
pub struct Advice {
    /// What its condition comes to.
    pub verdict: Verdict,
    /// Whether the condition holds at the estimates themselves.
    pub at_estimate: bool,
    /// The phrase that says it.
    pub phrase: Key,
}

impl Finding {
    /// How the finding's interval came about; none for a finding without one.
    pub fn method(&self) -> Option<Method> {
        match &self.says {
            Says::Band(banded) => Some(banded.method),
            Says::Value(value) => Some(value.method),
            Says::Fit(_) | Says::Advice(_) => None,
        }
    }
}

/// Why a rule says nothing of a shoe. It is shown wherever the finding would be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotJudged {
    /// The finding that was not made.
    pub finding: Key,
    /// The reason, as a clause: `midfoot torque was not measured`.
    pub reason: String,
}

impl fmt::Display for NotJudged {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is not judged: {}", self.finding, self.reason)
    }
}
