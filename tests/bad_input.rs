//! A table of mistakes: each changes one file of the demo lab, and is found at
//! its place with its code and what to do.

use solefolio::diagnostics::Problem;
use solefolio::files::{Date, Memory, Root, yaml};
use solefolio::gather::gather;
use std::collections::BTreeMap;
use std::path::Path;

const SHOE: &str = "shoes/fennick-vale-quarrel-2.yaml";

/// The demo's lab and one of its shoes with its curve, as texts.
fn lab() -> BTreeMap<String, Vec<u8>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = BTreeMap::new();
    for name in [
        "lab.yaml",
        "protocol.yaml",
        "instruments.yaml",
        "rules.yaml",
        "phrases.yaml",
    ] {
        files.insert(
            format!("lab/{name}"),
            std::fs::read(root.join("lab").join(name)).unwrap(),
        );
    }
    for name in [SHOE, "shoes/curves/quarrel-2-heel.csv"] {
        files.insert(name.to_owned(), std::fs::read(root.join(name)).unwrap());
    }
    files
}

/// All problems of a lab, errors and unaccepted flags alike, with their places.
fn problems(files: &BTreeMap<String, Vec<u8>>) -> Vec<Problem> {
    let memory = files.iter().fold(Memory::new(), |memory, (name, bytes)| {
        memory.with(name, bytes.clone())
    });
    let root = Root::over(memory);
    let as_of: Date = "2026-11-30".parse().unwrap();
    let mut problems = match gather(&root) {
        Ok(gathered) => gathered.problems(as_of),
        Err(problems) => problems,
    };
    yaml::place_all(&mut problems, |file| root.look_up(file));
    problems
}

#[test]
fn the_lab_is_right_to_begin_with() {
    let errors: Vec<Problem> = problems(&lab())
        .into_iter()
        .filter(Problem::is_error)
        .collect();
    assert_eq!(errors, []);
}

