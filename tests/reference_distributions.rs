//! Normal and Student quantiles and tails, and sample quantiles, against R.

mod common;

use common::{near, records};
use solefolio::measure::{
    Type, coverage_factor, f_upper_quantile, f_upper_tail, normal_cdf, normal_quantile,
    normal_upper_tail, quantile, student_cdf, student_quantile, student_upper_tail,
};

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

/// R 4.2.2 qnorm.
#[test]
fn normal_quantiles_agree_with_r() {
    for record in records("distributions/normal_quantiles_R4.2.2.csv") {
        let (p, z) = (number(&record[0]), number(&record[1]));
        near(normal_quantile(p), z, 1e-14 * z.abs() + 5e-15, &record[0]);
    }
}

/// R 4.2.2 pnorm, both tails, out to six sigma.
#[test]
fn normal_tails_agree_with_r() {
    for record in records("distributions/normal_cdf_R4.2.2.csv") {
        let (z, below, above) = (number(&record[0]), number(&record[1]), number(&record[2]));
        near(normal_cdf(z), below, 1e-14 * below, &record[0]);
        near(normal_upper_tail(z), above, 1e-14 * above, &record[0]);
    }
}

/// R 4.2.2 qt, 1 to 1000 degrees of freedom, printed to nine places; the last
/// three columns are two-sided coverages of 68.27, 95.45 and 99.73 %.
#[test]
fn student_quantiles_agree_with_r() {
    for record in records("distributions/student_t_quantiles_R4.2.2.csv") {
        let dof = number(&record[0]);
        for (p, t) in [0.90, 0.95, 0.975, 0.99, 0.995, 0.9995]
            .iter()
            .zip(&record[1..7])
        {
            let t = number(t);
            near(student_quantile(*p, dof), t, 6e-10 + 1e-12 * t, &record[0]);
            near(student_cdf(t, dof), *p, 1e-9, &record[0]);
            near(student_upper_tail(t, dof), 1.0 - p, 1e-9, &record[0]);
        }
        for (coverage, k) in [0.6827, 0.9545, 0.9973].iter().zip(&record[7..10]) {
            near(
                coverage_factor(*coverage, dof),
                number(k),
                6e-10,
                &record[0],
            );
        }
    }
}

/// mpmath 1.3 at 40 digits (computed for this test): tails at many, few and
/// broken degrees of freedom, on both sides of where the method changes.
#[test]
fn student_tails_agree_with_forty_digit_arithmetic() {
    for (t, dof, tail) in [
        (1.0, 2000.0, 0.158_715_739_050_371_65),
        (4.0, 2000.0, 3.282_338_247_154_619e-5),
        (6.0, 2000.0, 1.168_121_137_148_002_8e-9),
        (2.0, 1e4, 0.022_763_630_330_717_72),
        (6.0, 1e4, 1.020_809_236_461_307_7e-9),
        (4.0, 40.0, 1.329_561_978_333_485e-4),
        (1.0, 39.9, 0.161_668_390_948_089_19),
        (6.0, 39.9, 2.384_599_208_445_086e-7),
    ] {
        let found = student_upper_tail(t, dof);
        near(found, tail, 5e-13 * tail, &format!("t {t}, dof {dof}"));
    }
}

/// NIST/SEMATECH e-Handbook 7.4.3: F.05(2, 12) = 3.8853 (seen second-hand); all
/// digits from scipy 1.17.1.
#[test]
fn f_tail_and_quantile_agree() {
    near(
        f_upper_quantile(0.05, 2.0, 12.0),
        3.885_293_834_652_392_4,
        1e-12,
        "quantile",
    );
    near(
        f_upper_tail(9.5911, 2.0, 12.0),
        0.003_248_231_396_630_616,
        1e-15,
        "tail",
    );
}

