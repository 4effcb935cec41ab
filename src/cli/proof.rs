//! `proof`: checks everything and writes nothing.

use super::desk::Answers;
use super::seal::forgotten;
use super::{Desk, Exit};
use crate::diagnostics::Problem;
use crate::edition::{DeskLine, Missing, desk_list, is_out};
use crate::files::{Date, Root, Week};
use crate::gather::{
    Gathered, Reading, check_control, check_earlier, check_editions, check_templates,
    gather_all_the_same, missing_editions, read_templates,
};
use crate::press::{self, Bindery, Uncheckable};
use clap::Args;
use pulldown_cmark::{Event, Parser, Tag, TagEnd};
use serde_json::json;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Check every file of lab/ and shoes/, work out every finding, and show every
/// problem with its file, line and what to do. Writes nothing.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The edition's date; today without it
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
    /// Show what each shoe of a week's batch misses before it can go out
    #[arg(long, value_name = "WEEK")]
    week: Option<Week>,
    /// Check nothing of the lab but a folio, anywhere: compare every file in the
    /// folder with the SHA256SUMS that lies in it
    #[arg(long, value_name = "DIR", conflicts_with_all = ["as_of", "week"])]
    folio: Option<PathBuf>,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    if let Some(folio) = &arguments.folio {
        return compare(desk, folio);
    }
    let root = desk.root()?;
    let as_of = arguments.as_of.unwrap_or_else(Desk::today);
    if let Some(week) = arguments.week {
        return batch(desk, &root, week, arguments.as_of);
    }
    let gathered = match desk.gather_as_of(&root, as_of)? {
        Ok(gathered) => gathered,
        Err(exit) => return Ok(exit),
    };
    let mut problems = gathered.problems(as_of);
    // The pages are not made here, but a template that can't be used would stop them.
    if let Err(found) = read_templates(&root).and_then(|own| Bindery::new(own, None)) {
        problems.extend(found);
    }
    problems.extend(forgotten(&root, &gathered.ledger));
    problems.extend(missing_editions(&gathered.ledger, &gathered.frozen));
    problems.extend(check_editions(&root, &gathered.frozen));
    problems.extend(check_earlier(&root, as_of));
    problems.extend(check_templates(&root));
    problems.extend(check_control(&root, Desk::today()));
    let errors = problems.iter().any(crate::diagnostics::Problem::is_error);
    let none = problems.is_empty();
    if desk.json() || !none {
        desk.show_problems(&root, problems);
    }
    let shoes = gathered.shoes.len();
    let out = gathered
        .shoes
        .iter()
        .filter(|judged| is_out(judged, as_of))
        .count();
    desk.say(format_args!(
        "checked {shoes} shoes as of {as_of}: {out} out, {} held back{}",
        shoes - out,
        if none { "; no problem" } else { "" }
    ));
    Ok(if errors { Exit::Problems } else { Exit::Done })
}

/// Compares a folio with its manifest.
fn compare(desk: &Desk, folio: &Path) -> anyhow::Result<Exit> {
    let checked = match press::check(folio) {
        Ok(checked) => checked,
        Err(Uncheckable::Trouble(trouble)) => return Err(trouble.into()),
        Err(why) => {
            if desk.json() {
                desk.print(&format!("{:#}\n", json!({"why": why.to_string()})));
            } else {
                desk.print(&format!("{}: {why}\n", folio.display()));
            }
            return Ok(Exit::Problems);
        }
    };
    if desk.json() {
        desk.print(&format!("{:#}\n", json!(checked)));
    } else {
        let mut text = String::new();
        for (state, paths) in [
            ("missing", &checked.missing),
            ("altered", &checked.altered),
            ("extra", &checked.extra),
        ] {
            for path in paths {
                let _ = writeln!(text, "{state:<9} {path}");
            }
        }
        desk.print(&text);
        let count = |of: &Vec<String>, what: &str| match of.len() {
            0 => String::new(),
            count => format!(", {count} {what}"),
        };
        desk.say(format_args!(
            "{} files as they were published{}{}{}",
            checked.sound,
            count(&checked.missing, "missing"),
            count(&checked.altered, "altered"),
            count(&checked.extra, "not published"),
        ));
    }
    Ok(if checked.is_sound() {
        Exit::Done
    } else {
        Exit::Problems
    })
}

