//! A parser's complaints in plain words.

use crate::diagnostics::Place;
use crate::diagnostics::text::quote;

/// What to say of a syntax error.
pub(super) struct Said {
    pub code: &'static str,
    pub message: String,
    pub hint: String,
}

const INDENT_HINT: &str = "line it up with its neighbours, with spaces";
const TAB: &str = "a tab stands where the indentation must be spaces";
const TAB_HINT: &str = "replace the tab by spaces";

/// Whether a line is indented with a tab.
fn tabbed(line: &str) -> bool {
    line.trim_start_matches(' ').starts_with('\t')
}

/// Puts the parser's `info` into plain words. `line` is the marked line and `below`
/// the next, `open` the innermost bracket that is still open and whether it is a `[`.
pub(super) fn of_syntax(info: &str, line: &str, below: &str, open: Option<(Place, bool)>) -> Said {
    if info.contains("unknown anchor") {
        return Said {
            code: "alias-refused",
            message: "an alias (`*name`) is not read here".into(),
            hint: "write the value out; put it in quotes if it is text".into(),
        };
    }
    let (message, hint) = if tabbed(line) || info.contains("tab") && !info.contains("tag") {
        (TAB.to_owned(), TAB_HINT.to_owned())
    } else if info.contains("comment intercepting") {
        let message = if tabbed(below) {
            "the line below begins with a tab, which indents nothing"
        } else {
            "the line below goes on with this value, but a comment has ended it"
        };
        (
            message.to_owned(),
            "begin the next line below this line's key, with spaces".to_owned(),
        )
    } else {
        of_bracket(info, open)
            .or_else(|| of_character(info))
            .unwrap_or_else(|| of_shape(info))
    };
    let code = "yaml-syntax";
    Said {
        code,
        message,
        hint,
    }
}

fn of_bracket(info: &str, open: Option<(Place, bool)>) -> Option<(String, String)> {
    if info.contains("misplaced bracket") {
        let message = "this bracket closes nothing".to_owned();
        return Some((message, "take it out, or open it before".into()));
    }
    let (place, list) = open?;
    let (what, close) = if list { ("list", "]") } else { ("map", "}") };
    if info == "invalid indentation" || info == "invalid indentation in flow construct" {
        let message = format!(
            "this line stands left of the {what} it belongs to, which begins at line {}, column {}; or a `{close}` is missing there",
            place.line, place.column
        );
        return Some((
            message,
            format!(
                "indent the line deeper than the key of the {what}, or close it with `{close}`"
            ),
        ));
    }
    Some((
        format!(
            "a `,` or `{close}` is missing in the {what} that begins at line {}, column {}",
            place.line, place.column
        ),
        format!("close it with `{close}`; put texts that hold brackets, commas or `: ` in quotes"),
    ))
    .filter(|_| !info.contains("quoted") && !info.contains("unexpected character"))
}

fn of_character(info: &str) -> Option<(String, String)> {
    if let Some(rest) = info.strip_prefix("unexpected character: `") {
        let c = rest.strip_suffix('\'').unwrap_or(rest);
        let message = format!("{} can't begin a value", quote(c));
        return Some((message, "put the value in quotes".into()));
    }
    let said = |message: &str, hint: &str| Some((message.to_owned(), hint.to_owned()));
    if info.contains("escape") || info.contains("hexadecimal") {
        return said(
            "an escape in double quotes that is not known",
            "write `\\\\` for a backslash, or use single quotes",
        );
    }
    if info.contains("quoted") {
        return if info.contains("end of stream") || info.contains("document indicator") {
            said("the quote that opens here is never closed", "close it")
        } else if info.contains("trailing") {
            said(
                "text after the closing quote",
                "put the whole text in quotes; a quote within it is doubled",
            )
        } else {
            said(
                "the quote that opens here is not closed before a line that begins a new key",
                "close it; within quotes, lines are indented deeper than their key",
            )
        };
    }
    None
}

fn of_shape(info: &str) -> (String, String) {
    let (message, hint) = if info.contains("mapping values are not allowed")
        || info.contains("placement of ':'")
    {
        (
            "a `: ` that can't stand here",
            "put the text in quotes if it holds `: `, and look whether the line is indented like its neighbours",
        )
    } else if info.contains("simple key") {
        (
            "a key without its `:`",
            "write `key: value`; a text of several lines needs `|` after its key and every line indented",
        )
    } else if info.contains("expected key") {
        ("the line does not fit the map above it", INDENT_HINT)
    } else if info.contains("'-' indicator") || info.contains("block sequence entries") {
        ("the line does not fit the list above it", INDENT_HINT)
    } else if info.contains("indent") {
        (
            "the line's indentation does not fit those above it",
            INDENT_HINT,
        )
    } else if info.contains("document") || info.contains("directive") {
        (
            "text that belongs to no key",
            "a file is one map; take out what stands before or after it",
        )
    } else if info.contains("node content") {
        ("a value is missing", "write one, or take the key out")
    } else {
        return (
            format!("the YAML can't be read: {}", quote(info)),
            "look at the line above as well".into(),
        );
    };
    (message.into(), hint.into())
}

/// What to say where only serde's own parser complains; its message without place,
/// the marked line, and the character that is marked.
pub(super) fn of_other(message: &str, line: &str, marked: Option<char>) -> Said {
    let (message, hint) = if tabbed(line) || marked == Some('\t') {
        (TAB.to_owned(), TAB_HINT.to_owned())
    } else {
        (
            format!("the YAML can't be read: {}", quote(message)),
            "look at the line above as well; put texts with special characters in quotes"
                .to_owned(),
        )
    };
    let code = "yaml-syntax";
    Said {
        code,
        message,
        hint,
    }
}
