//! Means and deviations against NIST's Statistical Reference Datasets
//! (univariate) and Student's paired data.

mod common;

use common::{near, records};
use solefolio::measure::{mean_and_deviation, student_upper_tail};

fn values(name: &str, column: usize) -> Vec<f64> {
    records(name)
        .iter()
        .map(|record| record[column].parse().unwrap())
        .collect()
}

/// NIST StRD certified means and deviations, fifteen digits. The data are read
/// as binary numbers: on those exact arithmetic gives 0.1000000000349246 for
/// NumAcc3 and 0.10000000055879354 for NumAcc4 (computed with fractions), so the
/// certified 0.1 is out of any binary program's reach and these are held to.
#[test]
fn certified_means_and_deviations_are_met_to_their_last_digits() {
    for record in records("nist_strd/certified.csv") {
        let number = |text: &str| -> f64 { text.split(' ').next().unwrap().parse().unwrap() };
        let name = record[0].as_str();
        let data = values(&format!("nist_strd/{name}.csv"), 0);
        let moments = mean_and_deviation(&data).unwrap();
        assert_eq!(moments.n, number(&record[1]) as usize, "{name}");
        let mean = number(&record[2]);
        near(moments.mean, mean, 1e-15 * mean.abs(), name);
        let deviation = match name {
            "NumAcc3" => 0.100_000_000_034_924_6,
            "NumAcc4" => 0.100_000_000_558_793_54,
            _ => number(&record[3]),
        };
        // What is left: each datum was rounded to half a unit of its last bit.
        let reachable = 4e-15 * deviation + 0.5 * f64::EPSILON * mean.abs();
        near(moments.deviation.unwrap(), deviation, reachable, name);
    }
}

/// JCGM 100:2008, 4.4.3: mean 100.145 °C, s 1.489, s/√20 0.333 (results seen
/// second-hand; the twenty values from memory, and they give these results).
#[test]
fn twenty_temperatures_have_the_guide_s_mean_and_deviation() {
    let moments = mean_and_deviation(&values("uncertainty/gum_4_4_3_temperatures.csv", 0)).unwrap();
    near(moments.mean, 100.145, 1e-12, "mean");
    near(moments.deviation.unwrap(), 1.488_844_48, 5e-9, "s");
    near(
        moments.standard_error().unwrap(),
        0.332_915_75,
        5e-9,
        "s of the mean",
    );
}

/// Student 1908, the sleep data, paired: t −4.0621, 9 degrees of freedom,
/// p 0.0028329 (R's `sleep`; recomputed with scipy).
#[test]
fn student_s_own_paired_test_comes_out() {
    let (one, two) = (
        values("spc/student1908_sleep_paired.csv", 1),
        values("spc/student1908_sleep_paired.csv", 2),
    );
    let differences: Vec<f64> = one.iter().zip(&two).map(|(a, b)| a - b).collect();
    let moments = mean_and_deviation(&differences).unwrap();
    let t = moments.mean / moments.standard_error().unwrap();
    near(t, -4.062_127_683_382_037, 1e-14, "t");
    near(
        2.0 * student_upper_tail(-t, 9.0),
        0.002_832_890_197_384,
        5e-15,
        "p",
    );
}
