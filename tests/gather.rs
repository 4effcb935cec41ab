//! Gathering a lab from memory: the order of files changes nothing, one mistake
//! hides no other, and warnings stop nothing.

use proptest::prelude::*;
use solefolio::diagnostics::{Problem, Severity};
use solefolio::files::{Date, Memory, Root};
use solefolio::gather::{Ear, Gathered, Reading, Step, gather, gather_as};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex};

type Texts = BTreeMap<String, String>;

/// The small lab's files by their paths.
fn small_lab() -> Texts {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/small-lab");
    let mut texts = Texts::new();
    for folder in ["lab", "shoes", "shoes/curves"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                let name = path.file_name().unwrap().to_str().unwrap();
                texts.insert(
                    format!("{folder}/{name}"),
                    std::fs::read_to_string(&path).unwrap(),
                );
            }
        }
    }
    assert!(texts.len() >= 9, "{:?}", texts.keys());
    texts
}

fn over<'t>(texts: impl IntoIterator<Item = (&'t String, &'t String)>) -> Root {
    Root::over(
        texts
            .into_iter()
            .fold(Memory::new(), |memory, (name, text)| {
                memory.with(name, text.clone())
            }),
    )
}

fn with(file: &str, old: &str, new: &str) -> Texts {
    let mut texts = small_lab();
    change(&mut texts, file, old, new);
    texts
}

fn change(texts: &mut Texts, file: &str, old: &str, new: &str) {
    let text = texts.get_mut(file).unwrap();
    assert!(text.contains(old), "{file} holds no `{old}`");
    *text = text.replacen(old, new, 1);
}

fn codes(problems: &[Problem]) -> Vec<(&str, &str)> {
    problems
        .iter()
        .map(|problem| (problem.file.as_str(), problem.code))
        .collect()
}

fn gathered(texts: &Texts) -> Gathered {
    gather(&over(texts)).unwrap_or_else(|problems| panic!("{:?}", codes(&problems)))
}

/// What was judged, written out: shoes in their order with all they hold.
fn written(gathered: &Gathered) -> String {
    format!("{:#?}", gathered.shoes)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn prop_the_order_of_files_changes_nothing(order in Just(small_lab().into_iter().collect::<Vec<_>>()).prop_shuffle()) {
        let shuffled = gather(&over(order.iter().map(|(name, text)| (name, text)))).unwrap();
        let straight = gathered(&small_lab());
        prop_assert_eq!(written(&shuffled), written(&straight));
    }
}

#[test]
fn shoes_come_by_address_and_are_judged() {
    let gathered = gathered(&small_lab());
    let slugs: Vec<&str> = gathered
        .shoes
        .iter()
        .map(|judged| judged.shoe.slug.as_str())
        .collect();
    assert_eq!(slugs, ["kestrel", "plover", "wren"]);
    for judged in &gathered.shoes {
        let firmness = judged.findings.get("firmness");
        assert!(matches!(firmness, Some(Ok(_))), "{}", judged.shoe.slug);
    }
}

/// Every shoe is heard of twice, and each phase says first how many there are.
#[test]
fn who_waits_hears_how_far_it_is_and_can_stop_it() {
    let root = over(&small_lab());
    let heard = Arc::new(Mutex::new(Vec::new()));
    let reading = || Reading {
        ear: Ear::new({
            let heard = Arc::clone(&heard);
            move |step| heard.lock().unwrap().push(step)
        }),
        ..Reading::default()
    };
    let shoes = gather_as(&root, &reading()).unwrap().shoes.len();
    let steps = std::mem::take(&mut *heard.lock().unwrap());
    let mut expected = vec![Step::Reading(shoes)];
    expected.extend(vec![Step::Read; shoes]);
    expected.push(Step::Judging(shoes));
    expected.extend(vec![Step::Judged; shoes]);
    assert_eq!(steps, expected);

    let stopped = reading();
    stopped.outside.stop.store(true, Ordering::Relaxed);
    assert_eq!(gather_as(&root, &stopped).unwrap().shoes.len(), 0);
    assert_eq!(
        *heard.lock().unwrap(),
        [Step::Reading(shoes), Step::Judging(0)]
    );
}

#[test]
fn a_mistake_in_the_lab_does_not_hide_those_of_form_in_shoes() {
    let mut texts = with("lab/lab.yaml", "contact:", "contcat:");
    change(&mut texts, "shoes/kestrel.yaml", "model:", "modle:");
    change(&mut texts, "shoes/wren.yaml", "side: right", "side: rigt");
    let problems = gather(&over(&texts)).unwrap_err();
    let codes = codes(&problems);
    for wanted in [
        ("lab/lab.yaml", "unknown-key"),
        ("shoes/kestrel.yaml", "unknown-key"),
        ("shoes/wren.yaml", "not-one-of"),
    ] {
        assert!(codes.contains(&wanted), "{wanted:?} is not in {codes:?}");
    }
    // What a shoe has to do with the lab can't be told without one.
    assert_eq!(codes.len(), 3, "{codes:?}");
}

#[test]
fn a_mistake_in_one_shoe_does_not_hide_those_between_files() {
    let mut texts = with("shoes/kestrel.yaml", "category: road", "category: roed");
    change(
        &mut texts,
        "shoes/plover.yaml",
        "publish:",
        "words: {firmnes: soft}\npublish:",
    );
    change(
        &mut texts,
        "lab/phrases.yaml",
        "short: light,",
        "short: light at 2,",
    );
    let problems = gather(&over(&texts)).unwrap_err();
    let codes = codes(&problems);
    for wanted in [
        ("shoes/kestrel.yaml", "unknown-name"),
        ("shoes/plover.yaml", "unknown-name"),
        ("lab/phrases.yaml", "typed-number"),
    ] {
        assert!(codes.contains(&wanted), "{wanted:?} is not in {codes:?}");
    }
}

#[test]
fn a_warning_is_handed_on_and_stops_nothing() {
    let texts = with("shoes/kestrel.yaml", "2026-03", "2026-12");
    let gathered = gathered(&texts);
    let warnings: Vec<(&str, Severity)> = gathered
        .warnings
        .iter()
        .map(|problem| (problem.code, problem.severity))
        .collect();
    assert_eq!(warnings, [("dates-out-of-order", Severity::Warning)]);
    assert_eq!(gathered.shoes.len(), 3);
}

#[test]
fn what_screening_found_weighs_by_whether_the_shoe_is_out() {
    let texts = with("shoes/plover.yaml", "[301, 301, 302]", "[301, 311, 302]");
    let gathered = gathered(&texts);
    let weight = |day: &str| {
        let as_of: Date = day.parse().unwrap();
        let found = gathered.problems(as_of);
        assert_eq!(codes(&found), [("shoes/plover.yaml", "spread")]);
        found[0].severity
    };
    assert_eq!(weight("2026-11-19"), Severity::Warning);
    assert_eq!(weight("2026-11-20"), Severity::Error);
}
