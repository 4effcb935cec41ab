//! Prints as files: what outside readers of PDF find in them.
//!
//! Needs `typst`; without it the tests say so and pass, unless `CI=true`. The
//! readers `qpdf` and poppler's `pdfinfo` and `pdftotext` are treated the same.
//! `tests/data/print/` is written by `tests/pdf/samples.py`; all of it is invented.

mod print_support;

use print_support::{
    folder, info, job, left_out, pages, reader, root, set, templates, typesetter, typst, view,
};
use serde_json::Value;
use solefolio::outputs::views::ALL;
use solefolio::press::typesetter::{Print, PrintCause, PrintJob, Typesetter, template};
use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
    process::Command,
    sync::{Arc, Mutex, atomic::AtomicBool},
    time::Instant,
};

fn template_of(sample: &str) -> &'static str {
    match sample {
        "week" => "week.typ",
        large if large.starts_with("guide-large") => "guide-large.typ",
        guide if guide.starts_with("guide") => "guide.typ",
        _ => "review.typ",
    }
}

/// The view of a sample; a large print is of the same view as a common one.
fn sample_view(sample: &str) -> serde_json::Value {
    view(&sample.replace("-large", ""))
}

const SAMPLES: [&str; 8] = [
    "review",
    "hostile",
    "bare",
    "guide-10",
    "guide-40",
    "guide-120",
    "guide-large-40",
    "week",
];

#[test]
fn the_samples_are_what_their_script_writes() {
    let folder = folder();
    let script = root().join("tests/pdf/samples.py");
    let mut command = Command::new("python3");
    let Ok(ran) = command.arg(script).arg(folder.path()).output() else {
        return left_out("python3 is not installed");
    };
    assert!(
        ran.status.success(),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    let kept = root().join("tests/data/print");
    for folder in [folder.path(), kept.as_path()] {
        assert_eq!(fs::read_dir(folder).expect("a folder").count(), 7);
    }
    for file in fs::read_dir(&kept).expect("a folder") {
        let name = file.expect("an entry").file_name();
        let made = fs::read(folder.path().join(&name)).expect("it is written");
        let same = fs::read(kept.join(&name)).expect("it can be read") == made;
        assert!(same, "{name:?}: run tests/pdf/samples.py");
    }
}

/// A print is tried with views such as the program hands over: no field less, none more.
#[test]
fn the_samples_have_the_form_of_their_views() {
    for sample in SAMPLES {
        let template = template_of(sample);
        let doc = ALL.iter().find(|doc| doc.templates.contains(&template));
        let doc = doc.unwrap_or_else(|| panic!("{template} sees a view"));
        let form = Value::from(doc.schema());
        let mut wrong = BTreeSet::new();
        differences(&sample_view(sample), &form, &form, sample, &mut wrong);
        assert!(wrong.is_empty(), "{wrong:#?}");
    }
}

/// Where a value is not of a form (JSON Schema, as far as views use it).
fn differences(value: &Value, form: &Value, whole: &Value, at: &str, wrong: &mut BTreeSet<String>) {
    if let Some(name) = form["$ref"].as_str() {
        let form = whole.pointer(name.trim_start_matches('#'));
        return differences(value, form.expect("it leads somewhere"), whole, at, wrong);
    }
    for several in ["anyOf", "oneOf"] {
        let Some(forms) = form[several].as_array() else {
            continue;
        };
        // The one that is meant is the one that fits best.
        let each = forms.iter().map(|form| {
            let mut wrong = BTreeSet::new();
            differences(value, form, whole, at, &mut wrong);
            wrong
        });
        wrong.extend(each.min_by_key(BTreeSet::len).expect("a form"));
        return;
    }
    let kind = match value {
        Value::Null => "null",
        Value::Bool(_) => "boolean",
        Value::Number(number) if number.is_f64() => "number",
        Value::Number(_) => "integer",
        Value::String(_) => "string",
        Value::Array(_) => "array",
        Value::Object(_) => "object",
    };
    let kinds: Vec<&str> = match &form["type"] {
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).collect(),
        one => one.as_str().into_iter().collect(),
    };
    let is_kind = kinds.is_empty()
        || kinds.contains(&kind)
        || (kind == "integer" && kinds.contains(&"number"));
    let words = form["enum"].as_array();
    let is_word = form.get("const").is_none_or(|word| word == value)
        && words.is_none_or(|words| words.contains(value));
    if !is_kind || !is_word {
        wrong.insert(format!("{at} is {value}"));
    }
    match value {
        Value::Object(fields) => {
            let required = form["required"].as_array().into_iter().flatten();
            for name in required.filter_map(Value::as_str) {
                if !fields.contains_key(name) {
                    wrong.insert(format!("{at} lacks {name}"));
                }
            }
            let known = form["properties"].as_object();
            for (name, value) in fields {
                match known.map(|known| known.get(name)) {
                    Some(Some(form)) => {
                        differences(value, form, whole, &format!("{at}.{name}"), wrong);
                    }
                    Some(None) => {
                        wrong.insert(format!("{at} has {name}"));
                    }
                    None => {}
                }
            }
        }
        Value::Array(items) if form["items"].is_object() => {
            for item in items {
                differences(item, &form["items"], whole, &format!("{at}[]"), wrong);
            }
        }
        _ => {}
    }
}

