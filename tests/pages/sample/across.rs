//! Pages across shoes, made up.

use super::*;
use std::collections::BTreeSet;

/// The comparison of so many shoes, for its page's script.
pub fn compare_data(shoes: usize) -> CompareDataView {
    let mut columns: Vec<ColumnView> = LEAD
        .iter()
        .map(|(key, label)| ColumnView {
            key: (*key).into(),
            label: (*label).into(),
            kind: "band",
            unit: None,
            places: 1,
            bands: BANDS.map(Into::into).to_vec(),
        })
        .collect();
    columns.push(ColumnView {
        key: "pace".into(),
        label: "Pace".into(),
        kind: "band",
        unit: None,
        places: 1,
        bands: TIERS.map(Into::into).to_vec(),
    });
    columns.push(ColumnView {
        key: "drop-kept".into(),
        label: "Drop kept under load".into(),
        kind: "value",
        unit: Some("%".into()),
        places: 1,
        bands: vec![],
    });
    columns.push(ColumnView {
        key: "mass".into(),
        label: "Mass".into(),
        kind: "quantity",
        unit: Some("g".into()),
        places: 1,
        bands: vec![],
    });
    let absent = CellView {
        text: None,
        sort: None,
        spread: None,
        band_index: None,
        borderline: false,
    };
    let rows: Vec<CompareRowView> = (0..shoes)
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
    let makers: BTreeSet<String> = rows.iter().map(|row| row.shoe.maker.clone()).collect();
    CompareDataView {
        head: head("compare/", "All shoes compared"),
        columns,
        categories: CATEGORIES
            .map(|(key, name)| (key.into(), name.into()))
            .to_vec(),
        makers: makers.into_iter().collect(),
        currency: Some("EUR".into()),
        shoes,
        long: LONG,
        rows,
    }
}

/// More shoes than this are not all in the page.
const LONG: usize = 200;

/// The page of the same.
pub fn compare(shoes: usize) -> CompareView {
    let mut data = compare_data(shoes);
    data.rows.truncate(if shoes > LONG { 32 } else { shoes });
    CompareView {
        sorted: Vec::new(),
        site: site(),
        shoes,
        long: shoes > LONG,
        rows: data.rows,
        head: data.head,
        columns: data.columns,
        categories: data.categories,
    }
}

/// The plain table of the same.
pub fn plain_table(shoes: usize) -> PlainTableView {
    let data = compare_data(shoes);
    let plain = |row: &CompareRowView| PlainRowView {
        title: row.shoe.title.clone(),
        path: row.shoe.path.clone(),
        category: row.shoe.category.clone(),
        price: row.shoe.price.clone(),
        cells: row.cells.iter().map(|cell| cell.text.clone()).collect(),
    };
    PlainTableView {
        site: site(),
        head: head("compare/all/", "All shoes in a plain table"),
        rows: data.rows.iter().map(plain).collect(),
        columns: data.columns,
    }
}

pub fn guide() -> GuideView {
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
        pdf_large: Some("guide/guide-large.pdf".into()),
        qr: Vec::new(),
        stock: Some("Corner Shop".into()),
        not_measured: vec!["Some other shoe".into(), HOSTILE.into()],
    }
}

pub fn find() -> FindView {
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
    }
}

pub fn find_data() -> FindDataView {
    FindDataView {
        page: find(),
        shoes: (0..36)
            .map(|at| FindShoeView {
                shoe: shoe(at),
                suits: suits(at),
                rows: (0..3).map(|row| verdict(at, row)).collect(),
                columns: (0..5).map(|column| verdict(at, 10 + column)).collect(),
                pace: Some(pace(at)),
                bands: (0..5).map(|finding| entry_band(at, finding)).collect(),
                cautions: if at.is_multiple_of(4) {
                    vec!["low drop under load".into()]
                } else {
                    vec![]
                },
                provisional: at == 0,
            })
            .collect(),
    }
}

pub fn search() -> SearchDataView {
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
    SearchDataView {
        head: head("search/", "Search"),
        entries,
    }
}

pub fn weeks() -> Vec<WeekLinkView> {
    vec![
        week(48, "23 to 29 November 2026", 6),
        week(47, "16 to 22 November 2026", 1),
        week(46, "9 to 15 November 2026", 5),
    ]
}

pub fn week_page(at: usize) -> WeekView {
    let weeks = weeks();
    WeekView {
        site: site(),
        head: head(&weeks[at].path, &format!("The shoes of {}", weeks[at].days)),
        shoes: (at * 5..at * 5 + 6).map(entry).collect(),
        previous: weeks.get(at + 1).cloned(),
        next: at.checked_sub(1).map(|next| weeks[next].clone()),
        pdf: Some(format!("{}week.pdf", weeks[at].path)),
        measured: "Some shoes were measured and reviewed.".into(),
        week: weeks[at].clone(),
    }
}

pub fn method() -> MethodView {
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
        kind: "scale".into(),
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
        statistics: vec![StatisticView {
            name: "Expanded uncertainty".into(),
            plain: "The number after ± is wide enough.".into(),
            symbols: "U = k·u".into(),
            source: "JCGM 100:2008, 6.2".into(),
        }],
        bench: None,
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
        history: vec![(4, date("2026-11-01", "1 November 2026"), "Torsion points above 45 in·lbf moved.".into(), None)],
        corrections: vec![(
            LinkView {
                text: shoe(0).title,
                href: shoe(0).path,
            },
            CorrectionView {
                versions: "rule set 3 → 4".into(),
                on: date("2026-11-26", "26 November 2026"),
                because: "Torsion points moved.".into(),
                because_language: None,
                changes: vec!["Torsion: medium → high".into()],
            },
        )],
    }
}

pub fn front() -> FrontView {
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

pub fn feed() -> FeedView {
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
                    summary_language: None,
                    content_html: "<p>Torsion: high &amp; sure.</p>".into(),
                }
            })
            .collect(),
    }
}
