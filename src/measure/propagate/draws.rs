//! Through any function, by random draws (JCGM 101:2008).
//!
//! The draws are the same on every machine: the generator is PCG XSL RR 128/64
//! (M. O'Neill, 2014), and normal and Student deviates are ratios of uniforms
//! (A. J. Kinderman & J. F. Monahan, ACM Transactions on Mathematical Software
//! 3:257–260, 1977; for the normal with the squeeze of J. L. Leva, the same
//! 18:449–453, 1992), whose values are plain arithmetic. Logarithms only decide
//! whether a draw is taken, so a platform that rounds one differently changes
//! a run with a chance around 1e-15 a draw. Student deviates with under one
//! degree of freedom come from the quantile and carry the platform's last bits.
//! `f` is the caller's, and only as portable as it is written.

use crate::measure::distribution::student_quantile;
use crate::measure::moments::mean_and_deviation;
use crate::quantity::{Part, Shape, Source, Uncertain};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{RngCore, SeedableRng};
use std::collections::BTreeMap;

/// What the draws of a result say.
#[derive(Clone, Debug, PartialEq)]
pub struct Draws {
    /// Mean of the result.
    pub mean: f64,
    /// Standard deviation of the result: its standard uncertainty. With an input
    /// of two degrees of freedom or fewer the true one is infinite, and this
    /// one says little; the intervals stay good.
    pub u: f64,
    sorted: Vec<f64>,
}

impl Draws {
    /// The results in rising order.
    pub fn sorted(&self) -> &[f64] {
        &self.sorted
    }

    /// The interval that leaves as much on either side (JCGM 101:2008, 7.7.2).
    ///
    /// # Panics
    /// If `coverage` is not between 0 and 1.
    pub fn interval(&self, coverage: f64) -> (f64, f64) {
        let (first, last) = ends(self.sorted.len(), coverage);
        (self.sorted[first], self.sorted[last])
    }

    /// The shortest interval (JCGM 101:2008, 7.7.4).
    ///
    /// # Panics
    /// If `coverage` is not between 0 and 1.
    pub fn shortest_interval(&self, coverage: f64) -> (f64, f64) {
        let kept = kept(self.sorted.len(), coverage);
        let width = |window: &&[f64]| window[kept - 1] - window[0];
        let best = self
            .sorted
            .windows(kept)
            .min_by(|a, b| width(a).total_cmp(&width(b)))
            .unwrap_or(&self.sorted);
        (best[0], best[best.len() - 1])
    }

    /// The share of results between two limits, both included; open where `None`.
    pub fn share_between(&self, low: Option<f64>, high: Option<f64>) -> f64 {
        let under = low.map_or(0, |low| self.sorted.partition_point(|y| *y < low));
        let up_to = high.map_or(self.sorted.len(), |high| {
            self.sorted.partition_point(|y| *y <= high)
        });
        up_to.saturating_sub(under) as f64 / self.sorted.len() as f64
    }
}

/// Draws every source of the inputs `draws` times, each by its shape, and works
/// `f` out on the inputs that result. A source that several inputs share is
/// drawn once for all of them. `f` is called with the inputs' values in their
/// order.
///
/// # Errors
/// The first error of `f`.
///
/// # Panics
/// If `draws` is under two.
pub fn through_draws<E>(
    inputs: &[&Uncertain],
    f: impl FnMut(&[f64]) -> Result<f64, E>,
    draws: usize,
    seed: u64,
) -> Result<Draws, E> {
    assert!(draws >= 2, "a deviation needs two draws");
    let mut results = outcomes(inputs, f, draws, seed)?;
    let moments = mean_and_deviation(&results);
    results.sort_unstable_by(f64::total_cmp);
    let (mean, u) = moments.map_or((results[0], 0.0), |m| (m.mean, m.deviation.unwrap_or(0.0)));
    Ok(Draws {
        mean,
        u,
        sorted: results,
    })
}

