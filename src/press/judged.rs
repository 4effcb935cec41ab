//! What is found of a sheet when it is judged, and what is to be done with it.

use super::commit::Staged;
use super::fingerprint::Basis;
use super::folder::Meta;
use super::manifest::Sums;
use super::past::Standing;
use super::reason::{Difference, Reason};
use super::record::Entry;

/// A sheet, judged.
pub struct Judged {
    /// Its entry in the new record; `None` if the folio won't hold it.
    pub entry: Option<Entry>,
    /// What is to be done.
    pub turn: Turn,
    /// Why; empty if nothing changed.
    pub reasons: Vec<Reason>,
    /// What a reader sees differently first, if it was asked for.
    pub difference: Option<Difference>,
    /// What lay there.
    pub standing: Standing,
}

/// What is to be done with a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// It wasn't asked for.
    Left,
    /// It is as it was.
    Unchanged(Meta),
    /// It was made again and is as it was.
    Same(Meta),
    /// New bytes wait for it.
    Staged(Staged),
    /// It is a print that has to be set.
    ToPrint,
    /// It is a print that couldn't be set.
    Failed,
}

impl Judged {
    /// A file of bytes that were written one after the other.
    pub fn of_bytes(sums: Sums, turn: Turn, reasons: Vec<Reason>, standing: Standing) -> Self {
        Judged {
            entry: Some(Entry {
                basis: None,
                bytes: sums.bytes,
                sum: Some(sums.sum),
            }),
            turn,
            reasons,
            difference: None,
            standing,
        }
    }

    /// One that couldn't be made.
    pub fn undone(standing: Standing) -> Self {
        Judged {
            entry: None,
            turn: Turn::Failed,
            reasons: Vec::new(),
            difference: None,
            standing,
        }
    }

    /// One that is as it was, made from the same.
    pub fn unchanged(past: Option<&Entry>, basis: Basis, meta: Meta) -> Self {
        Judged {
            entry: past.map(|entry| Entry {
                basis: Some(basis),
                bytes: entry.bytes,
                sum: entry.sum,
            }),
            turn: Turn::Unchanged(meta),
            reasons: Vec::new(),
            difference: None,
            standing: Standing::Intact(meta),
        }
    }
}
