//! `ripple`: what it takes, what it tells, and that it changes nothing. That what it
//! tells comes true is `ripple_forecast.rs`.

mod seal_support;

use seal_support::{Lab, small};
use serde_json::Value;
use std::path::Path;

const DAY: &str = "2026-11-28";

#[test]
fn a_value_is_tried_without_a_file_and_nothing_is_written() {
    let lab = small();
    let rules = lab.text("lab/rules.yaml");
    let tried = lab.json(&[
        "ripple",
        "--set",
        "torsion.points[3]=[52,60]",
        "--as-of",
        DAY,
        "--pdf",
        "never",
    ]);
    let torsion = &tried["ripple"]["findings"][0];
    assert_eq!(torsion[0], "torsion");
    assert!(torsion[1]["down"].as_u64().unwrap() >= 1);
    assert_eq!(torsion[1]["up"], 0);
    let first = &tried["ripple"]["shoes"][0];
    assert!(
        ["advice", "band"].contains(&first["notice"].as_str().unwrap()),
        "{first}"
    );
    assert_eq!(lab.text("lab/rules.yaml"), rules);
    assert!(!lab.path().join("out").exists());
    // The same through a file.
    lab.write("tried.yaml", &rules.replace("[45, 60]", "[52, 60]"));
    let file = lab.path().join("tried.yaml");
    let by_file = lab.json(&[
        "ripple",
        "--rules",
        file.to_str().unwrap(),
        "--as-of",
        DAY,
        "--pdf",
        "never",
    ]);
    assert_eq!(by_file["ripple"], tried["ripple"]);
}

#[test]
fn a_change_that_is_none_changes_nothing() {
    let lab = small();
    let tried = lab.json(&[
        "ripple",
        "--set",
        "torsion.points[3]=[45,60]",
        "--as-of",
        DAY,
        "--pdf",
        "never",
    ]);
    assert_eq!(tried["ripple"]["shoes"].as_array().unwrap().len(), 0);
    assert_eq!(tried["sheets"]["again"].as_array().unwrap().len(), 0);
}

#[test]
fn another_protocol_is_tried_too() {
    let lab = small();
    let text = lab
        .text("lab/protocol.yaml")
        .replacen("coverage: 95 %", "coverage: 99 %", 1);
    assert_ne!(text, lab.text("lab/protocol.yaml"));
    lab.write("tried.yaml", &text);
    let file = lab.path().join("tried.yaml");
    let tried = lab.json(&[
        "ripple",
        "--protocol",
        file.to_str().unwrap(),
        "--as-of",
        DAY,
        "--pdf",
        "never",
    ]);
    assert!(!tried["sheets"]["again"].as_array().unwrap().is_empty());
}

#[test]
fn what_changed_since_it_was_sealed_is_told() {
    let lab = small();
    lab.run(&["ripple", "--since-sealed", "--as-of", DAY])
        .assert()
        .code(2);
    lab.run(&[
        "seal",
        "--as-of",
        "2026-11-26",
        "--because",
        "First published.",
    ])
    .assert()
    .success();
    let since = lab.json(&["ripple", "--since-sealed", "--as-of", DAY]);
    assert_eq!(
        since["ripple"]["shoes"].as_array().unwrap().len(),
        0,
        "{since}"
    );
    lab.edit(
        "lab/rules.yaml",
        "version: 4\neffective",
        "version: 5\neffective",
    );
    lab.edit(
        "lab/rules.yaml",
        "rules:\n",
        "  - {version: 5, effective: 2026-11-01, note: Moved.}\nrules:\n",
    );
    lab.edit("lab/rules.yaml", "[45, 60]", "[52, 60]");
    let since = lab.json(&["ripple", "--since-sealed", "--as-of", DAY]);
    let tried: Vec<&Value> = since["ripple"]["findings"]
        .as_array()
        .unwrap()
        .iter()
        .collect();
    let torsion = tried.iter().find(|count| count[0] == "torsion").unwrap();
    assert!(torsion[1]["down"].as_u64().unwrap() >= 1, "{torsion}");
    assert_eq!(since["ripple"]["rules"], serde_json::json!([4, 5]));
}

