//! The normal, Student's t and F distribution: tails and quantiles.
//!
//! Elementary and error functions are `libm`'s, so the results are the same on
//! every machine. Student's and F's tails are regularised incomplete beta
//! functions by their continued fraction (modified Lentz; DLMF 8.17.22); for
//! Student's above [`MANY`] degrees of freedom, where the fraction converges
//! slowly, Hill's expansion (G. W. Hill, Algorithm 395, Communications of the
//! ACM 13:617–619, 1970). The quantiles solve the tail by Newton's and Halley's
//! steps. `statrs` was left for these three: its error function is good to ten
//! digits, its Student quantile is off in the second digit at places in the
//! centre (two degrees of freedom, p = 0.8), and its beta function runs out of
//! terms at many degrees of freedom.
//!
//! Degrees of freedom need not be whole: those of Welch–Satterthwaite are kept
//! as they come. Infinite ones are the normal distribution. They must be
//! positive; anything else is a mistake of the caller and panics.

use libm::{erfc, exp, lgamma, log, log1p};
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// From here on Hill's expansion is as good as the arithmetic.
const MANY: f64 = 2000.0;

/// Chance that a standard normal variable is at most `z`.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z * FRAC_1_SQRT_2)
}

/// Chance that a standard normal variable is over `z`, accurate far out too.
pub fn normal_upper_tail(z: f64) -> f64 {
    normal_cdf(-z)
}

/// Density of a standard normal variable; zero at infinity.
pub(crate) fn normal_density(z: f64) -> f64 {
    exp(-0.5 * z * z) / (2.0 * PI).sqrt()
}

/// The value that a standard normal variable stays at or under with chance `p`.
///
/// # Panics
/// If `p` is not between 0 and 1.
pub fn normal_quantile(p: f64) -> f64 {
    assert!((0.0..=1.0).contains(&p), "a chance lies between 0 and 1");
    if p > 0.5 {
        return -normal_quantile(1.0 - p);
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    // Abramowitz & Stegun 26.2.23, off by under 4.5e-4; each step of Halley's
    // triples the digits.
    let y = (-2.0 * log(p)).sqrt();
    let above = 2.515_517 + y * (0.802_853 + y * 0.010_328);
    let below = 1.0 + y * (1.432_788 + y * (0.189_269 + y * 0.001_308));
    let mut z = above / below - y;
    for _ in 0..3 {
        let step = (normal_cdf(z) - p) / normal_density(z);
        z -= step / (1.0 + 0.5 * z * step);
    }
    z
}

/// Chance that a Student t variable is at most `t`.
///
/// # Panics
/// If `dof` is not positive.
pub fn student_cdf(t: f64, dof: f64) -> f64 {
    if t <= 0.0 {
        student_upper_tail(-t, dof)
    } else {
        1.0 - student_upper_tail(t, dof)
    }
}

/// Chance that a Student t variable is over `t`, accurate far out too.
///
/// # Panics
/// If `dof` is not positive.
pub fn student_upper_tail(t: f64, dof: f64) -> f64 {
    assert!(dof > 0.0, "degrees of freedom are positive");
    if t < 0.0 {
        return 1.0 - student_upper_tail(-t, dof);
    }
    if dof.is_infinite() || t.is_infinite() {
        return normal_upper_tail(t);
    }
    if dof >= MANY {
        return normal_upper_tail(hill(t, dof));
    }
    let square = t * t;
    // What stands before the fraction comes out as t times the density.
    let front = t * student_density(t, dof);
    let x = dof / (dof + square);
    if x < (0.5 * dof + 1.0) / (0.5 * dof + 2.5) {
        front * fraction(0.5 * dof, 0.5, x) / dof
    } else {
        0.5 - front * fraction(0.5, 0.5 * dof, square / (dof + square))
    }
}

/// ln of Γ((ν+1)/2) / (Γ(ν/2)·√(πν)): the height of the density at zero.
fn ln_ratio(dof: f64) -> f64 {
    if dof >= 40.0 {
        // Stirling's series of the ratio; the logarithms would cancel.
        let square = dof * dof;
        let series = -0.25 + (1.0 / 24.0 + (-0.05 + 17.0 / (112.0 * square)) / square) / square;
        return series / dof - 0.5 * log(2.0 * PI);
    }
    lgamma(0.5 * (dof + 1.0)) - lgamma(0.5 * dof) - 0.5 * log(PI * dof)
}

/// From here on degrees of freedom are as good as infinite for an F variable, and the
/// logarithms of the gamma function begin to cancel.
const ALL: f64 = 1e8;

/// Chance that an F variable with `between` and `within` degrees of freedom is
/// over `ratio`. Those over a hundred million count as so many.
///
/// # Panics
/// If the degrees of freedom are not positive.
pub fn f_upper_tail(ratio: f64, between: f64, within: f64) -> f64 {
    assert!(
        between > 0.0 && within > 0.0,
        "degrees of freedom are positive"
    );
    if ratio <= 0.0 {
        return 1.0;
    }
    let (between, within) = (between.min(ALL), within.min(ALL));
    let (a, b) = (0.5 * within, 0.5 * between);
    let x = within / (within + between * ratio);
    if x == 0.0 {
        return 0.0;
    }
    let rest = between * ratio / (within + between * ratio);
    let front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(rest));
    if x < (a + 1.0) / (a + b + 2.0) {
        front * fraction(a, b, x) / a
    } else {
        1.0 - front * fraction(b, a, rest) / b
    }
}

