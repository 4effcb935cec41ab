//! Views made up by hand, for looking at pages and for checking them without a
//! lab: invented shoes, every kind of absence, and hostile text wherever an
//! input could carry it.

mod across;
mod review;

use across::{
    compare, compare_data, feed, find, find_data, front, guide, method, plain_table, search,
    week_page, weeks,
};
pub use review::review;
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
        folio: "https://harrow-lane.example/".into(),
        contact: "desk@harrow-lane.example".into(),
        licence: LinkView {
            text: "Creative Commons Attribution 4.0".into(),
            href: "https://creativecommons.org/licenses/by/4.0/".into(),
        },
        as_of: date("2026-11-26", "26 November 2026"),
        protocol_version: 2,
        rules_version: 4,
        caution: "Findings describe shoes, not people. Pain, injury or numbness is a matter for a licensed clinician; no shoe can promise to prevent or cure it.".into(),
        pages: Vec::new(),
        paper: "a4",
    }
}

fn head(path: &str, title: &str) -> HeadView {
    HeadView {
        image: None,
        title: title.into(),
        description: format!(
            "{title}: measured on the bench, with the uncertainty of every figure."
        ),
        root: "../".repeat(path.matches('/').count()),
        top: "../".repeat(path.matches('/').count()),
        languages: Vec::new(),
        path: path.into(),
        pages: Vec::new(),
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
        released: (!at.is_multiple_of(3)).then(|| "March 2026".into()),
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
        suits_language: None,
        summary_language: None,
        summary: at.is_multiple_of(2).then(|| {
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
            value(&compare_data(shoes)),
        ),
        (
            "compare/all/index.html".into(),
            "compare-all.html",
            value(&plain_table(shoes)),
        ),
        ("find/index.html".into(), "find.html", value(&find())),
        ("find/data.js".into(), "find-data.js", value(&find_data())),
        (
            "search/index.html".into(),
            "search.html",
            value(&PlainView {
                site: site(),
                head: head("search/", "Search"),
            }),
        ),
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
                        alternates: Vec::new(),
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
