//! Conformity examples of JCGM 106:2012.
//!
//! The document was not open; how each figure is known is said at each.

mod common;

use common::near;
use solefolio::measure::conformity::guard_band;
use solefolio::measure::conformity::{Limits, global_risks};
use solefolio::measure::{band_chances, chance_between, coverage_factor, normal_cdf};

const NORMAL: f64 = f64::INFINITY;

/// JCGM 106:2012, 9.5.4, ball bearings: process gamma (shape 4, scale ¼ µm),
/// limit 2 µm, u 0.25 µm: 4.24 % nonconforming, consumer's risk 0.80 %; 0.1 % at
/// an acceptance limit of 1.67 µm (seen in a notebook of suncal with the digits
/// below). Producer's risks computed with scipy.
#[test]
fn the_risks_of_the_ball_bearings_come_out() {
    // x³·e^(−4x)·4⁴/3!
    let process = |x: f64| x.powi(3) * (-4.0 * x).exp() * 256.0 / 6.0;
    let upper = |high: f64| Limits {
        low: None,
        high: Some(high),
    };
    let risks =
        |acceptance: f64| global_risks(process, (0.0, 15.0), upper(2.0), upper(acceptance), 0.25);
    let plain = risks(2.0);
    near(
        plain.nonconforming,
        0.042_380_111_991_684_01,
        1e-13,
        "nonconforming",
    );
    near(plain.consumer, 0.008_019_111_884_303_471, 1e-13, "consumer");
    near(plain.producer, 0.017_44, 5e-6, "producer");
    let guarded = risks(1.671_828_771_54);
    near(guarded.consumer, 0.001, 1e-12, "consumer, guarded");
    near(guarded.producer, 0.075_49, 5e-6, "producer, guarded");
}

/// Resistors 1500 ± 0.2 Ω, process deviation 0.12, u 0.04, accepted within the
/// tolerance: nonconforming 0.0956, risks 0.0189 and 0.0372 (the inputs from
/// memory, unverified; the risks computed).
#[test]
fn two_sided_risks_come_out() {
    let process = |x: f64| {
        let z = (x - 1500.0) / 0.12;
        (-0.5 * z * z).exp() / (0.12 * (2.0 * std::f64::consts::PI).sqrt())
    };
    let tolerance = Limits {
        low: Some(1499.8),
        high: Some(1500.2),
    };
    let risks = global_risks(process, (1498.5, 1501.5), tolerance, tolerance, 0.04);
    near(risks.nonconforming, 0.0956, 5e-5, "nonconforming");
    near(risks.consumer, 0.0189, 5e-5, "consumer");
    near(risks.producer, 0.0372, 5e-5, "producer");
}

/// One-sided conformance p_c = Φ(z), z = (T_U − y)/u (seen in the opening of
/// CRAN propagate's JCGM106 demo); quantiles by R.
#[test]
fn one_sided_conformance_follows_the_normal_distribution() {
    for (chance, z) in [
        (0.80, 0.841_621_233_572_91),
        (0.90, 1.281_551_565_544_60),
        (0.95, 1.644_853_626_951_47),
        (0.99, 2.326_347_874_040_84),
        (0.999, 3.090_232_306_167_81),
    ] {
        let found = chance_between(10.0 - 0.5 * z, 0.5, NORMAL, None, Some(10.0));
        near(found, chance, 1e-14, "p_c");
        near(
            guard_band(0.5, NORMAL, 1.0 - chance),
            0.5 * z,
            1e-14,
            "guard band",
        );
    }
    // A guard band of U = 2u leaves 2.275 % (computed; "about 2.3 %" of ISO
    // 14253-1 seen second-hand); one of 5 % is 0.8224 U wide.
    near(
        chance_between(8.0, 1.0, NORMAL, Some(10.0), None),
        1.0 - 0.977_25,
        5e-6,
        "risk",
    );
    near(
        guard_band(1.0, NORMAL, 0.05) / 2.0,
        0.8224,
        5e-5,
        "share of U",
    );
}

/// JCGM 106:2012, clause 7: a Zener diode −5.47 V (u 0.05) against at most
/// −5.40 V, a burst pressure 507 (8.6) against at least 490 kPa, an oil 13.6 (1.8)
/// between 12.5 and 16.3 mm²/s: 0.919, 0.976, 0.66 (inputs from memory,
/// unverified; more digits computed).
#[test]
fn conformance_of_single_items_comes_out() {
    let chance = |value, u, low, high| chance_between(value, u, NORMAL, low, high);
    near(
        chance(-5.47, 0.05, None, Some(-5.40)),
        0.919_24,
        5e-6,
        "diode",
    );
    near(
        chance(507.0, 8.6, Some(490.0), None),
        0.975_96,
        5e-6,
        "container",
    );
    near(
        chance(13.6, 1.8, Some(12.5), Some(16.3)),
        0.662_63,
        5e-6,
        "oil",
    );
}

/// The best case of a two-sided tolerance T with C_m = T/(4u): 0.954 50 at 1,
/// 0.999 94 at 2 (computed).
#[test]
fn a_tolerance_of_twice_the_expanded_uncertainty_is_nearly_sure_at_best() {
    for (capability, best) in [(1.0, 0.954_50), (2.0, 0.999_94)] {
        let half = 2.0 * capability;
        let found = chance_between(0.0, 1.0, NORMAL, Some(-half), Some(half));
        near(found, best, 5e-6, "p_c");
    }
}

/// With few degrees of freedom the chances follow Student's t (JCGM 101:2008,
/// 6.4.9): a band of ± t·u about the value holds its coverage.
#[test]
fn with_few_degrees_of_freedom_the_chances_follow_student() {
    for dof in [2.0, 5.5, 30.0] {
        let k = coverage_factor(0.90, dof);
        let chances = band_chances(50.0, 2.0, dof, &[50.0 - 2.0 * k, 50.0 + 2.0 * k]);
        near(chances[1], 0.90, 1e-13, "the band");
        near(chances[0], 0.05, 1e-13, "below");
        assert!(chances[1] < normal_cdf(k) - normal_cdf(-k));
    }
}
