//! One shoe as practice puts it.
//!
//! Common practice, no source: the figures and what they come out as are facts of
//! the bench trade, kept here and nowhere in the demo lab. The protocol is a
//! fixture of its own, in customary units and at 75 °F; the rules are those of
//! `lab/rules.yaml`, whose points the check is laid on.

use solefolio::files::{Key, Map};
use solefolio::lab::{Conditioning, Protocol, QuantitySpec, RuleSetFile, Size, SizeSystem};
use solefolio::measure::drawn::Drawn;
use solefolio::measure::interval::stated;
use solefolio::measure::{Quantities, Summary};
use solefolio::quantity::{Part, Shape, Source, Uncertain, Unit};
use solefolio::rules::{Banded, Judged, RuleFile, RuleSet, Says, Verdict};
use solefolio::shoe::{Shoe, ShoeFile};
use std::sync::Arc;

fn key(name: &str) -> Key {
    name.parse().unwrap()
}

/// Name, unit, value, standard uncertainty. The static drop and the uncertainties
/// are made up: practice says nothing of them.
const SHOE: [(&str, Unit, f64, f64); 6] = [
    ("midfoot-torque", Unit::InchPoundForce, 60.0, 0.6),
    ("heel-compression", Unit::Millimetre, 3.26, 0.02),
    ("rebound-travel", Unit::Millimetre, 16.38, 0.05),
    ("loaded-drop", Unit::Millimetre, 2.74, 0.03),
    ("static-drop", Unit::Millimetre, 6.0, 0.05),
    ("mass", Unit::Ounce, 10.5, 0.02),
];

fn protocol() -> Protocol {
    let spec = |unit: Unit, name: &str| QuantitySpec {
        label: name.replace('-', " ").into(),
        what: String::new(),
        at: match name {
            "heel-compression" => "100 lbf".parse().ok(),
            "midfoot-torque" => "15°".parse().ok(),
            _ => None,
        },
        unit,
        also: None,
        decimals: 2,
        instrument: key("bench"),
        resolution: None,
        calibration: None,
        trials: 1,
        spread: None,
        plausible: (0.0, 1000.0),
        repeatability: None,
        left_right: None,
        per_size: None,
        differs: None,
        from: None,
    };
    Protocol {
        version: 1,
        effective: "2026-01-01".parse().unwrap(),
        coverage: 0.95,
        conditioning: Conditioning {
            temperature: Unit::Fahrenheit.convert(75.0, Unit::Celsius).unwrap(),
            temperature_tolerance: 1.0,
            humidity: 50.0,
            humidity_tolerance: 10.0,
            soak: 12.0,
            measure_within: None,
        },
        reference_size: Size {
            system: SizeSystem::UsMen,
            value: 9.0,
        },
        minimum_shoes: 5,
        quantities: SHOE
            .iter()
            .map(|(name, unit, ..)| (key(name), spec(*unit, name)))
            .collect(),
        curves: Map::default(),
    }
}

fn quantities() -> Quantities {
    SHOE.iter()
        .map(|(name, unit, value, u)| {
            let part = Part {
                source: Source::new(format!("trials of {name}")),
                u: *u,
                dof: 10.0,
                shape: Shape::Student,
            };
            let value = Uncertain::new(*value, [part]);
            let summary = Summary {
                quantity: key(name),
                unit: *unit,
                stated: stated(&value, 0.95, &Drawn::default()),
                value,
                n: 3,
                specimens: Vec::new(),
                size_step: None,
                pooled: false,
                flags: Vec::new(),
            };
            (key(name), Ok(summary))
        })
        .collect()
}

fn judged() -> Judged {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/lab/rules.yaml"));
    let file: RuleSetFile<RuleFile> = serde_yaml::from_str(&text.unwrap()).unwrap();
    let rules = RuleSet::build(file, &protocol(), "lab/rules.yaml").unwrap();
    let file: ShoeFile = serde_yaml::from_str(
        "{schema: 1, maker: Nobody, model: Fixture, category: road, \
         size: {system: us-men, value: 9}, specimens: []}",
    )
    .unwrap();
    let shoe = Shoe {
        curves: Vec::new(),
        slug: "fixture".parse().unwrap(),
        path: "shoes/fixture.yaml".into(),
        file,
    };
    rules.judge(Arc::new(shoe), quantities(), Vec::new())
}

fn banded<'a>(judged: &'a Judged, name: &str) -> &'a Banded {
    match &judged.findings[&key(name)].as_ref().unwrap().says {
        Says::Band(banded) => banded,
        other => panic!("{name} has no band: {other:?}"),
    }
}

#[track_caller]
fn comes_out_as(judged: &Judged, name: &str, band: &str, score: f64) {
    let found = banded(judged, name);
    assert_eq!(found.name(), band, "{name}");
    assert!(
        (found.score.value - score).abs() < 0.05,
        "{name}: {} is not {score} to one place",
        found.score.value
    );
}

#[test]
fn torsion_is_high_and_heel_and_platform_come_out_as_practice_puts_them() {
    let judged = judged();
    comes_out_as(&judged, "torsion", "high", 75.0);
    comes_out_as(&judged, "heel-firmness", "very high", 94.8);
    comes_out_as(&judged, "platform", "high", 84.9);
}

#[test]
fn rebound_lies_in_the_lowest_quarter_of_high() {
    let judged = judged();
    let rebound = banded(&judged, "rebound");
    assert_eq!(rebound.name(), "high");
    let (low, high) = (rebound.scale.cuts[2], rebound.scale.cuts[3]);
    assert!((low..low + (high - low) / 4.0).contains(&rebound.score.value));
}

#[test]
fn lift_lies_in_the_top_quarter_of_very_low() {
    let judged = judged();
    let lift = banded(&judged, "lift");
    assert_eq!(lift.name(), "very low");
    let high = lift.scale.cuts[0];
    assert!((0.75 * high..high).contains(&lift.score.value));
}

#[test]
fn the_pace_is_the_second_tier_of_four() {
    let judged = judged();
    let pace = banded(&judged, "pace");
    assert_eq!((pace.band, pace.scale.names.len()), (1, 4));
}

#[test]
fn it_suits_middling_and_heavy_builds_and_mild_and_strong_postures_either_way() {
    let judged = judged();
    let Says::Fit(fit) = &judged.findings[&key("builds")].as_ref().unwrap().says else {
        panic!("builds is a fit");
    };
    let of = |axis: &solefolio::rules::FitAxis| -> Vec<(String, Verdict)> {
        let options = axis.options.iter();
        options.map(|o| (o.key.to_string(), o.verdict)).collect()
    };
    let expected = |options: &[(&str, Verdict)]| -> Vec<(String, Verdict)> {
        options.iter().map(|(k, v)| ((*k).to_owned(), *v)).collect()
    };
    use Verdict::{Close, Fails, Holds};
    assert_eq!(
        of(&fit.rows),
        expected(&[("light", Fails), ("middling", Holds), ("heavy", Holds)])
    );
    // Neutral feet are not preferred: the torsion lies on the very limit.
    assert_eq!(
        of(&fit.columns),
        expected(&[
            ("strongly-supinated", Holds),
            ("supinated", Holds),
            ("neutral", Close),
            ("pronated", Holds),
            ("strongly-pronated", Holds),
        ])
    );
}
