//! Edits that keep a file's comments: only what was asked for changes.
//!
//! What it is for: putting readings into a shoe's file that people also edit by
//! hand. It works on the text, not on a value that is written out again, so
//! comments, order, quoting, line ends and spacing stay byte for byte outside
//! the edit, and what is new is written in the style of what stands beside it.
//!
//! What it guarantees: the edited text is read again, and equals the old one
//! with exactly the wanted change, or the edit is refused. No comment is ever
//! removed: where a reading is taken out of a list in lines, a comment beside it
//! stays on a line of its own.
//!
//! What it doesn't do: write a file, or know what a shoe is. Files with anchors,
//! aliases, tags or any other problem of form are refused as a whole.
//!
//! How it fails: with [`NotEdited`], which says what stands in the way and where.

mod patch;
mod shape;
mod style;

#[cfg(test)]
mod tests;

use super::Source;
use super::yaml::{Entry, Node, Tree, Value};
use crate::diagnostics::text::quote;
use crate::diagnostics::{KeyPath, Place, Step};
use patch::{Edited, Text};
use shape::Shape;
use std::fmt;

/// A value to be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum New {
    /// A number, a date, an amount, a name of the lab: written without quotes where that is safe.
    Word(String),
    /// A text: in quotes where it would be read as something else.
    Text(String),
    /// Words in one line.
    List(Vec<String>),
    /// A map in one line.
    Flow(Vec<(String, New)>),
    /// A map with a line an entry, where the place allows it.
    Block(Vec<(String, New)>),
}

/// Why a text was left as it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotEdited {
    /// What stands in the way, as a clause.
    pub reason: String,
    /// Where.
    pub place: Option<Place>,
}

impl NotEdited {
    fn new(reason: impl Into<String>) -> NotEdited {
        NotEdited {
            reason: reason.into(),
            place: None,
        }
    }

    fn at(node: &Node, reason: impl Into<String>) -> NotEdited {
        NotEdited {
            reason: reason.into(),
            place: Some(node.span.start),
        }
    }
}

impl fmt::Display for NotEdited {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.reason)?;
        match self.place {
            Some(place) => write!(f, " (line {}, column {})", place.line, place.column),
            None => Ok(()),
        }
    }
}

impl std::error::Error for NotEdited {}

/// The words of a map's entry as they are written, quotes resolved: one for a
/// single value, several for a list; none if there is no such entry or it holds
/// something else.
pub fn words(source: &Source, map: &KeyPath, key: &str) -> Option<Vec<String>> {
    let tree = Tree::parse(source);
    let node = find(tree.root.as_ref()?, &map.0)?;
    let word = |node: &Node| match &node.value {
        Value::Scalar(scalar) => Some(scalar.text.clone()),
        _ => None,
    };
    match &entry(node, key)?.value.value {
        Value::Scalar(scalar) => Some(vec![scalar.text.clone()]),
        Value::List(items) => items.iter().map(word).collect(),
        Value::Map(_) | Value::Refused => None,
    }
}

/// Sets the entry `key` of the map at `map` to these words: a list, or a single
/// value if there is one word and a single value (or nothing) stands there.
/// Words that don't change stay as they are written; where the words are those
/// that stand there with some taken out, just those go. If the map itself is
/// missing in its parent, it is added.
///
/// # Errors
/// [`NotEdited`]: the file has a problem of form, the way leads nowhere, the
/// entry holds something else than words, or what would go holds a comment.
pub fn set(
    source: &Source,
    map: &KeyPath,
    key: &str,
    words: &[String],
) -> Result<String, NotEdited> {
    Ok(set_with_patches(source, map, key, words)?.text)
}

fn set_with_patches(
    source: &Source,
    map: &KeyPath,
    key: &str,
    words: &[String],
) -> Result<Edited, NotEdited> {
    if words.is_empty() {
        return Err(NotEdited::new(
            "no reading is left; take the whole entry out by hand",
        ));
    }
    let tree = parse(source)?;
    let root = root_of(&tree)?;
    let mut text = Text::new(source);
    let value = match words {
        [one] => New::Word(one.clone()),
        many => New::List(many.to_vec()),
    };
    match find(root, &map.0) {
        Some(node) => match entry(node, key) {
            Some(found) => style::set_words(&mut text, found, words)?,
            None if is_empty(node) => {
                let holder = holder(root, map)?;
                let nested = New::Block(vec![(key.to_owned(), value.clone())]);
                style::fill(&mut text, holder.0, holder.1, &nested)?;
            }
            None => style::insert_entry(&mut text, node, key, &value)?,
        },
        None => {
            let (parent, last) = parent_of(root, map)?;
            let nested = New::Block(vec![(key.to_owned(), value.clone())]);
            style::insert_entry(&mut text, parent, last, &nested)?;
        }
    }
    let mut wanted = Shape::of(root);
    wanted.set_words(&map.0, key, words);
    finish(source, text, &wanted)
}

