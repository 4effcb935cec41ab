//! The command line from outside: exit codes, streams, colours, what is written
//! and what is not.

#[path = "common/folders.rs"]
mod folders;
use folders::copy;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The program without Typst, whatever this machine has.
fn solefolio(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_solefolio"));
    command
        .args(arguments)
        .env("SOLEFOLIO_TYPST", "/nonexistent/typst")
        .env("PATH", "")
        .env("HOME", "/nonexistent")
        .env_remove("CARGO_HOME")
        .env_remove("CLICOLOR_FORCE")
        .env_remove("NO_COLOR");
    command
}

fn run(arguments: &[&str]) -> Output {
    solefolio(arguments).output().expect("the program starts")
}

fn code(output: &Output) -> i32 {
    output.status.code().expect("it was not killed")
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("messages are UTF-8")
}

fn printed(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("results are UTF-8")
}

/// A copy of the small lab, and its root as an argument.
fn small_lab() -> (TempDir, String) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    copy(
        &project().join("tests/data/small-lab"),
        folder.path(),
        &|_| true,
    );
    let root = folder.path().display().to_string();
    (folder, root)
}

/// Every file below a folder with its bytes.
fn tree(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut left = vec![folder.to_owned()];
    while let Some(at) = left.pop() {
        for entry in fs::read_dir(&at).expect("a folder can be listed") {
            let path = entry.expect("a folder can be listed").path();
            if path.is_dir() {
                left.push(path);
            } else {
                files.insert(path.clone(), fs::read(&path).expect("a file can be read"));
            }
        }
    }
    files
}

fn mistype(root: &str) {
    let shoe = Path::new(root).join("shoes/kestrel.yaml");
    let text = fs::read_to_string(&shoe).unwrap();
    fs::write(shoe, text.replace("model: Kestrel", "modle: Kestrel")).unwrap();
}

#[test]
fn a_whole_lab_is_published_with_0_and_mistakes_end_in_1_with_nothing_written() {
    let (folder, root) = small_lab();
    let done = run(&["publish", "--root", &root, "--as-of", "2026-11-30"]);
    assert_eq!(code(&done), 0, "{}", said(&done));
    assert!(folder.path().join("out/shoes/kestrel/index.html").is_file());

    let before = tree(folder.path());
    mistype(&root);
    let refused = run(&["publish", "--root", &root, "--as-of", "2026-11-30"]);
    assert_eq!(code(&refused), 1);
    assert!(
        said(&refused).contains("error[unknown-key]"),
        "{}",
        said(&refused)
    );
    let mut after = tree(folder.path());
    let shoe = folder.path().join("shoes/kestrel.yaml");
    after.insert(shoe.clone(), before[&shoe].clone());
    assert!(before == after, "something was written");
}

#[test]
fn a_wrong_command_line_ends_in_2_and_says_what_is_known() {
    let (_folder, root) = small_lab();
    for (arguments, piece) in [
        (vec!["publsh"], "publish"),
        (vec!["proof", "--as-off", "2026-11-30"], "--as-of"),
        (vec!["proof", "--as-of", "2026-02-30"], "28 days"),
        (vec!["publish", "--pdf", "maybe"], "require"),
        (vec!["schema", "shoos"], "shoe"),
        (vec!["proof", "-q", "-v"], "--verbose"),
        (vec!["trace", "kestral"], "did you mean `kestrel`?"),
        (
            vec!["trace", "kestrel", "firmnes"],
            "did you mean `firmness`?",
        ),
        (
            vec!["explain", "unknown-kee"],
            "did you mean `unknown-key`?",
        ),
    ] {
        let mut all = vec!["--root", &root];
        all.extend(&arguments);
        let output = run(&all);
        assert_eq!(code(&output), 2, "{arguments:?}: {}", said(&output));
        assert!(
            said(&output).contains(piece),
            "{arguments:?}: {}",
            said(&output)
        );
        assert_eq!(printed(&output), "", "{arguments:?}");
    }
}

#[test]
fn without_typst_pdf_require_ends_in_3_before_anything_is_written() {
    let (folder, root) = small_lab();
    let before = tree(folder.path());
    let output = run(&[
        "publish",
        "--root",
        &root,
        "--as-of",
        "2026-11-30",
        "--pdf",
        "require",
    ]);
    assert_eq!(code(&output), 3, "{}", said(&output));
    assert!(said(&output).contains("typst"), "{}", said(&output));
    assert!(before == tree(folder.path()), "something was written");
}

#[test]
fn what_cant_be_read_or_written_ends_in_4() {
    let (folder, root) = small_lab();
    fs::write(
        folder.path().join("out"),
        "a file where the folio should be",
    )
    .unwrap();
    let output = run(&["publish", "--root", &root, "--as-of", "2026-11-30"]);
    assert_eq!(code(&output), 4, "{}", said(&output));
    assert!(said(&output).contains("out"), "{}", said(&output));

    let nowhere = run(&["proof", "--root", "/nonexistent/lab"]);
    assert_eq!(code(&nowhere), 4);
    assert!(said(&nowhere).contains("/nonexistent/lab"));
}