/// Every sample as a file in a folder.
fn printed(typesetter: &Typesetter, folder: &Path) -> Vec<(&'static str, PathBuf)> {
    SAMPLES
        .iter()
        .map(|sample| {
            let path = folder.join(format!("{sample}.pdf"));
            fs::write(
                &path,
                set(typesetter, template_of(sample), &sample_view(sample)),
            )
            .expect("writable");
            (*sample, path)
        })
        .collect()
}

/// A print's text without white space: where lines end is no matter here.
fn text(path: &Path) -> Option<String> {
    let out = reader("pdftotext", &[path.to_str()?, "-"])?;
    Some(bare_text(&String::from_utf8_lossy(&out.stdout)))
}

fn bare_text(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

/// Reviews that differ, some of them awkward.
fn many(count: usize) -> Vec<PrintJob> {
    let samples = ["review", "hostile", "bare"].map(view);
    (0..count)
        .map(|i| {
            let mut view = samples[if i % 10 == 3 {
                1
            } else {
                2 * usize::from(i % 10 == 7)
            }]
            .clone();
            view["shoe"]["model"] = format!("Model {i}").into();
            view["shoe"]["title"] = format!("Maker Model {i}").into();
            job(&format!("shoes/model-{i}/review.pdf"), "review.typ", &view)
        })
        .collect()
}

fn good(prints: Vec<Print>) -> Vec<Vec<u8>> {
    prints
        .into_iter()
        .map(|print| print.unwrap_or_else(|problem| panic!("{problem}")))
        .collect()
}

#[test]
fn prints_are_sound_tagged_titled_files_in_their_language() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let folder = folder();
    for (sample, path) in printed(&typesetter, folder.path()) {
        let name = path.to_str().expect("UTF-8");
        if let Some(check) = reader("qpdf", &["--check", name]) {
            assert!(
                check.status.success(),
                "{sample}: {}",
                String::from_utf8_lossy(&check.stdout)
            );
        }
        let Some(info) = info(&path) else { return };
        assert!(info.contains("Tagged:          yes"), "{sample}: {info}");
        assert!(
            info.lines()
                .any(|l| l.starts_with("Title:") && l.len() > 20),
            "{sample}: {info}"
        );
        assert!(info.contains("2026"), "{sample}: {info}");
        let size = if sample == "hostile" { "letter" } else { "A4" };
        assert!(info.contains(size), "{sample}: {info}");
        if template_of(sample) == "review.typ" {
            assert!(pages(&info) <= 2, "{sample}: {info}");
        }
        // The catalogue's language, in the file's plain form.
        if let Some(plain) = reader("qpdf", &["--qdf", "--object-streams=disable", name, "-"]) {
            let plain = String::from_utf8_lossy(&plain.stdout).into_owned();
            let language = if sample == "bare" {
                "/Lang (de-AT)"
            } else {
                "/Lang (en)"
            };
            assert!(plain.contains(language), "{sample} lacks {language}");
        }
    }
}

