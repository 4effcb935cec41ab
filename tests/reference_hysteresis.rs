//! A noisy loop against figures from numpy and scipy
//! (`tests/data/hysteresis/make.py` makes both, from invented data).

mod common;

use solefolio::measure::hysteresis::{Axes, Loop, Settings};
use std::collections::HashMap;

#[test]
fn a_noisy_record_of_three_cycles_agrees_with_numpy_and_scipy() {
    let rows: Vec<(f64, f64)> = common::records("hysteresis/loop.csv")
        .iter()
        .map(|record| (record[0].parse().unwrap(), record[1].parse().unwrap()))
        .collect();
    let expected: HashMap<String, f64> = common::records("hysteresis/expected.csv")
        .into_iter()
        .map(|record| (record[0].clone(), record[1].parse().unwrap()))
        .collect();
    let found = Loop::from_rows(&rows, Settings::new(Axes::LoadTravel)).unwrap();
    let energy = found.energy();
    let tangent = found.tangent_stiffness(300.0).unwrap();
    for (name, value) in [
        ("cycles", found.cycles() as f64),
        ("travel_at_300", found.travel_at(300.0).unwrap().value),
        ("travel_at_450", found.travel_at(450.0).unwrap().value),
        ("load_at_8", found.load_at(8.0).unwrap().value),
        (
            "secant_50_450",
            found.secant_stiffness(50.0, 450.0).unwrap().value,
        ),
        ("tangent_300", tangent.value),
        ("tangent_300_u", tangent.u),
        ("stored_J", energy.stored.value),
        ("returned_J", energy.returned.value),
        ("lost_J", energy.lost.value),
        ("return_percent", energy.energy_return.unwrap().value),
    ] {
        common::near(value, expected[name], 1e-10 * expected[name].abs(), name);
    }
}
