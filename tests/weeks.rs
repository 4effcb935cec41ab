//! Weeks: the publish dates decide; what was taken back or renamed keeps its
//! address; the desk list says what a batch still misses.

mod seal_support;

use seal_support::{Lab, demo, left_out, small, typst};
use serde_json::Value;

fn publish(lab: &Lab, day: &str) {
    lab.run(&["publish", "--as-of", day, "--pdf", "never"])
        .assert()
        .success();
}

#[test]
fn the_date_decides_which_shoes_and_weeks_are_out_and_going_back_gives_the_same_bytes() {
    let lab = demo();
    publish(&lab, "2026-11-05");
    let then = lab.folio();
    assert!(then.contains_key("weeks/2026-w45/index.html"));
    assert!(!then.contains_key("weeks/2026-w48/index.html"));
    assert!(!then.contains_key("shoes/dunmarrow-heathpony-2/index.html"));
    publish(&lab, "2026-12-03");
    let ahead = lab.folio();
    assert!(ahead.contains_key("shoes/dunmarrow-heathpony-2/index.html"));
    assert!(ahead.contains_key("weeks/2026-w49/index.html"));
    publish(&lab, "2026-11-05");
    let same = lab.folio() == then;
    assert!(same, "the edition of a past day is not the same");
}

#[test]
fn a_review_taken_back_leaves_a_page_that_says_so_at_its_address() {
    let lab = small();
    let shoe = "shoes/quillmoor-peatcutter-3.yaml";
    let on = "withdrawn: {on: 2026-11-27, reason: The maker changed the last after we had measured it.}\n";
    lab.write(shoe, &format!("{}{on}", lab.text(shoe)));
    publish(&lab, "2026-11-26");
    let page = "out/shoes/quillmoor-peatcutter-3/index.html";
    assert!(!lab.text(page).contains("was withdrawn"));
    assert!(
        lab.text("out/data/findings.csv")
            .contains("quillmoor-peatcutter-3")
    );
    publish(&lab, "2026-11-27");
    let text = lab.text(page);
    assert!(text.contains("was withdrawn") && text.contains("The maker changed the last"));
    assert!(!text.contains("Torsion"));
    for file in [
        "out/data/findings.csv",
        "out/compare/index.html",
        "out/sitemap.xml",
    ] {
        let text = lab.text(file);
        assert!(!text.contains("quillmoor-peatcutter-3"), "{file}");
    }
    assert!(lab.text("out/feed.xml").contains("Withdrawn: "));
}

#[test]
fn a_renamed_file_leaves_a_page_that_leads_to_the_new_address() {
    let lab = small();
    publish(&lab, "2026-11-28");
    let page = lab.text("out/shoes/ostrell-milkround-6/index.html");
    assert!(
        page.contains("url=../../shoes/ostrell-milkround-6-slate/")
            || page.contains("url=../ostrell-milkround-6-slate/"),
        "{page}"
    );
    assert!(page.contains("<a href="), "the way is there for people too");
    // Not before the shoe itself is out.
    publish(&lab, "2026-11-04");
    assert!(
        !lab.path()
            .join("out/shoes/ostrell-milkround-6/index.html")
            .exists()
    );
}

#[test]
fn an_editors_words_for_one_shoe_are_marked_as_an_editors() {
    let lab = small();
    publish(&lab, "2026-11-28");
    let own = lab.text("out/shoes/fennick-vale-thistledown-4/index.html");
    assert!(
        own.contains("plate beneath it spreads") && own.contains("editor"),
        "marked"
    );
}

/// A batch in which every kind of thing is missing once.
fn unready() -> Lab {
    let lab = small();
    let shoe = "shoes/fennick-vale-quarrel-2.yaml";
    let text = lab.text(shoe);
    let kept: Vec<&str> = text
        .lines()
        .filter(|line| {
            !line.starts_with("summary:")
                && !line.starts_with("price:")
                && !line.trim_start().starts_with("rebound-travel:")
        })
        .collect();
    lab.write(shoe, &(kept.join("\n") + "\n"));
    lab.edit(shoe, "review: |\n", "review: |\n  ![](sole.png)\n\n");
    lab
}

