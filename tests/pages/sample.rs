//! Views made up by hand, for looking at pages and for checking them without a
//! lab: invented shoes, every kind of absence, and hostile text wherever an
//! input could carry it.

use serde_json::{Value, json};
use solefolio::outputs::views::*;

/// Text that would be markup, script or an entity if anything forgot to escape it.
pub const HOSTILE: &str = "<script>alert(\"x\")</script> & 'quotes' {{ 7 * 7 }} ]]>";

const MAKERS: [&str; 6] = [
    "Fennick & Vale",
    "Oosterling",
    "Harrowgate Last Works",
    "Tamsin Roe",
    "Kestrel & Ames",
    "Brightwater",
];
const MODELS: [&str; 10] = [
    "Quarrel", "Toller", "Marl", "Sedge", "Plover", "Wick", "Tern", "Bracken", "Ferrier", "Ousel",
];
const CATEGORIES: [(&str, &str); 4] = [
    ("road", "Road"),
    ("trail", "Trail"),
    ("court", "Court"),
    ("walking", "Walking"),
];
const BANDS: [&str; 5] = ["very low", "low", "medium", "high", "very high"];
const TIERS: [&str; 4] = ["easy", "daily", "tempo", "race"];
const LEAD: [(&str, &str); 5] = [
    ("torsion", "Torsion"),
    ("heel-firmness", "Heel firmness"),
    ("platform", "Platform"),
    ("rebound", "Rebound"),
    ("lift", "Lift"),
];
const BUILDS: [&str; 3] = ["Light build", "Middling build", "Heavy build"];
const POSTURES: [&str; 5] = [
    "Strongly supinated",
    "Supinated",
    "Neutral",
    "Pronated",
    "Strongly pronated",
];

/// A number from 0 to 1 that is always the same for the same two numbers.
fn dice(a: usize, b: usize) -> f64 {
    let mixed = (a as u64 + 1)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add((b as u64 + 7).wrapping_mul(0xbf58_476d_1ce4_e5b9));
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((mixed ^ (mixed >> 32)) % 10_000) as f64 / 10_000.0
}

fn date(iso: &str, text: &str) -> DateView {
    DateView {
        iso: iso.into(),
        text: text.into(),
    }
}

fn figure(number: &str, unit: &str, uncertainty: &str, also: Option<&str>) -> FigureView {
    FigureView {
        number: number.into(),
        unit: unit.into(),
        uncertainty: Some(uncertainty.into()),
        also: also.map(Into::into),
    }
}

/// What every page carries.
pub fn site() -> SiteView {
    SiteView {
        lab: "Harrow Lane Footwear Laboratory".into(),
        about: "An invented laboratory. Its makers, shoes and readings were made up to show what Solefolio does; no real product is described.".into(),
        invented: true,
        drafts: true,
        language: "en".into(),
        address: "https://harrow-lane.example/".into(),
        contact: "desk@harrow-lane.example".into(),
        licence: LinkView {
            text: "Creative Commons Attribution 4.0".into(),
            href: "https://creativecommons.org/licenses/by/4.0/".into(),
        },
        as_of: date("2026-11-26", "26 November 2026"),
        protocol_version: 2,
        rules_version: 4,
        caution: "Findings describe shoes, not people. Pain, injury or numbness is a matter for a licensed clinician; no shoe can promise to prevent or cure it.".into(),
        paper: "a4",
    }
}

fn head(path: &str, title: &str) -> HeadView {
    HeadView {
        title: title.into(),
        description: format!(
            "{title}: measured on the bench, with the uncertainty of every figure."
        ),
        root: "../".repeat(path.matches('/').count()),
        path: path.into(),
        linked_data: Some(
            json!({"@context": "https://schema.org", "@type": "WebPage", "name": title})
                .to_string()
                .replace('&', "\\u0026")
                .replace('<', "\\u003c"),
        ),
    }
}

