//! A small edition by hand, for this room's tests.
//!
//! All invented: the makers, the shoes, the laboratory and its figures.
//!
//! - `quarrel-2`: out this week; borderline torsion, a left-out reading, an
//!   accepted overdue calibration, an editor's words, hostile review text
//! - `tern-1`: out last week; corrected since
//! - `skua`: out last week; taken back since
//! - `plover`: out two weeks ago; hardly measured, so little is judged
//! - `whimbrel` and `curlew`, a draft and one held for later, are in no edition
//!   but [`with_draft`]'s; catalogue and ledger of every edition know them, so
//!   that a test would notice if an output let them slip

mod laboratory;

pub use laboratory::lab;

use super::output::Surroundings;
use crate::catalogue::{Catalogue, Neighbour, Standing};
use crate::edition::{Correction, Edition, Frozen, FrozenFile};
use crate::files::{Date, Key, Slug, Week};
use crate::measure::drawn::Drawn;
use crate::measure::interval::{Method, stated};
use crate::measure::{Absent, Flag, FlagWeight, Quantities, SpecimenSummary, Summary, Trial};
use crate::quantity::{Amount, Part, Shape, Source, Uncertain, Unit};
use crate::rules::{
    Advice, Answers, BandScale, Banded, Finding, Findings, Fit, FitAxis, FitOption, Judged, Made,
    NotJudged, Says, Value, Verdict,
};
use crate::shoe::{Shoe, ShoeFile};
use laboratory::{five_bands, protocol, rules, tiers};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A name.
pub fn key(text: &str) -> Key {
    text.parse().expect("a name")
}

/// An address.
pub fn slug(text: &str) -> Slug {
    text.parse().expect("an address")
}

/// A day.
pub fn day(text: &str) -> Date {
    text.parse().expect("a day")
}

/// Surroundings in which prints are made.
pub fn with_prints() -> Surroundings {
    Surroundings {
        prints: true,
        ..Surroundings::default()
    }
}

/// A fit of three builds against three foot postures.
pub fn fit(rows: [Verdict; 3], columns: [Verdict; 3]) -> Fit {
    let axis = |label: &str, names: [&str; 3], verdicts: [Verdict; 3]| FitAxis {
        label: label.into(),
        options: names
            .into_iter()
            .zip(verdicts)
            .map(|(name, verdict)| FitOption {
                key: key(&name.to_lowercase().replace(' ', "-")),
                label: name.into(),
                verdict,
            })
            .collect(),
    };
    Fit {
        rows: axis(
            "Build",
            ["Light build", "Middling build", "Heavy build"],
            rows,
        ),
        columns: axis(
            "Foot posture",
            ["Supinated", "Neutral", "Pronated"],
            columns,
        ),
    }
}

/// A value with one part of uncertainty.
pub fn uncertain(value: f64, u: f64, source: &str) -> Uncertain {
    let part = Part {
        source: Source::new(source),
        u,
        dof: 10.0,
        shape: Shape::Student,
    };
    Uncertain::new(value, [part])
}

fn finding(name: &str, says: Says, provisional: bool) -> (Key, Made) {
    let finding = Finding {
        key: key(name),
        says,
        provisional,
    };
    (key(name), Ok(Box::new(finding)))
}

fn not_judged(name: &str, reason: &str) -> (Key, Made) {
    let reason = NotJudged {
        finding: key(name),
        reason: reason.into(),
    };
    (key(name), Err(reason))
}

fn banded(
    value: Option<(Uncertain, Unit)>,
    score: f64,
    chance: f64,
    neighbour: Option<usize>,
    scale: Arc<BandScale>,
) -> Says {
    let band = scale.cuts.iter().filter(|cut| score >= **cut).count();
    let mut chances = vec![0.0; scale.names.len()];
    chances[band] = chance;
    chances[neighbour.unwrap_or(if band == 0 { 1 } else { band - 1 })] = 1.0 - chance;
    Says::Band(Banded {
        value,
        score: uncertain(score, 2.0, "score"),
        interval: (score - 4.5, (score + 4.5).min(100.0)),
        method: Method::Analytic,
        points: None,
        scale,
        band,
        chances,
        neighbour,
    })
}

fn scaled(value: Uncertain, unit: Unit, score: f64, chance: f64, neighbour: Option<usize>) -> Says {
    let value = Some((value, unit));
    banded(value, score, chance, neighbour, five_bands())
}

fn pace(score: f64) -> Says {
    banded(None, score, 0.999, None, tiers())
}

