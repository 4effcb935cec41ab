//! `translate`: what there is to translate into a language, ready to be filled in.
//!
//! Prints the language's `words.yaml`: what is there already, and everything that
//! is missing with an empty text, each under the file that says it, so that a
//! translator sees where a word stands. What stands for nothing any more is left
//! out. Reasons that somebody wrote by hand are asked for in comments: they may be
//! translated, and are shown in the lab's language until they are.

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::gather::{LabFiles, Reading, is_tag, lab_words, words_by_hand};
use crate::lab::{DecimalSign, LANGUAGES, LabelsInside, TextFile, WordsFile};
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
    let there: Option<WordsFile> = match of_tag.map(|source| crate::files::yaml::read(&source)) {
        None => None,
        Some(Ok(words)) => Some(words),
        Some(Err(found)) => {
            desk.show_problems(&root, found);
            return Ok(Exit::Problems);
        }
    };
    let own = *tag == lab.settings.language;
    let (labels, by_hand) = if own {
        (Vec::new(), Vec::new())
    } else {
        (lab_words(&lab, &rules), words_by_hand(&root, &lab, &rules))
    };
    desk.print(&sheet(
        tag,
        there.as_ref(),
        (&labels, &by_hand),
        arguments.missing,
    ));
    Ok(Exit::Done)
}

/// The file, with its comments.
fn sheet(
    tag: &str,
    there: Option<&WordsFile>,
    (labels, by_hand): (&[(&'static str, String)], &[String]),
    only_missing: bool,
) -> String {
    let mut out = format!(
        "# {LANGUAGES}/{tag}/words.yaml: what the folio says in this language.\n\
         # Left of the colon stands what is said now; write the translation right of it.\n\
         # A place such as {{day}} stands for what is put in: keep it, where the sentence wants it.\n\
         # A word in square brackets tells namesakes apart; it is not shown.\n\
         # The lab's phrases go into phrases.yaml beside this file, in the form of lab/phrases.yaml.\n"
    );
    let _ = writeln!(out, "schema: 1");
    let _ = writeln!(
        out,
        "name: {}",
        quoted(there.map_or(tag, |there| &there.name))
    );
    let comma = there.is_some_and(|there| there.decimal == DecimalSign::Comma);
    let as_they_are = there.is_some_and(|there| there.labels_inside == LabelsInside::AsTheyAre);
    let _ = writeln!(
        out,
        "decimal: {}             # point: 4.2; comma: 4,2",
        if comma { "comma" } else { "point" }
    );
    let _ = writeln!(
        out,
        "labels-inside: {}       # within a sentence: small, or as-they-are where nouns keep their capital",
        if as_they_are { "as-they-are" } else { "small" }
    );
    let _ = writeln!(out, "\nlabels:");
    let mut under = "";
    for (file, word) in labels {
        let said = there.and_then(|there| there.labels.get(word.as_str()));
        let said = said.map_or("", String::as_str);
        if only_missing && !said.is_empty() {
            continue;
        }
        if *file != under {
            let _ = writeln!(out, "  # {file}");
            under = file;
        }
        let _ = writeln!(out, "  {}: {}", quoted(word), quoted(said));
    }
    let given = |word: &str| there.and_then(|there| there.labels.get(word));
    let said = by_hand.iter().filter_map(|word| Some((word, given(word)?)));
    let said: Vec<_> = said.filter(|_| !only_missing).collect();
    if !said.is_empty() {
        let _ = writeln!(
            out,
            "  # words written by hand: reasons of the ledger and of shoes"
        );
    }
    for (word, said) in said {
        let _ = writeln!(out, "  {}: {}", quoted(word), quoted(said));
    }
    let unsaid: Vec<_> = by_hand.iter().filter(|w| given(w).is_none()).collect();
    if !unsaid.is_empty() {
        let _ = writeln!(
            out,
            "  # words written by hand, shown in the lab's language until they are said here:"
        );
    }
    for word in unsaid {
        let _ = writeln!(out, "  # {}: \"\"", quoted(word));
    }
    let _ = writeln!(out, "\ntexts:");
    let mut by_file: BTreeMap<&str, Vec<&Said>> = BTreeMap::new();
    for said in TEXTS {
        by_file.entry(said.files[0]).or_default().push(said);
    }
    for (file, texts) in by_file {
        let mut named = false;
        for text in texts {
            let said = there.and_then(|there| there.texts.get(text.text));
            if only_missing && said.is_some_and(|said| said.forms().iter().all(|f| !f.1.is_empty()))
            {
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
        let text = sheet("de", None, both, false);
        let words: WordsFile = serde_yaml::from_str(&text).expect("it reads");
        assert_eq!(words.texts.iter().count(), TEXTS.len());
        assert!(words.labels.contains(labels[0].1.as_str()));
        // What was written by hand is asked for and not wanted.
        assert!(text.contains("  # \"First published.\": \"\"\n"));
        assert_eq!(words.labels.iter().count(), 1);
        let again = sheet("de", Some(&words), both, false);
        assert_eq!(again, text);
    }
}
