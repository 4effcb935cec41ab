//! A spreadsheet's rows as readings: which column is what, which cell is what.
//!
//! Two forms, told apart by the header. Long: a reading a row, in columns named
//! `shoe`, `specimen`, `quantity`, `value` and, where wanted, `unit` and `trial`.
//! Wide: a specimen a row, and a column a quantity by its key or label, with a
//! trial's number behind it where there are several (`mass 1`, `mass 2`) and a
//! unit in brackets (`mass (oz)`). Where no trial is numbered, rows that follow
//! each other are trials that do. `specimen` may be left away where a shoe has only one.

use crate::diagnostics::{KeyPath, Place, Problem};
use crate::files::Key;
use crate::files::csv::{Cell, Heading, Table};
use crate::lab::Protocol;
use crate::quantity::{Amount, Unit};

/// One reading of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// The shoe, as the sheet calls it.
    pub shoe: String,
    /// The specimen, where the sheet says it.
    pub specimen: Option<String>,
    /// What was read.
    pub quantity: Key,
    /// Which trial, from 1, where the sheet says it.
    pub trial: Option<usize>,
    /// As it will stand in the file; or what is wrong with it.
    pub word: Result<String, String>,
    /// Where its cell begins.
    pub place: Place,
}

/// What the columns are.
#[derive(Debug)]
pub struct Columns {
    shoe: usize,
    specimen: Option<usize>,
    form: Form,
    /// Columns that are none of these.
    pub ignored: Vec<String>,
}

#[derive(Debug)]
enum Form {
    Long {
        quantity: usize,
        value: usize,
        unit: Option<usize>,
        trial: Option<usize>,
    },
    Wide(Vec<(usize, Key, Option<usize>)>),
}

impl Columns {
    /// Maps the columns by their headings.
    ///
    /// # Errors
    /// What the header lacks, as a clause.
    pub fn of(headings: &[Heading], protocol: &Protocol) -> Result<Columns, String> {
        let find = |names: &[&str]| {
            headings
                .iter()
                .position(|heading| names.contains(&plain(&heading.name).as_str()))
        };
        let shoe = find(&["shoe", "address", "shoe-address"])
            .ok_or_else(|| "no column is headed `shoe`; it holds each shoe's address".to_owned())?;
        let specimen = find(&["specimen", "specimen-id", "id"]);
        let value = find(&["value", "reading"]);
        let form = match (find(&["quantity"]), value) {
            (Some(quantity), Some(value)) => Form::Long {
                quantity,
                value,
                unit: find(&["unit"]),
                trial: find(&["trial"]),
            },
            (Some(_), None) => return Err("no column is headed `value`".to_owned()),
            (None, _) => Form::Wide(
                headings
                    .iter()
                    .enumerate()
                    .filter_map(|(at, heading)| {
                        let (key, trial) = quantity_of(&heading.name, protocol)?;
                        Some((at, key, trial))
                    })
                    .collect(),
            ),
        };
        let used: Vec<usize> = match &form {
            Form::Long {
                quantity,
                value,
                unit,
                trial,
            } => [Some(*quantity), Some(*value), *unit, *trial]
                .into_iter()
                .flatten()
                .collect(),
            Form::Wide(columns) if columns.is_empty() => {
                return Err(format!(
                    "no column is headed `quantity`, nor by a quantity of the protocol; it has {}",
                    read_off(protocol).collect::<Vec<_>>().join(", ")
                ));
            }
            Form::Wide(columns) => {
                if let Some((first, second, key)) = twice(columns) {
                    return Err(format!(
                        "`{}` and `{}` are both {key}: number them if they are trials, such as `{key} 1` and `{key} 2`, and leave one away if it says the same in another unit",
                        headings[first].name, headings[second].name
                    ));
                }
                columns.iter().map(|(at, ..)| *at).collect()
            }
        };
        let ignored = headings
            .iter()
            .enumerate()
            .filter(|(at, _)| *at != shoe && Some(*at) != specimen && !used.contains(at))
            .map(|(_, heading)| heading.name.clone())
            .collect();
        Ok(Columns {
            shoe,
            specimen,
            form,
            ignored,
        })
    }

