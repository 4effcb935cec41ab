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
