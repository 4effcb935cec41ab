//! The pages, prints and data that would be made again.
//!
//! Both editions are planned as a publish plans them, and each sheet is compared
//! by what the press decides on: the view and its template for pages and prints,
//! the document's date for prints, the bytes for everything else.

use super::super::publish::plan;
use crate::edition::Edition;
use crate::outputs::{Make, Sheet, Surroundings};
use blake3::Hash;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// What a publish would make again.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Sheets {
    /// Files in `out/` that would be made again, by path.
    pub again: Vec<String>,
    /// Those of them that read differently beyond the versions and the rule set's
    /// date and history.
    pub beyond_version: Vec<String>,
    /// Files that would be new.
    pub new: Vec<String>,
    /// Files that would be removed.
    pub gone: Vec<String>,
    /// Files that would stay as they are.
    pub same: usize,
    /// Whether prints are among them: only where something can set them.
    pub prints: bool,
}

type Prints = BTreeMap<String, Hash>;

/// What a publish of the new edition would make again over the old one. The new
/// edition comes back as it was.
pub fn forecast(old: &Edition, new: &mut Edition, surroundings: &Surroundings) -> Sheets {
    let before = prints(old, surroundings);
    let after = prints(new, surroundings);
    let again = differing(&before, &after);
    let beyond_version = if same_version(old, new) {
        again.clone()
    } else {
        let kept = put_version(new, old);
        let masked = prints(new, surroundings);
        kept.put_back(new);
        differing(&before, &masked)
    };
    let only = |some: &Prints, others: &Prints| -> Vec<String> {
        some.keys()
            .filter(|path| !others.contains_key(*path))
            .cloned()
            .collect()
    };
    Sheets {
        same: before.len() - again.len() - only(&before, &after).len(),
        new: only(&after, &before),
        gone: only(&before, &after),
        again,
        beyond_version,
        prints: surroundings.prints,
    }
}

fn differing(before: &Prints, after: &Prints) -> Vec<String> {
    before
        .iter()
        .filter(|(path, hash)| after.get(*path).is_some_and(|other| other != *hash))
        .map(|(path, _)| path.clone())
        .collect()
}

fn prints(edition: &Edition, surroundings: &Surroundings) -> Prints {
    let (sheets, _) = plan(edition, surroundings);
    sheets
        .par_iter()
        .map(|sheet| (sheet.path.to_string(), print(sheet)))
        .collect()
}

fn print(sheet: &Sheet<'_>) -> Hash {
    let mut hasher = blake3::Hasher::new();
    match &sheet.make {
        Make::Page { template, view } => {
            hasher.update(template.as_bytes());
            hasher.update(&view().json());
        }
        Make::Print {
            template,
            date,
            view,
        } => {
            hasher.update(template.as_bytes());
            hasher.update(date.to_string().as_bytes());
            hasher.update(&view().json());
        }
        Make::Bytes(bytes) => {
            hasher.update(&bytes());
        }
        Make::Stream(write) => {
            write(&mut hasher).expect("a hash takes all that is written");
        }
        Make::Static { name } => {
            hasher.update(name.as_bytes());
        }
    }
    hasher.finalize()
}

/// What of an edition tells its version.
struct Version {
    rules: u32,
    protocol: u32,
    rules_effective: crate::files::Date,
    protocol_effective: crate::files::Date,
    history: Vec<crate::lab::RuleSetVersion>,
}

impl Version {
    fn of(edition: &Edition) -> Version {
        Version {
            rules: edition.rules.version,
            protocol: edition.lab.protocol.version,
            rules_effective: edition.rules.effective,
            protocol_effective: edition.lab.protocol.effective,
            history: edition.rules.history.clone(),
        }
    }

    fn put_back(self, edition: &mut Edition) {
        edition.rules.version = self.rules;
        edition.lab.protocol.version = self.protocol;
        edition.rules.effective = self.rules_effective;
        edition.lab.protocol.effective = self.protocol_effective;
        edition.rules.history = self.history;
    }
}

fn same_version(old: &Edition, new: &Edition) -> bool {
    let key = |edition: &Edition| {
        let rules = &edition.rules;
        let protocol = &edition.lab.protocol;
        (
            rules.version,
            rules.effective,
            protocol.version,
            protocol.effective,
        )
    };
    let notes = |edition: &Edition| -> Vec<(u32, String)> {
        let history = edition.rules.history.iter();
        history
            .map(|line| (line.version, line.note.clone()))
            .collect()
    };
    key(old) == key(new) && notes(old) == notes(new)
}

/// Puts another edition's version over one; gives back its own.
fn put_version(edition: &mut Edition, of: &Edition) -> Version {
    let own = Version::of(edition);
    Version::of(of).put_back(edition);
    own
}
