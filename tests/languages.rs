//! A second language: its files, its pages and prints, and that nothing is said
//! past it.

mod seal_support;

use seal_support::{Lab, in_all_languages, small_in_all_languages};
use solefolio::files::Root;
use solefolio::gather::{gather, read_templates};
use solefolio::press::{Bindery, Renderer};
use solefolio::words::{TEXTS, scan};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

const WORDS: &str = "lab/languages/de/words.yaml";
const DAY: &str = "2026-11-26";

fn root_of(lab: &Lab) -> Root {
    Root::open(lab.path()).expect("the lab is a folder")
}

/// The codes of all problems, and the program's exit code.
fn codes(lab: &Lab) -> BTreeSet<String> {
    let problems = lab.json(&["proof", "--as-of", DAY]);
    let list = problems.as_array().expect("a list of problems");
    list.iter()
        .map(|problem| problem["code"].as_str().expect("a code").to_owned())
        .collect()
}

fn publish(lab: &Lab, more: &[&str]) {
    let mut arguments = vec!["publish", "--as-of", DAY, "--pdf", "never"];
    arguments.extend(more);
    lab.run(&arguments).assert().success();
}

// --- Nothing is said past `say` ---------------------------------------------------

fn files(folder: &Path, endings: &[&str]) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(files(&path, endings));
        } else if path
            .extension()
            .is_some_and(|end| endings.iter().any(|wanted| end == *wanted))
        {
            found.push(path);
        }
    }
    found.sort();
    found
}

fn source(below: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(below)
}

/// A text without what stands between two signs.
fn without(text: &str, open: &str, close: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once(open) {
        out.push_str(before);
        out.push('\u{1}');
        rest = after.split_once(close).map_or("", |(_, after)| after);
    }
    out + rest
}

fn has_word(text: &str) -> bool {
    text.split(|c: char| !c.is_alphabetic())
        .any(|word| word.chars().count() > 1)
}

/// Names of formats and of what a template's block is called, which are the same in
/// every language.
const SAME_EVERYWHERE: [&str; 7] = [
    "CSV", "JSON", "PDF", "SHA-256", "article", "website", "doctype",
];

#[test]
fn a_page_template_holds_no_bare_text() {
    let mut bare = Vec::new();
    for path in files(&source("templates/html"), &["html"]) {
        let text = std::fs::read_to_string(&path).expect("a template");
        let text = without(
            &without(&without(&text, "{#", "#}"), "{{", "}}"),
            "{%",
            "%}",
        );
        let shown = without(&text, "<", ">");
        let attributes = ["aria-label=\"", "title=\"", "alt=\"", "placeholder=\""];
        let attributes = attributes.iter().flat_map(|name| {
            text.split(name)
                .skip(1)
                .filter_map(|rest| rest.split('"').next())
        });
        for piece in shown.split('\u{1}').chain(attributes) {
            let piece = SAME_EVERYWHERE
                .iter()
                .fold(piece.to_owned(), |piece, same| piece.replace(same, ""));
            if has_word(&piece) {
                bare.push(format!("{}: {}", path.display(), piece.trim()));
            }
        }
    }
    assert!(
        bare.is_empty(),
        "write it as {{{{ \"…\" | say }}}}:\n{}",
        bare.join("\n")
    );
}

/// Whether a literal reads like words for people: two in a row in small letters.
fn reads_like_words(text: &str) -> bool {
    let small = |word: &&str| word.chars().count() > 1 && word.chars().all(|c| c.is_lowercase());
    let words: Vec<&str> = text.split(' ').collect();
    words.windows(2).any(|pair| {
        pair.iter()
            .all(|word| small(&word.trim_matches([',', '.', ';', ':'])))
    })
}

/// Names of classes, and what tells the typesetter to set a sheet again.
const NO_WORDS: [&str; 5] = [
    "use strict",
    "cell borderline",
    "versus beyond",
    "plot many",
    "again, exactly",
];

/// The literals of each line that is no comment.
fn of_lines(text: &str) -> Vec<String> {
    text.lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .flat_map(scan::literals)
        .map(|(_, literal)| literal)
        .collect()
}

