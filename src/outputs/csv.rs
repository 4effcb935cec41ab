//! Comma-separated values by RFC 4180, safe to open in a spreadsheet.
//!
//! Lines end with CR LF; cells that need it are quoted; an absent value is an
//! empty cell, never 0 and never a word. A number is the shortest decimal that
//! reads back as the same double, without exponent, with a hyphen as minus.
//!
//! A spreadsheet takes a text that begins with `=`, `+`, `-`, `@` (in some
//! languages also as wide as an ideograph), a tab or a break of the line for a
//! formula, and some pass over white space before it. Such a text gets one
//! apostrophe before it, and so does a text that begins with an apostrophe; to
//! have the text back, drop one leading apostrophe. Numbers, dates and names are never touched, because
//! no such cell begins that way except a negative number, which is no text.

use crate::files::Date;
use std::io;

/// Whether a spreadsheet could take a text for a formula, or drop its apostrophe.
fn is_guarded(text: &str) -> bool {
    text.starts_with(['\t', '\r', '\n', '\''])
        || text
            .trim_start()
            .starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠'])
}

/// One table being written.
pub(super) struct Csv {
    text: String,
    columns: usize,
    cell: usize,
}

impl Csv {
    /// A table with its line of column names.
    pub fn new<'a>(columns: impl IntoIterator<Item = &'a str>) -> Self {
        let mut csv = Csv {
            text: String::new(),
            columns: 0,
            cell: 0,
        };
        for name in columns {
            csv.text(Some(name));
        }
        csv.columns = csv.cell;
        csv.end();
        csv
    }

    /// Ends a row.
    ///
    /// # Panics
    /// If the row has not one cell a column: that is a mistake of this program.
    pub fn end(&mut self) {
        assert_eq!(self.cell, self.columns, "one cell a column");
        self.text.push_str("\r\n");
        self.cell = 0;
    }

    /// A cell of free text.
    pub fn text(&mut self, text: Option<&str>) {
        let text = text.unwrap_or_default();
        let guarded = is_guarded(text);
        self.separate();
        let quoted = text.contains(['"', ',', '\r', '\n']) || text != text.trim();
        if quoted {
            self.text.push('"');
        }
        if guarded {
            self.text.push('\'');
        }
        if quoted {
            self.text.push_str(&text.replace('"', "\"\""));
            self.text.push('"');
        } else {
            self.text.push_str(text);
        }
    }

    /// A cell of a number; absent if there is none, or none that is finite.
    pub fn number(&mut self, number: Option<f64>) {
        self.separate();
        if let Some(number) = number.filter(|number| number.is_finite()) {
            // A negative zero is a zero.
            self.text.push_str(&(number + 0.0).to_string());
        }
    }

    /// A cell of a count.
    pub fn count(&mut self, count: Option<usize>) {
        self.separate();
        if let Some(count) = count {
            self.text.push_str(&count.to_string());
        }
    }

    /// A cell of yes or no, as `true` or `false`.
    pub fn truth(&mut self, truth: Option<bool>) {
        self.separate();
        self.text.push_str(match truth {
            Some(true) => "true",
            Some(false) => "false",
            None => "",
        });
    }

    /// A cell of a day.
    pub fn date(&mut self, date: Option<Date>) {
        self.separate();
        if let Some(date) = date {
            self.text.push_str(&date.to_string());
        }
    }

    fn separate(&mut self) {
        if self.cell > 0 {
            self.text.push(',');
        }
        self.cell += 1;
    }

    /// Writes the rows that were ended since the last call.
    pub fn write(&mut self, to: &mut dyn io::Write) -> io::Result<()> {
        to.write_all(self.text.as_bytes())?;
        self.text.clear();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn written(mut csv: Csv) -> String {
        let mut made = Vec::new();
        csv.write(&mut made).unwrap();
        String::from_utf8(made).unwrap()
    }

    fn cell(text: &str) -> String {
        let mut csv = Csv::new(["a"]);
        csv.text(Some(text));
        csv.end();
        let made = written(csv);
        made.strip_prefix("a\r\n")
            .unwrap()
            .strip_suffix("\r\n")
            .unwrap()
            .to_owned()
    }

    /// Reads a single cell as RFC 4180 and the rule of the apostrophe say.
    fn read(cell: &str) -> String {
        let bare = match cell
            .strip_prefix('"')
            .and_then(|rest| rest.strip_suffix('"'))
        {
            Some(quoted) => quoted.replace("\"\"", "\""),
            None => cell.to_owned(),
        };
        bare.strip_prefix('\'').map_or(bare.clone(), str::to_owned)
    }

    #[test]
    fn no_text_is_a_formula() {
        for text in [
            "=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "'=1", "\n=1", " =1", "\u{a0}@x",
            "＝1", "＋1", "－1", "＠x",
        ] {
            let bare = cell(text).trim_start_matches('"').to_owned();
            assert!(bare.starts_with('\''), "{text:?} gave {bare:?}");
        }
        assert_eq!(cell("Quarrel 2"), "Quarrel 2");
    }

    #[test]
    fn numbers_are_short_and_never_guarded() {
        let mut csv = Csv::new(["a", "b", "c", "d"]);
        csv.number(Some(-4.25));
        csv.number(Some(0.1 + 0.2));
        csv.number(Some(f64::NAN));
        csv.number(None);
        csv.end();
        let made = written(csv);
        assert_eq!(made, "a,b,c,d\r\n-4.25,0.30000000000000004,,\r\n");
    }

    proptest! {
        #[test]
        fn prop_a_text_reads_back_as_it_was(text in "[ -~\\t\\r\\n'\"=+@é-]{0,20}") {
            prop_assert_eq!(read(&cell(&text)), text);
        }

        #[test]
        fn prop_a_number_reads_back_as_it_was(number in proptest::num::f64::NORMAL) {
            let mut csv = Csv::new(["a"]);
            csv.number(Some(number));
            csv.end();
            let made = written(csv);
            let text = made.lines().nth(1).unwrap();
            prop_assert!(!text.contains(['e', 'E']));
            prop_assert_eq!(text.parse::<f64>().unwrap(), number);
        }
    }
}
