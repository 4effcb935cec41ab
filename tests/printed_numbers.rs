//! Every number a review of the demo prints has its unit, its uncertainty and the
//! number of readings behind it; every statistic names where it is published; and
//! what the ledger seals of a score is what the page prints.

use serde_json::Value;
use solefolio::edition::{Edition, Scope, sealed};
use solefolio::files::{Key, Root};
use solefolio::gather::gather;
use solefolio::outputs::{Make, Surroundings, all};
use std::path::Path;

fn edition() -> Edition {
    let root = Root::open(Path::new(env!("CARGO_MANIFEST_DIR"))).expect("the demo lab is here");
    let gathered = gather(&root).unwrap_or_else(|problems| panic!("{problems:#?}"));
    Edition::assemble(
        gathered.lab,
        gathered.rules,
        gathered.shoes,
        std::collections::BTreeMap::new(),
        "2026-11-29".parse().unwrap(),
        Scope::Published,
    )
    .edition
}

/// The views of all pages that a template of this name fills.
fn views(edition: &Edition, wanted: &str) -> Vec<(String, Value)> {
    let surroundings = Surroundings::default();
    all()
        .iter()
        .flat_map(|output| output.plan(edition, &surroundings))
        .filter_map(|sheet| match &sheet.make {
            Make::Page { template, view } if *template == wanted => {
                Some((sheet.path.as_str().to_owned(), view().value()))
            }
            _ => None,
        })
        .collect()
}

fn is_number(text: &str) -> bool {
    text.replace('\u{2212}', "-").parse::<f64>().is_ok()
}

/// A figure is a number, with a unit and an uncertainty over zero.
#[track_caller]
fn is_whole(figure: &Value, what: &str) {
    let text = |key: &str| figure[key].as_str().unwrap_or_default();
    assert!(is_number(text("number")), "{what}: {figure}");
    assert!(!text("unit").is_empty(), "{what}: {figure}");
    assert!(
        text("U").parse::<f64>().is_ok_and(|spread| spread > 0.0),
        "{what}: {figure}"
    );
}

#[test]
fn every_number_of_a_review_has_unit_uncertainty_and_how_many_readings() {
    let edition = edition();
    let reviews = views(&edition, "review.html");
    let (mut quantities, mut scores, mut placed) = (0, 0, 0);
    let protocol = &edition.lab.protocol;
    let decimals = |key: &str| protocol.quantities.get(key).unwrap().decimals;
    for (path, review) in &reviews {
        for quantity in review["quantities"].as_array().unwrap() {
            if quantity["absent"].is_string() {
                continue;
            }
            quantities += 1;
            is_whole(&quantity["figure"], path);
            assert!(
                quantity["n"].as_u64().is_some_and(|n| n > 0),
                "{path}: {quantity}"
            );
            assert!(quantity["k"].is_string(), "{path}: {quantity}");
            // No reading is printed finer than one place beyond what the protocol says a
            // reading can mean, wherever it was worked out and not read off.
            let decimals = usize::from(decimals(quantity["key"].as_str().unwrap()));
            for specimen in quantity["specimens"].as_array().unwrap() {
                for trial in specimen["trials"].as_array().unwrap() {
                    let number = trial["number"].as_str().unwrap();
                    let places = number.split_once('.').map_or(0, |(_, rest)| rest.len());
                    assert!(places <= decimals + 1, "{path}: {quantity}");
                }
            }
        }
        let banded = ["lead", "other"].map(|part| review[part].as_array().unwrap());
        for finding in banded.into_iter().flatten() {
            let says = &finding["says"];
            if says.is_null() {
                assert!(finding["not_judged"].is_string(), "{path}: {finding}");
                continue;
            }
            scores += 1;
            // A score held at the end of its scale is sure to the last digit printed.
            let held = ["0", "100"].contains(&says["score"]["number"].as_str().unwrap());
            if !held {
                is_whole(&says["score"], path);
            }
            if !says["value"].is_null() {
                is_whole(&says["value"], path);
            }
            assert!(says["chance"].as_str().unwrap().ends_with('%'));
            if let Some(standing) = says["standing"].as_str() {
                placed += 1;
                // The last number: `higher than 52 % of 31 road shoes`.
                let mut numbers = standing.split(' ').filter_map(|word| word.parse().ok());
                let among: Option<usize> = numbers.next_back();
                let enough = among.is_some_and(|n| n >= protocol.minimum_shoes);
                assert!(enough, "{path}: {standing}");
            }
        }
        for value in review["values"].as_array().unwrap() {
            if value["figure"].is_null() {
                assert!(value["not_judged"].is_string(), "{path}: {value}");
            } else {
                is_whole(&value["figure"], path);
            }
        }
        let shoe = &review["shoe"];
        for size in ["size", "reference_size"] {
            assert!(
                shoe[size]
                    .as_str()
                    .is_some_and(|text| !text.is_empty() && text.contains(' ')),
                "{path}: tested and reference size"
            );
        }
    }
    assert!(reviews.len() > 30 && quantities > 150 && scores > 150 && placed > 100);
}

