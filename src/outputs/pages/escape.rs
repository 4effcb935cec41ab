//! Escaping for HTML and XML.
//!
//! Beyond the five characters of markup, it keeps out what no document may
//! hold: control characters are dropped, noncharacters become U+FFFD
//! (XML 1.0 section 2.2, HTML "preprocessing the input stream"). A reading
//! typed with a stray control character then still makes a valid page. A text that
//! runs from right to left is kept from taking along what stands around it
//! (`words::direction`).

use crate::words::direction;
use std::io::{self, Write};

/// Writes a text so that it is nothing but text, in an element or in a quoted attribute.
pub(super) fn escape(text: &str, out: &mut dyn Write) -> io::Result<()> {
    if !direction::reorders(text) {
        return escape_as_is(text, out);
    }
    write!(out, "{}", direction::ISOLATE)?;
    escape_as_is(text, out)?;
    write!(out, "{}", direction::POP)
}

fn escape_as_is(text: &str, out: &mut dyn Write) -> io::Result<()> {
    let bytes = text.as_bytes();
    let mut written = 0;
    let mut at = 0;
    while at < bytes.len() {
        let (width, replacement) = match bytes[at] {
            b'&' => (1, "&amp;"),
            b'<' => (1, "&lt;"),
            b'>' => (1, "&gt;"),
            b'"' => (1, "&quot;"),
            b'\'' => (1, "&#39;"),
            b'\t' | b'\n' | b'\r' => {
                at += 1;
                continue;
            }
            byte if byte < 0x20 || byte == 0x7f => (1, ""),
            // The lead bytes of C1 controls (U+0080..9F) and of noncharacters.
            0xc2 | 0xef..=0xf4 => {
                let character = text[at..].chars().next().unwrap_or('\u{fffd}');
                let width = character.len_utf8();
                match character {
                    '\u{80}'..='\u{9f}' => (width, ""),
                    c if is_noncharacter(c) => (width, "\u{fffd}"),
                    _ => {
                        at += width;
                        continue;
                    }
                }
            }
            _ => {
                at += 1;
                continue;
            }
        };
        out.write_all(&bytes[written..at])?;
        out.write_all(replacement.as_bytes())?;
        at += width;
        written = at;
    }
    out.write_all(&bytes[written..])
}

/// Whether Unicode reserves it for internal use (The Unicode Standard, section 23.7).
fn is_noncharacter(character: char) -> bool {
    let code = u32::from(character);
    (0xfdd0..=0xfdef).contains(&code) || code & 0xfffe == 0xfffe
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn escaped(text: &str) -> String {
        let mut out = Vec::new();
        escape(text, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn plain_text_passes_unchanged() {
        let text = "4.21 N·m ± 0.18, 23 °C, Größe 𝟚, 日本";
        assert_eq!(escaped(text), text);
    }

    #[test]
    fn what_runs_leftwards_stands_on_its_own() {
        assert_eq!(escaped("<عداء>"), "\u{2068}&lt;عداء&gt;\u{2069}");
        assert_eq!(
            escaped("\u{2068}عداء\u{2069}: 4"),
            "\u{2068}عداء\u{2069}: 4"
        );
    }

    proptest! {
        #[test]
        fn prop_nothing_escaped_is_markup_or_forbidden(text in any::<String>()) {
            let out = escaped(&text);
            prop_assert!(!out.contains(['<', '>', '"', '\'']));
            prop_assert!(out.chars().all(|c| !is_noncharacter(c)
                && (!c.is_control() || matches!(c, '\t' | '\n' | '\r'))));
        }
    }
}
