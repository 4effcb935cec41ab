//! Closed forms, and rows that are refused.

use super::branch::{Branch, path_integral};
use super::*;
use proptest::prelude::*;
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{RngCore, SeedableRng};

/// k = 100 N/mm up to 10 mm and k·x²/X back, `n` equal steps each way.
fn two_thirds(n: usize) -> Vec<(f64, f64)> {
    let at = |step: usize| 10.0 * step as f64 / n as f64;
    let up = (0..=n).map(|step| (at(step), 100.0 * at(step)));
    let down = (0..n)
        .rev()
        .map(|step| (at(step), 10.0 * at(step) * at(step)));
    up.chain(down).collect()
}

fn read(rows: &[(f64, f64)]) -> Loop {
    Loop::from_rows(rows, Settings::new(Axes::LoadTravel)).unwrap()
}

fn refused(rows: &[(f64, f64)]) -> LoopError {
    Loop::from_rows(rows, Settings::new(Axes::LoadTravel)).unwrap_err()
}

/// Uniform noise of the given standard deviation.
fn noisy(rows: &[(f64, f64)], travel: f64, load: f64, seed: u64) -> Vec<(f64, f64)> {
    let mut generator = Pcg64::seed_from_u64(seed);
    let mut draw =
        || 12.0_f64.sqrt() * ((generator.next_u64() >> 11) as f64 / (1_u64 << 53) as f64 - 0.5);
    rows.iter()
        .map(|row| (row.0 + travel * draw(), row.1 + load * draw()))
        .collect()
}

fn near(value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{value} is not {expected}"
    );
}

#[test]
fn up_by_kx_and_back_by_its_square_returns_two_thirds() {
    for n in [20, 50, 1000] {
        let energy = read(&two_thirds(n)).energy();
        // The rule is exact up; back it is over by X³·F″/(12n²), F″ = 20 N/mm².
        let over = 1e3 * 20.0 / (12.0 * (n * n) as f64) * 1e-3;
        near(energy.stored.value, 5.0, 1e-12);
        near(energy.returned.value, 10.0 / 3.0 + over, 1e-9);
        near(energy.lost.value, 5.0 / 3.0 - over, 1e-9);
        let share = energy.energy_return.unwrap();
        near(share.value, 200.0 / 3.0, 20.0 * over + 1e-9);
        // The stated uncertainty holds the error of the rule.
        assert!(energy.returned.u >= 0.99 * over && energy.returned.u < 2.0 * over + 1e-9);
        assert!(energy.stored.u < 1e-9);
    }
}

#[test]
fn a_viscoelastic_ellipse_loses_pi_c_omega_a_squared() {
    // x = −A·cos ωt, F = k·x + c·dx/dt.
    let (k, c, omega, a) = (80.0, 0.6, 5.0, 4.0);
    for steps in [400, 4000] {
        let rows: Vec<_> = (0..=steps)
            .map(|step| {
                let angle = 2.0 * std::f64::consts::PI * f64::from(step) / f64::from(steps);
                let x = -a * angle.cos();
                (x, k * x + c * a * omega * angle.sin())
            })
            .collect();
        let energy = read(&rows).energy();
        let lost = std::f64::consts::PI * c * omega * a * a * 1e-3;
        // A polygon of n corners in an ellipse is short by 2π²/(3n²).
        let short = lost * 6.58 / f64::from(steps).powi(2);
        near(energy.lost.value, lost, 1.01 * short);
    }
}

#[test]
fn a_straight_loading_branch_gives_its_own_figures() {
    let found = read(&two_thirds(100));
    assert_eq!(found.cycles(), 1);
    near(found.travel_at(450.0).unwrap().value, 4.5, 1e-12);
    near(found.travel_at(450.0).unwrap().u, 0.0, 0.0);
    near(found.load_at(4.5).unwrap().value, 450.0, 1e-10);
    // At its very ends too.
    for (load, travel) in [(0.0, 0.0), (1000.0, 10.0)] {
        near(found.travel_at(load).unwrap().value, travel, 1e-12);
        near(found.load_at(travel).unwrap().value, load, 1e-9);
    }
    near(
        found.secant_stiffness(10.0, 450.0).unwrap().value,
        100.0,
        1e-10,
    );
    let tangent = found.tangent_stiffness(450.0).unwrap();
    near(tangent.value, 100.0, 1e-9);
    assert!(tangent.u < 1e-9);
    assert_eq!((found.loading().len(), found.unloading().len()), (101, 101));
}

