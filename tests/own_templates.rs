//! Templates of a lab's own: single ones replaced, pages added, mistakes told.

#[path = "common/tools.rs"]
mod tools;

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;
use tools::{is_there, left_out, typst};

fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

struct Lab(TempDir);

impl Lab {
    /// The demo's lab with its first shoes, nothing sealed, and templates of its own.
    fn with(templates: &[(&str, &str)]) -> Lab {
        let lab = Lab(tempfile::tempdir().unwrap());
        fs::create_dir_all(lab.path("lab")).unwrap();
        fs::create_dir_all(lab.path("shoes")).unwrap();
        for name in ["lab", "protocol", "instruments", "rules", "phrases"] {
            let file = format!("lab/{name}.yaml");
            fs::copy(project().join(&file), lab.path(&file)).unwrap();
        }
        for name in ["lindqvarn-tussock", "ostrell-gantry-2"] {
            let file = format!("shoes/{name}.yaml");
            fs::copy(project().join(&file), lab.path(&file)).unwrap();
        }
        for (name, text) in templates {
            let file = lab.path("templates").join(name);
            fs::create_dir_all(file.parent().unwrap()).unwrap();
            fs::write(file, text).unwrap();
        }
        lab
    }

    fn path(&self, file: &str) -> PathBuf {
        self.0.path().join(file)
    }

    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.path(file)).unwrap_or_else(|error| panic!("{file}: {error}"))
    }

    fn publish(&self, pdf: &str) -> (i32, Value) {
        let output = Command::new(env!("CARGO_BIN_EXE_solefolio"))
            .args([
                "--root",
                self.0.path().to_str().unwrap(),
                "--format",
                "json",
            ])
            .args(["publish", "--as-of", "2026-11-30", "--pdf", pdf])
            .output()
            .unwrap();
        let printed = String::from_utf8(output.stdout).unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        let value = serde_json::from_str(&printed)
            .unwrap_or_else(|error| panic!("{error}: {printed}{said}"));
        (output.status.code().unwrap(), value)
    }
}

/// The page that the guide to own pages shows.
fn of_the_guide() -> String {
    let guide = include_str!("../docs/own-pages.md");
    let block = guide.split("```text\n").nth(1).expect("a block");
    block.split("```").next().expect("its end").to_owned()
}

#[test]
fn the_guides_page_is_made_for_each_shoe_and_linked_from_its_review() {
    let lab = Lab::with(&[("html/pages/bench.html", &of_the_guide())]);
    let (code, report) = lab.publish("never");
    assert_eq!(code, 0, "{report:#}");
    let page = lab.read("out/shoes/lindqvarn-tussock/bench.html");
    for part in [
        "Lindqvarn Tussock on the bench",
        "Midfoot torque:",
        "N·m",
        "../../static/folio.css",
    ] {
        assert!(page.contains(part), "{part} in {page}");
    }
    let review = lab.read("out/shoes/lindqvarn-tussock/index.html");
    assert!(
        review.contains("bench.html\">Readings on one page</a>"),
        "{review}"
    );
    assert!(!lab.read("out/sitemap.xml").contains("bench.html"));
}

#[test]
fn pages_of_a_week_and_of_the_folio_are_in_navigation_and_sitemap_as_they_say() {
    let lab = Lab::with(&[
        (
            "html/pages/lightest.html",
            "{#- page\nviews: 1\nmade-for: once\naddress: lightest/\ntitle: The lightest\nnav: Lightest\n-#}\n{% extends \"base.html\" %}{% block content %}<h1>{{ head.title }}</h1><ul>{% for row in rows %}<li>{{ row.shoe.title }}</li>{% endfor %}</ul>{% endblock %}\n",
        ),
        (
            "html/pages/list.txt",
            "{#- page\nviews: 1\nmade-for: each-week\naddress: weeks/{week}/list.txt\ntitle: \"{title}\"\nnav: As a list\n-#}\n{% for entry in shoes %}{{ entry.shoe.slug }}\n{% endfor %}",
        ),
    ]);
    let (code, report) = lab.publish("never");
    assert_eq!(code, 0, "{report:#}");
    let page = lab.read("out/lightest/index.html");
    assert!(
        page.contains("Lindqvarn Tussock") && page.contains("Ostrell Gantry"),
        "{page}"
    );
    assert!(
        lab.read("out/method/index.html")
            .contains("../lightest/index.html")
    );
    assert!(lab.read("out/sitemap.xml").contains("/lightest/</loc>"));
    assert!(
        lab.read("out/weeks/2026-w48/list.txt")
            .contains("lindqvarn-tussock")
    );
    assert!(
        lab.read("out/weeks/2026-w48/index.html")
            .contains("As a list")
    );
}

