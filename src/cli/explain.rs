//! `explain`: what a problem's code means, why it matters, how it is mended.

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::diagnostics::codes::{CODES, Code, find};
use crate::files::nearest;
use clap::Args;
use std::fmt::Write as _;

/// Say what a problem's code means, why it matters and how it is mended; without
/// a code, list them all.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The code that stands in brackets behind `error` or `warning`
    code: Option<String>,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let text = match &arguments.code {
        None if desk.json() => serde_json::to_string_pretty(CODES)?,
        None => list(),
        Some(name) => {
            let code = look_up(name)?;
            if desk.json() {
                serde_json::to_string_pretty(code)?
            } else {
                page(code)
            }
        }
    };
    desk.print(&format!("{}\n", text.trim_end()));
    Ok(Exit::Done)
}

fn look_up(name: &str) -> Result<&'static Code, UsageError> {
    // As it is copied from a problem: `error[unknown-key]`.
    let bare = name
        .trim_start_matches("error")
        .trim_start_matches("warning")
        .trim_matches(['[', ']', '`', ':']);
    find(bare).ok_or_else(|| {
        let near = nearest(bare, CODES.iter().map(|code| code.name));
        UsageError(match near {
            Some(near) => format!("there is no code `{bare}`; did you mean `{near}`?"),
            None => format!("there is no code `{bare}`; `solefolio explain` lists them all"),
        })
    })
}

fn page(code: &Code) -> String {
    let mut text = format!(
        "{}\n\n{}\n{}\n\nfor instance:\n",
        code.name, code.what, code.why
    );
    for line in code.example.lines() {
        let _ = writeln!(text, "    {line}");
    }
    let _ = write!(text, "\nwhat to do:\n    {}", code.fix);
    text
}

fn list() -> String {
    let mut codes: Vec<&Code> = CODES.iter().collect();
    codes.sort_by_key(|code| code.name);
    let width = codes.iter().map(|code| code.name.len()).max().unwrap_or(0);
    codes
        .iter()
        .map(|code| format!("{:width$}  {}\n", code.name, code.what))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_says_what_why_an_example_and_what_to_do() {
        insta::assert_snapshot!(page(find("duplicate-key").unwrap()), @r"
        duplicate-key

        A map has the same key twice.
        One of the two values would be lost without a word.

        for instance:
            mass: [262]
            mass: [263]

        what to do:
            Keep one of the two.
        ");
    }

    #[test]
    fn a_code_is_found_as_it_is_copied_from_a_problem() {
        assert_eq!(look_up("error[unknown-key]:").unwrap().name, "unknown-key");
        assert_eq!(look_up("warning[spread]").unwrap().name, "spread");
        let unknown = look_up("unkown-key").unwrap_err();
        assert_eq!(
            unknown.0,
            "there is no code `unkown-key`; did you mean `unknown-key`?"
        );
    }

    #[test]
    fn the_list_names_every_code_once_by_the_alphabet() {
        let listed = list();
        let names: Vec<&str> = listed
            .lines()
            .filter_map(|line| line.split_whitespace().next())
            .collect();
        assert_eq!(names.len(), CODES.len());
        assert!(names.is_sorted());
    }
}
