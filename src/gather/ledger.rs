//! The ledger and the versions it is held against.

use super::lab::LabFiles;
use crate::diagnostics::{KeyPath, Problem};
use crate::edition::{LEDGER, LEDGER_HEAD, LEDGER_LIMIT, Ledger, Stamp, Stamps};
use crate::files::{RelPath, Root, Source};
use crate::lab::{PROTOCOL, RULES};

/// The ledger; an empty one where the lab has none yet.
pub(super) fn read(root: &Root, problems: &mut Vec<Problem>) -> Option<Ledger> {
    let read = |name: &'static str, problems: &mut Vec<Problem>| {
        let path = RelPath::fixed(name);
        if !root.holds(&path) {
            return Some(None);
        }
        root.read_text(&path, LEDGER_LIMIT)
            .map_err(|problem| problems.push(problem))
            .ok()
            .map(Some)
    };
    let ledger = match read(LEDGER, problems)? {
        None => Ledger::default(),
        Some(source) => Ledger::read(&source)
            .map_err(|found| problems.extend(found))
            .ok()?,
    };
    match read(LEDGER_HEAD, problems)? {
        Some(head) => {
            ledger
                .check_head(&head)
                .map_err(|found| problems.extend(found))
                .ok()?;
        }
        // Each seal writes it, so a ledger without it may have lost its end too.
        None if !ledger.entries().is_empty() => problems.push(
            Problem::warning(
                "ledger-head-missing",
                LEDGER_HEAD,
                KeyPath::root(),
                "the file that says how long the ledger is, is gone; whether lines are missing at its end can't be told",
            )
            .hint("bring both files back from version control; the next `seal` writes it anew"),
        ),
        None => {}
    }
    Some(ledger)
}

/// The versions of rule set and protocol with the hashes of their content.
pub(super) fn stamps(files: &LabFiles, versions: (u32, u32)) -> Stamps {
    Stamps {
        rules: Stamp {
            version: versions.0,
            content: content(&files.rules, &["schema", "history"]),
        },
        protocol: Stamp {
            version: versions.1,
            content: content(&files.protocol, &["schema"]),
        },
    }
}

/// A hash of what a file says: comments, layout and the named keys left aside.
fn content(source: &Source, aside: &[&str]) -> String {
    let mut value: serde_json::Value = serde_yaml::from_str(&source.text).unwrap_or_default();
    if let Some(map) = value.as_object_mut() {
        for key in aside {
            map.shift_remove(*key);
        }
        map.sort_keys();
    }
    blake3::hash(value.to_string().as_bytes())
        .to_hex()
        .to_string()
}

/// Reports a rule set or protocol that was changed under a version already sealed.
pub(super) fn check(ledger: &Ledger, stamps: &Stamps) -> Vec<Problem> {
    ledger.check_versions(stamps, (RULES, PROTOCOL))
}
