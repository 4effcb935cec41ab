//! Sealed editions stay citable: their data never change, whatever is edited
//! afterwards, and are published from the lab's own folder.

mod seal_support;

use seal_support::{Lab, small};
use std::collections::BTreeMap;

const SHOE: &str = "fennick-vale-quarrel-2";

fn frozen_of(lab: &Lab, name: &str) -> BTreeMap<String, Vec<u8>> {
    let folder = format!("data/{name}/");
    lab.folio()
        .into_iter()
        .filter(|(path, _)| path.starts_with(&folder) && !path.ends_with("index.html"))
        .collect()
}

fn seal(lab: &Lab, day: &str) {
    lab.run(&["seal", "--as-of", day, "--because", "First published."])
        .assert()
        .success();
}

fn publish(lab: &Lab, day: &str) {
    lab.run(&["publish", "--as-of", day, "--pdf", "never"])
        .assert()
        .success();
}

fn change_mass(lab: &Lab) {
    let file = format!("shoes/{SHOE}.yaml");
    let text = lab.text(&file);
    let at = text.find("mass: [").expect("a mass") + "mass: [".len();
    let end = at + text[at..].find([',', ']']).expect("a reading");
    let changed = format!("{}{}{}", &text[..at], "264", &text[end..]);
    assert_ne!(changed, text);
    lab.write(&file, &changed);
}

#[test]
fn a_sealed_edition_stays_as_it_was_after_a_correction_and_in_an_empty_folder() {
    let lab = small();
    seal(&lab, "2026-11-26");
    publish(&lab, "2026-11-26");
    let first = frozen_of(&lab, "2026-11-26");
    assert_eq!(first.len(), 7, "{:?}", first.keys());
    let now = lab.folio();
    assert_eq!(
        first["data/2026-11-26/findings.csv"],
        now["data/findings.csv"]
    );
    assert_eq!(
        first["data/2026-11-26/readings.csv"],
        now["data/readings.csv"]
    );

    change_mass(&lab);
    lab.run(&[
        "seal",
        "--as-of",
        "2026-11-27",
        "--because",
        "The scale was misread.",
    ])
    .assert()
    .success();
    publish(&lab, "2026-11-28");
    assert_eq!(frozen_of(&lab, "2026-11-26"), first);
    let second = frozen_of(&lab, "2026-11-27");
    assert_ne!(
        second["data/2026-11-27/readings.csv"],
        first["data/2026-11-26/readings.csv"]
    );
    let page = lab.text("out/data/2026-11-26/index.html");
    assert!(
        page.contains("The scale was misread."),
        "it says what changed since"
    );
    assert!(
        !lab.text("out/data/2026-11-27/index.html")
            .contains("The scale was misread.</p>\n<ul>")
    );

    // The folio is made of its inputs alone: thrown away, it comes out the same.
    let whole = lab.folio();
    std::fs::remove_dir_all(lab.path().join("out")).expect("out/ can go");
    publish(&lab, "2026-11-28");
    let again = lab.folio();
    let differing: Vec<&String> = whole
        .keys()
        .chain(again.keys())
        .filter(|path| whole.get(*path) != again.get(*path))
        .collect();
    assert!(differing.is_empty(), "{differing:?}");

    // An edition before the second seal knows nothing of it.
    publish(&lab, "2026-11-26");
    assert!(frozen_of(&lab, "2026-11-27").is_empty());
    assert_eq!(frozen_of(&lab, "2026-11-26"), first);
}

#[test]
fn a_second_seal_of_a_day_leaves_the_first_one_alone() {
    let lab = small();
    seal(&lab, "2026-11-26");
    let first = lab.text("lab/editions/2026-11-26/readings.csv");
    seal(&lab, "2026-11-26");
    assert!(
        !lab.path().join("lab/editions/2026-11-26-2").exists(),
        "nothing changed"
    );
    change_mass(&lab);
    seal(&lab, "2026-11-26");
    assert_eq!(lab.text("lab/editions/2026-11-26/readings.csv"), first);
    assert_ne!(lab.text("lab/editions/2026-11-26-2/readings.csv"), first);
}

#[test]
fn a_seal_that_was_stopped_before_it_froze_is_made_up_for() {
    let lab = small();
    seal(&lab, "2026-11-26");
    let editions = lab.path().join("lab/editions");
    let whole = lab.text("lab/editions/2026-11-26/edition.json");
    std::fs::rename(
        editions.join("2026-11-26"),
        editions.join(".2026-11-26.new"),
    )
    .expect("it is moved");
    seal(&lab, "2026-11-26");
    assert_eq!(lab.text("lab/editions/2026-11-26/edition.json"), whole);
    assert!(!editions.join(".2026-11-26.new").exists());
}

#[test]
fn a_frozen_file_that_was_edited_is_neither_passed_nor_published() {
    let lab = small();
    seal(&lab, "2026-11-26");
    lab.edit("lab/editions/2026-11-26/findings.csv", "medium", "high");
    for arguments in [
        &["proof", "--as-of", "2026-11-26"][..],
        &["publish", "--as-of", "2026-11-26", "--pdf", "never"],
    ] {
        let output = lab.run(arguments).output().expect("it runs");
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(said.contains("edition-altered"), "{said}");
        assert!(
            said.contains("lab/editions/2026-11-26/findings.csv"),
            "{said}"
        );
    }
    lab.write("lab/editions/2026-11-26/edition.json", "{}");
    let output = lab
        .run(&["proof", "--as-of", "2026-11-26"])
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(1));
}

#[test]
fn a_sealed_edition_whose_folder_is_gone_is_told_of() {
    let lab = small();
    seal(&lab, "2026-11-26");
    std::fs::remove_dir_all(lab.path().join("lab/editions")).expect("it can go");
    let told =
        |problems: &serde_json::Value| {
            problems.as_array().unwrap().iter().any(|one| {
                one["code"] == "edition-missing" && one["file"] == "lab/editions/2026-11-26"
            })
        };
    assert!(told(&lab.json(&["proof", "--as-of", "2026-11-28"])));
    let publish = ["publish", "--as-of", "2026-11-28", "--pdf", "never"];
    assert!(told(&lab.json(&publish)["problems"]));
}
