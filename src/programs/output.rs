//! Asking an output's program for its files.

use super::lines::{self, FileLine, HeadLine, LINES, ViewLine};
use super::{Named, Outside, keep, recalled};
use crate::diagnostics::Problem;
use crate::edition::Edition;
use crate::files::Root;
use crate::lab::{MadeFor, Purpose, SETTINGS, program_path};
use crate::outputs::views::VIEWS;
use crate::outputs::{FolioPath, Make, OwnView, Sheet, Subject, Surroundings, own_views};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A file an outside program made, checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MadeFile {
    /// Where it lies in the folio.
    pub path: FolioPath,
    /// What it holds.
    pub bytes: Arc<[u8]>,
}

/// A file that can't be taken: its code, what is wrong, what to do.
type Wrong = (&'static str, String, &'static str);

/// Asks a program for its files; none, with problems, if it failed in any way.
fn make_files(
    named: Named<'_>,
    views: &[OwnView<'_>],
    outside: &Outside,
    problems: &mut Vec<Problem>,
) -> Vec<MadeFile> {
    match try_make(named, views, outside, problems) {
        Ok(files) => files,
        Err(problem) => {
            problems.push(problem);
            Vec::new()
        }
    }
}

fn try_make(
    named: Named<'_>,
    views: &[OwnView<'_>],
    outside: &Outside,
    problems: &mut Vec<Problem>,
) -> Result<Vec<MadeFile>, Problem> {
    let print = named.print()?;
    let mut input = json(&HeadLine {
        solefolio: LINES,
        purpose: "output",
        program: named.name.to_string(),
        finding: None,
        unit: None,
        lines: match named.program.made_for {
            Some(MadeFor::EachShoe) => "each-shoe",
            Some(MadeFor::EachWeek) => "each-week",
            Some(MadeFor::Once) | None => "once",
        },
        views: Some(VIEWS),
    });
    input.push('\n');
    for view in views {
        input.push_str(&json(&ViewLine {
            of: view.of().map(str::to_owned),
            view: view.view(),
        }));
        input.push('\n');
    }
    let key = blake3::hash(format!("{print}\n{input}").as_bytes()).to_string();
    let memory = format!("output-{}", named.name);
    if let Some(line) = recalled(outside, &memory).get(&key)
        && let Ok(lines) = serde_json::from_str::<Vec<String>>(line)
        && let Ok(files) = take(named, lines.iter().map(String::as_str))
    {
        return Ok(files);
    }
    let what = match views.len() {
        1 => "1 view".to_owned(),
        many => format!("{many} views"),
    };
    let ran = named.run(input.into_bytes(), &what, outside)?;
    let slugs: Vec<crate::files::Slug> = views
        .iter()
        .filter_map(|view| view.of()?.parse().ok())
        .collect();
    let (of_shoes, others) = lines::part(&ran.said, &lines::places(slugs.iter()));
    for (at, said) in &of_shoes {
        problems.push(Problem::warning(
            "program-says",
            SETTINGS,
            program_path(named.name),
            format!("`{}` says of {}: {said}", named.name, slugs[*at]),
        ));
    }
    let said = lines::last(&others);
    if let Some(failure) = &ran.failure {
        let (code, message, hint) = named.failure(failure, said.as_deref());
        return Err(named.problem(code, message).hint(hint));
    }
    if let Some(said) = said {
        problems.push(Problem::warning(
            "program-says",
            SETTINGS,
            program_path(named.name),
            format!("`{}` says: {said}", named.name),
        ));
    }
    let text = String::from_utf8_lossy(&ran.out);
    let lines: Vec<&str> = text
        .lines()
        .filter(|line| !line.trim().is_empty())
        .collect();
    let files = take(named, lines.iter().copied())
        .map_err(|(code, message, hint)| named.problem(code, message).hint(hint))?;
    keep(outside, &memory, &[(key, json(&lines))]);
    Ok(files)
}

/// Reads the lines of an answer; one that can't be used spoils them all.
fn take<'l>(
    named: Named<'_>,
    lines: impl Iterator<Item = &'l str>,
) -> Result<Vec<MadeFile>, Wrong> {
    let name = named.name;
    let mut seen = BTreeSet::new();
    let mut files = Vec::new();
    for (nth, line) in lines.enumerate() {
        let read: FileLine = serde_json::from_str(line).map_err(|error| {
            let shown: String = line.chars().take(80).collect();
            (
                "program-answer-unreadable",
                format!("`{name}` answered on line {}: `{shown}` is no file: {error}", nth + 1),
                "write one JSON object a line and nothing else on standard output; `schema program` shows its form",
            )
        })?;
        let wrong = |message: String, hint| ("program-answer-wrong", message, hint);
        let path = FolioPath::new(format!("{name}/{}", read.path)).map_err(|_| {
            wrong(
                format!(
                    "`{name}` wants to make `{}`, which is no path inside its own folder",
                    read.path
                ),
                "use letters, digits, `-`, `_`, `.` and slashes; no part begins with a dot",
            )
        })?;
        if !seen.insert(path.as_str().to_ascii_lowercase()) {
            return Err(wrong(
                format!(
                    "`{name}` makes {path} twice; letters of either case are the same on some disks"
                ),
                "make each file once",
            ));
        }
        let bytes = match (&read.text, &read.base64) {
            (Some(text), None) => Some(text.as_bytes().to_vec()),
            (None, Some(base64)) => lines::from_base64(base64),
            _ => None,
        };
        let Some(bytes) = bytes else {
            return Err(wrong(
                format!(
                    "`{name}` makes {path} with neither a text nor base64 that can be read, or with both"
                ),
                "give `text`, or `base64` with padding",
            ));
        };
        files.push(MadeFile {
            path,
            bytes: bytes.into(),
        });
    }
    files.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(files)
}

fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).expect("a line is texts and finite numbers")
}

/// The files of all outputs a lab's programs make; `planned` are the folio's own
/// sheets, in whose folders no program may lie.
pub fn make_all(
    root: &Root,
    edition: &Edition,
    surroundings: &Surroundings,
    planned: &[Sheet<'_>],
    outside: &Outside,
    problems: &mut Vec<Problem>,
) -> Vec<MadeFile> {
    let taken: BTreeSet<&str> = planned
        .iter()
        .filter_map(|sheet| sheet.path.as_str().split('/').next())
        .collect();
    let mut files = Vec::new();
    for (name, program) in edition.lab.settings.programs.iter() {
        let Some(made_for) = program
            .made_for
            .filter(|_| program.purpose == Purpose::Output)
        else {
            continue;
        };
        if taken.contains(name.as_str()) {
            let message = format!(
                "an output's files lie in a folder of its name, and `{name}/` is one of the folio's own"
            );
            let problem = Problem::error("program-setting", SETTINGS, program_path(name), message)
                .hint("give the program another name")
                .on_key();
            problems.push(problem);
            continue;
        }
        let named = Named {
            root,
            name,
            program,
        };
        let views = own_views(edition, surroundings, made_for);
        files.extend(make_files(named, &views, outside, problems));
    }
    files
}

/// The sheets of files that programs made.
pub fn sheets(files: &[MadeFile]) -> Vec<Sheet<'static>> {
    files
        .iter()
        .map(|file| {
            let bytes = file.bytes.clone();
            Sheet {
                path: file.path.clone(),
                output: "program",
                subject: Subject::Folio,
                make: Make::Bytes(Box::new(move || bytes.to_vec())),
            }
        })
        .collect()
}
