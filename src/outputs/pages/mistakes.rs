//! From the engine's errors to problems with a place and a hint.

use super::FOLDER;
use crate::diagnostics::{KeyPath, Problem};
use tera::{Error, ErrorKind, ReportError, Tera};

/// What is wrong with a page as it is filled.
pub(super) fn of_rendering(error: &Error, template: &str) -> Problem {
    match error.kind() {
        ErrorKind::RenderingError(report) | ErrorKind::SyntaxError(report) => {
            reported("template-value", report)
        }
        ErrorKind::TemplateNotFound(name) => problem(
            "unknown-template",
            name,
            "there is no such template".to_string(),
        )
        .hint("templates lie in `templates/html/`; check the name"),
        _ => problem("template-value", template, lower_first(&error.to_string())),
    }
}

/// What is wrong with the templates as they are read: all of them, not only
/// the first the engine met.
pub(super) fn of_loading(
    error: &Error,
    templates: &[(String, String)],
    engine: impl Fn() -> Tera,
) -> Vec<Problem> {
    let mut problems = Vec::new();
    let mut sound = Vec::new();
    for (name, text) in templates {
        // Alone, a template can only be told to break the language; what it
        // names elsewhere is looked at below.
        match engine().add_raw_template(name, text) {
            Err(alone) => match alone.kind() {
                ErrorKind::SyntaxError(report) => {
                    problems.push(reported("template-syntax", report));
                }
                ErrorKind::MissingParent { current, parent }
                    if !templates.iter().any(|(other, _)| other == parent) =>
                {
                    problems.push(missing_parent(current, parent));
                }
                _ => sound.push((name.clone(), text.clone())),
            },
            Ok(()) => sound.push((name.clone(), text.clone())),
        }
    }
    if problems.is_empty() {
        problems.extend(whole(error));
    } else if let Err(rest) = engine().add_raw_templates(sound) {
        // Sound templates may name the broken ones; that would be noise.
        problems.extend(whole(&rest).into_iter().filter(|p| {
            p.code == "template-reference"
                && !templates
                    .iter()
                    .any(|(name, _)| p.message.contains(&format!("`{name}`")))
        }));
    }
    problems
}

/// The problems in an error about all templates together.
fn whole(error: &Error) -> Vec<Problem> {
    match error.kind() {
        ErrorKind::SyntaxError(report) | ErrorKind::RenderingError(report) => {
            vec![reported("template-syntax", report)]
        }
        ErrorKind::MissingParent { current, parent } => vec![missing_parent(current, parent)],
        ErrorKind::CircularExtend {
            tpl,
            inheritance_chain: chain,
        }
        | ErrorKind::CircularInclude {
            tpl,
            include_chain: chain,
        } => vec![problem(
            "template-circle",
            tpl,
            format!("the template comes back to itself: {}", chain.join(" → ")),
        )],
        ErrorKind::Msg(text) => listed(text),
        _ => vec![problem(
            "template-reference",
            "",
            lower_first(&error.to_string()),
        )],
    }
}

/// The engine lists unknown names as printed reports, an empty line between two.
fn listed(text: &str) -> Vec<Problem> {
    let mut problems = Vec::new();
    for part in text.split("error: ").filter(|part| !part.trim().is_empty()) {
        let mut lines = part.lines();
        let message = lower_first(lines.next().unwrap_or_default());
        let locus = lines.find_map(|line| line.trim_start().strip_prefix("--> "));
        let place = locus.and_then(|locus| {
            let mut parts = locus.rsplitn(3, ':');
            let column = parts.next()?.parse().ok()?;
            let line = parts.next()?.parse().ok()?;
            Some((parts.next()?, line, column))
        });
        problems.push(match place {
            Some((file, line, column)) => {
                problem("template-reference", file, message).at(line, column)
            }
            None => problem("template-reference", "", message),
        });
    }
    problems
}

fn missing_parent(current: &str, parent: &str) -> Problem {
    problem(
        "template-reference",
        current,
        format!("it extends `{parent}`, and there is no such template"),
    )
    .hint(format!("add `{FOLDER}{parent}`, or extend `base.html`"))
}

/// A problem from a report with a place. Where the engine lists what there is
/// in a missing value's place, the list becomes the hint.
fn reported(code: &'static str, report: &ReportError) -> Problem {
    let span = report.span();
    let (message, there) = ["Available fields: ", "Available variables: "]
        .iter()
        .find_map(|mark| report.message().split_once(mark))
        .map_or((report.message(), None), |(message, there)| {
            (message, Some(there))
        });
    let message = lower_first(message.trim_end().trim_end_matches('.'));
    let made =
        problem(code, report.filename(), message.clone()).at(span.start_line, span.start_col + 1);
    match there {
        Some(there) => made.hint(instead(&message, there)),
        None if code == "template-value" => made.hint(
            "`solefolio schema view-…` says what each view holds; what may be null needs an `if`",
        ),
        None => made,
    }
}

/// What there is in a missing value's place, the nearest name first.
fn instead(message: &str, there: &str) -> String {
    let missing = message.split('`').nth(1).unwrap_or_default();
    match crate::files::nearest(missing, there.split(", ")) {
        Some(near) => format!("did you mean `{near}`? There is: {there}"),
        None => format!("there is: {there}"),
    }
}

fn problem(code: &'static str, template: &str, message: String) -> Problem {
    Problem::error(
        code,
        format!("{FOLDER}{template}"),
        KeyPath::root(),
        message,
    )
}

fn lower_first(text: &str) -> String {
    let mut characters = text.chars();
    match characters.next() {
        Some(first) => first.to_lowercase().chain(characters).collect(),
        None => String::new(),
    }
}
