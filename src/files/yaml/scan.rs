//! A look over the bytes before parsing: is there anything that deserves the slow way?
//!
//! It may cry wolf (a `*` in a comment) but must not miss: anchors, aliases, tags,
//! merge keys, infinities, values left empty or null, deep nesting, a second
//! document, characters that are refused, raw or as an escape. One pass, a table look-up a byte.
//!
//! One thing it does miss: a key in brackets without its colon (`{a, b: 1}`), whose
//! value is null. Only a parser can tell it from an item of a list.

/// Brackets opened in one file before the slow way looks at how deep they go;
/// counted in sum, because brackets in quotes make the depth uncertain here.
const BRACKETS: usize = 4000;
/// Brackets open at once.
const OPEN: usize = 60;
/// Columns before a line's first word; a level of nesting takes at least one.
const INDENT: usize = 60;

/// Whether the text holds, or seems to hold, something that is to be refused.
pub(super) fn is_suspicious(text: &str) -> bool {
    let mut scan = Scan::default();
    let mut lines = text.as_bytes().split(|b| matches!(b, b'\n' | b'\r'));
    lines.any(|line| scan.line(line)) || !scan.seen_content || scan.pending.is_some()
}

#[derive(Default)]
struct Scan {
    seen_content: bool,
    /// Brackets open now, and opened in sum.
    open: usize,
    sum: usize,
    /// The column of a key that had no value on its line.
    pending: Option<usize>,
    /// The column of a key whose value is a block of text (`|` or `>`): lines
    /// indented deeper are text, and hold nothing that acts.
    block: Option<usize>,
    /// Whether a quote may be open over a line's end; then no line can be taken for
    /// the beginning of a block, because it may be quoted text.
    quotes_unsure: bool,
}

impl Scan {
    /// Looks at one line; whether it is suspicious.
    fn line(&mut self, line: &[u8]) -> bool {
        let Some(first) = line.iter().position(|b| *b != b' ') else {
            return false;
        };
        let comment = line[first] == b'#' && !self.quotes_unsure;
        if comment || self.block.is_some_and(|key| first > key) {
            // Only what acts on a parser from within text or comment matters.
            return has_refused(line);
        }
        self.block = None;
        let marker = line.starts_with(b"---") || line.starts_with(b"...") || line[0] == b'%';
        if marker {
            return self.seen_content || line != b"---";
        }
        self.seen_content = true;
        let (word, dash) = first_word(line, first);
        if word > INDENT || line[first] == b'\t' || is_left_open(&line[word..], dash) {
            return true;
        }
        if let Some(key) = self.pending.take() {
            let filled = first > key || (first == key && dash);
            if !filled {
                return true;
            }
        }
        let Some(last) = self.words(line) else {
            return true;
        };
        if last == b':' {
            self.pending = Some(word);
        }
        if matches!(last, b'|' | b'>' | b'-' | b'+')
            && !self.quotes_unsure
            && begins_block(&line[word..])
        {
            self.block = Some(word);
        }
        false
    }

    /// The last byte of a line that is not space or comment; `None` if the line is suspicious.
    fn words(&mut self, line: &[u8]) -> Option<u8> {
        let mut last = b' ';
        let mut comment = false;
        let mut quoted_until = 0;
        for (at, &byte) in line.iter().enumerate() {
            if is_odd(byte) {
                if is_refused(line, at) || may_escape(line, at) {
                    return None;
                }
                if at >= quoted_until && !comment {
                    let before = at.checked_sub(1).map_or(b' ', |at| line[at]);
                    if matches!(byte, b'"' | b'\'') {
                        quoted_until = self.quote(line, at, before, last);
                    } else if self.is_suspicious_at(line, at, before, last) {
                        return None;
                    }
                    comment = byte == b'#' && matches!(before, b' ' | b'\t') && !self.quotes_unsure;
                }
            }
            if byte != b' ' && byte != b'\t' && !comment {
                last = byte;
            }
        }
        Some(last)
    }

