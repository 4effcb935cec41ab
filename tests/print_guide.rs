//! The fit guide in print fits its sheets: at 10, 40 and 120 shoes, on A4 and on US
//! Letter, in common and in large print.
//!
//! Needs `typst` and poppler's `pdftotext`; without them the tests say so and pass,
//! unless `CI=true`.

mod print_support;

use print_support::{folder, left_out, reader, set, typesetter, view};
use std::collections::BTreeMap;
use std::fs;

/// A word on a sheet, in points from the sheet's upper left corner.
#[derive(Clone, Debug)]
struct Word {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
    text: String,
}

impl Word {
    fn high(&self) -> f64 {
        self.bottom - self.top
    }

    /// Whether two words stand on each other. Boxes of lines below each other touch.
    fn covers(&self, other: &Word) -> bool {
        let across = self.right.min(other.right) - self.left.max(other.left);
        let down = self.bottom.min(other.bottom) - self.top.max(other.top);
        across > 1.0 && down > 0.4 * self.high().min(other.high())
    }
}

/// A sheet of a print: its size and its words.
struct Sheet {
    wide: f64,
    high: f64,
    words: Vec<Word>,
}

impl Sheet {
    fn text(&self) -> String {
        let words = self.words.iter().map(|word| word.text.as_str());
        words.collect::<Vec<_>>().join(" ")
    }
}

/// The number of an attribute: `xMin="12.3"`.
fn number(tag: &str, name: &str) -> f64 {
    let after = tag
        .split(&format!("{name}=\""))
        .nth(1)
        .expect("it is there");
    let text = after.split('"').next().expect("its end");
    text.parse().expect("a number")
}

/// The sheets as an outside reader sees them.
fn sheets(bytes: &[u8]) -> Option<Vec<Sheet>> {
    let folder = folder();
    let path = folder.path().join("guide.pdf");
    fs::write(&path, bytes).expect("writable");
    let told = reader("pdftotext", &["-bbox", path.to_str()?, "-"])?;
    let told = String::from_utf8(told.stdout).expect("UTF-8");
    let pages = told.split("<page ").skip(1);
    let sheets = pages.map(|page| Sheet {
        wide: number(page, "width"),
        high: number(page, "height"),
        words: page
            .split("<word ")
            .skip(1)
            .map(|word| Word {
                left: number(word, "xMin"),
                top: number(word, "yMin"),
                right: number(word, "xMax"),
                bottom: number(word, "yMax"),
                text: word
                    .split(['>', '<'])
                    .nth(1)
                    .expect("a text")
                    .replace("&amp;", "&"),
            })
            .collect(),
    });
    Some(sheets.collect())
}

/// Room at the sides of a sheet, 20 mm in points; nothing stands in it.
const SIDE: f64 = 20.0 / 25.4 * 72.0;
/// What a desk's printer can't reach, about 5 mm in points.
const EDGE: f64 = 5.0 / 25.4 * 72.0;

fn fits(sheets: &[Sheet], place: &str) {
    for (at, sheet) in sheets.iter().enumerate() {
        let place = format!("{place}, sheet {}", at + 1);
        assert!(!sheet.words.is_empty(), "{place} is empty");
        for word in &sheet.words {
            let within = word.left > SIDE - 1.0
                && word.right < sheet.wide - SIDE + 1.0
                && word.top > EDGE
                && word.bottom < sheet.high - EDGE;
            assert!(within, "{place}: {word:?} runs off");
        }
        for (at, word) in sheet.words.iter().enumerate() {
            let other = sheet.words[..at].iter().find(|other| word.covers(other));
            assert!(other.is_none(), "{place}: {word:?} stands on {other:?}");
        }
    }
}

