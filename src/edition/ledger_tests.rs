//! A ledger that was tampered with is noticed, whatever was done to it.

use super::*;

fn entry(previous: &str, shoe: &str, on: &str, says: &str) -> Entry {
    let stamp = |version| Stamp {
        version,
        content: "c".into(),
    };
    let mut entry = Entry {
        on: on.parse().unwrap(),
        shoe: shoe.parse().unwrap(),
        rules: stamp(if on < "2026-11" { 3 } else { 4 }),
        protocol: stamp(2),
        because: "First published.".into(),
        findings: [(
            "torsion".parse().unwrap(),
            Sealed {
                says: says.into(),
                figures: Some("44 in·lbf, 59 of 100".into()),
            },
        )]
        .into_iter()
        .collect(),
        previous: previous.into(),
        hash: String::new(),
    };
    entry.hash = entry.sealed_hash();
    entry
}

/// Four lines on three shoes; the last corrects the first.
fn lines() -> Vec<String> {
    let mut previous = BEGINNING.to_owned();
    [
        ("plover", "2026-10-31", "medium"),
        ("quarrel-2", "2026-10-31", "high"),
        ("tern-1", "2026-10-31", "low"),
        ("plover", "2026-11-02", "high"),
    ]
    .into_iter()
    .map(|(shoe, on, says)| {
        let entry = entry(&previous, shoe, on, says);
        previous.clone_from(&entry.hash);
        serde_json::to_string(&entry).unwrap()
    })
    .collect()
}

fn read(text: &str) -> Result<Ledger, Vec<Problem>> {
    Ledger::read(&Source::new(LEDGER, text))
}

fn of(lines: &[String]) -> String {
    lines.iter().map(|line| format!("{line}\n")).collect()
}

/// The code and the line of the one problem.
fn told(text: &str) -> (&'static str, usize) {
    let problems = read(text).expect_err("the ledger was tampered with");
    assert_eq!(problems.len(), 1);
    let place = problems[0].place.as_ref().expect("the line is named");
    (problems[0].code, place.line)
}

#[test]
fn a_whole_ledger_is_read_and_its_second_line_on_a_shoe_is_a_correction() {
    let ledger = read(&of(&lines())).unwrap();
    let corrections = ledger.corrections(ToString::to_string);
    let (slug, of_plover) = corrections.iter().next().unwrap();
    assert_eq!((slug.as_str(), corrections.len()), ("plover", 1));
    assert_eq!(of_plover[0].changes, ["torsion: medium → high"]);
    assert_eq!(of_plover[0].rules, (3, 4));
    assert_eq!(of_plover[0].protocol, (2, 2));
    assert!(read("").unwrap().entries().is_empty());
}

#[test]
fn every_changed_character_of_every_line_is_noticed() {
    let text = of(&lines());
    for at in (0..text.len()).step_by(7) {
        let Some(old) = text.get(at..=at).filter(|old| *old != "\n") else {
            continue; // within a character, or a line break
        };
        let new = if old == "x" { "y" } else { "x" };
        let changed = format!("{}{new}{}", &text[..at], &text[at + 1..]);
        assert!(read(&changed).is_err(), "byte {at}: {old} became {new}");
    }
}

#[test]
fn a_changed_a_lost_a_swapped_and_a_doubled_line_are_noticed_where_they_are() {
    let good = lines();
    let mut changed = good.clone();
    changed[1] = changed[1].replace("high", "low");
    assert_eq!(told(&of(&changed)), ("ledger-broken", 2));
    let mut lost = good.clone();
    lost.remove(1);
    assert_eq!(told(&of(&lost)), ("ledger-broken", 2));
    let mut first_lost = good.clone();
    first_lost.remove(0);
    assert_eq!(told(&of(&first_lost)), ("ledger-broken", 1));
    let mut swapped = good.clone();
    swapped.swap(1, 2);
    assert_eq!(told(&of(&swapped)), ("ledger-broken", 2));
    let mut doubled = good.clone();
    doubled.insert(2, good[1].clone());
    assert_eq!(told(&of(&doubled)), ("ledger-broken", 3));
    let mut spoilt = good;
    spoilt[2].truncate(20);
    assert_eq!(told(&of(&spoilt)), ("ledger-unreadable", 3));
}

#[test]
fn a_torn_last_line_is_told_apart_and_one_without_its_break_is_whole() {
    let good = of(&lines());
    let last = good.trim_end().rfind('\n').unwrap() + 1;
    for cut in [last + 1, last + 40, good.len() - 2] {
        assert_eq!(told(&good[..cut]), ("ledger-torn", 4), "cut at {cut}");
    }
    assert_eq!(read(good.trim_end()).unwrap().entries().len(), 4);
}

#[test]
fn lost_last_lines_are_noticed_by_the_head() {
    let good = lines();
    let whole = read(&of(&good)).unwrap();
    let head = |text: &str| Source::new(LEDGER_HEAD, text);
    let sealed = whole.head();
    assert_eq!(whole.check_head(&head(&sealed)), Ok(()));
    for kept in 0..good.len() {
        let short = read(&of(&good[..kept])).unwrap();
        let problems = short.check_head(&head(&sealed)).unwrap_err();
        assert_eq!(problems[0].code, "ledger-broken", "{kept} lines kept");
        // Stopped between ledger and head: the head is of the ledger before.
        assert_eq!(whole.check_head(&head(&short.head())), Ok(()));
    }
    let other = format!("4 {}", "0".repeat(64));
    assert_eq!(
        whole.check_head(&head(&other)).unwrap_err()[0].code,
        "ledger-broken"
    );
    assert_eq!(
        whole.check_head(&head("four")).unwrap_err()[0].code,
        "ledger-unreadable"
    );
}
