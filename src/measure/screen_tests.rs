//! What is said of a session, at the limits of the protocol and just beyond them, and
//! of two sides that differ by the limit.

use super::*;
use crate::lab::{ControlReadings, fixture};
use crate::words::Language;
use std::sync::Arc;

fn key(name: &str) -> Key {
    name.parse().unwrap()
}

fn quantity(instrument: &str) -> QuantitySpec {
    QuantitySpec {
        instrument: key(instrument),
        decimals: 1,
        ..fixture::quantity("Mass", Unit::Gram)
    }
}

/// A lab of 23 ± 1.5 °C, 50 ± 10 %, 12 h; its scale is due on 20 November, its
/// gauge a year later. The mass is read on the scale, the drop on the gauge.
fn lab() -> Lab {
    let instruments: crate::lab::Instruments = serde_yaml::from_str(
        "schema: 1\ninstruments:\n\
         \u{20} scale: {label: Scale, resolution: 1 g, calibration: {on: 2025-11-20, due: 2026-11-20, uncertainty: 1 g, k: 2}}\n\
         \u{20} gauge: {label: Gauge, resolution: 1 g, calibration: {on: 2026-11-20, due: 2027-11-20, uncertainty: 1 g, k: 2}}\n",
    )
    .unwrap();
    Lab {
        settings: serde_yaml::from_str(include_str!("../../tests/data/small-lab/lab/lab.yaml"))
            .unwrap(),
        protocol: fixture::protocol([
            (key("mass"), quantity("scale")),
            (key("drop"), quantity("gauge")),
        ]),
        instruments: instruments.instruments,
        phrases: serde_yaml::from_str(include_str!("../../tests/data/small-lab/lab/phrases.yaml"))
            .unwrap(),
        language: Arc::new(Language::original("en")),
        tongues: Vec::new(),
        control: Vec::new(),
        study: Vec::new(),
    }
}

fn shoe(session: &str, readings: &str, beside: &str) -> Shoe {
    let file = format!(
        "schema: 1\nmaker: Nobody\nmodel: Fixture\ncategory: road\n\
         size: {{system: mondopoint, value: 270}}\nspecimens:\n\
         - {{id: L, side: left, session: {{operator: ada, {session}}}, readings: {{{readings}}}}}\n{beside}"
    );
    Shoe {
        curves: Vec::new(),
        slug: "fixture".parse().unwrap(),
        path: "shoes/fixture.yaml".into(),
        file: serde_yaml::from_str(&file).unwrap(),
    }
}

/// Code and message of each flag of a session.
fn said_of(session: &str, readings: &str) -> Vec<(&'static str, String)> {
    let flags = screen_sessions(&shoe(session, readings, ""), &lab(), &Drift::of(&[]));
    flags
        .into_iter()
        .map(|flag| (flag.code, flag.message))
        .collect()
}

const MASS: &str = "mass: [262, 263]";

#[test]
fn a_bench_at_the_limits_of_its_conditions_is_as_the_protocol_wants() {
    for session in [
        "on: 2026-11-19, temperature: 24.5 °C, humidity: 60 %, soaked: 12 h",
        "on: 2026-11-19, temperature: 21.5 °C, humidity: 40 %, soaked: 12 h",
        // 76.1 °F is 24.5 °C, and 720 min are 12 h.
        "on: 2026-11-19, temperature: 76.1 °F, humidity: 50 %, soaked: 720 min",
    ] {
        assert_eq!(said_of(session, MASS), [], "{session}");
    }
}

#[test]
fn beyond_its_limits_each_condition_is_said_with_its_figures() {
    let found = said_of(
        "on: 2026-11-19, temperature: 24.6 °C, humidity: 61 %, soaked: 11.9 h",
        MASS,
    );
    let expected = [
        (
            TEMPERATURE,
            "measured at 24.6 °C; the protocol wants 23.0 ± 1.5 °C",
        ),
        (
            HUMIDITY,
            "measured at 61 % humidity; the protocol wants 50 ± 10 %",
        ),
        (
            SOAKED_SHORT,
            "conditioned for 11.9 h; the protocol wants at least 12.0 h",
        ),
    ];
    assert_eq!(
        found,
        expected.map(|(code, message)| (code, message.to_owned()))
    );
    let cold = "on: 2026-11-19, temperature: 21.4 °C, humidity: 39 %, soaked: 13 h";
    let codes: Vec<_> = said_of(cold, MASS)
        .into_iter()
        .map(|(code, _)| code)
        .collect();
    assert_eq!(codes, [TEMPERATURE, HUMIDITY]);
}

#[test]
fn a_reason_has_the_places_it_takes_to_be_one() {
    // 76.13 °F is 24.517 °C, and 719 min are 11.983 h.
    let found = said_of(
        "on: 2026-11-19, temperature: 76.13 °F, humidity: 60.4 %, soaked: 719 min",
        MASS,
    );
    let expected = [
        "measured at 24.52 °C; the protocol wants 23.00 ± 1.50 °C",
        "measured at 60.4 % humidity; the protocol wants 50.0 ± 10.0 %",
        "conditioned for 11.98 h; the protocol wants at least 12.00 h",
    ];
    let messages: Vec<String> = found.into_iter().map(|(_, message)| message).collect();
    assert_eq!(messages, expected);
    // 5 % of a mean of 5.95 is 0.2975.
    let spec = QuantitySpec {
        spread: Some(Spread::OfMean(0.05)),
        ..quantity("gauge")
    };
    let trial = |value: f64| super::super::Trial {
        written: value.to_string().parse().unwrap(),
        value,
        left_out: None,
    };
    let specimen = SpecimenSummary {
        id: "X".into(),
        side: Side::Left,
        trials: [5.8, 5.95, 6.1].map(trial).to_vec(),
        mean: 5.95,
        deviation: Some(0.15),
    };
    assert_eq!(
        beyond_spread(&specimen, &spec).unwrap(),
        "trials differ by 0.300 g, from 5.800 to 6.100; the protocol allows 0.298 g"
    );
}

