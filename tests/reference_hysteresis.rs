//! A noisy loop against figures from numpy and scipy
//! (`tests/data/hysteresis/make.py` makes both, from invented data).

mod common;

use solefolio::measure::hysteresis::{Axes, Loop, Settings, Zero};
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
    let secant = found.secant_stiffness(50.0, 450.0).unwrap();
    let share = energy.energy_return.unwrap();
    let contact = Settings {
        zero: Zero::AtLoad(20.0),
        ..Settings::new(Axes::LoadTravel)
    };
    let from_20 = Loop::from_rows(&rows, contact).unwrap();
    let from_20_travel = from_20.travel_at(450.0).unwrap();
    let from_20_load = from_20.load_at(8.0).unwrap();
    for (name, value) in [
        ("cycles", found.cycles() as f64),
        ("travel_at_300", found.travel_at(300.0).unwrap().value),
        ("travel_at_450", found.travel_at(450.0).unwrap().value),
        ("load_at_8", found.load_at(8.0).unwrap().value),
        ("secant_50_450", secant.value),
        ("tangent_300", tangent.value),
        ("tangent_300_u", tangent.u),
        ("stored_J", energy.stored.value),
        ("returned_J", energy.returned.value),
        ("lost_J", energy.lost.value),
        ("return_percent", share.value),
        ("travel_at_450_u", found.travel_at(450.0).unwrap().u),
        ("load_at_8_u", found.load_at(8.0).unwrap().u),
        ("secant_50_450_u", secant.u),
        ("stored_J_u", energy.stored.u),
        ("returned_J_u", energy.returned.u),
        ("lost_J_u", energy.lost.u),
        ("return_percent_u", share.u),
        ("zero_at_20", from_20.zero().value),
        ("zero_at_20_u", from_20.zero().u),
        ("from_20_travel_at_450", from_20_travel.value),
        ("from_20_travel_at_450_u", from_20_travel.u),
        ("from_20_load_at_8", from_20_load.value),
        ("from_20_load_at_8_u", from_20_load.u),
        ("from_20_stored_J", from_20.energy().stored.value),
        ("from_20_returned_J", from_20.energy().returned.value),
    ] {
        common::near(value, expected[name], 1e-10 * expected[name].abs(), name);
    }
    // Asked for the other way round it is the same.
    let back = found.secant_stiffness(450.0, 50.0).unwrap();
    common::near(back.value, secant.value, 1e-10 * secant.value, "secant");
    common::near(back.u, secant.u, 1e-10 * secant.u, "its uncertainty");
}
