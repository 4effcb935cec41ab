//! The further languages of a lab: reading `lab/languages/`, and what they miss.
//!
//! What a page says must all be there. A missing word of the lab's own or a
//! missing phrase is an error, as it is in the lab's own language. A missing text
//! of the program's is a warning: a new version of the program says new things,
//! and that must not hold a week up; the page then says it in English, and every
//! publish says so. What stands for a text that is no longer said is a warning.

use super::lab::{parse, read_file};
use super::phrases;
use super::reading::Reading;
use crate::diagnostics::{Collector, KeyPath, Problem};
use crate::edition::Ledger;
use crate::files::{Root, Source, nearest};
use crate::lab::{LANGUAGES, Lab, PhrasesFile, TextFile, Tongue, WordsFile};
use crate::rules::RuleSet;
use crate::shoe::Shoe;
use crate::words::{TEXTS, forms_of, placeholders};
use std::collections::BTreeSet;
use std::sync::Arc;

/// The files of a language, as read.
#[derive(Clone, Debug)]
pub struct LanguageFiles {
    /// Its folder's name.
    pub tag: String,
    /// What it says.
    pub words: Option<Source>,
    /// The lab's phrases in it; a folder for the lab's own language has none.
    pub phrases: Option<Source>,
}

/// A place that a text may leave out: English puts an article where others don't.
const MAY_BE_LEFT_OUT: [&str; 1] = ["article"];

/// How many of the missing are named in a problem.
const NAMED: usize = 12;

/// Reads the languages' files, by tag.
pub(super) fn read(root: &Root, problems: &mut Vec<Problem>) -> Vec<LanguageFiles> {
    let listing = root.walk(LANGUAGES, &["yaml", "yml"]);
    problems.extend(listing.problems);
    let mut languages: Vec<LanguageFiles> = Vec::new();
    for path in listing.files {
        let below = path
            .as_str()
            .trim_start_matches(LANGUAGES)
            .trim_start_matches('/');
        let (tag, name) = match below.split_once('/') {
            Some((tag, name @ ("words.yaml" | "phrases.yaml"))) if is_tag(tag) => (tag, name),
            _ => {
                problems.push(misplaced(path.as_str()));
                continue;
            }
        };
        let source = read_file(root, path.as_str(), problems);
        let at = languages.iter().position(|known| known.tag == tag);
        let at = at.unwrap_or_else(|| {
            languages.push(LanguageFiles {
                tag: tag.to_owned(),
                words: None,
                phrases: None,
            });
            languages.len() - 1
        });
        match name {
            "words.yaml" => languages[at].words = source,
            _ => languages[at].phrases = source,
        }
    }
    languages
}

/// Whether a folder's name is a language's tag that can be part of an address:
/// `de`, `pt-br`.
pub fn is_tag(name: &str) -> bool {
    let mut parts = name.split('-');
    let letters = |part: &str| part.bytes().all(|b| b.is_ascii_lowercase());
    parts
        .next()
        .is_some_and(|first| (2..=3).contains(&first.len()) && letters(first))
        && parts.all(|part| {
            (2..=8).contains(&part.len())
                && part
                    .bytes()
                    .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
        })
}

fn misplaced(path: &str) -> Problem {
    Problem::error(
        "language-misplaced",
        path,
        KeyPath::root(),
        "the file is no part of a language",
    )
    .hint(format!(
        "a language is a folder {LANGUAGES}/<tag>/, such as {LANGUAGES}/de/, with words.yaml and phrases.yaml"
    ))
}

/// Puts the languages into the lab, with all that they miss.
pub(super) fn assemble(
    lab: &mut Lab,
    rules: &RuleSet,
    languages: &[LanguageFiles],
    problems: &mut Vec<Problem>,
) {
    for files in languages {
        let own = lab.settings.is_own_language(&files.tag);
        let Some(source) = &files.words else {
            problems.push(missing_file(&files.tag, "words.yaml"));
            continue;
        };
        let Some(words) = parse::<WordsFile>(source, problems) else {
            continue;
        };
        problems.extend(check_texts(&words, &files.tag, &source.file));
        let language = Arc::new(words.language(&files.tag));
        if own {
            lab.language = language;
            continue;
        }
        problems.extend(check_labels(&words, &lab_words(lab, rules), &source.file));
        let Some(source) = &files.phrases else {
            problems.push(missing_file(&files.tag, "phrases.yaml"));
            continue;
        };
        let Some(phrases) = parse::<PhrasesFile>(source, problems) else {
            continue;
        };
        let in_words = |band: &str| language.label(band).to_owned();
        problems.extend(phrases::check_in(rules, &phrases, &source.file, &in_words));
        problems.extend(phrases::check_alike(&lab.phrases, &phrases, &source.file));
        lab.tongues.push(Tongue { language, phrases });
    }
}

