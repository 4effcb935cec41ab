//! The fuzz targets over their kept corpus: what fuzzing reached, and every input
//! that once failed, checked in every run. `fuzz/README.md` says how to go on.

#[path = "../fuzz/bodies.rs"]
mod bodies;
#[path = "common/tools.rs"]
mod tools;

use solefolio::files::Date;
use solefolio::outputs::markdown_as_print;
use solefolio::press::typesetter::{PrintJob, Typesetter};
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The kept inputs of a target, those that once failed among them.
fn corpus(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for folder in ["corpus", "crashes"] {
        let folder = root().join("fuzz").join(folder).join(target);
        for entry in fs::read_dir(folder).into_iter().flatten() {
            let path = entry.expect("the corpus can be listed").path();
            let bytes = fs::read(&path).expect("the corpus can be read");
            found.push((path, bytes));
        }
    }
    found.sort();
    found
}

#[test]
fn every_input_of_the_corpus_keeps_what_is_promised() {
    for (target, body) in bodies::TARGETS {
        let inputs = corpus(target);
        assert!(inputs.len() >= 5, "{target} has {} inputs", inputs.len());
        for (path, bytes) in inputs {
            let held = std::panic::catch_unwind(|| body(&bytes));
            assert!(held.is_ok(), "{}", path.display());
        }
    }
}

#[test]
fn every_target_can_be_fuzzed() {
    let read = |file: &str| fs::read_to_string(root().join("fuzz").join(file));
    let manifest = read("Cargo.toml").expect("it is there");
    for (target, _) in bodies::TARGETS {
        let source = read(&format!("fuzz_targets/{target}.rs")).expect("it has a source");
        assert!(source.contains(&format!("bodies::{target}(")), "{target}");
        let named = manifest.contains(&format!("name = \"{target}\""));
        assert!(named, "{target} is not in fuzz/Cargo.toml");
    }
}

/// No text of the corpus keeps a review from being set in print.
#[test]
fn every_text_of_the_corpus_can_be_printed() {
    let typesetter = match Typesetter::find() {
        Ok(typesetter) => typesetter,
        Err(missing) => return tools::left_out(&missing.to_string()),
    };
    let folder = root().join("templates/print");
    let templates: Vec<(String, Vec<u8>)> = walkdir::WalkDir::new(&folder)
        .sort_by_file_name()
        .into_iter()
        .map(|entry| entry.expect("templates can be listed"))
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let name = entry.path().strip_prefix(&folder).expect("it lies inside");
            let bytes = fs::read(entry.path()).expect("templates can be read");
            (name.to_str().expect("UTF-8").replace('\\', "/"), bytes)
        })
        .collect();
    let sample = fs::read(root().join("tests/data/print/review.json")).expect("the sample");
    let sample: serde_json::Value = serde_json::from_slice(&sample).expect("JSON");
    let texts = ["markdown", "shoe", "unit", "expression"]
        .map(corpus)
        .concat();
    let jobs: Vec<PrintJob> = texts
        .iter()
        .filter_map(|(path, bytes)| Some((path, str::from_utf8(bytes).ok()?)))
        .filter(|(_, text)| text.chars().count() <= solefolio::shoe::REVIEW_LIMIT)
        .map(|(path, text)| {
            let mut view = sample.clone();
            let blocks = markdown_as_print(text, "https://lab.example/", "https://lab.example/x/");
            view["review_blocks"] = serde_json::to_value(blocks).expect("blocks are JSON");
            PrintJob {
                name: path.display().to_string(),
                template: "review.typ".to_owned(),
                data: serde_json::to_vec(&view).expect("JSON"),
                date: Date::from(jiff::civil::date(2026, 11, 26)),
            }
        })
        .collect();
    assert!(jobs.len() > 20, "{}", jobs.len());
    for print in typesetter.typeset(jobs, &templates, &|_| ()) {
        if let Err(problem) = print {
            panic!("{}: {:?}", problem.name, problem.cause);
        }
    }
}