/// The shoe of a number; the third has a hostile name.
pub fn shoe(at: usize) -> ShoeView {
    let (category_key, category) = CATEGORIES[at % 4];
    let maker = MAKERS[at % 6];
    let model = match at {
        2 => HOSTILE.to_string(),
        _ => format!("{} {}", MODELS[at % 10], at / 10 + 1),
    };
    let slug = format!("shoe-{at}");
    ShoeView {
        title: format!("{maker} {model}"),
        maker: maker.into(),
        model,
        category: category.into(),
        category_key: category_key.into(),
        size: "Mondopoint 270".into(),
        reference_size: "Mondopoint 270".into(),
        price: (at % 7 != 3).then(|| format!("{} EUR", 70 + (dice(at, 1) * 150.0) as u32)),
        released: (at % 3 != 0).then(|| "March 2026".into()),
        published: (at != 4).then(|| date("2026-11-26", "26 November 2026")),
        week: (at != 4).then(|| LinkView {
            text: "2026-W48".into(),
            href: "weeks/2026-w48/".into(),
        }),
        path: format!("shoes/{slug}/"),
        slug,
    }
}

/// A score of a shoe by a finding; none for some, which were not judged.
fn score(at: usize, finding: usize) -> Option<f64> {
    (at % 11 != 5 || finding != 3).then(|| {
        let centre = (dice(at, finding) + dice(at, finding + 50) + dice(at, finding + 90)) / 3.0;
        (centre * 130.0 - 15.0).clamp(0.0, 100.0)
    })
}

fn cuts(finding: usize) -> [f64; 6] {
    if finding == 2 {
        [0.0, 30.0, 50.0, 70.0, 90.0, 100.0]
    } else {
        [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]
    }
}

fn band_of(cuts: &[f64], score: f64) -> usize {
    cuts[1..cuts.len() - 1]
        .iter()
        .filter(|cut| score >= **cut)
        .count()
}

fn nearest_cut(cuts: &[f64], score: f64) -> f64 {
    cuts[1..cuts.len() - 1]
        .iter()
        .map(|cut| (score - cut).abs())
        .fold(f64::MAX, f64::min)
}

fn entry_band(at: usize, finding: usize) -> EntryBandView {
    let (key, label) = LEAD[finding];
    let cuts = cuts(finding);
    let score = score(at, finding);
    EntryBandView {
        key: key.into(),
        label: label.into(),
        band: score.map(|s| BANDS[band_of(&cuts, s)].into()),
        band_index: score.map(|s| band_of(&cuts, s)),
        bands: 5,
        score: score.map(|s| format!("{s:.1}")),
        borderline: score.is_some_and(|s| nearest_cut(&cuts, s) < 1.6),
    }
}

fn pace(at: usize) -> EntryBandView {
    let score = dice(at, 20) * 100.0;
    let band = band_of(&[0.0, 25.0, 50.0, 75.0, 100.0], score);
    EntryBandView {
        key: "pace".into(),
        label: "Pace".into(),
        band: (at % 11 != 5).then(|| TIERS[band].into()),
        band_index: (at % 11 != 5).then_some(band),
        bands: 4,
        score: (at % 11 != 5).then(|| format!("{score:.1}")),
        borderline: at % 9 == 4,
    }
}

fn verdict(at: usize, option: usize) -> VerdictView {
    let (key, words) = match (dice(at, option) * 10.0) as u32 {
        0..=4 => ("suits", "suits"),
        5..=6 => ("close", "close call"),
        9 if at % 11 == 5 => ("unknown", "not known"),
        _ => ("other", "look further"),
    };
    VerdictView {
        key,
        words: words.into(),
    }
}

fn suits(at: usize) -> String {
    match at % 3 {
        0 => "May suit a middling or heavy build and a neutral, pronated or strongly pronated foot posture; a daily shoe by pace, near tempo.".into(),
        1 => "May suit any build and a supinated or neutral foot posture (perhaps also pronated); an easy shoe by pace.".into(),
        _ => "May suit a light or middling build, but foot posture could not be judged; a tempo shoe by pace.".into(),
    }
}

/// A shoe in a list.
pub fn entry(at: usize) -> EntryView {
    EntryView {
        shoe: shoe(at),
        suits: suits(at),
        summary: (at % 2 == 0).then(|| {
            "An even-tempered shoe for daily miles, happier the longer the day gets.".into()
        }),
        bands: (0..5).map(|finding| entry_band(at, finding)).collect(),
        withdrawn: at == 7,
    }
}

fn week(number: u32, days: &str, shoes: usize) -> WeekLinkView {
    WeekLinkView {
        name: format!("2026-W{number}"),
        days: days.into(),
        path: format!("weeks/2026-w{number}/"),
        shoes,
    }
}