/// The ratio that an F variable is over with chance `tail`.
///
/// # Panics
/// If `tail` is not between 0 and 1, or the degrees of freedom are not positive.
pub fn f_upper_quantile(tail: f64, between: f64, within: f64) -> f64 {
    assert!(tail > 0.0 && tail < 1.0, "a chance lies between 0 and 1");
    // Bisection on the logarithm: always safe, and far from any hot path.
    let (mut low, mut high) = (-700.0, 700.0);
    loop {
        let middle: f64 = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return exp(middle);
        }
        if f_upper_tail(exp(middle), between, within) > tail {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// Continued fraction of the incomplete beta function, modified Lentz
/// (DLMF 8.17.22), divided by `a` at the caller.
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    // Far more than needed: it takes about √max(a, b) terms, and there dof < MANY.
    for m in 1..2000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away_from_zero(1.0 + even * d);
        c = away_from_zero(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away_from_zero(1.0 + odd * d);
        c = away_from_zero(1.0 + odd / c);
        let step = d * c;
        value *= step;
        if (step - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    value
}

/// The normal deviate with the same tail as `t` at many degrees of freedom
/// (Hill 1970).
fn hill(t: f64, dof: f64) -> f64 {
    let a = dof - 0.5;
    let b = 48.0 * a * a;
    let y = a * log1p(t * t / dof);
    let correction = (((-0.4 * y - 3.3) * y - 24.0) * y - 85.5) / (0.8 * y * y + 100.0 + b);
    ((correction + y + 3.0) / b + 1.0) * y.sqrt()
}

fn student_density(t: f64, dof: f64) -> f64 {
    if dof >= MANY {
        // Enough for a Newton step.
        return normal_density(hill(t, dof));
    }
    exp(ln_ratio(dof) - 0.5 * (dof + 1.0) * log1p(t * t / dof))
}

/// The value that a Student t variable stays at or under with chance `p`.
///
/// # Panics
/// If `p` is not between 0 and 1, or `dof` is not positive.
pub fn student_quantile(p: f64, dof: f64) -> f64 {
    assert!((0.0..=1.0).contains(&p), "a chance lies between 0 and 1");
    assert!(dof > 0.0, "degrees of freedom are positive");
    if dof.is_infinite() {
        return normal_quantile(p);
    }
    if p < 0.5 {
        -beyond(p, dof)
    } else {
        beyond(1.0 - p, dof)
    }
}

/// Student's quantile from the normal one to the third order (Abramowitz & Stegun
/// 26.7.5); only a place to start from.
fn cornish_fisher(z: f64, dof: f64) -> f64 {
    let square = z * z;
    let first = (square + 1.0) / 4.0;
    let second = ((5.0 * square + 16.0) * square + 3.0) / 96.0;
    let third = (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0;
    z * (1.0 + (first + (second + third / dof) / dof) / dof)
}

/// The value, zero or more, that a Student t variable is over with chance
/// `tail` ≤ ½.
fn beyond(tail: f64, dof: f64) -> f64 {
    if tail <= 0.0 {
        return f64::INFINITY;
    }
    if tail >= 0.5 {
        return 0.0;
    }
    let z = -normal_quantile(tail);
    // Student's tails are never lighter than the normal's.
    let mut low = z;
    let mut high = 2.0 * z + 1.0;
    while student_upper_tail(high, dof) > tail {
        low = high;
        high *= 2.0;
        if high.is_infinite() {
            return high;
        }
    }
    let mut t = cornish_fisher(z, dof).clamp(low, high);
    for _ in 0..200 {
        let off = student_upper_tail(t, dof) - tail;
        if off > 0.0 {
            low = t;
        } else {
            high = t;
        }
        // Newton on the logarithm of the tail, which is nearly straight far out.
        let density = student_density(t, dof);
        let next = t + log1p(off / tail) * (off + tail) / density;
        // The step squares the error: what is left after this one is rounding.
        if (next - t).abs() <= 1e-9 * t {
            return next;
        }
        let inside = next > low && next < high;
        t = if inside { next } else { 0.5 * (low + high) };
    }
    t
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn one_and_two_degrees_of_freedom_have_closed_forms() {
        for t in [0.01_f64, 0.3, 1.0, 1.0607, 3.0, 40.0, 1e6] {
            // Cauchy: ½ − atan(t)/π, written so that the far tail keeps its digits.
            let cauchy = (1.0 / t).atan() / PI;
            assert!(
                (student_upper_tail(t, 1.0) / cauchy - 1.0).abs() < 2e-14,
                "{t}"
            );
            // ½(1 − t/√(2+t²))
            let root = (2.0 + t * t).sqrt();
            let two = 1.0 / (root * (root + t));
            assert!(
                (student_upper_tail(t, 2.0) / two - 1.0).abs() < 2e-14,
                "{t}"
            );
        }
        // t(p = 0.8, 2) = 0.6·√2/√(1 − 0.36) = 1.06066…
        assert!((student_quantile(0.8, 2.0) - 0.6 * 2.0_f64.sqrt() / 0.8).abs() < 1e-14);
    }

    #[test]
    fn below_zero_the_tail_is_what_the_other_side_leaves() {
        // Cauchy: ½ + atan(1)/π.
        assert!((student_upper_tail(-1.0, 1.0) - 0.75).abs() < 1e-15);
        assert_eq!(student_upper_tail(-2.5, 7.0), student_cdf(2.5, 7.0));
        assert_eq!(student_upper_tail(0.0, 7.0), 0.5);
    }

    #[test]
    fn the_expansion_takes_over_without_a_step() {
        for t in [0.1, 1.0, 2.0, 4.0, 6.0] {
            let below = student_upper_tail(t, MANY * (1.0 - 1e-12));
            let above = student_upper_tail(t, MANY);
            assert!((below / above - 1.0).abs() < 1e-11, "{t}: {below} {above}");
        }
    }

    /// With two degrees of freedom above, the tail is (1 + 2F/ν)^(−ν/2), and e^(−F) for
    /// endless ones below.
    #[test]
    fn many_degrees_of_freedom_below_are_as_good_as_endless_ones() {
        for within in [1e7, 1e9, 1e15, 1e300, f64::INFINITY] {
            for ratio in [0.5, 3.0, 50.0] {
                let found = f_upper_tail(ratio, 2.0, within);
                assert!((found / exp(-ratio) - 1.0).abs() < 1e-3, "{within} {ratio}");
            }
        }
        for ratio in [1e305, f64::INFINITY] {
            assert_eq!(f_upper_tail(ratio, 2e4, 5.0), 0.0);
        }
    }

    #[test]
    fn infinite_degrees_of_freedom_are_the_normal_distribution() {
        assert_eq!(
            student_upper_tail(1.3, f64::INFINITY),
            normal_upper_tail(1.3)
        );
        assert_eq!(student_quantile(0.9, f64::INFINITY), normal_quantile(0.9));
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(normal_quantile(1.0), f64::INFINITY);
        assert_eq!(student_quantile(1.0, 3.0), f64::INFINITY);
        assert_eq!(student_quantile(0.0, 3.0), f64::NEG_INFINITY);
        assert_eq!(student_quantile(0.5, 3.0), 0.0);
    }

    proptest! {
        #[test]
        fn prop_quantile_and_chance_undo_each_other(p in 1e-9..0.5_f64, dof in 0.3..20_000.0_f64) {
            let t = student_quantile(p, dof);
            prop_assert!((student_cdf(t, dof) / p - 1.0).abs() < 1e-9, "{t}");
        }

        #[test]
        fn prop_more_degrees_of_freedom_lighten_the_tail(
            t in 0.01..30.0_f64, dof in 0.5..5_000.0_f64, more in 1.01..10.0_f64,
        ) {
            prop_assert!(student_upper_tail(t, dof) > student_upper_tail(t, dof * more));
        }
    }
}