/// A sweep of a torsion point, with its page.
fn swept(lab: &Lab, page: &Path) -> Value {
    lab.json(&[
        "ripple",
        "--sweep",
        "torsion.points[3]",
        "35..55",
        "--as-of",
        DAY,
        "--html",
        page.to_str().unwrap(),
    ])
}

#[test]
fn a_number_moved_along_a_range_shows_where_shoes_change_band() {
    let lab = small();
    let page = lab.path().join("sweep.html");
    let sweep = swept(&lab, &page);
    assert_eq!(sweep["path"], "torsion.points[3][0]");
    assert_eq!(sweep["now"], 45.0);
    let steps = sweep["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 21);
    let changed = |value: f64| {
        let step = steps.iter().find(|step| step["value"] == value).unwrap();
        step["changed"].as_u64().unwrap()
    };
    assert_eq!(changed(45.0), 0);
    assert!(changed(55.0) >= 1);
    // What a step counts is what trying its value forecasts.
    let tried = lab.json(&[
        "ripple",
        "--set",
        "torsion.points[3][0]=55",
        "--as-of",
        DAY,
        "--pdf",
        "never",
    ]);
    let moved = tried["ripple"]["shoes"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|shoe| {
            let changes = shoe["changes"].as_array().unwrap();
            changes.iter().any(|change| !change["way"].is_null())
        });
    assert_eq!(moved.count() as u64, changed(55.0));
    let text = lab
        .run(&[
            "ripple",
            "--sweep",
            "torsion.points[3]",
            "28..50",
            "--steps",
            "12",
            "--as-of",
            DAY,
        ])
        .output()
        .unwrap();
    let text = String::from_utf8(text.stdout).unwrap();
    assert!(text.contains('█') && text.contains("can't be"), "{text}");
    let html = std::fs::read_to_string(page).unwrap();
    assert!(html.contains("<svg") && html.contains("<desc"));
}

/// What a page must not hold that needs no other file: anything a browser fetches,
/// and any script. Its own anchors and pictures are all right.
#[track_caller]
fn stands_alone(html: &str) {
    for outside in [
        "http:",
        "https:",
        "//",
        "src=",
        "srcset",
        "url(",
        "@import",
        "@font-face",
        "<link",
        "<script",
        "<img",
        "<iframe",
        "<object",
        "<embed",
        "<base",
        "<form",
        "javascript:",
        " on",
        "http-equiv",
    ] {
        // ` on` stands for handlers such as onclick, so it counts within tags alone.
        let found = match outside {
            " on" => html.split('<').any(|tag| {
                let tag = tag.split('>').next().unwrap_or_default();
                tag.split(' ')
                    .skip(1)
                    .any(|word| word.starts_with("on") && word.contains('='))
            }),
            _ => html.contains(outside),
        };
        assert!(!found, "`{outside}` leads out of the page");
    }
    assert!(html.contains("prefers-color-scheme:dark") && html.contains("<meta name=\"viewport\""));
    assert!(html.starts_with("<!doctype html>\n<html lang=\"en\">"));
    // Every element that is opened is closed, in order, but those that never are.
    let mut open = Vec::new();
    for tag in html.split('<').skip(2) {
        let tag = tag.split('>').next().unwrap();
        let name = tag.split([' ', '/']).next().unwrap();
        if let Some(closed) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(closed), "</{closed}>");
        } else if !tag.ends_with('/') && name != "meta" {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
    let mut ids: Vec<&str> = html
        .split(" id=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "an identifier stands twice");
}

#[test]
fn the_page_to_send_around_stands_alone_and_escapes_what_it_shows() {
    let lab = small();
    lab.edit(
        "shoes/quillmoor-peatcutter-3.yaml",
        "model: Peatcutter",
        "model: \"<img src=x onerror=alert(1)>&\\\"'\"",
    );
    let page = lab.path().join("ripple.html");
    lab.run(&[
        "ripple",
        "--set",
        "torsion.points[3]=[52,60]",
        "--as-of",
        DAY,
        "--pdf",
        "never",
        "--html",
        page.to_str().unwrap(),
    ])
    .assert()
    .success();
    let html = std::fs::read_to_string(page).unwrap();
    assert!(html.contains("&lt;img src=x"));
    // What is escaped is text, and leads nowhere.
    stands_alone(&html.replace("&lt;img src=x onerror=alert(1)&gt;", ""));
    assert!(html.contains("<details>"));
}

#[test]
fn the_picture_of_a_sweep_is_sound_svg_with_a_name_and_stands_alone() {
    let lab = small();
    let page = lab.path().join("sweep.html");
    let sweep = swept(&lab, &page);
    let html = std::fs::read_to_string(page).unwrap();
    stands_alone(&html);
    let from = html.find("<svg ").expect("a picture");
    let end = html.find("</svg>").expect("its end") + "</svg>".len();
    let svg = &html[from..end];
    // Named for whom can't see it: what it shows, and what is to be seen.
    assert!(svg.contains("role=\"img\" aria-labelledby=\"title description\""));
    assert!(svg.contains("<title id=\"title\">Shoes that change band</title>"));
    let steps = sweep["steps"].as_array().unwrap();
    let most = steps
        .iter()
        .map(|step| step["changed"].as_u64().unwrap())
        .max();
    let says = format!(
        "One bar for each of 21 values of torsion.points[3][0], from 35 to 55; the highest is {} of 8 shoes, at ",
        most.unwrap()
    );
    assert!(svg.contains(&says), "{svg}");
    // Within a page the name space is understood; a reader of SVG alone wants it said.
    let alone = svg.replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" ", 1);
    let tree = resvg::usvg::Tree::from_str(&alone, &resvg::usvg::Options::default());
    let tree = tree.expect("sound SVG");
    let drawn = tree.root().abs_bounding_box();
    assert!(drawn.left() >= 0.0 && drawn.right() <= 720.0, "{drawn:?}");
    assert!(drawn.top() >= 0.0 && drawn.bottom() <= 300.0, "{drawn:?}");
    assert_eq!(svg.matches("class=\"bar\"").count(), 21);
    // The table beside it says every number of it.
    for step in steps {
        let row = format!(
            "<tr><th scope=\"row\">{}</th><td class=\"n\">{}</td>",
            step["text"].as_str().unwrap(),
            step["changed"]
        );
        assert!(html.contains(&row), "{row}");
    }
}

#[test]
fn what_is_tried_goes_through_the_same_checks() {
    let lab = small();
    for (setting, code) in [
        ("torsion.points[3]=[10,60]", "points-not-in-order"),
        ("torsion.kidn=scale", "unknown-key"),
        ("borderline-below=2", "limit-out-of-range"),
    ] {
        let told = lab
            .run(&[
                "ripple", "--set", setting, "--as-of", DAY, "--format", "json",
            ])
            .output()
            .unwrap();
        assert_eq!(told.status.code(), Some(1), "{setting}");
        let told = String::from_utf8_lossy(&told.stdout);
        assert!(told.contains(code), "{setting}: {told}");
    }
    lab.run(&["ripple", "--set", "torsoin.points[3]=1", "--as-of", DAY])
        .assert()
        .code(2);
    lab.run(&[
        "ripple",
        "--sweep",
        "torsion.points[3]",
        "50..40",
        "--as-of",
        DAY,
    ])
    .assert()
    .code(2);
    lab.run(&["ripple", "--as-of", DAY]).assert().code(2);
}