fn missing_file(tag: &str, name: &str) -> Problem {
    Problem::error(
        "unreadable-file",
        format!("{LANGUAGES}/{tag}/{name}"),
        KeyPath::root(),
        "the language has no such file",
    )
    .hint(match name {
        "words.yaml" => {
            format!("`solefolio translate {tag} --write` lays it, ready to be filled in")
        }
        _ => "copy lab/phrases.yaml and translate its texts; the keys stay as they are".to_owned(),
    })
}

/// The lab's own words that pages and prints show: each once, file by file.
pub fn lab_words(lab: &Lab, rules: &RuleSet) -> Vec<(&'static str, String)> {
    let mut seen = BTreeSet::new();
    let mut words: Vec<(&'static str, String)> = Vec::new();
    let mut put = |file: &'static str, word: &str| {
        if !word.trim().is_empty() && seen.insert(word.to_owned()) {
            words.push((file, word.to_owned()));
        }
    };
    put("lab/lab.yaml", &lab.settings.about);
    put("lab/lab.yaml", &lab.settings.licence.title);
    for (_, name) in lab.settings.categories.iter() {
        put("lab/lab.yaml", name);
    }
    for band in &rules.bands {
        put("lab/rules.yaml", band);
    }
    for (_, rule) in rules.rules.iter() {
        put("lab/rules.yaml", rule.label());
        for word in rule.words() {
            put("lab/rules.yaml", &word);
        }
    }
    for (_, spec) in lab.protocol.quantities.iter() {
        put("lab/protocol.yaml", &spec.label);
        put("lab/protocol.yaml", &spec.what);
        if let Some(words) = &spec.differs {
            put("lab/protocol.yaml", &words.more);
            put("lab/protocol.yaml", &words.less);
        }
    }
    for (_, curve) in lab.protocol.curves.iter() {
        put("lab/protocol.yaml", &curve.label);
    }
    for (_, instrument) in lab.instruments.iter() {
        put("lab/instruments.yaml", &instrument.label);
    }
    words
}

