//! Laying a language's file, and adding to it what it lacks.

use super::Sheet;
use crate::cli::{Desk, Exit};
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{RelPath, Root, Source, yaml};
use crate::lab::WordsFile;
use crate::serve::{NotWritten, Writer};
use anyhow::Context as _;

/// Lays the file where there is none.
pub fn lay(desk: &Desk, root: &Root, path: &RelPath, text: &str) -> anyhow::Result<Exit> {
    let folder = root
        .path()
        .context("translate --write needs a folder on the disk")?;
    let file = folder.join(path.as_str());
    let above = file.parent().unwrap_or(folder);
    std::fs::create_dir_all(above)
        .with_context(|| format!("can't make the folder {}", above.display()))?;
    match writer(root)?.create(path, text) {
        Ok(()) => {
            let laid = yaml::read(&Source::new(path.as_str(), text));
            let laid = laid.map_err(|_| anyhow::anyhow!("{path} can't be read again"))?;
            Ok(told(desk, path, &laid, None))
        }
        Err(NotWritten::Failed(error)) => Err(error),
        Err(other) => Err(anyhow::anyhow!("{other}")),
    }
}

/// Adds what is missing at the end of the file's parts.
pub fn add(
    desk: &Desk,
    root: &Root,
    (source, there): (&Source, &WordsFile),
    missing: &Sheet,
) -> anyhow::Result<Exit> {
    let path: RelPath = source.file.parse()?;
    let Some((text, now)) = added((source, there), missing) else {
        let problem = Problem::error(
            "not-added",
            path.as_str(),
            KeyPath::root(),
            "its labels and texts are not laid out with a line each, so nothing can be added to them",
        )
        .hint("print what is missing with `--missing`, and put it in by hand");
        desk.show_problems(root, vec![problem]);
        return Ok(Exit::Problems);
    };
    if text != source.text {
        let written = writer(root)?.replace(&path, source.hash, &text);
        if let Err(not_written) = written {
            desk.show_problems(root, vec![not_written.problem(&path)?]);
            return Ok(Exit::Problems);
        }
    }
    Ok(told(desk, &path, &now, Some(there)))
}

fn writer(root: &Root) -> anyhow::Result<Writer> {
    Writer::new(root).context("translate --write needs a folder on the disk")
}

/// Says what was added, and how much waits for a translation.
fn told(desk: &Desk, path: &RelPath, now: &WordsFile, before: Option<&WordsFile>) -> Exit {
    let (all, unsaid) = counted(now);
    let added = all - before.map_or(0, |before| counted(before).0);
    desk.say(format_args!(
        "{path}: {added} added; {unsaid} of {all} wait for a translation"
    ));
    Exit::Done
}

/// How many labels and texts there are, and how many of them say nothing yet.
fn counted(words: &WordsFile) -> (usize, usize) {
    let labels = words.labels.iter().map(|(_, said)| said.is_empty());
    let texts = words
        .texts
        .iter()
        .map(|(_, said)| said.forms().iter().any(|form| form.1.is_empty()));
    let unsaid: Vec<bool> = labels.chain(texts).collect();
    (
        unsaid.len(),
        unsaid.iter().filter(|unsaid| **unsaid).count(),
    )
}

/// The file with what is missing; none where that doesn't read as the file and what
/// is missing.
fn added((source, before): (&Source, &WordsFile), missing: &Sheet) -> Option<(String, WordsFile)> {
    let text = at_end_of("labels", &source.text, &missing.labels)?;
    let text = at_end_of("texts", &text, &missing.texts)?;
    let now: WordsFile = yaml::read(&Source::new(&*source.file, &*text)).ok()?;
    let labels = before
        .labels
        .iter()
        .all(|(word, said)| now.labels.get(word.as_str()) == Some(said));
    let texts = before.texts.iter().all(|(word, said)| {
        now.texts.get(word.as_str()).map(|now| now.forms()) == Some(said.forms())
    });
    (labels && texts).then_some((text, now))
}

