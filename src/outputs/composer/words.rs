//! What a composer says: labels, numbers, days and editors' texts, in its language.

use super::Composer;
use crate::files::{Date, Key, Month};
use crate::lab::PhrasesFile;
use crate::outputs::views::{DateView, FigureView};
use crate::outputs::wording;
use crate::quantity::Unit;
use crate::rules::Judged;
use crate::shoe::Translation;
use crate::words::say;

/// Words somebody wrote by hand.
#[derive(Clone, Copy, Debug)]
pub struct Written<'t> {
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

impl<'e> Composer<'e> {
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
            unit: if figure.unit == Unit::Score.symbol() {
                say!(self, "of 100")
            } else if figure.unit == Unit::One.symbol() {
                // Of a ratio it is not written: `0.85 ± 0.02 1` reads as another number.
                String::new()
            } else {
                figure.unit
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

    /// Coverage of the printed intervals, as per cent with its sign.
    pub fn coverage(&self) -> String {
        self.percent(self.edition.lab.protocol.coverage)
    }
}