#[test]
fn a_print_template_holds_no_bare_text() {
    let mut bare = Vec::new();
    for path in files(&source("templates/print"), &["typ"]) {
        let name = path.display().to_string();
        // The bench sheet is the desk's own and no part of the folio.
        if name.ends_with("sheet.typ") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("a template");
        let said: BTreeSet<String> = scan::print(&text)
            .into_iter()
            .map(|found| found.text)
            .collect();
        for literal in of_lines(&text) {
            if reads_like_words(&literal)
                && !said.contains(&literal)
                && !NO_WORDS.contains(&&*literal)
            {
                bare.push(format!("{name}: {literal}"));
            }
        }
        // One word is set as it stands where it is handed to `text` itself.
        for piece in text.split("text(\"").skip(1) {
            if piece.starts_with(char::is_alphabetic) {
                bare.push(format!("{name}: {}", piece.lines().next().unwrap_or("")));
            }
        }
    }
    assert!(
        bare.is_empty(),
        "write it as say(\"…\"):\n{}",
        bare.join("\n")
    );
}

#[test]
fn a_script_holds_no_bare_text() {
    let mut bare = Vec::new();
    for path in files(&source("templates/html/static"), &["js"]) {
        let text = std::fs::read_to_string(&path).expect("a script");
        let said: BTreeSet<String> = scan::page(&text)
            .into_iter()
            .flat_map(|found| std::iter::once(found.text).chain(found.one))
            .collect();
        for line in text
            .lines()
            .map(str::trim_start)
            .filter(|line| !line.starts_with("//"))
        {
            for (at, literal) in scan::literals(line) {
                // What is put into a class or an attribute of a picture is no text.
                let made = line[..at].ends_with("class: ") || line[..at].ends_with("className: ");
                if reads_like_words(&literal)
                    && !said.contains(&literal)
                    && !made
                    && !NO_WORDS.contains(&&*literal)
                {
                    bare.push(format!("{}: {literal}", path.display()));
                }
            }
        }
    }
    assert!(
        bare.is_empty(),
        "write it as say(\"…\"):\n{}",
        bare.join("\n")
    );
}

/// Files of the outputs whose words are data's, not pages'.
const OF_DATA: [&str; 8] = [
    "csv.rs",
    "data.rs",
    "package.rs",
    "records.rs",
    "testing.rs",
    "laboratory.rs",
    "pages.rs",
    "mistakes.rs",
];

#[test]
fn a_view_holds_no_bare_text() {
    let mut bare = Vec::new();
    for path in files(&source("src/outputs"), &["rs"]) {
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let within = path.display().to_string();
        if OF_DATA.contains(&&*name) || name.contains("test") || within.contains("/pages/") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("a source");
        let text = text.split("#[cfg(test)]").next().unwrap_or_default();
        let said: BTreeSet<String> = scan::rust(text)
            .into_iter()
            .flat_map(|found| std::iter::once(found.text).chain(found.one))
            .collect();
        for (at, literal) in scan::literals(text) {
            let before = text[..at].trim_end();
            let for_us = before.ends_with(".expect(")
                || before.ends_with("Source::new(")
                || before.ends_with("part(")
                || literal.contains("is no path inside the folio");
            if reads_like_words(&literal) && !said.contains(&literal) && !for_us {
                bare.push(format!("{within}: {literal}"));
            }
        }
    }
    assert!(
        bare.is_empty(),
        "write it as say!(composer, \"…\"):\n{}",
        bare.join("\n")
    );
}

// --- The demo in German -------------------------------------------------------------

#[test]
fn the_demo_speaks_german_throughout() {
    let lab = in_all_languages();
    let of_language = [
        "text-not-translated",
        "text-not-said",
        "label-not-used",
        "label-not-translated",
        "translation-place",
    ];
    let found = codes(&lab);
    let lacks: Vec<_> = of_language
        .iter()
        .filter(|code| found.contains(**code))
        .collect();
    let missing = lab
        .run(&["translate", "de", "--missing"])
        .output()
        .expect("it runs");
    assert!(
        lacks.is_empty(),
        "{lacks:?}\n{}",
        String::from_utf8_lossy(&missing.stdout)
    );
}

