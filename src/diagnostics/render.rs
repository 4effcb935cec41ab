//! Problems for people and for programs.
//!
//! For people: each problem with the line it stands on, a caret, and what to do;
//! then one line that sums up. For programs: one JSON array. Both come in the
//! same order (file, place, code), whatever order the problems were found in.
//!
//! Nothing of a file acts on the terminal: control characters and overrides of
//! the writing direction are replaced, long lines are cut to a window. Coloured
//! and plain text differ in colour only.

use super::text::{is_hostile, line, line_starts, neutral};
use super::{Place, Problem, Severity};
use annotate_snippets::renderer::DEFAULT_TERM_WIDTH;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// The most characters of a line that are shown around a problem.
const WINDOW: usize = 100;
/// Of these, how many before it.
const BEFORE: usize = 60;
/// How many problems people are shown, if they don't ask for all.
pub const SHOWN: usize = 60;
/// Of these, how many of one file where there are more than can be shown.
const SHOWN_OF_FILE: usize = 8;
/// The most characters of a message or hint.
const MESSAGE_LIMIT: usize = 1000;

/// Whether the text for people carries colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ColorChoice {
    /// Plain text.
    #[default]
    Never,
    /// ANSI colours.
    Always,
}

/// Sorts problems by file, then place (none first), then code.
pub fn sort(problems: &mut [Problem]) {
    problems.sort_by(|a, b| {
        (&a.file, a.place, a.code, &a.path, &a.message)
            .cmp(&(&b.file, b.place, b.code, &b.path, &b.message))
    });
}

/// The problems in order, each once: of a file that several others name, such as a
/// curve of two shoes, each says the same.
fn sorted(problems: &[Problem]) -> Vec<Problem> {
    let mut sorted = problems.to_vec();
    sort(&mut sorted);
    sorted.dedup();
    sorted
}

/// The problem that stands first, errors before warnings.
pub fn first(problems: &[Problem]) -> Option<&Problem> {
    problems
        .iter()
        .min_by_key(|p| (p.severity, &p.file, p.place, p.code))
}

/// Which of the sorted problems are shown where there are more than `most`:
/// errors before warnings, and a few of every file before many of one, so that a
/// file broken from top to bottom hides no other.
fn shown(sorted: &[Problem], most: usize) -> Vec<&Problem> {
    if sorted.len() <= most {
        return sorted.iter().collect();
    }
    let mut ranked: Vec<(Severity, usize, usize)> = Vec::with_capacity(sorted.len());
    let mut of_file = 0;
    for (at, problem) in sorted.iter().enumerate() {
        let same = at > 0 && sorted[at - 1].file == problem.file;
        of_file = if same { of_file + 1 } else { 0 };
        ranked.push((problem.severity, of_file / SHOWN_OF_FILE, at));
    }
    ranked.sort_unstable();
    ranked.truncate(most);
    ranked.sort_unstable_by_key(|(_, _, at)| *at);
    ranked.into_iter().map(|(_, _, at)| &sorted[at]).collect()
}

/// Problems for people, `most` of them, then the line that sums up; empty if
/// there are none.
///
/// `text_of` gives a file's text, without byte order mark, and is asked once a file.
pub fn human(
    problems: &[Problem],
    mut text_of: impl FnMut(&str) -> Option<String>,
    color: ColorChoice,
    most: usize,
) -> String {
    let sorted = sorted(problems);
    let chosen = shown(&sorted, most);
    let renderer = match color {
        ColorChoice::Never => Renderer::plain(),
        ColorChoice::Always => Renderer::styled(),
    }
    .term_width(DEFAULT_TERM_WIDTH);
    let mut out = String::new();
    for of_file in chosen.chunk_by(|a, b| a.file == b.file) {
        let text = of_file
            .iter()
            .any(|problem| problem.place.is_some())
            .then(|| text_of(&of_file[0].file))
            .flatten()
            .unwrap_or_default();
        let starts = line_starts(&text);
        for problem in of_file {
            let shown = problem
                .place
                .and_then(|place| Some((place, line(&text, &starts, place.line)?)));
            out.push_str(&one(problem, shown, &renderer));
            out.push_str("\n\n");
        }
    }
    if !sorted.is_empty() {
        out.push_str(&summary(&sorted));
        if chosen.len() < sorted.len() {
            let _ = write!(out, "; {} are shown, and `-v` shows all", chosen.len());
        }
        out.push('\n');
    }
    out
}

