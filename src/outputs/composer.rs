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
use super::views::{DateView, FigureView, HeadView, LanguageView, LinkView, SiteView};
use super::wording;
use crate::edition::Edition;
use crate::files::{Date, Key, Month, Slug};
use crate::lab::{MadeFor, Paper, PhrasesFile, QuantitySpec};
use crate::quantity::Unit;
use crate::rules::{Finding, Form, Judged, NotJudged};
use crate::shoe::{Translation, Withdrawn};
use crate::words::{Language, said, say};
use serde::Serialize;
use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

/// Words somebody wrote by hand.
#[derive(Clone, Copy, Debug)]
pub(super) struct Written<'t> {
    /// The words.
    pub text: &'t str,
    /// Whether they are in the lab's own language.
    pub original: bool,
}

impl Written<'_> {
    /// Their language, where it is not the page's.
    pub fn language(self, composer: &Composer<'_>) -> Option<String> {
        let foreign = self.original && composer.surroundings.tongue.is_some();
        foreign.then(|| composer.edition.lab.language.tag.clone())
    }
}

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

    /// How a finding is called.
    pub fn label(&self, key: &Key) -> String {
        match self.edition.rules.rules.get(key) {
            Some(rule) => self.word(rule.label()),
            None => key.to_string(),
        }
    }

    /// Says a text; see [`crate::words`].
    pub fn say(&self, text: &str, values: &[(&str, &str)]) -> String {
        self.language.say(text, values)
    }

    /// Says a text that is counted.
    pub fn say_counted(&self, text: &str, one: &str, values: &[(&str, &str)]) -> String {
        self.language.say_counted(text, one, values)
    }

    /// One of the lab's own words.
    pub fn word(&self, word: &str) -> String {
        self.language.label(word).to_owned()
    }

    /// Some of the lab's own words.
    pub fn words(&self, words: &[String]) -> Vec<String> {
        words.iter().map(|word| self.word(word)).collect()
    }

    /// A label as it stands within a sentence.
    pub fn inside(&self, label: &str) -> String {
        self.language.inside(label)
    }

    /// A sentence of a room that knows no language, such as why something was
    /// not judged.
    pub fn retell(&self, sentence: &str) -> String {
        self.language.retell(sentence)
    }

    /// A number, or a text with numbers in it, as the language writes them.
    pub fn number(&self, number: &str) -> String {
        self.language.number(number).into_owned()
    }

    /// Words somebody wrote by hand in the lab's language, such as a reason; in
    /// this one if they are among the lab's words.
    pub fn editors<'t>(&self, text: &'t str) -> Written<'t>
    where
        'e: 't,
    {
        let original = !self.language.has_label(text);
        Written {
            text: self.language.label(text),
            original,
        }
    }

    /// What of a shoe's file an editor wrote, in this language if it is there.
    fn written<'j>(
        &self,
        judged: &'j Judged,
        own: Option<&'j String>,
        translated: impl Fn(&'j Translation) -> Option<&'j String>,
    ) -> Option<Written<'j>> {
        let here = self.surroundings.tongue.and_then(|_| {
            let file = &judged.shoe.file;
            translated(file.translations.get(self.language.tag.as_str())?)
        });
        let (text, original) = match here {
            Some(text) => (text, false),
            None => (own?, true),
        };
        Some(Written { text, original })
    }

    /// The editor's sentence about a shoe.
    pub fn summary<'j>(&self, judged: &'j Judged) -> Option<Written<'j>> {
        let own = judged.shoe.file.summary.as_ref();
        self.written(judged, own, |there| there.summary.as_ref())
    }

    /// The editor's text about a shoe.
    pub fn review<'j>(&self, judged: &'j Judged) -> Option<Written<'j>> {
        let own = judged.shoe.file.review.as_ref();
        self.written(judged, own, |there| there.review.as_ref())
    }

    /// The words an editor wrote for one finding of one shoe.
    pub fn own_words<'j>(&self, judged: &'j Judged, key: &Key) -> Option<Written<'j>> {
        let own = judged.shoe.file.words.get(key);
        self.written(judged, own, |there| there.words.get(key))
    }

    /// A value as the language writes it.
    pub fn figure(&self, figure: FigureView) -> FigureView {
        FigureView {
            unit: match figure.unit == Unit::Score.symbol() {
                true => say!(self, "of 100"),
                false => figure.unit,
            },
            number: self.number(&figure.number),
            uncertainty: figure.uncertainty.map(|spread| self.number(&spread)),
            also: figure.also.map(|also| self.number(&also)),
        }
    }

    /// A share of 0 to 1 that somebody fixed, as per cent.
    pub fn percent(&self, share: f64) -> String {
        self.number(&wording::percent(share))
    }

    /// A quantity's name.
    pub fn quantity_label(&self, key: &Key) -> String {
        self.quantity(key)
            .map_or_else(|| key.to_string(), |spec| self.word(&spec.label))
    }

    /// An instrument's name.
    pub fn instrument(&self, key: &Key) -> String {
        self.edition
            .lab
            .instruments
            .get(key)
            .map_or_else(|| key.to_string(), |known| self.word(&known.label))
    }

    /// A category's name.
    pub fn category(&self, key: &Key) -> String {
        let name = self.edition.lab.settings.categories.get(key);
        name.map_or_else(|| key.to_string(), |name| self.word(name))
    }

    /// The lab's phrases.
    pub fn phrases(&self) -> &'e PhrasesFile {
        let lab = &self.edition.lab;
        match self.surroundings.tongue {
            Some(at) => &lab.tongues[at].phrases,
            None => &lab.phrases,
        }
    }

    /// A day in words.
    pub fn day(&self, on: Date) -> String {
        wording::day(self.language, on)
    }

    /// A month in words.
    pub fn month(&self, month: Month) -> String {
        wording::month(self.language, month)
    }

    /// A date, for people and for machines.
    pub fn date(&self, on: Date) -> DateView {
        DateView {
            iso: on.to_string(),
            text: self.day(on),
        }
    }

    /// A page's own head; `path` is the page's file, such as `compare/index.html`,
    /// from the root of its language.
    pub fn head(&self, path: &FolioPath, title: &str, description: &str) -> HeadView {
        let address = path.as_str();
        let root = path.to_root();
        let path = address.strip_suffix("index.html").unwrap_or(address);
        let top = match self.surroundings.tongue {
            Some(_) => format!("../{root}"),
            None => root.clone(),
        };
        HeadView {
            title: title.to_owned(),
            description: description.to_owned(),
            languages: self.languages(&top, path),
            path: path.to_owned(),
            root,
            top,
            linked_data: None,
            pages: Vec::new(),
            image: None,
        }
    }

    /// A page in each of the folio's languages; none where there is but one.
    fn languages(&self, top: &str, path: &str) -> Vec<LanguageView> {
        let lab = &self.edition.lab;
        if lab.tongues.is_empty() {
            return Vec::new();
        }
        let others = lab.tongues.iter().map(|tongue| &tongue.language);
        std::iter::once(&lab.language)
            .chain(others)
            .enumerate()
            .map(|(at, language)| {
                let original = at == 0;
                let folder = if original {
                    String::new()
                } else {
                    format!("{}/", language.tag)
                };
                let href = format!("{top}{folder}{path}");
                LanguageView {
                    tag: language.tag.clone(),
                    name: language.name.clone(),
                    here: self.surroundings.tongue == at.checked_sub(1),
                    original,
                    // An empty link would lead to the page itself.
                    href: if href.is_empty() { "./".into() } else { href },
                    address: format!("{}{folder}{path}", self.folio()),
                }
            })
            .collect()
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

    /// The folio's absolute address, with a slash at its end.
    pub fn folio(&self) -> String {
        let address = &self.edition.lab.settings.address;
        format!("{}/", address.trim_end_matches('/'))
    }

    /// The folio's absolute address in this language.
    pub fn address(&self) -> String {
        match self.surroundings.tongue {
            Some(_) => format!("{}{}/", self.folio(), self.language.tag),
            None => self.folio(),
        }
    }

    /// What every page and print carries.
    pub fn site(&self) -> SiteView {
        let lab = &self.edition.lab;
        let settings = &lab.settings;
        SiteView {
            lab: settings.name.clone(),
            about: self.word(&settings.about),
            invented: settings.invented,
            drafts: self.edition.drafts,
            language: self.language.tag.clone(),
            address: self.address(),
            folio: self.folio(),
            contact: settings.contact.clone(),
            licence: LinkView {
                text: self.word(&settings.licence.title),
                href: settings.licence.address.clone(),
            },
            as_of: self.date(self.last_change()),
            protocol_version: lab.protocol.version,
            rules_version: self.edition.rules.version,
            caution: self.phrases().cautions.short.clone(),
            paper: match settings.paper {
                Paper::A4 => "a4",
                Paper::UsLetter => "us-letter",
            },
            pages: own::links(self.surroundings, MadeFor::Once, None),
        }
    }

    /// Coverage of the printed intervals, as per cent with its sign.
    pub fn coverage(&self) -> String {
        self.percent(self.edition.lab.protocol.coverage)
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

/// A day as RFC 3339 writes an instant: its midnight, UTC.
pub(super) fn instant(on: Date) -> String {
    format!("{on}T00:00:00Z")
}

/// A path of the folio from fixed words, addresses and weeks, which are all safe.
pub(super) fn path(text: impl Into<String>) -> FolioPath {
    FolioPath::new(text).expect("fixed words, addresses and weeks are safe names")
}

/// A page's sheet.
pub(super) fn page<'e, V: Serialize + 'static>(
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
            view: Box::new(move || Box::new(view())),
        },
    }
}

/// A page of the folio as a whole and the data that its script reads, which lie side
/// by side in a folder: each by its template, with its view.
pub(super) fn page_and_data<'e, P: Serialize + 'static, D: Serialize + 'static>(
    output: &'static str,
    folder: &str,
    (page_template, page_view): (&'static str, impl Fn() -> P + Send + Sync + 'e),
    (data_template, data_view): (&'static str, impl Fn() -> D + Send + Sync + 'e),
) -> Vec<Sheet<'e>> {
    let at = |file: &str| path(format!("{folder}/{file}"));
    vec![
        page(
            output,
            Subject::Folio,
            at("index.html"),
            page_template,
            page_view,
        ),
        page(
            output,
            Subject::Folio,
            at("data.js"),
            data_template,
            data_view,
        ),
    ]
}

/// A print's sheet, dated `on`.
pub(super) fn print<'e, V: Serialize + 'static>(
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
            template: template.into(),
            date: on.civil(),
            view: Box::new(move || Box::new(view())),
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
