//! Small labs for the tests of seal, ripple, weeks, embargo and stock: the demo's
//! own files, all of them or eight shoes, in a folder of their own.

#![allow(dead_code, unused_imports, reason = "each test file uses a part")]

#[path = "../common/folders.rs"]
mod folders;
#[path = "../common/tools.rs"]
mod tools;

use assert_cmd::Command;
use folders::copy;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
pub use tools::{left_out, typst};

/// A laboratory in a folder that goes when it is dropped.
pub struct Lab(tempfile::TempDir);

/// The demo laboratory, whole but for its further languages, which would double
/// what every test publishes.
pub fn demo() -> Lab {
    let lab = in_all_languages();
    let _ = fs::remove_dir_all(lab.path().join("lab/languages"));
    lab
}

/// The demo laboratory, whole.
pub fn in_all_languages() -> Lab {
    let lab = Lab(tempfile::tempdir().expect("a folder"));
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    copy(&root.join("lab"), &lab.path().join("lab"), &|_| true);
    copy(&root.join("shoes"), &lab.path().join("shoes"), &|_| true);
    lab
}

/// The shoes of the small laboratory: of every category, from the softest to the
/// hardest to twist, one with an editor's words, one with a former address.
pub const SMALL: [&str; 8] = [
    "fennick-vale-quarrel-2",
    "fennick-vale-thistledown-4",
    "mirrelton-tramline-2",
    "quillmoor-peatcutter-3",
    "dunmarrow-packhorse-4",
    "ostrell-milkround-6-slate",
    "lindqvarn-tussock",
    "dunmarrow-clough-3",
];

/// Eight shoes, and nothing sealed.
pub fn small() -> Lab {
    let lab = small_in_all_languages();
    let _ = fs::remove_dir_all(lab.path().join("lab/languages"));
    lab
}

/// The same with the demo's further languages.
pub fn small_in_all_languages() -> Lab {
    let lab = in_all_languages();
    for file in fs::read_dir(lab.path().join("shoes")).expect("shoes") {
        let path = file.expect("an entry").path();
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        if path.is_file() && !SMALL.contains(&&*stem) {
            fs::remove_file(&path).expect("a shoe can go");
        }
    }
    for ledger in ["lab/ledger.jsonl", "lab/ledger.head"] {
        let _ = fs::remove_file(lab.path().join(ledger));
    }
    let _ = fs::remove_dir_all(lab.path().join("lab/editions"));
    lab
}

impl Lab {
    pub fn path(&self) -> &Path {
        self.0.path()
    }

    pub fn run(&self, arguments: &[&str]) -> Command {
        let mut command = Command::cargo_bin("solefolio").expect("the program is built");
        command.arg("--root").arg(self.path()).args(arguments);
        command
    }

    pub fn text(&self, file: &str) -> String {
        let path = self.path().join(file);
        fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }

    pub fn write(&self, file: &str, text: &str) {
        let path = self.path().join(file);
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder can be made");
        fs::write(path, text).expect("a file can be written");
    }

    /// Replaces a text that must be in a file.
    #[track_caller]
    pub fn edit(&self, file: &str, old: &str, new: &str) {
        let text = self.text(file);
        assert!(text.contains(old), "{file} has no `{old}`");
        self.write(file, &text.replacen(old, new, 1));
    }

    /// What a command says on standard output, as JSON.
    #[track_caller]
    pub fn json(&self, arguments: &[&str]) -> serde_json::Value {
        let output = self
            .run(arguments)
            .args(["--format", "json"])
            .output()
            .expect("it runs");
        serde_json::from_slice(&output.stdout).unwrap_or_else(|error| {
            panic!(
                "{arguments:?}: {error}\n{}\n{}",
                String::from_utf8_lossy(&output.stdout),
                String::from_utf8_lossy(&output.stderr)
            )
        })
    }

    /// Every file of the folio, by path.
    pub fn folio(&self) -> BTreeMap<String, Vec<u8>> {
        let mut files = self.out();
        files.retain(|path, _| !path.starts_with(".solefolio/"));
        files
    }

    /// Every file below `out/`, what the press keeps for itself among them, by path.
    pub fn out(&self) -> BTreeMap<String, Vec<u8>> {
        let mut files = BTreeMap::new();
        let out = self.path().join("out");
        let mut open: Vec<PathBuf> = vec![out.clone()];
        while let Some(folder) = open.pop() {
            for entry in fs::read_dir(folder).expect("out/ can be listed") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    open.push(path);
                } else {
                    let name = path.strip_prefix(&out).expect("below out/");
                    let name = name.to_string_lossy().replace('\\', "/");
                    files.insert(name, fs::read(&path).expect("a file can be read"));
                }
            }
        }
        files
    }
}

/// The cells of a line of CSV (RFC 4180), without line breaks in them.
pub fn cells(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().expect("a cell").push(c),
        }
    }
    cells
}
