//! One quantity of a shoe made up here, from its readings to its value, the parts
//! of its uncertainty and its flags, each worked out by hand.

use super::hysteresis::Estimate;
use super::summarise::{Absent, Figures, Summary, summarise};
use super::{Flag, FlagWeight};
use crate::files::Key;
use crate::lab::{CurveFigure, QuantitySpec, Spread, fixture};
use crate::measure::drawn::Drawn;
use crate::quantity::{Part, Shape, Unit};
use crate::shoe::Shoe;

fn mass() -> Key {
    "mass".parse().unwrap()
}

/// Three trials wanted, a calibration of 0.3 g, steps of 1 g; nothing else stated.
fn spec() -> QuantitySpec {
    QuantitySpec {
        decimals: 0,
        instrument: "scale".parse().unwrap(),
        resolution: Some(1.0),
        calibration: Some(0.3),
        plausible: (0.0, 1000.0),
        ..fixture::quantity("Mass", Unit::Gram)
    }
}

/// The same with a pooled repeatability of 58 degrees of freedom.
fn spec_with_repeatability(s: f64) -> QuantitySpec {
    QuantitySpec {
        repeatability: Some((s, 58.0)),
        ..spec()
    }
}

/// A shoe of size 280 with these readings; `beside` are further lines of its file.
fn shoe(left: &str, right: &str, beside: &str) -> Shoe {
    let session = "session: {on: 2026-10-27, operator: ivo, temperature: 23 °C, humidity: 50 %, soaked: 13 h}";
    let file = format!(
        "schema: 1\nmaker: Nobody\nmodel: Fixture\ncategory: road\n\
         size: {{system: mondopoint, value: 280}}\nspecimens:\n\
         - {{id: L, side: left, {session}, readings: {{{left}}}}}\n\
         - {{id: R, side: right, {session}, readings: {{{right}}}}}\n{beside}"
    );
    Shoe {
        curves: Vec::new(),
        slug: "fixture".parse().unwrap(),
        path: "shoes/fixture.yaml".into(),
        file: serde_yaml::from_str(&file).unwrap(),
    }
}

fn summed(spec: QuantitySpec, shoe: &Shoe) -> Result<Summary, Absent> {
    summed_with(spec, shoe, &Figures::new())
}

fn summed_with(spec: QuantitySpec, shoe: &Shoe, figures: &Figures) -> Result<Summary, Absent> {
    let protocol = fixture::protocol([(mass(), spec)]);
    let mut all = summarise(shoe, &protocol, figures, &Drawn::default());
    all.remove(&mass()).unwrap()
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9, "{found}, not {expected}");
}

fn part<'s>(summary: &'s Summary, name: &str) -> &'s Part {
    let parts = summary.value.parts();
    let found = parts.iter().find(|part| part.source.name() == name);
    found.unwrap_or_else(|| panic!("no {name} in {parts:#?}"))
}

#[test]
fn a_pair_has_the_mean_of_its_specimens_means_and_every_part_of_their_uncertainty() {
    let spec = QuantitySpec {
        repeatability: Some((0.6, 58.0)),
        per_size: Some(0.5),
        ..spec()
    };
    let shoe = shoe(
        "mass: [262, 263, 262, 300]",
        "mass: [261, 262]",
        "leave-out: [{specimen: L, quantity: mass, trial: 4, reason: a slip}]",
    );
    let summary = summed(spec, &shoe).unwrap();
    assert_eq!(
        (summary.n, summary.pooled, summary.size_step),
        (5, true, Some(-5.0))
    );
    near(summary.value.value, (787.0 / 3.0 + 261.5) / 2.0 - 5.0);
    let left = part(&summary, "trials of mass on L");
    near(left.u, 0.6 / 3.0_f64.sqrt() / 2.0);
    assert_eq!((left.dof, left.shape), (58.0, Shape::Student));
    near(
        part(&summary, "trials of mass on R").u,
        0.6 / 2.0_f64.sqrt() / 2.0,
    );
    let step = part(&summary, "resolution of scale in mass");
    near(step.u, 1.0 / 12.0_f64.sqrt());
    assert_eq!((step.dof, step.shape), (f64::INFINITY, Shape::Rectangular));
    let calibration = part(&summary, "calibration of scale");
    near(calibration.u, 0.3);
    assert_eq!(calibration.shape, Shape::Normal);
    assert_eq!(summary.value.parts().len(), 4);
    let left = &summary.specimens[0];
    assert_eq!(left.used(), [262.0, 263.0, 262.0]);
    assert_eq!(left.trials[3].left_out.as_deref(), Some("a slip"));
}