/// ISO 14289-1, as checked by PyPI `page-validation`.
#[test]
fn prints_are_pdf_ua_1() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let python = std::env::var("SOLEFOLIO_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let present = Command::new(&python).args(["-c", "import page"]).output();
    if !present.is_ok_and(|output| output.status.success()) {
        return left_out(&format!(
            "`{python}` lacks page-validation; name another with SOLEFOLIO_PYTHON"
        ));
    }
    let folder = folder();
    let files = printed(&typesetter, folder.path());
    let script = root().join("tests/pdf/ua.py");
    let output = Command::new(&python)
        .arg(script)
        .args(files.iter().map(|(_, path)| path))
        .output()
        .expect("python runs");
    assert!(
        output.status.success(),
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}

#[test]
fn a_review_holds_its_numbers_cautions_and_origin() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let folder = folder();
    let path = folder.path().join("review.pdf");
    let view = view("review");
    fs::write(&path, set(&typesetter, "review.typ", &view)).expect("writable");
    let Some(text) = text(&path) else { return };
    let mut expected: Vec<String> = [
        "Quarrel 2",
        "4.26 ± 0.17 N·m",
        "37.7 in·lbf",
        "borderline with low",
        "79 % sure",
        "over 99 % sure",
        "provisional",
        "higher than 52 % of 31 road shoes",
        "7.30",
        "the stamp stood askew",
        "invented; no real product",
        "protocol 3, rule set 4",
        "26 November 2026",
        "1 / 2",
        "2 / 2",
        "it was not measured",
        "18 g lighter",
        "Torsion: high → medium",
        "Energy return",
        "Ivo Brandt",
        "harrow-lane.example/shoes/fennick-vale-quarrel-2/data.json",
    ]
    .map(str::to_owned)
    .to_vec();
    for text in [
        &view["site"]["caution"],
        &view["advice"][0]["text"],
        &view["suits"],
    ] {
        expected.push(text.as_str().expect("text").to_owned());
    }
    for expected in expected {
        assert!(
            text.contains(&bare_text(&expected)),
            "no `{expected}` in {text}"
        );
    }
    let Some(out) = reader("pdftotext", &[path.to_str().expect("UTF-8"), "-"]) else {
        return;
    };
    let raw = String::from_utf8_lossy(&out.stdout).into_owned();
    for word in raw.split(|c: char| !c.is_alphanumeric()) {
        assert!(
            !["NaN", "null", "none", "inf", "auto"].contains(&word),
            "`{word}` in print"
        );
    }
}

#[test]
fn any_text_is_printed_as_it_is_written() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let folder = folder();
    let path = folder.path().join("hostile.pdf");
    let view = view("hostile");
    fs::write(&path, set(&typesetter, "review.typ", &view)).expect("writable");
    let Some(text) = text(&path) else { return };
    let suits = view["suits"].as_str().expect("text");
    assert!(suits.contains("#panic"), "the sample has lost its teeth");
    for expected in [
        suits,
        "Mo*del_ @2 <b>",
        "#Maker $ & \\Sons",
        "Heel #firmness",
        "U+1F45F",
        "U+9774",
        "U+E000",
    ] {
        assert!(
            text.contains(&bare_text(expected)),
            "no `{expected}` in {text}"
        );
    }
    let word: String = view["lead"][0]["says"]["means"]
        .as_str()
        .expect("text")
        .split(' ')
        .next_back()
        .into_iter()
        .collect();
    assert!(
        word.len() > 200 && text.contains(&word),
        "a long word is parted in the text"
    );
}

