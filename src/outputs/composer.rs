//! What every view is composed from: the edition, its surroundings, the language, and
//! the form each rule's finding takes.
//!
//! It also decides who is in what. *Current* shoes are those of the edition
//! whose review was not taken back by its date; every list, count, picture and
//! data file is made of them alone. A shoe taken back keeps its page, and is
//! named in four more places, always with nothing but the fact: the list of
//! the week it came out in (the record of that week), the method page's
//! corrections, the feed (whose readers were told of the review), and the page of
//! a sealed edition it was in (whose files still hold it).

mod site;
mod words;

use super::output::Surroundings;
use super::ruler::Rows;
use crate::edition::Edition;
use crate::files::{Date, Key, Slug};
use crate::lab::QuantitySpec;
use crate::rules::{Finding, Form, Judged, NotJudged};
use crate::shoe::Withdrawn;
use crate::words::{Language, said};
use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

/// What every view is composed from. Cheap to clone.
#[derive(Clone, Debug)]
pub(super) struct Composer<'e> {
    /// The edition.
    pub edition: &'e Edition,
    /// What lies around it.
    pub surroundings: &'e Surroundings,
    /// The language everything is said in.
    pub language: &'e Language,
    rows: Arc<OnceLock<Rows>>,
    last_change: Arc<OnceLock<Date>>,
}

impl<'e> Composer<'e> {
    /// A composer for an edition.
    pub fn new(edition: &'e Edition, surroundings: &'e Surroundings) -> Self {
        Composer {
            edition,
            surroundings,
            language: match surroundings.tongue {
                Some(at) => &edition.lab.tongues[at].language,
                None => &edition.lab.language,
            },
            rows: Arc::default(),
            last_change: Arc::default(),
        }
    }

    /// The shoes whose review stands, by address.
    pub fn current(&self) -> impl Iterator<Item = &'e Judged> + use<'e> {
        let edition = self.edition;
        edition
            .shoes
            .iter()
            .filter(move |judged| withdrawn(edition, judged).is_none())
    }

    /// Why and when a shoe's review was taken back, if it was by the edition's date.
    pub fn withdrawn(&self, judged: &'e Judged) -> Option<&'e Withdrawn> {
        withdrawn(self.edition, judged)
    }

    /// The shoe at an address, if its review stands.
    pub fn current_shoe(&self, slug: &Slug) -> Option<&'e Judged> {
        self.edition
            .shoe(slug)
            .filter(|judged| self.withdrawn(judged).is_none())
    }

    /// The day a review came out; none for a draft and for one held for later.
    pub fn came_out(&self, judged: &Judged) -> Option<Date> {
        judged
            .shoe
            .file
            .publish
            .filter(|on| *on <= self.edition.as_of)
    }

    /// The day a review last changed for its readers.
    pub fn changed(&self, judged: &Judged) -> Date {
        let corrected = self
            .edition
            .corrections
            .get(&judged.shoe.slug)
            .into_iter()
            .flatten()
            .map(|correction| correction.on);
        let withdrawn = withdrawn(self.edition, judged).map(|withdrawn| withdrawn.on);
        self.came_out(judged)
            .into_iter()
            .chain(corrected)
            .chain(withdrawn)
            .max()
            .unwrap_or(self.edition.as_of)
    }

    /// The day anything of the edition last changed for its readers: an edition
    /// made later without a change is the same edition, byte for byte.
    pub fn last_change(&self) -> Date {
        *self.last_change.get_or_init(|| self.find_last_change())
    }

    fn find_last_change(&self) -> Date {
        let rules = self.edition.rules.effective;
        let protocol = self.edition.lab.protocol.effective;
        let versions = [rules, protocol].into_iter();
        self.edition
            .shoes
            .iter()
            .map(|judged| self.changed(judged))
            .chain(versions.filter(|on| *on <= self.edition.as_of))
            .max()
            .unwrap_or(self.edition.as_of)
    }

    /// The rulers' ticks, laid out when the first page asks for them.
    pub fn rows(&self) -> &Rows {
        self.rows.get_or_init(|| Rows::of(self.edition))
    }

    /// The form a rule's findings take.
    pub fn form(&self, key: &Key) -> Option<Form> {
        Some(self.edition.rules.rule(key)?.form())
    }