/// File, what stands there, what is written instead, the code, and a piece of
/// message or hint. `¦` in the new text marks where the problem is found; it is
/// not written.
const CASES: &[(&str, &str, &str, &str, &str)] = &[
    (
        SHOE,
        "maker: Fennick",
        "¦makr: Fennick",
        "unknown-key",
        "maker",
    ),
    (
        SHOE,
        "category: road",
        "category: ¦raod",
        "unknown-name",
        "road",
    ),
    (
        SHOE,
        "operator: ivo",
        "operator: ¦iwo",
        "unknown-name",
        "ivo",
    ),
    (
        SHOE,
        "released: 2026-03",
        "released: ¦2026-13",
        "wrong-form",
        "no month",
    ),
    (
        SHOE,
        "publish: 2026-11-26",
        "publish: ¦2026-02-30",
        "wrong-form",
        "28 days",
    ),
    (
        SHOE,
        "publish: 2026-11-26",
        "publish: 2026-11-26\n¦publish: 2026-11-27",
        "duplicate-key",
        "publish",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: ¦[262, 263, 262]\n      mass: [1]",
        "duplicate-key",
        "mass",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "¦mas: [262, 263, 262]",
        "unknown-name",
        "mass",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: [¦2620, 263, 262]",
        "implausible",
        "plausible",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: [¦262 mm, 263, 262]",
        "wrong-unit",
        "g",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: [¦.nan, 263, 262]",
        "not-finite",
        "no number",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: [¦.inf, 263, 262]",
        "not-finite",
        "no number",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: ¦&m [262, 263, 262]",
        "alias-refused",
        "",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: ¦!!seq [262, 263, 262]",
        "tag-refused",
        "",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: ¦[262, 270, 262]",
        "spread",
        "accept",
    ),
    (
        SHOE,
        "mass: [262, 263, 262]",
        "mass: ¦{curve: a.csv}",
        "wrong-type",
        "curve",
    ),
    (SHOE, "38 in·lbf", "¦38 furlongs", "wrong-form", "unit"),
    (SHOE, "side: left", "side: ¦lefft", "not-one-of", "left"),
    (SHOE, "version: 2", "version: ¦[2]", "wrong-type", ""),
    (
        SHOE,
        "humidity: 48 %",
        "humidity: ¦480 %",
        "out-of-range",
        "100",
    ),
    (
        SHOE,
        "temperature: 22.8 °C",
        "temperature: ¦22.8 mm",
        "wrong-unit",
        "°C",
    ),
    (
        SHOE,
        "bought: {on: 2026-10-02",
        "bought: {on: ¦2026-11-20",
        "dates-out-of-order",
        "after",
    ),
    (
        SHOE,
        "session: {on: 2026-11-18",
        "session: {on: ¦2026-11-28",
        "dates-out-of-order",
        "after",
    ),
    (SHOE, "id: Q2-R", "id: ¦Q2-L", "duplicate-specimen", "Q2-L"),
    (SHOE, "id: Q2-R", "id: ¦\"\"", "nothing-given", "id"),
    (
        SHOE,
        "heel-load-curve: {curve: curves/quarrel-2-heel.csv}",
        "heel-load-curve: {curve: ¦curves/none.csv}",
        "unreadable-file",
        "none.csv",
    ),
    (
        SHOE,
        "heel-load-curve: {curve: curves/quarrel-2-heel.csv}",
        "energy-return: ¦70",
        "worked-out",
        "curve",
    ),
    (
        SHOE,
        "summary: An",
        "withdrawn: {on: ¦2026-11-01, reason: too early to tell}\nsummary: An",
        "dates-out-of-order",
        "before",
    ),
    (
        SHOE,
        "summary: An",
        "formerly: [¦fennick-vale-quarrel-2]\nsummary: An",
        "leads-to-itself",
        "present",
    ),
    (
        SHOE,
        "summary: An",
        "accept: [{flag: ¦spraed, reason: because it is so}]\nsummary: An",
        "unknown-name",
        "spread",
    ),
    (
        SHOE,
        "summary: An",
        "leave-out: [{specimen: Q2-L, quantity: mass, trial: ¦9, reason: the scale was bumped}]\nsummary: An",
        "out-of-range",
        "trial",
    ),
    (
        SHOE,
        "summary: An",
        "words: {¦torsoin: Its own words.}\nsummary: An",
        "unknown-name",
        "torsion",
    ),
    (
        SHOE,
        "size: {system: mondopoint, value: 270}",
        "size: ¦{system: mondopoint, value: 2700}",
        "out-of-range",
        "size",
    ),
    (
        "lab/lab.yaml",
        "contact: desk@harrow-lane.example",
        "contact: ¦nobody",
        "wrong-form",
        "mail",
    ),
    (
        "lab/lab.yaml",
        "units: metric-first",
        "units: ¦metric",
        "not-one-of",
        "metric-first",
    ),
    (
        "lab/instruments.yaml",
        "resolution: 1 g",
        "resolution: ¦1",
        "unit-missing",
        "unit",
    ),
    (
        "lab/instruments.yaml",
        "due: 2027-03-02",
        "due: ¦2025-03-02",
        "dates-out-of-order",
        "due",
    ),
    (
        "lab/protocol.yaml",
        "instrument: torque-1",
        "instrument: ¦torqe-1",
        "unknown-name",
        "torque-1",
    ),
    (
        "lab/protocol.yaml",
        "plausible: [90 g, 600 g]",
        "plausible: ¦[600 g, 90 g]",
        "out-of-order",
        "lower",
    ),
    (
        "lab/protocol.yaml",
        "coverage: 95 %",
        "coverage: ¦9.5 %",
        "out-of-range",
        "95",
    ),
    (
        "lab/protocol.yaml",
        "also: in·lbf",
        "also: ¦in·lbs",
        "unknown-unit",
        "",
    ),
    (
        "lab/rules.yaml",
        "of: midfoot-torque",
        "of: ¦midfoot-torq",
        "unknown-name",
        "midfoot-torque",
    ),
    (
        "lab/rules.yaml",
        "[15, 20], [30, 40], [45, 60]",
        "[45, 20], ¦[30, 40], [15, 60]",
        "points-not-in-order",
        "",
    ),
    (
        "lab/rules.yaml",
        "of: {torsion: 0.5, heel-firmness: 0.5}",
        "of: ¦{torsion: 0.5, heel-firmness: 0.4}",
        "weights-do-not-add-up",
        "1",
    ),
    (
        "lab/rules.yaml",
        "of: {torsion: 0.5, heel-firmness: 0.5}",
        "of: {¦torsoin: 0.5, heel-firmness: 0.5}",
        "unknown-name",
        "torsion",
    ),
    (
        "lab/rules.yaml",
        "cuts: [30, 50, 70, 90]",
        "cuts: [50, ¦30, 70, 90]",
        "cuts-not-rising",
        "",
    ),
    (
        "lab/rules.yaml",
        "when: \"heel_firmness >= 80.0\"",
        "when: ¦\"heel_firmness >= 80\"",
        "expression-whole-number",
        "80.0",
    ),
    (
        "lab/rules.yaml",
        "when: \"drop_kept < 60.0\"",
        "when: ¦\"drop_kep < 60.0\"",
        "unknown-name",
        "drop_kept",
    ),
    (
        "lab/rules.yaml",
        "kind: advice\n    label: Firm landing",
        "kind: ¦advise\n    label: Firm landing",
        "not-one-of",
        "advice",
    ),
    (
        "lab/phrases.yaml",
        "short: turns almost freely",
        "short: ¦turns at 4 N",
        "typed-number",
        "{value}",
    ),
    (
        "lab/phrases.yaml",
        "short: turns almost freely",
        "short: ¦turns in a very high way",
        "other-band",
        "`very high`",
    ),
    (
        "lab/phrases.yaml",
        "short: turns almost freely",
        "short: ¦\"turns at {vlaue}\"",
        "unknown-placeholder",
        "value",
    ),
];

