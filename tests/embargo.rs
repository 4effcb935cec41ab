//! Drafts and held shoes leak nowhere: every byte of `out/` is searched for
//! everything that only they say, prints with their streams unpacked.

mod seal_support;

use seal_support::{Lab, small};
use std::process::Command;

/// Words that only the draft and the held shoe say, each unlike all others.
const SECRETS: [&str; 8] = [
    "zoetermeer-quagga-9",
    "Zoetermeer",
    "Quagga",
    "xylopyrography",
    "zibeline",
    "vlotbrug-okapi",
    "Vlotbrug",
    "Okapi",
];

fn shoe(maker: &str, model: &str, publish: &str, words: &str) -> String {
    format!(
        "# Invented, like every maker, shoe and reading here.\nschema: 1\nmaker: {maker}\nmodel: {model}\ncategory: road\n\
         size: {{system: mondopoint, value: 270}}\nprice: {{amount: 177.31, currency: EUR}}\n{publish}\
         formerly: [{maker_low}-elder]\n\
         specimens:\n  - id: SECRET-{model}\n    side: left\n    bought: {{on: 2026-10-02, how: retail}}\n    \
         session: {{on: 2026-11-18, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h}}\n    readings:\n      \
         mass: [262, 263, 262]\n      midfoot-torque: [4.3, 4.2, 4.25]\n      heel-compression: [6.12, 6.05, 6.17]\n      \
         rebound-travel: [13.1, 13.4, 13.3]\n      static-drop: 6.0\n      loaded-drop: [4.4, 4.5, 4.4]\n\
         summary: A shoe of {words}.\nreview: |\n  Only this review speaks of {words}.\nnotes: Not for {words}.\n",
        maker_low = maker.to_lowercase(),
    )
}

/// The small lab with a draft and a held shoe of makers nobody else has.
fn with_secrets() -> Lab {
    let lab = small();
    lab.write(
        "shoes/zoetermeer-quagga-9.yaml",
        &shoe("Zoetermeer", "Quagga", "", "xylopyrography"),
    );
    lab.write(
        "shoes/vlotbrug-okapi.yaml",
        &shoe("Vlotbrug", "Okapi", "publish: 2026-12-03\n", "zibeline"),
    );
    lab.write(
        "lab/shops/quay.csv",
        "maker,model\nFennick & Vale,Quarrel 2\nSomething else\n",
    );
    lab
}

/// A file's bytes, and of a print its text and its unpacked streams too.
fn readable(lab: &Lab, path: &str, bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut all = vec![bytes.to_vec()];
    if path.ends_with(".pdf") {
        let file = lab.path().join("out").join(path);
        for (tool, arguments) in [
            ("pdftotext", vec![file.to_str().unwrap(), "-"]),
            (
                "qpdf",
                vec![
                    "--qdf",
                    "--object-streams=disable",
                    file.to_str().unwrap(),
                    "-",
                ],
            ),
        ] {
            if let Ok(output) = Command::new(tool).args(arguments).output() {
                all.push(output.stdout);
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
    let folio = lab.folio();
    for (path, bytes) in &folio {
        for secret in SECRETS {
            assert!(!holds(path.as_bytes(), secret), "{secret} names {path}");
            for text in readable(lab, path, bytes) {
                assert!(!holds(&text, secret), "{secret} is in {path}");
            }
        }
    }
    folio.len()
}

#[test]
fn no_byte_of_the_folio_tells_of_a_draft_or_a_held_shoe() {
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
    assert!(search(&lab) > 30);
    // The day it comes out, it is found: the search finds what is there.
    lab.run(&["publish", "--as-of", "2026-12-03", "--pdf", "never"])
        .assert()
        .success();
    let folio = lab.folio();
    let found = folio
        .iter()
        .filter(|(_, bytes)| holds(bytes, "zibeline"))
        .count();
    assert!(found >= 2, "{found}");
    // And back again nothing of it stays, not in the press's own record either.
    lab.run(&["publish", "--as-of", "2026-11-28", "--pdf", "never"])
        .assert()
        .success();
    search(&lab);
}

#[test]
fn percentiles_counts_and_ranks_are_those_of_a_lab_without_them() {
    let with = with_secrets();
    let without = small();
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
    let (mut a, mut b) = (with.folio(), without.folio());
    for files in [&mut a, &mut b] {
        files.retain(|path, _| !path.starts_with(".solefolio/"));
    }
    assert!(a == b, "the folio differs by shoes that are not in it");
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
    assert!(folio.contains_key("shoes/vlotbrug-okapi/index.html"));
    assert!(folio.contains_key("shoes/zoetermeer-quagga-9/index.html"));
    let pages: Vec<_> = folio
        .iter()
        .filter(|(path, _)| path.ends_with(".html"))
        .collect();
    assert!(pages.len() > 15);
    for (path, bytes) in pages {
        assert!(
            holds(bytes, "draft"),
            "{path} does not say that it shows drafts"
        );
    }
    assert!(!holds(&folio["feed.xml"], "okapi"));
    // Taken back to what is out, they are gone.
    lab.run(&["publish", "--as-of", "2026-11-28", "--pdf", "never"])
        .assert()
        .success();
    search(&lab);
}