fn advice(verdict: Verdict, phrase: &str) -> Says {
    Says::Advice(Advice {
        verdict,
        at_estimate: verdict == Verdict::Holds,
        phrase: key(phrase),
    })
}

/// A summary of readings as they were written, on specimen `A-L`.
fn summary(
    name: &str,
    readings: &[&str],
    left_out: Option<usize>,
    u: f64,
) -> (Key, Result<Summary, Absent>) {
    let protocol = protocol();
    let unit = protocol.quantities.get(name).expect("a quantity").unit;
    let trials: Vec<Trial> = readings
        .iter()
        .enumerate()
        .map(|(at, text)| {
            let written: Amount = text.parse().expect("an amount");
            Trial {
                written,
                value: written.in_unit(unit).expect("a unit that converts"),
                left_out: (left_out == Some(at))
                    .then(|| "the clamp slipped, as the log says".into()),
            }
        })
        .collect();
    let kept: Vec<f64> = trials
        .iter()
        .filter(|trial| trial.left_out.is_none())
        .map(|trial| trial.value)
        .collect();
    let n = kept.len();
    let mean = kept.iter().sum::<f64>() / n as f64;
    let squares: f64 = kept.iter().map(|value| (value - mean).powi(2)).sum();
    let value = uncertain(mean, u, &format!("trials of {name}"));
    let summary = Summary {
        quantity: key(name),
        unit,
        stated: stated(&value, 0.95, &Drawn::default()),
        value,
        n,
        specimens: vec![SpecimenSummary {
            id: "A-L".into(),
            side: crate::shoe::Side::Left,
            trials,
            mean,
            deviation: (n > 1).then(|| (squares / (n - 1) as f64).sqrt()),
        }],
        size_step: (name == "mass").then_some(-5.0),
        pooled: n < 3,
        flags: Vec::new(),
    };
    (key(name), Ok(summary))
}

fn quantities(mass: [&str; 3], torque: &[&str], left_out: Option<usize>) -> Quantities {
    [
        summary("mass", &mass, None, 0.5),
        summary("midfoot-torque", torque, left_out, 0.09),
        summary("heel-compression", &["6.12", "6.05", "6.17"], None, 0.04),
        summary("rebound-travel", &["13.1", "13.4", "13.3"], None, 0.2),
        summary("loaded-drop", &["4.4"], None, 0.15),
    ]
    .into_iter()
    .collect()
}

fn shoe(name: &str, text: &str) -> Arc<Shoe> {
    let specimens = "
specimens:
  - id: A-L
    side: left
    bought: {on: 2026-10-02, how: retail}
    session: {on: 2026-11-02, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14}
    readings: {mass: [262]}
";
    let file: ShoeFile =
        serde_yaml::from_str(&format!("schema: 1\n{text}{specimens}")).expect("a shoe's file");
    Arc::new(Shoe {
        curves: Vec::new(),
        slug: slug(name),
        path: format!("shoes/secret-folder/{name}.yaml"),
        file,
    })
}

fn quarrel() -> Judged {
    let mut quantities = quantities(
        ["262", "263", "262"],
        &["4.3", "38 in·lbf", "5.6", "4.2"],
        Some(2),
    );
    if let Some(Ok(compression)) = quantities.get_mut(&key("heel-compression")) {
        compression.flags.push(Flag {
            code: "calibration-overdue",
            weight: FlagWeight::Stops,
            quantity: Some(key("heel-compression")),
            specimen: Some("A-L".into()),
            message: "calibration was due on 2026-10-05 and the session was on 2026-11-02".into(),
            accepted: Some("checked against the gauge block the same day".into()),
        });
    }
    Judged {
        shoe: shoe(
            "quarrel-2",
            r#"
maker: Fennick & Vale
model: Quarrel
version: 2
category: road
size: {system: mondopoint, value: 275}
price: {amount: 135, currency: EUR}
released: 2026-03
publish: 2026-11-26
summary: An even-tempered road shoe <for daily miles>.
words: {heel-firmness: 'Firmer than it looks, at {value}.'}
formerly: [quarrel-mk2]
notes: SECRET desk note
review: |
  Rides *evenly*. <script>alert(1)</script> See [the others](compare/) or [this](javascript:alert(1)).
"#,
        ),
        quantities,
        findings: [
            finding(
                "torsion",
                scaled(
                    uncertain(37.7, 0.8, "torque"),
                    Unit::InchPoundForce,
                    58.6,
                    0.71,
                    Some(3),
                ),
                false,
            ),
            finding(
                "heel-firmness",
                scaled(
                    uncertain(6.113, 0.04, "heel"),
                    Unit::Millimetre,
                    51.8,
                    0.9999,
                    None,
                ),
                true,
            ),
            finding(
                "drop-kept",
                Says::Value(Value {
                    value: uncertain(73.3, 2.4, "drop"),
                    interval: (68.1, 78.8),
                    method: Method::Analytic,
                    unit: Unit::Percent,
                    decimals: 0,
                }),
                false,
            ),
            finding("pace", pace(44.0), true),
            finding(
                "builds",
                Says::Fit(fit(
                    [Verdict::Close, Verdict::Holds, Verdict::Holds],
                    [Verdict::Fails, Verdict::Holds, Verdict::Holds],
                )),
                false,
            ),
            finding("firm-landing", advice(Verdict::Close, "firm-landing"), true),
            finding("soft-ground", advice(Verdict::Holds, "soft-ground"), false),
        ]
        .into_iter()
        .collect(),
        answers: Answers::new(),
        session_flags: vec![Flag {
            code: "soak-short",
            weight: FlagWeight::Said,
            quantity: None,
            specimen: Some("A-L".into()),
            message: "specimen A-L was conditioned for 11 h; the protocol asks for 12 h".into(),
            accepted: None,
        }],
    }
}

