//! What is refused, what adds up, and whether the limits hold what they say.

use super::*;
use crate::measure::anova::one_way;
use proptest::prelude::*;
use rand::{Rng, SeedableRng};
use rand_distr::StandardNormal;

#[test]
fn a_study_that_is_not_crossed_names_the_cell() {
    let readings = [
        ("A", "ivo", 1.0),
        ("A", "ivo", 1.1),
        ("A", "noor", 1.0),
        ("A", "noor", 1.2),
        ("B", "ivo", 2.0),
        ("B", "ivo", 2.1),
        ("B", "noor", 2.0),
    ];
    let error = Study::from_readings(readings).unwrap_err();
    assert_eq!(
        error.to_string(),
        "operator `noor` measured part `B` 1 times, not 2; in a crossed study every \
         operator measures every part equally often"
    );
    let one = readings.into_iter().filter(|(part, ..)| *part == "A");
    assert_eq!(
        Study::from_readings(one).unwrap_err(),
        StudyError::TooFew {
            what: "parts",
            found: 1
        }
    );
    assert!(Study::from_readings([]).is_err());
}

#[test]
fn readings_that_are_all_equal_have_no_spread_and_no_categories() {
    let readings = ["A", "B"].into_iter().flat_map(|part| {
        ["ivo", "noor"]
            .into_iter()
            .flat_map(move |by| [(part, by, 4.2); 2])
    });
    let findings = Study::from_readings(readings)
        .unwrap()
        .table()
        .findings(0.05, 0.9);
    assert_eq!(findings.distinct_categories(), None);
    assert_eq!(findings.share(&findings.part), None);
    assert_eq!(findings.interaction_chance, None);
    assert_eq!(findings.gauge.limits, (0.0, 0.0));
    // Nothing came out negative.
    assert!(!findings.reproducibility.set_to_zero && !findings.part.set_to_zero);
}

/// A study drawn from given deviations of scatter, operators, crossing, parts.
fn drawn(seed: u64, deviations: [f64; 4]) -> Table {
    let mut generator = generator_of(seed);
    let mut draw = |deviation: f64| deviation * generator.sample::<f64, _>(StandardNormal);
    let names = ["A", "B", "C", "D", "E", "F"];
    let operators: Vec<f64> = (0..3).map(|_| draw(deviations[1])).collect();
    let mut readings = Vec::new();
    for part in names {
        let level = draw(deviations[3]);
        for (by, operator) in ["x", "y", "z"].into_iter().zip(&operators) {
            let crossing = draw(deviations[2]);
            for _ in 0..3 {
                readings.push((part, by, level + operator + crossing + draw(deviations[0])));
            }
        }
    }
    Study::from_readings(readings).unwrap().table()
}

fn generator_of(seed: u64) -> rand_pcg::Pcg64 {
    rand_pcg::Pcg64::seed_from_u64(seed)
}

#[test]
fn ninety_per_cent_limits_hold_the_truth_in_about_nine_studies_of_ten() {
    const STUDIES: u64 = 2000;
    let [scatter, operator, crossing, part] = [1.0_f64, 0.8, 0.5, 3.0];
    let truth = [
        scatter,
        operator.hypot(crossing),
        scatter.hypot(operator).hypot(crossing),
        part,
    ];
    let mut held = [0_u32; 4];
    for seed in 0..STUDIES {
        // Pooling 1 keeps the interaction always: limits under a fixed model.
        let found = drawn(seed, [scatter, operator, crossing, part]).findings(1.0, 0.9);
        let components = [
            found.repeatability,
            found.reproducibility,
            found.gauge,
            found.part,
        ];
        for ((held, truth), component) in held.iter_mut().zip(truth).zip(components) {
            let (low, high) = component.limits;
            *held += u32::from(low <= truth && truth <= high);
        }
    }
    for (what, held) in ["repeatability", "reproducibility", "gauge", "part"]
        .iter()
        .zip(held)
    {
        let share = f64::from(held) / STUDIES as f64;
        // Three standard errors of 2000 studies are 0.02; the method leans to caution.
        assert!((0.88..0.95).contains(&share), "{what}: {share}");
    }
}

fn row(squares: f64, dof: f64) -> crate::measure::anova::Row {
    crate::measure::anova::Row { squares, dof }
}

#[track_caller]
fn near(found: f64, expected: f64, what: &str) {
    assert!(
        (found - expected).abs() < 2e-8,
        "{what}: {found}, not {expected}"
    );
}

