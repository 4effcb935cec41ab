//! A text's records and their cells, with quotes as in RFC 4180.

use super::{COLUMN_LIMIT, Cell, placed};
use crate::diagnostics::text::line_starts;
use crate::diagnostics::{Place, Problem};
use crate::files::Source;
use std::borrow::Cow;

/// Lines without content: empty, or a comment.
fn is_passed_over(line: &str) -> bool {
    line.trim().is_empty() || line.starts_with('#')
}

/// The separator the header holds most of, quotes passed over; a comma if it has none.
pub(super) fn delimiter_of(text: &str) -> char {
    let header = text.split(['\n', '\r']).find(|line| !is_passed_over(line));
    let mut counts = [('\t', 0), (';', 0), (',', 0)];
    let mut quoted = false;
    for c in header.unwrap_or_default().chars() {
        quoted ^= c == '"';
        for (delimiter, count) in &mut counts {
            *count += usize::from(c == *delimiter && !quoted);
        }
    }
    let most = counts.iter().rev().max_by_key(|(_, count)| *count);
    most.filter(|(_, count)| *count > 0)
        .map_or(',', |(delimiter, _)| *delimiter)
}

/// The records of a text one by one; ends after the first that can't be read.
pub(super) struct Records<'t> {
    file: &'t str,
    rest: &'t str,
    delimiter: char,
    line: usize,
}

impl<'t> Iterator for Records<'t> {
    type Item = Result<Vec<Cell<'t>>, Box<Problem>>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if self.rest.is_empty() {
                return None;
            }
            let end = self.rest.find(['\n', '\r']).unwrap_or(self.rest.len());
            if is_passed_over(&self.rest[..end]) {
                self.rest = &self.rest[end..];
                self.end_of_line();
                continue;
            }
            let record = self.record();
            match &record {
                Ok(cells) if cells.iter().all(|cell| cell.text.is_empty()) => {}
                Ok(_) => return Some(record),
                Err(_) => {
                    self.rest = "";
                    return Some(record);
                }
            }
        }
    }
}

impl<'t> Records<'t> {
    pub(super) fn of(source: &'t Source, delimiter: char) -> Self {
        Records {
            file: &source.file,
            rest: &source.text,
            delimiter,
            line: 1,
        }
    }

    /// Goes past the end of a line, if there is one.
    fn end_of_line(&mut self) {
        let rest = self.rest;
        let after = rest
            .strip_prefix("\r\n")
            .or_else(|| rest.strip_prefix(['\n', '\r']));
        if let Some(after) = after {
            self.rest = after;
            self.line += 1;
        }
    }

    fn record(&mut self) -> Result<Vec<Cell<'t>>, Box<Problem>> {
        let mut cells = Vec::new();
        let mut column = 1;
        loop {
            if cells.len() == COLUMN_LIMIT {
                let place = Place {
                    line: self.line,
                    column,
                };
                let message = format!("the row has more than {COLUMN_LIMIT} columns");
                let problem = placed("csv-too-many", self.file, place, message);
                return Err(Box::new(
                    problem.hint("leave out columns that are not needed"),
                ));
            }
            cells.push(self.cell(&mut column)?);
            match self.rest.strip_prefix(self.delimiter) {
                Some(rest) => {
                    self.rest = rest;
                    column += 1;
                }
                None => {
                    self.end_of_line();
                    return Ok(cells);
                }
            }
        }
    }

    fn cell(&mut self, column: &mut usize) -> Result<Cell<'t>, Box<Problem>> {
        let delimiter = self.delimiter;
        let blank = |c: char| matches!(c, ' ' | '\t') && c != delimiter;
        let trimmed = self.rest.trim_start_matches(blank);
        *column += self.rest.len() - trimmed.len();
        let place = Place {
            line: self.line,
            column: *column,
        };
        if let Some(inside) = trimmed.strip_prefix('"') {
            let text = self.quoted(inside, place, column)?;
            return Ok(Cell { text, place });
        }
        let end = trimmed
            .find([delimiter, '\n', '\r'])
            .unwrap_or(trimmed.len());
        let text = trimmed[..end].trim_end();
        *column += trimmed[..end].chars().count();
        self.rest = &trimmed[end..];
        Ok(Cell {
            text: text.into(),
            place,
        })
    }

    /// A quoted cell after its first quote; a quote within it is doubled.
    fn quoted(
        &mut self,
        inside: &'t str,
        place: Place,
        column: &mut usize,
    ) -> Result<Cow<'t, str>, Box<Problem>> {
        let mut end = None;
        let mut doubled = false;
        let mut quotes = inside
            .char_indices()
            .filter(|(_, c)| *c == '"')
            .map(|(at, _)| at);
        while let Some(at) = quotes.next() {
            if inside[at + 1..].starts_with('"') {
                doubled = true;
                quotes.next();
            } else {
                end = Some(at);
                break;
            }
        }
        let fault = |place, message: &str, hint: &str| {
            Box::new(placed("csv-quote", self.file, place, message.to_owned()).hint(hint))
        };
        let Some(end) = end else {
            let message = "the quote that opens here is never closed";
            return Err(fault(place, message, "close it, or take it out"));
        };
        let text = &inside[..end];
        let starts = line_starts(text);
        let lines = starts.len() - 1;
        let last = text[starts[lines]..].chars().count() + 1;
        *column = if lines == 0 {
            *column + last + 1
        } else {
            last + 1
        };
        self.line += lines;
        let delimiter = self.delimiter;
        let after = &inside[end + 1..];
        let rest = after.trim_start_matches(|c| matches!(c, ' ' | '\t') && c != delimiter);
        *column += after.len() - rest.len();
        if !rest.is_empty() && !rest.starts_with([delimiter, '\n', '\r']) {
            let place = Place {
                line: self.line,
                column: *column,
            };
            let message = "text after the closing quote";
            return Err(fault(place, message, "a quote within quotes is doubled"));
        }
        self.rest = rest;
        Ok(match doubled {
            true => text.replace("\"\"", "\"").trim().to_owned().into(),
            false => text.trim().into(),
        })
    }
}
