//! A shop's list makes a fit guide of just its shoes, and lists the others as not
//! measured.

mod seal_support;

use seal_support::{Lab, demo, left_out, small, typst};
use std::process::Command;

fn guide(lab: &Lab, stock: &str) -> String {
    lab.run(&[
        "publish",
        "--as-of",
        "2026-11-28",
        "--pdf",
        "never",
        "--stock",
        stock,
    ])
    .assert()
    .success();
    lab.text("out/guide/index.html")
}

#[test]
fn a_list_of_the_labs_own_is_named_by_its_shop() {
    let lab = demo();
    let by_name = guide(&lab, "north-quay");
    assert!(by_name.contains("Quarrel 2") && by_name.contains("Postbag 9"));
    assert!(
        !by_name.contains("Brackenlow 2"),
        "the shop does not have it"
    );
    assert!(
        by_name.contains("Mirrelton Weathercock 1") && by_name.contains("Quillmoor Lamplighter")
    );
    assert!(!by_name.contains("size run"), "a heading is no shoe");
    for other in ["lab/shops/north-quay.csv", "north-quay.csv"] {
        assert_eq!(guide(&lab, other), by_name, "{other}");
    }
    lab.run(&["publish", "--stock", "no-such-shop"])
        .assert()
        .code(4);
}

#[test]
fn addresses_titles_and_cells_in_any_case_name_a_shoe() {
    let lab = small();
    lab.write(
        "list.txt",
        "\u{feff}fennick-vale-quarrel-2\nTARNBECK: nothing\n\"Lindqvarn\";\"Tussock\"\n# a remark\n\n",
    );
    let guide = guide(&lab, lab.path().join("list.txt").to_str().unwrap());
    assert!(guide.contains("Quarrel 2") && guide.contains("Tussock"));
    assert!(guide.contains("TARNBECK: nothing"));
    assert!(!guide.contains("Clough"));
}

#[test]
fn a_list_that_changes_is_noticed() {
    let lab = small();
    lab.write("lab/shops/quay.txt", "Lindqvarn Tussock\n");
    assert!(!guide(&lab, "quay").contains("Quarrel 2"));
    lab.write(
        "lab/shops/quay.txt",
        "Lindqvarn Tussock\nFennick & Vale Quarrel 2\n",
    );
    assert!(guide(&lab, "quay").contains("Quarrel 2"));
}

/// The shop's shoes in print, common and large, are on the lab's paper; how guides of
/// any length fit their sheets is `print_guide.rs`.
#[test]
fn the_prints_of_a_stock_are_of_its_shoes_on_both_papers() {
    if typst().is_none() {
        return left_out("typst is not installed");
    }
    for (paper, size) in [("a4", "841.89 x 595.276"), ("us-letter", "792 x 612")] {
        let lab = demo();
        lab.edit("lab/lab.yaml", "paper: a4 ", &format!("paper: {paper} "));
        lab.run(&[
            "publish",
            "--as-of",
            "2026-11-28",
            "--pdf",
            "require",
            "--stock",
            "north-quay",
            "--only",
            "guide/*",
        ])
        .assert()
        .success();
        let page = lab.text("out/guide/index.html");
        for print in ["guide.pdf", "guide-large.pdf"] {
            assert!(
                page.contains(&format!("href=\"{print}\""))
                    || page.contains(&format!("/guide/{print}\"")),
                "{print}"
            );
            let pdf = lab.path().join("out/guide").join(print);
            assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-"));
            let read = |tool: &str, more: &[&str]| {
                let output = Command::new(tool).arg(&pdf).args(more).output();
                output.map(|output| String::from_utf8_lossy(&output.stdout).into_owned())
            };
            let (Ok(info), Ok(text)) = (read("pdfinfo", &[]), read("pdftotext", &["-"])) else {
                return left_out("pdfinfo and pdftotext are not installed");
            };
            assert!(info.contains(size), "{paper}: {info}");
            for told in [
                "Quarrel 2",
                "Postbag 9",
                "Lamplighter",
                "Weathercock 1",
                "north-quay",
            ] {
                assert!(text.contains(told), "{print}: {told}: {text}");
            }
            assert!(!text.contains("Brackenlow"), "the shop does not have it");
        }
    }
}

/// Large print is the lab's choice; without it there is none, and no page leads there.
#[test]
fn a_lab_that_wants_no_large_print_has_none() {
    let lab = small();
    lab.edit("lab/lab.yaml", "large-print: true", "large-print: false");
    lab.run(&["proof", "--as-of", "2026-11-28"])
        .assert()
        .success();
    if typst().is_none() {
        return left_out("typst is not installed");
    }
    lab.run(&[
        "publish",
        "--as-of",
        "2026-11-28",
        "--pdf",
        "require",
        "--only",
        "guide/*",
    ])
    .assert()
    .success();
    let page = lab.text("out/guide/index.html");
    assert!(page.contains("guide.pdf") && !page.contains("guide-large.pdf"));
    assert!(lab.path().join("out/guide/guide.pdf").exists());
    assert!(!lab.path().join("out/guide/guide-large.pdf").exists());
}
