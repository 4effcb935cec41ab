//! Gauge study: how much of the spread of readings is the measuring itself.
//!
//! A crossed study (every operator measures every part as often as every other)
//! by analysis of variance with random effects, the interaction pooled with the
//! scatter when it is not significant (R. K. Burdick, C. M. Borror & D. C.
//! Montgomery, "A review of methods for measurement systems capability
//! analysis", Journal of Quality Technology 35:342–354, 2003; from memory,
//! unverified). A variance component that comes out negative is set to zero and
//! marked.
//!
//! Confidence limits: repeatability by χ², exactly; the others by the modified
//! large-sample method (F. A. Graybill & C. M. Wang, Journal of the American
//! Statistical Association 75:869–873, 1980, for sums; N. Ting et al., Journal
//! of Statistical Computation and Simulation 35:135–143, 1990, for differences;
//! both from memory, unverified, and held to their coverage by a simulation in
//! the tests). They are limits of the estimate before it is set to zero.

mod limits;
#[cfg(test)]
mod tests;

use super::distribution::f_upper_tail;
use super::moments::sum;
use crate::measure::anova::Row;
use limits::{Term, component};
use std::fmt;

/// Readings of a crossed study.
#[derive(Clone, Debug, PartialEq)]
pub struct Study {
    parts: Vec<String>,
    operators: Vec<String>,
    replicates: usize,
    /// By part, then operator, then replicate.
    readings: Vec<f64>,
}

/// Why readings are no crossed study.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StudyError {
    /// A study needs at least two parts, two operators and two readings of each.
    TooFew {
        /// What there are too few of.
        what: &'static str,
        /// How many there are.
        found: usize,
    },
    /// An operator measured a part more or less often than the first did.
    Unbalanced {
        /// The part.
        part: String,
        /// The operator.
        operator: String,
        /// How often it was measured.
        found: usize,
        /// How often the first operator measured the first part.
        expected: usize,
    },
}

impl fmt::Display for StudyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            StudyError::TooFew { what, found } => write!(
                f,
                "the study has {found} {what}; it needs at least two of them"
            ),
            StudyError::Unbalanced {
                part,
                operator,
                found,
                expected,
            } => write!(
                f,
                "operator `{operator}` measured part `{part}` {found} times, not {expected}; \
                 in a crossed study every operator measures every part equally often"
            ),
        }
    }
}

impl std::error::Error for StudyError {}

