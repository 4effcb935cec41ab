//! `translate`: what there is to translate into a language, ready to be filled in.
//!
//! Prints the language's `words.yaml`: what is there already, and everything that
//! is missing with an empty text, each under the file that says it, so that a
//! translator sees where a word stands. What stands for nothing any more is left
//! out. Reasons that somebody wrote by hand are asked for in comments: they may be
//! translated, and are shown in the lab's language until they are.
//!
//! With `--write` it lays the file, or adds to it what is missing; nothing that stands
//! in it changes. A shell that sends what is printed into the very file has emptied it
//! before this program reads it.

mod add;

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::files::{Date, RelPath, Root};
use crate::gather::{LabFiles, Reading, is_tag, lab_words, words_by_hand};
use crate::lab::{DecimalSign, LANGUAGES, Lab, LabelsInside, TextFile, WordsFile};
use crate::rules::RuleSet;
use crate::words::{Said, TEXTS, placeholders};
use clap::Args;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Print what there is to translate into a language: words.yaml, with what is there
/// already and an empty text for all that is missing.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The language's tag, such as de
    tag: String,
    /// Only what is missing
    #[arg(long)]
    missing: bool,
    /// Write it: the file as a whole if there is none, else what it lacks at the end of
    /// its parts; what stands in it stays, comments too
    #[arg(long, conflicts_with = "missing")]
    write: bool,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let tag = &arguments.tag;
    if !is_tag(tag) {
        return Err(UsageError(format!(
            "`{tag}` is no language's tag; write it in small letters, such as `de` or `pt-br`"
        ))
        .into());
    }
    let root = desk.root()?;
    let mut problems = Vec::new();
    let mut files = LabFiles::read_as(&root, &Reading::default(), &mut problems);
    let of_tag = files.as_ref().and_then(|files| {
        let known = files.languages.iter().find(|language| language.tag == *tag);
        known.and_then(|language| language.words.clone())
    });
    // What a language lacks is what is asked for; it is no problem here.
    if let Some(files) = &mut files {
        files.languages.clear();
    }
    let lab = files.and_then(|files| files.assemble(&mut problems));
    let Some((lab, rules)) = lab else {
        desk.show_problems(&root, problems);
        return Ok(Exit::Problems);
    };
    let there: Option<WordsFile> = match of_tag.as_ref().map(crate::files::yaml::read) {
        None => None,
        Some(Ok(words)) => Some(words),
        Some(Err(found)) => {
            desk.show_problems(&root, found);
            return Ok(Exit::Problems);
        }
    };
    let own = lab.settings.is_own_language(tag);
    let (labels, by_hand) = if own {
        (Vec::new(), Vec::new())
    } else {
        let labels = words_asked(&root, &lab, &rules);
        (labels, words_by_hand(&root, &lab, &rules))
    };
    let (there, words) = (there.as_ref(), (&labels[..], &by_hand[..]));
    if arguments.write {
        let path: RelPath = format!("{LANGUAGES}/{tag}/{WORDS}").parse()?;
        return match of_tag.as_ref().zip(there) {
            None => {
                let sheet = Sheet::of(None, words, Which::All);
                add::lay(desk, &root, &path, &sheet.whole(tag, None))
            }
            Some(file) => {
                let sheet = Sheet::of(there, words, Which::Absent(&file.0.text));
                add::add(desk, &root, file, &sheet)
            }
        };
    }
    let which = match arguments.missing {
        true => Which::Unsaid,
        false => Which::All,
    };
    let sheet = Sheet::of(there, words, which);
    desk.print(&sheet.whole(tag, there));
    Ok(Exit::Done)
}