/// One line: `3 problems in 2 files`.
pub fn summary(problems: &[Problem]) -> String {
    let counted = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    let files: BTreeSet<&str> = problems.iter().map(|p| p.file.as_str()).collect();
    let warnings = problems.iter().filter(|p| !p.is_error()).count();
    let mut line = format!(
        "{} in {}",
        counted(problems.len(), "problem"),
        counted(files.len(), "file")
    );
    if warnings > 0 {
        let errors = problems.len() - warnings;
        let _ = write!(
            line,
            " ({}, {})",
            counted(errors, "error"),
            counted(warnings, "warning")
        );
    }
    line
}

/// A problem as programs see it.
#[derive(Serialize)]
struct Row<'a> {
    code: &'a str,
    severity: Severity,
    file: &'a str,
    line: Option<usize>,
    column: Option<usize>,
    path: String,
    message: &'a str,
    hint: Option<&'a str>,
}

fn rows(sorted: &[Problem]) -> Vec<Row<'_>> {
    sorted
        .iter()
        .map(|problem| Row {
            code: problem.code,
            severity: problem.severity,
            file: &problem.file,
            line: problem.place.map(|place| place.line),
            column: problem.place.map(|place| place.column),
            path: problem.path.to_string(),
            message: &problem.message,
            hint: problem.hint.as_deref(),
        })
        .collect()
}

/// Problems as one JSON array, an object each: code, severity, file, line,
/// column, path, message, hint.
pub fn json(problems: &[Problem]) -> String {
    let text = serde_json::to_string_pretty(&rows(&sorted(problems)));
    escape(&text.expect("strings and numbers always serialise"))
}

/// The same as a value, to stand in a larger one.
pub fn value(problems: &[Problem]) -> serde_json::Value {
    serde_json::to_value(rows(&sorted(problems))).expect("strings and numbers always serialise")
}