    /// The rules of banded findings a review leads with, then all others, each
    /// in the rule set's order.
    pub fn bands(&self) -> (Vec<&'e Key>, Vec<&'e Key>) {
        let banded = |key: &Key| matches!(self.form(key), Some(Form::Band(_)));
        let rules = &self.edition.rules;
        let lead: Vec<&Key> = rules.page.iter().filter(|key| banded(key)).collect();
        let other = rules
            .rules
            .keys()
            .filter(|key| banded(key) && !rules.page.contains(key))
            .collect();
        (lead, other)
    }

    /// The rules of one form, in the rule set's order.
    pub fn rules_of(&self, wanted: impl Fn(&Form) -> bool) -> Vec<&'e Key> {
        self.edition
            .rules
            .rules
            .keys()
            .filter(|key| self.form(key).as_ref().is_some_and(&wanted))
            .collect()
    }

    /// The rule of the pace tier: the first banded finding beside the leading
    /// ones whose bands have names of their own.
    pub fn pace(&self) -> Option<&'e Key> {
        let named = |key: &&Key| match self.form(key) {
            Some(Form::Band(scale)) => scale.names[..] != self.edition.rules.bands[..],
            _ => false,
        };
        self.bands().1.into_iter().find(named)
    }

    /// The rule of the fit that guide and finder are made of: the first.
    pub fn fit(&self) -> Option<&'e Key> {
        self.rules_of(|form| *form == Form::Fit).first().copied()
    }

    /// The bands of a rule; none for one without.
    pub fn band_names(&self, key: &Key) -> Vec<String> {
        match self.form(key) {
            Some(Form::Band(scale)) => self.words(&scale.names),
            _ => Vec::new(),
        }
    }

    /// A shoe's finding, or why there is none.
    pub fn finding(&self, judged: &'e Judged, key: &Key) -> Result<&'e Finding, String> {
        match judged.findings.get(key) {
            Some(Ok(finding)) => Ok(finding),
            Some(Err(NotJudged { reason, .. })) => Err(reason.clone()),
            None => Err(said!("the rule set did not judge it")),
        }
    }

    /// How a quantity is measured.
    pub fn quantity(&self, key: &Key) -> Option<&'e QuantitySpec> {
        self.edition.lab.protocol.quantities.get(key)
    }

    /// The quantities a finding rests on, at whatever remove.
    pub fn rests_on(&self, finding: &Key) -> BTreeSet<&'e Key> {
        let mut quantities = BTreeSet::new();
        let mut seen = BTreeSet::new();
        let mut open: Vec<&Key> = vec![finding];
        while let Some(key) = open.pop() {
            let Some(rule) = self.edition.rules.rules.get(key) else {
                continue;
            };
            if !seen.insert(key) {
                continue;
            }
            for need in rule.needs() {
                if self.quantity(need).is_some() {
                    quantities.insert(need);
                } else {
                    open.push(need);
                }
            }
        }
        quantities
    }

    /// How many readings a finding rests on: those of all its quantities.
    pub fn readings_of(&self, judged: &Judged, finding: &Key) -> usize {
        self.rests_on(finding)
            .into_iter()
            .filter_map(|key| judged.quantities.get(key)?.as_ref().ok())
            .map(|summary| summary.n)
            .sum()
    }
}

fn withdrawn<'e>(edition: &Edition, judged: &'e Judged) -> Option<&'e Withdrawn> {
    judged
        .shoe
        .file
        .withdrawn
        .as_ref()
        .filter(|withdrawn| withdrawn.on <= edition.as_of)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::figures::Print;
    use crate::outputs::findings::figure_text;
    use crate::outputs::testing;
    use crate::quantity::{Uncertain, Unit};

    #[test]
    fn a_ratio_is_printed_without_a_unit() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let figure = Print::plain(Unit::One, 2).figure(&Uncertain::exact(0.85), 0.95);
        let figure = composer.figure(figure);
        assert_eq!((figure.number.as_str(), figure.unit.as_str()), ("0.85", ""));
        assert_eq!(figure_text(&figure), "0.85");
    }

    #[test]
    fn a_new_protocol_makes_a_new_edition_as_new_rules_do() {
        let mut edition = testing::edition();
        let last = |edition: &Edition| {
            let surroundings = Surroundings::default();
            Composer::new(edition, &surroundings).last_change()
        };
        edition.as_of = testing::day("2026-12-03");
        assert_eq!(last(&edition), testing::day("2026-11-26"));
        edition.lab.protocol.effective = testing::day("2026-12-01");
        assert_eq!(last(&edition), testing::day("2026-12-01"));
        // Of what is not in force yet no reader sees anything.
        edition.lab.protocol.effective = testing::day("2026-12-04");
        assert_eq!(last(&edition), testing::day("2026-11-26"));
    }
}
