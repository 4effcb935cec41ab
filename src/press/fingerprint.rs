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

use crate::outputs::View;
use blake3::{Hash, Hasher};
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

impl ViewPrint {
    /// Hashes a view and, for a print, its date. `like` is the recorded view's
    /// parts, whose names are shared if they are the same.
    pub fn of(view: &dyn View, date: Option<jiff::civil::Date>, like: Option<&Parts>) -> Self {
        let mut whole = Hasher::new();
        let mut hashes = Vec::new();
        let mut names: Vec<String> = Vec::new();
        let mut part = |name: &str, hash: Hash| {
            names.push(name.to_owned());
            hashes.push(beginning(&hash));
            // The length sets the name off from what follows.
            whole.update(&(name.len() as u64).to_le_bytes());
            whole.update(name.as_bytes());
            whole.update(hash.as_bytes());
        };
        let mut is_map = false;
        view.parts(&mut |name, hash| {
            is_map = true;
            part(name, hash);
        });
        if !is_map {
            part(WHOLE, blake3::hash(&view.json()));
        }
        if let Some(date) = date {
            part(DATE, blake3::hash(date.to_string().as_bytes()));
        }
        let names = match like {
            Some(like) if *like.names == *names => Arc::clone(&like.names),
            _ => names.into(),
        };
        ViewPrint {
            whole: whole.finalize(),
            parts: Parts {
                names,
                hashes: hashes.into(),
            },
        }
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
    use serde_json::{Value, json};

    fn hash(view: &Value) -> ViewPrint {
        ViewPrint::of(view, None, None)
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
        let view = json!({"a": 1});
        let day = jiff::civil::date(2026, 11, 26);
        let dated = ViewPrint::of(&view, Some(day), None);
        let next = ViewPrint::of(&view, day.tomorrow().ok(), None);
        assert_eq!(dated.parts.names[1], DATE);
        assert_ne!(dated.whole, next.whole);
        assert_eq!(dated.parts.hashes[0], next.parts.hashes[0]);
    }

    #[test]
    fn views_of_one_shape_share_their_names() {
        let a = ViewPrint::of(&json!({"a": 1, "b": 2}), None, None);
        let b = ViewPrint::of(&json!({"a": 3, "b": 4}), None, Some(&a.parts));
        assert!(Arc::ptr_eq(&a.parts.names, &b.parts.names));
        let c = ViewPrint::of(&json!({"a": 3}), None, Some(&a.parts));
        assert_eq!(c.parts.names.as_ref(), ["a".to_owned()]);
        let d = ViewPrint::of(&json!({"a": 3, "c": 4}), None, Some(&a.parts));
        assert_eq!(d.parts.names.as_ref(), ["a".to_owned(), "c".to_owned()]);
    }

    #[test]
    fn a_view_that_is_no_map_is_one_part() {
        assert_eq!(
            hash(&json!([1, 2])).parts.names.as_ref(),
            [WHOLE.to_owned()]
        );
    }
}
