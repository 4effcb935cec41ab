//! What every view is composed from: the edition, its surroundings, and the
//! form each rule's finding takes.
//!
//! It also decides who is in what. *Current* shoes are those of the edition
//! whose review was not taken back by its date; every list, count, picture and
//! data file is made of them alone. A shoe taken back keeps its page, and is
//! named in four more places, always with nothing but the fact: the list of
//! the week it came out in (the record of that week), the method page's
//! corrections, the feed (whose readers were told of the review), and the page of
//! a sealed edition it was in (whose files still hold it).

use super::output::{FolioPath, Make, Sheet, Subject, Surroundings};
use super::own;
use super::ruler::Rows;
use super::views::{DateView, HeadView, LinkView, SiteView};
use super::wording::percent;
use crate::edition::Edition;
use crate::files::{Date, Key, Slug};
use crate::lab::{MadeFor, Paper, QuantitySpec};
use crate::quantity::Unit;
use crate::rules::{BandScale, Finding, Judged, NotJudged, Rule, Says};
use crate::shoe::Withdrawn;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

/// The form a rule's findings take in this edition.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Form {
    /// A score in bands; the bands, if any shoe of the edition has them.
    Band(Option<Arc<BandScale>>),
    /// A number in a unit, with its decimals.
    Value(Option<(Unit, u8)>),
    /// Rows against columns.
    Fit,
    /// An advice.
    Advice,
}

/// What every view is composed from. Cheap to clone.
#[derive(Clone, Debug)]
pub(super) struct Composer<'e> {
    /// The edition.
    pub edition: &'e Edition,
    /// What lies around it.
    pub surroundings: &'e Surroundings,
    forms: Arc<BTreeMap<Key, Form>>,
    rows: Arc<OnceLock<Rows>>,
    last_change: Arc<OnceLock<Date>>,
}

impl<'e> Composer<'e> {
    /// A composer for an edition.
    pub fn new(edition: &'e Edition, surroundings: &'e Surroundings) -> Self {
        let bare = Composer {
            edition,
            surroundings,
            forms: Arc::default(),
            rows: Arc::default(),
            last_change: Arc::default(),
        };
        let forms = edition
            .rules
            .rules
            .iter()
            .filter_map(|(key, rule)| Some((key.clone(), bare.find_form(key, rule.as_ref())?)))
            .collect();
        Composer {
            forms: Arc::new(forms),
            ..bare
        }
    }

    /// A rule's form: that of the first finding it made, or what its kind makes.
    fn find_form(&self, key: &Key, rule: &dyn Rule) -> Option<Form> {
        let made = self
            .current()
            .find_map(|judged| judged.findings.get(key)?.as_ref().ok());
        match (made.map(|finding| &finding.says), rule.kind()) {
            (Some(Says::Band(banded)), _) => Some(Form::Band(Some(banded.scale.clone()))),
            (Some(Says::Value(value)), _) => Some(Form::Value(Some((value.unit, value.decimals)))),
            (Some(Says::Fit(_)), _) | (None, "fit") => Some(Form::Fit),
            (Some(Says::Advice(_)), _) | (None, "advice") => Some(Form::Advice),
            (None, "scale" | "blend") => Some(Form::Band(None)),
            (None, "formula" | "program") => Some(Form::Value(None)),
            // A rule of another kind that judged no shoe has no form, and so no place.
            (None, _) => None,
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
        self.edition
            .shoes
            .iter()
            .map(|judged| self.changed(judged))
            .chain(Some(rules).filter(|on| *on <= self.edition.as_of))
            .max()
            .unwrap_or(self.edition.as_of)
    }

    /// The rulers' ticks, laid out when the first page asks for them.
    pub fn rows(&self) -> &Rows {
        self.rows.get_or_init(|| Rows::of(self.edition))
    }

    /// A rule's form.
    pub fn form(&self, key: &Key) -> Option<&Form> {
        self.forms.get(key)
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
            .filter(|key| self.form(key).is_some_and(&wanted))
            .collect()
    }

    /// The rule of the pace tier: the first banded finding beside the leading
    /// ones whose bands have names of their own.
    pub fn pace(&self) -> Option<&'e Key> {
        let named = |key: &&Key| match self.form(key) {
            Some(Form::Band(Some(scale))) => scale.names[..] != self.edition.rules.bands[..],
            _ => false,
        };
        self.bands().1.into_iter().find(named)
    }