/// The lab's own words; behind them those of a rule set or protocol that was kept for a
/// day after the present one's: a publish wants them from that day on.
fn words_asked(root: &Root, lab: &Lab, rules: &RuleSet) -> Vec<(&'static str, String)> {
    let mut words = lab_words(lab, rules);
    for day in [Desk::today(), Date::from(jiff::civil::Date::MAX)] {
        // What is wrong with one that is kept is told when it holds.
        let mut ignored = Vec::new();
        let mut files = LabFiles::read_as(root, &Reading::on(day), &mut ignored);
        if let Some(files) = &mut files {
            files.languages.clear();
        }
        let Some((then, kept)) = files.and_then(|files| files.assemble(&mut ignored)) else {
            continue;
        };
        if kept.effective > rules.effective || then.protocol.effective > lab.protocol.effective {
            let more = lab_words(&then, &kept);
            let is_new = |word: &String| words.iter().all(|(_, known)| known != word);
            let more: Vec<_> = more.into_iter().filter(|(_, word)| is_new(word)).collect();
            words.extend(more);
        }
    }
    words
}

const WORDS: &str = "words.yaml";

/// Which words are wanted.
#[derive(Clone, Copy)]
enum Which<'t> {
    /// All there are.
    All,
    /// Those that say nothing in the language.
    Unsaid,
    /// Those that a file of this text doesn't have.
    Absent(&'t str),
}

impl Which<'_> {
    /// Whether a word is wanted that is there or not, and if so says something or not.
    fn wants(self, says: Option<bool>) -> bool {
        match self {
            Which::All => true,
            Which::Unsaid => says != Some(true),
            Which::Absent(_) => says.is_none(),
        }
    }
}

/// The two parts of the file, with their comments.
struct Sheet {
    labels: String,
    texts: String,
}