fn tern() -> Judged {
    Judged {
        shoe: shoe(
            "tern-1",
            "maker: Ostler\nmodel: Tern\nversion: 1\ncolour: moss\ncategory: road\nsize: {system: mondopoint, value: 270}\npublish: 2026-11-19\n",
        ),
        quantities: quantities(["244", "245", "244"], &["4.4", "4.3", "4.4"], None),
        findings: plain_findings(61.0),
        session_flags: Vec::new(),
        answers: Answers::new(),
    }
}

fn skua() -> Judged {
    Judged {
        shoe: shoe(
            "skua",
            "maker: Ostler\nmodel: Skua\ncategory: road\nsize: {system: mondopoint, value: 270}\npublish: 2026-11-18\nwithdrawn: {on: 2026-11-25, reason: the specimen was a counterfeit}\n",
        ),
        quantities: quantities(["311", "312", "311"], &["9.87", "9.86", "9.87"], None),
        findings: plain_findings(88.25),
        session_flags: Vec::new(),
        answers: Answers::new(),
    }
}

fn plain_findings(torsion: f64) -> Findings {
    [
        finding(
            "torsion",
            scaled(
                uncertain(46.0, 0.8, "torque"),
                Unit::InchPoundForce,
                torsion,
                0.97,
                None,
            ),
            false,
        ),
        finding(
            "heel-firmness",
            scaled(
                uncertain(6.11, 0.04, "heel"),
                Unit::Millimetre,
                51.8,
                0.999,
                None,
            ),
            false,
        ),
        not_judged("drop-kept", "static drop was not measured"),
        finding("pace", pace(52.0), false),
        finding(
            "builds",
            Says::Fit(fit([Verdict::Holds; 3], [Verdict::Holds; 3])),
            false,
        ),
        finding(
            "firm-landing",
            advice(Verdict::Fails, "firm-landing"),
            false,
        ),
        finding("soft-ground", advice(Verdict::Fails, "soft-ground"), false),
    ]
    .into_iter()
    .collect()
}

fn plover() -> Judged {
    let reason = "midfoot torque was not measured";
    let names = [
        "torsion",
        "heel-firmness",
        "drop-kept",
        "pace",
        "builds",
        "firm-landing",
        "soft-ground",
    ];
    let absent = Absent {
        quantity: key("midfoot-torque"),
        reason: "it was not measured".into(),
    };
    Judged {
        shoe: shoe(
            "plover",
            "maker: '=Pike'\nmodel: Plover\ncategory: trail\nsize: {system: uk, value: 8.5}\npublish: 2026-11-12\n",
        ),
        quantities: [
            summary("mass", &["301", "302", "301"], None, 0.5),
            (key("midfoot-torque"), Err(absent)),
        ]
        .into_iter()
        .collect(),
        findings: names
            .map(|name| not_judged(name, reason))
            .into_iter()
            .collect(),
        session_flags: Vec::new(),
        answers: Answers::new(),
    }
}

fn whimbrel() -> Judged {
    Judged {
        shoe: shoe(
            "whimbrel",
            "maker: Ostler\nmodel: Whimbrel\ncategory: road\nsize: {system: mondopoint, value: 270}\n",
        ),
        ..tern()
    }
}

