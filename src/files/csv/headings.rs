//! A table's header: names and units.

use super::{Cell, Heading, placed};
use crate::diagnostics::text::quote;
use crate::diagnostics::{Place, Problem};
use crate::files::{Found, nearest};
use crate::quantity::Unit;

/// Reads a header's cells; what is wrong with them goes to `found`.
pub(super) fn headings(file: &str, header: &[Cell<'_>], found: &mut Found) -> Vec<Heading> {
    let mut headings: Vec<Heading> = Vec::new();
    for cell in header {
        let (name, unit) = split_unit(&cell.text);
        let unit = unit.and_then(|written| match written.parse::<Unit>() {
            Ok(unit) => Some(unit),
            Err(_) => {
                found.push(unknown_unit(file, cell.place, written));
                None
            }
        });
        let fault = if name.is_empty() {
            Some("the column has no name".to_owned())
        } else if headings.iter().any(|known| known.name == name) {
            Some(format!("the column {} is there twice", quote(name)))
        } else if name.replace(',', ".").parse::<f64>().is_ok() {
            Some(format!(
                "{} is a number where the column's name is expected",
                quote(name)
            ))
        } else {
            None
        };
        if let Some(message) = fault {
            let hint = "the first line names each column once, such as `load (N)`";
            found.push(placed("csv-heading", file, cell.place, message).hint(hint));
        }
        headings.push(Heading {
            name: name.to_owned(),
            unit,
            place: cell.place,
        });
    }
    headings
}

fn unknown_unit(file: &str, place: Place, written: &str) -> Problem {
    let known: Vec<&str> = Unit::symbols().collect();
    let hint = match nearest(written, known.iter().copied()) {
        Some(meant) => format!("did you mean `{meant}`? known are {}", known.join(", ")),
        None => format!("known are {}", known.join(", ")),
    };
    let message = format!("{} is no unit known here", quote(written));
    placed("csv-unit", file, place, message).hint(hint)
}

/// `load (N)`, `load [N]` and `load/N` as name and unit.
fn split_unit(heading: &str) -> (&str, Option<&str>) {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some(inside) = heading.strip_suffix(close)
            && let Some((name, unit)) = inside.rsplit_once(open)
        {
            return (name.trim(), Some(unit.trim()));
        }
    }
    match heading.split_once('/') {
        Some((name, unit)) => (name.trim(), Some(unit.trim())),
        None => (heading.trim(), None),
    }
}
