//! The frozen editions of a lab: their manifests, and whether their files are
//! still what was sealed.

use crate::diagnostics::{KeyPath, Problem};
use crate::edition::{EDITIONS, FROZEN_LIMIT, Frozen, Ledger, MANIFEST, edition_name, sort_frozen};
use crate::files::{Date, RelPath, Root};
use std::collections::BTreeSet;

/// Every frozen edition, by day. The files themselves are not read.
pub(super) fn read(root: &Root, problems: &mut Vec<Problem>) -> Vec<Frozen> {
    let listing = root.walk(EDITIONS, &["json"]);
    problems.extend(listing.problems);
    let mut all = Vec::new();
    for path in listing.files {
        let within = path.as_str().strip_prefix(EDITIONS).unwrap_or_default();
        let folder = match within.trim_start_matches('/').split_once('/') {
            Some((folder, MANIFEST)) => folder,
            _ => continue,
        };
        match root.read(&path) {
            Err(problem) => problems.push(problem),
            Ok(source) => match Frozen::read(&source.text, folder) {
                Ok(frozen) => all.push(frozen),
                Err(why) => problems.push(altered(
                    path.as_str(),
                    format!("the frozen edition can't be read: {why}"),
                )),
            },
        }
    }
    sort_frozen(&mut all);
    all
}

/// Reads every file of the frozen editions and compares it with its sum.
pub fn check_editions(root: &Root, all: &[Frozen]) -> Vec<Problem> {
    let files = all
        .iter()
        .flat_map(|frozen| frozen.files.iter().map(move |file| (frozen, file)));
    files
        .filter_map(|(frozen, file)| {
            let place = frozen.place(file);
            let path: RelPath = place.parse().ok()?;
            match root.read_bytes(&path, FROZEN_LIMIT) {
                Err(problem) => Some(problem),
                Ok(bytes) if file.hash() == Some(blake3::hash(&bytes)) => None,
                Ok(_) => Some(altered(
                    &place,
                    "the file is not what was sealed: its sum differs".to_owned(),
                )),
            }
        })
        .collect()
}

/// The editions that were sealed, by the ledger, and are not there. A warning: where a
/// folder is lost for good, the ledger can't be taken back, and the folio must still be
/// published. Of a seal that was stopped before it froze the data the same is true until
/// it is done again.
pub fn missing_editions(ledger: &Ledger, all: &[Frozen]) -> Vec<Problem> {
    let days: BTreeSet<Date> = ledger.entries().iter().map(|entry| entry.on).collect();
    let last = ledger.sealed_last();
    let mut missing = Vec::new();
    for day in days {
        // A later edition of a day tells that those before it were there.
        let there = all.iter().filter(|frozen| frozen.on == day).count();
        for nth in 1..=there.max(1) {
            let name = edition_name(day, nth);
            if all.iter().any(|frozen| frozen.name == name) {
                continue;
            }
            let again = if last == Some(day) && there == 0 {
                format!("; or, if it was never there, `solefolio seal --as-of {day}` freezes it")
            } else {
                String::new()
            };
            missing.push(
                Problem::warning(
                    "edition-missing",
                    format!("{EDITIONS}/{name}"),
                    KeyPath::root(),
                    "the ledger tells of this edition, and its frozen data are not there: \
                     who cited a figure in it finds it no more",
                )
                .hint(format!("bring the folder back from version control{again}")),
            );
        }
    }
    missing
}

fn altered(file: &str, message: String) -> Problem {
    Problem::error("edition-altered", file, KeyPath::root(), message)
        .hint("a frozen edition never changes: bring the file back from version control")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::Source;

    /// The demo's ledger up to the last of these days.
    fn ledger(days: &[&str]) -> Ledger {
        let demo = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(demo.join(crate::edition::LEDGER)).unwrap();
        let until: Vec<&str> = text
            .lines()
            .take_while(|line| {
                days.iter()
                    .any(|day| line.contains(&format!("\"on\":\"{day}\"")))
            })
            .collect();
        Ledger::read(&Source::new("l", until.join("\n") + "\n")).unwrap()
    }

    fn frozen(name: &str) -> Frozen {
        Frozen {
            name: name.to_owned(),
            on: name[..10].parse().unwrap(),
            because: "x".to_owned(),
            shoes: 1,
            protocol_version: 1,
            rules_version: 1,
            files: Vec::new(),
        }
    }

    #[test]
    fn an_edition_that_was_sealed_and_is_gone_is_told_of() {
        let ledger = ledger(&["2026-10-31", "2026-11-02"]);
        let missing = |names: &[&str]| -> Vec<String> {
            let all: Vec<Frozen> = names.iter().map(|name| frozen(name)).collect();
            let problems = missing_editions(&ledger, &all);
            problems.into_iter().map(|problem| problem.file).collect()
        };
        let none: [&str; 0] = [];
        assert_eq!(missing(&["2026-10-31", "2026-11-02"]), none);
        assert_eq!(missing(&["2026-11-02"]), ["lab/editions/2026-10-31"]);
        assert_eq!(
            missing(&[]),
            ["lab/editions/2026-10-31", "lab/editions/2026-11-02"]
        );
        let later = ["2026-10-31", "2026-11-02-2"];
        assert_eq!(missing(&later), ["lab/editions/2026-11-02"]);
    }
}
