//! Every printed interval of the demo lab against 10⁶ seeded draws
//! (JCGM 101:2008, clause 8): for every shoe, every quantity and every finding
//! that is a score or a number.
//!
//! The models of the findings are written down here once more, from the rules
//! file's own numbers, so that what is compared is not the same code twice.
//!
//! The tolerance is that which the rules state (`interval::STATED`): a twentieth
//! of the standard uncertainty. With u = c × 10^l, JCGM 101, 7.9.2 asks for half
//! a unit of the last meaningful digit: u/20 to u/198 for two digits, u/18 at the
//! tightest for one. A twentieth is thus tighter than one digit ever asks, and
//! looser than two digits mostly ask. It is no tighter because the second digit
//! is not meaningful: the pooled deviation of some 58 degrees of freedom is itself
//! known to 9 % (JCGM 100:2008, E.4.3 and its table E.1); and because a million
//! draws place an end of a 95 % interval to 0.0027 standard uncertainties, under
//! the fifth of u/20 that JCGM 101, 8.2 wants of them, but not of u/198. How many
//! intervals agree to two digits all the same is counted, and has a floor.
//!
//! The chance of the stated band is held to the share of the draws that lie in it.

use solefolio::files::Root;
use solefolio::gather::{Gathered, gather};
use solefolio::measure::Summary;
use solefolio::measure::interval::{STATED, tolerance};
use solefolio::measure::propagate::through_draws;
use solefolio::quantity::{Uncertain, Unit};
use solefolio::rules::{Judged, Says};
use std::convert::Infallible;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

const DRAWS: usize = 1_000_000;
const TOLERANCE: f64 = STATED;

/// By how much the chance of a band may differ from the share of the draws: pages
/// print whole per cents. Beside a bend a blend's score is no Student t, which is
/// what JCGM 106 is worked out on here.
const CHANCE: f64 = 0.02;

/// Points of a scale as `lab/rules.yaml` has them.
type Points = &'static [(f64, f64)];

const TORSION: Points = &[
    (0.0, 0.0),
    (15.0, 20.0),
    (30.0, 40.0),
    (45.0, 60.0),
    (65.0, 80.0),
    (90.0, 100.0),
];
const HEEL_FIRMNESS: Points = &[
    (3.0, 100.0),
    (4.0, 80.0),
    (5.5, 60.0),
    (7.0, 40.0),
    (9.0, 20.0),
    (11.0, 0.0),
];
const REBOUND: Points = &[
    (4.0, 0.0),
    (8.0, 20.0),
    (12.0, 40.0),
    (16.0, 60.0),
    (20.0, 80.0),
    (24.0, 100.0),
];
const LIGHTNESS: Points = &[
    (5.5, 100.0),
    (7.0, 80.0),
    (8.5, 60.0),
    (10.0, 40.0),
    (11.5, 20.0),
    (13.0, 0.0),
];
const LIFT: Points = &[
    (0.0, 0.0),
    (3.0, 20.0),
    (6.0, 40.0),
    (9.0, 60.0),
    (12.0, 80.0),
    (15.0, 100.0),
];

/// A scale in rising order of value, held at its ends.
fn scale(points: Points, x: f64) -> f64 {
    let (first, last) = (points[0], points[points.len() - 1]);
    if x <= first.0 {
        return first.1;
    }
    for pair in points.windows(2) {
        let ((x0, s0), (x1, s1)) = (pair[0], pair[1]);
        if x < x1 {
            return s0 + (x - x0) * (s1 - s0) / (x1 - x0);
        }
    }
    last.1
}

