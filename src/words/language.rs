//! A language: its texts, the lab's words in it, its numbers.

use super::retell::Pattern;
use super::{fill_isolated, shown};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// What a language says for one of the program's texts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Text {
    /// The same for every number.
    One(String),
    /// By the number, under the names of Unicode CLDR: `one`, `two`, `few`,
    /// `many`, `other`.
    Forms(BTreeMap<String, String>),
}

/// A language that pages and prints are made in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Language {
    /// Its tag (BCP 47), such as `de`.
    pub tag: String,
    /// What its speakers call it, such as `Deutsch`.
    pub name: String,
    /// The sign between whole and decimal digits.
    decimal: Option<char>,
    /// Whether a label keeps its capital within a sentence, as nouns do in German.
    keeps_capitals: bool,
    texts: BTreeMap<String, Text>,
    labels: BTreeMap<String, String>,
    patterns: Vec<Pattern>,
}

static ENGLISH: LazyLock<Language> = LazyLock::new(|| Language::original("en"));

impl Language {
    /// The language the program is written in.
    pub fn english() -> &'static Language {
        &ENGLISH
    }

    /// A language without texts of its own: everything is said as it is written.
    pub fn original(tag: &str) -> Self {
        Language {
            tag: tag.to_owned(),
            name: match tag {
                "en" => "English".to_owned(),
                other => other.to_owned(),
            },
            ..Language::default()
        }
    }

    /// A language with texts, by the English ones, and the lab's words, by the
    /// original ones.
    pub fn new(
        tag: String,
        name: String,
        decimal: char,
        keeps_capitals: bool,
        texts: BTreeMap<String, Text>,
        labels: BTreeMap<String, String>,
    ) -> Self {
        let patterns = Pattern::all(texts.iter().filter_map(|(text, said)| match said {
            Text::One(said) => Some((text.as_str(), said.as_str())),
            Text::Forms(forms) => Some((text.as_str(), forms.get("other")?.as_str())),
        }));
        Language {
            tag,
            name,
            decimal: Some(decimal).filter(|sign| *sign != '.'),
            keeps_capitals,
            texts,
            labels,
            patterns,
        }
    }

    /// What stands for a text, if the language has one.
    pub fn text(&self, text: &str) -> Option<&Text> {
        self.texts.get(text)
    }

    /// The texts it has, by the English ones.
    pub fn texts(&self) -> &BTreeMap<String, Text> {
        &self.texts
    }

    /// The lab's words it has, by the original ones.
    pub fn labels(&self) -> &BTreeMap<String, String> {
        &self.labels
    }

    /// The sign between whole and decimal digits.
    pub fn decimal(&self) -> char {
        self.decimal.unwrap_or('.')
    }

    /// Whether a label keeps its capital within a sentence.
    pub fn keeps_capitals(&self) -> bool {
        self.keeps_capitals
    }

    /// Says a text. What is put in leaves the order of the words around it as it is.
    pub fn say(&self, text: &str, values: &[(&str, &str)]) -> String {
        let said = match self.texts.get(text) {
            Some(Text::One(said)) => said,
            Some(Text::Forms(forms)) => forms.get("other").map_or(shown(text), String::as_str),
            None => shown(text),
        };
        fill_isolated(said, values)
    }

    /// Says a text that is counted; the number is among the values, as `n`.
    pub fn say_counted(&self, text: &str, one: &str, values: &[(&str, &str)]) -> String {
        let number = values
            .iter()
            .find(|(name, _)| *name == "n")
            .and_then(|(_, n)| n.parse::<u64>().ok());
        let said = match self.texts.get(text) {
            Some(Text::One(said)) => said,
            Some(Text::Forms(forms)) => number
                .and_then(|n| forms.get(form(&self.tag, n)))
                .or_else(|| forms.get("other"))
                .map_or(shown(text), String::as_str),
            None if number == Some(1) => shown(one),
            None => shown(text),
        };
        fill_isolated(said, values)
    }

    /// One of the lab's own words in this language.
    pub fn label<'t>(&'t self, label: &'t str) -> &'t str {
        self.labels.get(label).map_or(label, String::as_str)
    }

    /// Whether it has a word for one of the lab's.
    pub fn has_label(&self, label: &str) -> bool {
        self.labels.contains_key(label)
    }

    /// A number as it is printed, with the language's decimal sign.
    pub fn number<'t>(&self, number: &'t str) -> Cow<'t, str> {
        match self.decimal {
            Some(sign) if number.contains('.') => Cow::Owned(decimals(number, sign)),
            _ => Cow::Borrowed(number),
        }
    }

    /// A label within a sentence: its first letter small, unless the language
    /// keeps capitals or a capital follows.
    pub fn inside(&self, label: &str) -> String {
        if self.keeps_capitals {
            return label.to_owned();
        }
        let mut letters = label.chars();
        match (letters.next(), letters.clone().next()) {
            (Some(_), Some(second)) if second.is_uppercase() => label.to_owned(),
            (Some(first), _) => first.to_lowercase().chain(letters).collect(),
            (None, _) => String::new(),
        }
    }

    /// A sentence that was said in English, said anew: by the text it was made
    /// from, and so for what was put into it. What no text fits is one of the
    /// lab's words, or stays as it is but for its numbers.
    pub fn retell(&self, sentence: &str) -> String {
        if self.texts.is_empty() && self.labels.is_empty() {
            return sentence.to_owned();
        }
        super::retell::retell(self, &self.patterns, sentence)
    }

    /// Whether [`Language::retell`] finds words for a sentence, or it has none.
    pub fn knows(&self, sentence: &str) -> bool {
        self.texts.is_empty() || super::retell::knows(self, &self.patterns, sentence)
    }
}

