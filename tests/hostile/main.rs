//! A laboratory whose every text is hostile: each is refused with a clear
//! problem, or published as the plain text it is, in pages, prints, tables, feed
//! and terminal.
//!
//! The pages are opened in a real browser by `tests/web/hostile.mjs`, the prints
//! read by poppler, the tables opened by a spreadsheet program (Gnumeric's
//! `ssconvert`). Without one of these its test says so and passes, unless
//! `CI=true`.

mod lab;
mod texts;
#[path = "../common/tools.rs"]
mod tools;

use lab::{AS_OF, HostileLab, Leaf};
use solefolio::diagnostics::codes::find;
use solefolio::diagnostics::text::{is_refused, neutral};
use solefolio::diagnostics::{Problem, render};
use solefolio::words::direction::{ISOLATE, POP};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use texts::{ACTING, TEXTS};
use tools::left_out;

/// A refusal says what is wrong, where and what to do, in a few lines that act on
/// nothing.
fn is_clear(problem: &Problem) {
    assert!(find(problem.code).is_some(), "{problem:?}");
    assert!(!problem.message.is_empty(), "{problem:?}");
    let explained = problem.hint.is_some() || problem.message.contains("expected");
    assert!(explained, "no hint: {problem:?}");
    let none = |_: &str| None;
    let shown = render::human(
        std::slice::from_ref(problem),
        none,
        render::ColorChoice::Never,
        9,
    );
    assert!(shown.len() < 6000, "{} bytes: {shown:.300}", shown.len());
    assert_acts_on_nothing(&shown);
}

fn assert_acts_on_nothing(shown: &str) {
    // A tab moves to the right, as spaces do.
    let acts = |c: char| !matches!(c, '\n' | '\t') && (c.is_control() || is_refused(c));
    let found = shown.find(acts);
    assert_eq!(
        found,
        None,
        "{:?}",
        &shown[found.unwrap_or(0)..]
            .chars()
            .take(40)
            .collect::<String>()
    );
}

/// Every field once with one text; which took it.
fn admitted(text: &str) -> BTreeSet<Leaf> {
    let mut lab = HostileLab::harmless();
    let wanted: Vec<(Leaf, &str)> = lab.leaves().into_iter().map(|leaf| (leaf, text)).collect();
    lab.settle(&wanted, &mut is_clear).into_iter().collect()
}

#[test]
fn the_lab_is_right_to_begin_with() {
    assert_eq!(HostileLab::harmless().errors(), []);
    assert!(HostileLab::harmless().leaves().len() > 200);
}

#[test]
fn free_text_is_taken_where_people_write_and_nowhere_else() {
    let fields: BTreeSet<String> = admitted("a<x-evil>b</x-evil>c")
        .iter()
        .map(Leaf::field)
        .collect();
    let fields: Vec<String> = fields.into_iter().collect();
    insta::assert_snapshot!(fields.join("\n"));
}

#[test]
fn every_text_is_refused_with_a_clear_problem_or_taken() {
    for (name, text) in TEXTS {
        let taken = admitted(text).len();
        // What acts is refused, and nothing at all is no text.
        let refused = text.contains('\r') || text.trim().is_empty();
        assert!(
            (taken > 0) != refused || text.trim().is_empty(),
            "{name} is taken nowhere"
        );
    }
}

#[test]
fn no_field_takes_a_character_that_acts_raw_or_escaped() {
    let lab = HostileLab::harmless();
    for c in ACTING {
        let text = format!("a{c}b");
        let mut hostile = lab.clone();
        for leaf in lab.leaves() {
            hostile.set(&leaf, &text);
        }
        // `bytes` writes controls of ASCII as escapes, the others as they are.
        let mut files = hostile.bytes();
        for escaped in [false, true] {
            for (name, bytes) in files.iter_mut().filter(|(name, _)| name.ends_with("yaml")) {
                if escaped {
                    let escape = format!("\\U{:08x}", u32::from(*c));
                    let text = String::from_utf8(bytes.clone()).expect("UTF-8");
                    *bytes = text.replace(*c, &escape).into_bytes();
                }
                let source = solefolio::files::Source::new(
                    name.clone(),
                    String::from_utf8(bytes.clone()).expect("UTF-8"),
                );
                let problems =
                    solefolio::files::yaml::read::<serde_json::Value>(&source).expect_err(
                        &format!("{name} took U+{:04X}, escaped: {escaped}", u32::from(*c)),
                    );
                assert!(
                    problems
                        .iter()
                        .all(|problem| problem.code == "control-character"
                            || problem.code == "more-problems"),
                    "{problems:#?}"
                );
                problems.iter().for_each(is_clear);
            }
        }
    }
}