/// Whatever text is swapped in, anywhere: Typst's own marks, long words, letters
/// no font has. Every sheet must still be set, on two pages at most.
#[test]
fn no_text_in_any_field_breaks_a_sheet() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let evil = [
        "#eval(\"1\") ] } $ \\ \" <a> @b /* //",
        "\u{202e}\u{0}\u{7}\u{fffe}\u{10ffff}👩‍👩‍👧‍👦\u{200b}\u{2029}漢字ﷺ\u{300}\u{300}",
        "",
        "W".repeat(3000).leak(),
    ];
    fn replace(value: &mut serde_json::Value, key: &str, with: &str) {
        // What a template computes with or chooses by is no free text.
        const FIXED: [&str; 20] = [
            "block",
            "key",
            "category_key",
            "slug",
            "iso",
            "paper",
            "from",
            "width",
            "at",
            "low",
            "high",
            "weight",
            "loading",
            "unloading",
            "ticks",
            "qr",
            "address",
            "language",
            "path",
            "href",
        ];
        match value {
            serde_json::Value::String(text) if !FIXED.contains(&key) => *text = with.to_owned(),
            serde_json::Value::Array(items) => {
                items.iter_mut().for_each(|item| replace(item, key, with))
            }
            serde_json::Value::Object(fields) => {
                for (key, field) in fields.iter_mut() {
                    replace(field, key, with);
                }
            }
            _ => {}
        }
    }
    let mut jobs = Vec::new();
    for with in evil {
        for sample in ["review", "guide-10", "guide-large-10", "week"] {
            let mut view = sample_view(sample);
            replace(&mut view, "", with);
            jobs.push(job(
                &format!("{sample} with {with:.20}"),
                template_of(sample),
                &view,
            ));
        }
    }
    let names: Vec<String> = jobs.iter().map(|job| job.name.clone()).collect();
    let prints = good(typesetter.typeset(jobs, &templates(), &|_| ()));
    let folder = folder();
    for (name, print) in names.iter().zip(prints) {
        let path = folder.path().join("a.pdf");
        fs::write(&path, print).expect("writable");
        if let Some(info) = info(&path).filter(|_| name.starts_with("review")) {
            assert!(pages(&info) <= 2, "{name}: {info}");
        }
    }
}

#[test]
fn missing_titles_and_languages_do_not_stop_a_print() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let mut view = view("review");
    view["site"]["language"] = "not a language".into();
    view["shoe"]["title"] = "\u{1}".into();
    set(&typesetter, "review.typ", &view);
}

#[test]
fn batches_and_single_processes_give_the_same_bytes_in_any_order() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let templates = templates();
    let jobs = many(24);
    let together = good(typesetter.typeset(jobs.clone(), &templates, &|_| ()));
    let alone = good(
        typesetter
            .clone()
            .one_by_one()
            .typeset(jobs.clone(), &templates, &|_| ()),
    );
    let mut backward: Vec<PrintJob> = jobs;
    backward.reverse();
    backward.truncate(17);
    let again = good(typesetter.typeset(backward, &templates, &|_| ()));
    assert!(
        together == alone,
        "a bundle's files differ from single ones"
    );
    for (i, print) in again.iter().enumerate() {
        assert!(
            *print == together[23 - i],
            "sheet {} depends on its batch",
            23 - i
        );
    }
    let distinct: BTreeSet<&Vec<u8>> = together.iter().collect();
    assert_eq!(distinct.len(), 24);
}

/// Without this the promise of bulk would be lost in silence, for instance by a
/// word in a template that could ask about the whole document.
#[test]
fn reviews_share_processes_and_weeks_do_not() {
    let templates = templates();
    assert!(template::keeps_to_itself("review.typ", &templates));
    assert!(!template::keeps_to_itself("week.typ", &templates));
}

#[test]
fn weeks_and_guides_give_the_same_bytes_beside_others() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let templates = templates();
    let jobs: Vec<PrintJob> = ["week", "guide-40", "review", "guide-10", "week"]
        .map(|sample| job(sample, template_of(sample), &view(sample)))
        .to_vec();
    let beside = good(typesetter.typeset(jobs.clone(), &templates, &|_| ()));
    let alone = good(typesetter.one_by_one().typeset(jobs, &templates, &|_| ()));
    assert!(beside == alone);
    assert!(beside[0] == beside[4]);
}

#[test]
fn a_sheet_that_fails_is_named_with_typsts_words_and_spoils_no_other() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let templates = templates();
    let mut jobs = many(20);
    let whole = good(typesetter.typeset(jobs.clone(), &templates, &|_| ()));
    jobs[5].data = b"{\"site\": ".to_vec();
    jobs[11].data = b"{}".to_vec();
    jobs[12].template = "nowhere.typ".to_owned();
    jobs[13].template = "../review.typ".to_owned();
    let done = Mutex::new(BTreeSet::new());
    let prints = typesetter.typeset(jobs, &templates, &|n| {
        done.lock().expect("no panic").insert(n);
    });
    assert_eq!(*done.lock().expect("no panic"), (1..=20).collect());
    for (i, print) in prints.iter().enumerate() {
        match (i, print) {
            (5 | 11, Err(problem)) => {
                let PrintCause::Refused(message) = &problem.cause else {
                    panic!("{problem}")
                };
                assert_eq!(problem.name, format!("shoes/model-{i}/review.pdf"));
                assert!(message.contains("error:"), "{message}");
                assert!(
                    !message.contains("solefolio-print"),
                    "a temporary path in {message}"
                );
            }
            (12 | 13, Err(problem)) => {
                assert!(
                    matches!(problem.cause, PrintCause::Template(_)),
                    "{problem}"
                );
            }
            (_, Ok(print)) => assert!(
                *print == whole[i],
                "sheet {i} was touched by another's failure"
            ),
            (i, other) => panic!("sheet {i}: {other:?}"),
        }
    }
}