/// The same as [`Draws::interval`] of [`through_draws`], which is all that a finding
/// asks for: finding two places costs less than sorting all.
///
/// # Errors
/// The first error of `f`.
///
/// # Panics
/// If `draws` is zero, or `coverage` is not between 0 and 1.
pub fn drawn_interval<E>(
    inputs: &[&Uncertain],
    f: impl FnMut(&[f64]) -> Result<f64, E>,
    draws: usize,
    seed: u64,
    coverage: f64,
) -> Result<(f64, f64), E> {
    assert!(draws > 0, "an interval needs a draw");
    let mut results = outcomes(inputs, f, draws, seed)?;
    let (below, last) = ends(draws, coverage);
    let (_, low, above) = results.select_nth_unstable_by(below, f64::total_cmp);
    let low = *low;
    let high = match last - below {
        0 => low,
        further => *above.select_nth_unstable_by(further - 1, f64::total_cmp).1,
    };
    Ok((low, high))
}

/// The results, in the order they were drawn.
fn outcomes<E>(
    inputs: &[&Uncertain],
    mut f: impl FnMut(&[f64]) -> Result<f64, E>,
    draws: usize,
    seed: u64,
) -> Result<Vec<f64>, E> {
    let causes = Causes::of(inputs);
    let mut generator = Pcg64::seed_from_u64(seed);
    let mut errors = vec![0.0; causes.each.len()];
    let mut at = vec![0.0; inputs.len()];
    let mut results = Vec::with_capacity(draws);
    for _ in 0..draws {
        for (error, cause) in errors.iter_mut().zip(&causes.each) {
            *error = cause.draw(&mut generator);
        }
        for ((value, input), parts) in at.iter_mut().zip(inputs).zip(&causes.of_input) {
            *value = parts
                .iter()
                .fold(input.value, |sum, (cause, u)| sum + u * errors[*cause]);
        }
        results.push(f(&at)?);
    }
    Ok(results)
}

/// Of so many results in rising order, the places of the first and the last that an
/// interval with as much left over on either side keeps.
fn ends(count: usize, coverage: f64) -> (usize, usize) {
    let kept = kept(count, coverage);
    let below = (count - kept) / 2;
    (below, below + kept - 1)
}

fn kept(count: usize, coverage: f64) -> usize {
    assert!(
        (0.0..=1.0).contains(&coverage),
        "coverage lies between 0 and 1"
    );
    ((coverage * count as f64).round() as usize).clamp(1, count)
}

/// A seed from what is drawn: the same inputs give the same draws, whatever else
/// is worked out before or beside them, and other inputs give others. The hash is
/// FNV-1a with 64 bits (G. Fowler, L. C. Noll & P. Vo; from memory, unverified).
pub fn seed_of(inputs: &[&Uncertain]) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut take = |bytes: &[u8]| {
        for byte in bytes {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    };
    for input in inputs {
        take(&input.value.to_bits().to_le_bytes());
        for part in input.parts() {
            take(part.source.name().as_bytes());
            take(&part.u.to_bits().to_le_bytes());
            take(&part.dof.to_bits().to_le_bytes());
        }
    }
    hash
}

/// The distinct sources of some inputs, and what each input takes from which.
struct Causes {
    each: Vec<Cause>,
    of_input: Vec<Vec<(usize, f64)>>,
}

/// The error of one source, in standard uncertainties.
enum Cause {
    Student(f64),
    Normal,
    Rectangular,
}

impl Causes {
    fn of(inputs: &[&Uncertain]) -> Self {
        let mut merged: BTreeMap<&Source, Part> = BTreeMap::new();
        for part in inputs.iter().flat_map(|input| input.parts()) {
            merged
                .entry(&part.source)
                .and_modify(|known| known.absorb(part))
                .or_insert_with(|| part.clone());
        }
        let places: BTreeMap<&Source, usize> = merged
            .keys()
            .enumerate()
            .map(|(place, source)| (*source, place))
            .collect();
        let of_input = inputs
            .iter()
            .map(|input| {
                input
                    .parts()
                    .iter()
                    .map(|part| (places[&part.source], part.u))
                    .collect()
            })
            .collect();
        let each = merged
            .values()
            .map(|part| match part.shape {
                Shape::Student if part.dof.is_finite() => Cause::Student(part.dof),
                Shape::Student | Shape::Normal => Cause::Normal,
                Shape::Rectangular => Cause::Rectangular,
            })
            .collect();
        Causes { each, of_input }
    }
}