#[test]
fn no_field_takes_a_line_of_a_megabyte() {
    let lab = HostileLab::harmless();
    let long = "x".repeat(900_000);
    let huge = "x".repeat(1 << 20);
    for leaf in lab.leaves() {
        let mut hostile = lab.clone();
        hostile.set(&leaf, &long);
        let errors = hostile.errors();
        assert!(!errors.is_empty(), "{} took it", leaf.field());
        errors.iter().for_each(is_clear);
    }
    let mut hostile = lab.clone();
    hostile.set(&lab.leaves()[0], &huge);
    let errors = hostile.errors();
    assert!(
        errors
            .iter()
            .any(|problem| problem.code == "file-too-large"),
        "{errors:#?}"
    );
}

/// The lab with each field holding another of the texts; after as many rounds as
/// there are texts each field has held each. The bands are called hostile names too.
fn round(number: usize) -> HostileLab {
    let mut lab = HostileLab::harmless();
    let short: Vec<&str> = TEXTS
        .iter()
        .map(|(_, text)| *text)
        .filter(|text| text.chars().count() <= 40 && text.trim().len() > 5 && !text.contains('\r'))
        .collect();
    let name = |at: usize| short[(number * 5 + at) % short.len()];
    lab.name_bands([name(0), name(1), name(2), name(3), name(4)]);
    let wanted: Vec<(Leaf, &str)> = lab
        .leaves()
        .into_iter()
        .enumerate()
        .map(|(at, leaf)| (leaf, TEXTS[(at + number) % TEXTS.len()].1))
        .collect();
    let taken = lab.settle(&wanted, &mut is_clear);
    assert!(taken.len() > 60, "{} texts were taken", taken.len());
    lab
}

fn solefolio(root: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_solefolio"))
        .args(arguments)
        .arg("--root")
        .arg(root)
        .env_remove("CLICOLOR_FORCE")
        .output()
        .expect("the program starts")
}

fn said(output: &Output) -> String {
    format!(
        "{}{}",
        String::from_utf8(output.stdout.clone()).expect("UTF-8"),
        String::from_utf8(output.stderr.clone()).expect("UTF-8")
    )
}

fn publish(root: &Path, pdf: &str) -> String {
    let stock = root.join("stock.csv").display().to_string();
    let output = solefolio(
        root,
        &[
            "publish", "--as-of", AS_OF, "--pdf", pdf, "--why", "--stock", &stock,
        ],
    );
    let said = said(&output);
    assert!(output.status.success(), "{said}");
    assert_acts_on_nothing(&said);
    said
}

fn files_of(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = walkdir::WalkDir::new(folder)
        .into_iter()
        .map(|entry| entry.expect("a folder can be listed").into_path())
        .filter(|path| path.extension().is_some_and(|found| found == ending))
        .filter(|path| {
            !path
                .components()
                .any(|part| part.as_os_str() == ".solefolio")
        })
        .collect();
    found.sort();
    found
}

/// What can be told from a page without a browser: no element and no handler that
/// a text brought, and nothing worked out.
fn assert_plain(path: &Path) {
    let text = fs::read_to_string(path).expect("UTF-8");
    let worked_out = ["7000021", "root:x:0"];
    let elements: &[&str] = match path.extension().and_then(|ending| ending.to_str()) {
        Some("html" | "xml" | "svg") => &[
            "<x-evil",
            "<img src=x",
            "<svg onload",
            "<div onclick",
            "<script>hostile",
            "<!ENTITY",
            "href=\"javascript:",
        ],
        // Nobody reads these as pages.
        _ => &[],
    };
    for hostile in worked_out.iter().chain(elements) {
        assert!(!text.contains(hostile), "{}: {hostile}", path.display());
    }
    // The program's own characters that keep a name's order to itself: in pairs.
    let mut open = 0_i32;
    for c in text.chars() {
        open += i32::from(c == ISOLATE) - i32::from(c == POP);
        assert!((0..9).contains(&open), "{}: {open} deep", path.display());
    }
    assert_eq!(open, 0, "{}", path.display());
    // Pages, and what their scripts show; the open data hold names as they are written.
    let page = path
        .extension()
        .is_some_and(|end| ["html", "xml", "js"].iter().any(|page| end == *page));
    let own = |c: char| matches!(c, '\n' | '\t' | '\r') || page && matches!(c, ISOLATE | POP);
    let acts = |c: char| !own(c) && is_refused(c);
    assert_eq!(text.find(acts), None, "{}", path.display());
}

