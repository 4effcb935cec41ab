//! A YAML file as a tree whose every key and value knows its place.
//!
//! Built only for a file that has a problem, or may have one. It takes what YAML
//! offers beyond plain maps, lists and scalars as problems: anchors, aliases and
//! merge keys, tags, a second document, a key twice, infinite numbers. Depth is
//! bounded by [`DEPTH_LIMIT`], the number of nodes by the file's size limit (a
//! node takes at least two bytes of text).

use crate::diagnostics::text::line;
use crate::diagnostics::{KeyPath, Place, Problem};

/// How deep maps and lists may lie in each other.
pub const DEPTH_LIMIT: usize = 64;

/// Where something begins and ends; the end is the place after its last character.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// Its first character.
    pub start: Place,
    /// Where it has ended.
    pub end: Place,
}

/// A value of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Node {
    /// Where it stands.
    pub span: Span,
    /// What it is.
    pub value: Value,
}

/// What a node is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value {
    /// One word, number or text.
    Scalar(Scalar),
    /// A list.
    List(Vec<Node>),
    /// A map, in the file's order; a key that stands twice is there twice.
    Map(Vec<Entry>),
    /// An alias, or a value with a tag: refused, and not looked into.
    Refused,
}

/// One word, number or text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scalar {
    /// Its text, quotes and escapes resolved.
    pub text: String,
    /// Whether it was written without quotes, on the line.
    pub plain: bool,
}

/// A key of a map and its value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The key's own node.
    pub key: Node,
    /// Its value.
    pub value: Node,
}

impl Entry {
    /// The key's text; none for a key that is a list or a map.
    pub fn name(&self) -> Option<&str> {
        match &self.key.value {
            Value::Scalar(scalar) => Some(&scalar.text),
            _ => None,
        }
    }
}

/// A file's tree; as much of it as could be read if the file is broken.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tree {
    /// The file's one value; none in an empty file.
    pub root: Option<Node>,
    /// What was refused while reading it.
    pub problems: Vec<Problem>,
    /// Whether the file could not be read to its end, so that what is missing in
    /// the tree may be there in the file.
    pub broken: bool,
}

impl Tree {
    /// The way to the value that begins at a place, the outermost if several do.
    pub fn path_at(&self, place: Place) -> Option<KeyPath> {
        let mut node = self.root.as_ref()?;
        let mut path = KeyPath::root();
        loop {
            let (step, below) = match &node.value {
                _ if node.span.start == place => return Some(path),
                Value::List(items) => {
                    let at = last_before(items, place, |item| item.span.start)?;
                    (path.index(at), &items[at])
                }
                Value::Map(entries) => {
                    let at = last_before(entries, place, |entry| entry.key.span.start)?;
                    let entry = &entries[at];
                    let path = path.key(entry.name()?);
                    if entry.key.span.start == place {
                        return Some(path);
                    }
                    (path, &entry.value)
                }
                _ => return None,
            };
            (path, node) = (step, below);
        }
    }
}

/// The last of several nodes in the file's order that begins at or before a place.
fn last_before<N>(nodes: &[N], place: Place, start: impl Fn(&N) -> Place) -> Option<usize> {
    nodes
        .partition_point(|node| start(node) <= place)
        .checked_sub(1)
}

/// The place nearest to `place` that is within the text. Counts the line's
/// characters, so it is asked for problems only, not for every node.
pub(super) fn clamp(text: &str, starts: &[usize], place: Place) -> Place {
    let number = place.line.clamp(1, starts.len());
    let end = line(text, starts, number).map_or(1, |l| l.chars().count() + 1);
    let column = if place.line > starts.len() {
        end
    } else {
        place.column.clamp(1, end)
    };
    Place {
        line: number,
        column,
    }
}
