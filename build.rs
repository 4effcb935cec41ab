//! Gathers the program's own texts, those a second language has to say anew,
//! from its sources and templates, so that the list is never out of date.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

#[path = "src/words/scan.rs"]
#[allow(dead_code, reason = "the tests use more of it than the build does")]
mod scan;

/// By text: its form for one, and the files that say it.
type Texts = BTreeMap<String, (Option<String>, Vec<String>)>;

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").expect("cargo sets it"));
    let mut texts = Texts::new();
    for folder in ["src", "templates"] {
        println!("cargo:rerun-if-changed={folder}");
        gather(&root, &root.join(folder), &mut texts)?;
    }
    let mut list = String::from("&[\n");
    for (text, (one, files)) in &texts {
        let _ = writeln!(
            list,
            "    Said {{ text: {text:?}, one: {one:?}, files: &{files:?} }},"
        );
    }
    list.push_str("]\n");
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets it"));
    fs::write(out.join("texts.rs"), list)
}

fn gather(root: &Path, folder: &Path, texts: &mut Texts) -> io::Result<()> {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()?;
    entries.sort();
    for path in entries {
        // The room that finds texts says none of its own.
        if path.ends_with("src/words") {
            continue;
        }
        if path.is_dir() {
            gather(root, &path, texts)?;
            continue;
        }
        let scan = match path.extension().and_then(|end| end.to_str()) {
            Some("rs") => scan::rust,
            Some("html" | "js" | "xml" | "svg") => scan::page,
            Some("typ") => scan::print,
            _ => continue,
        };
        let source = fs::read_to_string(&path)?;
        let name = path.strip_prefix(root).unwrap_or(&path);
        let name = name.to_string_lossy().replace('\\', "/");
        for found in scan(&source) {
            let (one, files) = texts.entry(found.text).or_default();
            *one = one.take().or(found.one);
            if !files.contains(&name) {
                files.push(name.clone());
            }
        }
    }
    Ok(())
}