/// Adds a map at the end of the list at `list`, an entry a line where the list
/// is written in lines.
///
/// # Errors
/// As [`set`].
pub fn append(
    source: &Source,
    list: &KeyPath,
    item: &[(String, New)],
) -> Result<String, NotEdited> {
    let tree = parse(source)?;
    let root = root_of(&tree)?;
    let mut text = Text::new(source);
    let node = find(root, &list.0)
        .ok_or_else(|| NotEdited::new(format!("there is no {}", quote(&list.to_string()))))?;
    style::append_item(&mut text, node, item)?;
    let mut wanted = Shape::of(root);
    wanted.append(&list.0, item);
    Ok(finish(source, text, &wanted)?.text)
}

/// A new file: a map with a line an entry; `comment` stands above it.
pub fn write_new(comment: &str, entries: &[(String, New)]) -> String {
    let mut text = String::new();
    for line in comment.lines() {
        text.push_str(format!("# {line}").trim_end());
        text.push('\n');
    }
    text.push_str(style::block(entries, "", "\n").trim_start_matches('\n'));
    text.push('\n');
    text
}

fn parse(source: &Source) -> Result<Tree, NotEdited> {
    let tree = Tree::parse(source);
    match tree.problems.first() {
        None => Ok(tree),
        Some(problem) => Err(NotEdited {
            reason: format!("the file must be mended first: {}", problem.message),
            place: problem.place,
        }),
    }
}

fn root_of(tree: &Tree) -> Result<&Node, NotEdited> {
    let root = tree.root.as_ref();
    root.ok_or_else(|| NotEdited::new("the file is empty"))
}

/// The text with its patches, if it then says what is wanted.
fn finish(source: &Source, text: Text<'_>, wanted: &Shape) -> Result<Edited, NotEdited> {
    let edited = text.finish();
    let again = Source::new(source.file.clone(), edited.text.clone());
    let tree = parse(&again)
        .map_err(|refused| NotEdited::new(format!("the edit would break it: {refused}")))?;
    match &tree.root {
        Some(root) if wanted.is(root) => Ok(edited),
        _ => Err(NotEdited::new(
            "it is written in a way that can't be edited without changing something else; edit it by hand",
        )),
    }
}

fn entry<'n>(node: &'n Node, key: &str) -> Option<&'n Entry> {
    match &node.value {
        Value::Map(entries) => entries.iter().find(|entry| entry.name() == Some(key)),
        _ => None,
    }
}

fn find<'n>(node: &'n Node, way: &[Step]) -> Option<&'n Node> {
    way.iter()
        .try_fold(node, |node, step| match (step, &node.value) {
            (Step::Key(key), Value::Map(_)) => Some(&entry(node, key)?.value),
            (Step::Index(at), Value::List(items)) => items.get(*at),
            _ => None,
        })
}

fn nowhere(way: &KeyPath) -> NotEdited {
    NotEdited::new(format!("there is no {}", quote(&way.to_string())))
}

/// The map that should hold the map at `way`, and under which key.
fn parent_of<'n, 'w>(root: &'n Node, way: &'w KeyPath) -> Result<(&'n Node, &'w str), NotEdited> {
    let Some((Step::Key(key), before)) = way.0.split_last() else {
        return Err(nowhere(way));
    };
    match find(root, before) {
        Some(parent) if matches!(parent.value, Value::Map(_)) => Ok((parent, key)),
        _ => Err(nowhere(way)),
    }
}

/// The map that holds the empty value at `way`, and its entry.
fn holder<'n>(root: &'n Node, way: &KeyPath) -> Result<(&'n Node, &'n Entry), NotEdited> {
    let (parent, key) = parent_of(root, way)?;
    let entry = entry(parent, key).ok_or_else(|| nowhere(way))?;
    Ok((parent, entry))
}

/// Whether a value was left empty.
fn is_empty(node: &Node) -> bool {
    matches!(&node.value, Value::Scalar(scalar) if scalar.plain && scalar.text.is_empty())
}