/// The desk list of a week. A file that can't be used holds the batch up too: the
/// shoe it is about may belong to it.
fn batch(desk: &Desk, root: &Root, week: Week, as_of: Option<Date>) -> anyhow::Result<Exit> {
    let reading = Reading {
        // The rule set is the one that holds as the batch begins to come out.
        as_of: Some(as_of.unwrap_or_else(|| week.monday())),
        outside: desk.outside(root, Answers::Read),
        ..Reading::default()
    };
    let (gathered, mut problems) = gather_all_the_same(root, &reading);
    problems.retain(Problem::is_error);
    let list = match &gathered {
        None => Vec::new(),
        Some(Gathered {
            shoes, lab, rules, ..
        }) => desk_list(shoes, lab, rules, week, pictures_without_text),
    };
    let ready = problems.is_empty() && list.iter().all(|line| line.missing.is_empty());
    if desk.json() {
        desk.print_value(&json!({
            "week": week.to_string(),
            "ready": ready,
            "shoes": list,
            "problems": desk.problems_value(root, problems),
        }));
    } else {
        if !problems.is_empty() {
            desk.show_problems(root, problems);
        }
        desk.print(&table(week, &list));
    }
    Ok(if ready { Exit::Done } else { Exit::Problems })
}

/// The columns: what may be missing, each with the cell of one shoe.
const COLUMNS: [&str; 7] = [
    "readings",
    "trials",
    "summary",
    "phrases",
    "picture text",
    "price",
    "accept",
];

fn column(missing: &Missing) -> usize {
    match missing {
        Missing::Readings { .. } => 0,
        Missing::Trials { .. } => 1,
        Missing::Summary => 2,
        Missing::Phrases { .. } => 3,
        Missing::PictureText { .. } => 4,
        Missing::Price => 5,
        Missing::Accept { .. } => 6,
    }
}

fn in_words(missing: &Missing) -> String {
    match missing {
        Missing::Readings { of, reason } => format!("readings of {of}: {reason}"),
        Missing::Trials {
            of,
            specimen,
            are,
            wanted,
        } => format!("trials of {of} on {specimen}: {are}, and the protocol asks for {wanted}"),
        Missing::Summary => "the summary: one sentence in `summary:`".to_owned(),
        Missing::Phrases { of, entry } => format!("phrases: no words for {of} when it is {entry}"),
        Missing::PictureText { picture } => {
            format!("picture text: nothing stands for the picture {picture}")
        }
        Missing::Price => "the price: `price: {amount: …, currency: …}`".to_owned(),
        Missing::Accept { flag, message } => {
            format!("measure again, or accept `{flag}`: {message}")
        }
    }
}

fn table(week: Week, list: &[DeskLine]) -> String {
    if list.is_empty() {
        return format!("no shoe is to come out in {week}\n");
    }
    let wide = list
        .iter()
        .map(|line| line.title.chars().count())
        .max()
        .unwrap_or(0);
    let mut text = format!("{:wide$}  publish   ", "");
    for name in COLUMNS {
        let _ = write!(text, "  {name}");
    }
    text.push('\n');
    for line in list {
        let _ = write!(text, "{:wide$}  {}", line.title, line.publish);
        for (at, name) in COLUMNS.iter().enumerate() {
            let width = name.len() + 2;
            let count = line.missing.iter().filter(|m| column(m) == at).count();
            let cell = match count {
                0 => "·".to_owned(),
                count => count.to_string(),
            };
            let _ = write!(text, "{cell:>width$}");
        }
        text.push('\n');
    }
    let unready = list.iter().filter(|line| !line.missing.is_empty());
    for line in unready {
        let _ = writeln!(text, "\n{} ({})", line.title, line.shoe);
        for missing in &line.missing {
            let _ = writeln!(text, "  {}", in_words(missing));
        }
    }
    let ready = list.iter().filter(|line| line.missing.is_empty()).count();
    let _ = writeln!(text, "\n{week}: {ready} of {} shoes can go out", list.len());
    text
}

/// The pictures of an editor's text that have no words in their place.
fn pictures_without_text(markdown: &str) -> Vec<String> {
    let mut bare = Vec::new();
    let mut open: Option<(String, String)> = None;
    for event in Parser::new(markdown) {
        match (event, &mut open) {
            (Event::Start(Tag::Image { dest_url, .. }), _) => {
                open = Some((dest_url.to_string(), String::new()));
            }
            (Event::Text(text) | Event::Code(text), Some((_, said))) => said.push_str(&text),
            (Event::End(TagEnd::Image), Some((picture, said))) => {
                if said.trim().is_empty() {
                    bare.push(picture.clone());
                }
                open = None;
            }
            _ => {}
        }
    }
    bare
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_without_words_is_found() {
        let text = "![](a.png) and ![The sole, worn](b.png), ![ ](c.png)";
        assert_eq!(pictures_without_text(text), ["a.png", "c.png"]);
    }
}
