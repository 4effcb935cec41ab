//! The demo laboratory's ledger is what sealing its weeks really gives, byte for
//! byte: first published under version 3 of the rule set, corrected when version 4
//! came, and each later week sealed as it came out.
//!
//! After a change of the demo's shoes, protocol, rules or of a printed figure:
//! `UPDATE_DEMO_LEDGER=1 cargo test --test demo_ledger`.

mod seal_support;

use seal_support::{Lab, demo};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// The days the demo's editor sealed, and why.
const SEALED: [(&str, &str); 6] = [
    ("2026-10-31", "First published."),
    (
        "2026-11-02",
        "The autumn control measurements showed that the torsion points above 45 in·lbf stood too close together.",
    ),
    ("2026-11-05", "First published."),
    ("2026-11-12", "First published."),
    ("2026-11-19", "First published."),
    ("2026-11-26", "First published."),
];

const FILES: [&str; 2] = ["lab/ledger.jsonl", "lab/ledger.head"];
const EDITIONS: &str = "lab/editions";

fn sealed_again() -> Lab {
    let lab = demo();
    for file in FILES {
        let _ = fs::remove_file(lab.path().join(file));
    }
    let _ = fs::remove_dir_all(lab.path().join(EDITIONS));
    for (day, because) in SEALED {
        lab.run(&["seal", "--as-of", day, "--because", because])
            .assert()
            .success();
    }
    lab
}

/// The files of the frozen editions below a lab's folder.
fn frozen(lab: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    for edition in fs::read_dir(lab.join(EDITIONS)).into_iter().flatten() {
        let edition = edition.expect("an edition").path();
        if edition.is_file() {
            continue; // .gitattributes
        }
        for file in fs::read_dir(&edition).expect("its files") {
            let path = file.expect("a file").path();
            let name = path.strip_prefix(lab).expect("in the lab's folder");
            let bytes = fs::read(&path).expect("a file can be read");
            files.insert(name.to_string_lossy().replace('\\', "/"), bytes);
        }
    }
    files
}

#[test]
fn the_demos_frozen_editions_are_what_sealing_its_weeks_gives() {
    let lab = sealed_again();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR"));
    let made = frozen(lab.path());
    assert_eq!(made.len(), SEALED.len() * 7);
    if std::env::var_os("UPDATE_DEMO_LEDGER").is_some() {
        let _ = fs::remove_dir_all(demo.join(EDITIONS));
        fs::create_dir_all(demo.join(EDITIONS)).expect("it can be made");
        fs::write(demo.join(EDITIONS).join(".gitattributes"), "* -text\n").expect("it is written");
        for (name, bytes) in &made {
            let path = demo.join(name);
            fs::create_dir_all(path.parent().expect("a folder")).expect("it can be made");
            fs::write(path, bytes).expect("it can be written");
        }
    }
    let kept = frozen(demo);
    let differing: Vec<&String> = made
        .iter()
        .filter(|(name, bytes)| kept.get(*name) != Some(bytes))
        .map(|(name, _)| name)
        .chain(kept.keys().filter(|name| !made.contains_key(*name)))
        .collect();
    assert!(
        differing.is_empty(),
        "out of date: UPDATE_DEMO_LEDGER=1 cargo test --test demo_ledger\n{differing:?}"
    );
}

#[test]
fn the_demos_ledger_is_what_sealing_its_weeks_gives() {
    let lab = sealed_again();
    for file in FILES {
        let kept = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
        let made = fs::read(lab.path().join(file)).expect("it was sealed");
        if std::env::var_os("UPDATE_DEMO_LEDGER").is_some() {
            fs::write(&kept, &made).expect("the demo's ledger can be written");
        }
        assert!(
            fs::read(&kept).is_ok_and(|kept| kept == made),
            "{file} is out of date: UPDATE_DEMO_LEDGER=1 cargo test --test demo_ledger"
        );
    }
}

#[test]
fn the_demo_tells_of_two_rule_set_versions_and_of_corrections_on_some_pages() {
    let lab = sealed_again();
    lab.run(&["publish", "--as-of", "2026-11-29", "--pdf", "never"])
        .assert()
        .success();
    let ledger = lab.text("lab/ledger.jsonl");
    let versions: std::collections::BTreeSet<u64> = ledger
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).expect("an entry"))
        .map(|entry| entry["rules"]["version"].as_u64().expect("a version"))
        .collect();
    assert_eq!(versions.into_iter().collect::<Vec<_>>(), [3, 4]);
    let (mut corrected, mut plain) = (0, 0);
    for shoe in fs::read_dir(lab.path().join("out/shoes")).expect("reviews") {
        let page = shoe.expect("a folder").path().join("index.html");
        let page = fs::read_to_string(page).expect("a page");
        if page.contains("Rule set version 3 → 4; protocol version") {
            corrected += 1;
        } else {
            plain += 1;
        }
    }
    assert!(corrected >= 3 && plain >= 10, "{corrected} and {plain}");
    assert!(lab.text("out/method/index.html").contains("version 3 → 4"));
    assert!(
        lab.text("out/feed.xml")
            .contains("Corrected on 2 November 2026")
    );
}

#[test]
fn an_edition_before_the_new_rule_set_is_made_under_the_old_one() {
    let lab = demo();
    lab.run(&["publish", "--as-of", "2026-10-31", "--pdf", "never"])
        .assert()
        .success();
    let folio: serde_json::Value =
        serde_json::from_str(&lab.text("out/data/folio.json")).expect("JSON");
    assert_eq!(folio["rules_version"], 3);
    assert!(!lab.text("out/method/index.html").contains("version 3 → 4"));
}