/// mpmath 1.4 at 40 digits (computed for this test): F tails on both sides of where
/// the fraction is turned round, at few, many and broken degrees of freedom.
#[test]
fn f_tails_agree_with_forty_digit_arithmetic() {
    for (ratio, between, within, tail) in [
        (0.2, 2.0, 12.0, 0.821_405_043_840_037_9),
        (0.43, 18.0, 60.0, 0.975_229_805_914_066_9),
        (0.9, 18.0, 60.0, 0.580_821_044_320_140_8),
        (1.5, 18.0, 60.0, 0.122_151_409_381_927_77),
        (4.0, 1.0, 30.0, 0.054_625_044_962_983_1),
        (0.05, 1.0, 1.0, 0.859_951_303_906_898),
        (161.4476, 1.0, 1.0, 0.050_000_005_983_092_066),
        (3.2, 5.0, 2.5, 0.214_157_029_133_539_37),
    ] {
        let what = format!("{ratio} with {between} and {within}");
        let found = f_upper_tail(ratio, between, within);
        near(found, tail, 1e-13 * tail, &what);
        let back = f_upper_quantile(tail, between, within);
        near(back, ratio, 1e-9 * ratio, &what);
    }
    assert_eq!(f_upper_tail(0.0, 2.0, 12.0), 1.0);
    assert_eq!(f_upper_tail(-1.0, 2.0, 12.0), 1.0);
}

/// The same for Student's: broken and very few degrees of freedom, and where the
/// height of the density comes from Stirling's series.
#[test]
fn student_tails_agree_with_forty_digit_arithmetic_at_few_and_at_many() {
    for (t, dof, tail) in [
        (0.05, 0.4, 0.487_406_861_635_205_9),
        (2.5, 0.4, 0.228_475_757_776_293_17),
        (0.7, 3.3, 0.265_044_039_661_629_04),
        (12.0, 3.3, 0.000_389_296_060_846_694_5),
        (0.2, 250.0, 0.420_821_585_389_804_63),
        (3.5, 250.0, 0.000_275_366_847_848_692),
        (1.5, 1999.5, 0.066_886_137_932_578_5),
        (2.5, 5000.0, 0.006_225_558_099_860_571),
    ] {
        let found = student_upper_tail(t, dof);
        near(found, tail, 1e-12 * tail, &format!("t {t}, dof {dof}"));
    }
}

/// Hyndman–Fan types 1 to 9 by R 4.2.2 `quantile`; the ten-value set agrees with
/// numpy 2.4.6. The set `nistgauge` is e-Handbook 7.2.6.2's: its 90th percentile
/// there is 95.1981, which is type 6.
#[test]
fn sample_quantiles_of_all_nine_types_agree_with_r() {
    const TYPES: [Type; 9] = [
        Type::Inverse,
        Type::AveragedInverse,
        Type::NearestEven,
        Type::Interpolated,
        Type::Midway,
        Type::Handbook,
        Type::Spreadsheet,
        Type::MedianUnbiased,
        Type::NormalUnbiased,
    ];
    let mut inputs: Vec<(String, Vec<f64>)> = records("distributions/hyndman_fan_inputs.csv")
        .into_iter()
        .map(|record| {
            (
                record[0].clone(),
                record[1].split(' ').map(number).collect(),
            )
        })
        .collect();
    let mavro = records("nist_strd/Mavro.csv");
    inputs.push((
        "mavro".into(),
        mavro.iter().map(|record| number(&record[0])).collect(),
    ));
    for (_, values) in &mut inputs {
        values.sort_by(f64::total_cmp);
    }
    let mut checked = 0;
    for record in records("distributions/hyndman_fan_R4.2.2.csv") {
        let values = &inputs
            .iter()
            .find(|(name, _)| *name == record[0])
            .unwrap()
            .1;
        let p = number(&record[1]);
        for (kind, expected) in TYPES.into_iter().zip(&record[2..11]) {
            let expected = number(expected);
            let found = quantile(values, p, kind).unwrap();
            near(
                found,
                expected,
                1e-11 * expected,
                &format!("{} {p} {kind:?}", record[0]),
            );
            checked += 1;
        }
    }
    assert_eq!(checked, 55 * 9);
}