#[test]
fn every_sentence_of_the_lower_rooms_in_the_demo_is_told_in_german() {
    let lab = in_all_languages();
    let gathered = gather(&root_of(&lab)).expect("the demo is sound");
    let german = gathered.lab.tongues[0].language.clone();
    let mut sentences: BTreeSet<String> = BTreeSet::new();
    for (_, method) in gathered.rules.method() {
        sentences.insert(method.plain);
    }
    for judged in &gathered.shoes {
        sentences.extend(
            judged
                .findings
                .values()
                .filter_map(|finding| Some(finding.as_ref().err()?.reason.clone())),
        );
        for quantity in judged.quantities.values() {
            match quantity {
                Ok(summary) => {
                    sentences.extend(summary.flags.iter().map(|flag| flag.message.clone()))
                }
                Err(absent) => {
                    sentences.insert(absent.reason.clone());
                }
            }
        }
        sentences.extend(judged.session_flags.iter().map(|flag| flag.message.clone()));
    }
    let (assembled, ..) =
        gathered.edition(DAY.parse().unwrap(), solefolio::edition::Scope::WithDrafts);
    for corrections in assembled.edition.corrections.values() {
        sentences.extend(corrections.iter().flat_map(|one| one.changes.clone()));
    }
    assert!(sentences.len() > 20, "{sentences:#?}");
    let unknown: Vec<String> = sentences
        .iter()
        .filter(|sentence| !german.knows(sentence))
        .map(|sentence| format!("{sentence} → {}", german.retell(sentence)))
        .collect();
    assert!(unknown.is_empty(), "{}", unknown.join("\n"));
}

#[test]
fn pages_come_out_in_both_languages_with_links_between_them() {
    let lab = in_all_languages();
    publish(&lab, &[]);
    let folio = lab.folio();
    let page = |path: &str| String::from_utf8(folio[path].clone()).expect("a page is text");
    let pages: Vec<&String> = folio
        .keys()
        .filter(|path| path.ends_with(".html") && !path.starts_with("de/"))
        .collect();
    for path in pages.iter().filter(|path| **path != "404.html") {
        let other = format!("de/{path}");
        let (english, german) = (page(path), page(&other));
        assert!(
            german.contains("<html lang=\"de\">") && english.contains("<html lang=\"en\">"),
            "{path}"
        );
        if english.contains("http-equiv=\"refresh\"") {
            continue;
        }
        let folder = path.trim_end_matches("index.html");
        let home = "https://harrow-lane.example/";
        for text in [&english, &german] {
            assert!(
                text.contains(&format!("hreflang=\"en\" href=\"{home}{folder}\"")),
                "{path}"
            );
            assert!(
                text.contains(&format!("hreflang=\"de\" href=\"{home}de/{folder}\"")),
                "{path}"
            );
            assert!(
                text.contains(&format!("hreflang=\"x-default\" href=\"{home}{folder}\"")),
                "{path}"
            );
        }
        assert!(
            german.contains(&format!(
                "<link rel=\"canonical\" href=\"{home}de/{folder}\">"
            )),
            "{path}"
        );
        assert!(
            german.contains(">English</a>") && english.contains(">Deutsch</a>"),
            "{path}"
        );
    }
    // What is data, style or one for all is there once.
    let once = |path: &&String| {
        path.starts_with("de/data/") && !path.ends_with("/index.html")
            || path.starts_with("de/static/")
            || path.ends_with(".json") && path.starts_with("de/")
    };
    assert_eq!(folio.keys().filter(once).count(), 0);
    assert!(!folio.contains_key("de/404.html") && !folio.contains_key("de/sitemap.xml"));
    assert!(folio.contains_key("de/feed.xml"));
    let sitemap = page("sitemap.xml");
    assert!(sitemap.contains("<loc>https://harrow-lane.example/de/compare/</loc>"));
    assert!(sitemap.contains("hreflang=\"x-default\""));
    let review = page("de/shoes/fennick-vale-quarrel-2/index.html");
    for (what, words) in [
        ("a heading", "<h2>Was sie bedeuten</h2>"),
        ("a band", "mittel"),
        ("a decimal comma", "4,2"),
        (
            "the editor's text, marked",
            "<div class=\"body prose editor\" lang=\"en\">",
        ),
        ("a date", "26. November 2026"),
        ("the style sheet", "href=\"../../../static/folio.css\""),
        (
            "the data",
            "href=\"../../../shoes/fennick-vale-quarrel-2/data.json\"",
        ),
    ] {
        assert!(review.contains(words), "{what}: {words}");
    }
    for english in [
        "Findings",
        "borderline",
        ">Published",
        "degrees of freedom",
        "not judged",
    ] {
        assert!(!review.contains(english), "{english}");
    }
}