fn ruler(finding: usize, score: f64, spread: f64) -> RulerView {
    let cuts = cuts(finding);
    let stated = band_of(&cuts, score);
    let mut ticks: Vec<f64> = (0..40)
        .filter_map(|other| self::score(other, finding))
        .collect();
    ticks.sort_by(f64::total_cmp);
    let place = |score: f64| format!("{:.1}", score.clamp(0.0, 100.0) * 10.0);
    RulerView {
        bands: (0..5)
            .map(|band| RulerBandView {
                name: BANDS[band].into(),
                from: place(cuts[band]),
                width: place(cuts[band + 1] - cuts[band]),
                stated: band == stated,
            })
            .collect(),
        at: place(score),
        low: place(score - spread),
        high: place(score + spread),
        ticks: ticks.into_iter().map(place).collect(),
        description: format!(
            "A scale from 0 to 100 in five bands. This shoe scores {score:.1} ± {spread:.1}, in {}. 40 other shoes lie between 2.1 and 96.4.",
            BANDS[stated]
        ),
    }
}

fn band(at: usize, finding: usize) -> BandView {
    let (key, label) = LEAD[finding];
    let Some(score) = score(at, finding) else {
        return BandView {
            key: key.into(),
            label: label.into(),
            not_judged: Some("rebound travel was not measured".into()),
            says: None,
        };
    };
    let spread = 1.1 + dice(at, finding + 30) * 3.0;
    let cuts = cuts(finding);
    let stated = band_of(&cuts, score);
    let close = nearest_cut(&cuts, score) < 1.6;
    let values = [
        figure("4.21", "N·m", "0.18", Some("37.3 in·lbf")),
        figure("6.11", "mm", "0.11", Some("0.2406 in")),
        figure("0", "", "0", None),
        figure("13.3", "mm", "0.4", Some("0.524 in")),
        figure("4.4", "mm", "0.3", None),
    ];
    let means = [
        "The shoe resists twisting at the midfoot more than most. It may feel steady on uneven ground and less willing to follow a foot that moves a lot.",
        "The heel gives noticeably before it holds. It may suit those who land on it often, and feel slow to those who do not.",
        "Torsion and heel together make a middling platform: neither soft nor stiff underfoot.",
        "Much of the squeeze comes back. The shoe may feel lively at a quicker step.",
        "Little height is left under the heel once it is loaded, which asks more of calf and Achilles tendon.",
    ];
    BandView {
        key: key.into(),
        label: label.into(),
        not_judged: None,
        says: Some(BandSaysView {
            value: (finding != 2).then(|| values[finding].clone()),
            score: figure(
                &format!("{score:.1}"),
                "of 100",
                &format!("{spread:.1}"),
                None,
            ),
            band: BANDS[stated].into(),
            band_index: stated,
            bands: 5,
            chance: if close {
                "64 %".into()
            } else {
                "over 99 %".into()
            },
            borderline: close.then(|| BANDS[if stated == 4 { 3 } else { stated + 1 }].into()),
            provisional: at == 0 && finding == 3,
            short: format!(
                "{label} is {}: {} from 100 readings’ worth of ground.",
                BANDS[stated], values[finding].number
            ),
            means: means[finding].into(),
            by_editor: finding == 1,
            standing: Some("higher than 72 % of 31 road shoes".into()),
            ruler: ruler(finding, score, spread),
        }),
    }
}

fn specimen(id: &str, side: &'static str, trials: &[&str], mean: &str) -> SpecimenView {
    SpecimenView {
        id: id.into(),
        side,
        trials: trials
            .iter()
            .enumerate()
            .map(|(nth, number)| TrialView {
                number: (*number).into(),
                written: (nth == 1 && *number == "4.29").then(|| "38 in·lbf".into()),
                left_out: (*number == "5.9").then(|| "the clamp slipped".into()),
            })
            .collect(),
        mean: mean.into(),
        deviation: (trials.len() > 1).then(|| "0.06".into()),
    }
}

