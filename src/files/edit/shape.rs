//! What a text says, without how it is written: to hold an edit to its promise.

use super::New;
use super::style::stays;
use crate::diagnostics::Step;
use crate::files::yaml::{Node, Value};

/// What a value says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    /// A scalar; whether it must be plain, if that is to stay.
    Word(String, Option<bool>),
    List(Vec<Shape>),
    Map(Vec<(String, Shape)>),
    /// What no edit is made beside.
    Other,
}

impl Shape {
    pub fn of(node: &Node) -> Shape {
        match &node.value {
            Value::Scalar(scalar) => Shape::Word(scalar.text.clone(), Some(scalar.plain)),
            Value::List(items) => Shape::List(items.iter().map(Shape::of).collect()),
            Value::Map(entries) => Shape::Map(
                entries
                    .iter()
                    .map(|entry| {
                        let name = entry.name().unwrap_or_default();
                        (name.to_owned(), Shape::of(&entry.value))
                    })
                    .collect(),
            ),
            Value::Refused => Shape::Other,
        }
    }

    fn new(value: &New) -> Shape {
        let word = |text: &String| Shape::Word(text.clone(), None);
        match value {
            New::Word(text) | New::Text(text) => word(text),
            New::List(words) => Shape::List(words.iter().map(word).collect()),
            New::Flow(entries) | New::Block(entries) => Shape::map(entries),
        }
    }

    fn map(entries: &[(String, New)]) -> Shape {
        let entry = |(key, value): &(String, New)| (key.clone(), Shape::new(value));
        Shape::Map(entries.iter().map(entry).collect())
    }

    /// Whether a node says this.
    pub fn is(&self, node: &Node) -> bool {
        match (self, &node.value) {
            (Shape::Word(text, plain), Value::Scalar(scalar)) => {
                *text == scalar.text && plain.is_none_or(|plain| plain == scalar.plain)
            }
            (Shape::List(wanted), Value::List(items)) => {
                wanted.len() == items.len() && wanted.iter().zip(items).all(|(w, n)| w.is(n))
            }
            (Shape::Map(wanted), Value::Map(entries)) => {
                wanted.len() == entries.len()
                    && wanted.iter().zip(entries).all(|((key, value), entry)| {
                        entry.name() == Some(key) && value.is(&entry.value)
                    })
            }
            _ => false,
        }
    }

    /// The value at the end of a way; a missing or empty map is made on the way.
    fn go(&mut self, way: &[Step]) -> Option<&mut Shape> {
        let Some((step, rest)) = way.split_first() else {
            return Some(self);
        };
        match (step, self) {
            (Step::Index(at), Shape::List(items)) => items.get_mut(*at)?.go(rest),
            (Step::Key(key), Shape::Map(entries)) => {
                let at = match entries.iter().position(|(name, _)| name == key) {
                    Some(at) => at,
                    None => {
                        entries.push((key.clone(), Shape::Map(Vec::new())));
                        entries.len() - 1
                    }
                };
                entries[at].1.go(rest)
            }
            _ => None,
        }
    }

    pub fn set_words(&mut self, map: &[Step], key: &str, words: &[String]) {
        let Some(map) = self.go(map) else { return };
        if matches!(map, Shape::Word(text, Some(true)) if text.is_empty()) {
            *map = Shape::Map(Vec::new());
        }
        let Shape::Map(entries) = map else { return };
        let new = |text: &String| Shape::Word(text.clone(), None);
        let at = entries.iter().position(|(name, _)| name == key);
        let old = at.map(|at| &mut entries[at].1);
        match (old, words) {
            (Some(Shape::List(items)), words) => {
                let texts = items.iter().map(|item| match item {
                    Shape::Word(text, _) => text.as_str(),
                    _ => "",
                });
                let stay = stays(&texts.collect::<Vec<_>>(), words);
                *items = stay.iter().map(|at| items[*at].clone()).collect();
                for (at, word) in words.iter().enumerate() {
                    match items.get_mut(at) {
                        Some(Shape::Word(text, _)) if text == word => {}
                        Some(item) => *item = new(word),
                        None => items.push(new(word)),
                    }
                }
            }
            (Some(value), [one]) => *value = new(one),
            (Some(value), many) => *value = Shape::List(many.iter().map(new).collect()),
            (None, [one]) => entries.push((key.to_owned(), new(one))),
            (None, many) => {
                let list = Shape::List(many.iter().map(new).collect());
                entries.push((key.to_owned(), list));
            }
        }
    }

    pub fn append(&mut self, list: &[Step], item: &[(String, New)]) {
        if let Some(Shape::List(items)) = self.go(list) {
            items.push(Shape::map(item));
        }
    }
}