#[test]
fn drafts_are_named_and_nothing_leaks_in_either_language() {
    let lab = in_all_languages();
    publish(&lab, &["--drafts"]);
    let notice = "Entwurfsausgabe";
    for (path, bytes) in lab
        .folio()
        .iter()
        .filter(|(path, _)| path.starts_with("de/") && path.ends_with(".html"))
    {
        assert!(String::from_utf8_lossy(bytes).contains(notice), "{path}");
    }
    publish(&lab, &[]);
    let held = lab.json(&["proof", "--week", "2026-W49"]);
    assert!(held.to_string().contains("dunmarrow-heathpony-2"), "{held}");
    for (path, bytes) in lab
        .folio()
        .iter()
        .filter(|(path, _)| path.starts_with("de/"))
    {
        let text = String::from_utf8_lossy(bytes);
        assert!(
            !text.contains("dunmarrow-heathpony-2") && !text.contains(notice),
            "{path}"
        );
    }
}

// --- The list to translate ------------------------------------------------------------

#[test]
fn what_there_is_to_translate_is_written_without_changing_what_stands_there() {
    let lab = in_all_languages();
    let file = lab.path().join(WORDS);
    let read = || std::fs::read_to_string(&file).expect("the file");
    let whole = read();
    let write = |tag: &str| {
        let said = lab.run(&["translate", tag, "--write"]).output();
        let said = said.expect("it runs");
        let told = String::from_utf8_lossy(&said.stderr).into_owned();
        assert!(said.status.success(), "{told}");
        told
    };
    assert!(write("de").contains(" 0 added; 0 of "));
    assert_eq!(read(), whole, "nothing is missing");

    let line = "  \"Findings\": \"Befunde\"\n";
    lab.edit(WORDS, line, "  # my note\n");
    lab.edit(WORDS, "  \"Torsion\": \"Torsion\"\n", "");
    let before = read();
    assert!(write("de").contains(" 2 added; 2 of "));
    let after = read();
    assert!(after.contains("  # my note\n") && after.contains("  \"Findings\": \"\"\n"));
    let mut now = after.lines();
    for line in before.lines() {
        assert!(now.any(|now| now == line), "{line} is there, in its place");
    }
    assert!(write("de").contains(" 0 added; 2 of "));
    assert_eq!(read(), after, "twice is once");

    // A language of which there is nothing yet.
    let new = lab.path().join("lab/languages/fr/words.yaml");
    assert!(write("fr").contains("lab/languages/fr/words.yaml: "));
    let printed = lab.run(&["translate", "fr"]).output().expect("it runs");
    assert_eq!(
        std::fs::read_to_string(new).expect("it is laid"),
        String::from_utf8_lossy(&printed.stdout)
    );
}

// --- What the files may lack --------------------------------------------------------

