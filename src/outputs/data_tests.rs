//! The open data of the small edition.

use super::*;
use crate::outputs::testing;
use crate::quantity::Uncertain;

fn composed<T>(edition: &Edition, make: impl FnOnce(&Composer<'_>) -> T) -> T {
    let surroundings = Surroundings::default();
    make(&Composer::new(edition, &surroundings))
}

fn text(edition: &Edition, write: Writing) -> String {
    let mut made = Vec::new();
    composed(edition, |composer| write(composer, &mut made)).unwrap();
    String::from_utf8(made).unwrap()
}

/// The rows of a table as maps from column to cell, by a plain reader of RFC 4180.
fn rows(table: &str) -> Vec<Vec<(String, String)>> {
    let mut records: Vec<Vec<String>> = vec![vec![String::new()]];
    let mut quoted = false;
    let mut letters = table.chars().peekable();
    while let Some(letter) = letters.next() {
        let record = records.last_mut().unwrap();
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                record.last_mut().unwrap().push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => record.push(String::new()),
            '\r' if !quoted => {}
            '\n' if !quoted => records.push(vec![String::new()]),
            other => record.last_mut().unwrap().push(other),
        }
    }
    records.pop();
    let head = records.remove(0);
    records
        .into_iter()
        .map(|record| head.iter().cloned().zip(record).collect())
        .collect()
}

fn cell<'a>(row: &'a [(String, String)], column: &str) -> &'a str {
    &row.iter()
        .find(|(name, _)| name == column)
        .expect("the column is there")
        .1
}

#[test]
fn values_are_unrounded_and_carry_unit_uncertainty_and_versions() {
    let edition = testing::edition();
    let table = rows(&text(&edition, quantities));
    let mass = table
        .iter()
        .find(|row| cell(row, "shoe") == "quarrel-2" && cell(row, "quantity") == "mass")
        .unwrap();
    let mean: f64 = cell(mass, "value").parse().unwrap();
    assert_eq!(mean, (262.0 + 263.0 + 262.0) / 3.0);
    assert_eq!((cell(mass, "unit"), cell(mass, "ucum")), ("g", "g"));
    assert_eq!(cell(mass, "standard_uncertainty"), "0.5");
    assert_eq!(cell(mass, "n"), "3");
    assert_eq!(cell(mass, "protocol_version"), "2");
    let k: f64 = cell(mass, "k").parse().unwrap();
    let wide: f64 = cell(mass, "expanded_uncertainty").parse().unwrap();
    assert!((k * 0.5 - wide).abs() < 1e-12);
    // Student t, 95 %, 10 degrees of freedom: 2.228 (JCGM 100:2008, table G.2, from memory: 2.23).
    assert!((k - 2.228).abs() < 5e-4);
}

#[test]
fn an_absent_value_is_an_empty_cell_with_its_reason_beside_it() {
    let edition = testing::edition();
    let table = rows(&text(&edition, quantities));
    let torque = table
        .iter()
        .find(|row| cell(row, "shoe") == "plover" && cell(row, "quantity") == "midfoot-torque")
        .unwrap();
    assert_eq!(cell(torque, "absent"), "it was not measured");
    for column in ["value", "unit", "k", "n", "provisional"] {
        assert_eq!(cell(torque, column), "", "{column}");
    }
    let findings = rows(&text(&edition, findings));
    let torsion = findings
        .iter()
        .find(|row| cell(row, "shoe") == "plover" && cell(row, "finding") == "torsion")
        .unwrap();
    assert_eq!(
        cell(torsion, "not_judged"),
        "midfoot torque was not measured"
    );
    assert_eq!((cell(torsion, "score"), cell(torsion, "band")), ("", ""));
}

#[test]
fn a_finding_tells_its_band_chance_standing_and_readings() {
    let edition = testing::edition();
    let table = rows(&text(&edition, findings));
    let of = |finding: &str| {
        let row = table
            .iter()
            .find(|row| cell(row, "shoe") == "quarrel-2" && cell(row, "finding") == finding);
        row.unwrap()
    };
    let torsion = of("torsion");
    assert_eq!(
        (cell(torsion, "band"), cell(torsion, "band_number")),
        ("medium", "3")
    );
    assert_eq!(
        (cell(torsion, "chance"), cell(torsion, "borderline_with")),
        ("0.71", "high")
    );
    assert_eq!(
        (cell(torsion, "rank"), cell(torsion, "of_shoes")),
        ("2", "6")
    );
    assert_eq!(
        (cell(torsion, "unit"), cell(torsion, "ucum")),
        ("in·lbf", "[in_i].[lbf_av]")
    );
    assert_eq!(cell(torsion, "n"), "3");
    assert_eq!(
        cell(of("pace"), "n"),
        "6",
        "a blend rests on its parts' readings"
    );
    assert_eq!(
        cell(of("builds"), "verdicts"),
        "light-build=close;middling-build=holds;heavy-build=holds;supinated=fails;neutral=holds;pronated=holds"
    );
    assert_eq!(cell(of("firm-landing"), "applies"), "close");
}

