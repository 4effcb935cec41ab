//! The ledger: what has been published, sealed line by line.
//!
//! `lab/ledger.jsonl` is only ever appended to: one JSON object a line, one line
//! a shoe whose published findings differ from its last line. Each line carries
//! the hash of the one before and its own, over its content and that hash
//! (BLAKE3), so that a line that is changed, lost, moved or slipped in is
//! noticed. It does not say who wrote it: anyone who can write the file can
//! write a new chain; keep it under version control.
//!
//! The first line of a shoe is what was first published. Each further one is a
//! correction, shown on the shoe's page with its reason.

use super::sealed::{Sealed, changes, sealed};
use super::{Correction, Edition, is_out};
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Date, Key, Slug, Source};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Where the ledger is.
pub const LEDGER: &str = "lab/ledger.jsonl";
/// The largest ledger, in bytes.
pub const LEDGER_LIMIT: u64 = 512 * 1024 * 1024;
/// What stands as the hash before the first line.
const BEGINNING: &str = "beginning";

/// One line of the ledger.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// The day it was sealed.
    pub on: Date,
    /// The shoe.
    pub shoe: Slug,
    /// Version and content of the rule set.
    pub rules: Stamp,
    /// Version and content of the protocol.
    pub protocol: Stamp,
    /// Why.
    pub because: String,
    /// The findings as published.
    pub findings: BTreeMap<Key, Sealed>,
    /// The hash of the line before.
    pub previous: String,
    /// The hash of this line.
    pub hash: String,
}

/// A version number and the hash of what stands under it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stamp {
    /// The version.
    pub version: u32,
    /// A hash of the content, comments and layout left aside.
    pub content: String,
}

/// The versions an edition was made under.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamps {
    /// The rule set.
    pub rules: Stamp,
    /// The protocol.
    pub protocol: Stamp,
}

/// All that has been sealed, oldest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ledger {
    entries: Vec<Entry>,
}

/// A published shoe whose findings are not those last sealed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsealed {
    /// Which.
    pub slug: Slug,
    /// What changed; none if the shoe was never sealed.
    pub changes: Option<Vec<String>>,
}

impl Entry {
    /// The hash of the line: over everything in it but itself, which includes
    /// the hash before.
    fn sealed_hash(&self) -> String {
        let mut bare = self.clone();
        bare.hash.clear();
        let text = serde_json::to_vec(&bare).expect("names, dates and texts always serialise");
        blake3::hash(&text).to_hex().to_string()
    }
}

impl Ledger {
    /// Reads a ledger and checks its chain.
    ///
    /// # Errors
    /// `ledger-unreadable` for a line that is no entry, `ledger-broken` for the
    /// first line that does not follow from the one before it.
    pub fn read(source: &Source) -> Result<Ledger, Vec<Problem>> {
        let mut ledger = Ledger::default();
        for (at, line) in source.text.lines().enumerate() {
            let problem = |code, message: String, hint: &str| {
                vec![
                    Problem::error(code, source.file.clone(), KeyPath::root(), message)
                        .at(at + 1, 1)
                        .hint(hint),
                ]
            };
            let entry: Entry = serde_json::from_str(line).map_err(|error| {
                problem(
                    "ledger-unreadable",
                    format!("the line is no entry of a ledger: {error}"),
                    "bring the file back from version control; it is only ever appended to",
                )
            })?;
            if entry.previous != ledger.last_hash() || entry.hash != entry.sealed_hash() {
                return Err(problem(
                    "ledger-broken",
                    format!(
                        "the entry for `{}` is not the one that was sealed here",
                        entry.shoe
                    ),
                    "a line was changed, lost, moved or slipped in: bring the file back from version control",
                ));
            }
            ledger.entries.push(entry);
        }
        Ok(ledger)
    }

    fn last_hash(&self) -> &str {
        self.entries.last().map_or(BEGINNING, |entry| &entry.hash)
    }

