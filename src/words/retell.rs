//! Sentences made in English, told again in another language.
//!
//! The rooms below `outputs` know no language: a reason why something was not
//! judged is the same on the page, in the trace and in the data, and a line of
//! the ledger stays as it was sealed. Such a sentence was made from a text by
//! `said!`, so it is found by that text's fixed pieces, and what stands in the
//! gaps is told again in turn: a sentence, a label, a number.
//!
//! Of several texts that fit, the one with the most fixed letters is taken.

use super::language::{Language, decimals};
use super::{fill_isolated, shown};
use std::collections::BTreeMap;

/// How deep sentences stand in sentences.
const DEEPEST: usize = 16;

/// How sentences are put side by side, the same in every language.
const BUILT_OF_OTHERS: [&str; 5] = [
    "{old} → {new}",
    "{what}: {says}",
    "{first}; {rest}",
    "{first}, {rest}",
    "{what} ({list})",
];

/// A text taken apart: fixed pieces, and the names of the gaps between them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Pattern {
    fixed: Vec<String>,
    names: Vec<String>,
    said: String,
}

impl Pattern {
    /// The patterns of some texts, those with the most fixed letters first.
    pub(super) fn all<'t>(texts: impl Iterator<Item = (&'t str, &'t str)>) -> Vec<Self> {
        let built = BUILT_OF_OTHERS.iter().map(|text| (*text, *text));
        let mut patterns: Vec<Pattern> = texts
            .chain(built)
            .map(|(text, said)| Self::of(text, said))
            .collect();
        patterns.retain(|pattern| pattern.weight() > 0);
        patterns.sort_by(|a, b| {
            (b.weight(), &a.fixed, &a.names).cmp(&(a.weight(), &b.fixed, &b.names))
        });
        patterns
    }

    fn of(text: &str, said: &str) -> Self {
        let mut fixed = vec![String::new()];
        let mut names = Vec::new();
        let mut rest = shown(text);
        while let Some((before, after)) = rest.split_once('{') {
            let last = fixed.last_mut().expect("there is always one");
            last.push_str(before);
            match after.split_once('}') {
                Some((name, after)) if super::placeholders(&format!("{{{name}}}")).len() == 1 => {
                    names.push(name.to_owned());
                    fixed.push(String::new());
                    rest = after;
                }
                _ => {
                    last.push('{');
                    rest = after;
                }
            }
        }
        fixed
            .last_mut()
            .expect("there is always one")
            .push_str(rest);
        Pattern {
            fixed,
            names,
            said: said.to_owned(),
        }
    }

    /// How many letters are fixed.
    fn weight(&self) -> usize {
        let letters = self.fixed.iter().flat_map(|piece| piece.chars());
        letters.filter(|letter| !letter.is_whitespace()).count()
    }

    /// What stands in the gaps, if the sentence is one of this pattern. The first
    /// letter of a sentence may have been made a capital, and a full stop set.
    fn gaps<'s>(&self, sentence: &'s str) -> Option<Vec<&'s str>> {
        let (first, later) = self.fixed.split_first()?;
        let mut rest = after_first(sentence, first)?;
        let Some((last, middle)) = later.split_last() else {
            return rest.is_empty().then(Vec::new);
        };
        let mut gaps = Vec::with_capacity(later.len());
        for piece in middle {
            // Two gaps without anything between them can't be told apart.
            let at = (!piece.is_empty()).then(|| rest.find(piece.as_str()))??;
            gaps.push(&rest[..at]);
            rest = &rest[at + piece.len()..];
        }
        gaps.push(rest.strip_suffix(last.as_str())?);
        gaps.iter().all(|gap| !gap.is_empty()).then_some(gaps)
    }
}

/// What follows the fixed beginning, whose first letter may be a capital.
fn after_first<'s>(sentence: &'s str, first: &str) -> Option<&'s str> {
    if let Some(rest) = sentence.strip_prefix(first) {
        return Some(rest);
    }
    let mut letters = first.chars();
    let capital = letters.next()?.to_uppercase().to_string();
    let rest = sentence.strip_prefix(capital.as_str())?;
    rest.strip_prefix(letters.as_str())
}

/// What a sentence turned out to be.
#[derive(Clone)]
enum Told {
    /// Its words were found.
    Found(String),
    /// It has none to find: a number, a mark.
    Bare(String),
    /// There are no words for it.
    Unknown(String),
}