    /// The mapping in words, for the preview.
    pub fn text(&self, headings: &[Heading]) -> String {
        let name = |at: usize| format!("`{}`", headings[at].name);
        let also = |what: &str, at: Option<usize>| match at {
            Some(at) => format!(", {what} in {}", name(at)),
            None => String::new(),
        };
        let specimen = also("specimen", self.specimen);
        match &self.form {
            Form::Long {
                quantity,
                value,
                unit,
                trial,
            } => format!(
                "a reading a row: shoe in {}{specimen}, quantity in {}, value in {}{}{}",
                name(self.shoe),
                name(*quantity),
                name(*value),
                also("unit", *unit),
                also("trial", *trial)
            ),
            Form::Wide(columns) => {
                let columns: Vec<String> = columns
                    .iter()
                    .map(|(at, key, trial)| match trial {
                        Some(trial) => format!("{} is {key}, trial {trial}", name(*at)),
                        None => format!("{} is {key}", name(*at)),
                    })
                    .collect();
                format!(
                    "a specimen a row: shoe in {}{specimen}; {}",
                    name(self.shoe),
                    columns.join("; ")
                )
            }
        }
    }

    /// The readings of all rows; a row whose quantity is not known is a problem.
    pub fn readings(
        &self,
        file: &str,
        table: &Table<'_>,
        protocol: &Protocol,
        problems: &mut Vec<Problem>,
    ) -> Vec<Taken> {
        let comma = table.delimiter() != ',';
        let mut taken = Vec::new();
        for row in &table.rows {
            let shoe = row[self.shoe].text.to_string();
            let specimen = self.specimen.map(|at| row[at].text.to_string());
            let specimen = specimen.filter(|specimen| !specimen.is_empty());
            let mut take = |quantity: Key, trial, cell: &Cell<'_>, unit: Result<_, String>| {
                let word = unit.and_then(|unit| word(&cell.text, unit, comma, &quantity, protocol));
                taken.push(Taken {
                    shoe: shoe.clone(),
                    specimen: specimen.clone(),
                    quantity,
                    trial,
                    word,
                    place: cell.place,
                });
            };
            match &self.form {
                Form::Wide(columns) => {
                    for (at, key, trial) in columns {
                        // An empty cell is a trial that was not taken.
                        if !row[*at].text.is_empty() {
                            take(key.clone(), *trial, &row[*at], Ok(table.headings[*at].unit));
                        }
                    }
                }
                Form::Long {
                    quantity,
                    value,
                    unit,
                    trial,
                } => {
                    let name = &row[*quantity];
                    let Some((key, None)) = quantity_of(&name.text, protocol) else {
                        let message = format!(
                            "the protocol has no quantity `{}` that is read off; it has {}",
                            name.text,
                            read_off(protocol).collect::<Vec<_>>().join(", ")
                        );
                        problems.push(row_problem(file, name.place, message));
                        continue;
                    };
                    let trial = match trial.map(|at| &row[at]).filter(|c| !c.text.is_empty()) {
                        None => None,
                        Some(cell) => match cell.text.parse::<usize>() {
                            Ok(trial @ 1..=100) => Some(trial),
                            _ => {
                                let message = format!("`{}` is no trial's number", cell.text);
                                problems.push(row_problem(file, cell.place, message));
                                continue;
                            }
                        },
                    };
                    let unit = match unit.map(|at| row[at].text.trim().to_owned()) {
                        Some(unit) if !unit.is_empty() => unit
                            .parse::<Unit>()
                            .map(Some)
                            .map_err(|unknown| unknown.to_string()),
                        _ => Ok(table.headings[*value].unit),
                    };
                    take(key, trial, &row[*value], unit);
                }
            }
        }
        taken
    }
}