#[test]
fn nothing_is_set_once_the_run_is_stopped() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let stop = Arc::new(AtomicBool::new(true));
    let prints = typesetter
        .stop_when(stop)
        .typeset(many(3), &templates(), &|_| ());
    assert!(
        prints
            .iter()
            .all(|print| matches!(print, Err(problem) if problem.cause == PrintCause::Stopped))
    );
}

#[test]
fn a_template_reaches_no_file_outside_and_no_package() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    for source in [
        "#let sheet(view) = read(\"/../../../../etc/hostname\")",
        "#let sheet(view) = read(\"../../../../../etc/hostname\")",
        "#import \"@preview/example:0.1.0\": add\n#let sheet(view) = [x]",
    ] {
        let templates = vec![("review.typ".to_owned(), source.as_bytes().to_vec())];
        let print = typesetter
            .typeset(
                vec![job("x", "review.typ", &view("bare"))],
                &templates,
                &|_| (),
            )
            .remove(0);
        let problem = print.expect_err(source);
        assert!(matches!(problem.cause, PrintCause::Refused(_)), "{problem}");
    }
}

/// A stand-in that says another version and may refuse bundles, else Typst itself.
#[cfg(unix)]
fn stand_in(folder: &Path, says: &str, bundles: bool) -> Option<PathBuf> {
    use std::os::unix::fs::PermissionsExt;
    let real = typst()?;
    let path = folder.join("typst");
    let refuse = if bundles {
        ""
    } else {
        "for a; do if [ \"$a\" = bundle ]; then echo 'error: no bundles' >&2; exit 2; fi; done\n"
    };
    let script = format!(
        "#!/bin/sh\necho run >> \"$0.log\"\nif [ \"$1\" = --version ]; then echo '{says}'; exit 0; fi\n{refuse}exec '{}' \"$@\"\n",
        real.display()
    );
    fs::write(&path, script).ok()?;
    fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).ok()?;
    Some(path)
}

#[cfg(unix)]
#[test]
fn typst_without_bundles_still_sets_everything_with_the_same_bytes() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let templates = templates();
    let expected = good(typesetter.typeset(many(6), &templates, &|_| ()));
    for says in [
        "typst 0.14.2 (an older one)",
        "typst 0.16.0 (one that dropped bundles)",
    ] {
        let folder = folder();
        let program = stand_in(folder.path(), says, false).expect("typst was found before");
        let other = Typesetter::at(program).expect("it answers");
        let prints = good(other.typeset(many(6), &templates, &|_| ()));
        assert!(prints == expected, "{says}");
    }
}

#[cfg(unix)]
#[test]
fn fifty_reviews_take_two_processes() {
    if typesetter().is_none() {
        return;
    }
    let folder = folder();
    let program = stand_in(folder.path(), "typst 0.15.1 (counted)", true).expect("it was found");
    let counted = Typesetter::at(program).expect("it answers");
    let view = view("review");
    let jobs = (0..50)
        .map(|i| job(&i.to_string(), "review.typ", &view))
        .collect();
    good(counted.typeset(jobs, &templates(), &|_| ()));
    let runs = fs::read_to_string(folder.path().join("typst.log")).expect("it was run");
    // One asks for the version. Where there is a single core, it is one batch less.
    assert!(runs.lines().count() <= 3, "{runs}");
}