/// A text with lines added at the end of the map under one of its outermost keys.
fn at_end_of(key: &str, text: &str, lines: &str) -> Option<String> {
    if lines.is_empty() {
        return Some(text.to_owned());
    }
    let line_break = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let mut at = 0;
    // Where the map's lines end, and how far they are indented; once it has begun.
    let mut found: Option<(usize, Option<&str>)> = None;
    for line in text.split_inclusive('\n') {
        let bare = line.trim_end();
        let indent = &bare[..bare.len() - bare.trim_start().len()];
        at += line.len();
        match &mut found {
            None => {
                if let Some(rest) = bare
                    .strip_prefix(key)
                    .and_then(|rest| rest.strip_prefix(':'))
                {
                    let rest = rest.trim_start();
                    if !rest.is_empty() && !rest.starts_with('#') {
                        return None;
                    }
                    found = Some((at, None));
                }
            }
            Some((end, first)) => {
                if bare.is_empty() || indent.is_empty() && bare.starts_with('#') {
                    continue;
                }
                if indent.is_empty() {
                    break;
                }
                *end = at;
                if !bare.trim_start().starts_with('#') {
                    first.get_or_insert(indent);
                }
            }
        }
    }
    let (end, indent) = found.map_or((text.len(), None), |(end, first)| (end, first));
    let indent = indent.unwrap_or("  ");
    let mut new = String::new();
    if !text[..end].ends_with('\n') && end > 0 {
        new += line_break;
    }
    if found.is_none() {
        new += &format!("{key}:{line_break}");
    }
    for line in lines.lines() {
        new += &format!("{indent}{}{line_break}", line.trim_start());
    }
    Some(format!("{}{new}{}", &text[..end], &text[end..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(labels: &str, texts: &str) -> Sheet {
        Sheet {
            labels: labels.into(),
            texts: texts.into(),
        }
    }

    fn text_added(source: &Source, missing: &Sheet) -> Option<String> {
        let there: WordsFile = yaml::read(source).unwrap();
        Some(added((source, &there), missing)?.0)
    }

    const HEAD: &str = "schema: 1\nname: Deutsch\n";

    #[test]
    fn what_is_missing_goes_to_the_end_of_its_part_and_all_else_stays() {
        let text = format!(
            "{HEAD}\nlabels: # the lab's\n    \"a\": \"A\" # mine\n    # last\n\n# texts\ntexts:\n    \"b\": \"B\""
        );
        let missing = sheet("  # lab/lab.yaml\n  \"c\": \"\"\n", "  \"d {x}\": \"\"\n");
        let source = Source::new("words.yaml", &*text);
        assert_eq!(
            text_added(&source, &missing).unwrap(),
            format!(
                "{HEAD}\nlabels: # the lab's\n    \"a\": \"A\" # mine\n    # last\n    # lab/lab.yaml\n    \"c\": \"\"\n\n# texts\ntexts:\n    \"b\": \"B\"\n    \"d {{x}}\": \"\"\n"
            )
        );
        assert_eq!(text_added(&source, &sheet("", "")).unwrap(), text);
    }

    #[test]
    fn a_part_that_is_not_there_is_laid_and_line_breaks_are_the_files() {
        let text = HEAD.replace('\n', "\r\n");
        let source = Source::new("words.yaml", &*text);
        let missing = sheet("  \"a\": \"\"\n", "  \"b\": {one: \"\", other: \"\"}\n");
        assert_eq!(
            text_added(&source, &missing).unwrap(),
            format!(
                "{text}labels:\r\n  \"a\": \"\"\r\ntexts:\r\n  \"b\": {{one: \"\", other: \"\"}}\r\n"
            )
        );
    }

    #[test]
    fn a_part_in_one_line_is_left_alone() {
        let text = format!("{HEAD}labels: {{a: A}}\ntexts:\n  b: B\n");
        let source = Source::new("words.yaml", &*text);
        assert_eq!(text_added(&source, &sheet("  \"c\": \"\"\n", "")), None);
        assert!(text_added(&source, &sheet("", "  \"c\": \"\"\n")).is_some());
    }
}
