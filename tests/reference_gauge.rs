//! Gauge studies against worked ones.

mod common;

use common::near;
use solefolio::measure::anova::Row;
use solefolio::measure::gauge::{Study, Table};

/// Worked by hand: cells (10, 12) (14, 16) / (20, 22) (24, 26), two parts, two
/// operators, twice each.
#[test]
fn the_two_by_two_by_two_study_comes_out_as_by_hand() {
    let cells = [
        ("A", "x", 10.0),
        ("A", "y", 14.0),
        ("B", "x", 20.0),
        ("B", "y", 24.0),
    ];
    let readings = cells
        .into_iter()
        .flat_map(|(part, by, low)| [(part, by, low), (part, by, low + 2.0)]);
    let table = Study::from_readings(readings).unwrap().table();
    for (row, squares, dof) in [
        (table.part, 200.0, 1.0),
        (table.operator, 32.0, 1.0),
        (table.interaction, 0.0, 1.0),
        (table.scatter, 8.0, 4.0),
    ] {
        near(row.squares, squares, 1e-12, "study");
        assert_eq!(row.dof, dof);
    }
    let found = table.findings(0.05, 0.9);
    assert!(found.pooled && found.repeatability_dof == 5.0);
    near(
        found.repeatability.deviation,
        1.6_f64.sqrt(),
        1e-12,
        "study",
    );
    near(
        found.reproducibility.deviation,
        7.6_f64.sqrt(),
        1e-12,
        "study",
    );
    near(found.gauge.deviation, 9.2_f64.sqrt(), 1e-12, "study");
    near(found.part.deviation, 49.6_f64.sqrt(), 1e-12, "study");
    near(found.total, 58.8_f64.sqrt(), 1e-12, "study");
    near(
        100.0 * found.share(&found.gauge).unwrap(),
        39.5554,
        5e-5,
        "study",
    );
    assert_eq!(found.distinct_categories(), Some(3));
    assert!(!found.reproducibility.set_to_zero);
}

fn table(squares: [f64; 4], dof: [f64; 4], replicates: f64) -> Table {
    let row = |at: usize| Row {
        squares: squares[at],
        dof: dof[at],
    };
    Table {
        part: row(0),
        operator: row(1),
        interaction: row(2),
        scatter: row(3),
        replicates,
    }
}

/// PyPI GageRnR 0.8.0 (MIT), its own tests: 5 parts, 3 operators, 3 readings.
/// Only the sums of squares are taken over, to the three digits printed there.
/// The pooled figures were computed apart from both programs.
#[test]
fn a_published_five_by_three_by_three_study_agrees_pooled_and_not() {
    let table = table([28.909, 1.630, 0.065, 1.712], [4.0, 2.0, 8.0, 30.0], 3.0);
    let whole = table.findings(1.0, 0.9);
    assert!(!whole.pooled);
    near(whole.repeatability.deviation.powi(2), 0.0571, 5e-5, "study");
    // Operators 0.0538; the interaction is negative and counts as zero.
    near(
        whole.reproducibility.deviation.powi(2),
        0.0538,
        5e-5,
        "study",
    );
    assert!(whole.reproducibility.set_to_zero);
    near(whole.part.deviation.powi(2), 0.8021, 5e-5, "study");
    near(whole.total.powi(2), 0.9130, 1e-4, "study");
    let pooled = table.findings(0.25, 0.9);
    assert!(pooled.pooled);
    near(
        pooled.repeatability.deviation.powi(2),
        0.046_766_8,
        3e-5,
        "study",
    );
    near(
        pooled.reproducibility.deviation.powi(2),
        0.051_227_3,
        4e-5,
        "study",
    );
    near(pooled.part.deviation.powi(2), 0.797_841_7, 4e-5, "study");
}

/// The ten-part study of a measurement-systems manual (4th edition), by its
/// sums of squares alone; figures and limits seen second-hand in the tests of
/// PyPI mfgqc. The lower limits of that source for reproducibility and for the
/// gauge, and its upper one for reproducibility, are by an unstated method and
/// lie within 2 % of these.
#[test]
fn a_published_ten_by_three_by_three_study_agrees() {
    let table = table(
        [88.3619, 3.1673, 0.3590, 2.7589],
        [9.0, 2.0, 18.0, 60.0],
        3.0,
    );
    let found = table.findings(0.05, 0.90);
    near(found.interaction_chance.unwrap(), 0.974, 5e-4, "study");
    assert!(found.pooled);
    near(found.repeatability.deviation, 0.199_933, 2e-6, "study");
    near(found.reproducibility.deviation, 0.226_838, 2e-6, "study");
    near(found.gauge.deviation, 0.302_372, 2e-6, "study");
    near(found.part.deviation, 1.042_327, 2e-6, "study");
    near(found.total, 1.085_300, 2e-6, "study");
    near(
        100.0 * found.share(&found.gauge).unwrap(),
        27.86,
        5e-3,
        "study",
    );
    assert_eq!(found.distinct_categories(), Some(4));
    let (low, high) = found.repeatability.limits;
    near(low, 0.177, 5e-4, "study");
    near(high, 0.231, 5e-4, "study");
    let (low, high) = found.gauge.limits;
    near(low, 0.237, 0.02 * 0.237, "study");
    near(high, 1.033, 1e-3, "study");
    let (low, high) = found.reproducibility.limits;
    near(low, 0.129, 0.02 * 0.129, "study");
    near(high, 1.001, 0.02 * 1.001, "study");
}
