//! What changes between two editions of one day: of the same shoes, under another
//! rule set or protocol, or against what was sealed.
//!
//! A pure comparison of what is printed. Two findings differ here if a reader
//! could see it: the words and figures are those that are sealed and published,
//! rounded the same way. What can't be known of one side (the ledger keeps no
//! ranks) is absent, and never taken for a change.

use super::ripple_state::{State, state};
use super::sealed::Sealed;
use super::{Edition, is_out};
use crate::files::{Date, Key, Slug};
use crate::rules::{Form, Judged};
use serde::Serialize;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// How much a reader would notice of a change, least first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Notice {
    /// Another place among the others.
    Rank,
    /// Another number in the same band, or another uncertainty.
    Figures,
    /// It becomes borderline, or is no longer.
    Borderline,
    /// Another verdict of a fit.
    Fit,
    /// Another band of a finding that reviews don't lead with, such as a pace tier.
    Tier,
    /// Another band of a finding that reviews lead with.
    Band,
    /// A finding comes or goes, or is judged no more.
    Judged,
    /// A caution or another advice comes or goes.
    Advice,
}

/// Which way a band moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// To a higher band.
    Up,
    /// To a lower band.
    Down,
}

/// One finding of one shoe that would change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// The finding.
    pub finding: Key,
    /// How it is called.
    pub label: String,
    /// How much of it a reader would notice.
    pub notice: Notice,
    /// Which way its band moves, if it does.
    pub way: Option<Way>,
    /// Over how many bands.
    pub bands: usize,
    /// As it is; absent if there is no such finding.
    pub old: Option<State>,
    /// As it would be; absent if there is no such finding.
    pub new: Option<State>,
    /// The cells of a fit that change, each `row × column: old → new`.
    pub cells: Vec<String>,
}

/// A shoe that would change.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShoeChange {
    /// Its address.
    pub shoe: Slug,
    /// Its title.
    pub title: String,
    /// What a reader would notice first.
    pub notice: Notice,
    /// Its findings that change, the most noticeable first.
    pub changes: Vec<Change>,
}

/// One finding across all shoes.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Count {
    /// How it is called.
    pub label: String,
    /// Shoes whose band rises.
    pub up: usize,
    /// Shoes whose band falls.
    pub down: usize,
    /// Shoes that become borderline.
    pub borderline: usize,
    /// Shoes that are borderline no more.
    pub settled: usize,
    /// Shoes that are judged no more.
    pub not_judged: usize,
    /// Shoes that are judged now and were not.
    pub judged: usize,
    /// Shoes whose verdicts or advice change.
    pub verdicts: usize,
    /// Shoes of which nothing but a figure, a rank or the name of a band changes.
    pub figures: usize,
    /// Shoes of which nothing changes.
    pub same: usize,
}

/// What changes between two editions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ripple {
    /// The day both are of.
    pub as_of: Date,
    /// The rule set's version before and after.
    pub rules: (u32, u32),
    /// The protocol's version before and after.
    pub protocol: (u32, u32),
    /// By finding, in the new rule set's order, then those it no longer has.
    pub findings: Vec<(Key, Count)>,
    /// The shoes that change, the most noticeable first.
    pub shoes: Vec<ShoeChange>,
    /// How many shoes were compared.
    pub compared: usize,
}

impl Ripple {
    /// What changes from one edition to another.
    pub fn between(old: &Edition, new: &Edition) -> Ripple {
        let states = |edition: &Edition| -> BTreeMap<Slug, BTreeMap<Key, State>> {
            standing(edition)
                .map(|judged| (judged.shoe.slug.clone(), states(judged, edition)))
                .collect()
        };
        Ripple::of(
            &states(old),
            new,
            old,
            (old.rules.version, new.rules.version),
            (old.lab.protocol.version, new.lab.protocol.version),
        )
    }

    /// What has changed since the findings were sealed. Shoes that never were are
    /// not compared.
    pub fn since(sealed: &BTreeMap<Slug, &super::Entry>, edition: &Edition) -> Ripple {
        let compared: Vec<&super::Entry> = standing(edition)
            .filter_map(|judged| sealed.get(&judged.shoe.slug).copied())
            .collect();
        let old: BTreeMap<Slug, BTreeMap<Key, State>> = compared
            .iter()
            .map(|entry| {
                let states = entry
                    .findings
                    .iter()
                    .map(|(key, sealed)| (key.clone(), of_sealed(key, sealed, edition)));
                (entry.shoe.clone(), states.collect())
            })
            .collect();
        let versions = |version: fn(&super::Entry) -> u32, now: u32| {
            let oldest = compared.iter().map(|entry| version(entry)).min();
            (oldest.unwrap_or(now), now)
        };
        let rules = versions(|entry| entry.rules.version, edition.rules.version);
        let protocol = versions(|entry| entry.protocol.version, edition.lab.protocol.version);
        Ripple::of(&old, edition, edition, rules, protocol)
    }

