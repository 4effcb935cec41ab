//! What a sheet was made from, small enough to keep for every sheet.
//!
//! # Words
//!
//! - **view**: the plain value a template fills in
//! - **part**: one top-level key of a view, such as `findings`
//! - **basis**: the fingerprints of everything that shapes a sheet's bytes
//! - **early cut-off**: a sheet whose basis is as recorded isn't rendered, and
//!   one that is rendered to the recorded bytes isn't written
//!
//! # Mechanism
//!
//! A view is made, each of its parts is written as JSON and hashed with BLAKE3,
//! and the view's hash is that of its parts' names and hashes in their order.
//! The record keeps the view's hash whole, because it decides, and eight bytes
//! of each part's, because they only name what changed.
//!
//! # What is tracked
//!
//! | input | page | print | bytes | static |
//! | --- | --- | --- | --- | --- |
//! | the view, part by part | yes | yes | – | – |
//! | the document's date | – | yes, as a part | – | – |
//! | which template, and the content of all it uses | yes | yes | – | – |
//! | the typesetter and its version | – | yes | – | – |
//! | the program's own build | yes | yes | – | – |
//! | the bytes | yes | yes | yes | yes |
//!
//! Data and static files need no more than their bytes: making those is as cheap
//! as making a view.
//!
//! # Left out on purpose
//!
//! - Modification times: never evidence of what a sheet was made from. They only
//!   serve to see quickly that nothing at all was touched, in the stamp.
//! - The date of the run, the number of threads, the machine, the locale: they
//!   must not show in any byte; what may show is in the view.
//! - The fonts of a print: templates name only the typesetter's own, which its
//!   version covers.
//!
//! # Limits
//!
//! - A renderer that reads something its fingerprint doesn't cover is trusted.
//! - Two views with one BLAKE3 hash would be taken for one.

use blake3::{Hash, Hasher};
use serde_json::Value;
use std::sync::Arc;

/// A view's parts: their names, shared between views of one shape, and the
/// beginnings of their hashes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parts {
    /// The names, in the view's order.
    pub names: Arc<[String]>,
    /// The first eight bytes of each part's hash.
    pub hashes: Box<[u64]>,
}

/// A view, hashed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ViewPrint {
    /// The whole view.
    pub whole: Hash,
    /// Its parts.
    pub parts: Parts,
}

/// What a page or a print was made from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Basis {
    /// The template's name.
    pub template: Arc<str>,
    /// The content of all the template uses.
    pub template_print: Hash,
    /// The program's build.
    pub program: Arc<str>,
    /// The typesetter and its version; for a page none.
    pub typesetter: Option<Arc<str>>,
    /// The view.
    pub view: ViewPrint,
}

/// The name under which a print's date counts as a part of its view.
const DATE: &str = "document-date";
/// The name of the only part of a view that isn't a map.
const WHOLE: &str = "view";

/// Hashes views; one for each thread, for its buffer.
#[derive(Debug, Default)]
pub struct ViewHasher {
    json: Vec<u8>,
}

impl ViewHasher {
    /// Hashes a view and, for a print, its date. `like` is the recorded view's
    /// parts, whose names are shared if they are the same.
    pub fn hash(
        &mut self,
        view: &Value,
        date: Option<jiff::civil::Date>,
        like: Option<&Parts>,
    ) -> ViewPrint {
        let mut whole = Hasher::new();
        let mut hashes = Vec::new();
        let mut names: Vec<&str> = Vec::new();
        let mut part = |name, json: &[u8]| {
            let hash = blake3::hash(json);
            names.push(name);
            hashes.push(beginning(&hash));
            // The length sets the name off from what follows.
            whole.update(&(name.len() as u64).to_le_bytes());
            whole.update(name.as_bytes());
            whole.update(hash.as_bytes());
        };
        if let Value::Object(map) = view {
            for (name, value) in map {
                part(name.as_str(), self.json(value));
            }
        } else {
            part(WHOLE, self.json(view));
        }
        let date = date.map(|date| date.to_string());
        if let Some(date) = &date {
            part(DATE, date.as_bytes());
        }
        let names = match like {
            Some(like) if like.names.iter().eq(names.iter()) => Arc::clone(&like.names),
            _ => names.into_iter().map(str::to_owned).collect(),
        };
        ViewPrint {
            whole: whole.finalize(),
            parts: Parts {
                names,
                hashes: hashes.into(),
            },
        }
    }

    fn json(&mut self, value: &Value) -> &[u8] {
        self.json.clear();
        if serde_json::to_writer(&mut self.json, value).is_err() {
            // A value writes itself to memory without fail; were it otherwise,
            // half a text would only be a different text.
            self.json.push(0);
        }
        &self.json
    }
}

fn beginning(hash: &Hash) -> u64 {
    let mut bytes = [0; 8];
    bytes.copy_from_slice(&hash.as_bytes()[..8]);
    u64::from_le_bytes(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn hash(view: &Value) -> ViewPrint {
        ViewHasher::default().hash(view, None, None)
    }

    #[test]
    fn a_changed_part_changes_the_whole_and_only_itself() {
        let a = hash(&json!({"shoe": 1, "findings": [1, 2]}));
        let b = hash(&json!({"shoe": 1, "findings": [1, 3]}));
        assert_ne!(a.whole, b.whole);
        assert_eq!(a.parts.hashes[0], b.parts.hashes[0]);
        assert_ne!(a.parts.hashes[1], b.parts.hashes[1]);
    }

    #[test]
    fn a_renamed_part_changes_the_whole() {
        assert_ne!(hash(&json!({"a": 1})).whole, hash(&json!({"b": 1})).whole);
    }

    #[test]
    fn the_date_of_a_print_is_a_part() {
        let mut hasher = ViewHasher::default();
        let view = json!({"a": 1});
        let day = jiff::civil::date(2026, 11, 26);
        let dated = hasher.hash(&view, Some(day), None);
        let next = hasher.hash(&view, day.tomorrow().ok(), None);
        assert_eq!(dated.parts.names[1], DATE);
        assert_ne!(dated.whole, next.whole);
        assert_eq!(dated.parts.hashes[0], next.parts.hashes[0]);
    }

    #[test]
    fn views_of_one_shape_share_their_names() {
        let mut hasher = ViewHasher::default();
        let a = hasher.hash(&json!({"a": 1, "b": 2}), None, None);
        let b = hasher.hash(&json!({"a": 3, "b": 4}), None, Some(&a.parts));
        assert!(Arc::ptr_eq(&a.parts.names, &b.parts.names));
        let c = hasher.hash(&json!({"a": 3}), None, Some(&a.parts));
        assert_eq!(c.parts.names.as_ref(), ["a".to_owned()]);
    }

    #[test]
    fn a_view_that_is_no_map_is_one_part() {
        assert_eq!(
            hash(&json!([1, 2])).parts.names.as_ref(),
            [WHOLE.to_owned()]
        );
    }
}
