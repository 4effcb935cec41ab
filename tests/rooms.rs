//! The rooms of the code, as `DEVELOPERS.md` lists them: each imports only from those
//! below it, and the pure ones name no clock, environment, file or thread.

use std::fs;
use std::path::Path;

/// Rooms that know nothing of the machine they run on.
const PURE: [&str; 6] = [
    "quantity",
    "measure",
    "rules",
    "catalogue",
    "edition",
    "outputs",
];

/// What only the other rooms may name.
const MACHINE: [&str; 8] = [
    "std::env",
    "std::fs",
    "std::net",
    "std::process",
    "std::thread",
    "SystemTime",
    "Instant::now",
    "rayon::",
];

fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The rooms from the top down: the first column of the table.
fn rooms() -> Vec<String> {
    let text = fs::read_to_string(project().join("DEVELOPERS.md")).expect("it is there");
    let table = text.split("\n## The rooms\n").nth(1);
    let table = table.and_then(|rest| rest.split("\n## ").next());
    let rows = table.expect("the heading is there").lines();
    rows.filter(|line| line.starts_with("| `"))
        .filter_map(|line| line.split('|').nth(1))
        .flat_map(|cell| cell.split('`').skip(1).step_by(2))
        .map(str::to_owned)
        .collect()
}

/// The files of a room with their code, without comments and tests.
fn code(room: &str) -> Vec<(String, String)> {
    let source = project().join("src");
    let places = [source.join(room), source.join(format!("{room}.rs"))];
    let entries = places.iter().flat_map(walkdir::WalkDir::new).flatten();
    entries
        .filter_map(|entry| {
            let path = entry.path().strip_prefix(&source).ok()?;
            let name = path.to_str()?.to_owned();
            if !name.ends_with(".rs") || name.contains("test") {
                return None;
            }
            let text = fs::read_to_string(entry.path()).ok()?;
            let text = text.split("\n#[cfg(test)]\nmod tests {").next()?;
            let lines = text
                .lines()
                .filter(|line| !line.trim_start().starts_with("//"));
            Some((name, lines.map(|line| format!("{line}\n")).collect()))
        })
        .collect()
}

fn name(text: &str) -> &str {
    let text = text.trim_start();
    let end = text.find(|c: char| c != '_' && !c.is_alphanumeric());
    &text[..end.unwrap_or(text.len())]
}

/// What stands behind each `crate::`, of a list in braces every entry.
fn imported(code: &str) -> Vec<&str> {
    let mut found = Vec::new();
    for rest in code.split("crate::").skip(1) {
        let Some(list) = rest.strip_prefix('{') else {
            found.push(name(rest));
            continue;
        };
        found.push(name(list));
        let mut deep = 0;
        for (at, c) in list.char_indices() {
            match c {
                '{' => deep += 1,
                '}' if deep == 0 => break,
                '}' => deep -= 1,
                ',' if deep == 0 => found.push(name(&list[at + 1..])),
                _ => {}
            }
        }
    }
    found
}

#[test]
fn a_list_of_imports_is_read_entry_by_entry() {
    let code = "use crate::{files::{self, yaml::Tree}, lab::Lab};\ncrate::press::look();";
    assert_eq!(imported(code), ["files", "lab", "press"]);
}

#[test]
fn each_room_imports_only_from_those_below_it() {
    let rooms = rooms();
    assert!(rooms.len() >= 17, "{rooms:?}");
    let mut upward = Vec::new();
    for (at, room) in rooms.iter().enumerate() {
        let code = code(room);
        assert!(!code.is_empty(), "{room} has no source");
        for (file, code) in &code {
            let above = |name: &&str| rooms[..at].iter().any(|room| room == name);
            for name in imported(code).into_iter().filter(above) {
                upward.push(format!("{file} imports from {name}"));
            }
        }
    }
    assert_eq!(upward, [] as [&str; 0]);
}

#[test]
fn every_folder_of_the_source_is_a_room_with_a_row() {
    let rooms = rooms();
    for entry in fs::read_dir(project().join("src")).expect("the source is there") {
        let path = entry.expect("it can be listed").path();
        let stem = path.file_stem().and_then(|stem| stem.to_str());
        let stem = stem.expect("a name in UTF-8");
        let known = ["lib", "main"].contains(&stem) || rooms.iter().any(|room| room == stem);
        assert!(known, "DEVELOPERS.md has no row for {stem}");
    }
}

#[test]
fn the_pure_rooms_name_no_clock_environment_file_or_thread() {
    let mut named = Vec::new();
    for room in PURE {
        for (file, code) in code(room) {
            let found = MACHINE.iter().filter(|word| code.contains(**word));
            named.extend(found.map(|word| format!("{file} names {word}")));
        }
    }
    assert_eq!(named, [] as [&str; 0]);
}
