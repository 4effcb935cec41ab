//! Screening and curves, from files to findings: what a lab writes down, what is
//! said of it, and what stops. The lab is the demo's, the shoes are invented here.

use solefolio::diagnostics::codes::find;
use solefolio::diagnostics::{Problem, Severity};
use solefolio::edition::{Edition, Scope};
use solefolio::files::{Key, Memory, Root};
use solefolio::gather::{Gathered, gather};
use solefolio::measure::interval::Method;
use solefolio::measure::{FLAGS, Flag, Summary};
use solefolio::outputs::pages::Pages;
use solefolio::outputs::{Make, Surroundings, all};
use solefolio::rules::Judged;
use std::fmt::Write as _;

const LAB: [&str; 7] = [
    "lab.yaml",
    "protocol.yaml",
    "instruments.yaml",
    "rules.yaml",
    "phrases.yaml",
    "control.csv",
    "gauge-study.csv",
];

fn lab() -> Memory {
    LAB.iter().fold(Memory::new(), |files, name| {
        let path = format!("{}/lab/{name}", env!("CARGO_MANIFEST_DIR"));
        files.with(
            &format!("lab/{name}"),
            std::fs::read(path).expect("the demo's lab"),
        )
    })
}

/// A shoe's file: readings of two specimens, and lines beside them.
struct ShoeText {
    left: &'static str,
    right: &'static str,
    session: &'static str,
    beside: &'static str,
    size: u32,
}

const SOUND: ShoeText = ShoeText {
    left: "mass: [262, 263, 262], midfoot-torque: [4.3, 4.2, 4.25], heel-compression: [6.12, 6.05, 6.17], rebound-travel: [13.1, 13.4, 13.3], static-drop: 6.0, loaded-drop: [4.4, 4.5, 4.4]",
    right: "mass: [262, 263, 262], midfoot-torque: [4.3, 4.2, 4.25], heel-compression: [6.12, 6.05, 6.17], rebound-travel: [13.1, 13.4, 13.3], static-drop: 6.0, loaded-drop: [4.4, 4.5, 4.4]",
    session: "on: 2026-11-18, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h",
    beside: "",
    size: 270,
};

impl ShoeText {
    fn text(&self) -> String {
        let mut text = format!(
            "# Invented.\nschema: 1\nmaker: Test Makers\nmodel: Probe\ncategory: road\nsize: {{system: mondopoint, value: {}}}\npublish: 2026-11-26\nspecimens:\n",
            self.size
        );
        for (id, side, readings) in [("P-L", "left", self.left), ("P-R", "right", self.right)] {
            let _ = write!(
                text,
                "  - id: {id}\n    side: {side}\n    bought: {{on: 2026-10-02, how: retail}}\n    session: {{{}}}\n    readings: {{{readings}}}\n",
                self.session
            );
        }
        format!("{text}{}\n", self.beside)
    }

    fn gather(&self) -> Gathered {
        try_gather(lab().with("shoes/probe.yaml", self.text()))
            .unwrap_or_else(|problems| panic!("{problems:#?}"))
    }
}

fn try_gather(files: Memory) -> Result<Gathered, Vec<Problem>> {
    gather(&Root::over(files))
}

fn judged(gathered: &Gathered) -> &Judged {
    &gathered.shoes[0]
}

/// A quantity's summary.
fn quantity<'g>(gathered: &'g Gathered, name: &str) -> &'g Summary {
    let key: Key = name.parse().unwrap();
    judged(gathered).quantities[&key].as_ref().unwrap()
}

/// Every flag with its quantity, and whether it stops publishing.
fn flags(gathered: &Gathered) -> Vec<(&'static str, Option<String>, bool)> {
    let judged = judged(gathered);
    let mut all: Vec<_> = judged
        .quantities
        .values()
        .flatten()
        .flat_map(|summary| &summary.flags)
        .chain(&judged.session_flags)
        .map(|flag| {
            (
                flag.code,
                flag.quantity.as_ref().map(ToString::to_string),
                flag.stops(),
            )
        })
        .collect();
    all.sort();
    all.dedup();
    all
}

