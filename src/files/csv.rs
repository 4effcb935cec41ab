//! Tables of numbers as instruments and spreadsheets write them.
//!
//! A [`Table`] is a header line and rows of cells, with quotes as in RFC 4180.
//! Fields are separated by commas, semicolons or tabs, whichever the header holds
//! most of; lines end in LF, CR LF or CR; empty lines, rows of empty cells and
//! lines that begin with `#` are passed over. With semicolons or tabs a decimal
//! comma is read, with commas it is not; a file keeps to one of the two. Numbers
//! have no thousands separators.
//!
//! A header names its unit as `load (N)`, `load [N]` or `load/N`.
//!
//! What can't be read is a problem with its line and column. There is no guessing
//! at missing cells: an empty cell among numbers is a problem, never 0.

use super::{Found, Source};
use super::{nearest, source::too_large};
use crate::diagnostics::text::quote;
use crate::diagnostics::{KeyPath, Place, Problem};
use crate::quantity::Unit;
use std::borrow::Cow;

pub use super::CSV_LIMIT;

/// The most rows of a table, its header not counted.
pub const ROW_LIMIT: usize = 200_000;
/// The most columns of a table.
pub const COLUMN_LIMIT: usize = 64;

/// One field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell<'t> {
    /// What it says, quotes resolved, without white space around it.
    pub text: Cow<'t, str>,
    /// Where it begins.
    pub place: Place,
}

/// What a column's header says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heading {
    /// Its name, such as `load`.
    pub name: String,
    /// The unit beside it, if one is.
    pub unit: Option<Unit>,
    /// Where it stands.
    pub place: Place,
}

/// A table of texts: every row has as many cells as there are headings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table<'t> {
    file: &'t str,
    delimiter: char,
    /// The headings, each name once.
    pub headings: Vec<Heading>,
    /// The rows.
    pub rows: Vec<Vec<Cell<'t>>>,
}

/// One column of finite numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Its name, such as `load`.
    pub name: String,
    /// The unit of its header, if it names one.
    pub unit: Option<Unit>,
    /// Its numbers, one a row.
    pub values: Vec<f64>,
    /// The line each number stands on.
    pub lines: Vec<usize>,
}

/// Reads a file whose every column holds numbers.
///
/// # Errors
/// As [`Table::read`] and [`Table::numbers`].
pub fn numbers(source: &Source) -> Result<Vec<Column>, Vec<Problem>> {
    Table::read(source)?.numbers()
}

impl<'t> Table<'t> {
    /// Reads a file.
    ///
    /// # Errors
    /// `file-too-large`, `csv-empty`, `csv-quote`, `csv-too-many`, `csv-heading`,
    /// `csv-unit`, `csv-fields`.
    pub fn read(source: &'t Source) -> Result<Table<'t>, Vec<Problem>> {
        let file = source.file.as_str();
        if source.text.len() as u64 > CSV_LIMIT {
            return Err(vec![too_large(file, CSV_LIMIT)]);
        }
        let delimiter = delimiter_of(&source.text);
        let mut records = Records {
            file,
            rest: &source.text,
            delimiter,
            line: 1,
        };
        let Some(header) = records.next() else {
            let problem = Problem::error("csv-empty", file, KeyPath::root(), "the table is empty")
                .at(1, 1)
                .hint("the first line names the columns, each further line is a row");
            return Err(vec![problem]);
        };
        let mut found = Found::default();
        let headings = headings(file, &header.map_err(one)?, &mut found);
        let mut rows = Vec::new();
        for record in records {
            let record = record.map_err(one)?;
            if rows.len() == ROW_LIMIT {
                let message = format!("the table has more than {ROW_LIMIT} rows");
                found.push(placed("csv-too-many", file, record[0].place, message));
                break;
            }
            if record.len() == headings.len() {
                rows.push(record);
            } else {
                found.push(fields(file, &record, headings.len(), delimiter));
            }
        }
        if !found.is_empty() {
            return Err(found.into_problems(file));
        }
        Ok(Table {
            file,
            delimiter,
            headings,
            rows,
        })
    }

    /// The index of the column with this name.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.headings
            .iter()
            .position(|heading| heading.name == name)
    }