#[test]
fn what_a_language_lacks_is_a_problem_that_names_it() {
    let lab = in_all_languages();
    lab.edit(WORDS, "  \"Findings\": \"Befunde\"\n", "");
    let said = lab
        .run(&["proof", "--as-of", DAY])
        .output()
        .expect("it runs");
    let told =
        String::from_utf8_lossy(&said.stderr).into_owned() + &String::from_utf8_lossy(&said.stdout);
    assert!(
        told.contains("text-not-translated") && told.contains("“Findings”"),
        "{told}"
    );
    publish(&lab, &[]);
    let missing = lab
        .run(&["translate", "de", "--missing"])
        .output()
        .expect("it runs");
    let missing = String::from_utf8_lossy(&missing.stdout).into_owned();
    assert!(
        missing.contains("\"Findings\": \"\"") && !missing.contains("\"Corrections\""),
        "{missing}"
    );

    let lab = in_all_languages();
    lab.edit(WORDS, "  \"Torsion\": \"Torsion\"\n", "");
    assert!(codes(&lab).contains("label-not-translated"));
    lab.run(&["publish", "--as-of", DAY, "--pdf", "never"])
        .assert()
        .code(1);
}

#[test]
fn what_stands_for_nothing_and_what_loses_a_place_is_a_problem() {
    for (old, new, code) in [
        ("\"Findings\":", "\"Fundings\":", "text-not-said"),
        ("\"Torsion\":", "\"Torsoin\":", "label-not-used"),
        (
            "\"Ausgabe vom {day}.\"",
            "\"Ausgabe.\"",
            "translation-place",
        ),
        (
            "\"Ausgabe vom {day}.\"",
            "\"Ausgabe vom {tag}.\"",
            "translation-place",
        ),
    ] {
        let lab = in_all_languages();
        lab.edit(WORDS, old, new);
        assert!(codes(&lab).contains(code), "{new}");
    }
    let lab = in_all_languages();
    lab.write("lab/languages/German.yaml", "schema: 1\n");
    assert!(codes(&lab).contains("language-misplaced"));
    let lab = in_all_languages();
    let phrases = "lab/languages/de/phrases.yaml";
    lab.edit(
        phrases,
        "widersteht dem Verdrehen",
        "widersteht dem Verdrehen sehr hoch",
    );
    assert!(
        codes(&lab).contains("other-band"),
        "a German phrase names another band"
    );
    let lab = in_all_languages();
    lab.edit(
        phrases,
        "    high:\n      short: widersteht",
        "    higher:\n      short: widersteht",
    );
    assert!(codes(&lab).contains("phrase-missing"));
}

#[test]
fn what_an_editor_wrote_in_the_other_language_stands_there() {
    let lab = in_all_languages();
    let shoe = "shoes/fennick-vale-quarrel-2.yaml";
    let own = "translations:\n  de:\n    summary: Ein ausgeglichener Straßenschuh für jeden Tag.\n    words: {torsion: Das sagt die Redaktion.}\n";
    lab.write(shoe, &format!("{}{own}", lab.text(shoe)));
    publish(&lab, &[]);
    let german = lab.text("out/de/shoes/fennick-vale-quarrel-2/index.html");
    assert!(german.contains("<p class=\"summary\">Ein ausgeglichener"));
    assert!(german.contains("Das sagt die Redaktion.") && german.contains("(Worte der Redaktion)"));
    let english = lab.text("out/shoes/fennick-vale-quarrel-2/index.html");
    assert!(!english.contains("ausgeglichener") && !english.contains("Redaktion"));
    lab.edit(shoe, "  de:\n", "  fr:\n");
    assert!(
        codes(&lab).contains("unknown-name"),
        "the folio has no French"
    );
}