fn stopping(gathered: &Gathered) -> Vec<&'static str> {
    let as_of = "2026-11-26".parse().unwrap();
    let problems = gathered.problems(as_of);
    let mut codes: Vec<&str> = problems
        .iter()
        .filter(|problem| problem.severity == Severity::Error)
        .map(|problem| problem.code)
        .collect();
    codes.dedup();
    codes
}

fn provisional(gathered: &Gathered) -> Vec<&str> {
    let made = judged(gathered).findings.iter();
    made.filter(|(_, finding)| finding.as_ref().is_ok_and(|finding| finding.provisional))
        .map(|(key, _)| key.as_str())
        .collect()
}

#[test]
fn sound_readings_raise_nothing() {
    let gathered = SOUND.gather();
    assert_eq!(flags(&gathered), []);
    assert!(provisional(&gathered).is_empty() && stopping(&gathered).is_empty());
}

#[test]
fn spread_beyond_the_limit_stops_publishing_until_it_is_accepted_and_stays_provisional() {
    let wide = ShoeText {
        left: "mass: [262, 266, 262], heel-compression: [6.12, 6.05, 6.17], midfoot-torque: [4.3, 4.2, 4.25]",
        right: "mass: [262, 263, 262], heel-compression: [6.12, 6.05, 6.17], midfoot-torque: [4.3, 4.2, 4.25]",
        ..SOUND
    };
    let gathered = wide.gather();
    assert!(flags(&gathered).contains(&("spread", Some("mass".into()), true)));
    assert_eq!(stopping(&gathered), ["spread"]);
    // Only what rests on the mass; pace is not made for want of the rebound.
    assert_eq!(provisional(&gathered), ["lightness"]);
    let accepted = ShoeText {
        beside: "accept: [{flag: spread, of: mass, reason: the insole was damp on one trial}]",
        ..wide
    };
    let gathered = accepted.gather();
    assert!(stopping(&gathered).is_empty());
    assert_eq!(provisional(&gathered), ["lightness"]);
}

#[test]
fn a_spread_in_per_cent_is_of_the_mean() {
    // 12 % of 4.25 N·m is 0.51 N·m; 5 % of 6.1 mm is 0.305 mm.
    let near = ShoeText {
        left: "midfoot-torque: [4.00, 4.25, 4.50], heel-compression: [6.0, 6.1, 6.29]",
        right: "midfoot-torque: [4.25, 4.25, 4.25]",
        ..SOUND
    };
    assert!(stopping(&near.gather()).is_empty());
    let over = ShoeText {
        left: "midfoot-torque: [4.00, 4.25, 4.55], heel-compression: [6.0, 6.1, 6.32]",
        ..near
    };
    let found = flags(&over.gather());
    for quantity in ["midfoot-torque", "heel-compression"] {
        assert!(
            found.contains(&("spread", Some(quantity.into()), true)),
            "{quantity}"
        );
    }
}

#[test]
fn an_outlier_is_said_and_never_dropped_and_left_out_only_with_a_reason() {
    let odd = ShoeText {
        left: "rebound-travel: [13.0, 13.1, 13.0, 13.1, 13.0, 13.7]",
        right: "rebound-travel: [13.1, 13.1, 13.0]",
        ..SOUND
    };
    let gathered = odd.gather();
    assert!(flags(&gathered).contains(&("outlier", Some("rebound-travel".into()), false)));
    assert_eq!(
        quantity(&gathered, "rebound-travel").n,
        9,
        "it still counts"
    );
    let left_out = ShoeText {
        beside: "leave-out: [{specimen: P-L, quantity: rebound-travel, trial: 6, reason: the arm was knocked}]",
        ..odd
    };
    let gathered = left_out.gather();
    let found = quantity(&gathered, "rebound-travel");
    assert_eq!(found.n, 8);
    assert_eq!(
        found.specimens[0].trials[5].left_out.as_deref(),
        Some("the arm was knocked")
    );
    assert!(!flags(&gathered).iter().any(|(code, ..)| *code == "outlier"));
}

