//! Cells as numbers.

use super::{Cell, placed};
use crate::diagnostics::Problem;
use crate::diagnostics::text::quote;

/// Reads cells as numbers and sees to it that a file keeps to one decimal sign.
pub(crate) struct Decimals<'t> {
    file: &'t str,
    comma_allowed: bool,
    /// The decimal sign of the first number that had one, and its line.
    seen: Option<(char, usize)>,
}

impl<'t> Decimals<'t> {
    pub(super) fn new(file: &'t str, comma_allowed: bool) -> Self {
        Decimals {
            file,
            comma_allowed,
            seen: None,
        }
    }

    pub(crate) fn read(&mut self, cell: &Cell<'_>, column: &str) -> Result<f64, Box<Problem>> {
        let text = cell.text.as_ref();
        let problem = |code, message| Box::new(placed(code, self.file, cell.place, message));
        if text.is_empty() {
            let message = format!("a number is missing in the column {}", quote(column));
            let hint = "take the row out if it was not measured";
            return Err(Box::new(problem("csv-missing", message).hint(hint)));
        }
        let sign = text.chars().find(|c| matches!(c, '.' | ','));
        if sign == Some(',') && !self.comma_allowed {
            let message = format!("{} has a comma", quote(text));
            let hint = "where commas separate the fields, write a decimal point and no thousands separator";
            return Err(Box::new(problem("csv-decimals", message).hint(hint)));
        }
        let value = text
            .replacen(',', ".", 1)
            .replacen('−', "-", 1)
            .parse::<f64>();
        let value = match value {
            Ok(value) if value.is_finite() => value,
            _ => {
                let message = format!("{} is no number", quote(text));
                let problem = problem("csv-number", message);
                return Err(Box::new(match sign {
                    Some(_) if text.contains(',') && text.contains('.') => {
                        problem.hint("write no thousands separators")
                    }
                    _ => problem.hint("write the number alone; its unit stands in the header"),
                }));
            }
        };
        match (sign, self.seen) {
            (Some(sign), None) => self.seen = Some((sign, cell.place.line)),
            (Some(sign), Some((first, line))) if sign != first => {
                let message = format!(
                    "{} has `{sign}` where line {line} has `{first}` as decimal sign",
                    quote(text)
                );
                let hint =
                    "write all numbers with the same decimal sign, and no thousands separators";
                return Err(Box::new(problem("csv-decimals", message).hint(hint)));
            }
            _ => {}
        }
        Ok(value)
    }
}
