//! `--as-of` shows the edition of a day and nothing that came later: no shoe, no
//! reading of the control shoe, no rule set, no seal; in what is published, in the
//! trace and in the preview.

mod seal_support;

use seal_support::{Lab, small};
use solefolio::files::Root;
use solefolio::library::Laboratory;
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};

/// The day looked back to, and one on which all that is later is there.
const DAY: &str = "2026-11-28";
const LATER: &str = "2026-12-10";
/// A day between, on which something is sealed.
const SEALED: &str = "2026-11-29";

const SHOE: &str = "fennick-vale-quarrel-2";
const COMING: &str = "dunmarrow-heathpony-2";

/// The control shoe's log up to the day; so short that later readings would move its
/// limits.
fn short_log(lab: &Lab) -> String {
    let log = lab.text("lab/control.csv");
    let mut lines: Vec<&str> = log.lines().collect();
    let from = lines.len() - 12;
    lines.drain(1..from);
    lines.join("\n") + "\n"
}

fn before() -> Lab {
    let lab = small();
    lab.write("lab/control.csv", &short_log(&lab));
    lab
}

/// The same lab after a while: a shoe more, readings of the control shoe that are far
/// off, and another rule set.
fn after() -> Lab {
    let lab = before();
    let shoe = format!("shoes/{COMING}.yaml");
    let of_demo = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(&shoe);
    let text = std::fs::read_to_string(of_demo).expect("the demo has it");
    assert!(text.contains("publish: 2026-12-"), "it comes out later");
    lab.write(&shoe, &text);
    let log = lab.text("lab/control.csv");
    let later: String = (1..9)
        .map(|day| format!("2026-12-0{day},6.90,8.44,19.6,300\n"))
        .collect();
    lab.write("lab/control.csv", &format!("{log}{later}"));
    lab
}

/// Version 5 of the rule set, from 1 December.
fn next_rules(lab: &Lab) -> String {
    lab.text("lab/rules.yaml")
        .replacen(
            "version: 4\neffective: 2026-11-01",
            "version: 5\neffective: 2026-12-01",
            1,
        )
        .replacen(
            "rules:\n",
            "  - {version: 5, effective: 2026-12-01, note: Torsion points moved.}\nrules:\n",
            1,
        )
        .replacen("[45, 60], [65, 80]", "[58, 60], [75, 80]", 1)
}

/// With the next rule set in its place, the present one kept; or the other way round.
fn with_both_rules(lab: &Lab, next_in_place: bool) {
    let (next, present) = (next_rules(lab), lab.text("lab/rules.yaml"));
    let (rules, kept, name) = if next_in_place {
        (next, present, "lab/earlier/rules-4.yaml")
    } else {
        (present, next, "lab/earlier/rules-5.yaml")
    };
    lab.write("lab/rules.yaml", &rules);
    lab.write(name, &kept);
}

fn published(lab: &Lab, day: &str) -> BTreeMap<String, Vec<u8>> {
    lab.run(&["publish", "--as-of", day, "--pdf", "never"])
        .assert()
        .success();
    lab.folio()
}

fn differing(a: &BTreeMap<String, Vec<u8>>, b: &BTreeMap<String, Vec<u8>>) -> Vec<String> {
    let paths = a.keys().chain(b.keys());
    let mut other: Vec<String> = paths
        .filter(|path| a.get(*path) != b.get(*path))
        .cloned()
        .collect();
    other.sort();
    other.dedup();
    other
}

#[test]
fn the_edition_of_a_day_is_that_of_a_lab_to_which_nothing_came_later() {
    let (before, after) = (before(), after());
    let then = published(&before, DAY);
    for next_in_place in [true, false] {
        let lab = self::after();
        with_both_rules(&lab, next_in_place);
        assert_eq!(
            differing(&published(&lab, DAY), &then),
            Vec::<String>::new()
        );
        // And on the later day all of it is there, in either place.
        let later = published(&lab, LATER);
        assert!(later.contains_key(&format!("shoes/{COMING}/index.html")));
        assert!(lab.text("out/method/index.html").contains("version 5"));
    }
    // What is sealed later is in no earlier edition either.
    after
        .run(&["seal", "--as-of", SEALED, "--because", "First published."])
        .assert()
        .success();
    assert_eq!(
        differing(&published(&after, DAY), &then),
        Vec::<String>::new()
    );
}

#[test]
fn the_library_makes_the_files_of_a_day_as_they_are_published() {
    let (then, after) = (published(&before(), DAY), after());
    with_both_rules(&after, true);
    let root = Root::open(after.path()).expect("a folder");
    let lab = Laboratory::load(&root).expect("a lab without a mistake");
    assert_eq!(lab.rules().version, 5);
    let folio = lab.folio(DAY.parse().unwrap()).expect("a folio");
    assert_eq!(folio.edition().rules.version, 4);
    for path in folio.paths() {
        let made = folio
            .file(&path)
            .expect("it is planned")
            .expect("it is made");
        assert!(then[&path] == made, "{path} is not as it was published");
    }
}