fn quantities() -> Vec<QuantityView> {
    let mut list = Vec::new();
    let rows: [(&str, &str, &str, &str, FigureView, &[&str], &str); 5] = [
        (
            "mass",
            "Mass",
            "The whole shoe with its laces and sock liner, as worn.",
            "g",
            figure("262", "g", "1", Some("9.24 oz")),
            &["262", "263", "262"],
            "262.3",
        ),
        (
            "midfoot-torque",
            "Midfoot torque",
            "The torque that twists the forefoot 15° against the clamped heel.",
            "N·m",
            figure("4.21", "N·m", "0.18", Some("37.3 in·lbf")),
            &["4.3", "4.29", "4.2", "5.9"],
            "4.26",
        ),
        (
            "heel-compression",
            "Heel compression",
            "How far the heel sinks from a settling load of 10 N to 450 N.",
            "mm",
            figure("6.11", "mm", "0.11", Some("0.2406 in")),
            &["6.12", "6.05", "6.17"],
            "6.113",
        ),
        (
            "static-drop",
            "Static drop",
            "Height of the heel over the forefoot, unloaded.",
            "mm",
            figure("6.0", "mm", "0.3", None),
            &["6.0"],
            "6.0",
        ),
        (
            "loaded-drop",
            "Loaded drop",
            "Height of the heel over the forefoot with 450 N on each.",
            "mm",
            figure("4.4", "mm", "0.3", None),
            &["4.4", "4.5", "4.4"],
            "4.43",
        ),
    ];
    for (key, label, what, unit, value, trials, mean) in rows {
        list.push(QuantityView {
            key: key.into(),
            label: label.into(),
            what: what.into(),
            unit: unit.into(),
            figure: Some(value),
            absent: None,
            k: Some("2.01".into()),
            dof: Some(if key == "mass" {
                "∞".into()
            } else {
                "49".into()
            }),
            n: trials.len() * if key == "mass" { 2 } else { 1 },
            instrument: "Torque wrench no. 1 with midfoot clamp".into(),
            specimens: if key == "mass" {
                vec![
                    specimen("Q2-L", "left", trials, mean),
                    specimen("Q2-R", "right", trials, mean),
                ]
            } else {
                vec![specimen("Q2-L", "left", trials, mean)]
            },
            size_step: (key == "mass").then(|| "+4 g".into()),
            pooled: trials.len() == 1,
        });
    }
    list.push(QuantityView {
        key: "rebound-travel".into(),
        label: "Rebound travel".into(),
        what: "How far the rebound arm comes back from the heel after one drop.".into(),
        unit: "mm".into(),
        figure: None,
        absent: Some("it was not measured".into()),
        k: None,
        dof: None,
        n: 0,
        instrument: "Rebound arm no. 1".into(),
        specimens: vec![],
        size_step: None,
        pooled: false,
    });
    list
}

fn curve() -> CurveView {
    let point = |travel: f64, load: f64| format!("{:.1} {:.1}", travel * 75.0, 400.0 - load * 0.8);
    let path = |load: &dyn Fn(f64) -> f64| {
        let points: Vec<String> = (0..=40)
            .map(|step| f64::from(step) * 0.15625)
            .map(|travel| point(travel, load(travel)))
            .collect();
        format!("M{}", points.join("L"))
    };
    let tick = |at: f64, text: String| TickView {
        at: format!("{at:.1}"),
        text,
    };
    CurveView {
        label: "Heel load against travel".into(),
        specimen: "Q2-L".into(),
        loading: path(&|travel| 450.0 * (travel / 6.25_f64).powf(1.6)),
        unloading: path(&|travel| 450.0 * (travel / 6.25_f64).powf(2.3)),
        x_ticks: (0..=8).map(|mm| tick(f64::from(mm) * 75.0, mm.to_string())).collect(),
        y_ticks: (0..=5)
            .map(|step| tick(400.0 - f64::from(step) * 80.0, (step * 100).to_string()))
            .collect(),
        x_label: "travel (mm)".into(),
        y_label: "load (N)".into(),
        figures: vec![
            ("Energy put in".into(), figure("1.08", "J", "0.03", None)),
            ("Energy returned".into(), figure("0.85", "J", "0.03", None)),
            ("Energy return".into(), figure("78.7", "%", "1.9", None)),
            ("Secant stiffness".into(), figure("72.0", "N/mm", "1.4", Some("411 lbf/in"))),
        ],
        description: "Load rises to 450 N at 6.25 mm of travel and comes back below the way it went; the loop between is the energy lost.".into(),
    }
}