impl Study {
    /// A study from its readings, each with its part and operator, in any order;
    /// parts and operators are kept in the order they first come.
    ///
    /// # Errors
    /// [`StudyError`] if it is not crossed and balanced.
    pub fn from_readings<'a>(
        readings: impl IntoIterator<Item = (&'a str, &'a str, f64)>,
    ) -> Result<Self, StudyError> {
        let mut parts: Vec<String> = Vec::new();
        let mut operators: Vec<String> = Vec::new();
        let mut cells: std::collections::BTreeMap<(usize, usize), Vec<f64>> = Default::default();
        for (part, operator, reading) in readings {
            let cell = (place(&mut parts, part), place(&mut operators, operator));
            cells.entry(cell).or_default().push(reading);
        }
        let replicates = cells.get(&(0, 0)).map_or(0, Vec::len);
        for (what, found) in [
            ("parts", parts.len()),
            ("operators", operators.len()),
            ("readings of a part by an operator", replicates),
        ] {
            if found < 2 {
                return Err(StudyError::TooFew { what, found });
            }
        }
        let mut ordered = Vec::new();
        for (at, part) in parts.iter().enumerate() {
            for (by, operator) in operators.iter().enumerate() {
                let cell = cells.get(&(at, by)).map_or(&[][..], Vec::as_slice);
                if cell.len() != replicates {
                    return Err(StudyError::Unbalanced {
                        part: part.clone(),
                        operator: operator.clone(),
                        found: cell.len(),
                        expected: replicates,
                    });
                }
                ordered.extend_from_slice(cell);
            }
        }
        Ok(Study {
            parts,
            operators,
            replicates,
            readings: ordered,
        })
    }

    /// The parts, in the order they first came.
    pub fn parts(&self) -> &[String] {
        &self.parts
    }

    /// The operators, in the order they first came.
    pub fn operators(&self) -> &[String] {
        &self.operators
    }

    /// The readings of one part by one operator.
    pub fn cell(&self, part: usize, operator: usize) -> &[f64] {
        let from = (part * self.operators.len() + operator) * self.replicates;
        &self.readings[from..from + self.replicates]
    }

    /// The table of the analysis of variance.
    pub fn table(&self) -> Table {
        let (p, o, r) = (self.parts.len(), self.operators.len(), self.replicates);
        // Shifted by one of the readings, so that leading digits in common don't cancel.
        let origin = self.readings[0];
        let mean = |cells: &mut dyn Iterator<Item = (usize, usize)>| {
            let mut count = 0.0;
            let total = sum(cells.flat_map(|(part, by)| {
                count += r as f64;
                self.cell(part, by).iter().map(|reading| reading - origin)
            }));
            total / count
        };
        let grand = mean(&mut (0..p).flat_map(|part| (0..o).map(move |by| (part, by))));
        let of_part: Vec<f64> = (0..p)
            .map(|part| mean(&mut (0..o).map(|by| (part, by))))
            .collect();
        let of_operator: Vec<f64> = (0..o)
            .map(|by| mean(&mut (0..p).map(|part| (part, by))))
            .collect();
        let mut interaction = Vec::with_capacity(p * o);
        let mut scatter = Vec::with_capacity(p * o * r);
        for (part, part_mean) in of_part.iter().enumerate() {
            for (by, operator_mean) in of_operator.iter().enumerate() {
                let cell = mean(&mut std::iter::once((part, by)));
                interaction.push((cell - part_mean - operator_mean + grand).powi(2));
                let off = |reading: &f64| (reading - origin - cell).powi(2);
                scatter.extend(self.cell(part, by).iter().map(off));
            }
        }
        let (parts, operators, replicates) = (p as f64, o as f64, r as f64);
        let squares = |means: &[f64]| sum(means.iter().map(|mean| (mean - grand).powi(2)));
        Table {
            part: Row {
                squares: operators * replicates * squares(&of_part),
                dof: parts - 1.0,
            },
            operator: Row {
                squares: parts * replicates * squares(&of_operator),
                dof: operators - 1.0,
            },
            interaction: Row {
                squares: replicates * sum(interaction),
                dof: (parts - 1.0) * (operators - 1.0),
            },
            scatter: Row {
                squares: sum(scatter),
                dof: parts * operators * (replicates - 1.0),
            },
            replicates,
        }
    }
}

/// Where a name stands among those seen so far.
fn place(seen: &mut Vec<String>, name: &str) -> usize {
    seen.iter()
        .position(|other| other == name)
        .unwrap_or_else(|| {
            seen.push(name.to_owned());
            seen.len() - 1
        })
}

/// The two-way table of a crossed study.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Table {
    /// Between parts.
    pub part: Row,
    /// Between operators.
    pub operator: Row,
    /// Part by operator.
    pub interaction: Row,
    /// Within a part and operator.
    pub scatter: Row,
    /// How often each operator measured each part; whole.
    pub replicates: f64,
}

/// One component of the spread, as a standard deviation in the readings' unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Component {
    /// Standard deviation.
    pub deviation: f64,
    /// Whether the variance came out negative and was set to zero.
    pub set_to_zero: bool,
    /// Lower and upper confidence limit of the standard deviation.
    pub limits: (f64, f64),
}

/// What a gauge study says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Findings {
    /// The chance of so strong an interaction if there is none; none if there is
    /// no scatter at all.
    pub interaction_chance: Option<f64>,
    /// Whether the interaction was pooled with the scatter.
    pub pooled: bool,
    /// The same operator on the same part.
    pub repeatability: Component,
    /// Its degrees of freedom.
    pub repeatability_dof: f64,
    /// Between operators, with their interaction if it was not pooled.
    pub reproducibility: Component,
    /// Both together: the measuring.
    pub gauge: Component,
    /// Between the parts.
    pub part: Component,
    /// Measuring and parts together.
    pub total: f64,
}