    /// The entries, oldest first.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn latest(&self) -> BTreeMap<&Slug, &Entry> {
        self.entries
            .iter()
            .map(|entry| (&entry.shoe, entry))
            .collect()
    }

    /// The corrections of every shoe, oldest first.
    pub fn corrections(&self, label: impl Fn(&Key) -> String) -> BTreeMap<Slug, Vec<Correction>> {
        let mut last: BTreeMap<&Slug, &Entry> = BTreeMap::new();
        let mut corrections: BTreeMap<Slug, Vec<Correction>> = BTreeMap::new();
        for entry in &self.entries {
            if let Some(before) = last.insert(&entry.shoe, entry) {
                corrections
                    .entry(entry.shoe.clone())
                    .or_default()
                    .push(Correction {
                        on: entry.on,
                        because: entry.because.clone(),
                        changes: changes(&before.findings, &entry.findings, &label),
                        rules: (before.rules.version, entry.rules.version),
                    });
            }
        }
        corrections
    }

    /// The published shoes whose findings are not those last sealed, by address.
    /// Drafts and held shoes are not published, nor are reviews taken back.
    pub fn unsealed(&self, edition: &Edition) -> Vec<Unsealed> {
        let latest = self.latest();
        let label = |key: &Key| edition.label(key);
        edition
            .shoes
            .iter()
            .filter(|judged| is_out(judged, edition.as_of) && judged.shoe.file.withdrawn.is_none())
            .filter_map(|judged| {
                let slug = judged.shoe.slug.clone();
                let now = sealed(judged, edition);
                match latest.get(&slug) {
                    Some(entry) if entry.findings == now => None,
                    Some(entry) => Some(Unsealed {
                        slug,
                        changes: Some(changes(&entry.findings, &now, label)),
                    }),
                    None => Some(Unsealed {
                        slug,
                        changes: None,
                    }),
                }
            })
            .collect()
    }

    /// The lines that seal an edition as it stands, each with its line break;
    /// empty if everything is sealed already.
    pub fn lines_to_seal(&self, edition: &Edition, stamps: &Stamps, because: &str) -> String {
        let mut previous = self.last_hash().to_owned();
        let mut lines = String::new();
        for unsealed in self.unsealed(edition) {
            let Some(judged) = edition.shoe(&unsealed.slug) else {
                continue;
            };
            let mut entry = Entry {
                on: edition.as_of,
                shoe: unsealed.slug,
                rules: stamps.rules.clone(),
                protocol: stamps.protocol.clone(),
                because: because.to_owned(),
                findings: sealed(judged, edition),
                previous,
                hash: String::new(),
            };
            entry.hash = entry.sealed_hash();
            previous = entry.hash.clone();
            lines.push_str(
                &serde_json::to_string(&entry).expect("names, dates and texts always serialise"),
            );
            lines.push('\n');
        }
        lines
    }

    /// A rule set or protocol that is not what was sealed under its version number.
    pub fn check_versions(&self, stamps: &Stamps, files: (&str, &str)) -> Vec<Problem> {
        let mut problems = Vec::new();
        let pairs = [
            (
                &stamps.rules,
                files.0,
                "rule set",
                self.entries
                    .iter()
                    .rev()
                    .map(|e| &e.rules)
                    .find(|s| s.version == stamps.rules.version),
            ),
            (
                &stamps.protocol,
                files.1,
                "protocol",
                self.entries
                    .iter()
                    .rev()
                    .map(|e| &e.protocol)
                    .find(|s| s.version == stamps.protocol.version),
            ),
        ];
        for (now, file, what, sealed) in pairs {
            if sealed.is_some_and(|sealed| sealed.content != now.content) {
                problems.push(
                    Problem::error(
                        "version-not-raised",
                        file,
                        KeyPath::root().key("version"),
                        format!(
                            "this {what} is not the one that was published as version {}",
                            now.version
                        ),
                    )
                    .hint(format!(
                        "give it version {} and a line in its history; `solefolio ripple` shows what it would change",
                        now.version + 1
                    )),
                );
            }
        }
        problems
    }
}