/// A review; the shoe numbered 0 is rich, 2 is hostile, 5 lacks a finding, 7 is withdrawn.
pub fn review(at: usize) -> ReviewView {
    let shoe = shoe(at);
    let mut head = head(&shoe.path, &shoe.title);
    head.description = suits(at);
    let fit_rows = (0..3)
        .map(|row| FitRowView {
            label: BUILDS[row].into(),
            cells: (0..5).map(|column| verdict(at, row * 5 + column)).collect(),
        })
        .collect();
    ReviewView {
        site: site(),
        head,
        suits: suits(at),
        suits_by_editor: at == 1,
        summary: Some(if at == 2 { HOSTILE.into() } else { "An even-tempered road shoe for daily miles.".into() }),
        lead: (0..5).map(|finding| band(at, finding)).collect(),
        other: vec![{
            let mut pace = band(at, 0);
            pace.key = "pace".into();
            pace.label = "Pace".into();
            if let Some(says) = &mut pace.says {
                says.band = "daily".into();
                says.band_index = 1;
                says.bands = 4;
                says.value = None;
                says.means = "By weight and rebound, a shoe for every day.".into();
            }
            pace
        }],
        values: vec![
            ValueView {
                key: "drop-kept".into(),
                label: "Drop kept under load".into(),
                figure: Some(figure("73", "%", "6", None)),
                not_judged: None,
                means: Some("Of the drop it shows unloaded, three quarters are left under load.".into()),
                by_editor: false,
                provisional: false,
            },
            ValueView {
                key: "return".into(),
                label: "Return".into(),
                figure: None,
                not_judged: Some("energy return was not measured".into()),
                means: None,
                by_editor: false,
                provisional: false,
            },
        ],
        fits: vec![FitView {
            key: "builds".into(),
            label: "Build and foot posture".into(),
            row_label: "Build".into(),
            column_label: "Foot posture".into(),
            columns: POSTURES.map(Into::into).to_vec(),
            rows: fit_rows,
            not_judged: None,
        }],
        advice: if at == 5 {
            vec![]
        } else {
            vec![
                AdviceView {
                    key: "low-drop".into(),
                    weight: "caution",
                    short: "Low drop under load".into(),
                    text: "With so little drop left under load, calf and Achilles tendon may carry more of the work. Those with trouble there may do better with more drop, and should ask a licensed clinician first.".into(),
                    by_editor: false,
                    close: true,
                },
                AdviceView {
                    key: "soft-ground".into(),
                    weight: "note",
                    short: "Soft ground".into(),
                    text: "On soft ground the shoe may feel less certain than these numbers suggest.".into(),
                    by_editor: true,
                    close: false,
                },
            ]
        },
        alternatives: [11, 12, 13]
            .into_iter()
            .zip(["18 g lighter, otherwise alike", "firmer at the heel, otherwise alike", "stiffer to twist, otherwise alike"])
            .map(|(other, difference)| AlternativeView {
                title: self::shoe(other).title,
                path: self::shoe(other).path,
                difference: difference.into(),
            })
            .collect(),
        quantities: quantities(),
        curves: vec![curve()],
        sessions: vec![SessionView {
            specimen: "Q2-L".into(),
            side: "left",
            on: date("2026-11-18", "18 November 2026"),
            operator: "Ivo Brandt".into(),
            temperature: "22.8 °C".into(),
            humidity: "48 %".into(),
            soaked: "14 h".into(),
            bought: Some("bought in a shop on 2 October 2026".into()),
        }],
        doubts: if at == 1 { vec![] } else { vec![DoubtView {
            code: "calibration-overdue".into(),
            message: "Rebound arm no. 1 was due for calibration on 5 October 2026, 44 days before the session.".into(),
            accepted: Some("the control shoe read within its limits that day".into()),
        }] },
        corrections: if at == 1 { vec![] } else { vec![CorrectionView {
            on: date("2026-11-26", "26 November 2026"),
            because: "Torsion points above 45 in·lbf moved after the autumn control measurements.".into(),
            changes: vec!["Torsion: medium → high".into(), "Platform: medium → high".into()],
        }] },
        review_html: Some("<p>The upper holds the heel without pinching, and the laces stay tied.</p>\n<h3>On the road</h3>\n<p>Over twenty kilometres it <em>kept its temper</em>; see <a href=\"https://harrow-lane.example/\">the lab</a>.</p>\n<ul><li>Runs true to size</li><li>Wide in the toe</li></ul>\n<blockquote><p>It goes where it is pointed.</p></blockquote>".into()),
        review_blocks: vec![],
        pdf: (at != 1).then(|| format!("{}review.pdf", shoe.path)),
        data: format!("{}data.json", shoe.path),
        withdrawn: (at == 7).then(|| WithdrawnView {
            on: date("2026-11-20", "20 November 2026"),
            reason: "The specimen turned out to be a sample, not a shoe from a shop.".into(),
        }),
        qr: vec![],
        shoe,
    }
}