#[test]
fn only_the_very_reading_that_is_named_is_left_out() {
    let shoe = shoe(
        "mass: [262, 263, 264]",
        "mass: [261, 300]",
        "leave-out: [{specimen: R, quantity: mass, trial: 2, reason: a slip}, \
         {specimen: L, quantity: static-drop, trial: 1, reason: another}]",
    );
    let summary = summed(spec_with_repeatability(0.6), &shoe).unwrap();
    let used: Vec<Vec<f64>> = summary.specimens.iter().map(|one| one.used()).collect();
    assert_eq!(used, [vec![262.0, 263.0, 264.0], vec![261.0]]);
}

#[test]
fn a_figure_of_a_curve_brings_its_rows_noise_with_it() {
    let from_curve = QuantitySpec {
        from: Some(("heel-load-curve".parse().unwrap(), CurveFigure::Travel)),
        ..spec_with_repeatability(0.6)
    };
    let of = |value, u| Ok(Estimate { value, u });
    let failed = || Err("its curve has no loop".to_owned());
    let shoe = shoe("", "", "");
    let both = Figures::from([((0, mass()), of(60.0, 0.4)), ((1, mass()), of(62.0, 0.0))]);
    let summary = summed_with(from_curve.clone(), &shoe, &both).unwrap();
    near(summary.value.value, 61.0);
    near(part(&summary, "noise of the curve for mass on L").u, 0.2);
    // Two specimens' trials, the display, the calibration, and the one noise.
    assert_eq!(summary.value.parts().len(), 5);
    let one = Figures::from([((0, mass()), of(60.0, 0.4)), ((1, mass()), failed())]);
    let summary = summed_with(from_curve.clone(), &shoe, &one).unwrap();
    near(summary.value.value, 60.0);
    near(part(&summary, "noise of the curve for mass on L").u, 0.4);
    let none = Figures::from([((0, mass()), failed())]);
    assert_eq!(
        summed_with(from_curve, &shoe, &none).unwrap_err().reason,
        "its curve has no loop"
    );
}

#[test]
fn figures_of_one_curve_do_not_share_their_noise() {
    let from_curve = |take| QuantitySpec {
        from: Some(("heel-load-curve".parse().unwrap(), take)),
        ..spec_with_repeatability(0.6)
    };
    let (stored, back): (Key, Key) = ("energy-in".parse().unwrap(), "energy-back".parse().unwrap());
    let protocol = fixture::protocol([
        (stored.clone(), from_curve(CurveFigure::EnergyIn)),
        (back.clone(), from_curve(CurveFigure::EnergyBack)),
    ]);
    let of = |value| Ok(Estimate { value, u: 0.1 });
    let figures = Figures::from([((0, stored.clone()), of(4.0)), ((0, back.clone()), of(3.0))]);
    let all = summarise(&shoe("", "", ""), &protocol, &figures, &Drawn::default());
    let noise = |key: &Key| -> Vec<String> {
        let parts = all[key].as_ref().unwrap().value.parts();
        let names = parts.iter().map(|part| part.source.name().to_owned());
        names.filter(|name| name.starts_with("noise")).collect()
    };
    assert_eq!(noise(&stored), ["noise of the curve for energy-in on L"]);
    assert_eq!(noise(&back), ["noise of the curve for energy-back on L"]);
}