/// Every table's head stands again on every sheet that has rows of it.
fn has_heads(sheets: &[Sheet], view: &serde_json::Value, place: &str) {
    let texts: Vec<String> = sheets.iter().map(|sheet| bare(&sheet.text())).collect();
    let mut met: BTreeMap<String, usize> = BTreeMap::new();
    let mut met_on = vec![0; sheets.len()];
    for shoe in view["shoes"].as_array().expect("shoes") {
        let model = bare(shoe["shoe"]["model"].as_str().expect("a model"));
        let category = bare(shoe["shoe"]["category"].as_str().expect("a category"));
        let on: Vec<usize> = (0..texts.len())
            .filter(|at| parts(&texts[*at], &model) > 0)
            .collect();
        let times: usize = on.iter().map(|at| parts(&texts[*at], &model)).sum();
        *met.entry(model.clone()).or_default() = times;
        for at in on {
            met_on[at] += 1;
            assert!(
                texts[at].contains(&category),
                "{place}: sheet {} has {model} without its category",
                at + 1
            );
        }
    }
    assert!(met.values().all(|times| *times == 1), "{place}: {met:?}");
    for (at, met) in met_on.iter().enumerate().filter(|(_, met)| **met > 0) {
        let head = ["Pace", "Build", "Foot posture", "Neutral"];
        for name in head.map(bare) {
            let found = texts[at].to_lowercase().contains(&name.to_lowercase());
            assert!(
                found,
                "{place}: sheet {} has {met} shoes without `{name}`",
                at + 1
            );
        }
    }
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

/// How often a name stands in a text, but not as the beginning of a longer number.
fn parts(text: &str, name: &str) -> usize {
    text.match_indices(name)
        .filter(|(at, _)| {
            let next = text[at + name.len()..].chars().next();
            !next.is_some_and(|c| c.is_ascii_digit())
        })
        .count()
}

/// The shoes of a sample, numbered, so that no name stands in another's.
fn guide(shoes: usize, paper: &str) -> serde_json::Value {
    let mut view = view(&format!("guide-{shoes}"));
    view["site"]["paper"] = paper.into();
    for (at, shoe) in view["shoes"]
        .as_array_mut()
        .expect("shoes")
        .iter_mut()
        .enumerate()
    {
        let model = shoe["shoe"]["model"].as_str().expect("a model");
        let name = model.split(' ').next().expect("a word");
        shoe["shoe"]["model"] = format!("{name} {}", 1000 + at).into();
    }
    view
}

#[test]
fn a_guide_of_10_40_and_120_shoes_fits_its_sheets_on_both_papers_in_both_sizes() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    for (paper, wide, high) in [("a4", 841.89, 595.28), ("us-letter", 792.0, 612.0)] {
        for (template, most) in [("guide.typ", [2, 5, 10]), ("guide-large.typ", [5, 16, 42])] {
            for (shoes, most) in [10, 40, 120].into_iter().zip(most) {
                let place = format!("{template}, {shoes} shoes on {paper}");
                let view = guide(shoes, paper);
                let Some(sheets) = sheets(&set(&typesetter, template, &view)) else {
                    return;
                };
                for sheet in &sheets {
                    assert!((sheet.wide - wide).abs() < 0.1 && (sheet.high - high).abs() < 0.1);
                }
                println!("{place}: {} sheets", sheets.len());
                assert!(sheets.len() <= most, "{place}: {} sheets", sheets.len());
                fits(&sheets, &place);
                has_heads(&sheets, &view, &place);
                let all: String = sheets.iter().map(|sheet| bare(&sheet.text())).collect();
                for text in [
                    "OskeHolt(2024)",
                    "CornerShop,MillStreet",
                    "alicensedclinician",
                ] {
                    assert!(all.contains(text), "{place}: no `{text}`");
                }
            }
        }
    }
}

/// Sixteen points and more, everywhere on the sheet. A letter's box is about 1.2 times
/// its size high in the prints' serif.
#[test]
fn nothing_in_a_large_print_is_small() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    for drafts in [false, true] {
        let mut view = guide(40, "a4");
        view["site"]["drafts"] = drafts.into();
        let Some(sheets) = sheets(&set(&typesetter, "guide-large.typ", &view)) else {
            return;
        };
        fits(&sheets, "with drafts");
        for sheet in &sheets {
            for word in &sheet.words {
                assert!(word.high() >= 16.0 * 1.1, "{word:?}");
            }
            assert_eq!(sheet.text().contains("DRAFTS SHOWN"), drafts);
            assert!(sheet.text().contains("no real product is described"));
        }
    }
    // And in the common print much is.
    let Some(sheets) = sheets(&set(&typesetter, "guide.typ", &guide(40, "a4"))) else {
        return;
    };
    assert!(sheets[0].words.iter().any(|word| word.high() < 12.0));
}

/// Names of options and verdicts that are long words don't run into their neighbours.
#[test]
fn long_words_stay_in_their_columns() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let mut german = guide(40, "a4");
    german["site"]["language"] = "de".into();
    german["columns"] = serde_json::json!([
        "Stark supiniert",
        "Supiniert",
        "Neutral",
        "Überproniert",
        "Ausgeprägt überproniert",
    ]);
    for shoe in german["shoes"].as_array_mut().expect("shoes") {
        for verdict in shoe["columns"].as_array_mut().expect("verdicts") {
            verdict["words"] = "Einzelfallentscheidung".into();
        }
    }
    for template in ["guide.typ", "guide-large.typ"] {
        let Some(sheets) = sheets(&set(&typesetter, template, &german)) else {
            return left_out("pdftotext is not installed");
        };
        fits(&sheets, template);
    }
}
