//! `seal`: the ledger only grows, by whole lines, with a reason, and what it
//! records stands on the pages, the method page and in the feed.

mod seal_support;

use seal_support::{Lab, demo, small};
use std::fs;

const FIRST: &str = "2026-11-26";
const LATER: &str = "2026-11-27";
const WHY: &str = "Torsion points above 45 in·lbf moved.";

fn seal(lab: &Lab, day: &str, why: &str) -> assert_cmd::assert::Assert {
    lab.run(&["seal", "--as-of", day, "--because", why])
        .assert()
}

/// Version 5 of the rule set: torsion is judged more mildly.
fn move_a_threshold(lab: &Lab) {
    lab.edit(
        "lab/rules.yaml",
        "version: 4\neffective: 2026-11-01",
        "version: 5\neffective: 2026-11-27",
    );
    lab.edit(
        "lab/rules.yaml",
        "rules:\n",
        "  - {version: 5, effective: 2026-11-27, note: Torsion points moved.}\nrules:\n",
    );
    lab.edit("lab/rules.yaml", "[45, 60], [65, 80]", "[52, 60], [70, 80]");
}

#[test]
fn the_first_seal_records_every_published_shoe_and_the_second_does_nothing() {
    let lab = small();
    seal(&lab, FIRST, "First published.").success();
    let ledger = lab.text("lab/ledger.jsonl");
    assert_eq!(ledger.lines().count(), seal_support::SMALL.len());
    seal(&lab, FIRST, "Again.").success();
    assert_eq!(lab.text("lab/ledger.jsonl"), ledger);
    let left: Vec<_> = fs::read_dir(lab.path().join("lab"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".new"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn a_day_far_ahead_is_not_sealed() {
    let lab = small();
    seal(&lab, "2999-01-01", "First published.").code(2);
    assert!(!lab.path().join("lab/ledger.jsonl").exists());
}

#[test]
fn a_reason_that_is_no_sentence_for_readers_is_refused() {
    let lab = small();
    let long = "x".repeat(401);
    for reason in ["", "  ", "two\nlines", "a\u{7}bell", &long] {
        seal(&lab, FIRST, reason).code(2);
    }
    assert!(!lab.path().join("lab/ledger.jsonl").exists());
}

#[test]
fn the_ledger_only_grows_and_goes_forward_in_time() {
    let lab = small();
    seal(&lab, FIRST, "First published.").success();
    let before = lab.text("lab/ledger.jsonl");
    move_a_threshold(&lab);
    seal(&lab, "2026-11-25", WHY).code(2);
    seal(&lab, LATER, WHY).success();
    let after = lab.text("lab/ledger.jsonl");
    assert!(after.starts_with(&before) && after.len() > before.len());
}

#[test]
fn what_changed_when_why_and_under_which_versions_stands_on_page_method_and_feed() {
    let lab = small();
    seal(&lab, FIRST, "First published.").success();
    move_a_threshold(&lab);
    lab.run(&["publish", "--as-of", LATER, "--pdf", "never"])
        .assert()
        .success();
    assert!(!lab.text("out/method/index.html").contains(WHY));
    seal(&lab, LATER, WHY).success();
    lab.run(&["publish", "--as-of", LATER, "--pdf", "never"])
        .assert()
        .success();
    let page = lab.text("out/shoes/quillmoor-peatcutter-3/index.html");
    for told in [
        WHY,
        "Rule set version 4 → 5; protocol version 2.",
        "27 November 2026",
        "Torsion: ",
    ] {
        assert!(page.contains(told), "{told}");
    }
    let method = lab.text("out/method/index.html");
    assert!(method.contains(WHY) && method.contains("version 4 → 5"));
    let feed = lab.text("out/feed.xml");
    let entry = feed
        .split("<entry>")
        .find(|entry| entry.contains("/shoes/quillmoor-peatcutter-3/"))
        .expect("the shoe is announced");
    assert!(
        entry.contains("<updated>2026-11-27T00:00:00Z</updated>"),
        "{entry}"
    );
    assert!(entry.contains("Corrected on 27 November 2026"));
    // As it was on the day before, nothing was corrected yet.
    lab.run(&["publish", "--as-of", FIRST, "--pdf", "never"])
        .assert()
        .success();
    assert!(!lab.text("out/method/index.html").contains(WHY));
}

#[test]
fn publishing_tells_what_changed_and_is_not_sealed() {
    let lab = small();
    let said = |lab: &Lab| {
        let output = lab
            .run(&["publish", "--as-of", LATER, "--pdf", "never", "--fresh"])
            .output()
            .unwrap();
        assert!(output.status.success());
        String::from_utf8(output.stderr).unwrap()
    };
    assert!(
        !said(&lab).contains("seal"),
        "a lab without a ledger is not reminded"
    );
    seal(&lab, FIRST, "First published.").success();
    assert!(!said(&lab).contains("seal"));
    move_a_threshold(&lab);
    let told = said(&lab);
    assert!(told.contains("solefolio seal --because TEXT"), "{told}");
    assert!(told.contains("fennick-vale-quarrel-2: "), "{told}");
    seal(&lab, LATER, WHY).success();
    assert!(!said(&lab).contains("seal"));
}

#[test]
fn a_rule_set_or_protocol_changed_under_a_sealed_version_is_a_problem() {
    let lab = small();
    seal(&lab, FIRST, "First published.").success();
    lab.edit("lab/rules.yaml", "[45, 60]", "[46, 60]");
    for command in [&["publish"][..], &["proof"], &["seal", "--because", "x"]] {
        let output = lab
            .run(command)
            .args(["--as-of", LATER, "--format", "json"])
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(1), "{command:?}");
        assert!(String::from_utf8_lossy(&output.stdout).contains("version-not-raised"));
    }
    lab.edit(
        "lab/rules.yaml",
        "rules:\n  torsion:",
        "rules:    # a comment is no change\n  torsion:",
    );
    lab.edit("lab/rules.yaml", "[46, 60]", "[45, 60]");
    lab.run(&["proof", "--as-of", LATER]).assert().success();
}

#[test]
fn a_ledger_that_was_tampered_with_stops_every_command_that_rests_on_it() {
    let lab = small();
    seal(&lab, FIRST, "First published.").success();
    let good = lab.text("lab/ledger.jsonl");
    let mut lines: Vec<&str> = good.lines().collect();
    lines.pop();
    let lost = lines
        .iter()
        .map(|line| format!("{line}\n"))
        .collect::<String>();
    for (spoilt, code) in [
        (good.replacen("First", "Last", 1), "ledger-broken"),
        (lost, "ledger-broken"),
        (good[..good.len() - 30].to_owned(), "ledger-torn"),
    ] {
        lab.write("lab/ledger.jsonl", &spoilt);
        for command in [&["publish"][..], &["proof"], &["seal", "--because", "x"]] {
            let output = lab
                .run(command)
                .args(["--as-of", LATER, "--format", "json"])
                .output()
                .unwrap();
            assert_eq!(output.status.code(), Some(1), "{command:?}");
            let told = String::from_utf8_lossy(&output.stdout);
            assert!(told.contains(code), "{command:?}: {told}");
        }
        assert_eq!(lab.text("lab/ledger.jsonl"), spoilt, "it is left as it is");
    }
}

#[test]
fn seals_at_once_write_one_chain() {
    let lab = small();
    let mut running: Vec<_> = (0..4)
        .map(|at| {
            std::process::Command::new(assert_cmd::cargo::cargo_bin("solefolio"))
                .arg("--root")
                .arg(lab.path())
                .args(["-q", "seal", "--as-of", FIRST, "--because"])
                .arg(format!("First published, by desk {at}."))
                .spawn()
                .unwrap()
        })
        .collect();
    for one in &mut running {
        assert!(one.wait().unwrap().success());
    }
    let ledger = lab.text("lab/ledger.jsonl");
    assert_eq!(ledger.lines().count(), seal_support::SMALL.len());
    lab.run(&["proof", "--as-of", FIRST]).assert().success();
}

#[test]
fn a_ledger_that_is_gone_with_its_head_is_noticed_by_the_folio_that_is_still_there() {
    let lab = demo();
    let day = "2026-11-26";
    lab.run(&["publish", "--as-of", day, "--pdf", "never"])
        .assert()
        .success();
    let whole = lab.text("lab/ledger.jsonl");
    let cut: Vec<&str> = whole.lines().collect();
    // The last line lost, and the head put right for what is left.
    let last: serde_json::Value = serde_json::from_str(cut[cut.len() - 2]).expect("an entry");
    lab.write(
        "lab/ledger.jsonl",
        &(cut[..cut.len() - 1].join("\n") + "\n"),
    );
    lab.write(
        "lab/ledger.head",
        &format!(
            "{} {}\n",
            cut.len() - 1,
            last["hash"].as_str().expect("a hash")
        ),
    );
    for gone in [false, true] {
        if gone {
            std::fs::remove_file(lab.path().join("lab/ledger.jsonl")).expect("it goes");
            std::fs::remove_file(lab.path().join("lab/ledger.head")).expect("it goes");
        }
        let said = lab
            .run(&[
                "seal",
                "--because",
                "A test of what is forgotten.",
                "--as-of",
                day,
            ])
            .output()
            .expect("it runs");
        assert_eq!(said.status.code(), Some(1), "nothing is sealed upon it");
        assert!(String::from_utf8_lossy(&said.stderr).contains("ledger-forgets"));
        assert!(!lab.path().join("lab/ledger.jsonl").exists() || !gone);
    }
    let said = lab
        .run(&["publish", "--as-of", day, "--pdf", "never"])
        .output()
        .expect("it runs");
    assert!(String::from_utf8_lossy(&said.stderr).contains("ledger-forgets"));
}

#[test]
fn a_ledger_without_its_head_is_said_to_be_of_unknown_length() {
    let lab = demo();
    std::fs::remove_file(lab.path().join("lab/ledger.head")).expect("it goes");
    let problems = lab.json(&["proof", "--as-of", "2026-11-26"]);
    assert!(problems.to_string().contains("ledger-head-missing"));
}
