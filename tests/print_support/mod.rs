//! What the tests of prints share: the sample views, setting them, and asking outside
//! readers.

#![allow(dead_code, unused_imports, reason = "each test file uses a part")]

#[path = "../common/tools.rs"]
mod tools;

use solefolio::files::Date;
use solefolio::press::typesetter::{PrintJob, Typesetter};
use std::{
    fs,
    path::Path,
    process::{Command, Output},
};
pub use tools::{left_out, typst};

pub type Templates = Vec<(String, Vec<u8>)>;

pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

pub fn typesetter() -> Option<Typesetter> {
    Typesetter::find()
        .map_err(|missing| left_out(&missing.to_string()))
        .ok()
}

/// Runs an outside reader; none if it is not installed.
pub fn reader(program: &str, arguments: &[&str]) -> Option<Output> {
    match Command::new(program).args(arguments).output() {
        Ok(output) => Some(output),
        Err(error) => {
            left_out(&format!("{program}: {error}"));
            None
        }
    }
}

pub fn templates() -> Templates {
    let folder = root().join("templates/print");
    let mut files: Templates = walkdir::WalkDir::new(&folder)
        .into_iter()
        .map(|entry| entry.expect("templates can be read"))
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let name = entry.path().strip_prefix(&folder).expect("it lies inside");
            let name = name.to_str().expect("names are UTF-8").replace('\\', "/");
            (name, fs::read(entry.path()).expect("templates can be read"))
        })
        .collect();
    files.sort();
    files
}

pub fn view(name: &str) -> serde_json::Value {
    let path = root().join("tests/data/print").join(format!("{name}.json"));
    serde_json::from_slice(&fs::read(path).expect("the sample is there")).expect("it is JSON")
}

pub fn job(name: &str, template: &str, view: &serde_json::Value) -> PrintJob {
    PrintJob {
        name: name.to_owned(),
        template: template.to_owned(),
        data: serde_json::to_vec(view).expect("a view is JSON"),
        date: Date::from(jiff::civil::date(2026, 11, 26)),
    }
}

/// One sample, set; a refusal fails the test with Typst's words.
pub fn set(typesetter: &Typesetter, template: &str, view: &serde_json::Value) -> Vec<u8> {
    typesetter
        .typeset(vec![job("sample", template, view)], &templates(), &|_| ())
        .remove(0)
        .unwrap_or_else(|problem| panic!("{problem}"))
}

pub fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("the temporary folder is writable")
}

pub fn info(path: &Path) -> Option<String> {
    reader("pdfinfo", &[path.to_str()?])
        .map(|out| String::from_utf8_lossy(&out.stdout).into_owned())
}

pub fn pages(info: &str) -> usize {
    let line = info.lines().find_map(|line| line.strip_prefix("Pages:"));
    line.and_then(|n| n.trim().parse().ok())
        .expect("pdfinfo counts pages")
}
