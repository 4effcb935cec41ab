//! What holds for every output of an edition.

use super::*;
use crate::edition::Edition;
use std::collections::BTreeSet;

/// Every sheet's path and what it is made of, as text.
fn folio(edition: &Edition, surroundings: &Surroundings) -> Vec<(String, String)> {
    let sheets = all()
        .iter()
        .flat_map(|output| output.plan(edition, surroundings));
    sheets
        .map(|sheet| {
            let text = match &sheet.make {
                Make::Page { view, .. } | Make::Print { view, .. } => {
                    String::from_utf8(view().json()).unwrap()
                }
                Make::Bytes(make) => String::from_utf8(make()).expect("data are text"),
                Make::Stream(write) => String::from_utf8(streamed(write)).expect("data are text"),
                Make::Static { name } => name.clone(),
            };
            (sheet.path.to_string(), text)
        })
        .collect()
}

/// The texts of a view, keys left out.
fn texts(value: &serde_json::Value, found: &mut Vec<String>) {
    match value {
        serde_json::Value::String(text) => found.push(text.clone()),
        serde_json::Value::Array(items) => items.iter().for_each(|item| texts(item, found)),
        serde_json::Value::Object(fields) => fields.values().for_each(|field| texts(field, found)),
        _ => {}
    }
}

#[test]
fn outputs_have_names_of_their_own_and_no_two_sheets_one_path() {
    let names: BTreeSet<&str> = all().iter().map(|output| output.name()).collect();
    assert_eq!(names.len(), all().len());
    let edition = testing::with_draft();
    let folio = folio(&edition, &testing::with_prints());
    let paths: BTreeSet<&String> = folio.iter().map(|(path, _)| path).collect();
    assert_eq!(paths.len(), folio.len());
}

#[test]
fn the_folio_holds_what_the_design_says() {
    let edition = testing::edition();
    let folio = folio(&edition, &testing::with_prints());
    for path in [
        "index.html",
        "shoes/quarrel-2/index.html",
        "shoes/quarrel-2/review.pdf",
        "shoes/quarrel-2/data.json",
        "shoes/skua/index.html",
        "compare/index.html",
        "find/index.html",
        "find/data.js",
        "compare/data.js",
        "compare/all/index.html",
        "search/index.html",
        "search/data.js",
        "guide/index.html",
        "guide/guide.pdf",
        "weeks/2026-w48/index.html",
        "weeks/2026-w48/week.pdf",
        "method/index.html",
        "data/shoes.csv",
        "data/findings.csv",
        "data/readings.csv",
        "data/folio.json",
        "data/datapackage.json",
        "feed.xml",
        "sitemap.xml",
        "robots.txt",
        "404.html",
    ] {
        assert!(folio.iter().any(|(known, _)| known == path), "{path}");
    }
    for path in ["shoes/skua/review.pdf", "shoes/skua/data.json"] {
        assert!(folio.iter().all(|(known, _)| known != path), "{path}");
    }
}

#[test]
fn nothing_of_a_held_shoe_or_a_draft_is_anywhere() {
    let edition = testing::edition();
    for (path, text) in folio(&edition, &testing::with_prints()) {
        let all = format!("{path} {text}").to_lowercase();
        for held in ["whimbrel", "curlew"] {
            assert!(!all.contains(held), "{held} in {path}");
        }
    }
}

#[test]
fn nothing_of_a_review_taken_back_is_anywhere_but_that_it_was() {
    let edition = testing::edition();
    let may_name_it = [
        "shoes/skua/index.html",
        "weeks/2026-w47/index.html",
        "weeks/2026-w47/week.pdf",
        "method/index.html",
        "feed.xml",
        // What was sealed before stays, and the page beside it says what became of it.
        "data/2026-11-19/index.html",
    ];
    for (path, text) in folio(&edition, &testing::with_prints()) {
        assert!(
            !text.contains("9.87") && !text.contains("88.25"),
            "its numbers in {path}"
        );
        let named = text.contains("Skua") || text.contains("skua");
        assert_eq!(named, may_name_it.contains(&path.as_str()), "{path}");
    }
}

#[test]
fn no_text_is_a_number_that_is_none_a_host_s_path_or_a_desk_note() {
    let edition = testing::with_draft();
    for (path, text) in folio(&edition, &testing::with_prints()) {
        for wrong in [
            "SECRET",
            "secret-folder",
            "/home/",
            "/tmp/",
            env!("CARGO_MANIFEST_DIR"),
        ] {
            assert!(!text.contains(wrong), "{wrong} in {path}");
        }
        let Ok(view) = serde_json::from_str(&text) else {
            let words = text.split(|c: char| !c.is_alphanumeric());
            for word in words {
                assert!(
                    !["NaN", "inf", "Infinity", "null", "None"].contains(&word),
                    "{word} in {path}"
                );
            }
            continue;
        };
        let mut found = Vec::new();
        texts(&view, &mut found);
        for text in found {
            let words = text.split(|c: char| !c.is_alphanumeric());
            for word in words {
                assert!(
                    !["NaN", "inf", "Infinity", "None"].contains(&word),
                    "{text:?} in {path}"
                );
            }
            assert_ne!(text, "null", "in {path}");
            assert!(
                !text.contains("Some(") && !text.contains("{value}"),
                "{text:?} in {path}"
            );
        }
    }
}

#[test]
fn the_same_edition_gives_the_same_views_on_any_thread() {
    let edition = testing::edition();
    let surroundings = testing::with_prints();
    let here = folio(&edition, &surroundings);
    let there = std::thread::scope(|scope| {
        scope
            .spawn(|| folio(&testing::edition(), &surroundings))
            .join()
            .unwrap()
    });
    assert_eq!(here, there);
}

#[test]
fn every_page_of_an_edition_with_drafts_says_so() {
    let edition = testing::with_draft();
    let surroundings = testing::with_prints();
    for output in all() {
        for sheet in output.plan(&edition, &surroundings) {
            if sheet.path.as_str().starts_with("sitemap") {
                continue;
            }
            // A script has no words of its own; the page that reads it says so.
            let is_script = sheet.path.as_str().ends_with(".js");
            if let (Make::Page { view, .. }, false) = (&sheet.make, is_script) {
                assert_eq!(view().value()["site"]["drafts"], true, "{}", sheet.path);
            }
        }
    }
}
