//! The lab's phrases against its rules: one for every result a rule can have,
//! none for results it can't, and none that says another band or a typed number.

use crate::diagnostics::{Collector, KeyPath, Problem};
use crate::files::{Key, LABEL_LIMIT, LINE_LIMIT, Map, PARAGRAPH_LIMIT, nearest, too_long};
use crate::lab::{PHRASES, Phrase, PhrasesFile};
use crate::rules::{Rule, RuleSet};

/// The placeholders a phrase may hold; each stands for the shoe's own figure.
pub const PLACEHOLDERS: [&str; 5] = ["shoe", "value", "band", "score", "chance"];

/// Reports what the phrases miss and what they have too much.
pub(super) fn check(rules: &RuleSet, phrases: &PhrasesFile) -> Vec<Problem> {
    check_in(rules, phrases, PHRASES, &str::to_owned)
}

/// What a language calls a band.
type InWords<'w> = &'w dyn Fn(&str) -> String;

/// The same for the phrases of another language, whose entries are named as in
/// the lab's own and whose words name the bands by `in_words`.
pub(super) fn check_in(
    rules: &RuleSet,
    phrases: &PhrasesFile,
    file: &str,
    in_words: InWords<'_>,
) -> Vec<Problem> {
    let mut to = Collector::new(file);
    let root = KeyPath::root();
    lengths(phrases, &mut to);
    for (key, rule) in rules.rules.iter() {
        let wanted = rule.phrases();
        let path = root.key("findings").key(key.as_str());
        match phrases.findings.get(key) {
            Some(found) => of_finding(&**rule, (&wanted, in_words), found, &path, &mut to),
            None if wanted.is_empty() => {}
            None => to.push(missing(
                file,
                root.key("findings"),
                format!(
                    "there are no words for `{key}`; it can come out as {}",
                    wanted.join(", ")
                ),
                format!("add `{key}:` with an entry for each"),
            )),
        }
        if let Some(say) = rule.advice()
            && !phrases.advice.contains(say)
        {
            let near = nearest(say.as_str(), phrases.advice.keys().map(Key::as_str));
            to.push(missing(
                file,
                root.key("advice"),
                format!("the advice `{key}` says `{say}`, and there are no such words"),
                near.map_or_else(
                    || format!("add `{say}:` under `advice:`"),
                    |near| format!("did you mean `{near}`?"),
                ),
            ));
        }
    }
    for key in phrases.findings.keys() {
        if !rules.rules.contains(key) {
            let near = nearest(key.as_str(), rules.rules.keys().map(Key::as_str));
            to.push(
                Problem::error(
                    "unknown-name",
                    file,
                    root.key("findings").key(key.as_str()),
                    format!("the rule set makes no finding `{key}`"),
                )
                .hint(near.map_or_else(
                    || "take it away, or add the rule".to_owned(),
                    |near| format!("did you mean `{near}`?"),
                ))
                .on_key(),
            );
        }
    }
    to.into_problems()
}

/// Reports every text that is longer than its place holds.
fn lengths(phrases: &PhrasesFile, to: &mut Collector) {
    let root = KeyPath::root();
    let mut check = |path: KeyPath, name: &str, text: &str, limit: usize| {
        if let Some(message) = too_long(name, text, limit) {
            to.too_long(path, message);
        }
    };
    for (key, bands) in phrases.findings.iter() {
        for (band, phrase) in bands.iter() {
            let path = root.key("findings").key(key.as_str()).key(band.as_str());
            check(path.key("short"), "short", &phrase.short, LABEL_LIMIT);
            check(path.key("means"), "means", &phrase.means, PARAGRAPH_LIMIT);
        }
    }
    for (key, advice) in phrases.advice.iter() {
        let path = root.key("advice").key(key.as_str());
        check(path.key("short"), "short", &advice.short, LABEL_LIMIT);
        check(path.key("text"), "text", &advice.text, PARAGRAPH_LIMIT);
    }
    let fit = &phrases.fit;
    for (key, text) in [
        ("suits", &fit.suits),
        ("close", &fit.close),
        ("other", &fit.other),
        ("unknown", &fit.unknown),
    ] {
        check(root.key("fit").key(key), key, text, LABEL_LIMIT);
    }
    let (guide, cautions) = (root.key("guide"), root.key("cautions"));
    let lists = [
        (guide.key("questions"), &phrases.guide.questions, LINE_LIMIT),
        (guide.key("refer"), &phrases.guide.refer, LINE_LIMIT),
        (
            cautions.key("long"),
            &phrases.cautions.long,
            PARAGRAPH_LIMIT,
        ),
    ];
    for (path, texts, limit) in lists {
        for (at, text) in texts.iter().enumerate() {
            check(path.index(at), "the text", text, limit);
        }
    }
    check(
        cautions.key("short"),
        "short",
        &phrases.cautions.short,
        LINE_LIMIT,
    );
}