#[cfg(unix)]
#[test]
fn programs_that_are_too_old_or_no_typst_are_refused() {
    if typesetter().is_none() {
        return;
    }
    for (says, expected) in [
        ("typst 0.12.0 (old)", "too old"),
        ("cat (coreutils) 9.1", "does not answer"),
    ] {
        let folder = folder();
        let program = stand_in(folder.path(), says, true).expect("typst was found before");
        let missing = Typesetter::at(program).expect_err(says).to_string();
        assert!(missing.contains(expected), "{missing}");
    }
    assert!(Typesetter::at(PathBuf::from("/nowhere/typst")).is_err());
}

#[test]
fn fingerprints_change_with_what_a_template_uses_and_only_with_that() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let files = templates();
    let review = typesetter.fingerprint("review.typ", &files);
    let guide = typesetter.fingerprint("guide.typ", &files);
    assert_ne!(review, guide);
    let touched = |name: &str| {
        let mut files = files.clone();
        let file = files
            .iter_mut()
            .find(|(other, _)| other == name)
            .expect("it is there");
        file.1.push(b'\n');
        files
    };
    assert_ne!(
        typesetter.fingerprint("review.typ", &touched("lib/coverage.typ")),
        review
    );
    assert_eq!(
        typesetter.fingerprint("review.typ", &touched("guide.typ")),
        review
    );
    assert_eq!(
        typesetter.fingerprint("guide.typ", &touched("lib/review.typ")),
        guide
    );
    let mut shuffled = files.clone();
    shuffled.reverse();
    assert_eq!(typesetter.fingerprint("review.typ", &shuffled), review);
}

/// A lab's own template that looks at the document as a whole gets a process to
/// itself: its sheets do not see one another.
#[test]
fn sheets_do_not_see_one_another() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let source =
        "#let sheet(view) = { set document(title: \"x\"); [= #view.shoe.title]; outline() }";
    let templates = vec![("own.typ".to_owned(), source.as_bytes().to_vec())];
    let mut jobs = many(3);
    for job in &mut jobs {
        job.template = "own.typ".to_owned();
    }
    let folder = folder();
    for (i, print) in good(typesetter.typeset(jobs, &templates, &|_| ()))
        .into_iter()
        .enumerate()
    {
        let path = folder.path().join("own.pdf");
        fs::write(&path, print).expect("writable");
        let Some(text) = text(&path) else { return };
        for j in 0..3 {
            assert_eq!(text.contains(&format!("MakerModel{j}")), i == j, "{text}");
        }
    }
}

#[test]
fn a_sheet_that_asks_for_it_is_set_again_and_the_same_in_a_batch_and_alone() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let source = "#let sheet(view) = {
        set document(title: \"x\")
        let second = sys.inputs.at(\"again\", default: \"\") == \"exactly\"
        if view.shoe.title == \"Maker Model 4\" and not second { panic(\"again, exactly\") }
        [= #view.shoe.title]
        if second { [ set again] }
    }";
    let templates = vec![("own.typ".to_owned(), source.as_bytes().to_vec())];
    let mut jobs = many(9);
    for job in &mut jobs {
        job.template = "own.typ".to_owned();
    }
    let together = good(typesetter.typeset(jobs.clone(), &templates, &|_| ()));
    let alone = good(typesetter.one_by_one().typeset(jobs, &templates, &|_| ()));
    assert!(together == alone);
    let folder = folder();
    let path = folder.path().join("own.pdf");
    fs::write(&path, &together[4]).expect("writable");
    let Some(text) = text(&path) else { return };
    assert!(text.contains("setagain"), "{text}");
}

/// Texts of unusual width make reckoned heights wrong; the sheet then comes out
/// with measured ones, and nothing of it runs into the foot or is lost.
#[test]
fn a_misreckoned_review_is_measured() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let mut view = view("review");
    let wide = "WWMWMWM MWMWMWMW ".repeat(30);
    for i in 0..5 {
        view["lead"][i]["says"]["means"] = wide.clone().into();
    }
    view["advice"][0]["text"] = wide.into();
    let folder = folder();
    let path = folder.path().join("wide.pdf");
    fs::write(&path, set(&typesetter, "review.typ", &view)).expect("writable");
    let Some(info) = info(&path) else { return };
    assert_eq!(pages(&info), 2);
    let Some(text) = text(&path) else { return };
    assert!(text.contains("Forwantofroomnotinthisprint"), "{text}");
    assert!(text.contains("Thedata"), "{text}");
}

