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
pub use tree::{DEPTH_LIMIT, Entry, Node, Scalar, Span, Tree, Value};

use super::source::too_large;
use super::{Source, YAML_LIMIT};
use crate::diagnostics::text::{line, line_starts};
use crate::diagnostics::{KeyPath, Place, Problem};
use schemars::JsonSchema;
use serde::de::{DeserializeOwned, IgnoredAny};

/// Reads a file into its type, with the standard [`Forms`].
///
/// # Errors
/// Every problem of the file, each with its place; at most
/// [`PROBLEM_LIMIT`](super::PROBLEM_LIMIT), then one that counts the rest.
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
    let mut problems = std::mem::take(&mut tree.problems);
    let Some(root) = tree.root.as_ref().filter(|_| !tree.broken) else {
        return Err(within(source, problems));
    };
    let schema = schemars::schema_for!(T);
    let mut outcome = walk::walk(&source.file, root, schema.as_value(), forms);
    let refused = match refused {
        Some(error) => error,
        None if !problems.is_empty() => {
            problems.extend(outcome.found.into_problems(&source.file));
            return Err(within(source, problems));
        }
        None => match serde_yaml::from_str(&source.text) {
            Ok(value) => {
                // serde takes an empty value for an empty text; we don't.
                outcome
                    .found
                    .retain(|problem| problem.code == "empty-value");
                if outcome.found.is_empty() {
                    return Ok(value);
                }
                return Err(within(source, outcome.found.into_problems(&source.file)));
            }
            Err(error) => error,
        },
    };
    let mut found = outcome.found;
    if problems.is_empty() && found.is_empty() {
        found.append(outcome.perhaps);
    }
    problems.extend(found.into_problems(&source.file));
    if problems.is_empty() {
        problems.push(by_serde(source, &tree, &refused));
    }
    Err(within(source, problems))
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

/// What serde refuses and the walk has nothing to say of: a type's own check, or
/// syntax that the two parsers see differently.
fn by_serde(source: &Source, tree: &Tree, error: &serde_yaml::Error) -> Problem {
    let starts = line_starts(&source.text);
    let place = error.location().map(|location| {
        let place = Place {
            line: location.line(),
            column: location.column(),
        };
        tree::clamp(&source.text, &starts, place)
    });
    let place = place.unwrap_or(Place { line: 1, column: 1 });
    let mut message = error.to_string();
    if let Some(end) = message.rfind(" at line ") {
        message.truncate(end);
    }
    if serde_yaml::from_str::<IgnoredAny>(&source.text).is_err() {
        let text = line(&source.text, &starts, place.line).unwrap_or_default();
        let said = words::of_other(&message, text);
        return Problem::error("yaml-syntax", &*source.file, KeyPath::root(), said.message)
            .at(place.line, place.column)
            .hint(said.hint);
    }
    let path = tree.path_at(place).unwrap_or_default();
    let prefix = format!("{path}: ");
    let message = message.strip_prefix(&prefix).unwrap_or(&message);
    Problem::error("refused-value", &*source.file, path, shortened(message))
        .at(place.line, place.column)
}

/// A message of serde, which may quote a whole text, cut to a readable length.
fn shortened(message: &str) -> String {
    if message.chars().count() <= 300 {
        return message.to_owned();
    }
    let head: String = message.chars().take(300).collect();
    format!("{head}…")
}