    /// The rule of the fit that guide and finder are made of: the first.
    pub fn fit(&self) -> Option<&'e Key> {
        self.rules_of(|form| *form == Form::Fit).first().copied()
    }

    /// The bands of a rule: its own, or the rule set's where no shoe has the finding.
    pub fn band_names(&self, key: &Key) -> Vec<String> {
        match self.form(key) {
            Some(Form::Band(Some(scale))) => scale.names.clone(),
            _ => self.edition.rules.bands.to_vec(),
        }
    }

    /// How a finding is called.
    pub fn label(&self, key: &Key) -> String {
        match self.edition.rules.rules.get(key) {
            Some(rule) => rule.label().to_owned(),
            None => key.to_string(),
        }
    }

    /// A shoe's finding, or why there is none.
    pub fn finding(&self, judged: &'e Judged, key: &Key) -> Result<&'e Finding, String> {
        match judged.findings.get(key) {
            Some(Ok(finding)) => Ok(finding),
            Some(Err(NotJudged { reason, .. })) => Err(reason.clone()),
            None => Err("the rule set did not judge it".into()),
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

    /// The folio's absolute address, with a slash at its end.
    pub fn address(&self) -> String {
        let address = &self.edition.lab.settings.address;
        format!("{}/", address.trim_end_matches('/'))
    }

    /// What every page and print carries.
    pub fn site(&self) -> SiteView {
        let lab = &self.edition.lab;
        let settings = &lab.settings;
        SiteView {
            lab: settings.name.clone(),
            about: settings.about.clone(),
            invented: settings.invented,
            drafts: self.edition.drafts,
            language: settings.language.clone(),
            address: self.address(),
            contact: settings.contact.clone(),
            licence: LinkView {
                text: settings.licence.title.clone(),
                href: settings.licence.address.clone(),
            },
            as_of: date(self.last_change()),
            protocol_version: lab.protocol.version,
            rules_version: self.edition.rules.version,
            caution: lab.phrases.cautions.short.clone(),
            paper: match settings.paper {
                Paper::A4 => "a4",
                Paper::UsLetter => "us-letter",
            },
            pages: own::links(self.surroundings, MadeFor::Once, None),
        }
    }

    /// Coverage of the printed intervals, as per cent with its sign.
    pub fn coverage(&self) -> String {
        percent(self.edition.lab.protocol.coverage)
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

/// A page's own head; `path` is the page's file, such as `compare/index.html`.
pub(super) fn head(path: &FolioPath, title: &str, description: &str) -> HeadView {
    let address = path.as_str();
    HeadView {
        title: title.to_owned(),
        description: description.to_owned(),
        root: path.to_root(),
        path: match address.strip_suffix("index.html") {
            Some(folder) => folder.to_owned(),
            None => address.to_owned(),
        },
        linked_data: None,
        pages: Vec::new(),
        image: None,
    }
}

/// A date, for people and for machines.
pub(super) fn date(on: Date) -> DateView {
    DateView {
        iso: on.to_string(),
        text: on.text(),
    }
}

/// A day as RFC 3339 writes an instant: its midnight, UTC.
pub(super) fn instant(on: Date) -> String {
    format!("{on}T00:00:00Z")
}

/// A path of the folio from fixed words, addresses and weeks, which are all safe.
pub(super) fn path(text: impl Into<String>) -> FolioPath {
    FolioPath::new(text).expect("fixed words, addresses and weeks are safe names")
}

/// A page's sheet.
pub(super) fn page<'e, V: Serialize>(
    output: &'static str,
    subject: Subject,
    path: FolioPath,
    template: &'static str,
    view: impl Fn() -> V + Send + Sync + 'e,
) -> Sheet<'e> {
    Sheet {
        path,
        output,
        subject,
        make: Make::Page {
            template: template.into(),
            view: Box::new(move || value(&view())),
        },
    }
}

/// A print's sheet, dated `on`.
pub(super) fn print<'e, V: Serialize>(
    output: &'static str,
    subject: Subject,
    path: FolioPath,
    template: &'static str,
    on: Date,
    view: impl Fn() -> V + Send + Sync + 'e,
) -> Sheet<'e> {
    Sheet {
        path,
        output,
        subject,
        make: Make::Print {
            template,
            date: on.civil(),
            view: Box::new(move || value(&view())),
        },
    }
}

/// A sheet of the bytes themselves.
pub(super) fn bytes<'e>(
    output: &'static str,
    subject: Subject,
    path: FolioPath,
    make: impl Fn() -> Vec<u8> + Send + Sync + 'e,
) -> Sheet<'e> {
    Sheet {
        path,
        output,
        subject,
        make: Make::Bytes(Box::new(make)),
    }
}

pub(super) fn value(view: &impl Serialize) -> serde_json::Value {
    serde_json::to_value(view).expect("a view is texts, lists and finite numbers")
}