/// Two columns of the same trial of a quantity: one reading in two units would count
/// as two.
fn twice(columns: &[(usize, Key, Option<usize>)]) -> Option<(usize, usize, &Key)> {
    columns
        .iter()
        .enumerate()
        .find_map(|(nth, (at, key, trial))| {
            let mut before = columns[..nth].iter();
            let (first, ..) = before.find(|(_, other, of)| other == key && of == trial)?;
            Some((*first, *at, key))
        })
}

/// A row that can't be taken.
pub fn row_problem(file: &str, place: Place, message: impl Into<String>) -> Problem {
    Problem::error("intake-row", file, KeyPath::root(), message)
        .at(place.line, place.column)
        .hint("mend the row and take the sheet in again; rows already taken change nothing")
}

/// Letters and digits with single hyphens between, small.
fn plain(name: &str) -> String {
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    words.join("-")
}

fn read_off(protocol: &Protocol) -> impl Iterator<Item = &str> {
    let read = protocol.quantities.iter();
    read.filter(|(_, spec)| spec.from.is_none())
        .map(|(key, _)| key.as_str())
}

/// The quantity a heading names by key or label, with the trial's number behind it.
fn quantity_of(name: &str, protocol: &Protocol) -> Option<(Key, Option<usize>)> {
    let name = plain(name);
    let of = |name: &str| {
        protocol
            .quantities
            .iter()
            .filter(|(_, spec)| spec.from.is_none())
            .find(|(key, spec)| key.as_str() == name || plain(&spec.label) == name)
            .map(|(key, _)| key.clone())
    };
    if let Some(key) = of(&name) {
        return Some((key, None));
    }
    let (front, number) = name.rsplit_once('-')?;
    let trial: usize = number
        .parse()
        .ok()
        .filter(|trial| (1..=100).contains(trial))?;
    let front = front.strip_suffix("-trial").unwrap_or(front);
    Some((of(front)?, Some(trial)))
}

/// A cell as it will stand in the file, checked to be a reading of its quantity.
fn word(
    cell: &str,
    unit: Option<Unit>,
    comma: bool,
    quantity: &Key,
    protocol: &Protocol,
) -> Result<String, String> {
    let spec = protocol
        .quantities
        .get(quantity)
        .ok_or_else(|| format!("the protocol has no quantity `{quantity}`"))?;
    if cell.is_empty() {
        return Err("the value is missing".to_owned());
    }
    let mut written = cell.to_owned();
    // A decimal comma is read where commas don't separate fields.
    if comma && !written.contains('.') && written.matches(',').count() == 1 {
        written = written.replace(',', ".");
    }
    let amount: Amount = written
        .parse()
        .map_err(|error: crate::quantity::NotAnAmount| error.reason)?;
    if let (None, Some(unit)) = (amount.unit, unit.filter(|unit| *unit != spec.unit)) {
        written = format!("{written} {unit}");
    }
    crate::serve::reading(&written, spec).map(|_| written)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::Source;
    use crate::lab::fixture;

    #[test]
    fn two_columns_of_one_trial_are_refused_and_numbered_ones_are_trials() {
        let mass = fixture::quantity("Shoe mass", Unit::Gram);
        let protocol = fixture::protocol([("mass".parse().unwrap(), mass)]);
        let columns = |header: &str| {
            let source = Source::new("sheet.csv", format!("shoe,{header}\ns,1,2\n"));
            let table = Table::read(&source).unwrap();
            Columns::of(&table.headings, &protocol).map(|_| ())
        };
        assert_eq!(columns("mass 1,mass 2 (oz)"), Ok(()));
        assert_eq!(columns("mass (g),Remark"), Ok(()));
        for header in ["mass (g),Shoe mass (oz)", "mass 1,Mass trial 1"] {
            let refused = columns(header).unwrap_err();
            assert!(refused.contains("are both mass"), "{refused}");
        }
    }
}