    fn is_suspicious_at(&mut self, line: &[u8], at: usize, before: u8, last: u8) -> bool {
        let token = matches!(before, b' ' | b'\t' | b'[' | b'{' | b',' | b':');
        let after = &line[at + 1..];
        match line[at] {
            b'[' | b'{' => {
                self.open += 1;
                self.sum += 1;
                self.open > OPEN || self.sum > BRACKETS
            }
            b']' => {
                self.open = self.open.saturating_sub(1);
                false
            }
            b'}' => {
                self.open = self.open.saturating_sub(1);
                last == b':'
            }
            b',' => last == b':',
            b'&' | b'*' => token && !matches!(after.first(), None | Some(b' ' | b'\t')),
            b'!' | b'~' => token,
            b'<' => after.first() == Some(&b'<'),
            b'.' => is_infinite(before, after),
            b'n' | b'N' => token && is_null(after),
            _ => false,
        }
    }

    /// Where the quoted text ends that a quote opens, 0 if it opens none; notes a
    /// quote that may be open at the line's end.
    ///
    /// After `[`, `{`, `,` and `: ` a quote opens a text, or stands in a plain text
    /// outside all brackets; that holds nothing that acts until a `: `. Directly after `:`,
    /// after `- ` or at a line's beginning it can be either; skipping to its end
    /// could skip over the beginning of another.
    fn quote(&mut self, line: &[u8], at: usize, before: u8, last: u8) -> usize {
        let spaced = matches!(before, b' ' | b'\t');
        let opens = matches!(before, b'[' | b'{' | b',')
            || (spaced && matches!(last, b'[' | b'{' | b',' | b':'));
        let may_open = before == b':' || (spaced && matches!(last, b' ' | b'-' | b'?'));
        if !opens {
            self.quotes_unsure |= may_open;
            return 0;
        }
        match closing(line, at) {
            // In `x{": !t y"` the quote is part of a plain key, and its value follows.
            Some(end)
                if !line[at..end]
                    .windows(2)
                    .any(|w| matches!(w, b": " | b":\t")) =>
            {
                end
            }
            _ => {
                self.quotes_unsure = true;
                0
            }
        }
    }
}

/// Where the quote at `at` is closed on the same line.
fn closing(line: &[u8], at: usize) -> Option<usize> {
    let quote = line[at];
    let mut end = at + 1;
    while let Some(&byte) = line.get(end) {
        if byte == quote {
            if quote == b'\'' && line.get(end + 1) == Some(&b'\'') {
                end += 1;
            } else {
                return Some(end + 1);
            }
        }
        end += if byte == b'\\' && quote == b'"' { 2 } else { 1 };
    }
    None
}

/// Whether a line from its first word on is a plain key and the sign of a block of
/// text, such as `review: |` or `about: >-`.
fn begins_block(line: &[u8]) -> bool {
    let key = |b: &u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_');
    let length = line.iter().take_while(|b| key(b)).count();
    let value = line[length..].strip_prefix(b": ").map(<[u8]>::trim_ascii);
    length > 0 && matches!(value, Some(b"|" | b">" | b"|-" | b">-" | b"|+" | b">+"))
}

/// Whether what follows a line's dashes may be an item left empty, or a key that a
/// `? ` marks and that needs no value.
fn is_left_open(rest: &[u8], dash: bool) -> bool {
    match rest.trim_ascii() {
        [] | [b'#', ..] => dash,
        [b'-' | b'?'] | [b'-' | b'?', b'\t', ..] | [b'?', b' ', ..] => true,
        _ => false,
    }
}

/// The column of a line's first word after `- `, and whether there was one.
fn first_word(line: &[u8], first: usize) -> (usize, bool) {
    let mut at = first;
    while let [b'-', rest @ ..] = &line[at..] {
        match rest.first() {
            None => return (at, true),
            Some(b' ') => {
                at += 1 + rest.iter().take_while(|b| **b == b' ').count();
            }
            Some(_) => break,
        }
    }
    (at, at > first)
}