    fn of(
        old: &BTreeMap<Slug, BTreeMap<Key, State>>,
        new: &Edition,
        labels: &Edition,
        rules: (u32, u32),
        protocol: (u32, u32),
    ) -> Ripple {
        let mut counts: BTreeMap<Key, Count> = BTreeMap::new();
        let mut shoes = Vec::new();
        let mut compared = 0;
        for judged in standing(new) {
            let Some(before) = old.get(&judged.shoe.slug) else {
                continue;
            };
            compared += 1;
            let after = states(judged, new);
            let keys: BTreeSet<&Key> = before.keys().chain(after.keys()).collect();
            let mut changes = Vec::new();
            for key in keys {
                let label = match new.rules.rules.contains(key) {
                    true => new.label(key),
                    false => labels.label(key),
                };
                let change = Change::of(
                    key,
                    label.clone(),
                    new.rules.page.contains(key),
                    before.get(key),
                    after.get(key),
                );
                let count = counts.entry(key.clone()).or_default();
                count.label = label;
                count.add(change.as_ref());
                changes.extend(change);
            }
            changes.sort_by_key(|change| Reverse((change.notice, change.bands)));
            if let Some(first) = changes.first() {
                shoes.push(ShoeChange {
                    shoe: judged.shoe.slug.clone(),
                    title: judged.shoe.title(),
                    notice: first.notice,
                    changes,
                });
            }
        }
        shoes.sort_by(|a, b| {
            weight(b)
                .cmp(&weight(a))
                .then_with(|| a.title.cmp(&b.title))
        });
        Ripple {
            as_of: new.as_of,
            rules,
            protocol,
            findings: in_order(counts, new),
            shoes,
            compared,
        }
    }

    /// Whether nothing changes.
    pub fn is_still(&self) -> bool {
        self.shoes.is_empty()
    }
}

/// The most noticeable change first; among equals, the one over more bands, then
/// the shoe with more changes of that weight.
fn weight(shoe: &ShoeChange) -> (Notice, usize, usize) {
    let bands = shoe.changes.first().map_or(0, |change| change.bands);
    let alike = shoe.changes.iter().filter(|c| c.notice == shoe.notice);
    (shoe.notice, bands, alike.count())
}

fn in_order(mut counts: BTreeMap<Key, Count>, edition: &Edition) -> Vec<(Key, Count)> {
    let mut ordered: Vec<(Key, Count)> = edition
        .rules
        .rules
        .keys()
        .filter_map(|key| Some((key.clone(), counts.remove(key)?)))
        .collect();
    ordered.extend(counts);
    ordered
}

/// The shoes whose review stands, drafts too where the edition has them.
fn standing(edition: &Edition) -> impl Iterator<Item = &Judged> {
    edition.shoes.iter().filter(|judged| {
        (edition.drafts || is_out(judged, edition.as_of)) && judged.shoe.file.withdrawn.is_none()
    })
}

fn states(judged: &Judged, edition: &Edition) -> BTreeMap<Key, State> {
    let findings = judged.findings.iter();
    findings
        .map(|(key, finding)| (key.clone(), state(judged, key, finding, edition)))
        .collect()
}

/// What the ledger's words tell of a finding. The band is known if it is one of
/// the bands the finding has now.
fn of_sealed(key: &Key, sealed: &Sealed, edition: &Edition) -> State {
    let (band, borderline) = match sealed.says.split_once(", borderline with ") {
        Some((band, near)) => (band, Some(near.to_owned())),
        None => (sealed.says.as_str(), None),
    };
    let band_index = match edition.rules.rule(key).map(|rule| rule.form()) {
        Some(Form::Band(scale)) => scale.names.iter().position(|name| name == band),
        _ => None,
    };
    let not_judged = sealed.says.strip_prefix("not judged: ");
    let (value, score) = match sealed.figures.as_deref() {
        None => (None, None),
        Some(figures) => {
            let score = |text: &str| text.strip_suffix(" of 100").map(str::to_owned);
            match figures.rsplit_once(", ") {
                Some((value, last)) => (Some(value.to_owned()), score(last)),
                None => (None, score(figures)),
            }
        }
    };
    State {
        says: sealed.says.clone(),
        value,
        score,
        band: band_index.map(|_| band.to_owned()),
        band_index,
        borderline: borderline.filter(|_| band_index.is_some()),
        not_judged: not_judged.map(str::to_owned),
        rank: None,
        cells: Vec::new(),
        exact: None,
        form: None,
    }
}