impl Told {
    fn text(self) -> String {
        match self {
            Told::Found(text) | Told::Bare(text) | Told::Unknown(text) => text,
        }
    }
}

pub(super) fn retell(language: &Language, patterns: &[Pattern], sentence: &str) -> String {
    Teller::new(language, patterns).tell(sentence, 0).text()
}

pub(super) fn knows(language: &Language, patterns: &[Pattern], sentence: &str) -> bool {
    let told = Teller::new(language, patterns).tell(sentence, 0);
    !matches!(told, Told::Unknown(_))
}

/// Tells one sentence. What was told of a part is kept: several patterns take a long
/// sentence apart into the same parts, and to tell each anew takes a time that grows
/// fourfold with every comma of a sentence without words.
struct Teller<'l, 's> {
    language: &'l Language,
    patterns: &'l [Pattern],
    /// By part and depth.
    told: BTreeMap<(&'s str, usize), Told>,
}

impl<'l, 's> Teller<'l, 's> {
    fn new(language: &'l Language, patterns: &'l [Pattern]) -> Self {
        Teller {
            language,
            patterns,
            told: BTreeMap::new(),
        }
    }

    fn tell(&mut self, sentence: &'s str, depth: usize) -> Told {
        if let Some(told) = self.told.get(&(sentence, depth)) {
            return told.clone();
        }
        let told = self.tell_anew(sentence, depth);
        self.told.insert((sentence, depth), told.clone());
        told
    }

    fn tell_anew(&mut self, sentence: &'s str, depth: usize) -> Told {
        let (language, patterns) = (self.language, self.patterns);
        if let Some(label) = label(language, sentence) {
            return Told::Found(label);
        }
        let unknown = || {
            let text = decimals(sentence, language.decimal());
            if bare(sentence) {
                Told::Bare(text)
            } else {
                Told::Unknown(text)
            }
        };
        if depth == DEEPEST {
            return unknown();
        }
        // A pattern all of whose gaps are known goes before one that leaves a gap in
        // English, however long its fixed pieces are.
        let mut second = None;
        for pattern in patterns {
            let Some(gaps) = pattern.gaps(sentence) else {
                continue;
            };
            let told: Vec<Told> = gaps
                .into_iter()
                .map(|gap| self.tell(gap, depth + 1))
                .collect();
            let whole = !told.iter().any(|gap| matches!(gap, Told::Unknown(_)));
            if !whole && second.is_some() {
                continue;
            }
            let values: Vec<String> = told.into_iter().map(Told::text).collect();
            let put: Vec<(&str, &str)> = pattern
                .names
                .iter()
                .map(String::as_str)
                .zip(values.iter().map(String::as_str))
                .collect();
            let text = fill_isolated(&pattern.said, &put);
            let text = if sentence.chars().next().is_some_and(char::is_uppercase) {
                capital(&text)
            } else {
                text
            };
            if whole {
                return Told::Found(text);
            }
            second = Some(text);
        }
        // A clause that was made a sentence by a full stop.
        if let Some(clause) = sentence.strip_suffix('.')
            && let Told::Found(text) = self.tell(clause, depth + 1)
        {
            return Told::Found(text + ".");
        }
        // A label and what is said of it: `Strongly supinated close`.
        for (at, _) in sentence.rmatch_indices(' ') {
            if let Some(label) = label(language, &sentence[..at])
                && let Told::Found(rest) = self.tell(&sentence[at + 1..], depth + 1)
            {
                return Told::Found(format!("{label} {rest}"));
            }
        }
        second.map_or_else(unknown, Told::Unknown)
    }
}

/// One of the lab's words, as it is or as it stood within a sentence.
fn label(language: &Language, text: &str) -> Option<String> {
    if language.has_label(text) {
        return Some(language.label(text).to_owned());
    }
    let original = capital(text);
    (original != text && language.has_label(&original))
        .then(|| language.inside(language.label(&original)))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// Whether a text has nothing to translate: numbers, signs, units, marks. A word
/// of more than one small letter in a row that stands beside another is one.
fn bare(text: &str) -> bool {
    text.split_whitespace()
        .filter(|word| word.chars().filter(|c| c.is_lowercase()).count() > 2)
        .count()
        < 2
}