#[test]
fn every_text_in_every_field_is_published_as_plain_text() {
    for number in 0..TEXTS.len() {
        let folder = tempfile::tempdir().expect("a folder");
        round(number).write(folder.path());
        publish(folder.path(), "never");
        let out = folder.path().join("out");
        for ending in ["html", "xml", "js", "json", "csv", "txt", "svg"] {
            for path in files_of(&out, ending) {
                assert_plain(&path);
            }
        }
        for path in files_of(&out, "json") {
            let bytes = fs::read(&path).expect("it can be read");
            serde_json::from_slice::<serde_json::Value>(&bytes).expect("JSON");
        }
    }
}

#[test]
fn a_spreadsheet_program_finds_no_formula() {
    let folder = tempfile::tempdir().expect("a folder");
    // What it takes for a formula, so that finding none says something.
    let bait = folder.path().join("bait.csv");
    fs::write(&bait, "slug,maker,c\r\nx,=1+1,5\r\ny,'=1+1,-4.5\r\n").expect("written");
    let Some(cells) = formulas(&bait) else { return };
    assert_eq!(
        cells,
        ["=1+1"],
        "the program can't tell a formula from a text"
    );
    for number in (0..TEXTS.len()).step_by(6) {
        let folder = tempfile::tempdir().expect("a folder");
        round(number).write(folder.path());
        publish(folder.path(), "never");
        let tables = files_of(&folder.path().join("out"), "csv");
        assert!(tables.len() >= 3, "{tables:?}");
        for table in tables {
            let cells = formulas(&table).expect("the program is there");
            assert_eq!(cells, [] as [&str; 0], "{}", table.display());
        }
    }
}

/// The formulas a spreadsheet program finds in a table; none without the program.
fn formulas(table: &Path) -> Option<Vec<String>> {
    let to = table.with_extension("gnumeric.xml");
    let ran = Command::new("ssconvert")
        .args([
            "-I",
            "Gnumeric_stf:stf_csvtab",
            "-T",
            "Gnumeric_XmlIO:sax:0",
        ])
        .args([table, &to])
        .env("HOME", table.parent().expect("a folder"))
        .output();
    let output = match ran {
        Ok(output) => output,
        Err(error) => {
            left_out(&format!("ssconvert: {error}"));
            return None;
        }
    };
    assert!(output.status.success(), "{}", said(&output));
    let sheet = fs::read_to_string(&to).expect("it was written");
    let cells = sheet.split("<gnm:Cell ").skip(1);
    // A cell of a value has a type, one of a formula has none.
    let formulas = cells.filter(|cell| !cell.split('>').next().unwrap_or("").contains("ValueType"));
    Some(
        formulas
            .map(|cell| cell.split(['>', '<']).nth(1).unwrap_or("").to_owned())
            .collect(),
    )
}

/// Rounds whose pages are opened in a browser.
fn looked_at() -> impl Iterator<Item = usize> {
    (0..TEXTS.len()).step_by(13)
}

#[test]
fn prints_hold_the_texts_and_run_none_of_them() {
    if let Err(missing) = solefolio::press::typesetter::Typesetter::find() {
        return left_out(&missing.to_string());
    }
    for number in (0..TEXTS.len()).step_by(4) {
        let folder = tempfile::tempdir().expect("a folder");
        let lab = round(number);
        lab.write(folder.path());
        publish(folder.path(), "require");
        let prints = files_of(&folder.path().join("out"), "pdf");
        assert!(prints.len() >= 7, "{prints:?}");
        let mut whole = String::new();
        for print in prints {
            let ran = Command::new("pdftotext").arg(&print).arg("-").output();
            let Ok(output) = ran else {
                return left_out("pdftotext is not installed");
            };
            let text = String::from_utf8_lossy(&output.stdout).into_owned();
            assert!(
                !text.contains("7000021") && !text.contains("root:x:0"),
                "{}",
                print.display()
            );
            whole.push_str(&text);
        }
        // A model's name is in its print as it was written, spaces aside.
        let bare = |text: &str| text.split_whitespace().collect::<String>();
        let whole = bare(&whole);
        let models = ["full", "plain-0", "plain-1"].map(|shoe| {
            let file = &lab.yaml[&format!("shoes/{shoe}.yaml")];
            bare(file["model"].as_str().expect("a text"))
        });
        let ascii = models.iter().filter(|model| model.is_ascii());
        for model in ascii {
            assert!(
                whole.contains(model.as_str()),
                "round {number}: no `{model}`"
            );
        }
    }
}