#[test]
fn the_trace_of_a_day_knows_nothing_that_came_later() {
    let (before, after) = (before(), after());
    with_both_rules(&after, true);
    let arguments = ["trace", SHOE, "--as-of", DAY];
    let then = before.json(&arguments);
    assert_eq!(after.json(&arguments), then);
    assert_eq!(then["rules_version"], 4);
    let now = after.json(&["trace", SHOE, "--as-of", LATER]);
    assert_eq!(now["rules_version"], 5);
    assert_ne!(now["way"], then["way"]);
    // A shoe that was not out is not in the edition, unless one asks for drafts.
    let told = after
        .run(&["trace", COMING, "--as-of", DAY])
        .output()
        .unwrap();
    assert_eq!(told.status.code(), Some(2));
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(
        told.contains("is not out on 2026-11-28: it comes out on 2026-12-"),
        "{told}"
    );
    after
        .run(&["trace", COMING, "--as-of", DAY, "--drafts"])
        .assert()
        .success();
    after.run(&["trace", COMING]).assert().success();
    let text = after.run(&arguments).output().unwrap();
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    assert!(
        text.contains("as of 2026-11-28; rule set version 4; protocol version 2"),
        "{text}"
    );
}

/// A preview that runs until it is dropped.
struct Preview {
    child: Child,
    host: String,
}

impl Preview {
    fn start(lab: &Lab, more: &[&str]) -> Preview {
        let mut child = Command::new(assert_cmd::cargo::cargo_bin("solefolio"))
            .arg("--root")
            .arg(lab.path())
            .args(["preview", "--as-of", DAY, "--format", "json"])
            .args(more)
            // What is published below has no prints either.
            .env("SOLEFOLIO_TYPST", "/nonexistent/typst")
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("a pipe"))
            .read_line(&mut line)
            .expect("it tells its address");
        let told: serde_json::Value = serde_json::from_str(&line).expect("JSON");
        let address = told["address"].as_str().expect("an address");
        let host = address.trim_start_matches("http://").trim_end_matches('/');
        Preview {
            child,
            host: host.to_owned(),
        }
    }

    /// Status and body of what stands at a path.
    fn get(&self, path: &str) -> (u16, Vec<u8>) {
        let mut stream = TcpStream::connect(&self.host).expect("it listens");
        let ask = format!(
            "GET /{path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
            self.host
        );
        stream.write_all(ask.as_bytes()).expect("it reads");
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).expect("it answers");
        let end = answer.windows(4).position(|four| four == b"\r\n\r\n");
        let (head, body) = answer.split_at(end.expect("a head") + 4);
        let head = String::from_utf8_lossy(head).into_owned();
        assert!(!head.to_lowercase().contains("chunked"), "{head}");
        let status = head.split(' ').nth(1).and_then(|code| code.parse().ok());
        (status.expect("a status"), body.to_vec())
    }
}

impl Drop for Preview {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A page without what the preview puts into its head for itself.
fn bare(page: &[u8]) -> String {
    let text = String::from_utf8_lossy(page).into_owned();
    match text.find("<link rel=\"stylesheet\" href=\"/-/") {
        None => text,
        Some(from) => {
            let end = from + text[from..].find("</head>").expect("its end");
            format!("{}{}", &text[..from], &text[end..])
        }
    }
}

#[test]
fn the_preview_of_a_day_shows_the_edition_as_it_was_published() {
    let then = published(&before(), DAY);
    let lab = after();
    with_both_rules(&lab, true);
    let preview = Preview::start(&lab, &["--published"]);
    let mut shown = 0;
    for (path, bytes) in &then {
        // The manifest and the fixed files of the folio are the press's own.
        if !path.ends_with(".html") && !path.starts_with("data/") || path.ends_with("404.html") {
            continue;
        }
        let (status, body) = preview.get(path.trim_end_matches("index.html"));
        assert_eq!(status, 200, "{path}");
        let same = bare(&body) == String::from_utf8_lossy(bytes);
        assert!(same, "{path} is not as it was published");
        shown += 1;
    }
    assert!(shown > 30, "{shown}");
    assert_eq!(preview.get(&format!("shoes/{COMING}/")).0, 404);
    drop(preview);
    // Without the option what is held is there too, and every page says so.
    let preview = Preview::start(&lab, &[]);
    let (status, body) = preview.get(&format!("shoes/{COMING}/"));
    assert_eq!(status, 200);
    assert!(bare(&body).contains("Draft edition"));
    assert!(!lab.path().join("out").exists(), "nothing is written");
}
