//! The frozen editions of a lab: their manifests, and whether their files are
//! still what was sealed.

use crate::diagnostics::{KeyPath, Problem};
use crate::edition::{EDITIONS, FROZEN_LIMIT, Frozen, MANIFEST, sort_frozen};
use crate::files::{RelPath, Root};

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

fn altered(file: &str, message: String) -> Problem {
    Problem::error("edition-altered", file, KeyPath::root(), message)
        .hint("a frozen edition never changes: bring the file back from version control")
}
