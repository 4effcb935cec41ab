//! The program against a table of mistakes: each changes one file of a small lab,
//! is found at its place with its code, and keeps anything from being published.

mod cases;
#[path = "../common/folders.rs"]
mod folders;

use cases::{CASES, Case, Edit, INSTRUMENTS, KESTREL, LAB, PHRASES, PROTOCOL, RULES};
use folders::copy;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use tempfile::TempDir;

fn small_lab() -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    copy(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/small-lab"),
        folder.path(),
        &|_| true,
    );
    folder
}

fn replace(path: &Path, old: &str, new: &str) {
    let text = fs::read_to_string(path).expect("the file can be read");
    assert!(text.contains(old), "{} holds no `{old}`", path.display());
    fs::write(path, text.replacen(old, new, 1)).expect("the file can be written");
}

fn edit(root: &Path, file: &str, edit: Edit) {
    let path = root.join(file);
    fs::create_dir_all(path.parent().expect("a file lies in a folder")).expect("made");
    match edit {
        Edit::Replace(old, new) => replace(&path, old, new),
        Edit::Deep(old, depth) => replace(
            &path,
            old,
            &format!("{}{}", "[".repeat(depth), "]".repeat(depth)),
        ),
        Edit::Long(old, length) => replace(&path, old, &"x".repeat(length)),
        Edit::Write(bytes) => fs::write(path, bytes).expect("written"),
        Edit::Fill(first, more, times) => {
            fs::write(path, first.to_owned() + &more.repeat(times)).expect("written");
        }
        Edit::Keep(lines) => {
            let text = fs::read_to_string(&path).expect("read");
            let kept: Vec<&str> = text.split_inclusive('\n').take(lines).collect();
            fs::write(path, kept.concat()).expect("written");
        }
        Edit::CopyOf(other) => {
            fs::copy(root.join(other), path).expect("copied");
        }
        Edit::LinkTo(target) => std::os::unix::fs::symlink(target, path).expect("linked"),
        Edit::Remove => fs::remove_file(path).expect("removed"),
    }
}

/// Exit code, standard output and standard error.
fn run(root: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .args(arguments)
        .args(["--as-of", "2026-11-30"])
        .arg("--root")
        .arg(root)
        .env("SOLEFOLIO_TYPST", "/nonexistent/typst")
        .output()
        .expect("the program starts");
    (
        output.status.code().expect("it was not killed"),
        String::from_utf8(output.stdout).expect("results are UTF-8"),
        String::from_utf8(output.stderr).expect("messages are UTF-8"),
    )
}

fn place(problem: &Value) -> String {
    let file = problem["file"].as_str().unwrap_or_default();
    match (&problem["line"], &problem["column"]) {
        (Value::Number(line), Value::Number(column)) => format!("{file}:{line}:{column}"),
        _ => file.to_owned(),
    }
}

/// What is wrong with how a case came out; nothing if it came out as expected.
fn fault((file, what, code, at, path, message, hint): &Case) -> Option<String> {
    let lab = small_lab();
    edit(lab.path(), file, *what);
    let (exit, printed, _) = run(lab.path(), &["proof", "--format", "json"]);
    let Ok(problems) = serde_json::from_str::<Vec<Value>>(&printed) else {
        return Some(format!("{file} {what:?}: no JSON list: {printed}"));
    };
    let says = |problem: &Value, field: &str, piece: &str| {
        problem[field].as_str().unwrap_or_default().contains(piece)
    };
    let hit = problems.iter().any(|problem| {
        problem["code"] == *code
            && problem["severity"] == "error"
            && place(problem) == *at
            && problem["path"] == *path
            && says(problem, "message", message)
            && says(problem, "hint", hint)
    });
    if exit != 1 || !hit {
        let found: Vec<String> = problems
            .iter()
            .take(3)
            .map(|problem| format!("{} at {}: {problem}", problem["code"], place(problem)))
            .collect();
        return Some(format!(
            "{file} {what:?}: expected {code} at {at} [{path}], found (exit {exit}) {found:#?}"
        ));
    }
    let (exit, _, _) = run(lab.path(), &["publish", "--pdf", "never", "-q"]);
    (exit != 1 || lab.path().join("out").exists())
        .then(|| format!("{file} {what:?}: publish ended with {exit}, or wrote something"))
}