/// Deviation and limits of repeatability, reproducibility, gauge and part.
fn hold(found: &Findings, expected: [[f64; 3]; 4]) {
    let components = [
        ("repeatability", found.repeatability),
        ("reproducibility", found.reproducibility),
        ("gauge", found.gauge),
        ("part", found.part),
    ];
    for ((what, component), [deviation, low, high]) in components.into_iter().zip(expected) {
        near(component.deviation, deviation, what);
        near(component.limits.0, low, what);
        near(component.limits.1, high, what);
    }
}

/// The limits of the published formulas (named at the head of the module), written
/// a second time apart from this program, with scipy 1.17's χ² and F quantiles: a
/// ten-part study pooled (its sums of squares as in `tests/reference_gauge.rs`), and
/// invented ones of six parts and three operators, twice each, with an interaction.
#[test]
fn limits_are_those_of_the_published_formulas_to_eight_places() {
    let ten = Table {
        part: row(88.3619, 9.0),
        operator: row(3.1673, 2.0),
        interaction: row(0.3590, 18.0),
        scatter: row(2.7589, 60.0),
        replicates: 3.0,
    };
    let found = ten.findings(0.05, 0.9);
    near(found.interaction_chance.unwrap(), 0.974_098_214, "chance");
    let expected = [
        [0.199_932_681, 0.176_914_944, 0.230_559_212],
        [0.226_838_924, 0.127_545_808, 1.013_795_124],
        [0.302_372_245, 0.235_108_482, 1.033_378_290],
        [1.042_327_300, 0.758_821_173, 1.717_023_415],
    ];
    hold(&found, expected);
    let six = |operator: f64, part: f64| Table {
        part: row(part, 5.0),
        operator: row(operator, 2.0),
        interaction: row(9.0, 10.0),
        scatter: row(6.0, 18.0),
        replicates: 2.0,
    };
    let found = six(14.0, 120.0).findings(0.05, 0.95);
    assert!(!found.pooled && found.repeatability_dof == 18.0);
    near(found.interaction_chance.unwrap(), 0.032_084_328, "chance");
    let expected = [
        [0.577_350_269, 0.436_253_157, 0.853_799_744],
        [0.889_756_521, 0.473_860_141, 4.821_438_872],
        [1.060_660_172, 0.808_110_882, 4.857_624_151],
        [1.962_141_687, 1.185_002_823, 4.888_761_154],
    ];
    hold(&found, expected);
    // √(1.0607² + 1.9621²), and 1.41·1.9621/1.0607 = 2.61.
    near(found.total, 2.230_470_802, "total");
    near(found.share(&found.gauge).unwrap(), 0.475_531_969, "share");
    assert_eq!(found.distinct_categories(), Some(2));
    assert!(!found.reproducibility.set_to_zero && !found.part.set_to_zero);
    // Operators and parts spread less than their interaction: each set to zero, the
    // crossing (0.9 − 0.3333)/2 stays; the limits are those of the estimate before.
    let found = six(0.1, 4.0).findings(0.05, 0.9);
    let expected = [
        [0.577_350_269, 0.455_887_309, 0.799_341_397],
        [0.532_290_647, 0.0, 0.889_582_068],
        [0.785_281_266, 0.603_696_853, 1.071_165_444],
        [0.0, 0.0, 0.654_049_221],
    ];
    hold(&found, expected);
    assert!(found.reproducibility.set_to_zero && found.gauge.set_to_zero && found.part.set_to_zero);
    near(found.total, 0.785_281_266, "total");
}

/// A study in micrometres says the same as in metres: no figure is compared with a
/// number that has a unit.
#[test]
fn the_unit_of_the_readings_changes_no_share_and_no_chance() {
    let study = |scale: f64| Table {
        part: row(120.0 * scale, 5.0),
        operator: row(14.0 * scale, 2.0),
        interaction: row(9.0 * scale, 10.0),
        scatter: row(6.0 * scale, 18.0),
        replicates: 2.0,
    };
    for pooling in [0.01, 0.05] {
        let (metres, micrometres) = (
            study(1e-12).findings(pooling, 0.9),
            study(1.0).findings(pooling, 0.9),
        );
        assert_eq!(metres.pooled, micrometres.pooled);
        assert_eq!(
            metres.distinct_categories(),
            micrometres.distinct_categories()
        );
        let chances = [&metres, &micrometres].map(|found| found.interaction_chance.unwrap());
        near(chances[0], chances[1], "chance");
        for of in [
            |found: &Findings| found.repeatability,
            |found: &Findings| found.reproducibility,
            |found: &Findings| found.gauge,
            |found: &Findings| found.part,
        ] {
            let (small, large) = (of(&metres), of(&micrometres));
            near(small.deviation * 1e6, large.deviation, "deviation");
            near(small.limits.1 * 1e6, large.limits.1, "limit");
            assert!(!small.set_to_zero && !large.set_to_zero);
            let shares = [(&metres, small), (&micrometres, large)];
            let shares = shares.map(|(found, one)| found.share(&one).unwrap());
            near(shares[0], shares[1], "share");
        }
    }
}

