//! The table of problem codes against the source: no code without its page, no page without its code.

use solefolio::diagnostics::codes::{CODES, find};
use solefolio::files::Key;
use solefolio::measure::FLAGS;
use std::collections::BTreeSet;
use std::path::Path;

/// What stands in the source before a problem's code.
const MAKERS: [&str; 10] = [
    "Problem::error(",
    "Problem::warning(",
    "problem(",
    "placed(",
    "reported(",
    ".error(",
    ".warning(",
    "Mistake::new(",
    ".wrong(",
    "self.add(",
];

fn sources(folder: &Path, into: &mut Vec<(String, String)>) {
    let mut entries: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            into.push((
                path.display().to_string(),
                std::fs::read_to_string(&path).unwrap(),
            ));
        }
    }
}

fn all_sources() -> Vec<(String, String)> {
    let mut found = Vec::new();
    sources(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        &mut found,
    );
    assert!(!found.is_empty());
    found
}

/// The code in the text after `Problem::error(`; none where it is a variable.
fn literal(after: &str) -> Option<&str> {
    after.trim_start().strip_prefix('"')?.split('"').next()
}

#[test]
fn every_code_in_the_source_stands_in_the_table() {
    let mut used = BTreeSet::new();
    for (file, text) in all_sources() {
        for maker in MAKERS {
            for after in text.split(maker).skip(1) {
                if let Some(code) = literal(after).filter(|code| code.parse::<Key>().is_ok()) {
                    assert!(
                        find(code).is_some(),
                        "{file}: the code `{code}` is not in diagnostics/codes.rs"
                    );
                    used.insert(code.to_owned());
                }
            }
        }
    }
    assert!(used.len() > 10, "the scan found {used:?} only");
}

#[test]
fn every_flag_that_may_stop_a_shoe_stands_in_the_table() {
    for flag in FLAGS {
        assert!(
            find(flag).is_some(),
            "the flag `{flag}` is not in diagnostics/codes.rs"
        );
    }
}

/// Expressions keep their faults as a code and two texts until their place is known.
#[test]
fn every_fault_of_an_expression_stands_in_the_table() {
    let mut found = 0;
    for (file, text) in all_sources() {
        if !file.contains("expression") {
            continue;
        }
        for code in text.split("code: ").skip(1).filter_map(literal) {
            assert!(find(code).is_some(), "{file}: the code `{code}`");
            found += 1;
        }
    }
    assert!(found >= 3, "{found}");
}

#[test]
fn every_code_in_the_table_stands_in_the_source() {
    let texts: Vec<String> = all_sources()
        .into_iter()
        .filter(|(file, _)| !file.ends_with("codes.rs"))
        .map(|(_, text)| text)
        .collect();
    for code in CODES {
        let quoted = format!("\"{}\"", code.name);
        assert!(
            texts.iter().any(|text| text.contains(&quoted)),
            "`{}` is used nowhere",
            code.name
        );
    }
}
