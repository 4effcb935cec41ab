//! What the program is built from: every direct dependency is justified in
//! `DEVELOPERS.md`, the compiler it needs is stated, and our code forbids `unsafe`.
//! Licences, bans and sources are `deny.toml`'s, checked by `.ci/run`.

use std::collections::BTreeSet;
use std::path::Path;

fn read(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("it is there")
}

/// The names below a table's heading of `Cargo.toml`, up to the next heading.
fn names(manifest: &str, heading: &str) -> BTreeSet<String> {
    let below = manifest
        .split(&format!("\n[{heading}]\n"))
        .nth(1)
        .expect("the table is there");
    let below = below.split("\n[").next().unwrap_or_default();
    below
        .lines()
        .filter_map(|line| Some(line.split_once('=')?.0.trim().to_owned()))
        .filter(|name| !name.starts_with('#'))
        .collect()
}

/// The names in the first column of a table below a heading of a document.
fn rows(document: &str, heading: &str) -> BTreeSet<String> {
    let below = document
        .split(&format!("\n## {heading}\n"))
        .nth(1)
        .expect("the heading is there");
    let below = below.split("\n## ").next().unwrap_or_default();
    below
        .lines()
        .filter(|line| line.starts_with("| "))
        .filter_map(|line| line.split('|').nth(1))
        .flat_map(|cell| cell.split(','))
        // `serde_yaml (the maintained …)`
        .filter_map(|name| name.split_whitespace().next())
        .map(str::to_owned)
        .collect()
}

#[test]
fn every_direct_dependency_has_a_row_that_says_what_it_is_for() {
    let manifest = read("Cargo.toml");
    let justified = rows(&read("DEVELOPERS.md"), "Dependencies");
    for heading in ["dependencies", "dev-dependencies"] {
        let direct = names(&manifest, heading);
        assert!(direct.len() >= 5, "{heading}: {direct:?}");
        let missing: Vec<&String> = direct.difference(&justified).collect();
        assert_eq!(
            missing,
            [] as [&String; 0],
            "no row in DEVELOPERS.md for these {heading}"
        );
    }
}

#[test]
fn no_row_is_about_a_dependency_that_is_gone() {
    let manifest = read("Cargo.toml");
    let direct: BTreeSet<String> =
        &names(&manifest, "dependencies") | &names(&manifest, "dev-dependencies");
    let others = ["crate", "---", "typst-cli"].map(str::to_owned);
    let gone: Vec<String> = rows(&read("DEVELOPERS.md"), "Dependencies")
        .into_iter()
        .filter(|name| !direct.contains(name) && !others.contains(name))
        .collect();
    assert_eq!(gone, [] as [String; 0]);
}

#[test]
fn the_compiler_that_is_needed_is_stated_where_people_look() {
    let manifest = read("Cargo.toml");
    let version = manifest
        .lines()
        .find_map(|line| line.strip_prefix("rust-version = \"")?.strip_suffix('"'))
        .expect("the manifest states it");
    for file in ["README.md", "DEVELOPERS.md"] {
        let said = format!("Rust {version}");
        assert!(read(file).contains(&said), "{file} does not say `{said}`");
    }
}

#[test]
fn unsafe_code_is_forbidden_in_every_target() {
    let manifest = read("Cargo.toml");
    assert!(names(&manifest, "lints.rust").contains("unsafe_code"));
    assert!(manifest.contains("unsafe_code = \"forbid\""));
    assert!(read("src/lib.rs").contains("#![forbid(unsafe_code)]"));
}
