//! Drafts and held shoes leak nowhere: every byte of `out/` is searched for
//! everything that only they say, in every language, prints with their streams
//! unpacked.
//!
//! Needs `typst`, poppler's `pdftotext` and `pdfinfo`, and `qpdf` for the prints;
//! without them the test says so and searches the rest, unless `CI=true`.

mod seal_support;

use seal_support::{Lab, left_out, small_in_all_languages, typst};
use std::process::Command;

/// Words that only the draft and the held shoe say, each unlike all others: their
/// addresses, makers, models and specimens, and what was written of them in the
/// lab's language and in the second one.
const SECRETS: [&str; 12] = [
    "zoetermeer-quagga-9",
    "Zoetermeer",
    "Quagga",
    "xylopyrography",
    "Xylopyrographie",
    "zibeline",
    "Zibelinenfell",
    "vlotbrug-okapi",
    "Vlotbrug",
    "Okapi",
    "177.31",
    "177,31",
];

fn shoe(maker: &str, model: &str, publish: &str, words: &str, german: &str) -> String {
    format!(
        "# Invented, like every maker, shoe and reading here.\nschema: 1\nmaker: {maker}\nmodel: {model}\ncategory: road\n\
         size: {{system: mondopoint, value: 270}}\nprice: {{amount: 177.31, currency: EUR}}\n{publish}\
         formerly: [{maker_low}-elder]\n\
         specimens:\n  - id: SECRET-{model}\n    side: left\n    bought: {{on: 2026-10-02, how: retail}}\n    \
         session: {{on: 2026-11-18, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h}}\n    readings:\n      \
         mass: [262, 263, 262]\n      midfoot-torque: [4.3, 4.2, 4.25]\n      heel-compression: [6.12, 6.05, 6.17]\n      \
         rebound-travel: [13.1, 13.4, 13.3]\n      static-drop: 6.0\n      loaded-drop: [4.4, 4.5, 4.4]\n\
         summary: A shoe of {words}.\nreview: |\n  Only this review speaks of {words}.\nnotes: Not for {words}.\n\
         translations:\n  de:\n    summary: Ein Schuh mit {german}.\n    review: Nur dieser Bericht nennt {german}.\n",
        maker_low = maker.to_lowercase(),
    )
}

/// A lab with a draft and a held shoe of makers nobody else has.
fn with_secrets() -> Lab {
    let lab = small_in_all_languages();
    lab.write(
        "shoes/zoetermeer-quagga-9.yaml",
        &shoe(
            "Zoetermeer",
            "Quagga",
            "",
            "xylopyrography",
            "Xylopyrographie",
        ),
    );
    lab.write(
        "shoes/vlotbrug-okapi.yaml",
        &shoe(
            "Vlotbrug",
            "Okapi",
            "publish: 2026-12-03\n",
            "zibeline",
            "Zibelinenfell",
        ),
    );
    lab.write(
        "lab/shops/quay.csv",
        "maker,model\nFennick & Vale,Quarrel 2\nSomething else\n",
    );
    lab
}

/// A file's bytes, and of a print its text, its head and its unpacked streams too.
fn readable(lab: &Lab, path: &str, bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut all = vec![bytes.to_vec()];
    if path.ends_with(".pdf") {
        let file = lab.path().join("out").join(path);
        let file = file.to_str().unwrap();
        for (tool, arguments) in [
            ("pdftotext", vec![file, "-"]),
            ("pdfinfo", vec![file]),
            ("qpdf", vec!["--qdf", "--object-streams=disable", file, "-"]),
        ] {
            match Command::new(tool).args(arguments).output() {
                Ok(output) => all.push(output.stdout),
                Err(error) => left_out(&format!("{tool}: {error}")),
            }
        }
    }
    all
}

fn holds(haystack: &[u8], needle: &str) -> bool {
    let low: Vec<u8> = haystack.to_ascii_lowercase();
    let needle = needle.to_ascii_lowercase();
    low.windows(needle.len())
        .any(|some| some == needle.as_bytes())
}

fn search(lab: &Lab) -> usize {
    let out = lab.out();
    for (path, bytes) in &out {
        for secret in SECRETS {
            assert!(!holds(path.as_bytes(), secret), "{secret} names {path}");
            for text in readable(lab, path, bytes) {
                assert!(!holds(&text, secret), "{secret} is in {path}");
            }
        }
    }
    out.len()
}

/// Files in the folio that hold a word.
fn with_word(lab: &Lab, word: &str) -> Vec<String> {
    let folio = lab.folio().into_iter();
    folio
        .filter(|(_, bytes)| holds(bytes, word))
        .map(|(path, _)| path)
        .collect()
}

