//! The lines a program reads and writes: one JSON value a line.
//!
//! The first line of the input is a head; each line after it is a shoe (for a
//! rule) or a view (for an output). The answer is one line a shoe, or one line a
//! file. `schema program` prints the schema of them all.

use crate::diagnostics::text::is_refused;
use crate::files::Slug;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The version of the form of all lines below; a program can refuse one it
/// doesn't know.
pub const LINES: u32 = 1;

/// The first line of a program's input.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct HeadLine {
    /// Version of the lines' form; 1.
    pub solefolio: u32,
    /// `rule` or `output`.
    pub purpose: &'static str,
    /// The program's name in lab/lab.yaml.
    pub program: String,
    /// The finding asked for; only for a rule.
    pub finding: Option<String>,
    /// The unit the answer is kept in; only for a rule.
    pub unit: Option<String>,
    /// What the lines below are: `shoe`, or `each-shoe`, `each-week`, `once`.
    pub lines: &'static str,
    /// The version of the views' form; only for an output.
    pub views: Option<u32>,
}

/// A shoe as a rule's program is told of it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ShoeLine {
    /// Its address.
    pub shoe: String,
    /// Its category's key.
    pub category: String,
    /// The facts, by the names of quantities and findings.
    pub facts: serde_json::Map<String, serde_json::Value>,
}

/// One fact of a shoe.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FactLine {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty, in the same unit.
    pub u: f64,
    /// Its effective degrees of freedom; `null` where they are infinite.
    pub dof: Option<f64>,
    /// The unit, such as `N·m`; `score` for a score from 0 to 100.
    pub unit: String,
    /// The band it lies in, for a finding with bands.
    pub band: Option<String>,
}

/// A rule's program's answer of one shoe: either `value`, `u` and `unit`, or `none`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AnswerLine {
    /// The shoe's address, as it was given.
    pub shoe: String,
    /// The number.
    pub value: Option<f64>,
    /// Its standard uncertainty, in the same unit; 0 or more.
    pub u: Option<f64>,
    /// Its unit; one that converts into the unit of the head.
    pub unit: Option<String>,
    /// Its degrees of freedom, 1 or more; without it they are infinite.
    pub dof: Option<f64>,
    /// Why there is no number, as a clause that can follow the finding's name.
    pub none: Option<String>,
}

/// What a line of an output's input shows.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub struct ViewLine {
    /// The address of the shoe or the week; absent for the folio as a whole.
    pub of: Option<String>,
    /// The view: `schema view-review`, `view-week` or `view-folio` says what is in it.
    pub view: serde_json::Value,
}

/// One file an output's program makes: with `text`, or with `base64` for other bytes.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FileLine {
    /// Its path in the program's own folder of the folio: names of letters,
    /// digits, `-`, `_` and `.`, none beginning with a dot, parted by slashes.
    pub path: String,
    /// What it holds, as text.
    pub text: Option<String>,
    /// What it holds, as base64 (RFC 4648, section 4, with padding).
    pub base64: Option<String>,
}

/// All lines, for `schema program`.
#[derive(Clone, Debug, JsonSchema)]
#[schemars(rename_all = "kebab-case")]
pub struct ProgramLines {
    /// The first line of the input.
    pub head: HeadLine,
    /// A line of a rule's input.
    pub shoe: ShoeLine,
    /// One of `facts` in it.
    pub fact: FactLine,
    /// A line of a rule's answer.
    pub answer: AnswerLine,
    /// A line of an output's input.
    pub view: ViewLine,
    /// A line of an output's answer.
    pub file: FileLine,
}