/// The comparison of so many shoes.
pub fn compare(shoes: usize) -> CompareView {
    let mut columns: Vec<ColumnView> = LEAD
        .iter()
        .map(|(key, label)| ColumnView {
            key: (*key).into(),
            label: (*label).into(),
            kind: "band",
            unit: None,
            bands: BANDS.map(Into::into).to_vec(),
        })
        .collect();
    columns.push(ColumnView {
        key: "pace".into(),
        label: "Pace".into(),
        kind: "band",
        unit: None,
        bands: TIERS.map(Into::into).to_vec(),
    });
    columns.push(ColumnView {
        key: "drop-kept".into(),
        label: "Drop kept under load".into(),
        kind: "value",
        unit: Some("%".into()),
        bands: vec![],
    });
    columns.push(ColumnView {
        key: "mass".into(),
        label: "Mass".into(),
        kind: "quantity",
        unit: Some("g".into()),
        bands: vec![],
    });
    let absent = CellView {
        text: None,
        sort: None,
        spread: None,
        band_index: None,
        borderline: false,
    };
    let rows = (0..shoes)
        .map(|at| {
            let mut cells: Vec<CellView> = (0..5)
                .map(|finding| match score(at, finding) {
                    None => absent.clone(),
                    Some(score) => CellView {
                        text: Some(BANDS[band_of(&cuts(finding), score)].into()),
                        sort: Some(score),
                        spread: Some(1.1 + dice(at, finding + 30) * 3.0),
                        band_index: Some(band_of(&cuts(finding), score)),
                        borderline: nearest_cut(&cuts(finding), score) < 1.6,
                    },
                })
                .collect();
            let pace = pace(at);
            cells.push(CellView {
                text: pace.band,
                sort: pace.score.map(|score| score.parse().expect("a number")),
                spread: pace.band_index.map(|_| 3.0),
                band_index: pace.band_index,
                borderline: pace.borderline,
            });
            let kept = 55.0 + dice(at, 61) * 40.0;
            cells.push(CellView {
                text: Some(format!("{kept:.0} ± 6")),
                sort: Some(kept),
                spread: Some(6.0),
                ..absent.clone()
            });
            let mass = 190.0 + dice(at, 62) * 140.0;
            cells.push(CellView {
                text: Some(format!("{mass:.0} ± 2")),
                sort: Some(mass),
                spread: Some(1.6),
                ..absent.clone()
            });
            let shoe = shoe(at);
            CompareRowView {
                price: shoe
                    .price
                    .as_deref()
                    .and_then(|p| p.split(' ').next()?.parse().ok()),
                currency: shoe.price.as_ref().map(|_| "EUR".into()),
                shoe,
                cells,
            }
        })
        .collect();
    CompareView {
        site: site(),
        head: head("compare/", "All shoes compared"),
        columns,
        categories: CATEGORIES
            .map(|(key, name)| (key.into(), name.into()))
            .to_vec(),
        rows,
    }
}

fn guide() -> GuideView {
    let mut shoes: Vec<usize> = (0..24).collect();
    shoes.sort_by_key(|at| at % 4);
    GuideView {
        site: site(),
        head: head("guide/", "Fit guide"),
        row_label: "Build".into(),
        rows: BUILDS.map(Into::into).to_vec(),
        column_label: "Foot posture".into(),
        columns: POSTURES.map(Into::into).to_vec(),
        shoes: shoes
            .into_iter()
            .map(|at| GuideShoeView {
                shoe: shoe(at),
                rows: (0..3).map(|row| verdict(at, row)).collect(),
                columns: (0..5).map(|column| verdict(at, 10 + column)).collect(),
                pace: pace(at),
                cautions: match at % 4 {
                    0 => vec!["low drop under load".into(), "firm landing".into()],
                    1 => vec!["heel sinks under load".into()],
                    _ => vec![],
                },
            })
            .collect(),
        questions: vec![
            "What will the shoe be used for, and how far?".into(),
            "Which shoe is worn now, and what is liked about it?".into(),
            "Is there any pain now, or has there been an injury this year?".into(),
        ],
        refer: vec![
            "Pain that stays after rest, or wakes at night.".into(),
            "Numbness, swelling, or a wound that does not heal; diabetes with loss of feeling."
                .into(),
        ],
        pdf: Some("guide/guide.pdf".into()),
        stock: Some("Corner Shop".into()),
        not_measured: vec!["Some other shoe".into(), HOSTILE.into()],
    }
}