impl Findings {
    /// A component's share of the total spread, as a fraction of standard
    /// deviations (they don't add up to one); none without any spread.
    pub fn share(&self, component: &Component) -> Option<f64> {
        (self.total > 0.0).then(|| component.deviation / self.total)
    }

    /// How many kinds of parts the measuring can tell apart, cut to whole:
    /// 1.41 times the spread of the parts over that of the measuring (common
    /// practice, which rounds √2 so). None if the measuring has no spread.
    pub fn distinct_categories(&self) -> Option<u32> {
        (self.gauge.deviation > 0.0)
            .then(|| (1.41 * self.part.deviation / self.gauge.deviation).floor() as u32)
    }
}

impl Table {
    /// Works the study out. The interaction is pooled with the scatter when the
    /// chance of it is over `pooling` (0.05 and 0.25 are in use); limits have the
    /// confidence `coverage`.
    ///
    /// # Panics
    /// If `coverage` is not between 0 and 1.
    pub fn findings(&self, pooling: f64, coverage: f64) -> Findings {
        let (parts, operators) = (self.part.dof + 1.0, self.operator.dof + 1.0);
        let of_operator = parts * self.replicates;
        let of_part = operators * self.replicates;
        let interaction_chance = (self.scatter.squares > 0.0).then(|| {
            let ratio = self.interaction.mean_square() / self.scatter.mean_square();
            f_upper_tail(ratio, self.interaction.dof, self.scatter.dof)
        });
        let pooled = interaction_chance.is_some_and(|chance| chance > pooling);
        let error = if pooled {
            Row {
                squares: self.interaction.squares + self.scatter.squares,
                dof: self.interaction.dof + self.scatter.dof,
            }
        } else {
            self.scatter
        };
        // What parts and operators are compared with.
        let against = if pooled { error } else { self.interaction };
        let term = |weight: f64, row: Row| Term { weight, row };
        let component = |terms: &[Term]| component(terms, coverage);
        let (reproducibility, gauge) = if pooled {
            (
                component(&[
                    term(1.0 / of_operator, self.operator),
                    term(-1.0 / of_operator, error),
                ]),
                component(&[
                    term(1.0 / of_operator, self.operator),
                    term(1.0 - 1.0 / of_operator, error),
                ]),
            )
        } else {
            let interaction = (parts - 1.0) / of_operator;
            (
                component(&[
                    term(1.0 / of_operator, self.operator),
                    term(interaction, self.interaction),
                    term(-parts / of_operator, error),
                ]),
                component(&[
                    term(1.0 / of_operator, self.operator),
                    term(interaction, self.interaction),
                    term(1.0 - parts / of_operator, error),
                ]),
            )
        };
        let repeatability = component(&[term(1.0, error)]);
        let part = component(&[
            term(1.0 / of_part, self.part),
            term(-1.0 / of_part, against),
        ]);
        // After components were set to zero the sum is what is left of them.
        let reproducibility = if pooled {
            reproducibility
        } else {
            self.truncated(reproducibility, of_operator)
        };
        let gauge = Component {
            deviation: repeatability.deviation.hypot(reproducibility.deviation),
            set_to_zero: reproducibility.set_to_zero,
            ..gauge
        };
        Findings {
            interaction_chance,
            pooled,
            repeatability,
            repeatability_dof: error.dof,
            reproducibility,
            gauge,
            part,
            total: gauge.deviation.hypot(part.deviation),
        }
    }

    /// Reproducibility as operators and interaction, each set to zero by itself
    /// where it is negative.
    fn truncated(&self, whole: Component, of_operator: f64) -> Component {
        let interaction = self.interaction.mean_square();
        let operator = (self.operator.mean_square() - interaction) / of_operator;
        let crossed = (interaction - self.scatter.mean_square()) / self.replicates;
        Component {
            deviation: (operator.max(0.0) + crossed.max(0.0)).sqrt(),
            set_to_zero: operator < 0.0 || crossed < 0.0,
            ..whole
        }
    }
}