/// A text of standard error, parted: what lines that begin with a shoe's address
/// and a colon say of that shoe, and all other lines.
pub(super) fn part<'s>(
    said: &'s str,
    shoes: &std::collections::BTreeMap<&str, usize>,
) -> (Vec<(usize, &'s str)>, Vec<&'s str>) {
    let mut of_shoes = Vec::new();
    let mut others = Vec::new();
    for line in said
        .lines()
        .map(str::trim_end)
        .filter(|line| !line.is_empty())
    {
        match line.split_once(": ") {
            Some((shoe, rest)) if shoes.contains_key(shoe) => of_shoes.push((shoes[shoe], rest)),
            _ => others.push(line),
        }
    }
    (of_shoes, others)
}

/// The end of what a program said, for a message: the last lines, where it says
/// what went wrong.
pub(super) fn last(said: &[&str]) -> Option<String> {
    const LINES: usize = 4;
    const LETTERS: usize = 400;
    if said.is_empty() {
        return None;
    }
    let shown = said[said.len().saturating_sub(LINES)..].join(" / ");
    let letters = shown.chars().count();
    Some(
        shown
            .chars()
            .skip(letters.saturating_sub(LETTERS))
            .collect(),
    )
}

/// A reason as a page can show it: one line, without characters that no text of the
/// lab may hold.
pub(super) fn plain(reason: &str) -> String {
    let shown = reason.chars().take(300);
    let acts = |c: char| c.is_control() || is_refused(c);
    let line: String = shown.map(|c| if acts(c) { ' ' } else { c }).collect();
    line.trim().to_owned()
}

/// The bytes a base64 text stands for (RFC 4648, section 4); none if it is not one.
pub(super) fn from_base64(text: &str) -> Option<Vec<u8>> {
    let bytes = text.as_bytes();
    if !bytes.len().is_multiple_of(4) {
        return None;
    }
    let body = bytes
        .strip_suffix(b"==")
        .or(bytes.strip_suffix(b"="))
        .unwrap_or(bytes);
    let mut out = Vec::with_capacity(bytes.len() / 4 * 3);
    let (mut held, mut bits) = (0_u32, 0);
    for byte in body {
        let six = match byte {
            b'A'..=b'Z' => byte - b'A',
            b'a'..=b'z' => byte - b'a' + 26,
            b'0'..=b'9' => byte - b'0' + 52,
            b'+' => 62,
            b'/' => 63,
            _ => return None,
        };
        held = held << 6 | u32::from(six);
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            out.push((held >> bits & 0xff) as u8);
        }
    }
    // Bits left over must be zero: a text has one reading only.
    (held & ((1 << bits) - 1) == 0).then_some(out)
}

/// A shoe's address as a key of what was asked.
pub(super) fn places<'a>(
    slugs: impl Iterator<Item = &'a Slug>,
) -> std::collections::BTreeMap<&'a str, usize> {
    slugs
        .enumerate()
        .map(|(at, slug)| (slug.as_str(), at))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_reads_the_published_examples_and_nothing_else() {
        // RFC 4648, section 10 (from memory).
        for (text, expected) in [
            ("", ""),
            ("Zg==", "f"),
            ("Zm8=", "fo"),
            ("Zm9v", "foo"),
            ("Zm9vYg==", "foob"),
            ("Zm9vYmE=", "fooba"),
            ("Zm9vYmFy", "foobar"),
        ] {
            assert_eq!(
                from_base64(text).as_deref(),
                Some(expected.as_bytes()),
                "{text}"
            );
        }
        for wrong in ["Zg", "Zg=", "Zh==", "Z===", "Zm9v\n", "Zm-v", "===="] {
            assert_eq!(from_base64(wrong), None, "{wrong:?}");
        }
    }

    #[test]
    fn a_reason_holds_nothing_that_acts_on_its_line() {
        assert_eq!(plain(" a\tboot\u{1b}\n"), "a boot");
        assert_eq!(plain("not\u{2028}a \u{202e}shoe\u{2066}"), "not a  shoe");
    }

    #[test]
    fn a_line_that_names_a_shoe_is_said_of_it() {
        let slug: Slug = "quarrel-2".parse().unwrap();
        let shoes = places([&slug].into_iter());
        let (of_shoes, others) = part("quarrel-2: odd heel\nTraceback\n\nother: x\n", &shoes);
        assert_eq!(of_shoes, [(0, "odd heel")]);
        assert_eq!(others, ["Traceback", "other: x"]);
        assert_eq!(last(&others).as_deref(), Some("Traceback / other: x"));
        assert_eq!(last(&[]), None);
    }
}
