//! The ledger: what has been published, sealed line by line.
//!
//! `lab/ledger.jsonl` is only ever appended to: one JSON object a line, one line
//! a shoe whose published findings differ from its last line. Each line carries
//! the hash of the one before and its own, over its content and that hash
//! (BLAKE3), so that a line that is changed, lost, moved or slipped in is
//! noticed. A chain can't tell that its end is missing, so how long it is and its
//! last hash stand beside it in `lab/ledger.head`; a ledger longer than that (the
//! program was stopped between the two) is whole. A head that is gone is said.
//! Where both are gone, or cut back together, the folio that was published still
//! tells how far the ledger had come by its date ([`Mark`], in
//! `out/data/datapackage.json`): publishing then says so and sealing refuses. What
//! was sealed after the last publish, or where `out/` is gone too, can't be missed
//! by anyone. None of this says who wrote it: anyone who can write the files can
//! write a new chain; keep them under version control.
//!
//! A last line that is no entry and has no line break is torn: something stopped
//! while it was being written. It is told apart from a line that was spoilt.
//!
//! The first line of a shoe is what was first published. Each further one is a
//! correction, shown on the shoe's page with its reason.

use super::sealed::{Sealed, changes, sealed};
use super::{Correction, Edition, is_out};
use crate::diagnostics::text::{is_refused, says_refused};
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Date, Key, Slug, Source};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Where the ledger is.
pub const LEDGER: &str = "lab/ledger.jsonl";
/// Where the length of the ledger and its last hash are.
pub const LEDGER_HEAD: &str = "lab/ledger.head";
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

/// How far a ledger had come on a day: what a published folio tells of it, so that
/// a ledger that lost its end, or is gone, is noticed by any folio that is still
/// there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// How many lines it had.
    pub lines: usize,
    /// The hash of the last of them.
    pub last: String,
}

/// A published shoe whose findings are not those last sealed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsealed {
    /// Which.
    pub slug: Slug,
    /// What changed; none if the shoe was never sealed.
    pub changes: Option<Vec<String>>,
}

/// What to do about a ledger that was tampered with.
const GO_BACK: &str =
    "a line was changed, lost, moved or slipped in: bring the file back from version control";

fn placed_in(source: &Source, at: usize, code: &'static str, message: String) -> Problem {
    Problem::error(code, source.file.clone(), KeyPath::root(), message).at(at + 1, 1)
}

fn broken(source: &Source, at: usize, message: String) -> Vec<Problem> {
    vec![placed_in(source, at, "ledger-broken", message).hint(GO_BACK)]
}

fn unreadable(source: &Source, at: usize, error: &serde_json::Error) -> Vec<Problem> {
    let message = format!("the line is no entry of a ledger: {error}");
    vec![
        placed_in(source, at, "ledger-unreadable", message)
            .hint("bring the file back from version control; it is only ever appended to"),
    ]
}

fn torn(source: &Source, at: usize) -> Vec<Problem> {
    let message = "the last line is torn: it stops in the middle and has no line break, \
                   as if writing or copying the file had been interrupted";
    vec![
        placed_in(source, at, "ledger-torn", message.to_owned()).hint(
            "bring the file back from version control; or take the torn line away and run `solefolio seal` again",
        ),
    ]
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
    /// `ledger-torn` for a last line that was not written to its end,
    /// `ledger-unreadable` for a line that is no entry, `ledger-broken` for the
    /// first line that does not follow from the one before it.
    pub fn read(source: &Source) -> Result<Ledger, Vec<Problem>> {
        let mut ledger = Ledger::default();
        let whole = source.text.is_empty() || source.text.ends_with('\n');
        let mut lines = source.text.lines().enumerate().peekable();
        while let Some((at, line)) = lines.next() {
            let last = lines.peek().is_none();
            let entry: Entry = serde_json::from_str(line).map_err(|error| {
                if last && !whole {
                    torn(source, at)
                } else {
                    unreadable(source, at, &error)
                }
            })?;
            if let Some(c) = entry.because.chars().find(|c| is_refused(*c)) {
                return Err(broken(source, at, says_refused(c)));
            }
            if entry.previous != ledger.last_hash() || entry.hash != entry.sealed_hash() {
                return Err(broken(
                    source,
                    at,
                    format!(
                        "the entry for `{}` is not the one that was sealed here",
                        entry.shoe
                    ),
                ));
            }
            ledger.entries.push(entry);
        }
        Ok(ledger)
    }

    /// What `lab/ledger.head` says of this ledger: its length and last hash.
    pub fn head(&self) -> String {
        format!("{} {}\n", self.entries.len(), self.last_hash())
    }

    /// Checks that the ledger holds all that its head says was sealed.
    ///
    /// # Errors
    /// `ledger-unreadable` for a head that says nothing, `ledger-broken` for a
    /// ledger that ends too early or holds another line there.
    pub fn check_head(&self, head: &Source) -> Result<(), Vec<Problem>> {
        let said = head.text.trim().split_once(' ');
        let Some((lines, hash)) =
            said.and_then(|(lines, hash)| Some((lines.parse::<usize>().ok()?, hash)))
        else {
            return Err(vec![
                Problem::error(
                    "ledger-unreadable",
                    head.file.clone(),
                    KeyPath::root(),
                    "the file does not say how long the ledger is",
                )
                .at(1, 1)
                .hint(
                    "bring it back from version control, or remove it: the next `seal` writes it",
                ),
            ]);
        };
        let there = match lines {
            0 => Some(BEGINNING),
            lines => self.entries.get(lines - 1).map(|entry| &*entry.hash),
        };
        if there == Some(hash) {
            return Ok(());
        }
        Err(vec![
            Problem::error(
                "ledger-broken",
                LEDGER,
                KeyPath::root(),
                if there.is_some() {
                    format!("line {lines} is not the one that was sealed last")
                } else {
                    format!(
                        "the ledger ends after line {}, and {lines} lines were sealed",
                        self.entries.len()
                    )
                },
            )
            .at(self.entries.len().max(1), 1)
            .hint(GO_BACK),
        ])
    }

    fn last_hash(&self) -> &str {
        self.entries.last().map_or(BEGINNING, |entry| &entry.hash)
    }

    /// The day of the last line; a later line can't be of an earlier day.
    pub fn sealed_last(&self) -> Option<Date> {
        self.entries.last().map(|entry| entry.on)
    }

    /// How far it had come on a day; none if nothing was sealed by then.
    pub fn mark(&self, as_of: Date) -> Option<Mark> {
        let lines = self.entries.partition_point(|entry| entry.on <= as_of);
        let last = self.entries.get(lines.checked_sub(1)?)?;
        Some(Mark {
            lines,
            last: last.hash.clone(),
        })
    }

    /// Whether it holds what a folio says it held.
    pub fn holds(&self, mark: &Mark) -> bool {
        let last = mark
            .lines
            .checked_sub(1)
            .and_then(|at| self.entries.get(at));
        last.is_some_and(|entry| entry.hash == mark.last)
    }

    /// The entries, oldest first.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The last line of every shoe.
    pub fn latest(&self) -> BTreeMap<Slug, &Entry> {
        self.entries
            .iter()
            .map(|entry| (entry.shoe.clone(), entry))
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
                        protocol: (before.protocol.version, entry.protocol.version),
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

#[cfg(test)]
#[path = "ledger_tests.rs"]
mod tests;