#[test]
fn json_stands_alone_on_standard_output() {
    let (_folder, root) = small_lab();
    let as_of = ["--root", &root, "--as-of", "2026-11-30", "--format", "json"];
    let json = |command: &str, more: &[&str]| -> (i32, Value) {
        let mut all = vec![command];
        all.extend(more);
        let output = run(&all);
        let value = serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|error| panic!("{command}: {error}: {}", printed(&output)));
        (code(&output), value)
    };
    assert_eq!(json("proof", &as_of), (0, Value::Array(Vec::new())));
    let (exit, report) = json("publish", &as_of);
    assert_eq!(exit, 0);
    assert!(report.is_object(), "{report}");
    assert_eq!(report["problems"], Value::Array(Vec::new()));
    let (exit, way) = json("trace", &["kestrel", "--root", &root, "--format", "json"]);
    assert_eq!((exit, way["shoe"].as_str()), (0, Some("kestrel")));
    let (exit, codes) = json("explain", &["--format", "json"]);
    assert_eq!(exit, 0);
    assert!(codes.as_array().is_some_and(|codes| codes.len() > 50));
    let (exit, error) = json("trace", &["kestral", "--root", &root, "--format", "json"]);
    assert_eq!(exit, 2);
    assert!(error["error"][0].as_str().unwrap().contains("kestrel"));

    mistype(&root);
    for command in ["proof", "publish"] {
        let (exit, problems) = json(command, &as_of);
        assert_eq!(exit, 1);
        assert_eq!(problems[0]["code"], "unknown-key", "{command}");
        assert_eq!(problems[0]["line"], 4, "{command}");
    }
}

#[test]
fn quiet_says_nothing_but_problems() {
    let (_folder, root) = small_lab();
    for command in ["proof", "publish"] {
        let output = run(&[
            command,
            "-q",
            "--root",
            &root,
            "--as-of",
            "2026-11-30",
            "--pdf",
            "never",
        ]
        .into_iter()
        .filter(|word| command == "publish" || !matches!(*word, "--pdf" | "never"))
        .collect::<Vec<_>>());
        assert_eq!(code(&output), 0, "{}", said(&output));
        assert_eq!(
            (printed(&output), said(&output)),
            (String::new(), String::new())
        );
    }
    mistype(&root);
    let output = run(&["proof", "-q", "--root", &root, "--as-of", "2026-11-30"]);
    assert_eq!(code(&output), 1);
    assert!(
        said(&output).starts_with("error[unknown-key]"),
        "{}",
        said(&output)
    );
    assert!(!said(&output).contains("solefolio explain"));
}

#[test]
fn colour_is_written_only_where_it_is_asked_for() {
    let (_folder, root) = small_lab();
    mistype(&root);
    let escapes = |more: &[&str]| {
        let mut all = vec!["proof", "--root", &root, "--as-of", "2026-11-30"];
        all.extend(more);
        let output = run(&all);
        output.stderr.contains(&0x1b) || output.stdout.contains(&0x1b)
    };
    assert!(!escapes(&[]), "a pipe is no terminal");
    assert!(!escapes(&["--color", "never"]));
    assert!(escapes(&["--color", "always"]));
    assert!(!escapes(&["--color", "always", "--format", "json"]));
}

#[test]
fn many_problems_are_capped_for_people_and_whole_for_programs() {
    let (folder, root) = small_lab();
    let shoe = fs::read_to_string(folder.path().join("shoes/wren.yaml")).unwrap();
    for at in 0..150 {
        let broken = shoe.replace("category: trail", "category: tral");
        fs::write(folder.path().join(format!("shoes/wren-{at}.yaml")), broken).unwrap();
    }
    let count = |more: &[&str]| {
        let mut all = vec!["proof", "--root", &root, "--as-of", "2026-11-30"];
        all.extend(more);
        let output = run(&all);
        (
            said(&output).matches("error[").count(),
            printed(&output),
            said(&output),
        )
    };
    let (shown, _, said) = count(&[]);
    assert_eq!(shown, 60);
    assert!(
        said.contains("150 problems in 150 files; 60 are shown, and `-v` shows all"),
        "{said}"
    );
    assert_eq!(count(&["-v"]).0, 150);
    let (_, json, _) = count(&["--format", "json"]);
    let problems: Vec<Value> = serde_json::from_str(&json).unwrap();
    assert_eq!(problems.len(), 150);
}