fn check_labels(words: &WordsFile, wanted: &[(&'static str, String)], file: &str) -> Vec<Problem> {
    let mut to = Collector::new(file);
    let given = |word: &str| {
        words
            .labels
            .get(word)
            .is_some_and(|said| !said.trim().is_empty())
    };
    let missing: Vec<&str> = wanted
        .iter()
        .map(|(_, word)| word.as_str())
        .filter(|word| !given(word))
        .collect();
    if !missing.is_empty() {
        to.push(
            Problem::error(
                "label-not-translated",
                file,
                KeyPath::root().key("labels"),
                format!(
                    "{} of the lab's own words {} missing: {}",
                    missing.len(),
                    if missing.len() == 1 { "is" } else { "are" },
                    named(&missing)
                ),
            )
            .hint("`solefolio translate TAG --write` adds every word there is to translate")
            .on_key(),
        );
    }
    to.into_problems()
}

/// Names what is missing, as many as can be read.
fn named(missing: &[&str]) -> String {
    let some: Vec<String> = missing
        .iter()
        .take(NAMED)
        .map(|text| format!("“{text}”"))
        .collect();
    match missing.len() - some.len() {
        0 => some.join(", "),
        more => format!("{} and {more} more", some.join(", ")),
    }
}

fn check_texts(words: &WordsFile, tag: &str, file: &str) -> Vec<Problem> {
    let mut to = Collector::new(file);
    let path = KeyPath::root().key("texts");
    let given = |text: &str| {
        let said = words.texts.get(text);
        said.is_some_and(|said| said.forms().iter().all(|(_, form)| !form.trim().is_empty()))
    };
    let missing: Vec<&str> = TEXTS
        .iter()
        .map(|said| said.text)
        .filter(|text| !given(text))
        .collect();
    if !missing.is_empty() {
        to.push(
            Problem::warning(
                "text-not-translated",
                file,
                path.clone(),
                format!(
                    "{} of the program's texts {} missing, and pages say them in English: {}",
                    missing.len(),
                    if missing.len() == 1 { "is" } else { "are" },
                    named(&missing)
                ),
            )
            .hint("`solefolio translate TAG --write` adds every text there is to translate")
            .on_key(),
        );
    }
    for (text, said) in words.texts.iter() {
        let path = path.key(text.as_str());
        let Some(known) = TEXTS.iter().find(|known| known.text == text) else {
            let near = nearest(text, TEXTS.iter().map(|known| known.text));
            to.push(
                Problem::warning(
                    "text-not-said",
                    file,
                    path,
                    "the program says no such text (any more)",
                )
                .hint(near.map_or_else(
                    || "take it away".to_owned(),
                    |near| format!("take it away, or is it “{near}”?"),
                ))
                .on_key(),
            );
            continue;
        };
        for (form, said) in said.forms() {
            if !said.trim().is_empty() {
                check_places(known.text, form, said, &path, &mut to);
            }
        }
    }
    check_forms(words, tag, &mut to);
    to.into_problems()
}

/// Forms that are given and never said: the language has no such form, or its rule is
/// not known here. Each is told of once, where it stands first.
fn check_forms(words: &WordsFile, tag: &str, to: &mut Collector) {
    let (known, file) = (forms_of(tag), to.file().to_owned());
    for form in ["one", "two", "few", "many"] {
        if known.contains(&form) {
            continue;
        }
        let has = |said: &TextFile| {
            matches!(said, TextFile::Forms(_)) && said.forms().iter().any(|(name, _)| *name == form)
        };
        let mut given = words.texts.iter().filter(|(_, said)| has(said));
        let Some((text, _)) = given.next() else {
            continue;
        };
        let more = match given.count() {
            0 => String::new(),
            more => format!(", here and in {more} more"),
        };
        let path = KeyPath::root().key("texts").key(text.as_str()).key(form);
        to.push(
            Problem::warning(
                "form-not-said",
                &*file,
                path,
                format!(
                    "no number takes the form `{form}` in `{tag}`, and what is given for it{more} is never said"
                ),
            )
            .hint(format!("the forms of `{tag}` are `{}`", known.join("`, `")))
            .on_key(),
        );
    }
}

/// A text keeps the places of the English one. The form for one number may leave
/// the number out.
fn check_places(text: &str, form: &str, said: &str, path: &KeyPath, to: &mut Collector) {
    let (wanted, given) = (placeholders(text), placeholders(said));
    if let Some(unknown) = given.iter().find(|name| !wanted.contains(name)) {
        to.error(
            "translation-place",
            path.clone(),
            format!(
                "`{{{unknown}}}` stands for nothing here; there are {{{}}}",
                wanted.join("}, {")
            ),
            "write the places as they are in the English text",
        );
    }
    let may_go = |name: &str| {
        MAY_BE_LEFT_OUT.contains(&name) || (name == "n" && matches!(form, "one" | "two"))
    };
    if let Some(lost) = wanted
        .iter()
        .find(|name| !given.contains(name) && !may_go(name))
    {
        to.error(
            "translation-place",
            path.clone(),
            format!("`{{{lost}}}` is missing, and what it stands for would be lost"),
            "put it where the sentence wants it",
        );
    }
}

/// Notes of the rule set's history and reasons of the ledger.
fn of_lab_by_hand<'l>(rules: &'l RuleSet, ledger: &'l Ledger) -> impl Iterator<Item = &'l str> {
    let notes = rules.history.iter().map(|version| version.note.as_str());
    notes.chain(ledger.entries().iter().map(|entry| entry.because.as_str()))
}

/// The reasons of a shoe's file.
fn of_shoe_by_hand(shoe: &Shoe) -> impl Iterator<Item = &str> {
    let file = &shoe.file;
    let accepted = file.accept.iter().map(|accept| accept.reason.as_str());
    let left_out = file.leave_out.iter().map(|out| out.reason.as_str());
    let withdrawn = file.withdrawn.iter().map(|one| one.reason.as_str());
    accepted.chain(left_out).chain(withdrawn)
}

/// What was written by hand in the lab's language and may be translated among the
/// labels: each once, notes and the ledger's first, then the shoes' by address. What
/// can't be read has nothing to say here.
pub fn words_by_hand(root: &Root, lab: &Lab, rules: &RuleSet) -> Vec<String> {
    let mut ignored = Vec::new();
    let ledger = super::ledger::read(root, &mut ignored).unwrap_or_default();
    let mut shoes = super::shoes::read(root, Some(lab), &Reading::default(), &mut ignored);
    shoes.sort_by(|a, b| a.slug.cmp(&b.slug));
    let mut seen = BTreeSet::new();
    of_lab_by_hand(rules, &ledger)
        .chain(shoes.iter().flat_map(of_shoe_by_hand))
        .filter(|words| seen.insert(*words))
        .map(str::to_owned)
        .collect()
}

/// Checks what an editor wrote of a shoe in other languages, and finds labels that
/// stand for nothing any more. A label may also stand for words written by hand:
/// a reason of the ledger or of a shoe's file, a note of the rule set's history.
pub(super) fn check<'s>(
    lab: &Lab,
    rules: &RuleSet,
    ledger: &Ledger,
    shoes: impl Iterator<Item = &'s Shoe>,
    problems: &mut Vec<Problem>,
) {
    let mut used: BTreeSet<String> = lab_words(lab, rules)
        .into_iter()
        .map(|(_, word)| word)
        .collect();
    used.extend(of_lab_by_hand(rules, ledger).map(str::to_owned));
    for shoe in shoes {
        used.extend(of_shoe_by_hand(shoe).map(str::to_owned));
        check_translations(lab, rules, shoe, problems);
    }
    for tongue in &lab.tongues {
        let file = format!("{LANGUAGES}/{}/words.yaml", tongue.language.tag);
        for label in tongue
            .language
            .labels()
            .keys()
            .filter(|label| !used.contains(*label))
        {
            problems.push(
                Problem::warning(
                    "label-not-used",
                    file.clone(),
                    KeyPath::root().key("labels").key(label.as_str()),
                    "the lab's files have no such word (any more)",
                )
                .hint(nearest(label, used.iter().map(String::as_str)).map_or_else(
                    || "take it away".to_owned(),
                    |near| format!("take it away, or is it “{near}”?"),
                ))
                .on_key(),
            );
        }
    }
}

fn check_translations(lab: &Lab, rules: &RuleSet, shoe: &Shoe, problems: &mut Vec<Problem>) {
    for (tag, there) in shoe.file.translations.iter() {
        let path = KeyPath::root().key("translations").key(tag.as_str());
        let tags = || {
            lab.tongues
                .iter()
                .map(|tongue| tongue.language.tag.as_str())
        };
        if !tags().any(|known| known == tag.as_str()) {
            problems.push(
                Problem::error(
                    "unknown-name",
                    shoe.path.clone(),
                    path.clone(),
                    format!("the folio has no language `{tag}`"),
                )
                .hint(match tags().collect::<Vec<_>>().join(", ") {
                    none if none.is_empty() => format!("add {LANGUAGES}/{tag}/, or take it away"),
                    some => format!("there are {some}"),
                })
                .on_key(),
            );
        }
        for (key, _) in there
            .words
            .iter()
            .filter(|(key, _)| !rules.rules.contains(*key))
        {
            problems.push(
                Problem::error(
                    "unknown-name",
                    shoe.path.clone(),
                    path.key("words").key(key.as_str()),
                    format!("the rule set makes no finding `{key}`"),
                )
                .hint("name a finding of lab/rules.yaml")
                .on_key(),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn a_form_that_no_number_takes_is_told_of() {
        let text =
            "schema: 1\nname: Deutsch\ntexts:\n  \"{n} shoes\": {one: A, few: B, other: C}\n";
        let source = Source::new("lab/languages/de/words.yaml", text);
        let words: WordsFile = parse(&source, &mut Vec::new()).unwrap();
        let told = |tag: &str| -> Vec<String> {
            let problems = check_texts(&words, tag, &source.file).into_iter();
            problems
                .filter(|problem| problem.code == "form-not-said")
                .map(|problem| problem.path.to_string())
                .collect()
        };
        let paths = told("de");
        assert!(paths.len() == 1 && paths[0].ends_with("few"), "{paths:?}");
        assert!(told("cs").is_empty());
    }

    #[test]
    fn the_lab_s_own_language_may_have_capitals_in_its_code() {
        let mut lab = testing::lab();
        lab.settings.language = "pt-BR".into();
        let files = LanguageFiles {
            tag: "pt-br".into(),
            words: Some(Source::new(
                "lab/languages/pt-br/words.yaml",
                "schema: 1\nname: Português\ndecimal: comma\n",
            )),
            phrases: None,
        };
        let rules = testing::edition().rules;
        let mut problems = Vec::new();
        assemble(&mut lab, &rules, &[files], &mut problems);
        assert!(!problems.iter().any(Problem::is_error), "{problems:?}");
        assert!(lab.tongues.is_empty());
        assert_eq!(lab.language.decimal(), ',');
    }
}