#[test]
fn an_outlier_and_scatter_beyond_the_pooled_are_said_with_their_figures() {
    let shoe = shoe("mass: [262, 262, 263, 300, 262]", "", "");
    // G = 30.2/s with s² of the trials and a twelfth of the display's step squared;
    // 1.715 stands in tables of Grubbs' test for five readings, two-sided at 5 %.
    assert_eq!(
        messages(spec(), &shoe, "outlier"),
        [
            "300.0 g stands apart from the other trials by Grubbs' test (G = 1.788, critical 1.715 at 5 %)"
        ]
    );
    assert_eq!(
        messages(spec_with_repeatability(0.6), &shoe, "scatter"),
        [
            "trials scatter by s = 16.89 g, significantly more than the lab's repeatability of 0.60 g; their own scatter is used"
        ]
    );
}

#[test]
fn trials_have_their_own_scatter_where_none_is_pooled_or_it_is_significantly_more() {
    let shoe = shoe("mass: [250, 262, 274]", "mass: [262, 262, 263]", "");
    let own = summed(spec(), &shoe).unwrap();
    assert!(!own.pooled);
    let left = part(&own, "trials of mass on L");
    near(left.u, 12.0 / 3.0_f64.sqrt() / 2.0);
    assert_eq!(left.dof, 2.0);
    let pooled = QuantitySpec {
        repeatability: Some((0.6, 58.0)),
        ..spec()
    };
    let both = summed(pooled, &shoe).unwrap();
    near(
        part(&both, "trials of mass on L").u,
        12.0 / 3.0_f64.sqrt() / 2.0,
    );
    near(
        part(&both, "trials of mass on R").u,
        0.6 / 3.0_f64.sqrt() / 2.0,
    );
    assert!(both.pooled);
    let found = codes(&both);
    assert!(found.contains(&"scatter"), "{found:?}");
}

#[test]
fn the_pooled_scatter_gives_way_at_one_per_cent_of_the_f_test() {
    // F(2, 58) is beyond 4.99 with a chance of 1 % (computed in closed form:
    // for two degrees of freedom it is (1 + F/29)^-29). Trials of d, 0 and −d have s = d.
    let at = |one_per_cent: f64| 29.0 * (one_per_cent.powf(-1.0 / 29.0) - 1.0);
    for (chance, pooled) in [(0.011, true), (0.009, false)] {
        let d = 2.0 * at(chance).sqrt();
        let readings = format!("mass: [{}, 262, {}]", 262.0 - d, 262.0 + d);
        let summary = summed(spec_with_repeatability(2.0), &shoe(&readings, "", ""));
        assert_eq!(summary.unwrap().pooled, pooled, "{chance}");
    }
}

#[test]
fn a_quantity_without_a_value_says_why() {
    let reason =
        |left: &str, beside: &str| summed(spec(), &shoe(left, "", beside)).unwrap_err().reason;
    assert_eq!(reason("", ""), "it was not measured");
    assert_eq!(
        reason(
            "mass: 262",
            "leave-out: [{specimen: L, quantity: mass, trial: 1, reason: a slip}]"
        ),
        "every reading of it is left out"
    );
    assert_eq!(
        reason("mass: 262", ""),
        "one trial, and the protocol states no repeatability"
    );
}

#[test]
fn one_specimen_alone_has_its_own_mean_and_whole_uncertainty() {
    let summary = summed(spec(), &shoe("mass: [250, 262, 274]", "", "")).unwrap();
    near(summary.value.value, 262.0);
    near(
        part(&summary, "trials of mass on L").u,
        12.0 / 3.0_f64.sqrt(),
    );
    assert_eq!((summary.n, summary.size_step), (3, None));
}

fn codes(summary: &Summary) -> Vec<&'static str> {
    summary.flags.iter().map(|flag| flag.code).collect()
}

/// The messages of one kind of flag.
fn messages(spec: QuantitySpec, shoe: &Shoe, code: &str) -> Vec<String> {
    let flags = summed(spec, shoe).unwrap().flags;
    flags
        .into_iter()
        .filter(|flag| flag.code == code)
        .map(|flag| flag.message)
        .collect()
}