    /// All columns as numbers.
    ///
    /// # Errors
    /// `csv-empty` if there is no row; `csv-number`, `csv-missing` and
    /// `csv-decimals` for every cell that is no number.
    pub fn numbers(&self) -> Result<Vec<Column>, Vec<Problem>> {
        let mut found = Found::default();
        if self.rows.is_empty() {
            let place = self.headings[0].place;
            let message = "the table has no row below its header".to_owned();
            found.push(placed("csv-empty", self.file, place, message));
        }
        let mut decimals = Decimals {
            file: self.file,
            comma_allowed: self.delimiter != ',',
            seen: None,
        };
        let mut columns: Vec<Column> = self.headings.iter().map(Column::of).collect();
        for row in &self.rows {
            for (column, cell) in columns.iter_mut().zip(row) {
                match decimals.read(cell, &column.name) {
                    Ok(value) => {
                        column.values.push(value);
                        column.lines.push(cell.place.line);
                    }
                    Err(problem) => found.push(*problem),
                }
            }
        }
        if found.is_empty() {
            Ok(columns)
        } else {
            Err(found.into_problems(self.file))
        }
    }
}

impl Column {
    fn of(heading: &Heading) -> Column {
        Column {
            name: heading.name.clone(),
            unit: heading.unit,
            values: Vec::new(),
            lines: Vec::new(),
        }
    }
}

fn one(problem: Box<Problem>) -> Vec<Problem> {
    vec![*problem]
}

fn placed(code: &'static str, file: &str, place: Place, message: String) -> Problem {
    Problem::error(code, file, KeyPath::root(), message).at(place.line, place.column)
}

/// Lines without content: empty, or a comment.
fn is_passed_over(line: &str) -> bool {
    line.trim().is_empty() || line.starts_with('#')
}