#[test]
fn an_instrument_is_overdue_from_the_day_it_is_due_for_what_was_read_on_it() {
    const SESSION: &str = "temperature: 23 °C, humidity: 50 %, soaked: 12 h";
    let on = |day: &str, readings| said_of(&format!("on: {day}, {SESSION}"), readings);
    assert_eq!(on("2026-11-19", MASS), []);
    let due = "Scale was due for calibration on 2026-11-20 and was used on 2026-11-20";
    assert_eq!(
        on("2026-11-20", MASS),
        [(CALIBRATION_OVERDUE, due.to_owned())]
    );
    assert_eq!(on("2026-11-20", "drop: [6, 6]"), []);
    assert_eq!(on("2027-11-20", "mass: 262, drop: 6").len(), 2);
}

#[test]
fn a_curve_brings_the_instrument_and_the_control_shoe_of_what_is_taken_from_it() {
    let mut lab = lab();
    let from = (key("heel"), crate::lab::CurveFigure::Travel);
    let taken = QuantitySpec {
        from: Some(from),
        ..quantity("scale")
    };
    lab.protocol = fixture::protocol([(key("travel"), taken)]);
    let session = "on: 2026-11-20, temperature: 23 °C, humidity: 50 %, soaked: 12 h";
    let codes = |readings: &str| -> Vec<&str> {
        screen_sessions(&shoe(session, readings, ""), &lab, &Drift::of(&[]))
            .iter()
            .map(|flag| flag.code)
            .collect()
    };
    assert_eq!(codes("heel: {curve: heel.csv}"), [CALIBRATION_OVERDUE]);
    assert_eq!(codes("mass: 262"), [""; 0]);
}

/// Twenty-one days at 100 and 101 by turns: moving ranges of 1, so the limits lie at
/// 100.5 ± 2.66 (individuals: 3/1.128). On the last day the control shoe read 110.
#[test]
fn a_day_on_which_the_control_shoe_was_out_is_said_of_the_quantity_it_read() {
    let control = ControlReadings {
        quantity: key("mass"),
        days: (1..=21)
            .map(|day| format!("2026-10-{day:02}").parse().unwrap())
            .collect(),
        values: (1..=21)
            .map(|day| match day {
                21 => 110.0,
                day => 100.0 + f64::from(day % 2),
            })
            .collect(),
    };
    let drift = Drift::of(&[control]);
    let found = |day: &str, readings: &str| {
        let session = format!("on: {day}, temperature: 23 °C, humidity: 50 %, soaked: 12 h");
        screen_sessions(&shoe(&session, readings, ""), &lab(), &drift)
    };
    assert!(found("2026-10-20", MASS).is_empty());
    assert!(found("2026-10-21", "drop: 6").is_empty());
    let flags = found("2026-10-21", MASS);
    assert_eq!(flags.len(), 1);
    assert_eq!(
        (flags[0].code, flags[0].weight, flags[0].quantity.clone()),
        (BENCH_OUT_OF_CONTROL, FlagWeight::Said, Some(key("mass")))
    );
    let message = &flags[0].message;
    let start = "on 2026-10-21 the control shoe read 110.00 g (limits 97.84 to 103.16): ";
    assert!(message.starts_with(start), "{message}");
}

#[test]
fn a_condition_is_accepted_for_the_whole_session_and_not_for_a_quantity() {
    let session = "on: 2026-11-19, temperature: 26 °C, humidity: 50 %, soaked: 12 h";
    let accepted = |beside| {
        let flags = screen_sessions(&shoe(session, MASS, beside), &lab(), &Drift::of(&[]));
        flags[0].accepted.clone()
    };
    assert_eq!(accepted(""), None);
    assert_eq!(
        accepted("accept: [{flag: temperature, reason: a hot day}]").as_deref(),
        Some("a hot day")
    );
    assert_eq!(
        accepted("accept: [{flag: humidity, reason: a wet day}]"),
        None
    );
    assert_eq!(
        accepted("accept: [{flag: temperature, of: mass, reason: a hot day}]"),
        None
    );
}

/// 6.4 − 6.1 is a little over 0.3 in binary, and 0.3 to the lab.
#[test]
fn two_sides_may_differ_by_the_limit_in_decimals() {
    let spec = QuantitySpec {
        left_right: Some(0.3),
        ..quantity("gauge")
    };
    let side = |side, mean: f64| SpecimenSummary {
        id: "X".into(),
        side,
        trials: vec![super::super::Trial {
            written: mean.to_string().parse().unwrap(),
            value: mean,
            left_out: None,
        }],
        mean,
        deviation: None,
    };
    let differ = |left, right| {
        left_against_right(&[side(Side::Left, left), side(Side::Right, right)], &spec)
    };
    assert!(std::hint::black_box(6.4) - 6.1 > 0.3);
    assert_eq!(differ(6.4, 6.1), None);
    assert_eq!(differ(6.1, 6.4), None);
    assert!(differ(6.4001, 6.1).is_some());
}