#[test]
fn no_byte_of_the_folio_tells_of_a_draft_or_a_held_shoe_in_any_language() {
    if typst().is_none() {
        left_out("typst is not installed; no print is searched");
    }
    let lab = with_secrets();
    lab.run(&[
        "publish",
        "--as-of",
        "2026-11-28",
        "--pdf",
        "auto",
        "--stock",
        "quay",
    ])
    .assert()
    .success();
    assert!(search(&lab) > 60);
    let folio = lab.folio();
    for kind in [
        "de/index.html",
        "de/search/data.js",
        "de/find/data.js",
        "de/feed.xml",
        "sitemap.xml",
        "data/folio.json",
    ] {
        assert!(folio.contains_key(kind), "{kind} was searched");
    }
    if typst().is_some() {
        for print in ["guide/guide.pdf", "de/weeks/2026-w48/week.pdf"] {
            assert!(folio.contains_key(print), "{print} was searched");
        }
    }
    // The day it comes out, it is found: the search finds what is there.
    lab.run(&["publish", "--as-of", "2026-12-03", "--pdf", "never"])
        .assert()
        .success();
    assert!(with_word(&lab, "zibeline").len() >= 2);
    let german = with_word(&lab, "Zibelinenfell");
    assert!(
        german.len() >= 2 && german.iter().all(|path| path.starts_with("de/")),
        "{german:?}"
    );
    for kind in ["de/search/", "de/feed.xml", "sitemap", "data/folio.json"] {
        let found = with_word(&lab, "okapi");
        assert!(
            found.iter().any(|path| path.starts_with(kind)),
            "{kind}: {found:?}"
        );
    }
    // And back again nothing of it stays, not in the press's own record either.
    lab.run(&["publish", "--as-of", "2026-11-28", "--pdf", "never"])
        .assert()
        .success();
    search(&lab);
}

#[test]
fn percentiles_counts_and_ranks_are_those_of_a_lab_without_them() {
    let with = with_secrets();
    let without = small_in_all_languages();
    without.write("lab/shops/quay.csv", &with.text("lab/shops/quay.csv"));
    for lab in [&with, &without] {
        lab.run(&[
            "publish",
            "--as-of",
            "2026-11-28",
            "--pdf",
            "never",
            "--stock",
            "quay",
        ])
        .assert()
        .success();
    }
    let same = with.folio() == without.folio();
    assert!(same, "the folio differs by shoes that are not in it");
}

#[test]
fn a_shops_list_does_not_tell_which_shoes_are_held_back() {
    let lab = with_secrets();
    lab.write("lab/shops/quay.csv", "Vlotbrug Okapi\nNobody's Shoe\n");
    lab.run(&[
        "publish",
        "--as-of",
        "2026-11-28",
        "--pdf",
        "never",
        "--stock",
        "quay",
    ])
    .assert()
    .success();
    let guide = lab.text("out/guide/index.html");
    assert!(guide.contains("Vlotbrug Okapi"), "in the shop's own words");
    assert!(!guide.contains("vlotbrug-okapi"));
}

/// What the notice of drafts says on pages and on prints, in both languages.
const NOTICES: [(&str, &str, &str); 2] = [
    ("", "Draft edition: it holds reviews", "DRAFTS SHOWN"),
    ("de/", "Entwurfsausgabe: Sie enthält", "MIT ENTWÜRFEN"),
];

#[test]
fn with_drafts_they_are_in_it_and_every_page_says_so() {
    let lab = with_secrets();
    lab.run(&[
        "publish",
        "--as-of",
        "2026-11-28",
        "--pdf",
        "never",
        "--drafts",
    ])
    .assert()
    .success();
    let folio = lab.folio();
    for (tag, notice, _) in NOTICES {
        assert!(folio.contains_key(&format!("{tag}shoes/vlotbrug-okapi/index.html")));
        assert!(folio.contains_key(&format!("{tag}shoes/zoetermeer-quagga-9/index.html")));
        let pages: Vec<_> = folio
            .iter()
            .filter(|(path, _)| {
                path.ends_with(".html") && path.starts_with("de/") != tag.is_empty()
            })
            .collect();
        assert!(pages.len() > 15);
        for (path, bytes) in pages {
            let says = String::from_utf8_lossy(bytes).contains(notice);
            assert!(says, "{path} does not say that it shows drafts");
        }
        assert!(!holds(&folio[&format!("{tag}feed.xml")], "okapi"));
    }
    // Taken back to what is out, they are gone.
    lab.run(&["publish", "--as-of", "2026-11-28", "--pdf", "never"])
        .assert()
        .success();
    search(&lab);
}

/// Every sheet of every print, for sheets get parted.
#[test]
fn with_drafts_every_sheet_of_every_print_says_so_and_without_them_none_does() {
    if typst().is_none() {
        return left_out("typst is not installed");
    }
    let lab = with_secrets();
    for drafts in [true, false] {
        let mut arguments = vec!["publish", "--as-of", "2026-11-28", "--pdf", "require"];
        arguments.extend(drafts.then_some("--drafts"));
        lab.run(&arguments).assert().success();
        let folio = lab.folio();
        let prints = folio.keys().filter(|path| path.ends_with(".pdf"));
        let mut sheets = 0;
        for path in prints {
            let file = lab.path().join("out").join(path);
            let Ok(text) = Command::new("pdftotext").arg(file).arg("-").output() else {
                return left_out("pdftotext is not installed");
            };
            let text = String::from_utf8_lossy(&text.stdout).into_owned();
            let german = path.starts_with("de/");
            let (_, _, notice) = NOTICES[usize::from(german)];
            // A form feed ends each sheet.
            for sheet in text.split_terminator('\u{c}') {
                assert_eq!(sheet.contains(notice), drafts, "{path}: {sheet}");
                sheets += 1;
            }
        }
        assert!(sheets > 40, "{sheets} sheets");
    }
}