#[test]
fn reviews_name_what_is_lighter_heavier_stiffer_and_easier_to_twist_and_otherwise_alike() {
    let edition = edition();
    let mut told = Vec::new();
    for (path, review) in views(&edition, "review.html") {
        for other in review["alike"].as_array().unwrap() {
            told.push((
                path.clone(),
                other["difference"].as_str().unwrap().to_owned(),
            ));
        }
    }
    let reviews = |word: &str| {
        let mut paths: Vec<&str> = told
            .iter()
            .filter(|(_, difference)| difference.contains(word))
            .map(|(path, _)| path.as_str())
            .collect();
        paths.dedup();
        paths.len()
    };
    for word in ["lighter", "heavier", "stiffer to twist", "easier to twist"] {
        assert!(reviews(word) >= 1, "{word}: {told:#?}");
    }
    assert!(reviews("") >= 4, "{told:#?}");
}

#[test]
fn the_ledger_seals_a_score_as_the_page_prints_it() {
    let edition = edition();
    let mut compared = 0;
    for (path, review) in views(&edition, "review.html") {
        let slug = review["shoe"]["slug"].as_str().unwrap().parse().unwrap();
        let sealed = sealed(edition.shoe(&slug).unwrap(), &edition);
        let banded = ["lead", "other"].map(|part| review[part].as_array().unwrap());
        for finding in banded.into_iter().flatten() {
            let Some(printed) = finding["says"]["score"]["number"].as_str() else {
                continue;
            };
            let key: Key = finding["key"].as_str().unwrap().parse().unwrap();
            let figures = sealed[&key].figures.as_deref().unwrap();
            let figures = figures.rsplit(", ").next().unwrap();
            assert_eq!(figures, format!("{printed} of 100"), "{path} {key}");
            compared += 1;
        }
    }
    assert!(compared > 150, "{compared}");
}

#[test]
fn every_statistic_of_the_method_page_is_told_in_words_symbols_and_source() {
    let edition = edition();
    let method = views(&edition, "method.html");
    let statistics = method[0].1["statistics"].as_array().unwrap();
    assert!(statistics.len() >= 16);
    for statistic in statistics {
        for part in ["name", "plain", "symbols", "source"] {
            assert!(
                statistic[part]
                    .as_str()
                    .is_some_and(|text| !text.is_empty()),
                "{statistic}"
            );
        }
    }
}

/// A published method is named by an author and a year, a standard, or a handbook;
/// what has no source says so.
const SOURCES: [&str; 6] = [
    "JCGM ",
    "NIST/SEMATECH",
    "ISO ",
    "common practice, no source",
    "from memory",
    "EA-4/02",
];

/// Whether a text names a year of print.
fn has_year(text: &str) -> bool {
    text.split(|c: char| !c.is_ascii_digit())
        .any(|digits| digits.len() == 4 && ("1800".."2100").contains(&digits))
}

/// Files of `measure` without a statistic of their own: the rooms' doors, plain
/// bookkeeping, and what another file's doc stands for.
const PLAIN: [&str; 4] = ["mod.rs", "flags.rs", "tests.rs", "curve.rs"];

#[test]
fn every_file_of_measure_names_the_published_method_it_follows() {
    let mut looked = 0;
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src/measure")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let name = path.file_name().unwrap().to_str().unwrap();
            if PLAIN.contains(&name) || name.ends_with("_tests.rs") {
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            let docs: String = text
                .lines()
                .take_while(|line| !line.starts_with("#[cfg(test)]"))
                .filter_map(|line| line.trim_start().strip_prefix("//"))
                .map(|line| line.trim_start_matches(['/', '!']))
                .collect();
            assert!(
                has_year(&docs) || SOURCES.iter().any(|source| docs.contains(source)),
                "{} names no published method",
                path.display()
            );
            looked += 1;
        }
    }
    assert!(looked >= 18, "{looked}");
}
