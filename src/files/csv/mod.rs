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

mod decimals;
mod headings;
mod records;

use super::{Found, Source, source::too_large};
use crate::diagnostics::{KeyPath, Place, Problem};
use crate::quantity::Unit;
pub(crate) use decimals::Decimals;
use headings::headings;
use records::{Records, delimiter_of};
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
        let mut records = Records::of(source, delimiter);
        let Some(header) = records.next() else {
            let problem = Problem::error("csv-empty", file, KeyPath::root(), "the table is empty")
                .at(1, 1)
                .hint("the first line names the columns, each further line is a row");
            return Err(vec![problem]);
        };
        let mut found = Found::default();
        let headings = headings(file, &header.map_err(|problem| vec![*problem])?, &mut found);
        let mut rows = Vec::new();
        for record in records {
            let record = record.map_err(|problem| vec![*problem])?;
            if rows.len() == ROW_LIMIT {
                let message = format!("the table has more than {ROW_LIMIT} rows");
                let problem = placed("csv-too-many", file, record[0].place, message);
                found.push(problem.hint("take out what is not needed, or split the file"));
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

    /// What separates its fields.
    pub fn delimiter(&self) -> char {
        self.delimiter
    }

    /// The index of the column with this name.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.headings
            .iter()
            .position(|heading| heading.name == name)
    }

    /// Reads single cells as numbers, in columns that may have empty ones.
    pub(crate) fn decimals(&self) -> Decimals<'t> {
        Decimals::new(self.file, self.delimiter != ',')
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
        let mut decimals = self.decimals();
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

fn placed(code: &'static str, file: &str, place: Place, message: String) -> Problem {
    Problem::error(code, file, KeyPath::root(), message).at(place.line, place.column)
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
        assert_eq!(
            problems("1,5;2,5\n3,5;4,5").len(),
            2,
            "and with decimal commas"
        );
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
