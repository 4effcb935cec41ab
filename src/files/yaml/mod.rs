//! Reading YAML: typed if it is right, with every problem and its place if it is not.
//!
//! The fast way is a look over the bytes and serde. Where serde refuses, or
//! something looks suspicious, the file is read a second time into a [`Tree`]
//! whose every key and value has a place, and walked whole against the JSON Schema
//! of the type; so a file's author sees all problems in one run. The schema is
//! that of the type itself, so the two can't drift apart.
//!
//! Guarantees: no anchors, aliases, merge keys, tags, second documents, control
//! characters, infinite numbers; no text where a value was left empty; depth and
//! size are bounded; never panics on any text. Duplicate keys are refused in
//! structs and in [`Map`](crate::files::Map); a type that reads a map into another
//! collection lets serde's last one win, so don't.
//!
//! Types: `deny_unknown_fields` shows up in the schema as closed, and only then is
//! a mistyped optional key found. A number is taken where text is wanted (`model:
//! 2`), except within tagged and untagged enums, where serde can't and the hint
//! asks for quotes.

mod build;
mod choose;
mod form;
mod places;
mod scalar;
mod scan;
mod schema;
mod tree;
mod unlike;
mod walk;
mod words;

#[cfg(test)]
mod tests;

pub use form::{Check, Form, Forms, Misformed};
pub use places::{Places, place_all};
pub(super) use scalar::stays_text;
pub use tree::{DEPTH_LIMIT, Entry, Node, Scalar, Span, Tree, Value};

use super::source::too_large;
use super::{Found, PROBLEM_LIMIT, Source, YAML_LIMIT};
use crate::diagnostics::text::{line, line_starts};
use crate::diagnostics::{KeyPath, Place, Problem};
use schemars::JsonSchema;
use serde::de::{DeserializeOwned, IgnoredAny};

/// Reads a file into its type, with the standard [`Forms`].
///
/// # Errors
/// Every problem of the file, each with its place; at most
/// [`PROBLEM_LIMIT`], then one that counts the rest.
pub fn read<T: DeserializeOwned + JsonSchema>(source: &Source) -> Result<T, Vec<Problem>> {
    read_with(source, &Forms::standard)
}

/// The same with forms of one's own, made only if they are needed.
///
/// # Errors
/// As [`read`].
pub fn read_with<T: DeserializeOwned + JsonSchema>(
    source: &Source,
    forms: &dyn Fn() -> Forms,
) -> Result<T, Vec<Problem>> {
    if source.text.len() as u64 > YAML_LIMIT {
        return Err(vec![too_large(&source.file, YAML_LIMIT)]);
    }
    // What is suspicious is looked at before serde sees it: aliases can make it
    // run for minutes.
    let refused = if scan::is_suspicious(&source.text) {
        None
    } else {
        match serde_yaml::from_str(&source.text) {
            Ok(value) => return Ok(value),
            Err(error) => Some(error),
        }
    };
    read_slowly(source, &forms(), refused)
}

fn read_slowly<T: DeserializeOwned + JsonSchema>(
    source: &Source,
    forms: &Forms,
    refused: Option<serde_yaml::Error>,
) -> Result<T, Vec<Problem>> {
    let mut tree = Tree::parse(source);
    let problems = std::mem::take(&mut tree.problems);
    let root = tree.root.as_ref().filter(|_| !tree.broken);
    let (Some(root), true) = (root, problems.len() <= PROBLEM_LIMIT) else {
        return Err(within(source, problems));
    };
    let schema = schemars::schema_for!(T);
    let walk = || walk::walk(&source.file, root, schema.as_value(), forms);
    let mut found = Found::from(problems);
    if !found.is_empty() {
        // Not for serde: it may hold aliases.
        found.append(walk().found);
        return Err(within(source, found.into_problems(&source.file)));
    }
    let by_serde = refused.map_or_else(|| serde_yaml::from_str(&source.text), Err);
    match by_serde {
        Ok(value) => {
            // serde takes an empty value for an empty text; we don't.
            found.append(walk().found);
            found.retain(|problem| problem.code == "empty-value");
            if found.is_empty() {
                return Ok(value);
            }
        }
        Err(error) => {
            if let Err(error) = serde_yaml::from_str::<IgnoredAny>(&source.text) {
                return Err(vec![of_parser(source, &error)]);
            }
            let outcome = walk();
            found.append(outcome.found);
            if found.is_empty() {
                found.append(outcome.perhaps);
            }
            if found.is_empty() {
                found.push(of_type(source, &tree, &error));
            }
        }
    }
    Err(within(source, found.into_problems(&source.file)))
}

/// Moves every place into the text, and sorts.
fn within(source: &Source, mut problems: Vec<Problem>) -> Vec<Problem> {
    let starts = line_starts(&source.text);
    for problem in &mut problems {
        problem.place = problem
            .place
            .map(|place| tree::clamp(&source.text, &starts, place));
    }
    // What counts the rest comes last.
    problems.sort_by_key(|problem| (problem.place.is_none(), problem.place));
    problems
}

/// Where an error of serde is marked, moved into the text, and what it says.
fn said_by(source: &Source, error: &serde_yaml::Error) -> (Place, String) {
    let place = error
        .location()
        .map_or(Place { line: 1, column: 1 }, |at| Place {
            line: at.line(),
            column: at.column(),
        });
    let mut message = error.to_string();
    if let Some(end) = message.rfind(" at line ") {
        message.truncate(end);
    }
    let starts = line_starts(&source.text);
    (tree::clamp(&source.text, &starts, place), message)
}

/// Syntax that serde's parser refuses and ours takes: the two disagree on tabs and
/// some odd corners.
fn of_parser(source: &Source, error: &serde_yaml::Error) -> Problem {
    let (place, message) = said_by(source, error);
    let starts = line_starts(&source.text);
    let text = line(&source.text, &starts, place.line).unwrap_or_default();
    let marked = text.chars().nth(place.column - 1);
    let said = words::of_other(&message, text, marked);
    Problem::error("yaml-syntax", &*source.file, KeyPath::root(), said.message)
        .at(place.line, place.column)
        .hint(said.hint)
}

/// What serde refuses and the walk has nothing to say of: a type's own check. serde
/// marks the value, or the list or map around it.
fn of_type(source: &Source, tree: &Tree, error: &serde_yaml::Error) -> Problem {
    let (place, message) = said_by(source, error);
    let path = tree.path_at(place).unwrap_or_default();
    let prefix = format!("{path}: ");
    let message = message.strip_prefix(&prefix).unwrap_or(&message);
    let message = shortened(message);
    Problem::error("refused-value", &*source.file, path, message).at(place.line, place.column)
}

/// A message of serde, which may quote a whole text, cut to a readable length.
fn shortened(message: &str) -> String {
    if message.chars().count() <= 300 {
        return message.to_owned();
    }
    let head: String = message.chars().take(300).collect();
    format!("{head}…")
}