#[test]
fn a_mistake_names_file_line_the_missing_value_and_what_there_is() {
    let page = of_the_guide().replace("quantity.figure.number", "quantity.figure.numbre");
    let line = page
        .lines()
        .position(|line| line.contains("numbre"))
        .unwrap()
        + 1;
    let lab = Lab::with(&[("html/pages/bench.html", &page)]);
    let (code, problems) = lab.publish("never");
    assert_eq!(code, 1);
    let problem = &problems
        .as_array()
        .or(problems["problems"].as_array())
        .unwrap()[0];
    assert_eq!(problem["code"], "template-value", "{problems:#}");
    assert_eq!(problem["file"], "templates/html/pages/bench.html");
    let told = problem.to_string();
    assert!(told.contains(&format!("\"line\":{line}")), "{told}");
    for part in ["`numbre`", "did you mean `number`?", "unit"] {
        assert!(told.contains(part), "{part} in {told}");
    }
    assert!(!lab.path("out/index.html").exists());

    let header = of_the_guide().replace("made-for", "made-four");
    let lab = Lab::with(&[("html/pages/bench.html", &header)]);
    let (code, problems) = lab.publish("never");
    assert_eq!(code, 1);
    let told = problems.to_string();
    assert!(
        told.contains("made-for") && told.contains("\"line\":3"),
        "{told}"
    );
}

#[test]
fn a_page_where_the_folio_has_one_is_refused() {
    let page = of_the_guide().replace("bench.html", "index.html");
    let lab = Lab::with(&[("html/pages/bench.html", &page)]);
    let (code, problems) = lab.publish("never");
    assert_eq!(code, 1);
    assert!(
        problems.to_string().contains("sheets-collide"),
        "{problems:#}"
    );
}

#[test]
fn a_single_page_part_or_static_file_is_replaced_and_all_else_stays() {
    let built_in = project().join("templates/html/404.html");
    let built_in = fs::read_to_string(built_in).unwrap();
    let missing = built_in.replace("</h1>", "</h1>\n<p>Mislaid.</p>");
    assert_ne!(missing, built_in);
    let lab = Lab::with(&[
        ("html/404.html", &missing),
        ("html/static/folio.css", "body{color:black}\n"),
    ]);
    let (code, report) = lab.publish("never");
    assert_eq!(code, 0, "{report:#}");
    assert!(lab.read("out/404.html").contains("Mislaid."));
    assert_eq!(lab.read("out/static/folio.css"), "body{color:black}");
    assert!(lab.read("out/index.html").contains("static/folio.css"));
}

#[test]
fn a_single_print_is_replaced() {
    if typst().is_none() || !is_there("pdftotext") {
        return left_out("typst or pdftotext is not installed");
    }
    let built_in = fs::read_to_string(project().join("templates/print/guide.typ")).unwrap();
    let text = built_in.replace("\"Ask the customer\"", "\"Ask them kindly\"");
    assert_ne!(text, built_in);
    let lab = Lab::with(&[("print/guide.typ", &text)]);
    let (code, report) = lab.publish("require");
    assert_eq!(code, 0, "{report:#}");
    let output = Command::new("pdftotext")
        .arg(lab.path("out/guide/guide.pdf"))
        .arg("-")
        .output()
        .unwrap();
    assert!(String::from_utf8_lossy(&output.stdout).contains("Ask them kindly"));
    assert!(lab.path("out/shoes/lindqvarn-tussock/review.pdf").exists());
}
