//! The same folio, byte for byte, in surroundings as different as two machines':
//! time zone, language, umask, home and temporary folders, threads, the order in
//! which files were made, the path of the lab, and what other programs are told of
//! the date; prints included. Only `out/.solefolio`, where the press remembers how
//! files were seen, is left aside: it is no part of the folio.
//!
//! Needs `typst`; without it the prints are left out and the test says so, unless
//! `CI=true`.

#[path = "common/tools.rs"]
mod tools;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, SystemTime};
use tools::{left_out, typst};

/// Files below a folder by their paths, `.solefolio` left aside.
fn files(folder: &Path) -> BTreeMap<String, PathBuf> {
    walkdir::WalkDir::new(folder)
        .into_iter()
        .filter_entry(|entry| entry.file_name() != ".solefolio")
        .map(|entry| entry.expect("a folder can be listed"))
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let name = entry.path().strip_prefix(folder).expect("it lies inside");
            let name = name.to_str().expect("UTF-8").to_owned();
            (name, entry.into_path())
        })
        .collect()
}

/// Copies the lab, its files made in an order of their own and as old as it says.
fn lab(to: &Path, order: fn(&mut Vec<(String, PathBuf)>), age: Duration) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/hostile-lab");
    let mut all: Vec<(String, PathBuf)> = files(&from).into_iter().collect();
    order(&mut all);
    for (name, path) in all {
        let to = to.join(name);
        fs::create_dir_all(to.parent().expect("a folder")).expect("made");
        fs::copy(path, &to).expect("copied");
        let file = fs::File::options().append(true).open(&to).expect("opened");
        file.set_modified(SystemTime::now() - age)
            .expect("made older");
    }
}

/// Publishes in given surroundings, and reads what came out.
fn published(
    root: &Path,
    umask: &str,
    variables: &[(&str, &str)],
    more: &[&str],
) -> BTreeMap<String, Vec<u8>> {
    let typst = typst();
    let mut command = Command::new("sh");
    command
        .arg("-c")
        .arg(format!("umask {umask} && exec \"$0\" \"$@\""))
        .arg(env!("CARGO_BIN_EXE_solefolio"))
        .args(["publish", "--as-of", "2026-11-30", "--pdf"])
        .arg(if typst.is_some() { "require" } else { "never" })
        .args(more)
        .arg("--root")
        .arg(root)
        .env_clear()
        .env("PATH", "/usr/bin:/bin")
        .envs(variables.iter().copied());
    if let Some(typst) = typst {
        command.env("SOLEFOLIO_TYPST", typst);
    }
    let output = command.output().expect("the program starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    let read = |path: PathBuf| fs::read(path).expect("it can be read");
    let out = files(&root.join("out"));
    out.into_iter()
        .map(|(name, path)| (name, read(path)))
        .collect()
}

#[test]
fn the_folio_is_the_same_to_the_byte_in_any_surroundings() {
    if typst().is_none() {
        left_out("typst is not installed; no print is compared");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let here = |name: &str| {
        let path = folder.path().join(name);
        fs::create_dir_all(&path).expect("made");
        path
    };
    let home = here("home of somebody").display().to_string();
    let one = here("a");
    lab(&one, |_| {}, Duration::ZERO);
    let first = published(
        &one,
        "022",
        &[
            ("TZ", "UTC"),
            ("LC_ALL", "C"),
            ("RAYON_NUM_THREADS", "1"),
            ("HOME", "/"),
        ],
        &[],
    );
    assert!(first.len() > 30, "{} files", first.len());
    let prints = first.keys().filter(|name| name.ends_with(".pdf")).count();
    assert!(prints >= 7 || typst().is_none(), "{prints} prints");

    type Order = fn(&mut Vec<(String, PathBuf)>);
    /// Where the lab lies, the order its files are made in, umask, variables.
    type Surroundings<'s> = (&'s str, Order, &'s str, &'s [(&'s str, &'s str)]);
    let backwards: Order = |files| files.reverse();
    let turned: Order = |files| {
        let half = files.len() / 2;
        files.rotate_left(half);
        files.sort_by_key(|(name, _)| name.len());
    };
    let surroundings: [Surroundings<'_>; 3] = [
        (
            "elsewhere with a longer name/and a space/é",
            backwards,
            "077",
            &[
                ("TZ", "Pacific/Kiritimati"),
                ("LANG", "tr_TR.UTF-8"),
                ("LC_ALL", "tr_TR.UTF-8"),
                ("RAYON_NUM_THREADS", "7"),
                ("SOURCE_DATE_EPOCH", "0"),
                ("COLUMNS", "40"),
                ("USER", "somebody"),
            ],
        ),
        (
            "b",
            turned,
            "000",
            &[
                ("TZ", "America/Los_Angeles"),
                ("LANG", "de_DE.ISO-8859-1"),
                ("LC_NUMERIC", "de_DE.UTF-8"),
                ("SOURCE_DATE_EPOCH", "4102444800"),
                ("CLICOLOR_FORCE", "1"),
                ("TYPST_FONT_PATHS", "/usr/share/fonts"),
                ("RUST_BACKTRACE", "full"),
            ],
        ),
        (
            "c",
            backwards,
            "027",
            &[
                ("TZ", ":not/a/zone"),
                ("LC_ALL", "no_SUCH"),
                ("SOURCE_DATE_EPOCH", "no number"),
            ],
        ),
    ];
    for (at, (name, order, umask, variables)) in surroundings.into_iter().enumerate() {
        let root = here(name);
        lab(
            &root,
            order,
            Duration::from_secs(3600 * 24 * 400 * at as u64),
        );
        let temporary = here(&format!("temporary {at}")).display().to_string();
        let mut all = variables.to_vec();
        all.extend([("HOME", home.as_str()), ("TMPDIR", temporary.as_str())]);
        let other = published(&root, umask, &all, &[]);
        same(&first, &other, name);
        // Again, over what is there, and anew.
        same(&first, &published(&root, umask, &all, &[]), name);
        same(&first, &published(&root, umask, &all, &["--fresh"]), name);
    }
}

fn same(one: &BTreeMap<String, Vec<u8>>, other: &BTreeMap<String, Vec<u8>>, name: &str) {
    let names: Vec<&String> = one.keys().collect();
    assert_eq!(names, other.keys().collect::<Vec<_>>(), "in {name:?}");
    let differ: Vec<&String> = names
        .into_iter()
        .filter(|name| one[*name] != other[*name])
        .collect();
    assert_eq!(differ, [] as [&String; 0], "in {name:?}");
}
