//! One file's text, checked at the door.

use crate::diagnostics::text::{line, line_starts, quote};
use crate::diagnostics::{KeyPath, Problem};

/// The most bytes of a YAML file.
pub const YAML_LIMIT: u64 = 1 << 20;
/// The most bytes of a CSV file.
pub const CSV_LIMIT: u64 = 8 << 20;

/// How many characters of a last line are shown, from its end.
const SHOWN_OF_LINE: usize = 30;

/// A file as it was read: UTF-8, within its size limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// The file, relative to the lab's root, with forward slashes.
    pub file: String,
    /// What it says, without byte order mark.
    pub text: String,
    /// The hash of its bytes, byte order mark included.
    pub hash: blake3::Hash,
}

impl Source {
    /// A text in memory as if it stood in `file`.
    pub fn new(file: impl Into<String>, text: impl Into<String>) -> Source {
        let text = text.into();
        let hash = blake3::hash(text.as_bytes());
        Source {
            file: file.into(),
            text: without_mark(text),
            hash,
        }
    }

    /// A file's bytes.
    ///
    /// # Errors
    /// `not-utf-8` at the first bad byte; `file-too-large` over `limit` bytes.
    pub fn from_bytes(file: &str, bytes: Vec<u8>, limit: u64) -> Result<Source, Problem> {
        if bytes.len() as u64 > limit {
            return Err(too_large(file, limit));
        }
        let hash = blake3::hash(&bytes);
        let text = String::from_utf8(bytes).map_err(|error| not_utf8(file, &error))?;
        Ok(Source {
            file: file.into(),
            text: without_mark(text),
            hash,
        })
    }

    /// The warning of a file whose last line has no line break after it: it may have
    /// been cut off there while it was copied, and `250` of `2500` is a number too.
    /// None for a file without a word, which is refused as empty.
    pub fn cut_off(&self) -> Option<Problem> {
        let text = self.text.as_str();
        if text.ends_with(['\n', '\r']) || text.trim().is_empty() {
            return None;
        }
        let starts = line_starts(text);
        let last = line(text, &starts, starts.len()).unwrap_or_default();
        let end = last.trim_start();
        let skipped = end.chars().count().saturating_sub(SHOWN_OF_LINE);
        let shown: String = end.chars().skip(skipped).collect();
        let dots = if skipped > 0 { "…" } else { "" };
        Some(
            Problem::warning(
                "cut-off",
                &*self.file,
                KeyPath::root(),
                format!(
                    "a line break was expected behind the last line, {}; the file may have been cut off here",
                    quote(&format!("{dots}{shown}"))
                ),
            )
            .at(starts.len(), last.chars().count() + 1)
            .hint("compare it with where it was copied from; if nothing is missing, end the line with a line break"),
        )
    }
}

fn without_mark(mut text: String) -> String {
    if text.starts_with('\u{FEFF}') {
        text.drain(..'\u{FEFF}'.len_utf8());
    }
    text
}

/// The problem of a file over its limit.
pub(super) fn too_large(file: &str, limit: u64) -> Problem {
    Problem::error(
        "file-too-large",
        file,
        KeyPath::root(),
        format!("the file is larger than {} KiB", limit / 1024),
    )
    .hint("split it, or take out what is not needed")
}

fn not_utf8(file: &str, error: &std::string::FromUtf8Error) -> Problem {
    let valid = error.utf8_error().valid_up_to();
    let (good, bad) = error.as_bytes().split_at(valid);
    let good = str::from_utf8(good).unwrap_or_default();
    // As in every other place, the mark is no column of the first line.
    let good = good.strip_prefix('\u{FEFF}').unwrap_or(good);
    let utf16 = matches!(error.as_bytes(), [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..]);
    let what = if utf16 {
        "the file is UTF-16, not UTF-8".to_owned()
    } else {
        format!("the byte {:#04x} is not UTF-8", bad[0])
    };
    let starts = line_starts(good);
    let line = starts.len();
    let column = good[starts[line - 1]..].chars().count() + 1;
    Problem::error("not-utf-8", file, KeyPath::root(), what)
        .at(line, column)
        .hint("save the file as UTF-8")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::Place;

    #[test]
    fn a_byte_order_mark_is_tolerated_and_hashed() {
        let source = Source::from_bytes("a", b"\xEF\xBB\xBFa: 1".to_vec(), 99).unwrap();
        assert_eq!(source.text, "a: 1");
        assert_eq!(source, Source::new("a", "\u{FEFF}a: 1"));
        assert_ne!(source.hash, Source::new("a", "a: 1").hash);
    }

    #[test]
    fn a_byte_that_is_no_utf8_is_found_by_line_and_column() {
        let problem = Source::from_bytes("a", b"x: 1\ny: \xC3\xA9t\xE9".to_vec(), 99).unwrap_err();
        assert_eq!(problem.code, "not-utf-8");
        let place = problem.place.unwrap();
        assert_eq!((place.line, place.column), (2, 6));
        assert!(problem.message.contains("0xe9"));
        let marked = Source::from_bytes("a", b"\xEF\xBB\xBFx: \xE9".to_vec(), 99).unwrap_err();
        assert_eq!(marked.place, Some(Place { line: 1, column: 4 }));
    }

    #[test]
    fn utf16_is_called_by_its_name() {
        let problem = Source::from_bytes("a", b"\xFF\xFEa\0".to_vec(), 99).unwrap_err();
        assert!(problem.message.contains("UTF-16"));
    }

    #[test]
    fn a_file_over_its_limit_is_refused() {
        let problem = Source::from_bytes("a", vec![b'x'; 2049], 2048).unwrap_err();
        assert_eq!(problem.code, "file-too-large");
        assert!(problem.message.contains("2 KiB"));
    }

    #[test]
    fn a_file_that_ends_within_a_line_may_be_cut_off_and_one_that_ends_a_line_is_whole() {
        for whole in [
            "a: 2500\n",
            "a,b\r\n1,2\r\n",
            "a\r1\r",
            "a: 1\n\n",
            "",
            " ",
            "\n  ",
        ] {
            assert_eq!(Source::new("a", whole).cut_off(), None, "{whole:?}");
        }
        for (cut, line, column, shown) in [
            ("a: 250", 1, 7, "`a: 250`"),
            ("a,b\r\n1,2\r\n3,4", 3, 4, "`3,4`"),
            ("a\r1", 2, 2, "`1`"),
            ("a: 1\n# größer", 2, 9, "`# größer`"),
            ("a:\n  - 1\n  ", 3, 3, "``"),
        ] {
            let problem = Source::new("a", cut)
                .cut_off()
                .expect("it ends within a line");
            assert_eq!(problem.place, Some(Place { line, column }), "{cut:?}");
            assert!(problem.message.contains(shown), "{}", problem.message);
            assert!(!problem.is_error());
        }
    }

    #[test]
    fn of_a_long_last_line_its_end_is_shown() {
        let problem = Source::new("a", format!("a: {}250", "x".repeat(900))).cut_off();
        let message = problem.expect("it ends within a line").message;
        let shown = format!("`…{}250`", "x".repeat(SHOWN_OF_LINE - 3));
        assert!(message.contains(&shown), "{message}");
    }
}