/// Promise: at least 1.8 times the rate of two parallel lines of one process a
/// PDF, for 200 review PDFs in one run. Run it alone, in release:
/// `cargo test --release --test print -- --ignored --nocapture`
#[cfg(unix)]
#[test]
#[ignore = "a measurement, which other work on the machine would spoil"]
fn two_hundred_reviews_outrun_two_lines_of_single_processes() {
    let Some(typesetter) = typesetter() else {
        return;
    };
    let templates = templates();
    let view = view("review");
    let jobs: Vec<PrintJob> = (0..200)
        .map(|i| {
            let mut view = view.clone();
            view["shoe"]["model"] = format!("Model {i}").into();
            job(&format!("shoes/model-{i}/review.pdf"), "review.typ", &view)
        })
        .collect();
    let folder = folder();
    let lines = folder.path();
    for (name, text) in &templates {
        let path = lines.join(name);
        fs::create_dir_all(path.parent().expect("it has one")).expect("writable");
        fs::write(path, text).expect("writable");
    }
    for (i, job) in jobs.iter().enumerate() {
        fs::write(lines.join(format!("{i}.json")), &job.data).expect("writable");
        fs::write(
            lines.join(format!("{i}.typ")),
            format!("#import \"/review.typ\": sheet as sheet-0\n#sheet-0(json(\"{i}.json\"))\n"),
        )
        .expect("writable");
    }
    let typst = stand_in(&lines.join("lib"), "typst 0.15.1", true).expect("typst was found before");
    let program = fs::read_to_string(typst).expect("readable");
    let program = program
        .lines()
        .last()
        .and_then(|line| line.split('\'').nth(1))
        .expect("it execs typst");
    let command = format!(
        "seq 0 199 | xargs -P2 -I{{}} '{program}' compile --root . --ignore-system-fonts --pdf-standard ua-1 --creation-timestamp 1795651200 {{}}.typ {{}}.pdf"
    );

    let begun = Instant::now();
    let ours = good(typesetter.typeset(jobs, &templates, &|_| ()));
    let together = begun.elapsed();
    let begun = Instant::now();
    let output = Command::new("sh")
        .args(["-c", &command])
        .current_dir(lines)
        .output()
        .expect("sh runs");
    let apart = begun.elapsed();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    for (i, print) in ours.iter().enumerate() {
        assert!(
            fs::read(lines.join(format!("{i}.pdf"))).expect("set") == *print,
            "sheet {i} differs"
        );
    }
    let ratio = apart.as_secs_f64() / together.as_secs_f64();
    println!(
        "together {together:.2?}, two lines of single processes {apart:.2?}: {ratio:.2} times the rate"
    );
    assert!(ratio >= 1.8, "{ratio}");
}

/// However much there is to say, the newest correction is in the print in full and
/// the earlier ones are counted, on two sheets.
#[test]
fn the_newest_correction_stays_and_the_earlier_ones_are_counted() {
    let Some(typesetter) = typesetter() else {
        return left_out("typst is not installed");
    };
    let mut view = view("review");
    let correction = |at: usize| {
        serde_json::json!({
            "on": {"iso": "2026-11-26", "text": "26 November 2026"},
            "because": format!("Reason number {at} was that points of a scale had moved after measurements of the control shoe."),
            "because_language": null,
            "changes": (0..6).map(|n| format!("Finding {n}: medium, borderline with high → high, as it was worked out anew for case {at}")).collect::<Vec<_>>(),
            "versions": "Rule set version 3 → 4; protocol version 2.",
        })
    };
    view["corrections"] = (0..60).map(correction).collect();
    let folder = folder();
    let path = folder.path().join("review.pdf");
    fs::write(&path, set(&typesetter, "review.typ", &view)).expect("writable");
    let (Some(info), Some(text)) = (info(&path), text(&path)) else {
        return left_out("pdfinfo and pdftotext are not installed");
    };
    assert_eq!(pages(&info), 2);
    assert!(text.contains(&bare_text("Reason number 0 was")), "{text}");
    assert!(text.contains(&bare_text("anew for case 0")), "{text}");
    let some = text.contains(&bare_text("Continued on the page"));
    let counted = text.contains(&bare_text("59 earlier corrections"));
    assert!(some || counted, "{text}");
}