/// A seal's reason is in the lab's language. Where it stands in another, it is marked,
/// so that a screen reader says it right; and it may be translated.
#[test]
fn a_seals_reason_is_marked_with_its_language_until_it_is_translated() {
    const WHY: &str = "Torsion points above 45 in·lbf moved.";
    const WARUM: &str = "Stützpunkte der Torsion über 45 in·lbf sind verschoben.";
    let lab = small_in_all_languages();
    let seal = |day: &str, why: &str| {
        lab.run(&["seal", "--as-of", day, "--because", why])
            .assert()
            .success();
    };
    seal("2026-11-25", "First published.");
    lab.edit(
        "lab/rules.yaml",
        "version: 4\neffective: 2026-11-01",
        "version: 5\neffective: 2026-11-26",
    );
    lab.edit(
        "lab/rules.yaml",
        "rules:\n",
        "  - {version: 5, effective: 2026-11-26, note: Moved.}\nrules:\n",
    );
    lab.edit("lab/rules.yaml", "[45, 60], [65, 80]", "[52, 60], [70, 80]");
    seal(DAY, WHY);
    publish(&lab, &[]);
    let pages = [
        "shoes/quillmoor-peatcutter-3/index.html",
        "method/index.html",
        "data/index.html",
        "data/2026-11-25/index.html",
        "feed.xml",
    ];
    let marked = format!("<span lang=\"en\">{WHY}</span>");
    for page in pages {
        let german = lab.text(&format!("out/de/{page}")).replace("&lt;", "<");
        let german = german.replace("&gt;", ">").replace("&quot;", "\"");
        assert!(german.contains(&marked), "{page}");
        assert_eq!(
            german.matches(WHY).count(),
            german.matches(&marked).count(),
            "{page}"
        );
        let english = lab.text(&format!("out/{page}"));
        assert!(
            english.contains(WHY) && !english.contains("lang=\"en\">Torsion points"),
            "{page}"
        );
    }
    // The list to translate asks for it, and does not call it missing.
    let asked = lab.run(&["translate", "de"]).output().expect("it runs");
    let asked = String::from_utf8(asked.stdout).expect("text");
    assert!(
        asked.contains(&format!("\n  # \"{WHY}\": \"\"\n")),
        "{asked:.4000}"
    );
    assert!(!codes(&lab).contains("label-not-translated"));
    lab.write(
        WORDS,
        &asked.replace(
            &format!("  # \"{WHY}\": \"\""),
            &format!("  \"{WHY}\": \"{WARUM}\""),
        ),
    );
    publish(&lab, &[]);
    for page in pages {
        let german = lab.text(&format!("out/de/{page}"));
        assert!(german.contains(WARUM) && !german.contains(WHY), "{page}");
    }
}

// --- Only what a reader would see differently --------------------------------------

#[test]
fn a_changed_translation_makes_only_the_pages_again_that_say_it() {
    let prints = |lab: &Lab| {
        let root = root_of(lab);
        let gathered = gather(&root).expect("the demo is sound");
        let mut bindery =
            Bindery::new(read_templates(&root).expect("templates"), None).expect("sound");
        bindery.speak(&gathered.lab);
        [
            "review.html",
            "compare.html",
            "de/review.html",
            "de/compare.html",
            "de/compare-data.js",
        ]
        .map(|template| bindery.page_fingerprint(template))
    };
    let lab = in_all_languages();
    let before = prints(&lab);
    lab.edit(WORDS, "\"Berichtigungen\"", "\"Korrekturen\"");
    let after = prints(&lab);
    let changed: Vec<bool> = before.iter().zip(&after).map(|(a, b)| a != b).collect();
    assert_eq!(changed, [false, false, true, false, false]);
    lab.edit(WORDS, "\"nicht zu vergleichen\"", "\"unvergleichbar\"");
    let last = prints(&lab);
    let changed: Vec<bool> = after.iter().zip(&last).map(|(a, b)| a != b).collect();
    assert_eq!(changed, [false, false, false, false, true]);
}

#[test]
fn the_list_to_translate_holds_every_text_and_reads_as_the_file() {
    let lab = in_all_languages();
    let printed = lab.run(&["translate", "fr"]).output().expect("it runs");
    assert!(printed.status.success());
    let text = String::from_utf8(printed.stdout).expect("text");
    let words: serde_yaml::Value = serde_yaml::from_str(&text).expect("it is a file");
    assert_eq!(
        words["texts"].as_mapping().expect("texts").len(),
        TEXTS.len()
    );
    assert!(words["labels"].as_mapping().expect("labels").len() > 40);
    // What is there already stays.
    let german = lab
        .run(&["translate", "de"])
        .output()
        .expect("it runs")
        .stdout;
    lab.write(WORDS, std::str::from_utf8(&german).expect("text"));
    let of_words = codes(&lab);
    assert!(
        !of_words
            .iter()
            .any(|code| code.starts_with("text-") || code.starts_with("label-")),
        "{of_words:?}"
    );
    lab.run(&["translate", "../de"]).assert().code(2);
}
