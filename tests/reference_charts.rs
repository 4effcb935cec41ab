//! Outliers, analysis of variance and control charts against NIST.

mod common;

use common::{near, records};
use solefolio::measure::anova::one_way;
use solefolio::measure::control::{
    RunRule, cumulative_sums, individuals, moving_average_limit, moving_averages, signals,
};
use solefolio::measure::{Pooled, grubbs, grubbs_critical, grubbs_statistic, pool};

fn values(name: &str, column: usize) -> Vec<f64> {
    records(name)
        .iter()
        .map(|record| record[column].parse().unwrap())
        .collect()
}

/// NIST/SEMATECH e-Handbook 1.3.5.17.1: G 2.4687, one-sided 5 % critical value
/// 2.032, two-sided 2.1266 (seen second-hand in MathPHP and @stdlib; exact
/// figures computed).
#[test]
fn the_handbook_s_outlier_is_found() {
    let readings = values("spc/nist_1_3_5_17_1_grubbs.csv", 0);
    let outlier = grubbs(&readings, 0.05).unwrap();
    assert_eq!(readings[outlier.index], 245.57);
    near(outlier.G, 2.468_765, 5e-7, "G");
    near(outlier.critical, 2.126_645, 5e-7, "two-sided");
    // The one-sided value at 5 % is the two-sided at 10 %.
    near(
        grubbs_critical(8, 0.10).unwrap(),
        2.031_652,
        5e-7,
        "one-sided",
    );
    let rest = &readings[..7];
    assert!(grubbs_statistic(rest).unwrap().1 < grubbs_critical(7, 0.05).unwrap());
}

/// Computed with scipy for n = 3 to 100, six places.
#[test]
fn critical_values_agree_from_three_to_a_hundred_readings() {
    for record in records("spc/grubbs_critical_values.csv") {
        let number = |at: usize| -> f64 { record[at].parse().unwrap() };
        let n = number(0) as usize;
        for (at, two_sided) in [(1, 0.10), (2, 0.05), (3, 0.02), (4, 0.01)] {
            near(
                grubbs_critical(n, two_sided).unwrap(),
                number(at),
                6e-7,
                &record[0],
            );
        }
    }
}

/// e-Handbook 6.3.2.2: mean 50.81, mean moving range 1.8778, limits 55.8041 and
/// 45.8159 with the book's d₂ = 1.128 (seen in mfgQC's tests); with the exact d₂
/// 55.8024 and 45.8176 (computed).
#[test]
fn the_handbook_s_chart_of_individuals_comes_out_but_for_its_rounded_factor() {
    let flow = values("spc/nist_6_3_2_2_individuals.csv", 1);
    let chart = individuals(&flow).unwrap();
    near(chart.centre, 50.81, 1e-12, "centre");
    near(chart.mean_range, 1.8778, 5e-5, "mean range");
    near(chart.upper(), 55.8024, 5e-5, "upper");
    near(chart.lower(), 45.8176, 5e-5, "lower");
    near(chart.upper(), 55.8041, 0.002, "published upper");
    near(chart.lower(), 45.8159, 0.002, "published lower");
    near(
        chart.centre + 3.0 * chart.mean_range / 1.128,
        55.8041,
        5e-5,
        "with d₂ = 1.128",
    );
    near(
        chart.range_upper(),
        6.1347,
        0.001,
        "published range limit, D₄ = 3.267",
    );
    assert_eq!(signals(&flow, &chart, &[RunRule::BeyondLimits]), []);
}

/// Factors for ranges of two by numerical integration (computed, nine places).
#[test]
fn the_factors_for_ranges_of_two_are_exact() {
    let record = &records("spc/control_constants_computed.csv")[0];
    let number = |at: usize| -> f64 { record[at].parse().unwrap() };
    let chart = individuals(&[0.0, 1.0]).unwrap();
    near(1.0 / chart.sigma, number(1), 1e-9, "d₂");
    near(chart.range_upper(), number(7), 1e-9, "D₄");
}

/// e-Handbook 6.3.2.4: λ 0.3, start 50, s 2.0539, upper limit 52.5884, lower
/// 47.4115, in control (seen in mfgQC and shewhart); the printed series is
/// rounded at each step, the other computed.
#[test]
fn the_handbook_s_moving_average_stays_in_control() {
    let name = "spc/nist_6_3_2_4_ewma.csv";
    let averages = moving_averages(&values(name, 1), 50.0, 0.3);
    assert_eq!(averages.len(), 20);
    let limit = moving_average_limit(2.0539, 0.3);
    near(50.0 + limit, 52.5884, 1e-4, "upper");
    near(50.0 - limit, 47.4115, 1e-4, "lower");
    let series = values(name, 2).into_iter().zip(values(name, 3));
    for (average, (published, computed)) in averages.iter().zip(series) {
        near(*average, computed, 5e-7, "computed");
        near(*average, published, 0.0101, "published");
        assert!((average - 50.0).abs() < limit);
    }
}

