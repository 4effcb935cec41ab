//! The synthesised laboratory is the same every time and stops nothing.

#[expect(dead_code, reason = "its `main` and arguments are the example's own")]
#[path = "../examples/synthesise/main.rs"]
mod synthesise;

use solefolio::lab::{Instruments, ProtocolFile};
use solefolio::quantity::Unit;
use solefolio::shoe::{Readings, ShoeFile};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

fn lab_of(shoes: u32, seed: u64) -> (tempfile::TempDir, BTreeMap<String, Vec<u8>>) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("lab");
    synthesise::write_lab(&source, dir.path(), shoes, seed).expect("the lab is written");
    let files = walkdir::WalkDir::new(dir.path().join("shoes"))
        .into_iter()
        .map(|entry| entry.expect("a folder can be listed"))
        .filter(|entry| entry.file_type().is_file())
        .map(|entry| {
            let path = entry.path().strip_prefix(dir.path()).expect("it is inside");
            let bytes = fs::read(entry.path()).expect("a file can be read");
            (path.to_string_lossy().into_owned(), bytes)
        })
        .collect();
    (dir, files)
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_gives_others() {
    let (_one, first) = lab_of(60, 7);
    let (_two, second) = lab_of(60, 7);
    let (_three, other) = lab_of(60, 8);
    assert_eq!(first, second);
    assert_ne!(first, other);
}

#[test]
fn a_folder_that_is_not_empty_is_refused() {
    let (dir, _) = lab_of(1, 1);
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("lab");
    let refused = synthesise::write_lab(&source, dir.path(), 1, 1);
    assert!(refused.unwrap_err().to_string().contains("not empty"));
}

#[test]
fn addresses_are_unique_and_a_folder_holds_a_thousand_at_most() {
    let (_dir, files) = lab_of(6000, 1);
    let mut slugs = BTreeSet::new();
    let mut folders: BTreeMap<&str, usize> = BTreeMap::new();
    for path in files.keys().filter(|path| path.ends_with(".yaml")) {
        let (folder, name) = path.rsplit_once('/').expect("a shoe lies in a folder");
        assert!(slugs.insert(name), "{name} twice");
        *folders.entry(folder).or_default() += 1;
    }
    assert_eq!(slugs.len(), 6000);
    assert!(folders.values().all(|n| *n <= 1000), "{folders:?}");
}

#[test]
fn no_reading_is_beyond_what_the_protocol_lets_pass() {
    let (dir, files) = lab_of(1500, 3);
    let lab = |name: &str| fs::read_to_string(dir.path().join("lab").join(name)).expect("copied");
    let protocol: ProtocolFile = serde_yaml::from_str(&lab("protocol.yaml")).expect("its form");
    let instruments: Instruments =
        serde_yaml::from_str(&lab("instruments.yaml")).expect("its form");
    let mut left_out = 0;
    let mut curves = 0;
    for (path, bytes) in files.iter().filter(|(path, _)| path.ends_with(".yaml")) {
        let shoe: ShoeFile =
            serde_yaml::from_slice(bytes).unwrap_or_else(|e| panic!("{path}: {e}"));
        left_out += shoe.leave_out.len();
        let mut means: BTreeMap<String, Vec<f64>> = BTreeMap::new();
        for specimen in &shoe.specimens {
            for (key, readings) in specimen.readings.iter() {
                let amounts = match readings {
                    Readings::One(amount) => vec![*amount],
                    Readings::Trials(trials) => trials.clone(),
                    Readings::Curve(_) => {
                        curves += 1;
                        continue;
                    }
                };
                let spec = protocol.quantities.get(key).expect("a known quantity");
                let due = instruments
                    .instruments
                    .get(&spec.instrument)
                    .expect("known");
                assert!(specimen.session.on < due.calibration.due, "{path}: {key}");
                assert_eq!(amounts.len(), spec.trials, "{path}: {key}");
                let unit: Unit = spec.unit.parse().expect("a unit");
                let values: Vec<f64> = amounts
                    .iter()
                    .enumerate()
                    .filter(|(at, _)| {
                        !shoe.leave_out.iter().any(|entry| {
                            entry.specimen == specimen.id
                                && entry.quantity == *key
                                && entry.trial == at + 1
                        })
                    })
                    .map(|(_, amount)| amount.in_unit(unit).expect("convertible"))
                    .collect();
                let mean = values.iter().sum::<f64>() / values.len() as f64;
                let low = values.iter().copied().fold(f64::INFINITY, f64::min);
                let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let [least, greatest] = spec.plausible.map(|end| end.in_unit(unit).expect("range"));
                assert!(least <= low && high <= greatest, "{path}: {key}");
                let limit = spec.spread.map_or(f64::INFINITY, |spread| {
                    if spread.unit == Some(Unit::Percent) {
                        spread.value / 100.0 * mean.abs()
                    } else {
                        spread.in_unit(unit).expect("a spread")
                    }
                });
                assert!(high - low <= limit, "{path}: {key} {values:?}");
                means.entry(key.to_string()).or_default().push(mean);
            }
        }
        for (key, sides) in &means {
            let spec = protocol.quantities.get(key.as_str()).expect("known");
            let unit: Unit = spec.unit.parse().expect("a unit");
            if let (Some(limit), [left, right]) = (spec.left_right, &sides[..]) {
                let limit = limit.in_unit(unit).expect("a limit");
                assert!((left - right).abs() <= limit, "{path}: {key} {sides:?}");
            }
        }
    }
    assert!(left_out > 0, "no shoe leaves a reading out");
    assert!(curves > 0, "no shoe has a curve");
}

#[test]
fn a_loop_gives_back_what_the_heel_is_meant_to() {
    let (_dir, files) = lab_of(1500, 3);
    let mut seen = 0;
    for (path, bytes) in files.iter().filter(|(path, _)| path.ends_with(".csv")) {
        let text = std::str::from_utf8(bytes).expect("UTF-8");
        let rows: Vec<(f64, f64)> = text
            .lines()
            .skip(1)
            .map(|line| line.split_once(',').expect("two columns"))
            .map(|(travel, load)| {
                let number = |cell: &str| cell.parse::<f64>().expect("a number");
                (number(travel), number(load))
            })
            .collect();
        let turn = rows.iter().position(|row| row.1 >= 451.5).expect("a peak");
        let area = |part: &[(f64, f64)]| -> f64 {
            part.windows(2)
                .map(|pair| (pair[0].1 + pair[1].1) / 2.0 * (pair[1].0 - pair[0].0))
                .sum()
        };
        let share = -area(&rows[turn..]) / area(&rows[..=turn]);
        assert!((0.54..0.87).contains(&share), "{path}: {share}");
        seen += 1;
    }
    assert!(seen > 0, "no loop was written");
}