fn find() -> FindView {
    let compare = compare(1);
    FindView {
        site: site(),
        head: head("find/", "Find a shoe"),
        row_label: "Build".into(),
        rows: BUILDS.map(Into::into).to_vec(),
        column_label: "Foot posture".into(),
        columns: POSTURES.map(Into::into).to_vec(),
        categories: compare.categories,
        pace_label: Some("Pace".into()),
        tiers: TIERS.map(Into::into).to_vec(),
        wishes: compare.columns.into_iter().take(5).collect(),
        shoes: (0..36)
            .map(|at| FindShoeView {
                shoe: shoe(at),
                suits: suits(at),
                rows: (0..3).map(|row| verdict(at, row)).collect(),
                columns: (0..5).map(|column| verdict(at, 10 + column)).collect(),
                pace: Some(pace(at)),
                bands: (0..5).map(|finding| entry_band(at, finding)).collect(),
                cautions: if at % 4 == 0 {
                    vec!["low drop under load".into()]
                } else {
                    vec![]
                },
                provisional: at == 0,
            })
            .collect(),
    }
}

fn search() -> SearchView {
    let mut entries: Vec<SearchEntryView> = (0..36)
        .map(|at| SearchEntryView {
            title: shoe(at).title,
            path: shoe(at).path,
            kind: format!("{} shoe", shoe(at).category),
            text: suits(at),
        })
        .collect();
    entries.push(SearchEntryView {
        title: "Uncertainty".into(),
        path: "method/#uncertainty".into(),
        kind: "Method".into(),
        text: "How the interval of every figure is worked out.".into(),
    });
    SearchView {
        site: site(),
        head: head("search/", "Search"),
        entries,
    }
}

fn weeks() -> Vec<WeekLinkView> {
    vec![
        week(48, "23 to 29 November 2026", 6),
        week(47, "16 to 22 November 2026", 1),
        week(46, "9 to 15 November 2026", 5),
    ]
}

fn week_page(at: usize) -> WeekView {
    let weeks = weeks();
    WeekView {
        site: site(),
        head: head(&weeks[at].path, &format!("The shoes of {}", weeks[at].days)),
        shoes: (at * 5..at * 5 + 6).map(entry).collect(),
        previous: weeks.get(at + 1).cloned(),
        next: at.checked_sub(1).map(|next| weeks[next].clone()),
        pdf: Some(format!("{}week.pdf", weeks[at].path)),
        week: weeks[at].clone(),
    }
}

fn method() -> MethodView {
    let quantity = |label: &str| MethodQuantityView {
        label: label.into(),
        what: "The torque that twists the forefoot 15° against the clamped heel.".into(),
        at: Some("15°".into()),
        units: "N·m, in·lbf".into(),
        trials: 3,
        spread: Some("12 % of the mean".into()),
        plausible: "0.3 N·m to 15 N·m".into(),
        repeatability: Some("0.12 N·m (58 degrees of freedom)".into()),
        instrument: "Torque wrench no. 1 with midfoot clamp".into(),
    };
    let rule = |key: &str, label: &str| MethodRuleView {
        key: key.into(),
        label: label.into(),
        kind: "scale",
        plain: "Midfoot torque in in·lbf, read off a scale of straight pieces.".into(),
        formula: "0 → 0, 15 → 20, 30 → 40, 45 → 60, 65 → 80, 90 → 100".into(),
        bands: vec![
            "very low from 0".into(),
            "low from 20".into(),
            "medium from 40".into(),
            "high from 60".into(),
            "very high from 80".into(),
        ],
    };
    MethodView {
        site: site(),
        head: head("method/", "The method"),
        cautions: vec![
            "Findings describe shoes on a bench, not people in them.".into(),
            "Nothing here diagnoses, prevents or cures. Pain, numbness, swelling or a wound are matters for a licensed clinician.".into(),
        ],
        protocol_effective: date("2026-09-01", "1 September 2026"),
        coverage: "95 %".into(),
        conditioning: vec!["23 °C ± 1.5 °C".into(), "50 % ± 10 % humidity".into(), "at least 12 h".into()],
        reference_size: "Mondopoint 270".into(),
        minimum_shoes: 5,
        quantities: ["Mass", "Midfoot torque", "Heel compression"].map(quantity).to_vec(),
        instruments: vec![InstrumentView {
            label: "Bench scale no. 1".into(),
            resolution: "1 g".into(),
            uncertainty: "0.6 g (k = 2)".into(),
            on: date("2026-03-02", "2 March 2026"),
            due: date("2027-03-02", "2 March 2027"),
        }],
        rules_effective: date("2026-11-01", "1 November 2026"),
        borderline_below: "80 %".into(),
        rules: vec![rule("torsion", "Torsion"), rule("heel-firmness", "Heel firmness")],
        history: vec![(4, date("2026-11-01", "1 November 2026"), "Torsion points above 45 in·lbf moved.".into())],
        corrections: vec![(
            LinkView {
                text: shoe(0).title,
                href: shoe(0).path,
            },
            CorrectionView {
                on: date("2026-11-26", "26 November 2026"),
                because: "Torsion points moved.".into(),
                changes: vec!["Torsion: medium → high".into()],
            },
        )],
    }
}