/// Writes what would act on a terminal as JSON escapes: the same value, but seen; and a
/// line feed at the end.
///
/// Outside its strings JSON holds no such character but the line feed, and inside
/// them the line feed is escaped already.
pub fn escape(json: &str) -> String {
    let mut out = String::with_capacity(json.len() + 1);
    let mut units = [0; 2];
    for c in json.chars() {
        if c != '\n' && is_hostile(c) {
            for unit in c.encode_utf16(&mut units) {
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    out.push('\n');
    out
}

fn one(problem: &Problem, shown: Option<(Place, &str)>, renderer: &Renderer) -> String {
    let level = match problem.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let file = neutral(&problem.file).into_owned();
    let title = cut(&problem.message);
    let window = shown.map(|(place, line)| (place, Window::around(line, place.column)));
    let mut origin = Origin::path(file.as_str());
    if let Some(place) = problem.place {
        origin = origin.line(place.line).char_column(place.column);
    }
    let group = level.primary_title(title.as_str()).id(problem.code);
    let mut group: Group<'_> = match &window {
        Some((place, window)) => {
            let snippet = Snippet::source(window.text.as_str())
                .line_start(place.line)
                .annotation(AnnotationKind::Primary.span(window.caret.clone()));
            if window.is_whole {
                group.element(snippet.path(file.as_str()))
            } else {
                // The renderer would count columns within the window.
                group.element(origin).element(snippet)
            }
        }
        None => group.element(origin),
    };
    let path = problem.path.to_string();
    let at = format!("at {}", cut(&path));
    if !path.is_empty() {
        group = group.element(Level::NOTE.message(at.as_str()));
    }
    let hint = problem.hint.as_deref().map(cut);
    if let Some(hint) = &hint {
        group = group.element(Level::HELP.message(hint.as_str()));
    }
    renderer.render(&[group])
}

fn cut(text: &str) -> String {
    let mut shown: String = text.chars().take(MESSAGE_LIMIT).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    neutral(&shown).into_owned()
}

/// The piece of a line that is shown, and the bytes of it the caret stands under.
struct Window {
    text: String,
    caret: std::ops::Range<usize>,
    is_whole: bool,
}

impl Window {
    fn around(line: &str, column: usize) -> Window {
        let fits = line.chars().nth(WINDOW).is_none();
        let from = if fits {
            0
        } else {
            column.saturating_sub(1 + BEFORE)
        };
        let mut rest = line.chars().skip(from);
        let mut text: String = if from > 0 { "…" } else { "" }.into();
        let mut caret = None;
        for at in from..from + WINDOW {
            let Some(c) = rest.next() else { break };
            if at + 1 == column {
                caret = Some(text.len());
            }
            text.push_str(&neutral(c.encode_utf8(&mut [0; 4])));
        }
        let is_cut = rest.next().is_some();
        if is_cut {
            text.push('…');
        }
        let start = caret.unwrap_or(text.len());
        let end = start + word(&text[start..]);
        Window {
            text,
            caret: start..end,
            is_whole: from == 0 && !is_cut,
        }
    }
}

/// How many bytes of a text the word at its beginning takes: a key, a number, a quoted text.
fn word(text: &str) -> usize {
    if let Some(quote @ ('"' | '\'')) = text.chars().next()
        && let Some(close) = text[1..].find(quote)
    {
        return close + 2;
    }
    let ends = |c: char| c.is_whitespace() || matches!(c, ':' | ',' | ']' | '}' | ';' | '#' | '…');
    match text.find(ends) {
        Some(0) => text.chars().next().map_or(0, char::len_utf8),
        Some(end) => end,
        None => text.len(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::KeyPath;

    fn unknown_key() -> Problem {
        Problem::error(
            "unknown-key",
            "shoes/a.yaml",
            KeyPath::root().key("modle"),
            "unknown key `modle`",
        )
        .at(2, 1)
        .hint("did you mean `model`?")
    }

    #[test]
    fn a_problem_shows_its_line_a_caret_and_what_to_do() {
        let text = |_: &str| Some("schema: 1\nmodle: Quarrel\n".to_owned());
        insta::assert_snapshot!(human(&[unknown_key()], text, ColorChoice::Never, SHOWN), @r"
        error[unknown-key]: unknown key `modle`
         --> shoes/a.yaml:2:1
          |
        2 | modle: Quarrel
          | ^^^^^
          |
          = note: at modle
          = help: did you mean `model`?

        1 problem in 1 file
        ");
    }

    #[test]
    fn a_problem_without_a_place_names_its_file() {
        let problem = Problem::error("unreadable-file", "lab/lab.yaml", KeyPath::root(), "gone");
        insta::assert_snapshot!(human(&[problem], |_| None, ColorChoice::Never, SHOWN), @r"
        error[unreadable-file]: gone
        --> lab/lab.yaml

        1 problem in 1 file
        ");
    }

    #[test]
    fn colour_changes_nothing_but_colour() {
        let text = |_: &str| Some("schema: 1\nmodle: Quarrel\n".to_owned());
        let plain = human(&[unknown_key()], text, ColorChoice::Never, SHOWN);
        let styled = human(&[unknown_key()], text, ColorChoice::Always, SHOWN);
        assert!(styled.contains('\u{1b}'));
        assert_eq!(anstream::adapter::strip_str(&styled).to_string(), plain);
    }

    #[test]
    fn nothing_of_a_hostile_file_acts_on_the_terminal() {
        let problem = Problem::error(
            "unknown-key",
            "shoes/\u{1b}[2Jx.yaml",
            KeyPath::root().key("\u{202e}k\u{7}"),
            "unknown key \u{1b}]0;owned\u{7}",
        )
        .at(1, 3)
        .hint("a\u{9b}31mb");
        let text = |_: &str| Some("\u{1b}[31m\u{202e}evil\u{0}\u{2066}: 1".to_owned());
        let shown = human(
            std::slice::from_ref(&problem),
            text,
            ColorChoice::Never,
            SHOWN,
        );
        assert!(!shown.replace('\n', "").contains(is_hostile), "{shown:?}");
        let listed = json(std::slice::from_ref(&problem));
        assert!(!listed.replace('\n', "").contains(is_hostile));
        let back: serde_json::Value = serde_json::from_str(&listed).unwrap();
        assert_eq!(back[0]["message"], problem.message.as_str());
        assert_eq!(back[0]["hint"], "a\u{9b}31mb");
    }

    #[test]
    fn a_long_line_is_cut_to_a_window_and_keeps_its_column() {
        let problem = Problem::error("wrong-type", "a.yaml", KeyPath::root(), "no").at(1, 500_001);
        let text = |_: &str| Some(format!("{}HERE{}", "x".repeat(500_000), "y".repeat(9000)));
        let shown = human(&[problem], text, ColorChoice::Never, SHOWN);
        assert!(shown.len() < 1000, "{}", shown.len());
        assert!(shown.contains("a.yaml:1:500001"));
        let lines: Vec<&str> = shown.lines().collect();
        let source = lines.iter().position(|l| l.contains("HERE")).unwrap();
        let column = |line: &str, what| line.chars().position(|c| c == what).unwrap();
        assert_eq!(
            column(lines[source], 'H'),
            column(lines[source + 1], '^'),
            "{shown}"
        );
    }

    #[test]
    fn a_line_that_fits_is_shown_whole() {
        let text = format!("{}: bad", "k".repeat(90));
        let problem = Problem::error("wrong-type", "a", KeyPath::root(), "m").at(1, 93);
        let shown = human(
            &[problem],
            |_| Some(text.clone()),
            ColorChoice::Never,
            SHOWN,
        );
        assert!(shown.contains(&text) && !shown.contains('…'), "{shown}");
    }

    #[test]
    fn the_place_shown_is_the_place_given() {
        for (line, column) in [
            ("größe: 4", 8),
            ("a\tb: 1", 3),
            ("漢字: x", 5),
            ("k:", 3),
            ("\u{200b}a: b", 5),
        ] {
            let problem = Problem::error("wrong-type", "a", KeyPath::root(), "m").at(1, column);
            let shown = human(
                &[problem],
                |_| Some(line.to_owned()),
                ColorChoice::Never,
                SHOWN,
            );
            assert!(
                shown.contains(&format!("--> a:1:{column}\n")),
                "{line}: {shown}"
            );
        }
    }

    #[test]
    fn problems_come_by_file_then_place_then_code() {
        let at =
            |file: &str, line, code| Problem::error(code, file, KeyPath::root(), "m").at(line, 1);
        let mut problems = vec![
            at("b", 1, "wrong-type"),
            at("a", 9, "wrong-type"),
            at("a", 2, "wrong-type"),
            at("a", 2, "missing-key"),
        ];
        let text = json(&problems);
        sort(&mut problems);
        let order: Vec<_> = problems
            .iter()
            .map(|p| (p.file.as_str(), p.place.unwrap().line, p.code))
            .collect();
        assert_eq!(
            order,
            [
                ("a", 2, "missing-key"),
                ("a", 2, "wrong-type"),
                ("a", 9, "wrong-type"),
                ("b", 1, "wrong-type")
            ]
        );
        assert_eq!(text, json(&problems));
        assert_eq!(summary(&problems), "4 problems in 2 files");
    }

    #[test]
    fn warnings_are_counted_apart() {
        let warning = Problem::warning("wrong-type", "a", KeyPath::root(), "m");
        assert_eq!(
            summary(&[warning, unknown_key()]),
            "2 problems in 2 files (1 error, 1 warning)"
        );
    }

    #[test]
    fn what_is_said_twice_of_one_place_is_shown_once() {
        let problem = Problem::warning("cut-off", "a.csv", KeyPath::root(), "cut").at(2, 3);
        let elsewhere = problem.clone().at(3, 3);
        let three = [problem.clone(), elsewhere, problem];
        let shown = human(&three, |_| None, ColorChoice::Never, SHOWN);
        assert_eq!(shown.matches("warning[cut-off]").count(), 2, "{shown}");
        assert!(shown.contains("2 problems in 1 file (0 errors, 2 warnings)"));
        assert_eq!(json(&three).matches("\"code\"").count(), 2);
    }

    #[test]
    fn json_holds_every_field() {
        insta::assert_snapshot!(json(&[unknown_key()]), @r#"
        [
          {
            "code": "unknown-key",
            "severity": "error",
            "file": "shoes/a.yaml",
            "line": 2,
            "column": 1,
            "path": "modle",
            "message": "unknown key `modle`",
            "hint": "did you mean `model`?"
          }
        ]
        "#);
        assert_eq!(json(&[]), "[]\n");
    }

    #[test]
    fn of_too_many_problems_every_file_has_some_and_errors_come_first() {
        let at = |file: &str, line| {
            Problem::error("unknown-key", file, KeyPath::root(), "m").at(line, 1)
        };
        let mut problems: Vec<Problem> = (1..=100).map(|line| at("a", line)).collect();
        problems.push(at("b", 1));
        problems.push(Problem::warning("spread", "0", KeyPath::root(), "m"));
        let listed = human(&problems, |_| None, ColorChoice::Never, 20);
        assert_eq!(listed.matches("error[unknown-key]").count(), 20);
        assert!(listed.contains("--> b:1:1"), "{listed}");
        assert!(!listed.contains("warning[spread]"), "{listed}");
        assert!(
            listed.ends_with(
                "102 problems in 3 files (101 errors, 1 warning); 20 are shown, and `-v` shows all\n"
            ),
            "{listed}"
        );
        let all = human(&problems, |_| None, ColorChoice::Never, usize::MAX);
        assert_eq!(all.matches("[unknown-key]").count(), 101);
    }

    #[test]
    fn the_first_problem_is_an_error_if_there_is_one() {
        let warning = Problem::warning("spread", "a", KeyPath::root(), "m");
        let problems = [warning.clone(), unknown_key()];
        assert_eq!(first(&problems).unwrap().code, "unknown-key");
        assert_eq!(first(&[warning]).unwrap().code, "spread");
        assert_eq!(first(&[]), None);
    }
}
