//! Blank bench sheets as outside readers find them.
//!
//! Needs `typst`, poppler's `pdftotext`, `pdfinfo` and `pdftoppm`, and `zbarimg`,
//! which reads the code off the page as a phone would; without one of them the test
//! says so and passes, unless `CI=true`.

#[path = "common/tools.rs"]
mod tools;

use assert_cmd::Command;
use solefolio::files::Slug;
use solefolio::serve::code_of;
use std::path::Path;
use std::process::Output;
use std::time::Duration;
use tools::{left_out, typst};

/// What a program says; none, and said so, if it is not installed.
fn said(program: &str, arguments: &[&str]) -> Option<String> {
    match std::process::Command::new(program).args(arguments).output() {
        Ok(output) => Some(String::from_utf8_lossy(&output.stdout).into_owned()),
        Err(error) => {
            left_out(&format!("{program}: {error}"));
            None
        }
    }
}

fn solefolio(root: &Path, arguments: &[&str]) -> Output {
    Command::cargo_bin("solefolio")
        .unwrap()
        .args(["--root", root.to_str().unwrap()])
        .args(arguments)
        .output()
        .unwrap()
}

const SHOE: &str = "lindqvarn-tussock";

#[test]
fn a_sheet_holds_the_protocol_and_a_code_that_opens_the_shoe_at_the_bench() {
    if typst().is_none() {
        return left_out("typst is not installed");
    }
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("lab");
    let begun = solefolio(folder.path(), &["begin", root.to_str().unwrap()]);
    assert!(begun.status.success());
    let into = folder.path().join("sheets");
    for shoes in [&[][..], &[SHOE]] {
        let arguments = [&["sheet", "--into", into.to_str().unwrap()][..], shoes].concat();
        let made = solefolio(&root, &arguments);
        assert!(made.status.success(), "{made:?}");
    }
    let protocol = std::fs::read_to_string(root.join("lab/protocol.yaml")).unwrap();
    let code = code_of(&SHOE.parse::<Slug>().unwrap());
    for (name, own) in [
        (format!("bench-sheet-{SHOE}.pdf"), true),
        ("bench-sheet.pdf".to_owned(), false),
    ] {
        let pdf = into.join(&name);
        let pdf = pdf.to_str().unwrap();
        let (Some(text), Some(info)) = (
            said("pdftotext", &["-layout", pdf, "-"]),
            said("pdfinfo", &[pdf]),
        ) else {
            return;
        };
        for wanted in [
            "Mass, g",
            "Midfoot torque, N·m at 15",
            "Heel compression",
            "Bench scale no. 1",
            "Trial 1",
            "Again",
            "Initials",
            "Operator",
            "Temperature",
            "Humidity",
            "Conditioned for",
            "Left conditioning at",
            "23 ± 1.5 °C",
            "within 30 min",
            "pinch points",
            "eye protection",
            "licensed where that is required",
            "invented",
        ] {
            let found = text.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(found.contains(wanted), "{wanted} is not in {found}");
        }
        // What is worked out from a curve is not written down.
        assert!(protocol.contains("label: Energy return") && !text.contains("Energy return"));
        let line = |name: &str| {
            let found = info.lines().find(|line| line.starts_with(name));
            found.unwrap_or_default()[name.len()..].trim().to_owned()
        };
        assert_eq!(line("Pages:"), "1");
        assert_eq!(line("Tagged:"), "yes");
        assert!(line("Title:").starts_with("Bench sheet"), "{info}");
        assert!(line("Page size:").contains("A4"), "{info}");
        let tags = said("pdfinfo", &["-struct", pdf]).unwrap();
        for tag in ["H1", "Table", "TH", "TD"] {
            assert!(tags.contains(tag), "{tag} is not in {tags}");
        }
        assert_eq!(text.contains(&code), own);
        let image = into.join("page");
        let image = image.to_str().unwrap();
        let drawn = said(
            "pdftoppm",
            &["-r", "150", "-png", "-singlefile", pdf, image],
        );
        let read = drawn.and_then(|_| said("zbarimg", &["--raw", "-q", &format!("{image}.png")]));
        let Some(read) = read else { return };
        assert_eq!(read.trim(), if own { &code } else { "" });
        if own {
            assert_opens(&root, read.trim());
        }
    }
}

/// What is read off the page opens the shoe in `bench`, and nothing else does.
fn assert_opens(root: &Path, code: &str) {
    let mut bench = std::process::Command::new(assert_cmd::cargo::cargo_bin("solefolio"))
        .args(["--root", root.to_str().unwrap(), "--format", "json"])
        .args(["bench", "--shoe", code])
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    let out = std::io::BufReader::new(bench.stdout.take().unwrap());
    std::io::BufRead::read_line(&mut { out }, &mut line).unwrap();
    let _ = bench.kill();
    let _ = bench.wait();
    let told: serde_json::Value = serde_json::from_str(&line).unwrap();
    let address = told["address"].as_str().unwrap();
    assert!(address.ends_with(&format!("/#{SHOE}")), "{address}");
    // A desk that opened all the same would stay open; it is ended, and has no code then.
    let unknown = Command::cargo_bin("solefolio")
        .unwrap()
        .args(["--root", root.to_str().unwrap()])
        .args(["bench", "--shoe", "000000"])
        .timeout(Duration::from_secs(60))
        .output()
        .unwrap();
    let code = unknown.status.code();
    assert!(code.is_some_and(|code| code != 0), "{unknown:?}");
}