/// e-Handbook 6.3.2.3: target 325, allowance 0.3175, decision interval 4.1959,
/// first signal at the fourteenth mean (seen in mfgQC; recomputed).
#[test]
fn the_handbook_s_cumulative_sum_signals_at_the_fourteenth_mean() {
    let name = "spc/nist_6_3_2_3_cusum.csv";
    let sums = cumulative_sums(&values(name, 1), 325.0, 0.3175);
    for ((sum, high), low) in sums.iter().zip(values(name, 2)).zip(values(name, 3)) {
        near(sum.high, high, 1e-9, "high");
        near(sum.low, low, 1e-9, "low");
    }
    let out: Vec<usize> = (1..=20).filter(|at| sums[at - 1].high > 4.1959).collect();
    assert_eq!(out, (14..=20).collect::<Vec<_>>());
}

/// e-Handbook 7.4.3: treatments 27.897, error 17.452, F 9.59, p 0.003248 (seen
/// in mfgQC; recomputed).
#[test]
fn the_handbook_s_analysis_of_variance_comes_out() {
    let name = "spc/nist_7_4_3_anova.csv";
    let (group, y) = (values(name, 0), values(name, 1));
    let groups: Vec<Vec<f64>> = [1.0, 2.0, 3.0]
        .iter()
        .map(|wanted| {
            let of_group = group.iter().zip(&y).filter(|(group, _)| *group == wanted);
            of_group.map(|(_, y)| *y).collect()
        })
        .collect();
    let table = one_way(&groups.iter().map(Vec::as_slice).collect::<Vec<_>>()).unwrap();
    near(table.between.squares, 27.897, 5e-4, "between");
    near(table.within.squares, 17.452, 5e-4, "within");
    near(table.ratio().unwrap(), 9.5911, 5e-5, "F");
    near(table.chance().unwrap(), 0.003_248, 5e-7, "p");
    assert_eq!((table.between.dof, table.within.dof), (2.0, 12.0));
}

/// NIST StRD, analysis of variance: certified values read from NIST's own files
/// (as scipy 1.17.1 carries them). The relative tolerances are what binary
/// arithmetic on decimal data allows: the data of AtmWtAg agree in seven leading
/// digits.
#[test]
fn certified_analyses_of_variance_are_met() {
    for (name, tolerance) in [("SiRstv", 1e-12), ("SmLs01", 1e-13), ("AtmWtAg", 1e-8)] {
        let path = format!(
            "{}/tests/data/nist_strd_other/{name}.dat",
            env!("CARGO_MANIFEST_DIR")
        );
        let text = std::fs::read_to_string(path).unwrap();
        let numbers = |start: &str| -> Vec<f64> {
            let line = text
                .lines()
                .find(|line| line.trim().starts_with(start))
                .unwrap();
            line.split_whitespace()
                .filter_map(|word| word.parse().ok())
                .collect()
        };
        let (between, within) = (numbers("Between "), numbers("Within "));
        let r_squared = numbers("Certified R-Squared")[0];
        let residual = numbers("Standard Deviation")[0];
        let mut groups = std::collections::BTreeMap::<u32, Vec<f64>>::new();
        for line in text.lines().skip(60) {
            let (group, y) = line.trim().split_once(char::is_whitespace).unwrap();
            let group = groups.entry(group.parse().unwrap()).or_default();
            group.push(y.trim().parse().unwrap());
        }
        let table = one_way(&groups.values().map(Vec::as_slice).collect::<Vec<_>>()).unwrap();
        assert_eq!(
            (table.between.dof, table.within.dof),
            (between[0], within[0])
        );
        for (found, certified) in [
            (table.between.squares, between[1]),
            (table.within.squares, within[1]),
            (table.ratio().unwrap(), between[3]),
            (table.share_between().unwrap(), r_squared),
            (table.residual_deviation(), residual),
        ] {
            near(found, certified, tolerance * certified, name);
        }
    }
}

/// e-Handbook 1.3.5.3, two samples of 249 and 79 (the summary seen in mfgQC):
/// pooled t −12.62059 with 326 degrees of freedom.
#[test]
fn two_deviations_pool_as_in_the_handbook() {
    let pooled = pool([
        Pooled {
            s: 6.41470,
            dof: 248.0,
        },
        Pooled {
            s: 6.10771,
            dof: 78.0,
        },
    ])
    .unwrap();
    assert_eq!(pooled.dof, 326.0);
    let t = (20.14458 - 30.48101) / (pooled.s * (1.0_f64 / 249.0 + 1.0 / 79.0).sqrt());
    near(t, -12.620_59, 1e-4, "t");
}
