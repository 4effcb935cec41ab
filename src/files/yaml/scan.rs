//! A look over the bytes before parsing: is there anything that deserves the slow way?
//!
//! It may cry wolf (a `*` in a comment) but must not miss: anchors, aliases, tags,
//! merge keys, infinities, values left empty or null, deep nesting, a second
//! document, control characters. One pass, a table look-up a byte.

/// Brackets opened in one file before the slow way looks at how deep they go;
/// counted in sum, because brackets in quotes make the depth uncertain here.
const BRACKETS: usize = 4000;
/// Brackets open at once.
const OPEN: usize = 60;
/// Columns before a line's first word; a level of nesting takes at least one.
const INDENT: usize = 60;

/// Whether the text holds, or seems to hold, something that is to be refused.
pub(super) fn is_suspicious(text: &str) -> bool {
    let mut pending = None;
    let mut seen_content = false;
    let mut brackets = Brackets::default();
    for line in text.as_bytes().split(|b| matches!(b, b'\n' | b'\r')) {
        let Some(first) = line.iter().position(|b| *b != b' ') else {
            continue;
        };
        if line[first] == b'#' {
            // Only what acts on a parser from within a comment matters.
            if line.iter().any(|b| is_odd(*b)) && has_control(line) {
                return true;
            }
            continue;
        }
        let marker = line.starts_with(b"---") || line.starts_with(b"...") || line[0] == b'%';
        if marker && (seen_content || line != b"---") {
            return true;
        }
        if marker {
            continue;
        }
        seen_content = true;
        let (word, dash) = first_word(line, first);
        if word > INDENT || line[first] == b'\t' {
            return true;
        }
        if let Some(key) = pending.take() {
            let filled = first > key || (first == key && dash);
            if !filled {
                return true;
            }
        }
        let Some(last) = scan_line(line, &mut brackets) else {
            return true;
        };
        if last == b':' {
            pending = Some(word);
        }
    }
    !seen_content || pending.is_some()
}

#[derive(Default)]
struct Brackets {
    open: usize,
    sum: usize,
}

/// The column of a line's first word after `- ` and `? `, and whether there was a `- `.
fn first_word(line: &[u8], first: usize) -> (usize, bool) {
    let mut at = first;
    while let [b'-' | b'?', rest @ ..] = &line[at..] {
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
                    0x7F | 0xC2
                        | 0xE2
                        | 0xEF
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
                );
            byte += 1;
        }
        odd
    };
    ODD[byte as usize]
}

fn has_control(line: &[u8]) -> bool {
    (0..line.len()).any(|at| is_control(line, at))
}

/// A control character, a line separator of Unicode or a byte order mark: what
/// readers of YAML 1.1 and 1.2 disagree about, or what acts on a terminal.
fn is_control(line: &[u8], at: usize) -> bool {
    match line[at] {
        b'\t' => false,
        0x00..=0x1F | 0x7F => true,
        0xC2 => matches!(line.get(at + 1), Some(0x80..=0x9F)),
        0xE2 => matches!(line.get(at + 1..at + 3), Some([0x80, 0xA8 | 0xA9])),
        0xEF => matches!(line.get(at + 1..at + 3), Some([0xBB, 0xBF])),
        _ => false,
    }
}

/// The last byte of a line that is not space or comment; `None` if the line is suspicious.
fn scan_line(line: &[u8], brackets: &mut Brackets) -> Option<u8> {
    let mut last = b' ';
    let mut comment = false;
    for (at, &byte) in line.iter().enumerate() {
        if is_odd(byte) {
            let before = at.checked_sub(1).map_or(b' ', |at| line[at]);
            let token = matches!(before, b' ' | b'\t' | b'[' | b'{' | b',' | b':');
            let after = &line[at + 1..];
            match byte {
                b'[' | b'{' => {
                    brackets.open += 1;
                    brackets.sum += 1;
                    if brackets.open > OPEN || brackets.sum > BRACKETS {
                        return None;
                    }
                }
                b']' | b'}' => brackets.open = brackets.open.saturating_sub(1),
                b'&' | b'*' if token && !matches!(after.first(), None | Some(b' ')) => return None,
                b'!' | b'~' if token => return None,
                b'<' if after.first() == Some(&b'<') => return None,
                b'.' if is_infinite(before, after) => return None,
                b'n' | b'N' if token && is_null(after) => return None,
                _ if is_control(line, at) => return None,
                _ => {}
            }
            if matches!(byte, b',' | b'}') && last == b':' && !comment {
                return None;
            }
            comment |= byte == b'#' && matches!(before, b' ' | b'\t');
        }
        if byte != b' ' && byte != b'\t' && !comment {
            last = byte;
        }
    }
    Some(last)
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
        ] {
            assert!(is_suspicious(text), "{text:?}");
        }
        assert!(is_suspicious(&format!("a: {}", "[".repeat(61))));
        assert!(is_suspicious(&"[\"]\"".repeat(5000)));
        assert!(is_suspicious(&format!("{}a: 1", "- ".repeat(40))));
        assert!(is_suspicious(&format!("{}a: 1", " ".repeat(70))));
    }
}