#[test]
fn sides_trials_conditioning_calibration_and_the_bench_s_day_each_have_their_flag() {
    let far = ShoeText {
        left: "heel-compression: [6.12, 6.05, 6.17]",
        right: "heel-compression: [7.12, 7.05, 7.17]",
        ..SOUND
    };
    assert!(flags(&far.gather()).contains(&("left-right", Some("heel-compression".into()), false)));
    let few = ShoeText {
        left: "mass: [262]",
        right: "mass: [262, 263, 262]",
        ..SOUND
    };
    assert!(flags(&few.gather()).contains(&("too-few-trials", Some("mass".into()), false)));
    let warm = ShoeText {
        session: "on: 2026-11-18, operator: ivo, temperature: 26 °C, humidity: 70 %, soaked: 3 h",
        ..SOUND
    };
    let gathered = warm.gather();
    for code in ["temperature", "humidity", "soaked-short"] {
        assert!(flags(&gathered).contains(&(code, None, true)), "{code}");
    }
    assert_eq!(
        provisional(&gathered).len(),
        judged(&gathered).findings.len(),
        "a session in doubt is all in doubt"
    );
    // The rebound arm is due for calibration on 2026-11-20.
    let late = ShoeText {
        session: "on: 2026-11-20, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h",
        ..SOUND
    };
    let gathered = late.gather();
    assert!(flags(&gathered).contains(&(
        "calibration-overdue",
        Some("rebound-travel".into()),
        true
    )));
    assert_eq!(provisional(&gathered), ["pace", "rebound"]);
    // On 2026-10-14 the control shoe's heel sank 6.91 mm, above its upper limit.
    let drifted = ShoeText {
        session: "on: 2026-10-14, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h",
        ..SOUND
    };
    let gathered = drifted.gather();
    assert!(flags(&gathered).contains(&(
        "bench-out-of-control",
        Some("heel-compression".into()),
        false
    )));
    assert!(
        !flags(&gathered)
            .iter()
            .any(|(_, of, _)| of.as_deref() == Some("mass"))
    );
    assert!(
        stopping(&gathered).is_empty(),
        "it is said, and stops nothing"
    );
}

/// A shoe that raises each flag of screening, and the plausible range's stand-in on
/// a page: a reading that was left out.
fn one_shoe_a_flag() -> Vec<(&'static str, ShoeText)> {
    let session = |session| ShoeText { session, ..SOUND };
    let left = |left| ShoeText { left, ..SOUND };
    let accepted = |shoe: ShoeText, beside| ShoeText { beside, ..shoe };
    vec![
        (
            "spread",
            accepted(
                left("mass: [262, 266, 262]"),
                "accept: [{flag: spread, of: mass, reason: the insole was damp}]",
            ),
        ),
        ("scatter", left("midfoot-torque: [4.02, 4.02, 4.50]")),
        (
            "outlier",
            left("rebound-travel: [13.0, 13.1, 13.0, 13.1, 13.0, 13.7]"),
        ),
        ("left-right", left("heel-compression: [7.12, 7.05, 7.17]")),
        ("too-few-trials", left("mass: [262]")),
        (
            "calibration-overdue",
            accepted(
                session(
                    "on: 2026-11-20, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h",
                ),
                "accept: [{flag: calibration-overdue, of: rebound-travel, reason: the arm was calibrated a day late}]",
            ),
        ),
        (
            "temperature",
            accepted(
                session(
                    "on: 2026-11-18, operator: ivo, temperature: 26 °C, humidity: 48 %, soaked: 14 h",
                ),
                "accept: [{flag: temperature, reason: the cabinet was opened}]",
            ),
        ),
        (
            "humidity",
            accepted(
                session(
                    "on: 2026-11-18, operator: ivo, temperature: 22.8 °C, humidity: 70 %, soaked: 14 h",
                ),
                "accept: [{flag: humidity, reason: the cabinet was opened}]",
            ),
        ),
        (
            "soaked-short",
            accepted(
                session(
                    "on: 2026-11-18, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 3 h",
                ),
                "accept: [{flag: soaked-short, reason: the shop was waiting}]",
            ),
        ),
        (
            "bench-out-of-control",
            session(
                "on: 2026-10-14, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h",
            ),
        ),
    ]
}