impl Cause {
    fn draw(&self, generator: &mut Pcg64) -> f64 {
        match self {
            Cause::Student(dof) => student(*dof, generator),
            Cause::Normal => normal(generator),
            Cause::Rectangular => 3.0_f64.sqrt() * (2.0 * uniform(generator) - 1.0),
        }
    }
}

/// Uniform over 0 to 1, neither included, in steps of 2⁻⁵³.
fn uniform(generator: &mut Pcg64) -> f64 {
    const STEP: f64 = 1.0 / (1_u64 << 53) as f64;
    ((generator.next_u64() >> 11) as f64 + 0.5) * STEP
}

fn normal(generator: &mut Pcg64) -> f64 {
    loop {
        let u = uniform(generator);
        let v = 1.7156 * (uniform(generator) - 0.5);
        let x = u - 0.449_871;
        let y = v.abs() + 0.386_595;
        let q = x * x + y * (0.196 * y - 0.254_72 * x);
        if q < 0.275_97 || (q <= 0.278_46 && v * v <= -4.0 * libm::log(u) * u * u) {
            return v / u;
        }
    }
}

/// Student's t, not scaled to unit variance (JCGM 101:2008, 6.4.9).
fn student(dof: f64, generator: &mut Pcg64) -> f64 {
    if dof < 1.0 {
        return student_quantile(uniform(generator), dof);
    }
    loop {
        // From one degree of freedom on, v stays within ±1.
        let u = uniform(generator);
        let t = (2.0 * uniform(generator) - 1.0) / u;
        let (power, x) = (0.25 * (dof + 1.0), t * t / dof);
        if taken_at_a_glance(u, power, x).unwrap_or_else(|| is_taken(u, power, x)) {
            return t;
        }
    }
}

/// Whether u ≤ (1 + x)^−power.
fn is_taken(u: f64, power: f64, x: f64) -> bool {
    libm::log(u) <= -power * libm::log1p(x)
}