/// Bytes that plain words and numbers don't hold.
fn is_odd(byte: u8) -> bool {
    const ODD: [bool; 256] = {
        let mut odd = [false; 256];
        let mut byte = 0;
        while byte < 256 {
            odd[byte] = byte < 0x20 && byte != b'\t' as usize
                || matches!(
                    byte as u8,
                    0x7F | 0xC2 | 0xE2 | 0xEF
                        ..=0xF4
                            | b'\\'
                            | b'&'
                            | b'*'
                            | b'!'
                            | b'<'
                            | b'.'
                            | b'~'
                            | b'n'
                            | b'N'
                            | b'['
                            | b'{'
                            | b']'
                            | b'}'
                            | b','
                            | b'#'
                            | b'"'
                            | b'\''
                );
            byte += 1;
        }
        odd
    };
    ODD[byte as usize]
}

fn has_refused(line: &[u8]) -> bool {
    (0..line.len()).any(|at| is_refused(line, at))
}

/// The beginning of a character that [`text::is_refused`] names, in UTF-8.
///
/// [`text::is_refused`]: crate::diagnostics::text::is_refused
fn is_refused(line: &[u8], at: usize) -> bool {
    match line[at] {
        b'\t' => false,
        0x00..=0x1F | 0x7F => true,
        0xC2 => matches!(line.get(at + 1), Some(0x80..=0x9F)),
        0xE2 => matches!(
            line.get(at + 1..at + 3),
            Some([0x80, 0xA8..=0xAE] | [0x81, 0xA6..=0xAF])
        ),
        0xEF => matches!(
            line.get(at + 1..at + 3),
            Some([0xB7, 0x90..=0xAF] | [0xBB, 0xBF] | [0xBF, 0xB9..=0xBB | 0xBE | 0xBF])
        ),
        0xF0..=0xF4 => matches!(
            line.get(at + 1..at + 4),
            Some([0xA0, 0x80 | 0x81, _] | [0x8F | 0x9F | 0xAF | 0xBF, 0xBF, 0xBE | 0xBF])
        ),
        _ => false,
    }
}

/// A backslash that, in double quotes, may write a character that is refused.
fn may_escape(line: &[u8], at: usize) -> bool {
    line[at] == b'\\'
        && matches!(
            line.get(at + 1),
            Some(
                b'0' | b'a'
                    | b'b'
                    | b'v'
                    | b'f'
                    | b'e'
                    | b'r'
                    | b'x'
                    | b'u'
                    | b'U'
                    | b'N'
                    | b'L'
                    | b'P'
            )
        )
}

fn is_infinite(before: u8, after: &[u8]) -> bool {
    let word = after.get(..3);
    !before.is_ascii_alphanumeric()
        && word.is_some_and(|w| w.eq_ignore_ascii_case(b"nan") || w.eq_ignore_ascii_case(b"inf"))
}