/// The part of a review's page that says how sure it is, as the template makes it.
fn how_sure(gathered: Gathered) -> String {
    let edition = Edition::assemble(
        gathered.lab,
        gathered.rules,
        gathered.shoes,
        std::collections::BTreeMap::new(),
        "2026-11-26".parse().unwrap(),
        Scope::Published,
    )
    .edition;
    let surroundings = Surroundings::default();
    let pages = Pages::load([]).expect("the built-in templates are sound");
    let sheets = all().iter().flat_map(|o| o.plan(&edition, &surroundings));
    let page = sheets
        .filter_map(|sheet| match &sheet.make {
            Make::Page { template, view } if *template == "review.html" => {
                Some(pages.render(template, &*view()).expect("it renders"))
            }
            _ => None,
        })
        .next()
        .expect("the shoe is out");
    let page = String::from_utf8(page).unwrap();
    let (_, from) = page.split_once("<section id=\"how-sure\">").unwrap();
    let part = from.split_once("</section>").unwrap().0;
    // What a reader reads: without the marks around an editor's words.
    let words = part.split('<').enumerate().map(|(at, piece)| match at {
        0 => piece,
        _ => piece.split_once('>').map_or("", |(_, words)| words),
    });
    let words: String = words.collect();
    words.replace("&#39;", "'").replace("&quot;", "\"")
}

#[test]
fn every_code_of_screening_has_its_page_in_the_docs_and_its_line_in_how_sure() {
    let cases = one_shoe_a_flag();
    let mut covered: Vec<&str> = cases.iter().map(|(code, _)| *code).collect();
    let mut all = FLAGS.to_vec();
    covered.sort_unstable();
    all.sort_unstable();
    assert_eq!(covered, all);
    let nothing = how_sure(SOUND.gather());
    assert!(nothing.contains("Screening found nothing"), "{nothing}");
    for (code, shoe) in cases {
        let docs = find(code).unwrap_or_else(|| panic!("`{code}` has no page in the docs"));
        for part in [docs.what, docs.why, docs.example, docs.fix] {
            assert!(!part.trim().is_empty(), "{code}");
        }
        let gathered = shoe.gather();
        assert!(stopping(&gathered).is_empty(), "{code}");
        let flags: Vec<Flag> = judged(&gathered)
            .quantities
            .values()
            .flatten()
            .flat_map(|summary| summary.flags.clone())
            .chain(judged(&gathered).session_flags.clone())
            .filter(|flag| flag.code == code)
            .collect();
        assert!(!flags.is_empty(), "{code} is not raised");
        let part = how_sure(gathered);
        for flag in flags {
            // A sentence begins with a capital letter.
            let said = flag.message.split_once(' ').unwrap().1;
            assert!(part.contains(said), "{code}: {said} is not in {part}");
            if let Some(reason) = &flag.accepted {
                let reason = format!("Accepted: {reason}");
                assert!(part.contains(&reason), "{code}: {part}");
            }
        }
    }
}

#[test]
fn a_reading_that_is_left_out_stands_on_the_page_with_its_reason() {
    let shoe = ShoeText {
        left: "rebound-travel: [13.0, 13.1, 13.0, 19.7]",
        beside: "leave-out: [{specimen: P-L, quantity: rebound-travel, trial: 4, reason: the arm was knocked}]",
        ..SOUND
    };
    let part = how_sure(shoe.gather());
    assert!(
        part.contains("19.7 mm") && part.contains("is left out. The arm was knocked."),
        "{part}"
    );
}

#[test]
fn an_interval_that_was_drawn_says_so_on_the_page_and_comes_out_the_same_again() {
    // A lab without pooled repeatability: three trials beside a calibration.
    let path = format!("{}/lab/protocol.yaml", env!("CARGO_MANIFEST_DIR"));
    let protocol = std::fs::read_to_string(path).unwrap();
    // Where one trial is all that is wanted it has to stay.
    let (several, single) = protocol.split_once("  static-drop:").unwrap();
    let own: Vec<&str> = several
        .lines()
        .filter(|line| !line.trim_start().starts_with("repeatability:"))
        .collect();
    let own = format!("{}\n  static-drop:{single}", own.join("\n"));
    let gathered = || {
        let files = lab()
            .with("lab/protocol.yaml", own.clone())
            .with("shoes/probe.yaml", SOUND.text());
        try_gather(files).unwrap_or_else(|problems| panic!("{problems:#?}"))
    };
    let drawn = |gathered: &Gathered| -> Vec<String> {
        judged(gathered)
            .findings
            .iter()
            .filter_map(|(key, finding)| Some((key, finding.as_ref().ok()?)))
            .filter(|(_, finding)| finding.method() == Some(Method::Draws))
            .map(|(key, finding)| format!("{key} {:?}", finding.says))
            .collect()
    };
    let first = gathered();
    let (before, after) = (drawn(&first), drawn(&gathered()));
    assert!(!before.is_empty());
    assert_eq!(before, after);
    let part = how_sure(first);
    assert!(part.contains("taken from random draws"), "{part}");
}