fn catalogue() -> Catalogue {
    let standing = Standing {
        percentile: Some(71.6),
        rank: 2,
        n: 6,
    };
    let near = |name: &str, distance: f64, difference: Option<(&str, f64)>| Neighbour {
        slug: slug(name),
        distance,
        difference: difference.map(|(quantity, by)| (key(quantity), by)),
    };
    Catalogue::default()
        .with_scores(
            key("road"),
            key("torsion"),
            &[12.0, 33.3, 47.0, 55.0, 58.6, 61.0],
        )
        .with_standing(slug("quarrel-2"), key("torsion"), standing)
        .with_neighbours(
            slug("quarrel-2"),
            vec![
                near("whimbrel", 0.1, Some(("mass", -9.0))),
                near("skua", 0.2, Some(("mass", 49.0))),
                near("tern-1", 0.3, Some(("mass", -18.0))),
                near("plover", 0.9, None),
            ],
        )
}

/// The edition of 26 November 2026.
pub fn edition() -> Edition {
    edition_of(vec![plover(), quarrel(), skua(), tern()], false)
}

/// The same with the draft in it.
pub fn with_draft() -> Edition {
    edition_of(vec![plover(), quarrel(), skua(), tern(), whimbrel()], true)
}

fn edition_of(shoes: Vec<Judged>, drafts: bool) -> Edition {
    let mut weeks: BTreeMap<Week, Vec<usize>> = BTreeMap::new();
    for (at, judged) in shoes.iter().enumerate() {
        if let Some(on) = judged.shoe.file.publish {
            weeks.entry(on.week()).or_default().push(at);
        }
    }
    let correction = |on: &str| Correction {
        rules: (3, 4),
        protocol: (2, 2),
        on: day(on),
        because: "torsion points moved".into(),
        changes: vec!["Torsion: medium → high".into()],
    };
    Edition {
        as_of: day("2026-11-26"),
        drafts,
        lab: lab(),
        rules: rules(),
        shoes,
        weeks,
        catalogue: catalogue(),
        corrections: [
            (slug("tern-1"), vec![correction("2026-11-24")]),
            (slug("curlew"), vec![correction("2026-11-25")]),
        ]
        .into_iter()
        .collect(),
        frozen: vec![frozen()],
        sealed: None,
    }
}

/// The torsion of `quarrel-2`, put far beyond the end of its scale: the score, what is
/// left of its uncertainty, and whether one is known of the torque it stands for.
pub fn hold_torsion(edition: &mut Edition, score: Uncertain, known: bool) {
    let slug = slug("quarrel-2");
    let mut shoes = edition.shoes.iter_mut();
    let quarrel = shoes.find(|judged| judged.shoe.slug == slug);
    let finding = quarrel.and_then(|judged| judged.findings.get_mut(&key("torsion")));
    let Some(Ok(finding)) = finding else {
        panic!("torsion is judged");
    };
    let Says::Band(banded) = &mut finding.says else {
        panic!("torsion is in bands");
    };
    let torque = match known {
        true => uncertain(92.0, 0.8, "torque"),
        false => Uncertain::exact(92.0),
    };
    *banded = Banded {
        value: Some((torque, Unit::InchPoundForce)),
        points: Some(Arc::from([(0.0, 0.0), (65.0, 100.0)])),
        interval: (score.value, score.value),
        score,
        ..banded.clone()
    };
}

/// The edition of the week before, sealed; `skua` was in it.
fn frozen() -> Frozen {
    let file = |name: &str| FrozenFile {
        name: name.into(),
        bytes: 1234,
        sha256: "ab".repeat(32),
        blake3: blake3::hash(name.as_bytes()).to_hex().to_string(),
    };
    Frozen {
        name: "2026-11-19".into(),
        on: day("2026-11-19"),
        because: "First published.".into(),
        shoes: 3,
        protocol_version: 2,
        rules_version: 3,
        files: ["shoes.csv", "findings.csv", "datapackage.json"]
            .map(file)
            .into(),
    }
}

/// How many readings count of some shoes of an edition.
pub fn readings_of(edition: &Edition, shoes: &[&str]) -> usize {
    shoes
        .iter()
        .filter_map(|name| edition.shoe(&slug(name)))
        .flat_map(|judged| judged.quantities.values())
        .filter_map(|quantity| quantity.as_ref().ok())
        .flat_map(|summary| &summary.specimens)
        .flat_map(|specimen| &specimen.trials)
        .filter(|trial| trial.left_out.is_none())
        .count()
}