fn is_null(after: &[u8]) -> bool {
    let rest = after.strip_prefix(b"ull").or(after.strip_prefix(b"ULL"));
    rest.is_some_and(|rest| matches!(rest.first(), None | Some(b' ' | b'\t' | b',' | b']' | b'}')))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ordinary_shoe_is_not_suspicious() {
        let shoe = "\
# shoes/x.yaml
---
maker: Fennick & Vale   # invented
size: {system: mondopoint, value: 270}
specimens:
- id: Q2-L
  session: {on: 2026-11-18, temperature: 22.8 °C}
  readings:
    mass: [262, 263, 262.5]
    torque:
    - 38 in·lbf
note: null-like names, it's 3 * 4 and not.infinite!
review: |
  The first line:
    * a list
  ends.
";
        assert!(!is_suspicious(shoe));
        assert!(!is_suspicious("a: b\r\nc:\r\n  d: e\r\n"));
    }

    #[test]
    fn text_in_blocks_quotes_and_comments_is_not_suspicious() {
        for text in [
            "a: |\n  *so* &c !now ~ <<\n\n  ends:\nb: 1",
            "a: >- \n  *so*\nb: 1",
            "- a: |\n    *so*\n- a: 1",
            "a: \"&x [\"\nb: ['*it''s*', \"\\\" !x\"]",
            "a: C:\\dir \\$ \\# \\\\\nb: \"\\\"\\n\\t\"",
            "a: 👟\u{200d}🏽 \u{ad}\u{200f}",
            "a: 1 # see *this* ~ [\n# and !that\nb: 2",
        ] {
            assert!(!is_suspicious(text), "{text:?}");
        }
    }

    #[test]
    fn what_only_looks_like_a_block_quote_or_comment_hides_nothing() {
        for text in [
            "a: [\"\n  b: |\n   \", &x 1]",
            "a: ['\n  b: |\n   ', &x 1]",
            "a: [x \"b, [c\", d], e \"f, \"g\n  k: |\n   \", &x 1]",
            "a: [x\n \"b, [c\", d]\n, y\n \"f, \"g\n  k: |\n   \", &x 1]",
            "a: [x:\"b, \"c\n  k: |\n   \", &x 1]",
            "- \"\n  k: |\n   \"\n- &x 1",
            "a: [\"x\n  # y\", &b 1]",
            "a: [\"x # y\n \", &b 1]",
            "a: |\n  text\nb: &x 1",
            "a: |\n  text\n-",
            "a: |\n  \u{1}",
            "- |\n  k: |\n    t\n- &x 1",
            "x{\": !t y\"",
        ] {
            assert!(is_suspicious(text), "{text:?}");
        }
    }

    #[test]
    fn what_is_to_be_refused_is_never_missed() {
        for text in [
            "",
            " \n# x\n",
            "a: &x 1",
            "a: *x",
            "- *x",
            "[*x]",
            "{\"a\":*x}",
            "a: !t x",
            "!!map {}",
            "<<: {}",
            "a: .nan",
            "a: -.Inf",
            "[.INF]",
            "a: ~",
            "a: null",
            "a: [null]",
            "a:",
            "a:\nb: 1",
            "a: # nothing\nb: 1",
            "- a:\n  b: 1",
            "- a\n-",
            "- a\n- \n- b",
            "- a\n-   # nothing\n- b",
            "- - \n",
            "-\t\n- b",
            "? a\nb: 1",
            "- ? a",
            "{a: , b: 1}",
            "{a:}",
            "a: {b: }",
            "a: 1\n---\nb: 2",
            "--- x",
            "%YAML 1.2\n---\na: 1",
            "a: 1\n...",
            "a: \u{1}",
            "a: \u{85}b",
            "a: \u{2028}b",
            "# \u{0}",
            "a\u{feff}: 1",
            "\ta: 1",
            "a: b\u{7f}",
            "a: \u{202e}b",
            "a: 'x\u{2066}'",
            "# \u{2069}",
            "a: |\n  \u{202a}",
            "a: \u{fdd0}",
            "a: \u{ffff}",
            "a: \u{1fffe}",
            "a: \u{10ffff}",
            "a: \u{e0041}",
            "a: \u{fff9}",
            "a: \"\\e[31m\"",
            "a: [\"\\x9b\"]",
            "\"\\u202E\": 1",
        ] {
            assert!(is_suspicious(text), "{text:?}");
        }
        assert!(is_suspicious(&format!("a: {}", "[".repeat(61))));
        assert!(is_suspicious(&"[\"]\"".repeat(5000)));
        assert!(is_suspicious(&format!("{}a: 1", "- ".repeat(40))));
        assert!(is_suspicious(&format!("{}a: 1", " ".repeat(70))));
    }
}