#[test]
fn every_mistake_is_found_at_its_place_with_its_code() {
    assert!(CASES.len() >= 40);
    let mut wrong = Vec::new();
    for (file, old, new, code, piece) in CASES {
        let mut files = lab();
        let text = String::from_utf8(files[*file].clone()).unwrap();
        assert!(text.contains(old), "{file} holds `{old}`");
        let marked = text.replacen(old, new, 1);
        let before = marked.split('¦').next().unwrap();
        let line = before.matches('\n').count() + 1;
        files.insert((*file).to_owned(), marked.replacen('¦', "", 1).into_bytes());
        let found = problems(&files);
        let hit = found.iter().find(|problem| {
            let says = |text: &str| text.contains(piece);
            problem.code == *code
                && problem.file == *file
                && problem.place.is_some_and(|place| {
                    place.line.abs_diff(line) <= usize::from(*code == "duplicate-key")
                })
                && (says(&problem.message) || problem.hint.as_deref().is_some_and(says))
        });
        if hit.is_none() {
            let short: Vec<String> = found
                .iter()
                .take(3)
                .map(|problem| {
                    format!(
                        "{} {} {:?} {} / {:?}",
                        problem.code, problem.file, problem.place, problem.message, problem.hint
                    )
                })
                .collect();
            wrong.push(format!(
                "{file}:{line} `{new}`: expected {code} with `{piece}`; found {short:#?}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn mistakes_of_several_files_come_in_one_run() {
    let mut files = lab();
    let mut break_it = |file: &str, old: &str, new: &str| {
        let text = String::from_utf8(files[file].clone()).unwrap();
        files.insert(file.to_owned(), text.replacen(old, new, 1).into_bytes());
    };
    break_it("lab/lab.yaml", "units: metric-first", "units: metric");
    break_it("lab/phrases.yaml", "cautions:", "cautoins:");
    break_it(SHOE, "maker: Fennick", "makr: Fennick");
    let found = problems(&files);
    for file in ["lab/lab.yaml", "lab/phrases.yaml", SHOE] {
        assert!(
            found.iter().any(|problem| problem.file == file),
            "{file}: {found:?}"
        );
    }
}

#[test]
fn files_that_are_no_text_are_refused() {
    let too_long = vec![b'#'; 2 * 1024 * 1024];
    for (bytes, code) in [
        (vec![0xff, 0xfe, 0x00], "not-utf-8"),
        (too_long, "file-too-large"),
        (Vec::new(), "empty-file"),
        (b"schema: 1\n---\nschema: 1\n".to_vec(), "second-document"),
        (b"schema: [1\n".to_vec(), "yaml-syntax"),
    ] {
        let mut files = lab();
        files.insert(SHOE.to_owned(), bytes);
        let found = problems(&files);
        assert!(
            found.iter().any(|problem| problem.code == code),
            "{code}: {found:?}"
        );
    }
}