#[test]
fn every_mistake_is_found_at_its_place_and_nothing_is_published() {
    assert!(CASES.len() >= 60);
    let next = AtomicUsize::new(0);
    let faults = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                while let Some(case) = CASES.get(next.fetch_add(1, Ordering::Relaxed)) {
                    if let Some(fault) = fault(case) {
                        faults
                            .lock()
                            .unwrap_or_else(PoisonError::into_inner)
                            .push(fault);
                    }
                }
            });
        }
    });
    let faults = faults.into_inner().unwrap_or_else(PoisonError::into_inner);
    assert!(
        faults.is_empty(),
        "{} of {} cases:\n{}",
        faults.len(),
        CASES.len(),
        faults.join("\n")
    );
}

#[test]
fn what_looks_like_a_mistake_and_is_none_is_taken() {
    for (file, old, new) in [
        (KESTREL, "schema: 1", "schema: 1.0"),
        (KESTREL, "model: Kestrel", "model: \"*Kestrel & Co\""),
        (KESTREL, "# Invented", "\u{feff}# Invented"),
        (KESTREL, "[262, 263, 262]", "[9.25 oz, 263 g, 0.262 kg]"),
        (KESTREL, "22.8 °C", "73 °F"),
        (KESTREL, "soaked: 14 h", "soaked: 840 min"),
        (RULES, "[[11, 0], [9, 20]", "[ [ 11.0, 0 ], [9, 20]"),
        (
            PHRASES,
            "short: gives little",
            "short: gives a high resistance",
        ),
    ] {
        let lab = small_lab();
        replace(&lab.path().join(file), old, new);
        let (exit, _, said) = run(lab.path(), &["proof"]);
        let refused = new == "schema: 1.0";
        assert_eq!(exit, i32::from(refused), "{file} `{new}`: {said}");
    }
}