#[test]
fn an_implausible_reading_is_an_error() {
    let wrong = ShoeText {
        left: "mass: [26.2, 263, 262]",
        ..SOUND
    };
    let problems = try_gather(lab().with("shoes/probe.yaml", wrong.text())).unwrap_err();
    assert!(
        problems
            .iter()
            .any(|p| p.is_error() && p.message.contains("26.2")),
        "{problems:#?}"
    );
}

#[test]
fn mass_is_compared_at_the_reference_size_and_nothing_else_is() {
    let (reference, larger) = (SOUND.gather(), ShoeText { size: 285, ..SOUND }.gather());
    let of = quantity;
    // 15 mm of length at 1 g a millimetre (the demo protocol's own step).
    let step = of(&larger, "mass").value.value - of(&reference, "mass").value.value;
    assert!((step + 15.0).abs() < 1e-9);
    assert_eq!(of(&larger, "mass").size_step, Some(-15.0));
    assert_eq!(of(&reference, "mass").size_step, None);
    assert_eq!(
        of(&larger, "loaded-drop").value.value,
        of(&reference, "loaded-drop").value.value
    );
}

#[test]
fn what_two_drops_share_of_their_gauge_cancels_in_part() {
    let gathered = SOUND.gather();
    let judged = judged(&gathered);
    let of = |key: &str| quantity(&gathered, key).value.clone();
    let (loaded, fixed) = (of("loaded-drop"), of("static-drop"));
    let shared = |value: &solefolio::quantity::Uncertain| {
        value
            .parts()
            .iter()
            .any(|part| part.source.name() == "calibration of height-1")
    };
    assert!(shared(&loaded) && shared(&fixed));
    let (_, finding) = judged
        .findings
        .iter()
        .find(|(key, _)| key.as_str() == "drop-kept")
        .unwrap();
    let solefolio::rules::Says::Value(kept) = &finding.as_ref().unwrap().says else {
        panic!("drop kept is a number");
    };
    // Taken as independent the relative uncertainties would add in quadrature.
    let apart = kept.value.value * (loaded.u() / loaded.value).hypot(fixed.u() / fixed.value);
    assert!(kept.value.u() < 0.97 * apart, "{} {apart}", kept.value.u());
    // By hand (JCGM 100:2008, 5.2.2): the gauge's part of loaded/static is its u times (1/s − l/s²).
    let gauge = loaded
        .parts()
        .iter()
        .find(|part| part.source.name() == "calibration of height-1")
        .unwrap()
        .u;
    let (l, s) = (loaded.value, fixed.value);
    let own = |value: &solefolio::quantity::Uncertain| (value.u().powi(2) - gauge * gauge).sqrt();
    let by_hand = 100.0
        * ((own(&loaded) / s).powi(2)
            + (own(&fixed) * l / (s * s)).powi(2)
            + (gauge * (1.0 / s - l / (s * s))).powi(2))
        .sqrt();
    assert!(
        (kept.value.u() / by_hand - 1.0).abs() < 2e-3,
        "{} {by_hand}",
        kept.value.u()
    );
}

/// A loop of straight loading to 8 mm at 60 N/mm and unloading along kx²/X, of
/// which exactly two thirds of the energy comes back.
fn rows(cycles: usize, from: f64) -> Vec<(f64, f64)> {
    let steps = 160;
    let mut rows = Vec::new();
    for _ in 0..cycles {
        rows.extend((0..=steps).map(|at| {
            let x = 8.0 * f64::from(at) / f64::from(steps);
            (from + x, 60.0 * x)
        }));
        rows.extend((0..steps).rev().map(|at| {
            let x = 8.0 * f64::from(at) / f64::from(steps);
            (from + x, 60.0 * x * x / 8.0)
        }));
    }
    rows
}

