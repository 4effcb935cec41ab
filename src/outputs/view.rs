//! A view in the forms that are asked of it: a template's, a fingerprint's, a file's.
//!
//! Each form is made from the view itself, none by way of another: ten thousand
//! views are made in a run, and the comparison's holds hundreds of thousands of
//! cells.

use blake3::{Hash, Hasher};
use serde::Serialize;
use serde_json::ser::Formatter;
use std::cell::RefCell;
use std::io;

/// A view, whatever its kind. Everything that serialises is one.
pub trait View {
    /// What a page's template sees.
    ///
    /// # Errors
    /// If it is no map.
    fn context(&self) -> Result<tera::Context, tera::Error>;

    /// It as JSON, without spaces.
    fn json(&self) -> Vec<u8>;

    /// Hands over the name and the BLAKE3 hash of each of its parts, which are the
    /// values under its outermost keys, each as JSON; of a view that is no map
    /// nothing.
    fn parts(&self, each: &mut dyn FnMut(&str, Hash));

    /// It as a value whose parts can be looked up and changed.
    fn value(&self) -> serde_json::Value;
}

impl<V: Serialize> View for V {
    fn context(&self) -> Result<tera::Context, tera::Error> {
        tera::Context::from_serialize(self)
    }

    fn json(&self) -> Vec<u8> {
        serde_json::to_vec(self).expect("a view is texts, lists and finite numbers")
    }

    fn parts(&self, each: &mut dyn FnMut(&str, Hash)) {
        let state = RefCell::new(Parts {
            each,
            depth: 0,
            name: None,
            at: At::Between,
            hasher: Hasher::new(),
            waiting: Vec::with_capacity(WAITING),
        });
        let mut json = serde_json::Serializer::with_formatter(Ear(&state), Marks(&state));
        self.serialize(&mut json)
            .expect("a view is texts, lists and finite numbers");
    }

    fn value(&self) -> serde_json::Value {
        serde_json::to_value(self).expect("a view is texts, lists and finite numbers")
    }
}

/// So many bytes are hashed at once: JSON is written in pieces of a few.
const WAITING: usize = 1 << 14;

/// Where in a view its JSON is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum At {
    Between,
    Name,
    Part,
}

/// What tells a view's parts apart while it is written as JSON.
struct Parts<'e> {
    each: &'e mut dyn FnMut(&str, Hash),
    depth: usize,
    name: Option<Vec<u8>>,
    at: At,
    hasher: Hasher,
    waiting: Vec<u8>,
}

impl Parts<'_> {
    fn hear(&mut self, bytes: &[u8]) {
        match self.at {
            At::Between => {}
            At::Name => self.waiting.extend_from_slice(bytes),
            At::Part => {
                self.waiting.extend_from_slice(bytes);
                if self.waiting.len() >= WAITING {
                    self.hasher.update(&self.waiting);
                    self.waiting.clear();
                }
            }
        }
    }

    fn begin(&mut self, at: At) {
        if self.depth == 1 {
            self.at = at;
        }
    }

    fn end_name(&mut self) {
        if self.depth == 1 {
            self.name = Some(std::mem::take(&mut self.waiting));
            self.at = At::Between;
        }
    }

    fn end_part(&mut self) {
        if self.depth == 1 {
            self.hasher.update(&self.waiting);
            self.waiting.clear();
            let name = self.name.take().unwrap_or_default();
            let name = String::from_utf8_lossy(&name);
            (self.each)(name.trim_matches('"'), self.hasher.finalize());
            self.hasher.reset();
            self.at = At::Between;
        }
    }
}

/// Takes the JSON down.
struct Ear<'s, 'e>(&'s RefCell<Parts<'e>>);

impl io::Write for Ear<'_, '_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.borrow_mut().hear(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Hears where the outermost map's keys and values begin and end.
struct Marks<'s, 'e>(&'s RefCell<Parts<'e>>);

impl Formatter for Marks<'_, '_> {
    fn begin_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        writer.write_all(b"{")?;
        self.0.borrow_mut().depth += 1;
        Ok(())
    }

    fn end_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.borrow_mut().depth -= 1;
        writer.write_all(b"}")
    }

    fn begin_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        writer.write_all(b"[")?;
        self.0.borrow_mut().depth += 1;
        Ok(())
    }

    fn end_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.borrow_mut().depth -= 1;
        writer.write_all(b"]")
    }

    fn begin_object_key<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        if !first {
            writer.write_all(b",")?;
        }
        self.0.borrow_mut().begin(At::Name);
        Ok(())
    }

    fn end_object_key<W: ?Sized + io::Write>(&mut self, _: &mut W) -> io::Result<()> {
        self.0.borrow_mut().end_name();
        Ok(())
    }

    fn begin_object_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        writer.write_all(b":")?;
        self.0.borrow_mut().begin(At::Part);
        Ok(())
    }

    fn end_object_value<W: ?Sized + io::Write>(&mut self, _: &mut W) -> io::Result<()> {
        self.0.borrow_mut().end_part();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::{Value, json};

    fn parts(view: &impl Serialize) -> Vec<(String, Hash)> {
        let mut parts = Vec::new();
        view.parts(&mut |name, hash| parts.push((name.to_owned(), hash)));
        parts
    }

    fn values() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            (-1e9..1e9).prop_map(|number: f64| json!(number)),
            "\\PC{0,12}".prop_map(Value::from),
        ];
        leaf.prop_recursive(3, 40, 5, |inner| {
            prop_oneof![
                proptest::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
                proptest::collection::btree_map("[a-z{}\\[,:]{1,4}", inner, 0..5)
                    .prop_map(|map| map.into_iter().collect()),
            ]
        })
    }

    proptest! {
        #[test]
        fn prop_the_parts_are_the_outermost_values_as_json(
            map in proptest::collection::btree_map("[a-z_]{1,6}", values(), 0..6),
        ) {
            let plain: Vec<(String, Hash)> = map
                .iter()
                .map(|(name, value)| (name.clone(), blake3::hash(value.to_string().as_bytes())))
                .collect();
            prop_assert_eq!(parts(&map), plain);
        }
    }

    #[test]
    fn a_part_longer_than_what_is_hashed_at_once_is_hashed_whole() {
        let long = "long ".repeat(WAITING);
        let text = Value::from(long.as_str()).to_string();
        let lines = json!([long, long]);
        assert_eq!(
            parts(&json!({"a": long, "b": lines})),
            [
                ("a".to_owned(), blake3::hash(text.as_bytes())),
                ("b".to_owned(), blake3::hash(lines.to_string().as_bytes())),
            ]
        );
    }

    #[test]
    fn a_view_that_is_no_map_has_no_parts() {
        assert_eq!(parts(&json!([{"a": 1}])), []);
        assert!(json!([1]).context().is_err());
    }
}