/// The separator the header holds most of, quotes passed over; a comma if it has none.
fn delimiter_of(text: &str) -> char {
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
struct Records<'t> {
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
                return Err(Box::new(placed("csv-too-many", self.file, place, message)));
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
        let starts = crate::diagnostics::text::line_starts(text);
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

fn headings(file: &str, header: &[Cell<'_>], found: &mut Found) -> Vec<Heading> {
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
        } else if name.parse::<f64>().is_ok() {
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

fn fields(file: &str, record: &[Cell<'_>], wanted: usize, delimiter: char) -> Problem {
    let message = format!("{} fields where the header has {wanted}", record.len());
    let problem = placed("csv-fields", file, record[0].place, message);
    let halves = record.len() > wanted && delimiter == ',';
    problem.hint(if halves {
        "a decimal comma splits a number in two here; write decimal points, or separate with semicolons"
    } else if delimiter == '\t' {
        "fields are separated by tabs here, as in the header"
    } else {
        "every row has as many fields as the header; leave none out at the end"
    })
}

/// Reads cells as numbers and sees to it that a file keeps to one decimal sign.
struct Decimals<'t> {
    file: &'t str,
    comma_allowed: bool,
    /// The decimal sign of the first number that had one, and its line.
    seen: Option<(char, usize)>,
}

impl Decimals<'_> {
    fn read(&mut self, cell: &Cell<'_>, column: &str) -> Result<f64, Box<Problem>> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(text: &str) -> Result<Vec<Column>, Vec<Problem>> {
        numbers(&Source::new("curves/x.csv", text))
    }

    fn columns(text: &str) -> Vec<(String, Option<Unit>, Vec<f64>)> {
        let columns = read(text).unwrap();
        columns
            .into_iter()
            .map(|c| (c.name, c.unit, c.values))
            .collect()
    }

    fn problems(text: &str) -> Vec<(&'static str, usize, usize)> {
        let found = read(text).unwrap_err().into_iter();
        found
            .map(|p| (p.code, p.place.unwrap().line, p.place.unwrap().column))
            .collect()
    }

    #[test]
    fn one_curve_reads_the_same_however_it_is_written() {
        let expected = [
            ("load".to_owned(), Some(Unit::Newton), vec![10.0, 450.5]),
            (
                "travel".to_owned(),
                Some(Unit::Millimetre),
                vec![0.25, -6.1],
            ),
        ];
        for text in [
            "load (N),travel (mm)\n10,0.25\n450.5,-6.1\n",
            "load [N];travel [mm]\r\n10;0,25\r\n450,5;-6,1\r\n",
            "\u{feff}load/N\ttravel/mm\r10\t0,25\r450,5\t−6,1",
            "# from the press\n\nload (N), \"travel (mm)\"\n 10 , \"0.25\" \n# pause\n450.5,-6.1\n,\n",
            "load (N);travel (mm)\n10.0;0.25\n450.5;-6.1",
        ] {
            assert_eq!(columns(text), expected, "{text:?}");
        }
    }

    #[test]
    fn quotes_hold_delimiters_line_ends_and_doubled_quotes() {
        let source = Source::new("a.csv", "shoe,note\na,\"x, \"\"y\"\"\nz\"\nb,c\n");
        let table = Table::read(&source).unwrap();
        assert_eq!(table.rows[0][1].text, "x, \"y\"\nz");
        assert_eq!(table.rows[1][0].place, Place { line: 4, column: 1 });
        assert_eq!(table.column("note"), Some(1));
    }

    #[test]
    fn what_is_wrong_is_found_by_line_and_column() {
        for (text, expected) in [
            ("", ("csv-empty", 1, 1)),
            ("# only\n\n", ("csv-empty", 1, 1)),
            ("a,b\n", ("csv-empty", 1, 1)),
            ("a,b\n1,2\n3", ("csv-fields", 3, 1)),
            ("a,b\n1,5,2\n", ("csv-fields", 2, 1)),
            ("a,b\n1, x", ("csv-number", 2, 4)),
            ("a,b\n1,nan", ("csv-number", 2, 3)),
            ("a,b\n1,1e999", ("csv-number", 2, 3)),
            ("a,b\n1,", ("csv-missing", 2, 3)),
            ("a;b\n;1", ("csv-missing", 2, 1)),
            ("a,b\n1,\"2,5\"", ("csv-decimals", 2, 3)),
            ("a;b\n1.5;2,5", ("csv-decimals", 2, 5)),
            ("a;b\n1.234,5;2", ("csv-number", 2, 1)),
            ("a,b\n1,\"2", ("csv-quote", 2, 3)),
            ("a,b\n1,\"2\"3", ("csv-quote", 2, 6)),
            ("a,a\n1,2", ("csv-heading", 1, 3)),
            ("a,\n1,2", ("csv-heading", 1, 3)),
            ("load (lb),b\n1,2", ("csv-heading", 0, 0)),
            ("load (furlong),b\n1,2", ("csv-unit", 1, 1)),
        ] {
            if expected.1 == 0 {
                assert!(read(text).is_ok(), "{text:?}: `lb` is a unit");
                continue;
            }
            assert_eq!(problems(text), [expected], "{text:?}");
        }
        assert_eq!(problems("1,2\n3,4").len(), 2, "a file without header");
    }

    #[test]
    fn all_bad_cells_are_reported_and_their_number_is_bounded() {
        let bad = problems("a,b\nx,1\n2,y\nz,3");
        let lines: Vec<usize> = bad.iter().map(|(_, line, _)| *line).collect();
        assert_eq!(lines, [2, 3, 4]);
        let many = format!("a,b\n{}", "x,y\n".repeat(1000));
        let found = read(&many).unwrap_err();
        assert_eq!(found.len(), super::super::PROBLEM_LIMIT + 1);
        assert_eq!(found.last().unwrap().code, "more-problems");
    }

    #[test]
    fn rows_columns_and_bytes_are_bounded() {
        let codes =
            |text: &str| -> Vec<&str> { read(text).unwrap_err().iter().map(|p| p.code).collect() };
        assert_eq!(
            codes(&format!("a\n{}", "1\n".repeat(ROW_LIMIT + 1))),
            ["csv-too-many"]
        );
        assert!(read(&format!("a\n{}", "1\n".repeat(ROW_LIMIT))).is_ok());
        assert_eq!(codes(&",".repeat(COLUMN_LIMIT)), ["csv-too-many"]);
        assert_eq!(
            codes(&" ".repeat(CSV_LIMIT as usize + 1)),
            ["file-too-large"]
        );
    }

    proptest! {
        #[test]
        fn prop_any_text_is_read_or_refused_at_a_place_within_it(
            text in "[\"a1.,; \t\r\n#(\\[/)é-]{0,60}",
        ) {
            if let Err(found) = read(&text) {
                let starts = crate::diagnostics::text::line_starts(&text);
                for problem in found {
                    let place = problem.place.unwrap();
                    let line = crate::diagnostics::text::line(&text, &starts, place.line);
                    let length = line.map(|line| line.chars().count());
                    prop_assert!(length.is_some_and(|l| place.column <= l + 1), "{:?} {:?}", text, problem);
                }
            }
        }

        #[test]
        fn prop_numbers_written_out_read_back(
            rows in prop::collection::vec((-1e9f64..1e9, -1e9f64..1e9), 1..20),
            comma in any::<bool>(),
        ) {
            let written = |value: f64| {
                let text = value.to_string();
                if comma { text.replace('.', ",") } else { text }
            };
            let mut text = "load (N);travel (mm)\r\n".to_owned();
            for (a, b) in &rows {
                text.push_str(&format!("{};{}\r\n", written(*a), written(*b)));
            }
            let columns = read(&text).unwrap();
            let back: Vec<_> = columns[0].values.iter().copied().zip(columns[1].values.iter().copied()).collect();
            prop_assert_eq!(back, rows);
        }
    }
}