#[test]
fn degrees_of_freedom_are_those_of_six_parts_three_operators_and_three_readings() {
    let table = drawn(1, [1.0, 0.8, 0.5, 3.0]);
    let dof = [table.part, table.operator, table.interaction, table.scatter].map(|row| row.dof);
    assert_eq!(dof, [5.0, 2.0, 10.0, 36.0]);
}

/// At the chance itself the interaction is kept: it is pooled only over it.
#[test]
fn an_interaction_is_pooled_over_the_chance_and_not_at_it() {
    let table = drawn(5, [1.0, 0.8, 0.5, 3.0]);
    let chance = table.findings(1.0, 0.9).interaction_chance.unwrap();
    assert!(chance > 0.0 && chance < 1.0);
    assert!(!table.findings(chance, 0.9).pooled);
    assert!(table.findings(chance - 1e-12, 0.9).pooled);
}

#[test]
fn a_study_s_parts_operators_and_cells_come_in_the_order_they_first_came() {
    let readings = [
        ("B", "noor", 3.0),
        ("B", "ivo", 5.0),
        ("A", "noor", 7.0),
        ("A", "ivo", 9.0),
        ("A", "ivo", 10.0),
        ("A", "noor", 8.0),
        ("B", "ivo", 6.0),
        ("B", "noor", 4.0),
    ];
    let study = Study::from_readings(readings).unwrap();
    assert_eq!(study.parts(), ["B", "A"]);
    assert_eq!(study.operators(), ["noor", "ivo"]);
    let cells = [(0, 0), (0, 1), (1, 0), (1, 1)].map(|(part, by)| study.cell(part, by));
    assert_eq!(cells, [[3.0, 4.0], [5.0, 6.0], [7.0, 8.0], [9.0, 10.0]]);
    // How often is the first operator's on the first part.
    let first_more = readings.into_iter().chain([("B", "ivo", 6.5)]);
    assert_eq!(
        Study::from_readings(first_more).unwrap_err(),
        StudyError::Unbalanced {
            part: "B".into(),
            operator: "ivo".into(),
            found: 3,
            expected: 2
        }
    );
    let thrice = readings.into_iter().chain([("A", "noor", 8.5)]);
    assert_eq!(
        Study::from_readings(thrice).unwrap_err(),
        StudyError::Unbalanced {
            part: "A".into(),
            operator: "noor".into(),
            found: 3,
            expected: 2
        }
    );
}

proptest! {
    #[test]
    fn prop_the_sums_of_squares_add_up_and_agree_with_the_one_way_tables(seed: u64) {
        let mut generator = generator_of(seed);
        let mut readings = Vec::new();
        for part in ["A", "B", "C"] {
            for by in ["x", "y"] {
                for _ in 0..2 {
                    readings.push((part, by, 1000.0 + generator.sample::<f64, _>(StandardNormal)));
                }
            }
        }
        let study = Study::from_readings(readings.iter().copied()).unwrap();
        let table = study.table();
        let groups = |of: &dyn Fn(&(&str, &str, f64)) -> String| {
            let mut by_name = std::collections::BTreeMap::<String, Vec<f64>>::new();
            for reading in &readings {
                by_name.entry(of(reading)).or_default().push(reading.2);
            }
            let groups: Vec<Vec<f64>> = by_name.into_values().collect();
            one_way(&groups.iter().map(Vec::as_slice).collect::<Vec<_>>()).unwrap()
        };
        let parts = groups(&|r| r.0.to_owned());
        let operators = groups(&|r| r.1.to_owned());
        let cells = groups(&|r| format!("{}{}", r.0, r.1));
        prop_assert!((table.part.squares - parts.between.squares).abs() < 1e-9);
        prop_assert!((table.operator.squares - operators.between.squares).abs() < 1e-9);
        prop_assert!((table.scatter.squares - cells.within.squares).abs() < 1e-9);
        let all = table.part.squares + table.operator.squares + table.interaction.squares;
        prop_assert!((all - cells.between.squares).abs() < 1e-9);
    }
}
