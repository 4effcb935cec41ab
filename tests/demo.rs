//! The demo laboratory's files are of the forms the crate reads, say that they
//! are invented, and tell the cases they are there to tell.

use serde::de::DeserializeOwned;
use solefolio::files::Date;
use solefolio::lab::{Instruments, PhrasesFile, ProtocolFile, Settings};
use solefolio::shoe::{Readings, ShoeFile};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn read<T: DeserializeOwned>(path: &Path) -> T {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_yaml::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn shoes() -> BTreeMap<String, ShoeFile> {
    fs::read_dir(root().join("shoes"))
        .expect("shoes/ is there")
        .map(|entry| entry.expect("shoes/ can be listed").path())
        .filter(|path| path.extension().is_some_and(|kind| kind == "yaml"))
        .map(|path| {
            let stem = path.file_stem().expect("a file has a stem");
            (stem.to_string_lossy().into_owned(), read(&path))
        })
        .collect()
}

fn day(text: &str) -> Date {
    text.parse().expect("a day")
}

#[test]
fn the_labs_files_are_of_their_forms() {
    let lab = root().join("lab");
    let settings: Settings = read(&lab.join("lab.yaml"));
    assert!(settings.invented);
    read::<ProtocolFile>(&lab.join("protocol.yaml"));
    read::<Instruments>(&lab.join("instruments.yaml"));
    let phrases: PhrasesFile = read(&lab.join("phrases.yaml"));
    assert!(!phrases.guide.questions.is_empty());
    assert!(
        phrases
            .guide
            .refer
            .iter()
            .any(|line| line.contains("licensed clinician"))
    );
}

#[test]
fn every_shoe_file_opens_by_saying_that_it_is_invented() {
    for entry in fs::read_dir(root().join("shoes")).expect("shoes/ is there") {
        let path = entry.expect("shoes/ can be listed").path();
        if path.extension().is_some_and(|kind| kind == "yaml") {
            let text = fs::read_to_string(&path).expect("a shoe file can be read");
            let first = text.lines().next().unwrap_or_default();
            assert!(
                first.starts_with('#') && first.contains("nvented"),
                "{}: {first}",
                path.display()
            );
        }
    }
}

#[test]
fn every_category_has_enough_shoes_for_a_percentile() {
    let protocol: ProtocolFile = read(&root().join("lab/protocol.yaml"));
    let mut by_category: BTreeMap<String, usize> = BTreeMap::new();
    for shoe in shoes().values().filter(|shoe| shoe.publish.is_some()) {
        *by_category.entry(shoe.category.to_string()).or_default() += 1;
    }
    let settings: Settings = read(&root().join("lab/lab.yaml"));
    for category in settings.categories.keys() {
        let n = by_category.get(category.as_str()).copied().unwrap_or(0);
        assert!(n >= protocol.minimum_shoes, "{category} has {n}");
    }
}

#[test]
fn the_batches_fall_into_six_weeks_with_one_draft_and_one_held_shoe() {
    let last = day("2026-11-29");
    let shoes = shoes();
    let weeks: BTreeSet<_> = shoes
        .values()
        .filter_map(|shoe| shoe.publish)
        .filter(|publish| *publish <= last)
        .map(|publish| publish.week())
        .collect();
    assert_eq!(weeks.len(), 6);
    assert_eq!(shoes.values().filter(|s| s.publish.is_none()).count(), 1);
    assert_eq!(
        shoes
            .values()
            .filter(|s| s.publish.is_some_and(|publish| publish > last))
            .count(),
        1
    );
}

#[test]
fn one_published_shoe_was_measured_on_an_overdue_calibration_and_says_why() {
    let instruments: Instruments = read(&root().join("lab/instruments.yaml"));
    let protocol: ProtocolFile = read(&root().join("lab/protocol.yaml"));
    let mut late = BTreeSet::new();
    for (slug, shoe) in shoes() {
        for specimen in &shoe.specimens {
            for quantity in specimen.readings.keys() {
                let Some(spec) = protocol.quantities.get(quantity) else {
                    continue; // a curve
                };
                let due = instruments.instruments.get(&spec.instrument);
                let due = due.expect("the instrument is known").calibration.due;
                if specimen.session.on >= due {
                    assert!(
                        shoe.accept
                            .iter()
                            .any(|accept| accept.flag.as_str() == "calibration-overdue"),
                        "{slug} is silent about {quantity}"
                    );
                    late.insert(slug.clone());
                }
            }
        }
    }
    assert_eq!(late.len(), 1, "{late:?}");
}

#[test]
fn every_curve_is_beside_its_shoe_and_left_out_readings_exist() {
    let mut curves = 0;
    let mut left_out = 0;
    for (slug, shoe) in shoes() {
        for specimen in &shoe.specimens {
            assert!(
                shoe.publish
                    .is_none_or(|publish| specimen.session.on < publish),
                "{slug} was measured after its review"
            );
            for (_, readings) in specimen.readings.iter() {
                if let Readings::Curve(file) = readings {
                    let path = root().join("shoes").join(&file.curve);
                    assert!(path.is_file(), "{slug}: {}", path.display());
                    curves += 1;
                }
            }
        }
        for entry in &shoe.leave_out {
            let specimen = shoe.specimens.iter().find(|s| s.id == entry.specimen);
            let readings = specimen.and_then(|s| s.readings.get(&entry.quantity));
            match readings {
                Some(Readings::Trials(trials)) => assert!(entry.trial <= trials.len(), "{slug}"),
                other => panic!("{slug} leaves out a trial of {other:?}"),
            }
            left_out += 1;
        }
    }
    assert!(curves >= 1);
    assert!(left_out >= 1);
}