fn csv(heading: &str, rows: &[(f64, f64)], delimiter: char, decimal: char) -> String {
    let mut text = format!("{heading}\n");
    for (travel, load) in rows {
        let cells = format!("{travel:.4}|{load:.3}").replace('.', &decimal.to_string());
        text.push_str(&cells.replace('|', &delimiter.to_string()));
        text.push('\n');
    }
    text
}

fn with_curve(text: &str) -> Result<Gathered, Vec<Problem>> {
    let shoe = ShoeText {
        left: "heel-load-curve: {curve: heel.csv}",
        right: "mass: [262, 263, 262]",
        ..SOUND
    };
    try_gather(
        lab()
            .with("shoes/probe.yaml", shoe.text())
            .with("shoes/heel.csv", text),
    )
}

fn energy_return(gathered: &Gathered) -> f64 {
    quantity(gathered, "energy-return").value.value
}

#[test]
fn a_loop_gives_its_energy_return_however_it_is_written() {
    let loop_rows = rows(1, 0.0);
    let inches: Vec<(f64, f64)> = loop_rows
        .iter()
        .map(|(x, f)| (x / 25.4, f / 4.448_221_615_260_5))
        .collect();
    for text in [
        csv("travel (mm),load (N)", &loop_rows, ',', '.'),
        csv("travel (mm);load (N)", &loop_rows, ';', ','),
        csv("travel [mm]\tload [N]", &loop_rows, '\t', ','),
        csv("travel (in),load (lbf)", &inches, ',', '.'),
    ] {
        let gathered = with_curve(&text).unwrap_or_else(|problems| panic!("{problems:#?}"));
        let found = energy_return(&gathered);
        assert!((found - 200.0 / 3.0).abs() < 0.1, "{found}");
    }
}

#[test]
fn of_several_cycles_the_last_is_used() {
    // The first cycle gives back what it took; the last one two thirds.
    let mut all: Vec<(f64, f64)> = rows(1, 0.0)
        .into_iter()
        .map(|(x, _)| (x, 60.0 * x))
        .collect();
    all.extend(rows(2, 0.0).into_iter().skip(1));
    let gathered = with_curve(&csv("travel (mm),load (N)", &all, ',', '.'))
        .unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert!((energy_return(&gathered) - 200.0 / 3.0).abs() < 0.1);
}

#[test]
fn a_curve_that_is_no_loop_is_refused_at_its_place() {
    let whole = rows(1, 0.0);
    let up = &whole[..161];
    let mut unsorted = whole.clone();
    unsorted.swap(40, 120);
    let weak: Vec<(f64, f64)> = whole.iter().map(|(x, f)| (*x, f * 0.5)).collect();
    for (what, text, code, words) in [
        (
            "no way back",
            csv("travel (mm),load (N)", up, ',', '.'),
            "curve-unusable",
            "unload",
        ),
        (
            "unsorted",
            csv("travel (mm),load (N)", &unsorted, ',', '.'),
            "curve-unusable",
            "row",
        ),
        (
            "load never reached",
            csv("travel (mm),load (N)", &weak, ',', '.'),
            "curve-unusable",
            "never reaches",
        ),
        (
            "wrong unit",
            csv("travel (mm),load (°)", &whole, ',', '.'),
            "csv-column-missing",
            "no column is in N",
        ),
        (
            "no unit known",
            csv("travel (mm),load (kp)", &whole, ',', '.'),
            "csv-unit",
            "kp",
        ),
    ] {
        let problems = with_curve(&text).expect_err(what);
        let found = problems.iter().find(|problem| problem.code == code);
        let found = found.unwrap_or_else(|| panic!("{what}: {problems:#?}"));
        assert_eq!(found.file, "shoes/heel.csv", "{what}");
        assert!(found.place.is_some(), "{what}");
        assert!(found.message.contains(words), "{what}: {}", found.message);
        if what == "unsorted" {
            assert!(
                (40..=43).contains(&found.place.unwrap().line),
                "{:?}",
                found.place
            );
        }
    }
}
