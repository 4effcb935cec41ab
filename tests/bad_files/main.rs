//! The program against a table of mistakes: each changes one file of a small lab,
//! is found at its place with its code, and keeps anything from being published.

mod cases;
#[path = "../common/folders.rs"]
mod folders;

use cases::{CASES, CURVE, Case, Edit, INSTRUMENTS, KESTREL, LAB, PHRASES, PROTOCOL, RULES};
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

/// Takes away the line break at the end of a file.
fn cut(path: &Path) {
    let text = fs::read_to_string(path).expect("read");
    let kept = text.strip_suffix('\n').expect("its last line has an end");
    fs::write(path, kept).expect("written");
}

#[test]
fn a_file_that_may_have_been_cut_off_is_warned_of_once_and_published() {
    let whole = small_lab();
    let reading = "[6.12, 6.05, 6.17]";
    let shoe = whole.path().join(KESTREL);
    // The last line holds a reading, and two specimens name the curve.
    replace(
        &shoe,
        &format!(
            "{reading}\n      heel-load-curve: {{curve: curves/kestrel.csv}}\nsummary: An invented shoe.\n"
        ),
        &format!("{reading}\n      heel-load-curve: {{curve: curves/kestrel.csv}}\n"),
    );
    let text = fs::read_to_string(&shoe).unwrap();
    let first = text.find("  - ").expect("a specimen");
    let again = text[first..].replacen("id: ", "id: X", 1);
    fs::write(&shoe, format!("{text}{again}")).unwrap();
    let before = fs::read_to_string(whole.path().join(RULES)).unwrap();
    let before = before.replacen("effective: 2026", "effective: 2025", 1);
    replace(&whole.path().join(RULES), "version: 1\n", "version: 2\n");
    for (file, text) in [
        (
            "lab/control.csv",
            "date,mass (g)\n2026-11-02,250\n2026-11-09,251\n",
        ),
        (
            "lab/gauge-study.csv",
            "part,operator,trial,mass (g)\na,x,1,250\na,x,2,251\na,y,1,251\na,y,2,250\nb,x,1,260\nb,x,2,261\nb,y,1,261\nb,y,2,260\n",
        ),
        ("lab/languages/en/words.yaml", "schema: 1\nname: English\n"),
        ("lab/earlier/rules-1.yaml", &*before),
    ] {
        let path = whole.path().join(file);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }
    let found = |root: &Path| {
        let (exit, printed, said) = run(root, &["proof", "--format", "json"]);
        let mut problems: Vec<Value> = serde_json::from_str(&printed).expect("a JSON list");
        assert_eq!(exit, 0, "{problems:#?} {said}");
        // A language that is only begun lacks words, too.
        problems.retain(|problem| problem["code"] == "cut-off");
        problems
    };
    assert_eq!(found(whole.path()), Vec::<Value>::new());
    for file in [
        LAB,
        PROTOCOL,
        INSTRUMENTS,
        RULES,
        PHRASES,
        KESTREL,
        CURVE,
        "lab/control.csv",
        "lab/gauge-study.csv",
        "lab/languages/en/words.yaml",
        "lab/earlier/rules-1.yaml",
    ] {
        let lab = tempfile::tempdir().unwrap();
        copy(whole.path(), lab.path(), &|_| true);
        cut(&lab.path().join(file));
        let text = fs::read_to_string(lab.path().join(file)).unwrap();
        let (line, last) = text.lines().enumerate().last().unwrap();
        let problems = found(lab.path());
        assert_eq!(problems.len(), 1, "{file}: {problems:#?}");
        assert_eq!(problems[0]["severity"], "warning");
        let end = format!("{file}:{}:{}", line + 1, last.chars().count() + 1);
        assert_eq!(place(&problems[0]), end);
        let (exit, _, said) = run(lab.path(), &["publish", "--pdf", "never"]);
        assert_eq!(exit, 0, "{file}: {said}");
        assert_eq!(
            said.matches("warning[cut-off]").count(),
            1,
            "{file}: {said}"
        );
        assert!(lab.path().join("out/index.html").exists());
    }
}

/// What the warning is for: the reading that is left is plausible, the file well formed.
#[test]
fn of_a_reading_that_lost_its_end_the_line_is_shown() {
    let lab = small_lab();
    let shoe = lab.path().join("shoes/wren.yaml");
    replace(&shoe, "[240, 241, 240]", "241.9");
    let text = fs::read_to_string(&shoe).unwrap();
    let upto = text.find("241.9").unwrap() + 3;
    fs::write(&shoe, &text[..upto]).unwrap();
    let (exit, _, said) = run(lab.path(), &["proof", "--color", "never"]);
    assert_eq!(exit, 0, "{said}");
    let shown = said
        .split("warning[cut-off]")
        .nth(1)
        .expect("it is warned of");
    for piece in [
        "a line break was expected behind the last line, `mass: 241`",
        "--> shoes/wren.yaml:",
        "if nothing is missing, end the line with a line break",
    ] {
        assert!(shown.contains(piece), "{piece} in {said}");
    }
}

/// The files below a folder that a lab is made of.
fn lab_files(folder: &Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in fs::read_dir(folder).expect("listed") {
        let path = entry.expect("an entry").path();
        let ending = path.extension().and_then(|ending| ending.to_str());
        if path.is_dir() {
            lab_files(&path, found);
        } else if matches!(ending, Some("yaml" | "yml" | "csv")) {
            found.push(path);
        }
    }
}

#[test]
fn no_file_of_the_demo_or_that_the_program_writes_ends_within_a_line() {
    let repository = Path::new(env!("CARGO_MANIFEST_DIR"));
    let lab = tempfile::tempdir().unwrap();
    let new = lab.path().join("new");
    let begun = Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .arg("begin")
        .arg(&new)
        .output()
        .expect("the program starts");
    assert!(begun.status.success(), "{begun:?}");
    let record = ["record", "lindqvarn-tussock", "mass", "315"];
    let sheet = lab.path().join("sheet.csv");
    fs::write(&sheet, "shoe,specimen,quantity,value,unit,trial\nlindqvarn-tussock,TS-L,midfoot-torque,5.6,N·m,1\n").unwrap();
    let intake = ["intake", sheet.to_str().unwrap(), "--apply", "--replace"];
    for arguments in [&record[..], &intake[..]] {
        let output = Command::new(env!("CARGO_BIN_EXE_solefolio"))
            .args(arguments)
            .arg("--root")
            .arg(&new)
            .output()
            .expect("the program starts");
        assert!(output.status.success(), "{arguments:?} {output:?}");
    }
    let seal = ["seal", "--because", "first edition of the test"];
    let (exit, _, said) = run(&new, &seal);
    assert_eq!(exit, 0, "{said}");
    let output = Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .args(["translate", "de", "--root"])
        .arg(&new)
        .output()
        .expect("the program starts");
    assert!(
        output.status.success() && output.stdout.ends_with(b"\n"),
        "{output:?}"
    );
    let mut files = Vec::new();
    for folder in [
        repository.join("lab"),
        repository.join("shoes"),
        repository.join("tests/data/small-lab"),
        new,
    ] {
        lab_files(&folder, &mut files);
    }
    assert!(files.len() > 50, "{files:?}");
    for file in files {
        let text = fs::read(&file).unwrap();
        assert!(
            text.ends_with(b"\n"),
            "{} ends within a line",
            file.display()
        );
    }
}