#[test]
fn angle_and_torque_give_joules_by_radians() {
    let rows = two_thirds(100);
    let found = Loop::from_rows(&rows, Settings::new(Axes::TorqueAngle)).unwrap();
    // ½·10°·1000 N·m
    near(found.energy().stored.value, 5000.0_f64.to_radians(), 1e-9);
}

#[test]
fn travel_counts_from_the_settling_load_and_energy_is_that_above_it() {
    // The bench's zero is off by 2 mm; contact is at 10 N.
    let rows: Vec<_> = two_thirds(200)
        .iter()
        .map(|row| (row.0 + 2.0, row.1))
        .collect();
    let settings = Settings {
        zero: Zero::AtLoad(10.0),
        ..Settings::new(Axes::LoadTravel)
    };
    let found = Loop::from_rows(&rows, settings).unwrap();
    near(found.zero().value, 2.1, 1e-12);
    near(found.travel_at(450.0).unwrap().value, 4.4, 1e-12);
    near(found.load_at(4.4).unwrap().value, 450.0, 1e-9);
    let energy = found.energy();
    near(energy.stored.value, 5.0 - 0.0005, 1e-9);
    // Back down to 10 N at x = 1 mm: 10·(10³ − 1)/3 N·mm.
    near(energy.returned.value, 3.33, 1e-4);
    assert_eq!(
        found.load_at(9.95).unwrap_err().to_string(),
        "the loading branch never reaches 9.95; it ends at 9.90"
    );
    match found.load_at(-0.2).unwrap_err() {
        LoopError::StartsAbove { wanted, lowest } => {
            near(wanted, -0.2, 0.0);
            near(lowest, -0.1, 1e-12);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_load_held_on_rows_that_all_show_it_is_reached() {
    // The mean of three rows of 100.1 N is a last digit under it.
    let up = (0..20).map(|step| (0.5 * f64::from(step), 5.0 * f64::from(step)));
    let held = (0..3).map(|step| (9.6 + 0.05 * f64::from(step), 100.1));
    let down = (0..20)
        .rev()
        .map(|step| (0.5 * f64::from(step), 4.0 * f64::from(step)));
    let rows: Vec<(f64, f64)> = up.chain(held).chain(down).collect();
    let found = read(&rows);
    near(found.travel_at(100.1).unwrap().value, 9.65, 1e-9);
    assert_eq!(
        found.travel_at(100.104).unwrap_err().to_string(),
        "the loading branch never reaches 100.104; it ends at 100.100"
    );
}

#[test]
fn of_several_cycles_the_last_whole_one_is_used() {
    let mut rows = Vec::new();
    for (stiffer, peak) in [(1.3, 0.6), (1.1, 1.0), (1.0, 1.0)] {
        rows.extend(
            two_thirds(60)
                .iter()
                .map(|row| (peak * row.0, stiffer * peak * row.1)),
        );
    }
    let found = read(&rows);
    assert_eq!(found.cycles(), 3);
    near(found.travel_at(450.0).unwrap().value, 4.5, 1e-9);
    let wanted = Settings {
        cycles: 4,
        ..Settings::new(Axes::LoadTravel)
    };
    assert_eq!(
        Loop::from_rows(&rows, wanted).unwrap_err(),
        LoopError::TooFewCycles {
            found: 3,
            needed: 4
        }
    );
    // A fourth that was broken off at the top does not count.
    rows.extend(
        two_thirds(60)
            .iter()
            .take(70)
            .map(|row| (row.0, 2.0 * row.1)),
    );
    let found = read(&rows);
    assert_eq!(found.cycles(), 3);
    near(found.travel_at(450.0).unwrap().value, 4.5, 1e-9);
}

#[test]
fn holding_at_the_top_and_resting_at_the_bottom_change_nothing() {
    let plain = two_thirds(200);
    let (up, down) = plain.split_at(201);
    let mut rows = Vec::new();
    for _ in 0..2 {
        rows.extend_from_slice(up);
        // Held at 10 mm while the load relaxes to 940 N.
        rows.extend((1..=30).map(|step| (10.0, 1000.0 - 2.0 * f64::from(step))));
        rows.extend(down.iter().map(|row| (row.0, 0.94 * row.1)));
        rows.extend([(0.0, 0.0); 40]);
    }
    for seed in 0..20 {
        let found = read(&noisy(&rows, 0.005, 1.0, seed));
        assert_eq!(found.cycles(), 2);
        near(found.travel_at(450.0).unwrap().value, 4.5, 0.06);
        let share = found.energy().energy_return.unwrap();
        near(share.value, 0.94 * 200.0 / 3.0, 3.0 * share.u);
        assert!(share.u < 0.5);
    }
}

#[test]
fn a_specimen_that_does_not_come_all_the_way_back_still_makes_a_loop() {
    // The load is off at 3 mm of the 10 mm.
    let rows: Vec<_> = two_thirds(200)
        .iter()
        .enumerate()
        .map(|(at, row)| {
            if at <= 200 {
                *row
            } else {
                (3.0 + 0.7 * row.0, row.1)
            }
        })
        .collect();
    let energy = read(&rows).energy();
    near(energy.stored.value, 5.0, 1e-9);
    near(energy.returned.value, 0.7 * 10.0 / 3.0, 2e-3);
}

#[test]
fn noise_does_not_turn_and_the_stated_uncertainty_covers_it() {
    let mut inside = [0_u32; 4];
    const LOOPS: u64 = 200;
    for seed in 0..LOOPS {
        let found = read(&noisy(&two_thirds(300), 0.01, 3.0, seed));
        assert_eq!(found.cycles(), 1);
        let energy = found.energy();
        let truths = [
            (found.travel_at(450.0).unwrap(), 4.5),
            (found.load_at(4.5).unwrap(), 450.0),
            (energy.energy_return.unwrap(), 200.0 / 3.0),
            (found.tangent_stiffness(450.0).unwrap(), 100.0),
        ];
        for (inside, (estimate, truth)) in inside.iter_mut().zip(truths) {
            *inside += u32::from((estimate.value - truth).abs() <= 2.0 * estimate.u);
        }
    }
    for (what, inside) in ["travel", "load", "return", "stiffness"].iter().zip(inside) {
        assert!(
            f64::from(inside) >= 0.88 * LOOPS as f64,
            "{what}: {inside} of {LOOPS}"
        );
    }
}

#[test]
fn a_press_that_turns_at_the_asked_load_has_reached_it() {
    let rows: Vec<_> = two_thirds(300)
        .iter()
        .map(|row| (row.0, 0.45 * row.1))
        .collect();
    for seed in 0..50 {
        let found = read(&noisy(&rows, 0.0, 0.5, seed));
        let travel = found.travel_at(450.0).unwrap();
        near(travel.value, 10.0, 0.05);
    }
}

#[test]
fn rows_that_make_no_loop_are_refused_with_the_reason() {
    let whole = two_thirds(100);
    assert_eq!(
        refused(&whole[..10]),
        LoopError::TooFewRows {
            found: 10,
            needed: 16
        }
    );
    assert_eq!(
        refused(&[]),
        LoopError::TooFewRows {
            found: 0,
            needed: 16
        }
    );
    assert_eq!(refused(&whole[..=100]), LoopError::NoUnloadingBranch);
    // Unloaded to two thirds only.
    assert_eq!(refused(&whole[..130]), LoopError::NoUnloadingBranch);
    assert_eq!(refused(&[(1.0, 5.0); 40]), LoopError::NoUnloadingBranch);
    let sorted = {
        let mut rows = whole.clone();
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        rows
    };
    assert_eq!(refused(&sorted), LoopError::NoUnloadingBranch);
    let pulled: Vec<_> = whole.iter().map(|row| (row.0, 500.0 - row.1)).collect();
    assert_eq!(refused(&pulled), LoopError::LoadDoesNotRise);
}

/// Up to 16 mm in `up` steps and back in `down`.
fn in_steps(up: u32, down: u32) -> Vec<(f64, f64)> {
    let at = |step: u32, of: u32| 16.0 * f64::from(step) / f64::from(of);
    let loading = (0..=up).map(|step| (at(step, up), 10.0 * at(step, up)));
    let back = (0..down)
        .rev()
        .map(|step| (at(step, down), 5.0 * at(step, down)));
    loading.chain(back).collect()
}

#[test]
fn a_branch_has_eight_rows_at_least_and_a_swing_four() {
    // Its turn belongs to both.
    let wide = Settings {
        widest_step: 0.5,
        ..Settings::new(Axes::LoadTravel)
    };
    let of = |up, down| Loop::from_rows(&in_steps(up, down), wide);
    assert_eq!(of(8, 7).map(|found| found.cycles()), Ok(1), "sixteen rows");
    let few = |found| Err(LoopError::TooFewRows { found, needed: 8 });
    assert_eq!(of(16, 6).map(|found| found.cycles()), few(7));
    assert_eq!(of(6, 16).map(|found| found.cycles()), few(7));
    assert_eq!(of(16, 4).map(|found| found.cycles()), few(5));
    let out_of_order = Err(LoopError::Unsorted { row: 19 });
    assert_eq!(of(16, 3).map(|found| found.cycles()), out_of_order);
}

#[test]
fn a_step_of_fifteen_per_cent_of_the_travel_is_no_gap_and_a_wider_one_is() {
    let stepped = |wide: f64| {
        let mut rows = two_thirds(100);
        rows.retain(|row| row.0 <= 4.0 || row.0 >= 4.0 + wide - 1e-9);
        Loop::from_rows(&rows, Settings::new(Axes::LoadTravel)).map(|found| found.cycles())
    };
    assert_eq!(stepped(1.4), Ok(1));
    assert_eq!(stepped(1.6), Err(LoopError::Gap { row: 41 }));
}

/// Of 10 mm a tenth is the dead band, three hundredths may slip back within a branch.
#[test]
fn a_swing_over_a_tenth_turns_a_smaller_one_is_out_of_order_and_noise_is_none() {
    let swung_by = |ends: [(f64, f64); 4]| {
        let step = |from: f64, to: f64, at: i32| from + (to - from) * f64::from(at) / 20.0;
        let travels = ends
            .into_iter()
            .flat_map(|(from, to)| (0..20).map(move |at| step(from, to, at)))
            .chain([0.0]);
        let rows: Vec<_> = travels.map(|x| (x, 100.0 * x)).collect();
        Loop::from_rows(&rows, Settings::new(Axes::LoadTravel)).map(|found| found.loading()[0].0)
    };
    let swung = |by: f64| {
        let down = 10.0 - by;
        swung_by([(0.0, 10.0), (10.0, down), (down, 10.0), (10.0, 0.0)])
    };
    let slipped_back = |by: f64| {
        let up = 5.0 + by;
        swung_by([(0.0, 10.0), (10.0, 5.0), (5.0, up), (up, 0.0)])
    };
    assert_eq!(slipped_back(0.29), Ok(0.0));
    assert!(matches!(
        slipped_back(0.31),
        Err(LoopError::Unsorted { .. })
    ));
    assert_eq!(swung(0.29), Ok(0.0));
    assert!(matches!(swung(0.31), Err(LoopError::Unsorted { .. })));
    assert!(matches!(swung(0.95), Err(LoopError::Unsorted { .. })));
    near(swung(1.05).unwrap(), 8.95, 1e-9);
}

/// Travels that scatter by 3 % of the range would turn in a dead band of a tenth; eight
/// times their noise is more than that.
#[test]
fn noise_of_the_travel_widens_the_dead_band() {
    for seed in 0..8 {
        let found = read(&noisy(&two_thirds(300), 0.3, 0.0, seed));
        assert_eq!(found.cycles(), 1);
    }
}

#[test]
fn a_hold_at_the_top_belongs_to_the_way_back_and_a_rest_below_to_neither() {
    let plain = two_thirds(100);
    let (up, down) = plain.split_at(101);
    let mut rows = Vec::new();
    for _ in 0..2 {
        rows.extend_from_slice(up);
        rows.extend([(10.0, 990.0); 30]);
        rows.extend_from_slice(down);
        rows.extend([(0.0, 0.0); 40]);
    }
    let found = read(&rows);
    assert_eq!(found.cycles(), 2);
    assert_eq!((found.loading().len(), found.unloading().len()), (101, 131));
}

/// From 100 N to 1100 N and 3 mm to 13 mm, and back to a tenth of that load or of the travel.
#[test]
fn a_cycle_is_whole_once_a_tenth_of_the_load_or_of_the_travel_is_left() {
    let back_to = |travel: f64, load: f64| {
        let up = (0..=100)
            .map(|step| 0.1 * f64::from(step))
            .map(|x| (3.0 + x, 100.0 + 100.0 * x));
        let down = (0..50).rev().map(|step| f64::from(step) / 50.0);
        let down = down.map(|left| {
            (
                3.0 + travel + left * (10.0 - travel),
                load + left * (1100.0 - load),
            )
        });
        let rows: Vec<_> = up.chain(down).collect();
        Loop::from_rows(&rows, Settings::new(Axes::LoadTravel)).map(|found| found.cycles())
    };
    assert_eq!(back_to(5.0, 190.0), Ok(1));
    assert_eq!(back_to(5.0, 205.0), Err(LoopError::NoUnloadingBranch));
    assert_eq!(back_to(0.9, 600.0), Ok(1));
    assert_eq!(back_to(1.05, 600.0), Err(LoopError::NoUnloadingBranch));
}

#[test]
fn a_stiffness_is_asked_for_between_two_travels_that_the_branch_passes() {
    let found = read(&two_thirds(100));
    near(
        found.secant_stiffness(100.0, 200.0).unwrap().value,
        100.0,
        1e-9,
    );
    assert_eq!(
        found.secant_stiffness(450.0, 450.0),
        Err(LoopError::LoadDoesNotRise)
    );
    assert!(matches!(
        found.tangent_stiffness(1200.0),
        Err(LoopError::NeverReached { .. })
    ));
}

/// A small loop of 5 mJ, and one of micrometres: no limit has a unit of its own.
#[test]
fn a_loop_however_small_is_read_like_a_large_one() {
    for (travel, load) in [(1.0, 1e-3), (1e-3, 1.0)] {
        let rows: Vec<_> = two_thirds(100)
            .iter()
            .map(|row| (travel * row.0, load * row.1))
            .collect();
        let energy = read(&rows).energy();
        near(energy.stored.value, 5e-3, 1e-12);
        let share = energy.energy_return.expect("something was stored");
        near(share.value, 200.0 / 3.0, 0.01);
    }
}

/// Held at 5 mm while the load rises from 500 to 600 N: those rows have no slope, and
/// it is that of the rising fit, 450 → 550 N below and 550 → 700 N above in half a
/// millimetre each.
#[test]
fn where_the_rows_stand_at_one_travel_the_slope_is_that_of_the_fit() {
    let below = (0..10).map(|step| (0.5 * f64::from(step), 50.0 * f64::from(step)));
    let held = (0..=20).map(|step| (5.0, 500.0 + 5.0 * f64::from(step)));
    let above = (0..10).map(|step| (5.5 + 0.5 * f64::from(step), 700.0 + 100.0 * f64::from(step)));
    let down = (0..20)
        .rev()
        .map(|step| (0.5 * f64::from(step), 40.0 * f64::from(step)));
    let rows: Vec<_> = below.chain(held).chain(above).chain(down).collect();
    let found = read(&rows);
    for (load, slope) in [(540.0, 200.0), (550.0, 200.0), (560.0, 300.0)] {
        let tangent = found.tangent_stiffness(load).unwrap();
        near(tangent.value, slope, 1e-9);
        near(tangent.u, 0.0, 0.0);
    }
}

/// Up by `load` in whole steps, and straight back to nothing.
fn up_by(load: impl Fn(f64) -> f64, steps: u32) -> Vec<(f64, f64)> {
    let end = f64::from(steps);
    let up = (0..=steps).map(|step| (f64::from(step), load(f64::from(step))));
    let back = 0.5 * load(end) / end;
    let down = (0..steps)
        .rev()
        .map(|step| (f64::from(step), back * f64::from(step)));
    up.chain(down).collect()
}

/// Of a parabola 10·x² in eleven rows the seven nearest to 490 are those from 3 to 9:
/// their line's slope is 20·6, and with what is left, 10·(d² − 4) for d from −3 to 3,
/// its u is √(8400/5/28). However stiff it is.
#[test]
fn a_slope_rests_on_seven_rows_at_least() {
    for scale in [1.0, 1e-4] {
        let found = read(&up_by(|x| scale * 10.0 * x * x, 10));
        let tangent = found.tangent_stiffness(scale * 490.0).unwrap();
        near(tangent.value, scale * 120.0, scale * 1e-9);
        near(tangent.u, scale * 60.0_f64.sqrt(), scale * 1e-9);
    }
}

/// 1000 + x² for x to 100: five per cent of the load are 500. About 3416 those are the
/// rows from 44 to 54, the last just so, and the slope of x² over whole steps from a
/// to b is a + b.
#[test]
fn a_slope_rests_on_the_rows_within_five_per_cent_and_those_just_so() {
    let found = read(&up_by(|x| 1000.0 + x * x, 100));
    near(found.tangent_stiffness(3416.0).unwrap().value, 98.0, 1e-9);
}

/// A plateau of 400 N from 4 to 6 mm stands as its centre, 5 mm, and has the slope of
/// the fit up to it: 50 N in 1.5 mm.
#[test]
fn a_plateau_is_passed_at_its_centre_with_the_slope_of_the_fit() {
    let below = (0..8).map(|step| (0.5 * f64::from(step), 50.0 * f64::from(step)));
    let level = (0..=8).map(|step| (4.0 + 0.25 * f64::from(step), 400.0));
    let above = (1..=8).map(|step| (6.0 + 0.5 * f64::from(step), 400.0 + 50.0 * f64::from(step)));
    let down = (0..20)
        .rev()
        .map(|step| (0.5 * f64::from(step), 20.0 * f64::from(step)));
    let rows: Vec<_> = below.chain(level).chain(above).chain(down).collect();
    let found = read(&rows);
    near(found.travel_at(400.0).unwrap().value, 5.0, 1e-12);
    near(
        found.tangent_stiffness(400.0).unwrap().value,
        100.0 / 3.0,
        1e-9,
    );
}

#[test]
fn a_branch_needs_two_corners_of_its_rising_fit_and_no_more() {
    let rows = |load: fn(f64) -> f64| -> Vec<(f64, f64)> {
        (0..10)
            .map(|step| (f64::from(step), load(f64::from(step))))
            .collect()
    };
    assert!(Branch::new(&rows(|x| if x < 5.0 { 0.0 } else { 100.0 })).is_ok());
    let falling: [fn(f64) -> f64; 2] = [|_| 100.0, |x| 100.0 - x];
    for level in falling {
        let refused = Branch::new(&rows(level)).unwrap_err();
        assert_eq!(refused, LoopError::LoadDoesNotRise);
    }
}

/// One row between two: off the line by 2.5 at a quarter of the way, whose scatter is
/// √(1 + 1/16 + 9/16) of a row's; off by 5 where the travel went astray, which counts
/// as halfway, √1.5. The median of one is itself, times 1.4826.
#[test]
fn the_noise_of_a_row_is_that_about_the_line_through_its_neighbours() {
    let noise = |rows: &[(f64, f64)]| Branch::new(rows).unwrap().noise();
    let straight = noise(&[(0.0, 0.0), (1.0, 10.0), (4.0, 30.0)]);
    near(straight, 2.907_622, 1e-6);
    let astray = noise(&[(0.0, 0.0), (3.0, 10.0), (2.0, 30.0)]);
    near(astray, 6.052_698, 1e-6);
}

/// x² over four rows: 9.5 by trapezoids, 10.5 from the first, the third and the last.
#[test]
fn the_rule_s_error_is_a_third_of_the_step_from_every_second_row_and_the_last() {
    let found = path_integral(&[(0.0, 0.0), (1.0, 1.0), (2.0, 4.0), (3.0, 9.0)], 0.0);
    near(found.value, 9.5, 1e-12);
    near(found.u, 1.0 / 3.0, 1e-12);
}

#[test]
fn missing_rows_are_a_gap_and_rows_out_of_order_are_named() {
    let mut gap = two_thirds(100);
    gap.drain(40..60);
    assert_eq!(refused(&gap), LoopError::Gap { row: 40 });
    assert!(refused(&gap).to_string().contains("before row 41"));
    let mut slipped = two_thirds(100);
    slipped.swap(50, 58);
    assert_eq!(refused(&slipped), LoopError::Unsorted { row: 51 });
    // Rows in no order at all.
    let mut shuffled = two_thirds(100);
    let mut generator = Pcg64::seed_from_u64(1);
    for at in (1..shuffled.len()).rev() {
        shuffled.swap(at, (generator.next_u64() % (at as u64 + 1)) as usize);
    }
    assert!(matches!(refused(&shuffled), LoopError::Unsorted { .. }));
}

/// Three times the noise beyond an end of the fit is reached, more is not; at the ends
/// travel and load still undo each other.
#[test]
fn three_times_the_noise_is_how_far_a_branch_reaches_past_its_fit() {
    let found = read(&noisy(&two_thirds(150), 0.0, 2.0, 3));
    let noise = found.load_at(5.0).unwrap().u;
    assert!(noise > 1.0 && noise < 4.0, "{noise}");
    let ends = [-1e6, 1e6].map(|load| match found.travel_at(load).unwrap_err() {
        LoopError::StartsAbove { lowest, .. } => (lowest, -1.0),
        LoopError::NeverReached { highest, .. } => (highest, 1.0),
        other => panic!("{other:?}"),
    });
    for (end, out) in ends {
        assert!(found.travel_at(end + out * 2.95 * noise).is_ok());
        assert!(found.travel_at(end + out * 3.05 * noise).is_err());
        let travel = found.travel_at(end).unwrap().value;
        let just_inside = travel - out * 1e-9;
        near(found.load_at(just_inside).unwrap().value, end, 1e-5);
    }
}

#[test]
fn a_load_outside_the_branch_says_how_far_it_goes() {
    let found = read(&two_thirds(100));
    assert_eq!(
        found.travel_at(1200.0).unwrap_err(),
        LoopError::NeverReached {
            wanted: 1200.0,
            highest: 1000.0
        }
    );
    let started: Vec<_> = two_thirds(100)
        .iter()
        .map(|row| (row.0, row.1 + 12.0))
        .collect();
    assert_eq!(
        read(&started).travel_at(10.0).unwrap_err().to_string(),
        "the loading branch starts at 12.00, above 10.00"
    );
}

proptest! {
    #[test]
    fn prop_energy_is_lost_and_never_won_however_the_loop_is_scaled(
        stiff in 1.0..500.0_f64, reach in 1.0..30.0_f64, n in 20..300_usize,
    ) {
        let rows: Vec<_> = two_thirds(n)
            .iter()
            .map(|row| (reach / 10.0 * row.0, stiff / 100.0 * row.1))
            .collect();
        let energy = read(&rows).energy();
        prop_assert!(energy.lost.value > 0.0 && energy.returned.value > 0.0);
        let share = energy.energy_return.unwrap();
        prop_assert!((share.value - 200.0 / 3.0).abs() <= 3.0 * share.u + 1e-9);
    }

    #[test]
    fn prop_looking_up_travel_and_load_undo_each_other(load in 1.0..999.0_f64, seed: u64) {
        let found = read(&noisy(&two_thirds(150), 0.0, 2.0, seed));
        if let Ok(travel) = found.travel_at(load)
            && let Ok(back) = found.load_at(travel.value)
        {
            prop_assert!((back.value - load).abs() < 1e-6);
        }
    }

    #[test]
    fn prop_no_rows_make_it_panic(
        rows in prop::collection::vec((-10.0..10.0_f64, -10.0..10.0_f64), 0..80), load in -12.0..12.0_f64,
    ) {
        if let Ok(found) = Loop::from_rows(&rows, Settings::new(Axes::LoadTravel)) {
            let _ = (found.travel_at(load), found.load_at(load), found.tangent_stiffness(load));
            prop_assert!(found.energy().stored.value.is_finite());
        }
    }
}
