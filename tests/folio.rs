//! The demo lab published by the program itself, and what outside rules ask of
//! what comes out.

use std::path::Path;
use std::process::{Command, Output};

fn solefolio(root: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .args(arguments)
        .arg("--root")
        .arg(root)
        .output()
        .expect("the program runs")
}

fn new_lab(folder: &Path) {
    let laid = Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .arg("begin")
        .arg(folder)
        .output()
        .expect("the program runs");
    assert!(
        laid.status.success(),
        "{}",
        String::from_utf8_lossy(&laid.stderr)
    );
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

#[test]
fn a_new_lab_publishes_and_a_second_run_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let lab = folder.path().join("lab");
    new_lab(&lab);
    let arguments = ["publish", "--as-of", "2026-11-30", "--pdf", "never"];
    let first = solefolio(&lab, &arguments);
    assert_eq!(
        first.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&first.stderr)
    );
    let page = lab.join("out/shoes/fennick-vale-quarrel-2/index.html");
    let before = page.metadata().unwrap().modified().unwrap();
    let second = solefolio(&lab, &arguments);
    assert!(String::from_utf8_lossy(&second.stderr).contains("nothing changed"));
    assert_eq!(page.metadata().unwrap().modified().unwrap(), before);
    // Without prints no page links to one.
    assert!(!text(&page).contains(".pdf"));
}

/// RFC 4287, 4.1.1 and 4.1.2: what a feed and each entry must have exactly once.
#[test]
fn the_feed_has_what_rfc_4287_requires() {
    let folder = tempfile::tempdir().unwrap();
    let lab = folder.path().join("lab");
    new_lab(&lab);
    solefolio(
        &lab,
        &["publish", "--as-of", "2026-11-30", "--pdf", "never"],
    );
    let feed = text(&lab.join("out/feed.xml"));
    assert!(feed.contains("xmlns=\"http://www.w3.org/2005/Atom\""));
    let (head, entries) = feed.split_once("<entry").expect("there are entries");
    for element in ["<id>", "<title", "<updated>"] {
        assert_eq!(head.matches(element).count(), 1, "{element} of the feed");
    }
    assert!(head.contains("<author>"), "an author for every entry");
    assert!(head.contains("rel=\"self\""));
    for entry in entries.split("<entry") {
        for element in ["<id>", "<title", "<updated>"] {
            assert_eq!(
                entry.matches(element).count(),
                1,
                "{element} of {entry:.200}"
            );
        }
    }
}

#[test]
fn without_typst_require_fails_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let lab = folder.path().join("lab");
    new_lab(&lab);
    let run = |pdf: &str| {
        Command::new(env!("CARGO_BIN_EXE_solefolio"))
            .args(["publish", "--as-of", "2026-11-30", "--pdf", pdf, "--root"])
            .arg(&lab)
            .env("SOLEFOLIO_TYPST", "/nonexistent/typst")
            .output()
            .expect("the program runs")
    };
    let required = run("require");
    assert_eq!(required.status.code(), Some(3));
    assert!(!lab.join("out/index.html").exists());
    let auto = run("auto");
    assert_eq!(auto.status.code(), Some(0));
    let said = String::from_utf8_lossy(&auto.stderr).into_owned();
    assert!(said.contains("PDFs are missing"));
    // What brings them is said once.
    assert_eq!(said.matches("cargo install").count(), 1, "{said}");
    assert!(lab.join("out/index.html").exists());
}

#[test]
fn a_problem_stops_publishing_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let lab = folder.path().join("lab");
    new_lab(&lab);
    let shoe = lab.join("shoes/fennick-vale-quarrel-2.yaml");
    std::fs::write(&shoe, text(&shoe).replacen("maker:", "makr:", 1)).unwrap();
    let stopped = solefolio(
        &lab,
        &["publish", "--as-of", "2026-11-30", "--format", "json"],
    );
    assert_eq!(stopped.status.code(), Some(1));
    assert!(!lab.join("out/index.html").exists());
    let said: serde_json::Value = serde_json::from_slice(&stopped.stdout).expect("JSON alone");
    assert_eq!(said[0]["code"], "unknown-key");
    assert!(said[0]["line"].is_number());
    let usage = solefolio(&lab, &["publish", "--no-such-option"]);
    assert_eq!(usage.status.code(), Some(2));
}