/// What another language's phrases say beyond findings is as much as the lab's own
/// say: the same advice, as many questions, reasons and cautions.
pub(super) fn check_alike(own: &PhrasesFile, other: &PhrasesFile, file: &str) -> Vec<Problem> {
    let root = KeyPath::root();
    let mut problems = Vec::new();
    for key in own.advice.keys().filter(|key| !other.advice.contains(*key)) {
        problems.push(missing(
            file,
            root.key("advice"),
            format!("the advice `{key}` is missing"),
            format!("translate `{key}:` of {PHRASES}"),
        ));
    }
    let (guide, cautions) = (root.key("guide"), root.key("cautions"));
    for (path, there, wanted) in [
        (
            guide.key("questions"),
            other.guide.questions.len(),
            own.guide.questions.len(),
        ),
        (
            guide.key("refer"),
            other.guide.refer.len(),
            own.guide.refer.len(),
        ),
        (
            cautions.key("long"),
            other.cautions.long.len(),
            own.cautions.long.len(),
        ),
    ] {
        if there != wanted {
            problems.push(missing(
                file,
                path,
                format!("there are {there} lines, and {wanted} in {PHRASES}"),
                "translate each of them".to_owned(),
            ));
        }
    }
    problems
}

/// Words that are not there, reported at the key under which they belong.
fn missing(file: &str, path: KeyPath, message: String, hint: String) -> Problem {
    Problem::error("phrase-missing", file, path, message)
        .hint(hint)
        .on_key()
}

fn of_finding(
    rule: &dyn Rule,
    (wanted, in_words): (&[String], InWords<'_>),
    found: &Map<String, Phrase>,
    path: &KeyPath,
    to: &mut Collector,
) {
    let file = to.file().to_owned();
    let named: Vec<String> = wanted.iter().map(|band| in_words(band)).collect();
    for band in wanted {
        if !found.contains(band.as_str()) {
            to.push(missing(
                &file,
                path.clone(),
                format!("there are no words for `{}` when it is {band}", rule.key()),
                format!("add `{band}: {{short: …, means: …}}`"),
            ));
        }
    }
    for (band, phrase) in found.iter() {
        let path = path.key(band.as_str());
        if !wanted.contains(band) {
            to.push(
                Problem::error(
                    "unknown-name",
                    file.clone(),
                    path.clone(),
                    format!(
                        "`{}` never comes out as `{band}`; it can be {}",
                        rule.key(),
                        wanted.join(", ")
                    ),
                )
                .hint(
                    nearest(band, wanted.iter().map(String::as_str)).map_or_else(
                        || "take it away".to_owned(),
                        |near| format!("did you mean `{near}`?"),
                    ),
                )
                .on_key(),
            );
        }
        for (part, text) in [("short", &phrase.short), ("means", &phrase.means)] {
            words(text, &in_words(band), &named, &path.key(part), to);
        }
    }
}

/// Checks one text: its placeholders, no typed number, no other band's name.
fn words(text: &str, band: &str, bands: &[String], path: &KeyPath, to: &mut Collector) {
    if text.trim().is_empty() {
        to.error(
            "nothing-given",
            path.clone(),
            "the words are missing",
            "write them",
        );
    }
    let (plain, placeholders) = split(text);
    if plain.contains(['{', '}']) {
        to.error(
            "unknown-placeholder",
            path.clone(),
            "a brace stands alone; a placeholder has one on either side",
            "write it as `{value}`",
        );
    }
    for name in placeholders {
        if !PLACEHOLDERS.contains(&name.as_str()) {
            to.error(
                "unknown-placeholder",
                path.clone(),
                format!(
                    "`{{{name}}}` stands for nothing; there are {{{}}}",
                    PLACEHOLDERS.join("}, {")
                ),
                nearest(&name, PLACEHOLDERS).map_or_else(
                    || "use one of these".to_owned(),
                    |near| format!("did you mean `{{{near}}}`?"),
                ),
            );
        }
    }
    if plain.chars().any(|c| c.is_ascii_digit()) {
        to.error(
            "typed-number",
            path.clone(),
            "a number is typed into the words, and would be the same for every shoe",
            "use a placeholder such as `{value}`",
        );
    }
    if let Some(other) = other_band(&plain, band, bands) {
        to.error(
            "other-band",
            path.clone(),
            format!("the words for `{band}` name the band `{other}`"),
            "say it in other words, or use `{band}`",
        );
    }
}

/// A text without its placeholders, and their names.
fn split(text: &str) -> (String, Vec<String>) {
    let mut plain = String::new();
    let mut names = Vec::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        plain.push_str(before);
        plain.push(' ');
        match after.split_once('}') {
            Some((name, after)) if !name.contains('{') => {
                names.push(name.to_owned());
                rest = after;
            }
            _ => {
                plain.push('{');
                rest = after;
            }
        }
    }
    plain.push_str(rest);
    (plain, names)
}

