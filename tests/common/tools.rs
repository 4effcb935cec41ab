//! Tools that some tests need and this machine may not have.

#![allow(dead_code, reason = "each test file uses a part of it")]

use std::path::PathBuf;
use std::process::Command;

/// Says why a test, or a part of one, is left out; on a build server nothing may be.
pub fn left_out(why: &str) {
    assert_ne!(std::env::var("CI").as_deref(), Ok("true"), "{why}");
    eprintln!("left out: {why}");
}

/// Whether a program can be started.
pub fn is_there(program: &str) -> bool {
    Command::new(program).arg("--version").output().is_ok()
}

/// Where Typst is, looked for where the program looks; none if it is not installed.
pub fn typst() -> Option<PathBuf> {
    let variable = |name| std::env::var_os(name).map(PathBuf::from);
    let bin = |folder: PathBuf| folder.join("bin/typst");
    let path = std::env::var_os("PATH").unwrap_or_default();
    let mut places: Vec<PathBuf> = variable("SOLEFOLIO_TYPST").into_iter().collect();
    places.extend(std::env::split_paths(&path).map(|folder| folder.join("typst")));
    places.extend(variable("CARGO_HOME").map(bin));
    places.extend(variable("HOME").map(|home| bin(home.join(".cargo"))));
    places.into_iter().find(|path| path.is_file())
}
