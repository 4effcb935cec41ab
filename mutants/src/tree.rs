//! A copy of the project with mutants in it, pruned until it compiles.

use crate::edits::Woven;
use crate::weave::{Mutant, weave};
use anyhow::{Context, bail, ensure};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

const SWITCH: &str = include_str!("mutant.rs.in");

/// Where the woven copy lies.
pub fn copy_of(ground: &Path) -> PathBuf {
    ground.join("tree")
}

/// A cargo command on the copy, without lints: what is woven is not meant to be read.
pub fn cargo(ground: &Path) -> Command {
    let mut command = Command::new("cargo");
    command
        .current_dir(copy_of(ground))
        .env("CARGO_TARGET_DIR", ground.join("build"))
        .env("RUSTFLAGS", "-Awarnings --cap-lints=allow")
        .env("CARGO_PROFILE_DEV_DEBUG", "0")
        .env("CARGO_INCREMENTAL", "0");
    command
}

pub fn weave_all(project: &Path, ground: &Path, rooms: &[String]) -> anyhow::Result<()> {
    copy(project, &copy_of(ground))?;
    let files = files_of(project, rooms)?;
    let mut dropped = BTreeSet::new();
    for round in 1.. {
        let (woven, mutants, next) = weave_files(project, &files, &dropped)?;
        for (file, woven) in &woven {
            write(&copy_of(ground).join(file), &woven.text)?;
        }
        let switch = SWITCH.replace("PLACES", &next.to_string());
        write(&copy_of(ground).join("src/mutant.rs"), &switch)?;
        let refused = refused(ground, &woven)?;
        println!(
            "round {round}: {} mutants, {} that do not compile",
            mutants.len(),
            refused.len()
        );
        if refused.is_empty() {
            fs::write(
                ground.join("mutants.json"),
                serde_json::to_string_pretty(&mutants)?,
            )?;
            return Ok(());
        }
        dropped.extend(refused);
    }
    unreachable!("each round drops one at least")
}

fn write(path: &Path, text: &str) -> anyhow::Result<()> {
    if fs::read_to_string(path).is_ok_and(|there| there == text) {
        return Ok(());
    }
    fs::write(path, text).with_context(|| format!("writing {}", path.display()))
}

/// Copies what git knows of, as it stands on the disk, and names the switch.
fn copy(project: &Path, to: &Path) -> anyhow::Result<()> {
    if to.exists() {
        fs::remove_dir_all(to)?;
    }
    let listed = Command::new("git")
        .args(["ls-files", "-z"])
        .current_dir(project)
        .output()?;
    ensure!(listed.status.success(), "git ls-files failed");
    for name in String::from_utf8(listed.stdout)?.split_terminator('\0') {
        let (from, to) = (project.join(name), to.join(name));
        if from.is_file() {
            fs::create_dir_all(to.parent().expect("a file's path has a folder"))?;
            fs::copy(&from, &to).with_context(|| format!("copying {name}"))?;
        }
    }
    let root = to.join("src/lib.rs");
    let text = fs::read_to_string(&root)?;
    let text = text.replacen("pub mod catalogue;", "mod mutant;\npub mod catalogue;", 1);
    ensure!(
        text.contains("mod mutant;"),
        "src/lib.rs names no room catalogue"
    );
    fs::write(root, text)?;
    Ok(())
}

fn files_of(project: &Path, rooms: &[String]) -> anyhow::Result<Vec<String>> {
    let mut files = Vec::new();
    for room in rooms {
        let path = project.join("src").join(room);
        ensure!(path.exists(), "src/{room} is not there");
        for entry in walkdir::WalkDir::new(path).sort_by_file_name() {
            let entry = entry?;
            let name = entry
                .path()
                .strip_prefix(project)?
                .to_string_lossy()
                .into_owned();
            let tests = name.ends_with("tests.rs")
                || name.contains("/tests/")
                || name.contains("/testing/");
            if name.ends_with(".rs") && !tests {
                files.push(name);
            }
        }
    }
    if files.is_empty() {
        bail!("no sources in {}", rooms.join(", "));
    }
    Ok(files)
}

type AllWoven = (BTreeMap<String, Woven>, Vec<Mutant>, usize);

fn weave_files(
    project: &Path,
    files: &[String],
    dropped: &BTreeSet<usize>,
) -> anyhow::Result<AllWoven> {
    let mut all = BTreeMap::new();
    let mut mutants = Vec::new();
    let mut next = 1;
    for file in files {
        let source = fs::read_to_string(project.join(file))?;
        let (woven, of_file, after) =
            weave(file, &source, next, dropped).with_context(|| file.clone())?;
        all.insert(file.clone(), woven);
        mutants.extend(of_file);
        next = after;
    }
    Ok((all, mutants, next))
}

/// The mutants at which the compiler's errors point.
fn refused(ground: &Path, woven: &BTreeMap<String, Woven>) -> anyhow::Result<BTreeSet<usize>> {
    let output = cargo(ground)
        .args(["check", "--lib", "--message-format=json", "--quiet"])
        .output()?;
    let mut refused = BTreeSet::new();
    let mut lost = Vec::new();
    for line in String::from_utf8_lossy(&output.stdout).lines() {
        let Ok(told) = serde_json::from_str::<Value>(line) else {
            continue;
        };
        let message = &told["message"];
        let spans = message["spans"].as_array().map_or(&[][..], Vec::as_slice);
        if told["reason"] != "compiler-message" || message["level"] != "error" || spans.is_empty() {
            continue;
        }
        // The innermost place at one of its spans, the main one first.
        let main = spans.iter().filter(|span| span["is_primary"] == true);
        let others = spans.iter().filter(|span| span["is_primary"] != true);
        let mut found = main
            .chain(others)
            .filter_map(|span| mutants_at(span, woven));
        match found.next() {
            Some(ids) => refused.extend(ids),
            None => lost.push(message["rendered"].as_str().unwrap_or_default().to_owned()),
        }
    }
    if refused.is_empty() && !output.status.success() {
        bail!(
            "it does not compile:\n{}{}",
            lost.join("\n"),
            String::from_utf8_lossy(&output.stderr)
        );
    }
    Ok(refused)
}

fn mutants_at(span: &Value, woven: &BTreeMap<String, Woven>) -> Option<Vec<usize>> {
    let mut span = span;
    while span["expansion"].is_object() {
        span = &span["expansion"]["span"];
    }
    let woven = woven.get(span["file_name"].as_str()?)?;
    let at = usize::try_from(span["byte_start"].as_u64()?).ok()?;
    let end = usize::try_from(span["byte_end"].as_u64()?).ok()?;
    let about = woven
        .places
        .iter()
        .filter(|(extent, _)| extent.start <= at && end <= extent.end);
    let (extent, ids) = about.min_by_key(|(extent, _)| extent.len())?;
    // Within one way's arm only that way is wrong.
    let before = &woven.text[extent.start..at];
    let switch = format!("crate::mutant::of({}, ", ids.start);
    let arm = before.rfind(&switch).and_then(|start| {
        let arms = &before[start..];
        let number = arms[..arms.rfind(" => { ")?].rsplit(' ').next()?;
        number.parse::<usize>().ok()
    });
    Some(match arm {
        Some(number) => vec![ids.start + number - 1],
        None => ids.clone().collect(),
    })
}