/// A text with the decimal points of its numbers replaced.
pub(super) fn decimals(text: &str, sign: char) -> String {
    let bytes = text.as_bytes();
    let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    text.char_indices()
        .map(|(at, letter)| match letter {
            '.' if at > 0 && digit(at - 1) && digit(at + 1) => sign,
            other => other,
        })
        .collect()
}

/// The form a whole number takes, by the plural rules of Unicode CLDR; from
/// memory, for the languages of the families below, and `one` for 1 elsewhere.
fn form(tag: &str, n: u64) -> &'static str {
    let (tens, ones) = (n % 100 / 10, n % 10);
    match tag.split('-').next().unwrap_or_default() {
        "ja" | "ko" | "zh" | "vi" | "th" | "id" => "other",
        "fr" if n < 2 => "one",
        "cs" | "sk" if (2..=4).contains(&n) => "few",
        "pl" if n == 1 => "one",
        "ru" | "uk" | "be" if ones == 1 && tens != 1 => "one",
        "pl" | "ru" | "uk" | "be" if (2..=4).contains(&ones) && tens != 1 => "few",
        "pl" | "ru" | "uk" | "be" => "many",
        _ if n == 1 => "one",
        _ => "other",
    }
}

/// The forms that the language of a tag has for whole numbers, as far as they are known
/// here: any other that is given for a text is never said.
pub fn forms_of(tag: &str) -> &'static [&'static str] {
    match tag.split('-').next().unwrap_or_default() {
        "ja" | "ko" | "zh" | "vi" | "th" | "id" => &["other"],
        "cs" | "sk" => &["one", "few", "other"],
        "pl" | "ru" | "uk" | "be" => &["one", "few", "many"],
        _ => &["one", "other"],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(crate) fn german() -> Language {
        let one = |text: &str| Text::One(text.to_owned());
        let forms = |one: &str, other: &str| {
            Text::Forms(BTreeMap::from([
                ("one".to_owned(), one.to_owned()),
                ("other".to_owned(), other.to_owned()),
            ]))
        };
        let texts = [
            ("{n} shoes", forms("{n} Schuh", "{n} Schuhe")),
            (
                "{what} was not measured",
                one("{what} wurde nicht gemessen"),
            ),
            ("not judged: {reason}", one("nicht beurteilt: {reason}")),
            (
                "{band}, borderline with {other}",
                one("{band}, Grenzfall zu {other}"),
            ),
            ("{old} → {new}", one("{old} → {new}")),
            ("{score} of 100", one("{score} von 100")),
            ("It was not measured.", one("Nicht gemessen.")),
        ];
        let labels = [
            ("Midfoot torque", "Drehmoment im Mittelfuß"),
            ("high", "hoch"),
            ("very high", "sehr hoch"),
        ];
        Language::new(
            "de".into(),
            "Deutsch".into(),
            ',',
            true,
            texts.map(|(key, text)| (key.to_owned(), text)).into(),
            labels
                .map(|(key, text)| (key.to_owned(), text.to_owned()))
                .into(),
        )
    }

    #[test]
    fn english_says_a_text_as_it_is_written() {
        let english = Language::english();
        assert_eq!(english.say("[way] Up to {n}", &[("n", "3")]), "Up to 3");
        let count = |n: &str| english.say_counted("{n} shoes", "{n} shoe", &[("n", n)]);
        assert_eq!(
            (count("1"), count("0")),
            ("1 shoe".into(), "0 shoes".into())
        );
        assert_eq!(english.number("4.21"), "4.21");
        assert_eq!(english.inside("Midfoot torque"), "midfoot torque");
        assert_eq!(english.inside("EVA"), "EVA");
        assert_eq!(english.retell("4.2 of anything"), "4.2 of anything");
    }

    #[test]
    fn a_language_says_it_in_its_own_words_with_its_own_decimals() {
        let german = german();
        let count = |n: &str| german.say_counted("{n} shoes", "{n} shoe", &[("n", n)]);
        assert_eq!(
            (count("1"), count("12")),
            ("1 Schuh".into(), "12 Schuhe".into())
        );
        assert_eq!(german.number("4.21"), "4,21");
        assert_eq!(german.inside("Drehmoment"), "Drehmoment");
        assert_eq!(german.say("Nothing", &[]), "Nothing");
    }

    #[test]
    fn a_sentence_is_told_again_by_the_text_it_was_made_from() {
        let german = german();
        for (english, expected) in [
            (
                "midfoot torque was not measured",
                "Drehmoment im Mittelfuß wurde nicht gemessen",
            ),
            (
                "not judged: midfoot torque was not measured",
                "nicht beurteilt: Drehmoment im Mittelfuß wurde nicht gemessen",
            ),
            (
                "high, borderline with very high → very high",
                "hoch, Grenzfall zu sehr hoch → sehr hoch",
            ),
            ("48.3 of 100 → 51.0 of 100", "48,3 von 100 → 51,0 von 100"),
            ("nothing known at 4.2 mm", "nothing known at 4,2 mm"),
        ] {
            assert_eq!(german.retell(english), expected);
        }
        assert!(german.knows("48.3 of 100") && german.knows("4.2 mm") && german.knows("HLC-1"));
        assert!(!german.knows("a sentence nobody wrote down"));
    }

    /// Without keeping what was told of a part, this one takes hours.
    #[test]
    fn a_long_sentence_without_words_is_told_in_no_time() {
        let part = "one thing: another, a third; a fourth → a fifth (a sixth), ";
        let sentence = part.repeat(6);
        assert_eq!(german().retell(&sentence), sentence);
    }

    /// Values of the CLDR's plural tables, from memory.
    #[test]
    fn numbers_take_the_forms_of_their_language() {
        assert_eq!([0, 1, 2].map(|n| form("de", n)), ["other", "one", "other"]);
        assert_eq!([0, 1, 2].map(|n| form("fr-CA", n)), ["one", "one", "other"]);
        assert_eq!(
            [1, 3, 5, 22].map(|n| form("pl", n)),
            ["one", "few", "many", "few"]
        );
        assert_eq!(
            [1, 11, 21, 3, 13].map(|n| form("ru", n)),
            ["one", "many", "one", "few", "many"]
        );
        assert_eq!([1, 2].map(|n| form("ja", n)), ["other", "other"]);
    }

    #[test]
    fn the_forms_of_a_language_are_those_its_numbers_take() {
        for tag in [
            "de", "en", "fr-ca", "cs", "sk", "pl", "ru", "uk", "be", "ja", "id",
        ] {
            let mut taken: Vec<&str> = (0..=200).map(|n| form(tag, n)).collect();
            taken.sort_unstable();
            taken.dedup();
            let mut known = forms_of(tag).to_vec();
            known.sort_unstable();
            assert_eq!(taken, known, "{tag}");
        }
    }
}