#[test]
fn begin_lays_a_lab_that_can_be_published_and_never_overwrites_one() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("new").display().to_string();
    let laid = run(&["begin", &root]);
    assert_eq!(code(&laid), 0, "{}", said(&laid));
    let done = run(&[
        "publish",
        "--root",
        &root,
        "--as-of",
        "2026-11-30",
        "--pdf",
        "never",
    ]);
    assert_eq!(code(&done), 0, "{}", said(&done));
    assert!(Path::new(&root).join("out/index.html").is_file());

    let before = tree(Path::new(&root));
    let again = run(&["begin", &root]);
    assert_eq!(code(&again), 2);
    assert!(
        said(&again).contains("is there already"),
        "{}",
        said(&again)
    );
    assert!(
        before == tree(Path::new(&root)),
        "something was overwritten"
    );

    // A lab with nothing but a folder of shoes is a lab.
    let half = folder.path().join("half");
    fs::create_dir_all(half.join("shoes")).unwrap();
    assert_eq!(code(&run(&["begin", &half.display().to_string()])), 2);
    assert!(!half.join("lab").exists());
}

#[test]
fn every_schema_is_json_schema_and_explains_its_keys() {
    for (name, must) in [
        ("shoe", "specimens"),
        ("lab", "categories"),
        ("protocol", "quantities"),
        ("instruments", "instruments"),
        ("rules", "rules"),
        ("phrases", "findings"),
    ] {
        let output = run(&["schema", name]);
        assert_eq!(code(&output), 0);
        let schema: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(
            schema["$schema"], "https://json-schema.org/draft/2020-12/schema",
            "{name}"
        );
        assert_eq!(schema["additionalProperties"], false, "{name}");
        let required = schema["required"].as_array().unwrap();
        assert!(required.iter().any(|key| key == must), "{name}");
        for (key, property) in schema["properties"].as_object().unwrap() {
            assert!(property["description"].is_string(), "{name}: {key}");
        }
        assert_every_reference_leads_somewhere(&schema, &schema, name);
    }
}

fn assert_every_reference_leads_somewhere(root: &Value, at: &Value, name: &str) {
    match at {
        Value::Object(map) => {
            if let Some(Value::String(reference)) = map.get("$ref") {
                let pointer = reference.strip_prefix('#').expect("within the schema");
                assert!(root.pointer(pointer).is_some(), "{name}: {reference}");
            }
            map.values()
                .for_each(|below| assert_every_reference_leads_somewhere(root, below, name));
        }
        Value::Array(items) => items
            .iter()
            .for_each(|below| assert_every_reference_leads_somewhere(root, below, name)),
        _ => {}
    }
}

#[test]
fn every_demo_shoe_and_finding_can_be_traced() {
    let root = project().display().to_string();
    let mut stretches = 0;
    for entry in fs::read_dir(project().join("shoes")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "yaml") {
            continue;
        }
        let shoe = path.file_stem().unwrap().to_str().unwrap();
        let output = run(&["trace", shoe, "--root", &root, "--format", "json"]);
        assert_eq!(code(&output), 0, "{shoe}: {}", said(&output));
        let way: Value = serde_json::from_slice(&output.stdout).unwrap();
        for stretch in way["way"].as_array().unwrap() {
            let steps = stretch["steps"].as_array().unwrap();
            // A way, or a reason why there is none; never neither.
            assert!(
                !steps.is_empty() || stretch["missing"].is_string(),
                "{shoe}: {stretch}"
            );
            for step in steps {
                let numbers = step["numbers"].as_str().unwrap();
                assert!(
                    !numbers.contains("NaN") && !numbers.contains("inf"),
                    "{shoe}: {step}"
                );
            }
            stretches += 1;
        }
    }
    assert!(stretches > 400, "{stretches}");
    for name in [
        "torsion",
        "platform",
        "pace",
        "builds",
        "drop-kept",
        "mass",
        "energy-return",
    ] {
        let output = run(&["trace", "fennick-vale-quarrel-2", name, "--root", &root]);
        assert_eq!(code(&output), 0, "{name}: {}", said(&output));
        assert!(
            printed(&output).contains("  1. "),
            "{name}: {}",
            printed(&output)
        );
    }
}

#[test]
fn pdf_auto_without_typst_publishes_everything_else_and_links_to_no_pdf() {
    let (folder, root) = small_lab();
    let output = run(&[
        "publish",
        "--root",
        &root,
        "--as-of",
        "2026-11-30",
        "--pdf",
        "auto",
        "-v",
    ]);
    assert_eq!(code(&output), 0, "{}", said(&output));
    let said = said(&output);
    for piece in [
        "shoes/kestrel/review.pdf",
        "shoes/plover/review.pdf",
        "guide/guide.pdf",
        "weeks/2026-w47/week.pdf",
        "cargo install typst-cli --locked",
    ] {
        assert!(said.contains(piece), "no `{piece}` in: {said}");
    }
    let files = tree(&folder.path().join("out"));
    assert!(files.keys().any(|path| path.ends_with("feed.xml")));
    for (path, bytes) in &files {
        assert!(
            path.extension().is_none_or(|ending| ending != "pdf"),
            "{}",
            path.display()
        );
        let text = String::from_utf8_lossy(bytes);
        let ending = path.extension().and_then(|ending| ending.to_str());
        if matches!(ending, Some("html" | "xml" | "json")) {
            assert!(!text.contains(".pdf"), "{} links to a PDF", path.display());
        }
    }
}