/// The same where bounds decide it, which spares most draws their logarithms, for
/// 0 < u < 1 and x ≥ 0: ½(u − 1/u) ≤ ln u ≤ 2(u − 1)/(u + 1) and
/// 2x/(2 + x) ≤ ln(1 + x) ≤ x(6 + x)/(6 + 4x) (F. Topsøe, "Some bounds for the
/// logarithmic function", 2004; from memory, held by the tests).
fn taken_at_a_glance(u: f64, power: f64, x: f64) -> Option<bool> {
    // What rounding could turn is left to the logarithms.
    const CLEAR: f64 = 1e-9;
    if 2.0 * (u - 1.0) / (u + 1.0) <= -power * x * (6.0 + x) / (6.0 + 4.0 * x) - CLEAR {
        Some(true)
    } else if 0.5 * (u - 1.0 / u) >= -power * 2.0 * x / (2.0 + x) + CLEAR {
        Some(false)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{coverage_factor, student_cdf};
    use proptest::prelude::*;
    use std::convert::Infallible;

    proptest! {
        #[test]
        fn prop_an_interval_alone_is_that_of_all_draws(
            u in 0.0..3.0_f64, coverage in 0.0..=1.0_f64, draws in 2..300_usize, seed: u64,
        ) {
            let x = input("x", 1.0, u, 4.0, Shape::Student);
            let cut = |x: &[f64]| Ok::<_, Infallible>(x[0].clamp(0.0, 2.0));
            let all = through_draws(&[&x], cut, draws, seed).unwrap();
            let alone = drawn_interval(&[&x], cut, draws, seed, coverage).unwrap();
            prop_assert_eq!(alone, all.interval(coverage));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(20_000))]
        #[test]
        fn prop_a_glance_decides_as_the_logarithms_do(
            u in 1e-6..1.0_f64, t in 0.0..12.0_f64, dof in 1.0..200.0_f64,
        ) {
            let (power, x) = (0.25 * (dof + 1.0), t * t / dof);
            if let Some(taken) = taken_at_a_glance(u, power, x) {
                prop_assert_eq!(taken, is_taken(u, power, x));
            }
        }
    }

    #[test]
    fn a_glance_decides_most_draws() {
        let mut generator = Pcg64::seed_from_u64(3);
        let mut glance = || {
            let u = uniform(&mut generator);
            let t = (2.0 * uniform(&mut generator) - 1.0) / u;
            taken_at_a_glance(u, 1.5, t * t / 5.0).is_some()
        };
        let decided = (0..10_000).filter(|_| glance()).count();
        assert!(decided > 7_500, "{decided}");
    }

    fn input(source: &'static str, value: f64, u: f64, dof: f64, shape: Shape) -> Uncertain {
        let source = Source::new(source);
        Uncertain::new(
            value,
            [Part {
                source,
                u,
                dof,
                shape,
            }],
        )
    }

    fn sum(x: &[f64]) -> Result<f64, Infallible> {
        Ok(x.iter().sum())
    }

    #[test]
    fn a_seed_gives_these_draws_on_every_machine() {
        let a = input("a", 0.0, 1.0, f64::INFINITY, Shape::Normal);
        let b = input("b", 0.0, 1.0, 4.0, Shape::Student);
        let draws = through_draws(&[&a, &b], sum, 4, 20_261_125).unwrap();
        assert_eq!(
            draws.sorted(),
            [
                -1.864_638_023_339_456_8,
                -0.038_629_998_072_184_59,
                0.112_966_341_644_625_16,
                1.710_735_112_398_384
            ]
        );
    }

    /// The same generator and ratios of uniforms written a second time apart from this
    /// program, with the whole region of acceptance by its logarithm and no squeeze or
    /// glance: mean, deviation, lowest and highest of 20,000 draws. So a draw that is
    /// taken or left wrongly, even once, shows.
    #[test]
    fn every_draw_is_the_one_that_the_plain_region_takes() {
        for (shape, dof, [mean, u, lowest, highest]) in [
            (
                Shape::Normal,
                f64::INFINITY,
                [
                    -0.001_518_916_035_806_776_3,
                    1.001_744_231_622_980_3,
                    -3.855_478_971_757_162_5,
                    4.106_316_461_626_746,
                ],
            ),
            (
                Shape::Student,
                2.5,
                [
                    0.002_246_237_008_711_159_3,
                    2.168_655_687_335_666,
                    -44.327_899_403_125_03,
                    81.282_021_054_379_2,
                ],
            ),
            (
                Shape::Student,
                40.0,
                [
                    0.003_561_996_884_261_467,
                    1.029_815_358_319_784_7,
                    -4.493_849_608_247_813,
                    4.787_032_480_329_618,
                ],
            ),
        ] {
            let x = input("x", 0.0, 1.0, dof, shape);
            let draws = through_draws(&[&x], sum, 20_000, 5).unwrap();
            let found = [draws.mean, draws.u, draws.sorted[0], draws.sorted[19_999]];
            for (found, expected) in found.into_iter().zip([mean, u, lowest, highest]) {
                assert!((found - expected).abs() < 1e-9, "{shape:?} {dof}: {found}");
            }
        }
    }

    #[test]
    fn the_seed_follows_from_what_is_drawn_and_from_nothing_else() {
        let a = input("a", 1.0, 0.5, f64::INFINITY, Shape::Normal);
        let b = input("b", 1.0, 0.5, 4.0, Shape::Student);
        assert_eq!(seed_of(&[&a, &b]), seed_of(&[&a.clone(), &b.clone()]));
        let seeds = [&[&a][..], &[&b], &[&a, &b], &[&b, &a], &[]].map(seed_of);
        for (at, seed) in seeds.iter().enumerate() {
            assert!(!seeds[..at].contains(seed), "{seeds:?}");
        }
        // FNV-1a of nothing is its offset basis.
        assert_eq!(seeds[4], 0xcbf2_9ce4_8422_2325);
    }

    /// FNV-1a with 64 bits, worked out apart from this program over the eight bytes
    /// of each number, lowest first, and the source's name; the same gave the known
    /// 0x85944171f73967e8 of `foobar`.
    #[test]
    fn the_seed_is_the_hash_of_value_source_uncertainty_and_freedom() {
        let a = input("a", 1.0, 0.5, f64::INFINITY, Shape::Normal);
        assert_eq!(seed_of(&[&a]), 0x93bc_6c9e_0830_51cb);
        let b = input("b", 2.0, 0.25, 4.0, Shape::Student);
        assert_eq!(seed_of(&[&a, &b]), 0x74c3_5902_7c1f_94c2);
    }

    #[test]
    fn each_shape_is_distributed_as_it_says() {
        const COUNT: usize = 40_000;
        // Kolmogorov–Smirnov: at this many draws 1.95/√n is passed once in a thousand.
        let limit = 1.95 / (COUNT as f64).sqrt();
        for (shape, dof) in [
            (Shape::Normal, f64::INFINITY),
            (Shape::Student, 1.0),
            (Shape::Student, 2.0),
            (Shape::Student, 7.5),
            (Shape::Student, 0.7),
            (Shape::Student, 400.0),
            (Shape::Rectangular, f64::INFINITY),
        ] {
            let x = input("x", 0.0, 1.0, dof, shape);
            let draws = through_draws(&[&x], sum, COUNT, 7).unwrap();
            let cdf = |y: f64| match shape {
                Shape::Rectangular => (y / 12.0_f64.sqrt() + 0.5).clamp(0.0, 1.0),
                Shape::Normal | Shape::Student => student_cdf(y, dof),
            };
            let worst = draws
                .sorted()
                .iter()
                .enumerate()
                .map(|(rank, y)| (cdf(*y) - (rank as f64 + 0.5) / COUNT as f64).abs())
                .fold(0.0, f64::max);
            assert!(worst < limit, "{shape:?} {dof}: {worst}");
        }
    }

    #[test]
    fn a_shared_source_is_drawn_once() {
        let a = input("bench", 4.0, 0.1, 5.0, Shape::Student);
        let b = input("bench", 6.0, 0.1, 5.0, Shape::Student);
        let difference = |x: &[f64]| Ok::<_, Infallible>(x[1] - x[0]);
        let draws = through_draws(&[&a, &b], difference, 1000, 1).unwrap();
        assert!(draws.u < 1e-15 && (draws.mean - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_single_student_part_gives_back_its_coverage_factor() {
        let x = input("x", 10.0, 0.5, 2.0, Shape::Student);
        let draws = through_draws(&[&x], sum, 400_000, 3).unwrap();
        let (low, high) = draws.interval(0.95);
        let half = 0.5 * coverage_factor(0.95, 2.0);
        assert!((low - (10.0 - half)).abs() < 0.02 && (high - (10.0 + half)).abs() < 0.02);
    }

    #[test]
    fn intervals_keep_as_many_draws_as_the_coverage_says() {
        let draws = Draws {
            mean: 0.0,
            u: 1.0,
            sorted: vec![0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 100.0],
        };
        assert_eq!(draws.interval(0.8), (1.0, 8.0));
        assert_eq!(draws.shortest_interval(0.9), (0.0, 8.0));
        assert_eq!(draws.interval(1.0), (0.0, 100.0));
        // Eight and a half of ten draws are nine; of none, one is kept.
        assert_eq!(draws.interval(0.85), (0.0, 8.0));
        assert_eq!(draws.interval(0.0), (4.0, 4.0));
        assert_eq!(draws.shortest_interval(0.0), (0.0, 0.0));
        assert_eq!(draws.share_between(Some(8.0), None), 0.2);
        assert_eq!(draws.share_between(Some(9.0), Some(2.0)), 0.0);
        assert_eq!(draws.share_between(Some(2.0), Some(4.0)), 0.3);
        assert_eq!(draws.share_between(None, Some(4.0)), 0.5);
        assert_eq!(draws.share_between(Some(8.5), Some(8.6)), 0.0);
    }

    #[test]
    fn the_shortest_interval_need_not_be_the_lowest() {
        let draws = Draws {
            mean: 0.0,
            u: 1.0,
            sorted: vec![-50.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0],
        };
        assert_eq!(draws.shortest_interval(0.9), (0.0, 8.0));
    }

    #[test]
    fn an_error_of_the_function_comes_back() {
        let x = input("x", 0.0, 1.0, 3.0, Shape::Normal);
        assert_eq!(
            through_draws(&[&x], |_| Err::<f64, _>("no"), 10, 1),
            Err("no")
        );
    }
}
