//! `ripple` says before a change what the publish after it does.

mod seal_support;

use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};
use seal_support::{Lab, small};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

const DAY: &str = "2026-11-28";

/// The findings as published: by shoe and finding, the row without the versions.
fn findings(lab: &Lab) -> BTreeMap<(String, String), BTreeMap<String, String>> {
    let text = lab.text("out/data/findings.csv");
    let mut lines = text.lines().map(fields);
    let head = lines.next().expect("a header");
    lines
        .map(|row| {
            let mut row: BTreeMap<String, String> = head.iter().cloned().zip(row).collect();
            row.remove("rules_version");
            let name = |of: &str| row[of].clone();
            ((name("shoe"), name("finding")), row)
        })
        .collect()
}

/// The fields of a line of CSV (RFC 4180), without line breaks in them.
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            c => fields.last_mut().expect("a field").push(c),
        }
    }
    fields
}

/// Changes one thing of a rule set at random, in a way it can be changed.
fn change(rules: &mut serde_yaml::Value, random: &mut StdRng) -> String {
    const SCALES: [&str; 5] = ["torsion", "heel-firmness", "rebound", "lightness", "lift"];
    match random.random_range(0..10) {
        0..=5 => {
            let name = SCALES[random.random_range(0..SCALES.len())];
            let points = rules["rules"][name]["points"].as_sequence_mut().unwrap();
            let at = random.random_range(1..points.len() - 1);
            let x = |point: &serde_yaml::Value| point[0].as_f64().unwrap();
            let (before, after) = (x(&points[at - 1]), x(&points[at + 1]));
            let share = random.random_range(0.15..0.85);
            let new = ((before + (after - before) * share) * 100.0).round() / 100.0;
            points[at][0] = new.into();
            format!("{name}.points[{at}][0] = {new}")
        }
        6 => {
            let cut = random.random_range(25..45);
            rules["rules"]["platform"]["cuts"][0] = cut.into();
            format!("platform.cuts[0] = {cut}")
        }
        7 => {
            let cut = random.random_range(35..65);
            rules["rules"]["pace"]["cuts"][1] = cut.into();
            format!("pace.cuts[1] = {cut}")
        }
        8 => {
            let limit = f64::from(random.random_range(55..99)) / 100.0;
            rules["borderline-below"] = limit.into();
            format!("borderline-below = {limit}")
        }
        _ => {
            let kept = random.random_range(50..95);
            rules["rules"]["sinking-heel"]["when"] = format!("drop_kept < {kept}.0").into();
            format!("sinking-heel below {kept}")
        }
    }
}

fn next_version(rules: &mut serde_yaml::Value) {
    let version = rules["version"].as_u64().unwrap() + 1;
    rules["version"] = version.into();
    let line = format!("{{version: {version}, effective: 2026-11-01, note: Tried.}}");
    let line = serde_yaml::from_str(&line).unwrap();
    rules["history"].as_sequence_mut().unwrap().push(line);
}

fn paths(value: &Value) -> BTreeSet<String> {
    let list = value.as_array().expect("a list");
    list.iter()
        .map(|path| path.as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn a_hundred_random_changes_do_what_was_forecast() {
    let lab = small();
    let mut random = StdRng::seed_from_u64(20_261_126);
    let mut rules: serde_yaml::Value = serde_yaml::from_str(&lab.text("lab/rules.yaml")).unwrap();
    let publish = ["publish", "--as-of", DAY, "--pdf", "never", "--why"];
    lab.run(&publish).assert().success();
    let mut before = findings(&lab);
    let (mut bands_moved, mut files_made) = (0, 0);
    for round in 0..100 {
        let tried = change(&mut rules, &mut random);
        // Every other change is published as a new version, which all pages show.
        if round % 2 == 0 {
            next_version(&mut rules);
        }
        let text = serde_yaml::to_string(&rules).unwrap();
        lab.write("tried.yaml", &text);
        let file = lab.path().join("tried.yaml");
        let forecast = lab.json(&[
            "ripple",
            "--rules",
            file.to_str().unwrap(),
            "--as-of",
            DAY,
            "--pdf",
            "never",
        ]);
        lab.write("lab/rules.yaml", &text);
        let report = lab.json(&publish);
        let after = findings(&lab);

        let made: BTreeSet<String> = report["why"]
            .as_array()
            .into_iter()
            .flatten()
            .filter(|why| ["made", "same"].contains(&why["outcome"].as_str().unwrap()))
            .map(|why| why["path"].as_str().unwrap().to_owned())
            // The manifest follows whatever is made.
            .filter(|path| path != solefolio::press::MANIFEST)
            .collect();
        let again = paths(&forecast["sheets"]["again"]);
        assert_eq!(again, made, "round {round}: {tried}");
        files_made += made.len();

        let mut told: BTreeMap<(String, String), &Value> = BTreeMap::new();
        for shoe in forecast["ripple"]["shoes"].as_array().unwrap() {
            for change in shoe["changes"].as_array().unwrap() {
                let name = |of: &Value| of.as_str().unwrap().to_owned();
                told.insert((name(&shoe["shoe"]), name(&change["finding"])), change);
            }
        }
        for (key, row) in &after {
            let differs = before[key] != *row;
            let Some(change) = told.get(key) else {
                assert!(!differs, "round {round}: {tried}: {key:?} was not forecast");
                continue;
            };
            // The data don't tell on which side of its threshold an advice's estimate lies.
            assert!(
                differs || row["kind"] == "advice",
                "round {round}: {tried}: {key:?} did not change"
            );
            let new = &change["new"];
            let said = |of: &str| new[of].as_str().unwrap_or_default().to_owned();
            assert_eq!(said("band"), row["band"], "round {round}: {tried}: {key:?}");
            assert_eq!(
                said("borderline"),
                row["borderline_with"],
                "{tried}: {key:?}"
            );
            assert_eq!(said("not_judged"), row["not_judged"], "{tried}: {key:?}");
            if let Some(rank) = new["rank"].as_array() {
                assert_eq!(rank[0].to_string(), row["rank"], "{tried}: {key:?}");
            }
            bands_moved += usize::from(before[key]["band"] != row["band"]);
        }
        before = after;
    }
    // The changes were large enough to mean something.
    assert!(
        bands_moved > 30 && files_made > 1000,
        "{bands_moved}, {files_made}"
    );
}

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

#[test]
fn a_number_moved_along_a_range_shows_where_shoes_change_band() {
    let lab = small();
    let page = lab.path().join("sweep.html");
    let sweep = lab.json(&[
        "ripple",
        "--sweep",
        "torsion.points[3]",
        "35..55",
        "--as-of",
        DAY,
        "--html",
        page.to_str().unwrap(),
    ]);
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
    assert!(!html.contains("<img") && !html.contains("<script"));
    for outside in ["http://", "https://", "src=\"", "url(", "@import", "<link"] {
        assert!(!html.contains(outside), "{outside}");
    }
    assert!(html.contains("prefers-color-scheme:dark") && html.contains("<details>"));
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