impl Sheet {
    /// What of it is wanted.
    fn of(
        there: Option<&WordsFile>,
        (labels, by_hand): (&[(&'static str, String)], &[String]),
        which: Which<'_>,
    ) -> Self {
        Sheet {
            labels: labels_of(there, labels, which) + &by_hand_of(there, by_hand, which),
            texts: texts_of(there, which),
        }
    }

    /// The file.
    fn whole(&self, tag: &str, there: Option<&WordsFile>) -> String {
        let Sheet { labels, texts } = self;
        format!("{}\nlabels:\n{labels}\ntexts:\n{texts}", head(tag, there))
    }
}

fn head(tag: &str, there: Option<&WordsFile>) -> String {
    let comma = there.is_some_and(|there| there.decimal == DecimalSign::Comma);
    let as_they_are = there.is_some_and(|there| there.labels_inside == LabelsInside::AsTheyAre);
    format!(
        "# {LANGUAGES}/{tag}/{WORDS}: what the folio says in this language.\n\
         # Left of the colon stands what is said now; write the translation right of it.\n\
         # A place such as {{day}} stands for what is put in: keep it, where the sentence wants it.\n\
         # A word in square brackets tells namesakes apart; it is not shown.\n\
         # The lab's phrases go into phrases.yaml beside this file, in the form of lab/phrases.yaml.\n\
         schema: 1\n\
         name: {name}\n\
         decimal: {decimal}             # point: 4.2; comma: 4,2\n\
         labels-inside: {inside}       # within a sentence: small, or as-they-are where nouns keep their capital\n",
        name = quoted(there.map_or(tag, |there| &there.name)),
        decimal = if comma { "comma" } else { "point" },
        inside = if as_they_are { "as-they-are" } else { "small" },
    )
}

/// The lab's own words, each under the file it stands in.
fn labels_of(
    there: Option<&WordsFile>,
    labels: &[(&'static str, String)],
    which: Which<'_>,
) -> String {
    let mut out = String::new();
    let mut under = "";
    for (file, word) in labels {
        let said = there.and_then(|there| there.labels.get(word.as_str()));
        if !which.wants(said.map(|said| !said.is_empty())) {
            continue;
        }
        if *file != under {
            let _ = writeln!(out, "  # {file}");
            under = file;
        }
        let said = said.map_or("", String::as_str);
        let _ = writeln!(out, "  {}: {}", quoted(word), quoted(said));
    }
    out
}

/// Words written by hand: those that are translated, and the others as comments.
fn by_hand_of(there: Option<&WordsFile>, by_hand: &[String], which: Which<'_>) -> String {
    let mut out = String::new();
    let given = |word: &str| there.and_then(|there| there.labels.get(word));
    let said = by_hand.iter().filter_map(|word| Some((word, given(word)?)));
    let said: Vec<_> = said.filter(|_| which.wants(Some(true))).collect();
    if !said.is_empty() {
        out += "  # words written by hand: reasons of the ledger and of shoes\n";
    }
    for (word, said) in said {
        let _ = writeln!(out, "  {}: {}", quoted(word), quoted(said));
    }
    let asked = by_hand
        .iter()
        .filter(|word| given(word).is_none())
        .map(|word| format!("# {}: \"\"", quoted(word)));
    let asked: Vec<String> = match which {
        Which::Absent(text) => asked.filter(|line| !text.contains(line)).collect(),
        Which::All | Which::Unsaid => asked.collect(),
    };
    if !asked.is_empty() {
        let _ = writeln!(out, "  # {BY_HAND}:");
    }
    for line in asked {
        let _ = writeln!(out, "  {line}");
    }
    out
}

/// What stands above the words by hand that wait for a translation.
const BY_HAND: &str = "words written by hand, shown in the lab's language until they are said here";

/// What the program says, each text under the file that says it.
fn texts_of(there: Option<&WordsFile>, which: Which<'_>) -> String {
    let mut out = String::new();
    let mut by_file: BTreeMap<&str, Vec<&Said>> = BTreeMap::new();
    for said in TEXTS {
        by_file.entry(said.files[0]).or_default().push(said);
    }
    for (file, texts) in by_file {
        let mut named = false;
        for text in texts {
            let said = there.and_then(|there| there.texts.get(text.text));
            let says = |said: &TextFile| said.forms().iter().all(|form| !form.1.is_empty());
            if !which.wants(said.map(says)) {
                continue;
            }
            if !named {
                let _ = writeln!(out, "  # {file}");
                named = true;
            }
            out.push_str(&line(text, said));
        }
    }
    out
}

fn line(text: &Said, said: Option<&TextFile>) -> String {
    let key = quoted(text.text);
    let forms = match said {
        Some(said) => said.forms(),
        None if text.one.is_some() => vec![("one", ""), ("other", "")],
        None => vec![("other", "")],
    };
    let also = match text.files {
        [_] => String::new(),
        [_, others @ ..] => format!("    # also in {}\n", others.join(", ")),
        [] => String::new(),
    };
    if let ([(_, only)], None) = (&forms[..], text.one) {
        return format!("{also}  {key}: {}\n", quoted(only));
    }
    let one = text.one.unwrap_or_default();
    debug_assert!(placeholders(text.text).contains(&"n"));
    let forms: Vec<String> = forms
        .iter()
        .map(|(name, said)| format!("{name}: {}", quoted(said)))
        .collect();
    format!(
        "{also}    # counted by {{n}}; for one: {}\n  {key}: {{{}}}\n",
        quoted(one),
        forms.join(", ")
    )
}

/// A text in the quotation marks of YAML, which takes JSON's.
fn quoted(text: &str) -> String {
    serde_json::to_string(text).expect("a text always serialises")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_printed_file_reads_as_one_and_holds_every_text() {
        let labels = [("lab/rules.yaml", "Torsion: {\"twist\"}".to_owned())];
        let by_hand = ["First published.", "A \"slip\":\n# of the clamp."].map(str::to_owned);
        let both = (&labels[..], &by_hand[..]);
        let text = Sheet::of(None, both, Which::All).whole("de", None);
        let words: WordsFile = serde_yaml::from_str(&text).expect("it reads");
        assert_eq!(words.texts.iter().count(), TEXTS.len());
        assert!(words.labels.contains(labels[0].1.as_str()));
        // What was written by hand is asked for and not wanted.
        assert!(text.contains("  # \"First published.\": \"\"\n"));
        assert_eq!(words.labels.iter().count(), 1);
        let again = Sheet::of(Some(&words), both, Which::All).whole("de", Some(&words));
        assert_eq!(again, text);
    }
}