#[test]
fn trials_may_differ_by_the_limit_and_no_more() {
    let limited = |spread| QuantitySpec {
        spread: Some(spread),
        ..spec()
    };
    let within = shoe("mass: [262.3, 260.3, 261]", "", "");
    let beyond = shoe("mass: [262.4, 260.3, 261]", "", "");
    assert!(messages(limited(Spread::Absolute(2.0)), &within, "spread").is_empty());
    assert_eq!(
        messages(limited(Spread::Absolute(2.0)), &beyond, "spread"),
        ["trials differ by 2.1 g, from 260.3 to 262.4; the protocol allows 2.0 g"]
    );
    // Five per cent of a mean of 100.
    let within = shoe("mass: [97.5, 102.5]", "", "");
    let beyond = shoe("mass: [97.4, 102.6]", "", "");
    assert!(messages(limited(Spread::OfMean(0.05)), &within, "spread").is_empty());
    assert_eq!(
        messages(limited(Spread::OfMean(0.05)), &beyond, "spread"),
        ["trials differ by 5.2 g, from 97.4 to 102.6; the protocol allows 5.0 g"]
    );
}

#[test]
fn left_and_right_may_differ_by_the_limit_and_no_more() {
    let limited = QuantitySpec {
        left_right: Some(3.0),
        ..spec()
    };
    let found =
        |left: &str, right: &str| messages(limited.clone(), &shoe(left, right, ""), "left-right");
    let low = "mass: [259, 260, 261]";
    assert!(found(low, "mass: [262, 263, 264]").is_empty());
    assert_eq!(
        found(low, "mass: [263, 264, 265]"),
        ["left 260.0 and right 264.0 g differ by 4.0; the protocol allows 3.0 g"]
    );
    assert_eq!(
        found("mass: [263, 264, 265]", low),
        ["left 264.0 and right 260.0 g differ by 4.0; the protocol allows 3.0 g"]
    );
    assert!(found(low, "").is_empty());
    let left_out = shoe(
        low,
        "mass: 270",
        "leave-out: [{specimen: R, quantity: mass, trial: 1, reason: a slip}]",
    );
    assert!(messages(limited.clone(), &left_out, "left-right").is_empty());
}

#[test]
fn fewer_trials_than_wanted_are_said() {
    let found = |left: &str| messages(spec(), &shoe(left, "", ""), "too-few-trials");
    assert_eq!(
        found("mass: [262, 263]"),
        ["2 of the 3 trials the protocol wants"]
    );
    assert!(found("mass: [262, 263, 262]").is_empty());
}

#[test]
fn a_flag_is_accepted_for_its_own_code_and_quantity_or_for_all() {
    let accepted = |accept: &str| {
        let limited = QuantitySpec {
            spread: Some(Spread::Absolute(2.0)),
            ..spec()
        };
        let shoe = shoe("mass: [260, 263, 262]", "", &format!("accept: [{accept}]"));
        let flags = summed(limited, &shoe).unwrap().flags;
        flags
            .into_iter()
            .find(|flag| flag.code == "spread")
            .unwrap()
            .accepted
    };
    let seen = Some("seen".to_owned());
    assert_eq!(accepted("{flag: spread, of: mass, reason: seen}"), seen);
    assert_eq!(accepted("{flag: spread, reason: seen}"), seen);
    assert_eq!(
        accepted("{flag: spread, of: static-drop, reason: seen}"),
        None
    );
    assert_eq!(accepted("{flag: outlier, of: mass, reason: seen}"), None);
}

#[test]
fn only_a_flag_that_stops_makes_findings_provisional_accepted_or_not() {
    for (weight, accepted, stops, provisional) in [
        (FlagWeight::Stops, None, true, true),
        (FlagWeight::Stops, Some("seen"), false, true),
        (FlagWeight::Said, None, false, false),
        (FlagWeight::Said, Some("seen"), false, false),
    ] {
        let flag = Flag {
            code: "spread",
            weight,
            quantity: Some(mass()),
            specimen: None,
            message: String::new(),
            accepted: accepted.map(str::to_owned),
        };
        assert_eq!(
            (flag.stops(), flag.makes_provisional()),
            (stops, provisional)
        );
    }
}