impl Change {
    /// The change of a finding, if a reader could see one.
    fn of(
        key: &Key,
        label: String,
        leads: bool,
        old: Option<&State>,
        new: Option<&State>,
    ) -> Option<Change> {
        let notice = match (old, new) {
            (Some(old), Some(new)) => notice(old, new, leads)?,
            (None, None) => return None,
            _ => Notice::Judged,
        };
        let places = old
            .and_then(|state| state.band_index)
            .zip(new.and_then(|state| state.band_index))
            // Among more or fewer bands the same one may stand at another place.
            .filter(|_| old.map(|state| &state.band) != new.map(|state| &state.band));
        let way = places.and_then(|(old, new)| match old.cmp(&new) {
            std::cmp::Ordering::Less => Some(Way::Up),
            std::cmp::Ordering::Greater => Some(Way::Down),
            std::cmp::Ordering::Equal => None,
        });
        Some(Change {
            finding: key.clone(),
            label,
            notice,
            way,
            bands: places.map_or(0, |(old, new)| old.abs_diff(new)),
            cells: old.zip(new).map_or_else(Vec::new, |(old, new)| {
                let pairs = old.cells.iter().zip(&new.cells);
                pairs
                    .filter(|(old, new)| old.0 == new.0 && old.1 != new.1)
                    .map(|(old, new)| format!("{}: {} → {}", old.0, old.1, new.1))
                    .collect()
            }),
            old: old.cloned(),
            new: new.cloned(),
        })
    }
}

/// What a reader would notice between two states of a finding; none if nothing.
fn notice(old: &State, new: &State, leads: bool) -> Option<Notice> {
    if old.not_judged.is_some() != new.not_judged.is_some() {
        return Some(Notice::Judged);
    }
    if old.says != new.says {
        if old.band_index.is_some() && old.band == new.band {
            return Some(Notice::Borderline);
        }
        let form = new.form.as_deref().or(old.form.as_deref());
        return Some(match form {
            Some("advice") => Notice::Advice,
            Some("fit") => Notice::Fit,
            Some("value") => Notice::Figures,
            _ if old.not_judged.is_some() => Notice::Figures,
            _ if leads => Notice::Band,
            _ => Notice::Tier,
        });
    }
    let known = old.exact.is_some() && new.exact.is_some();
    if old.value != new.value
        || old.score != new.score
        || old.cells != new.cells && !old.cells.is_empty()
        || known && old.exact != new.exact
    {
        return Some(Notice::Figures);
    }
    (old.rank.is_some() && old.rank != new.rank).then_some(Notice::Rank)
}

impl Count {
    fn add(&mut self, change: Option<&Change>) {
        let Some(change) = change else {
            self.same += 1;
            return;
        };
        match change.way {
            Some(Way::Up) => self.up += 1,
            Some(Way::Down) => self.down += 1,
            None => {}
        }
        let borderline = |state: &Option<State>| {
            state
                .as_ref()
                .is_some_and(|state| state.borderline.is_some())
        };
        let near = (borderline(&change.old), borderline(&change.new));
        match near {
            (false, true) => self.borderline += 1,
            (true, false) => self.settled += 1,
            _ => {}
        }
        let judged = |state: &Option<State>| {
            state
                .as_ref()
                .is_some_and(|state| state.not_judged.is_none())
        };
        let made = (judged(&change.old), judged(&change.new));
        match made {
            (true, false) => self.not_judged += 1,
            (false, true) => self.judged += 1,
            _ => {}
        }
        match change.notice {
            Notice::Advice | Notice::Fit => self.verdicts += 1,
            Notice::Figures | Notice::Rank => self.figures += 1,
            // A band is called otherwise, or the neighbour it is borderline with is
            // another: it is in no column yet.
            _ if change.way.is_none() && near.0 == near.1 && made.0 == made.1 => {
                self.figures += 1;
            }
            _ => {}
        }
    }
}

#[cfg(test)]
#[path = "ripple_tests.rs"]
mod tests;