fn lower_words(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect()
}

/// The first band a text names beside its own. Where names overlap the longest
/// counts: `very high` does not name `high`, and says more than it.
fn other_band<'b>(text: &str, band: &str, bands: &'b [String]) -> Option<&'b str> {
    let text = lower_words(text);
    let mut names: Vec<(Vec<String>, &str)> = bands
        .iter()
        .map(|name| (lower_words(name), name.as_str()))
        .filter(|(words, _)| !words.is_empty())
        .collect();
    names.sort_by_key(|(words, _)| std::cmp::Reverse(words.len()));
    let mut at = 0;
    while at < text.len() {
        let named = names
            .iter()
            .find(|(words, _)| text[at..].starts_with(words));
        match named {
            Some((words, name)) if *name == band => at += words.len(),
            Some((_, name)) => return Some(name),
            None => at += 1,
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(text: &str) -> Vec<&'static str> {
        codes_of(text, "very high")
    }

    fn codes_of(text: &str, band: &str) -> Vec<&'static str> {
        let bands: Vec<String> = ["very low", "low", "medium", "high", "very high"]
            .map(str::to_owned)
            .into();
        let mut to = Collector::new("p");
        words(text, band, &bands, &KeyPath::root(), &mut to);
        to.into_problems()
            .iter()
            .map(|problem| problem.code)
            .collect()
    }

    #[test]
    fn a_phrase_names_its_own_band_and_no_other() {
        assert_eq!(codes("Torsion is very high."), [] as [&str; 0]);
        assert_eq!(codes("Torsion is {band} at {value}."), [] as [&str; 0]);
        assert_eq!(codes("Torsion is high."), ["other-band"]);
        assert_eq!(codes("Highly stiff, slow to bend."), [] as [&str; 0]);
        assert_eq!(codes("Very low and medium"), ["other-band"]);
        assert_eq!(codes_of("Torsion is high.", "high"), [] as [&str; 0]);
        assert_eq!(codes_of("Torsion is very high.", "high"), ["other-band"]);
        assert_eq!(
            codes_of("A high, even very low, heel", "high"),
            ["other-band"]
        );
    }

    #[test]
    fn a_brace_that_stands_alone_is_refused() {
        for text in ["At {value.", "At value}.", "At {{value}.", "At {value}}"] {
            assert_eq!(codes(text), ["unknown-placeholder"], "{text}");
        }
    }

    #[test]
    fn a_number_or_a_mistyped_placeholder_in_a_phrase_is_refused() {
        assert_eq!(codes("About 60 of a hundred."), ["typed-number"]);
        assert_eq!(codes("At {vlaue}."), ["unknown-placeholder"]);
    }
}
