//! A published folio can be checked anywhere against its manifest, by the
//! program and by coreutils' `sha256sum`.

#[path = "common/tools.rs"]
mod tools;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn solefolio(arguments: &[&str], folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .args(arguments)
        .arg(folder)
        .output()
        .expect("the program runs")
}

/// The demo, published, and its folio copied elsewhere.
fn copied() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let lab = folder.path().join("lab");
    assert!(solefolio(&["begin"], &lab).status.success());
    let publish = [
        "publish",
        "--as-of",
        "2026-11-30",
        "--pdf",
        "never",
        "--root",
    ];
    assert!(solefolio(&publish, &lab).status.success());
    let done = Command::new("cp")
        .arg("-r")
        .arg(lab.join("out"))
        .arg(folder.path().join("copy"))
        .status();
    assert!(done.expect("cp runs").success());
    folder
}

fn checked(folio: &Path) -> (Option<i32>, serde_json::Value) {
    let output = solefolio(&["proof", "--format", "json", "--folio"], folio);
    let said = serde_json::from_slice(&output.stdout).expect("JSON");
    (output.status.code(), said)
}

#[test]
fn a_copy_is_sound_by_our_own_word_and_by_that_of_sha256sum() {
    let folder = copied();
    let copy = folder.path().join("copy");
    let (code, said) = checked(&copy);
    assert_eq!(code, Some(0), "{said}");
    let sums = fs::read_to_string(copy.join("SHA256SUMS")).unwrap();
    assert_eq!(said["sound"], sums.lines().count());
    // Listed is all that is there, but the manifest itself.
    let there = walkdir::WalkDir::new(&copy)
        .into_iter()
        .filter_entry(|entry| {
            entry.depth() == 0 || !entry.file_name().as_encoded_bytes().starts_with(b".")
        })
        .filter(|entry| entry.as_ref().is_ok_and(|e| e.file_type().is_file()))
        .count();
    assert_eq!(there, sums.lines().count() + 1);
    let Ok(by_others) = Command::new("sha256sum")
        .args(["--check", "--strict", "--quiet", "SHA256SUMS"])
        .current_dir(&copy)
        .output()
    else {
        return tools::left_out("sha256sum is not installed");
    };
    assert!(by_others.status.success(), "{by_others:?}");
}

#[test]
fn each_missing_altered_and_extra_file_of_a_copy_is_named() {
    let folder = copied();
    let copy = folder.path().join("copy");
    fs::remove_file(copy.join("feed.xml")).unwrap();
    let page = copy.join("method/index.html");
    fs::write(&page, fs::read_to_string(&page).unwrap() + " ").unwrap();
    fs::write(copy.join("shoes/note.txt"), "").unwrap();
    let (code, said) = checked(&copy);
    assert_eq!(code, Some(1));
    assert_eq!(said["missing"], serde_json::json!(["feed.xml"]));
    assert_eq!(said["altered"], serde_json::json!(["method/index.html"]));
    assert_eq!(said["extra"], serde_json::json!(["shoes/note.txt"]));

    let output = solefolio(&["proof", "--folio"], &copy);
    assert_eq!(output.status.code(), Some(1));
    let named = String::from_utf8_lossy(&output.stdout).into_owned();
    assert_eq!(
        named,
        "missing   feed.xml\naltered   method/index.html\nextra     shoes/note.txt\n"
    );
}

#[test]
fn a_folder_without_a_manifest_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let output = solefolio(&["proof", "--folio"], folder.path());
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stdout).contains("it has no SHA256SUMS"));
    let output = solefolio(&["proof", "--folio"], &folder.path().join("nowhere"));
    assert_eq!(output.status.code(), Some(4));
}