#[test]
fn mistakes_of_all_files_come_in_one_run_each_with_its_line() {
    let lab = small_lab();
    for (file, old, new) in [
        (LAB, "contact:", "contcat:"),
        (PROTOCOL, "unit: mm", "unit: mmm"),
        (INSTRUMENTS, "0.6 g", "0.6"),
        (PHRASES, "cautions:", "cautoins:"),
        (KESTREL, "model: Kestrel", "modle: Kestrel"),
        (KESTREL, "[262, 263, 262]", "[\"262,5\", 263, 262]"),
        (KESTREL, "2026-11-20", "2026-02-30"),
    ] {
        replace(&lab.path().join(file), old, new);
    }
    let (exit, printed, said) = run(lab.path(), &["proof", "--color", "never"]);
    assert_eq!((exit, printed.as_str()), (1, ""));
    insta::assert_snapshot!(said, @r#"
    error[unit-missing]: `0.6` has no unit
     --> lab/instruments.yaml:7:65
      |
    7 |     calibration: {on: 2026-03-02, due: 2027-03-02, uncertainty: 0.6, k: 2}
      |                                                                 ^^^
      |
      = note: at instruments.scale.calibration.uncertainty
      = help: write the unit behind the number, such as `0.05 N·m`

    error[unknown-key]: the key `contcat` is not known here
     --> lab/lab.yaml:7:1
      |
    7 | contcat: desk@small-bench.example
      | ^^^^^^^
      |
      = note: at contcat
      = help: did you mean `contact`? known here: `schema`, `name`, `invented`, `about`, `address`, `contact`, `language`, `units`, `paper`, `large-print`, `social-cards`, `licence`, `categories`, `operators`, `programs`

    error[unknown-key]: the key `cautoins` is not known here
      --> lab/phrases.yaml:30:1
       |
    30 | cautoins:
       | ^^^^^^^^
       |
       = note: at cautoins
       = help: did you mean `cautions`? known here: `schema`, `findings`, `advice`, `fit`, `guide`, `cautions`

    error[unknown-unit]: `mmm` is no unit known here
      --> lab/protocol.yaml:31:11
       |
    31 |     unit: mmm
       |           ^^^
       |
       = note: at quantities.heel-compression.unit
       = help: did you mean `mm`?

    error[unknown-key]: the key `modle` is not known here
     --> shoes/kestrel.yaml:4:1
      |
    4 | modle: Kestrel
      | ^^^^^
      |
      = note: at modle
      = help: did you mean `model`? known here: `schema`, `maker`, `model`, `version`, `colour`, `category`, `size`, `price`, `released`, `publish`, `specimens`, `summary`, `review`, `words`, `accept`, `leave-out`, `formerly`, `withdrawn`, `translations`, `notes`

    error[wrong-form]: `2026-02-30` is no day: February 2026 has 28 days
     --> shoes/kestrel.yaml:8:10
      |
    8 | publish: 2026-02-30
      |          ^^^^^^^^^^
      |
      = note: at publish
      = help: write a date such as 2026-11-18

    error[wrong-form]: `262,5` has a comma; write a decimal point
      --> shoes/kestrel.yaml:15:14
       |
    15 |       mass: ["262,5", 263, 262]
       |              ^^^^^^^
       |
       = note: at specimens[0].readings.mass[0]
       = help: write `262.5`

    7 problems in 5 files
    `solefolio explain unit-missing` says more
    "#);
}

#[test]
fn a_flag_that_stops_is_accepted_with_a_reason() {
    let lab = small_lab();
    let shoe = lab.path().join(KESTREL);
    replace(&shoe, "[262, 263, 262]", "[262, 271, 262]");
    assert_eq!(run(lab.path(), &["proof"]).0, 1);
    replace(
        &shoe,
        "summary:",
        "accept: [{flag: spread, of: mass, reason: the laces were changed}]\nsummary:",
    );
    let (exit, _, said) = run(lab.path(), &["proof"]);
    assert_eq!(exit, 0, "{said}");
}

#[test]
fn a_flag_on_a_draft_is_shown_and_holds_nobody_up() {
    let lab = small_lab();
    replace(
        &lab.path().join("shoes/wren.yaml"),
        "[240, 241, 240]",
        "[240, 251, 240]",
    );
    let (exit, _, said) = run(lab.path(), &["proof"]);
    assert_eq!(exit, 0, "{said}");
    assert!(said.contains("warning[spread]"), "{said}");
    let (exit, _, _) = run(lab.path(), &["publish", "--pdf", "never"]);
    assert_eq!(exit, 0);
}

#[test]
fn a_sealed_lab_refuses_a_touched_ledger_and_a_silent_change_of_rules() {
    let lab = small_lab();
    let (exit, _, said) = run(
        lab.path(),
        &["seal", "--because", "first edition of the test"],
    );
    assert_eq!(exit, 0, "{said}");
    let codes = |lab: &TempDir| -> Vec<(String, String)> {
        let (_, printed, _) = run(lab.path(), &["proof", "--format", "json"]);
        serde_json::from_str::<Vec<Value>>(&printed)
            .unwrap()
            .iter()
            .map(|problem| {
                let of = |field: &str| problem[field].as_str().unwrap().to_owned();
                (of("code"), of("file"))
            })
            .collect()
    };
    let found = |code: &str, file: &str| vec![(code.to_owned(), file.to_owned())];
    assert_eq!(codes(&lab), []);

    let rules = lab.path().join(RULES);
    replace(&rules, "[9, 20]", "[9.1, 20]");
    assert_eq!(codes(&lab), found("version-not-raised", RULES));
    replace(&rules, "[9.1, 20]", "[9, 20]");
    assert_eq!(codes(&lab), []);

    let ledger = lab.path().join("lab/ledger.jsonl");
    let sealed = fs::read_to_string(&ledger).unwrap();
    fs::write(
        &ledger,
        sealed.replacen("first edition", "other edition", 1),
    )
    .unwrap();
    assert_eq!(codes(&lab), found("ledger-broken", "lab/ledger.jsonl"));
    fs::write(
        &ledger,
        sealed.split_inclusive('\n').skip(1).collect::<String>(),
    )
    .unwrap();
    assert_eq!(codes(&lab), found("ledger-broken", "lab/ledger.jsonl"));
}