#[test]
fn the_desk_list_names_what_each_shoe_of_the_batch_misses() {
    let lab = unready();
    let list = lab.json(&["proof", "--week", "2026-W48"]);
    assert_eq!(list["ready"], false);
    let shoes = list["shoes"].as_array().unwrap();
    let slugs: Vec<&str> = shoes.iter().map(|s| s["shoe"].as_str().unwrap()).collect();
    assert_eq!(slugs, ["lindqvarn-tussock", "fennick-vale-quarrel-2"]);
    let missing: Vec<&Value> = shoes[1]["missing"].as_array().unwrap().iter().collect();
    let what: Vec<&str> = missing
        .iter()
        .map(|m| m["what"].as_str().unwrap())
        .collect();
    assert_eq!(what, ["readings", "summary", "picture-text", "price"]);
    assert_eq!(missing[0]["of"], "rebound-travel");
    let table = lab.run(&["proof", "--week", "2026-W48"]).output().unwrap();
    assert_eq!(table.status.code(), Some(1));
    let table = String::from_utf8(table.stdout).unwrap();
    for told in [
        "picture text",
        "the price: ",
        "readings of rebound-travel",
        "1 of 2 shoes can go out",
    ] {
        assert!(table.contains(told), "{told}: {table}");
    }
}

#[test]
fn a_batch_with_all_it_needs_is_ready() {
    let lab = demo();
    let list = lab.json(&["proof", "--week", "2026-W48"]);
    assert_eq!(list["ready"], true, "{list}");
    lab.run(&["proof", "--week", "2026-W48"]).assert().success();
    lab.run(&["proof", "--week", "2026-W99"]).assert().code(2);
}

#[test]
fn missing_trials_phrases_and_broken_files_hold_a_batch_up_and_the_list_still_comes() {
    let lab = demo();
    lab.edit(
        "shoes/lindqvarn-hushwing-2.yaml",
        "released: 2026-10",
        "released: 2026-10\npublish: 2026-12-10",
    );
    let list = lab.json(&["proof", "--week", "2026-W50"]);
    let missing = list["shoes"][0]["missing"].as_array().unwrap();
    let trials = missing
        .iter()
        .find(|m| m["what"] == "trials" && m["of"] == "midfoot-torque");
    assert_eq!(trials.expect("two trials of three")["are"], 2);
    // The words for a band taken away: every shoe with that band misses them.
    let lab = small();
    let phrases = lab.text("lab/phrases.yaml");
    let mut phrases: serde_yaml::Value = serde_yaml::from_str(&phrases).unwrap();
    let torsion = phrases["findings"]["torsion"].as_mapping_mut().unwrap();
    assert!(torsion.remove("high").is_some());
    lab.write(
        "lab/phrases.yaml",
        &serde_yaml::to_string(&phrases).unwrap(),
    );
    let list = lab.json(&["proof", "--week", "2026-W48"]);
    assert_eq!(list["ready"], false);
    let missing = &list["shoes"][0]["missing"];
    assert!(
        missing
            .as_array()
            .unwrap()
            .iter()
            .any(|m| m["what"] == "phrases" && m["entry"] == "high"),
        "{list}"
    );
    assert!(list["problems"].to_string().contains("phrase-missing"));
}

#[test]
fn a_week_has_a_page_and_a_print_with_cover_contents_and_reviews() {
    if typst().is_none() {
        return left_out("typst is not installed");
    }
    let lab = small();
    lab.run(&[
        "publish",
        "--as-of",
        "2026-11-28",
        "--pdf",
        "require",
        "--only",
        "2026-w48",
    ])
    .assert()
    .success();
    let page = lab.text("out/weeks/2026-w48/index.html");
    assert!(page.contains("week.pdf") && page.contains("Tussock"));
    let pdf = lab.path().join("out/weeks/2026-w48/week.pdf");
    assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-"));
    let Ok(text) = std::process::Command::new("pdftotext")
        .arg(&pdf)
        .arg("-")
        .output()
    else {
        return left_out("pdftotext is not installed");
    };
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    for told in ["2026-W48", "Contents", "Quarrel 2", "Tussock", "Torsion"] {
        assert!(text.contains(told), "{told}");
    }
}