/// A finding's name, the quantities it rests on, and how it comes from them.
type Model = (&'static str, &'static [&'static str], fn(&[f64]) -> f64);

/// The findings that are scores or numbers, each with the quantities it rests on.
/// Torque comes in N·m and mass in g; the factors to in·lbf and oz are exact
/// (1 in·lbf = 0.112984829… N·m, 1 oz = 28.349523125 g; NIST SP 811, appendix B.8).
const FINDINGS: [Model; 8] = [
    ("torsion", &["midfoot-torque"], |x| {
        scale(TORSION, in_lbf(x[0]))
    }),
    ("heel-firmness", &["heel-compression"], |x| {
        scale(HEEL_FIRMNESS, x[0])
    }),
    ("platform", &["midfoot-torque", "heel-compression"], |x| {
        0.5 * scale(TORSION, in_lbf(x[0])) + 0.5 * scale(HEEL_FIRMNESS, x[1])
    }),
    ("rebound", &["rebound-travel"], |x| scale(REBOUND, x[0])),
    ("lightness", &["mass"], |x| {
        scale(LIGHTNESS, x[0] / 28.349_523_125)
    }),
    ("lift", &["loaded-drop"], |x| scale(LIFT, x[0])),
    ("drop-kept", &["loaded-drop", "static-drop"], |x| {
        100.0 * x[0] / x[1]
    }),
    ("pace", &["mass", "rebound-travel"], |x| {
        0.5 * scale(LIGHTNESS, x[0] / 28.349_523_125) + 0.5 * scale(REBOUND, x[1])
    }),
];

fn in_lbf(newton_metres: f64) -> f64 {
    newton_metres / (4.448_221_615_260_5 * 0.0254)
}

fn demo() -> Gathered {
    let root = Root::open(Path::new(env!("CARGO_MANIFEST_DIR"))).expect("the demo lab is here");
    gather(&root).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

/// One printed interval and the place its draws go to.
struct Printed {
    name: String,
    value: f64,
    u: f64,
    interval: (f64, f64),
    /// The stated band's limits and its chance.
    band: Option<(f64, f64, f64)>,
}

fn quantities(judged: &Judged) -> Vec<(String, &Summary)> {
    judged
        .quantities
        .iter()
        .filter_map(|(key, summary)| Some((key.to_string(), summary.as_ref().ok()?)))
        .collect()
}

/// What is printed of a finding; none if it was not made.
fn printed(judged: &Judged, name: &str) -> Option<Printed> {
    let (_, finding) = judged
        .findings
        .iter()
        .find(|(key, _)| key.as_str() == name)?;
    let (value, interval, band) = match &finding.as_ref().ok()?.says {
        Says::Band(banded) => {
            let cuts = &banded.scale.cuts;
            let low = banded
                .band
                .checked_sub(1)
                .map_or(f64::NEG_INFINITY, |at| cuts[at]);
            let high = cuts.get(banded.band).copied().unwrap_or(f64::INFINITY);
            (
                &banded.score,
                banded.interval,
                Some((low, high, banded.chance())),
            )
        }
        Says::Value(value) => (&value.value, value.interval, None),
        Says::Fit(_) | Says::Advice(_) => return None,
    };
    Some(Printed {
        name: name.to_owned(),
        value: value.value,
        u: value.u(),
        interval,
        band,
    })
}

/// How an interval compares with that of the draws, in words, where it fails.
fn compare(
    slug: &str,
    printed: &Printed,
    drawn: &mut [f32],
    to_two: &AtomicUsize,
) -> Option<String> {
    if let Some((low, high, chance)) = printed.band {
        let inside = drawn
            .iter()
            .filter(|score| (low..high).contains(&f64::from(**score)))
            .count();
        let share = inside as f64 / drawn.len() as f64;
        if (share - chance).abs() > CHANCE {
            return Some(format!(
                "{slug} {}: chance {chance} but {share} of the draws",
                printed.name
            ));
        }
    }
    let kept = (0.95 * drawn.len() as f64).round() as usize;
    let below = (drawn.len() - kept) / 2;
    let mut at = |place: usize| f64::from(*drawn.select_nth_unstable_by(place, f32::total_cmp).1);
    let (low, high) = (at(below), at(below + kept - 1));
    // A score held at an end has next to no uncertainty; nothing finer is printed.
    let within = (TOLERANCE * printed.u).max(0.001);
    let off = (printed.interval.0 - low)
        .abs()
        .max((printed.interval.1 - high).abs());
    if off <= tolerance(printed.u, 2) {
        to_two.fetch_add(1, Ordering::Relaxed);
    }
    (off > within).then(|| {
        format!(
            "{slug} {}: {} [{}, {}] but the draws say [{low}, {high}]; u {}, off by {:.3} u",
            printed.name,
            printed.value,
            printed.interval.0,
            printed.interval.1,
            printed.u,
            off / printed.u
        )
    })
}

fn check(judged: &Judged, seed: u64, to_two: &AtomicUsize) -> (usize, Vec<String>) {
    let quantities = quantities(judged);
    let at = |name: &str| quantities.iter().position(|(key, _)| key == name);
    let mut all: Vec<Printed> = quantities
        .iter()
        .map(|(name, summary)| Printed {
            name: name.clone(),
            value: summary.value.value,
            u: summary.value.u(),
            interval: summary.interval(),
            band: None,
        })
        .collect();
    let mut models = Vec::new();
    for (name, needs, model) in FINDINGS {
        let places: Option<Vec<usize>> = needs.iter().map(|need| at(need)).collect();
        if let (Some(places), Some(printed)) = (places, printed(judged, name)) {
            let values: Vec<f64> = places
                .iter()
                .map(|place| quantities[*place].1.value.value)
                .collect();
            assert!(
                (model(&values) - printed.value).abs() < 1e-6,
                "the model of {name} here is the rule's: {} {}",
                model(&values),
                printed.value
            );
            models.push((places, model));
            all.push(printed);
        }
    }
    let inputs: Vec<&Uncertain> = quantities
        .iter()
        .map(|(_, summary)| &summary.value)
        .collect();
    // Single precision holds seven digits, a hundredth of the tolerance or finer,
    // and half the memory; each column is drawn about its own value.
    let mut columns: Vec<Vec<f32>> = all.iter().map(|_| Vec::with_capacity(DRAWS)).collect();
    let mut given = Vec::new();
    let drawn = through_draws(
        &inputs,
        |x| {
            for (column, value) in columns.iter_mut().zip(x) {
                column.push(*value as f32);
            }
            for (column, (places, model)) in columns[x.len()..].iter_mut().zip(&models) {
                given.clear();
                given.extend(places.iter().map(|place| x[*place]));
                column.push(model(&given) as f32);
            }
            Ok::<_, Infallible>(0.0)
        },
        DRAWS,
        seed,
    );
    assert!(drawn.is_ok());
    let failed = all
        .iter()
        .zip(&mut columns)
        .filter_map(|(printed, column)| compare(judged.shoe.slug.as_str(), printed, column, to_two))
        .collect();
    (all.len(), failed)
}

#[test]
fn a_million_draws_bear_out_every_printed_interval_of_the_demo() {
    let gathered = demo();
    assert_eq!(gathered.lab.protocol.coverage, 0.95);
    let waiting = Mutex::new(gathered.shoes.iter().enumerate());
    let failed = Mutex::new(Vec::new());
    let (count, to_two) = (AtomicUsize::new(0), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let next = waiting.lock().unwrap().next();
                    let Some((at, judged)) = next else { break };
                    let (of, found) = check(judged, 20_261_125 + at as u64, &to_two);
                    count.fetch_add(of, Ordering::Relaxed);
                    failed.lock().unwrap().extend(found);
                }
            });
        }
    });
    let mut failed = failed.into_inner().unwrap();
    failed.sort();
    assert!(failed.is_empty(), "{}", failed.join("\n"));
    let (count, to_two) = (count.into_inner(), to_two.into_inner());
    eprintln!("{count} intervals agree to u/20, {to_two} of them to two digits");
    assert!(count > 500 && 2 * to_two > count, "{to_two} of {count}");
}

#[test]
fn the_models_here_are_all_scores_and_numbers_of_the_rule_set() {
    let gathered = demo();
    for (key, rule) in gathered.rules.rules.iter() {
        let known = FINDINGS.iter().any(|(name, ..)| *name == key.as_str());
        let wanted = matches!(rule.kind(), "scale" | "blend" | "formula");
        assert_eq!(known, wanted, "{key}");
    }
    assert_eq!(
        Unit::Gram,
        gathered.lab.protocol.quantities.get("mass").unwrap().unit
    );
}