fn front() -> FrontView {
    FrontView {
        site: site(),
        head: head("", "Athletic shoes, measured"),
        week: Some(weeks()[0].clone()),
        this_week: (0..4).map(entry).collect(),
        latest: (4..9).map(entry).collect(),
        weeks: weeks(),
        shoes: 36,
        readings: 812,
    }
}

fn feed() -> FeedView {
    FeedView {
        site: site(),
        updated: "2026-11-26T00:00:00Z".into(),
        entries: (0..3)
            .map(|at| {
                let href = format!("{}{}", site().address, shoe(at).path);
                FeedEntryView {
                    id: href.clone(),
                    href,
                    title: shoe(at).title,
                    published: "2026-11-26T00:00:00Z".into(),
                    updated: "2026-11-26T00:00:00Z".into(),
                    summary: suits(at),
                    content_html: "<p>Torsion: high &amp; sure.</p>".into(),
                }
            })
            .collect(),
    }
}

/// Every sheet of a sample folio: path, template, view. `shoes` is the size of
/// the comparison.
pub fn sheets(shoes: usize) -> Vec<(String, &'static str, Value)> {
    let value = |view: &dyn erased::Serialize| view.value();
    let mut sheets = vec![
        ("index.html".to_string(), "index.html", value(&front())),
        (
            "compare/index.html".into(),
            "compare.html",
            value(&compare(shoes)),
        ),
        (
            "compare/data.js".into(),
            "compare-data.js",
            value(&compare(shoes)),
        ),
        ("find/index.html".into(), "find.html", value(&find())),
        ("find/data.js".into(), "find-data.js", value(&find())),
        ("search/index.html".into(), "search.html", value(&search())),
        ("search/data.js".into(), "search-data.js", value(&search())),
        ("guide/index.html".into(), "guide.html", value(&guide())),
        ("method/index.html".into(), "method.html", value(&method())),
        (
            "404.html".into(),
            "404.html",
            value(&PlainView {
                site: site(),
                head: head("404.html", "No such page"),
            }),
        ),
        (
            "shoes/renamed/index.html".into(),
            "redirect.html",
            value(&RedirectView {
                site: site(),
                head: head("shoes/renamed/", "Renamed shoe"),
                target: LinkView {
                    text: shoe(0).title,
                    href: shoe(0).path,
                },
            }),
        ),
        ("feed.xml".into(), "feed.xml", value(&feed())),
        (
            "sitemap.xml".into(),
            "sitemap.xml",
            value(&SitemapView {
                entries: (0..3)
                    .map(|at| SitemapEntryView {
                        address: format!("{}{}", site().address, shoe(at).path),
                        changed: "2026-11-26".into(),
                    })
                    .collect(),
            }),
        ),
    ];
    for at in 0..weeks().len() {
        let view = week_page(at);
        sheets.push((
            format!("{}index.html", view.week.path),
            "week.html",
            value(&view),
        ));
    }
    for at in 0..36 {
        let view = review(at);
        sheets.push((
            format!("{}index.html", view.shoe.path),
            "review.html",
            value(&view),
        ));
    }
    sheets
}

mod erased {
    /// A view, whatever its type.
    pub trait Serialize {
        /// It as a value.
        fn value(&self) -> serde_json::Value;
    }

    impl<T: serde::Serialize> Serialize for T {
        fn value(&self) -> serde_json::Value {
            serde_json::to_value(self).expect("a view is plain data")
        }
    }
}
