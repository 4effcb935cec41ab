//! A review, made up.

use super::*;

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
            held: false,
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
            means_language: None,
            by_editor: finding == 1,
            standing: Some("higher than 72 % of 31 road shoes".into()),
            ruler: ruler(finding, score, spread),
        }),
    }
}

fn specimen(id: &str, side: &str, trials: &[&str], mean: &str) -> SpecimenView {
    SpecimenView {
        id: id.into(),
        side: side.into(),
        trials: trials
            .iter()
            .enumerate()
            .map(|(nth, number)| TrialView {
                number: (*number).into(),
                written: (nth == 1 && *number == "4.29").then(|| "38 in·lbf".into()),
                left_out: (*number == "5.9").then(|| "the clamp slipped".into()),
                left_out_language: None,
            })
            .collect(),
        mean: mean.into(),
        deviation: (trials.len() > 1).then(|| "0.06".into()),
    }
}

/// Key, label, what it is, unit, value, trials, mean.
type Row = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    FigureView,
    &'static [&'static str],
    &'static str,
);

fn quantities() -> Vec<QuantityView> {
    let mut list = Vec::new();
    let rows: [Row; 5] = [
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
    if at == 7 { withdrawn(at) } else { whole(at) }
}

/// A review that was taken back holds nothing but that it was.
fn withdrawn(at: usize) -> ReviewView {
    ReviewView {
        bench: Some("method/drift/".into()),
        alike: vec![AlternativeView {
            title: "Fennick & Vale Almanac 3".into(),
            path: "shoes/fennick-vale-almanac-3/".into(),
            difference: "23 g lighter".into(),
        }],
        suits: "The laboratory no longer stands by its figures, so none are shown.".into(),
        suits_language: None,
        summary: None,
        summary_language: None,
        lead: vec![],
        other: vec![],
        values: vec![],
        fits: vec![],
        advice: vec![],
        alternatives: vec![],
        quantities: vec![],
        curves: vec![],
        sessions: vec![],
        doubts: vec![],
        corrections: vec![],
        review_html: None,
        review_language: None,
        pdf: None,
        data: String::new(),
        withdrawn: Some(WithdrawnView {
            on: date("2026-11-20", "20 November 2026"),
            reason: "The specimen turned out to be a sample, not a shoe from a shop.".into(),
            reason_language: None,
        }),
        ..whole(at)
    }
}

fn whole(at: usize) -> ReviewView {
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
        bench: Some("method/drift/".into()),
        alike: vec![AlternativeView {
            title: "Fennick & Vale Almanac 3".into(),
            path: "shoes/fennick-vale-almanac-3/".into(),
            difference: "23 g lighter".into(),
        }],
        site: site(),
        head,
        suits: suits(at),
        suits_language: None,
        suits_by_editor: at == 1,
        summary_language: None,
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
                means_language: None,
                by_editor: false,
                provisional: false,
            },
            ValueView {
                key: "return".into(),
                label: "Return".into(),
                figure: None,
                not_judged: Some("energy return was not measured".into()),
                means: None,
                means_language: None,
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
                    text_language: None,
                    by_editor: false,
                    close: true,
                },
                AdviceView {
                    key: "soft-ground".into(),
                    weight: "note",
                    short: "Soft ground".into(),
                    text: "On soft ground the shoe may feel less certain than these numbers suggest.".into(),
                    text_language: None,
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
            side: "left".into(),
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
            accepted_language: None,
            reason: None,
            reason_language: None,
            accepted: Some("the control shoe read within its limits that day".into()),
        }] },
        corrections: if at == 1 { vec![] } else { vec![CorrectionView {
            versions: "rule set 3 → 4".into(),
            on: date("2026-11-26", "26 November 2026"),
            because_language: None,
            because: "Torsion points above 45 in·lbf moved after the autumn control measurements.".into(),
            changes: vec!["Torsion: medium → high".into(), "Platform: medium → high".into()],
        }] },
        review_language: None,
        review_html: Some("<p>The upper holds the heel without pinching, and the laces stay tied.</p>\n<h3>On the road</h3>\n<p>Over twenty kilometres it <em>kept its temper</em>; see <a href=\"https://harrow-lane.example/\">the lab</a>.</p>\n<ul><li>Runs true to size</li><li>Wide in the toe</li></ul>\n<blockquote><p>It goes where it is pointed.</p></blockquote>".into()),
        review_blocks: vec![],
        pdf: (at != 1).then(|| format!("{}review.pdf", shoe.path)),
        data: format!("{}data.json", shoe.path),
        withdrawn: None,
        qr: vec![],
        shoe,
    }
}