#[test]
fn a_browser_runs_nothing_asks_for_nothing_and_builds_nothing_from_a_text() {
    let web = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/web");
    if !web.join("node_modules/playwright-core").exists() {
        return left_out("playwright-core is not installed: `npm ci` in tests/web");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let mut outs = Vec::new();
    for number in looked_at() {
        let root = folder.path().join(number.to_string());
        round(number).write(&root);
        publish(&root, "never");
        outs.push(root.join("out"));
    }
    let ran = Command::new("node")
        .arg(web.join("hostile.mjs"))
        .args(&outs)
        .output();
    match ran {
        Ok(output) => assert!(output.status.success(), "{}", said(&output)),
        Err(error) => left_out(&format!("node: {error}")),
    }
}

#[test]
fn no_command_lets_a_text_act_on_the_terminal() {
    let folder = tempfile::tempdir().expect("a folder");
    for number in [3, 31] {
        let root = folder.path().join(number.to_string());
        let lab = round(number);
        lab.write(&root);
        let mut other = lab.yaml["lab/rules.yaml"].clone();
        other["rules"]["firmness"]["points"][1][0] = serde_json::json!(10);
        let rules = root.join("other.yaml");
        fs::write(&rules, other.to_string()).expect("written");
        let rules = rules.display().to_string();
        for arguments in [
            &["proof", "--as-of", AS_OF] as &[&str],
            &["trace", "full"],
            &["trace", "plain-1", "firmness"],
            &["ripple", "--rules", &rules],
            &["explain"],
            &["drift"],
            &["seal", "--because", "As measured.", "--as-of", AS_OF],
        ] {
            let output = solefolio(&root, arguments);
            let said = said(&output);
            assert!(output.status.success(), "{arguments:?}: {said}");
            assert!(!said.is_empty(), "{arguments:?}");
            assert_acts_on_nothing(&said);
        }
    }
}

#[test]
fn what_is_refused_is_shown_without_acting() {
    let folder = tempfile::tempdir().expect("a folder");
    let harmless = HostileLab::harmless();
    for (number, c) in ACTING.iter().enumerate() {
        let root = folder.path().join(number.to_string());
        let mut lab = harmless.clone();
        for leaf in harmless.leaves() {
            lab.set(&leaf, &format!("\u{1b}]0;x\u{7}{c}\u{202e}"));
        }
        lab.write(&root);
        fs::write(
            root.join("shoes/raw.yaml"),
            format!("maker: a{c}b\u{1b}[2J\n"),
        )
        .expect("written");
        for color in ["auto", "always"] {
            let output = solefolio(&root, &["proof", "--color", color]);
            assert_eq!(output.status.code(), Some(1));
            let shown = said(&output);
            assert_acts_on_nothing(&without_colours(&shown));
        }
    }
    let output = solefolio(folder.path(), &["trace", "\u{1b}[2J\u{202e}x"]);
    assert_acts_on_nothing(&said(&output));
    let output = solefolio(&folder.path().join("0"), &["explain", "\u{1b}[2J\u{202e}x"]);
    assert_eq!(output.status.code(), Some(2));
    assert_acts_on_nothing(&said(&output));
    assert!(!neutral("\u{1b}").contains('\u{1b}'));
}

/// The text without the sequences that set colours and nothing else.
fn without_colours(text: &str) -> String {
    let mut plain = String::new();
    let mut parts = text.split("\u{1b}[");
    plain.push_str(parts.next().unwrap_or(""));
    for part in parts {
        let end = part.find(|c: char| !c.is_ascii_digit() && c != ';');
        match end {
            Some(end) if part[end..].starts_with('m') => plain.push_str(&part[end + 1..]),
            _ => {
                plain.push_str("\u{1b}[");
                plain.push_str(part);
            }
        }
    }
    plain
}
