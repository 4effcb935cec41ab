//! What is out as of a date: weeks, embargo, ledger, corrections.

mod assemble;
mod desk;
mod frozen;
mod ledger;
mod ripple;
mod ripple_state;
mod sealed;

pub use assemble::{Assembled, Held, Scope, is_out, is_taken_back, unaccepted};
pub use desk::{DeskLine, Missing, desk_list};
pub use frozen::{EDITIONS, FROZEN_LIMIT, Frozen, FrozenFile, MANIFEST, edition_name, sort_frozen};
pub use ledger::{Entry, LEDGER, LEDGER_HEAD, LEDGER_LIMIT, Ledger, Mark, Stamp, Stamps, Unsealed};
pub use ripple::{Change, Count, Notice, Ripple, ShoeChange, Way};
pub use ripple_state::State;
pub use sealed::{Sealed, changes, sealed};

use crate::catalogue::Catalogue;
use crate::files::{Date, Key, Slug, Week};
use crate::lab::Lab;
use crate::rules::{Judged, RuleSet};
use std::collections::BTreeMap;

/// One published state of the whole folio, as of a date.
///
/// Holds only what is out: no draft and no held shoe is anywhere in it, so no
/// output can let one slip. With `drafts` they are in it, and every page says so.
#[derive(Debug)]
pub struct Edition {
    /// The date.
    pub as_of: Date,
    /// Whether drafts and held shoes are in it.
    pub drafts: bool,
    /// The laboratory.
    pub lab: Lab,
    /// The rule set.
    pub rules: RuleSet,
    /// The shoes that are out, by address.
    pub shoes: Vec<Judged>,
    /// The weeks that have come out, with the places of their shoes in `shoes`.
    pub weeks: BTreeMap<Week, Vec<usize>>,
    /// Where each shoe stands among the others.
    pub catalogue: Catalogue,
    /// What changed since each shoe was first published, by shoe, oldest first.
    pub corrections: BTreeMap<Slug, Vec<Correction>>,
    /// The editions that were sealed up to its date, the earliest first.
    pub frozen: Vec<Frozen>,
    /// How far the ledger had come by the date.
    pub sealed: Option<Mark>,
}

/// A change of a published shoe, as the ledger tells it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correction {
    /// The day it was sealed.
    pub on: Date,
    /// Why.
    pub because: String,
    /// What changed, one line each.
    pub changes: Vec<String>,
    /// The rule set's version before and after.
    pub rules: (u32, u32),
    /// The protocol's version before and after.
    pub protocol: (u32, u32),
}

impl Edition {
    /// The shoe at an address.
    pub fn shoe(&self, slug: &Slug) -> Option<&Judged> {
        self.shoes
            .binary_search_by(|judged| judged.shoe.slug.cmp(slug))
            .ok()
            .map(|at| &self.shoes[at])
    }

    /// How a finding is called.
    pub fn label(&self, finding: &Key) -> String {
        self.rules
            .rules
            .get(finding)
            .map_or_else(|| finding.to_string(), |rule| rule.label().to_owned())
    }
}
