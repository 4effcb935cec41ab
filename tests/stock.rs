//! A shop's list makes a fit guide of just its shoes, and lists the others as not
//! measured.

mod seal_support;

use seal_support::{Lab, demo, small};
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

/// Ten of the shop's shoes and their print: on both papers it fits its sheet.
#[test]
fn the_print_of_a_stock_fits_its_sheet_on_both_papers() {
    if Command::new("typst").arg("--version").output().is_err() {
        eprintln!("typst is not installed; the print is not made");
        return;
    }
    for (paper, size) in [("a4", "595.276 x 841.89"), ("us-letter", "612 x 792")] {
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
        let pdf = lab.path().join("out/guide/guide.pdf");
        assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-"));
        if let Ok(info) = Command::new("pdfinfo").arg(&pdf).output() {
            let info = String::from_utf8_lossy(&info.stdout).into_owned();
            let turned = {
                let (wide, high) = size.split_once(" x ").unwrap();
                format!("{high} x {wide}")
            };
            assert!(
                info.contains(size) || info.contains(&turned),
                "{paper}: {info}"
            );
        }
        if let Ok(text) = Command::new("pdftotext").arg(&pdf).arg("-").output() {
            let text = String::from_utf8_lossy(&text.stdout).into_owned();
            assert!(
                text.contains("Quarrel 2") && text.contains("Lamplighter"),
                "{text}"
            );
        }
    }
}