#[test]
fn of_a_score_far_beyond_its_scale_the_uncertainty_is_nought_and_never_unknown() {
    let torsion = |score: Uncertain, known: bool| {
        let mut edition = testing::edition();
        testing::hold_torsion(&mut edition, score, known);
        let table = rows(&text(&edition, findings));
        let row = table
            .iter()
            .find(|row| cell(row, "shoe") == "quarrel-2" && cell(row, "finding") == "torsion");
        ["score_standard_uncertainty", "score_expanded_uncertainty"]
            .map(|column| cell(row.unwrap(), column).to_owned())
    };
    let left = |u| testing::uncertain(100.0, u, "torque");
    assert_eq!(torsion(Uncertain::exact(100.0), true), ["0", "0"]);
    assert_eq!(torsion(left(1e-120), true), ["0", "0"]);
    // What is left is told as it is, as long as scores are kept so finely.
    assert_eq!(torsion(left(0.000_25), true)[0], "0.00025");
    assert_eq!(torsion(Uncertain::exact(100.0), false), ["", ""]);
}

#[test]
fn a_reading_keeps_what_was_written_and_why_it_is_left_out() {
    let edition = testing::edition();
    let table = rows(&text(&edition, readings));
    let torque: Vec<_> = table
        .iter()
        .filter(|row| cell(row, "shoe") == "quarrel-2" && cell(row, "quantity") == "midfoot-torque")
        .collect();
    assert_eq!(torque.len(), 4);
    assert_eq!(cell(torque[1], "written"), "38 in·lbf");
    assert!(cell(torque[2], "left_out").starts_with("the clamp slipped"));
    assert_eq!(cell(torque[0], "temperature_celsius"), "22.8");
    assert_eq!(cell(torque[0], "soaked_hours"), "14");
}

#[test]
fn a_maker_s_name_can_not_be_a_formula() {
    let edition = testing::edition();
    let table = rows(&text(&edition, shoes));
    let plover = table
        .iter()
        .find(|row| cell(row, "shoe") == "plover")
        .unwrap();
    assert_eq!(cell(plover, "maker"), "'=Pike");
}

#[test]
fn the_descriptor_tells_every_table_s_columns_as_they_are() {
    let edition = testing::edition();
    let descriptor = composed(&edition, |composer| {
        descriptor(composer, "2026-11-26", "", &Digests::default())
    });
    let descriptor: Value = serde_json::from_slice(&descriptor).unwrap();
    assert_eq!(descriptor["created"], "2026-11-26T00:00:00Z");
    assert_eq!(descriptor["licenses"][0]["name"], "CC-BY-4.0");
    let makers: [Writing; 4] = [shoes, quantities, findings, readings];
    for (at, make) in makers.into_iter().enumerate() {
        let fields = descriptor["resources"][at]["schema"]["fields"]
            .as_array()
            .unwrap();
        let told: Vec<&str> = fields
            .iter()
            .map(|field| field["name"].as_str().unwrap())
            .collect();
        let table = text(&edition, make);
        assert_eq!(table.lines().next().unwrap(), told.join(","));
        let digest = Digest::of(table.as_bytes());
        let resource = &descriptor["resources"][at];
        assert_eq!(resource["bytes"], table.len());
        assert_eq!(resource["hash"], format!("sha256:{}", digest.sha256));
    }
    assert_eq!(descriptor["resources"][4]["path"], "folio.json");
}

#[test]
fn an_edition_is_frozen_as_it_is_published_but_for_the_descriptor_s_own_name() {
    let edition = testing::edition();
    let frozen = freeze(&edition, "2026-11-26-2");
    let names: Vec<&str> = frozen.iter().map(|(name, _, _)| &**name).collect();
    assert_eq!(names[0], "shoes.csv");
    assert_eq!(*names.last().unwrap(), "datapackage.json");
    for ((name, bytes, sha256), (file, make)) in frozen.iter().zip(FILES) {
        assert_eq!(name, file);
        assert_eq!(*bytes, text(&edition, make).into_bytes());
        assert_eq!(*sha256, Digest::of(bytes).sha256);
    }
    let descriptor: Value = serde_json::from_slice(&frozen[5].1).unwrap();
    assert_eq!(descriptor["version"], "2026-11-26-2");
    let id = descriptor["id"].as_str().unwrap();
    assert!(id.ends_with("data/2026-11-26-2/datapackage.json"), "{id}");
}

#[test]
fn a_shoe_s_json_is_whole_and_the_folio_s_leaves_readings_out() {
    let edition = testing::edition();
    let quarrel = edition.shoe(&testing::slug("quarrel-2")).unwrap();
    let shoe = composed(&edition, |composer| shoe_json(composer, quarrel));
    let shoe: Value = serde_json::from_slice(&shoe).unwrap();
    assert_eq!(shoe["schema"], 1);
    assert_eq!(
        shoe["readings"].as_array().unwrap().len(),
        3 + 4 + 3 + 3 + 1
    );
    assert_eq!(shoe["findings"][0]["band"]["borderline_with"], "high");
    let folio: Value = serde_json::from_str(&text(&edition, folio_json)).unwrap();
    assert_eq!(folio["shoes"].as_array().unwrap().len(), 3);
    assert!(folio["shoes"][0].get("readings").is_none());
    assert_eq!(folio["findings"][0]["cuts"][0], 20.0);
}

#[test]
fn lines_end_as_rfc_4180_has_them() {
    let edition = testing::edition();
    let table = text(&edition, shoes);
    assert_eq!(table.matches("\r\n").count(), table.matches('\n').count());
    assert!(table.ends_with("\r\n"));
}
