//! Text from outside, made safe to show.
//!
//! A lab's file may hold anything: terminal escapes, overrides of the writing
//! direction, a million characters on one line. What is shown of it is cut to a
//! window and holds no character that acts instead of being seen. One character
//! stays one character, so columns stay true.

use std::borrow::Cow;

/// The most characters of a file's text that a message quotes.
pub const QUOTE_LIMIT: usize = 60;

/// What stands in for a character that acts instead of being seen.
const STAND_IN: char = '\u{FFFD}';

/// Whether a character acts on the terminal or the writing direction, or can't be seen.
pub fn is_hostile(c: char) -> bool {
    c.is_control()
        || is_refused(c)
        || matches!(
            c,
            '\u{00AD}' | '\u{061C}' | '\u{180E}' | '\u{200B}'..='\u{200F}' | '\u{2060}'..='\u{2065}'
        )
}

/// Whether a character may not stand in a lab's text at all, raw or as an escape.
///
/// These act on what stands around them, wherever a text ends up: on a terminal
/// (controls), on the lines of a file (Unicode's separators), or on the order in
/// which a whole line is read (embeddings, overrides and isolates; Unicode
/// Technical Standard 55, 3.1 tells what is hidden with them). Tags and
/// annotations are read by programs and seen by nobody; noncharacters belong in
/// no text (The Unicode Standard, 23.7). Joiners, marks of direction, soft
/// hyphens and spaces of no width are part of how languages are written, act on
/// their neighbours only, and are taken.
pub fn is_refused(c: char) -> bool {
    let plane = u32::from(c) & 0xFFFF;
    (c.is_control() && !matches!(c, '\t' | '\n' | '\r'))
        || plane >= 0xFFFE
        || matches!(
            c,
            '\u{2028}'..='\u{202E}'
                | '\u{2066}'..='\u{206F}'
                | '\u{FDD0}'..='\u{FDEF}'
                | '\u{FEFF}'
                | '\u{FFF9}'..='\u{FFFB}'
                | '\u{E0000}'..='\u{E007F}'
        )
}

/// What a message says of a character that is refused.
pub fn says_refused(c: char) -> String {
    format!(
        "the character U+{:04X} does not belong in a text",
        u32::from(c)
    )
}

/// The text with a stand-in for every character that acts instead of being seen;
/// white space that would break a line becomes a space.
pub fn neutral(text: &str) -> Cow<'_, str> {
    if !text.contains(is_hostile) {
        return Cow::Borrowed(text);
    }
    let seen = |c| match c {
        '\t' | '\n' | '\r' => ' ',
        c if is_hostile(c) => STAND_IN,
        c => c,
    };
    Cow::Owned(text.chars().map(seen).collect())
}

/// A piece of a file's text as a message quotes it: in backticks, neutral, cut.
pub fn quote(text: &str) -> String {
    let mut shown: String = text.chars().take(QUOTE_LIMIT).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    format!("`{}`", neutral(&shown).replace('`', "'"))
}

/// Names in backticks with commas between them, the first `limit` of them.
pub fn quote_list<'a>(names: impl IntoIterator<Item = &'a str>, limit: usize) -> String {
    let names: Vec<&str> = names.into_iter().collect();
    let mut shown = names
        .iter()
        .take(limit)
        .map(|name| quote(name))
        .collect::<Vec<_>>()
        .join(", ");
    if names.len() > limit {
        shown.push_str(&format!(" and {} more", names.len() - limit));
    }
    shown
}

/// Where each line of a text begins, as byte offsets; a line ends at LF, CR LF or CR.
pub fn line_starts(text: &str) -> Vec<usize> {
    let bytes = text.as_bytes();
    let mut starts = vec![0];
    for (at, &byte) in bytes.iter().enumerate() {
        let ends = byte == b'\n' || (byte == b'\r' && bytes.get(at + 1) != Some(&b'\n'));
        if ends {
            starts.push(at + 1);
        }
    }
    starts
}

/// Line `line` (from 1) of a text, without its end.
pub fn line<'a>(text: &'a str, starts: &[usize], line: usize) -> Option<&'a str> {
    let start = *starts.get(line.checked_sub(1)?)?;
    let end = starts.get(line).copied().unwrap_or(text.len());
    Some(text[start..end].trim_end_matches(['\n', '\r']))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_is_replaced_and_what_is_seen_stays() {
        assert_eq!(neutral("4.2 N·m — größer"), "4.2 N·m — größer");
        assert_eq!(
            neutral("a\u{1b}[31mb\u{202e}c\td"),
            "a\u{fffd}[31mb\u{fffd}c d"
        );
    }

    #[test]
    fn what_is_refused_acts_and_what_languages_need_is_taken() {
        for c in "\u{0}\u{1b}\u{7f}\u{85}\u{9b}\u{2028}\u{202a}\u{202e}\u{2066}\u{2069}\u{feff}\u{fffe}\u{10ffff}\u{e0041}".chars() {
            assert!(is_refused(c), "{c:?}");
            assert!(is_hostile(c), "{c:?}");
        }
        let taken = "\t\r\n aä漢ﷺ\u{300}\u{ad}\u{61c}\u{200b}\u{200c}\u{200d}\u{200e}\u{200f}\u{2060}\u{fe0f}\u{fffd}👟🏽\u{e000}";
        assert_eq!(taken.chars().find(|c| is_refused(*c)), None);
    }

    #[test]
    fn a_quote_is_cut_and_holds_no_backtick_of_its_own() {
        assert_eq!(quote("a`b"), "`a'b`");
        assert_eq!(quote(&"x".repeat(100)).chars().count(), QUOTE_LIMIT + 3);
    }

    #[test]
    fn lines_end_at_any_kind_of_line_end() {
        let text = "a\r\nb\rc\n\nd";
        let starts = line_starts(text);
        let lines: Vec<_> = (1..=5).map(|n| line(text, &starts, n).unwrap()).collect();
        assert_eq!(lines, ["a", "b", "c", "", "d"]);
        assert_eq!(line(text, &starts, 6), None);
        assert_eq!(line(text, &starts, 0), None);
    }
}
