//! Names in scripts from right to left keep to themselves: the text around them
//! stands where it was written, on every page, in English and in German, by the
//! places a real browser gives them.

#[path = "common/tools.rs"]
mod tools;

use std::fs;
use std::path::Path;
use std::process::Command;

/// The demo's shoes that are given other names: maker, model. One ends in a digit,
/// which is what takes its neighbours along.
const NAMES: [(&str, &str, &str); 3] = [
    ("lindqvarn-tussock", "عدّاء الريح", "ظبي"),
    ("ostrell-gantry-2", "רצי החוף", "איילה 3"),
    ("mirrelton-evensong-2", "Mirrelton", "غزال"),
];

fn lab(root: &Path) {
    let project = Path::new(env!("CARGO_MANIFEST_DIR"));
    let copy = |file: &str| {
        let to = root.join(file);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::copy(project.join(file), to).unwrap();
    };
    for name in ["lab", "protocol", "instruments", "rules", "phrases"] {
        copy(&format!("lab/{name}.yaml"));
    }
    for entry in fs::read_dir(project.join("lab/languages/de")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        copy(&format!("lab/languages/de/{name}"));
    }
    for (slug, maker, model) in NAMES {
        let file = format!("shoes/{slug}.yaml");
        copy(&file);
        let text = fs::read_to_string(root.join(&file)).unwrap();
        let named = text.lines().map(|line| match line.split_once(": ") {
            Some(("maker", _)) => format!("maker: {maker}\n"),
            Some(("model", _)) => format!("model: {model}\n"),
            _ => format!("{line}\n"),
        });
        fs::write(root.join(&file), named.collect::<String>()).unwrap();
    }
}

#[test]
fn names_from_right_to_left_leave_what_is_around_them_in_order() {
    let web = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/web");
    if !web.join("node_modules/playwright-core").exists() {
        return tools::left_out("playwright-core is not installed: `npm ci` in tests/web");
    }
    let folder = tempfile::tempdir().unwrap();
    lab(folder.path());
    let published = Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .args(["--root", folder.path().to_str().unwrap()])
        .args(["publish", "--as-of", "2026-11-30", "--pdf", "never"])
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&published.stderr);
    let out = folder.path().join("out");
    assert!(out.join("de/index.html").exists(), "{said}");
    // The data keeps names as they were written.
    for file in ["data/shoes.csv", "data/findings.csv", "data/folio.json"] {
        let text = fs::read_to_string(out.join(file)).unwrap();
        assert!(!text.contains(['\u{2068}', '\u{2069}']), "{file}");
    }
    let ran = Command::new("node")
        .arg(web.join("directions.mjs"))
        .arg(&out)
        .output()
        .unwrap();
    let printed = String::from_utf8_lossy(&ran.stdout);
    assert!(
        ran.status.success(),
        "{printed}{}",
        String::from_utf8_lossy(&ran.stderr)
    );
}
