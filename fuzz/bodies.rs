//! One function a fuzz target: takes any bytes, and panics if what is promised of
//! them does not hold. Time and memory are bounded by who calls it.

use serde_json::json;
use solefolio::cli::read_sheet;
use solefolio::diagnostics::text::is_refused;
use solefolio::diagnostics::{KeyPath, Problem, render};
use solefolio::edition::Ledger;
use solefolio::files::{Memory, Root, Slug, Source, edit, yaml};
use solefolio::gather::{Reading, judge_one, read_lab, read_shoe};
use solefolio::lab::{Instruments, Lab, PhrasesFile, ProtocolFile, RuleSetFile, Settings};
use solefolio::outputs::views::{BlockView, SpanView};
use solefolio::outputs::{markdown_as_page, markdown_as_print};
use solefolio::quantity::{Amount, Dimension, Unit};
use solefolio::rules::{Judged, RuleFile, RuleSet};
use solefolio::shoe::{Shoe, ShoeFile};
use std::collections::BTreeSet;
use std::sync::LazyLock;

/// A target's name and what it checks.
pub type Target = (&'static str, fn(&[u8]));

/// Every target.
pub const TARGETS: [Target; 10] = [
    ("shoe", shoe),
    ("rules", rules),
    ("protocol", protocol),
    ("curve", curve),
    ("intake", intake),
    ("unit", unit),
    ("expression", expression),
    ("markdown", markdown),
    ("edit", edit),
    ("ledger", ledger),
];

const FILES: [(&str, &str); 9] = [
    (
        "lab/lab.yaml",
        include_str!("../tests/data/small-lab/lab/lab.yaml"),
    ),
    (
        "lab/protocol.yaml",
        include_str!("../tests/data/small-lab/lab/protocol.yaml"),
    ),
    (
        "lab/instruments.yaml",
        include_str!("../tests/data/small-lab/lab/instruments.yaml"),
    ),
    (
        "lab/rules.yaml",
        include_str!("../tests/data/small-lab/lab/rules.yaml"),
    ),
    (
        "lab/phrases.yaml",
        include_str!("../tests/data/small-lab/lab/phrases.yaml"),
    ),
    (
        "shoes/kestrel.yaml",
        include_str!("../tests/data/small-lab/shoes/kestrel.yaml"),
    ),
    (
        "shoes/plover.yaml",
        include_str!("../tests/data/small-lab/shoes/plover.yaml"),
    ),
    (
        "shoes/wren.yaml",
        include_str!("../tests/data/small-lab/shoes/wren.yaml"),
    ),
    (
        "shoes/curves/kestrel.csv",
        include_str!("../tests/data/small-lab/shoes/curves/kestrel.csv"),
    ),
];

/// The small lab, and its shoes.
struct Ground {
    root: Root,
    lab: Lab,
    rules: RuleSet,
    shoes: Vec<Shoe>,
}

static GROUND: LazyLock<Ground> = LazyLock::new(|| {
    let root = Root::over(memory());
    let mut problems = Vec::new();
    let (lab, rules) =
        read_lab(&root, &Reading::default(), &mut problems).expect("the small lab is right");
    let shoes = FILES
        .iter()
        .filter(|(name, _)| name.starts_with("shoes/") && name.ends_with(".yaml"))
        .map(|(name, text)| read(&root, &lab, name, text).expect("its shoes are right"))
        .collect();
    Ground {
        root,
        lab,
        rules,
        shoes,
    }
});

fn memory() -> Memory {
    FILES.iter().fold(Memory::new(), |memory, (name, text)| {
        memory.with(name, *text)
    })
}

fn read(root: &Root, lab: &Lab, name: &str, text: &str) -> Result<Shoe, Vec<Problem>> {
    let path = name.parse().expect("a safe path");
    let slug: Slug = "kestrel".parse().expect("an address");
    let mut problems = Vec::new();
    let source = Source::new(name, text);
    read_shoe(root, Some(lab), slug, &path, &source, &mut problems).ok_or(problems)
}

/// Problems are placed within their text, few, and shown without acting on anything.
fn are_clear(problems: &[Problem], text: &str) {
    assert!(!problems.is_empty(), "refused without a word");
    assert!(problems.len() < 1000, "{} problems", problems.len());
    let lines = text.split(['\n', '\r']).count();
    for problem in problems {
        assert!(!problem.message.is_empty());
        if let Some(place) = problem.place {
            assert!(place.line >= 1 && place.column >= 1 && place.line <= lines + 1);
        }
    }
    let shown = render::human(
        problems,
        |_| Some(text.to_owned()),
        render::ColorChoice::Never,
        render::SHOWN,
    );
    let acts = |c: char| c != '\n' && (c.is_control() || is_refused(c));
    assert!(!shown.contains(acts), "{shown:?}");
    assert!(shown.len() < 200_000, "{} bytes are shown", shown.len());
    let listed: serde_json::Value = serde_json::from_str(&render::json(problems)).expect("JSON");
    drop(listed);
}

/// Everything worked out is a number, or absent with a reason.
fn are_numbers(judged: &Judged) {
    let all = format!("{:?} {:?}", judged.quantities, judged.findings);
    let bare: String = all.split('"').step_by(2).collect();
    assert!(!bare.contains("NaN"), "{bare}");
}

fn judged(shoe: Shoe, lab: &Lab, rules: &RuleSet) {
    let told = shoe.title();
    assert!(!told.contains(is_refused), "{told:?}");
    are_numbers(&judge_one(shoe, lab, rules));
}

/// A shoe's file: refused with clear problems, or judged; line breaks of another
/// system make no difference.
pub fn shoe(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    let Ground {
        root, lab, rules, ..
    } = &*GROUND;
    match read(root, lab, "shoes/kestrel.yaml", text) {
        Err(problems) => are_clear(&problems, text),
        Ok(shoe) => {
            if !text.contains('\r') {
                let other = read(root, lab, "shoes/kestrel.yaml", &text.replace('\n', "\r\n"));
                let other = other.expect("line breaks of another system are as good");
                assert_eq!(format!("{:?}", shoe.file), format!("{:?}", other.file));
            }
            judged(shoe, lab, rules);
        }
    }
}

fn typed<T: serde::de::DeserializeOwned + schemars::JsonSchema>(
    name: &str,
    text: &str,
) -> Option<T> {
    match yaml::read::<T>(&Source::new(name, text)) {
        Ok(read) => Some(read),
        Err(problems) => {
            are_clear(&problems, text);
            None
        }
    }
}

fn own<T: serde::de::DeserializeOwned + schemars::JsonSchema>(name: &str) -> T {
    let (_, text) = FILES
        .iter()
        .find(|(file, _)| *file == name)
        .expect("it is there");
    yaml::read(&Source::new(name, *text)).expect("the small lab is right")
}

fn judge_all(lab: &Lab, rules: &RuleSet) {
    for shoe in &GROUND.shoes {
        are_numbers(&judge_one(shoe.clone(), lab, rules));
    }
}

/// A rule set: refused with clear problems, or every shoe is judged by it.
pub fn rules(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    let Some(file) = typed::<RuleSetFile<RuleFile>>("lab/rules.yaml", text) else {
        return;
    };
    match RuleSet::build(file, &GROUND.lab.protocol, "lab/rules.yaml") {
        Err(problems) => are_clear(&problems, text),
        Ok(rules) => {
            let _ = (rules.phrases(), rules.method());
            judge_all(&GROUND.lab, &rules);
        }
    }
}

/// A protocol: refused with clear problems, or every shoe is summarised under it.
pub fn protocol(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    let Some(protocol) = typed::<ProtocolFile>("lab/protocol.yaml", text) else {
        return;
    };
    let settings: Settings = own("lab/lab.yaml");
    let instruments: Instruments = own("lab/instruments.yaml");
    let phrases: PhrasesFile = own("lab/phrases.yaml");
    match Lab::assemble(settings, protocol, instruments, phrases) {
        Err(problems) => are_clear(&problems, text),
        Ok((lab, _)) => {
            let rules: RuleSetFile<RuleFile> = own("lab/rules.yaml");
            let Ok(rules) = RuleSet::build(rules, &lab.protocol, "lab/rules.yaml") else {
                return;
            };
            for (name, text) in &FILES[5..8] {
                if let Ok(shoe) = read(&GROUND.root, &lab, name, text) {
                    judged(shoe, &lab, &rules);
                }
            }
        }
    }
}

/// A raw curve: refused with clear problems, or its figures are numbers.
pub fn curve(data: &[u8]) {
    let root = Root::over(memory().with("shoes/curves/kestrel.csv", data));
    let Ground { lab, rules, .. } = &*GROUND;
    let text = String::from_utf8_lossy(data);
    match read(&root, lab, FILES[5].0, FILES[5].1) {
        Err(problems) => are_clear(&problems, &text),
        Ok(shoe) => judged(shoe, lab, rules),
    }
}

/// A sheet: what it takes is an amount of the quantity, as the shoe's file will say it.
pub fn intake(data: &[u8]) {
    let Ok(source) = Source::from_bytes("sheet.csv", data.to_vec(), 1 << 20) else {
        return;
    };
    match read_sheet(&source, &GROUND.lab.protocol) {
        Err(problems) => are_clear(&problems, &source.text),
        Ok((taken, problems)) => {
            if !problems.is_empty() {
                are_clear(&problems, &source.text);
            }
            for taken in taken {
                let Ok(word) = taken.word else { continue };
                let amount: Amount = word.parse().expect("a word that is taken is an amount");
                let spec = GROUND.lab.protocol.quantities.get(&taken.quantity);
                let spec = spec.expect("a quantity that is taken is known");
                assert!(amount.in_unit(spec.unit).is_ok(), "{word}");
            }
        }
    }
}

/// A unit or an amount: read again from how it is written it is the same, and
/// conversions come back.
pub fn unit(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    if let Ok(unit) = text.parse::<Unit>() {
        assert_eq!(unit.to_string().parse::<Unit>(), Ok(unit));
    }
    let Ok(amount) = text.parse::<Amount>() else {
        return;
    };
    assert!(amount.value.is_finite());
    let again: Amount = amount.to_string().parse().expect("it reads what it writes");
    assert_eq!(again, amount, "{amount}");
    let Some(unit) = amount.unit else { return };
    for other in Unit::all() {
        let Ok(there) = unit.convert(amount.value, other) else {
            continue;
        };
        // Beyond any bench the doubles end; nothing is promised there.
        if amount.value.abs() < 1e290 && (amount.value.abs() > 1e-290 || amount.value == 0.0) {
            let back = other.convert(there, unit).expect("the way back is there");
            // Temperatures lose digits about the zero of the other scale.
            let least = match unit.dimension() {
                Dimension::Temperature => 500.0,
                _ => 0.0,
            };
            let off = (back - amount.value).abs();
            assert!(
                off <= 1e-12 * amount.value.abs().max(least),
                "{amount} in {other} and back is {back}"
            );
        }
    }
}

/// An expression, as a formula and as a condition: refused with clear problems, or
/// it comes to a number or to a reason there is none.
pub fn expression(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    let head = json!({
        "schema": 1, "version": 1, "effective": "2026-01-01", "borderline-below": 0.8,
        "bands": ["very low", "low", "medium", "high", "very high"], "page": [],
    });
    for rule in [
        json!({"kind": "formula", "label": "F", "unit": "mm", "decimals": 1, "is": text}),
        json!({"kind": "advice", "label": "A", "when": text, "say": "hard-heel"}),
    ] {
        let mut file = head.clone();
        file["rules"] = json!({ "made": rule });
        let file: RuleSetFile<RuleFile> = serde_json::from_value(file).expect("it is one");
        match RuleSet::build(file, &GROUND.lab.protocol, "lab/rules.yaml") {
            Err(problems) => are_clear(&problems, text),
            Ok(rules) => judge_all(&GROUND.lab, &rules),
        }
    }
}

/// An editor's text: no markup of its own in the page, the same content in the
/// print, and no more of it than was written.
pub fn markdown(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    let html = markdown_as_page(text);
    is_harmless(&html);
    let blocks = markdown_as_print(text, "https://lab.example/", "https://lab.example/shoes/x/");
    let mut print = String::new();
    depth(&blocks, 0, &mut print);
    let mut page = String::new();
    depth(&markdown_as_print(text, "", ""), 0, &mut page);
    assert_eq!(page, print, "page and print say the same");
    assert!(!print.contains(|c: char| is_refused(c)), "{print:?}");
    assert!(
        print.len() <= text.len() * 40 + 1000,
        "{} bytes of {}",
        print.len(),
        text.len()
    );
}

/// The tags that may be in a review, the attributes they may have, nothing else.
fn is_harmless(html: &str) {
    const TAGS: [&str; 14] = [
        "h3",
        "h4",
        "h5",
        "p",
        "ul",
        "ol",
        "li",
        "blockquote",
        "pre",
        "code",
        "em",
        "strong",
        "hr",
        "br",
    ];
    let mut rest = html;
    let mut open: Vec<&str> = Vec::new();
    while let Some(at) = rest.find('<') {
        let text = &rest[..at];
        assert!(!text.contains('>'), "{html}");
        let (tag, after) = rest[at + 1..].split_once('>').expect("a tag ends");
        rest = after;
        if let Some(closed) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(closed), "{html}");
            continue;
        }
        if let Some(link) = tag.strip_prefix("a href=\"") {
            let address = link.strip_suffix('"').expect("one attribute");
            assert!(!address.contains('"'), "{html}");
            let scheme = address.split(['/', '?', '#']).next().unwrap_or("");
            let scheme = scheme
                .split_once(':')
                .map(|(scheme, _)| scheme.to_ascii_lowercase());
            let allowed = [None, Some("http"), Some("https"), Some("mailto")];
            assert!(allowed.contains(&scheme.as_deref()), "{html}");
            assert!(!address.starts_with("//"), "{html}");
            open.push("a");
        } else {
            assert!(TAGS.contains(&tag), "<{tag}> in {html}");
            if !matches!(tag, "hr" | "br") {
                open.push(tag);
            }
        }
    }
    assert!(!rest.contains('>') && open.is_empty(), "{html}");
    let acts = |c: char| !matches!(c, '\n' | '\t') && is_refused(c);
    assert!(!html.contains(acts), "{html:?}");
}

fn depth(blocks: &[BlockView], deep: usize, text: &mut String) {
    assert!(deep <= 12, "blocks nest without end");
    let spans = |spans: &[SpanView]| spans.iter().map(|span| &*span.text).collect::<String>();
    for block in blocks {
        match block {
            BlockView::Heading { level, text: said } => {
                assert!((1..=3).contains(level));
                text.push_str(&spans(said));
            }
            BlockView::Paragraph { text: said } => text.push_str(&spans(said)),
            BlockView::List { items, .. } => {
                for item in items {
                    depth(item, deep + 1, text);
                }
            }
            BlockView::Quote { blocks } => depth(blocks, deep + 1, text),
            BlockView::Code { text: code } => text.push_str(code),
            BlockView::Rule => {}
        }
    }
}

/// An edit of a file, both from one input: the file, then lines of a key and
/// words. Refused, or what was asked for stands there, every comment too, and
/// asking again changes nothing.
pub fn edit(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    let Some((file, asked)) = text.split_once("\n=====\n") else {
        return;
    };
    let mut lines = asked.lines().map(str::to_owned);
    let Some(key) = lines.next() else { return };
    let words: Vec<String> = lines.take(20).collect();
    let source = Source::new("shoes/x.yaml", file);
    let at = KeyPath::root().key("specimens").index(0).key("readings");
    for map in [KeyPath::root(), at] {
        let Ok(edited) = edit::set(&source, &map, &key, &words) else {
            continue;
        };
        let new = Source::new("shoes/x.yaml", edited.as_str());
        assert_eq!(
            edit::words(&new, &map, &key),
            Some(words.clone()),
            "{edited}"
        );
        let again = edit::set(&new, &map, &key, &words).expect("it can be asked again");
        assert_eq!(again, edited, "asking again changes something");
        let comments = |text: &str| -> BTreeSet<String> {
            let comment = |line: &str| Some(line.trim_start().strip_prefix('#')?.to_owned());
            text.split(['\n', '\r']).filter_map(comment).collect()
        };
        let (before, after) = (comments(file), comments(&edited));
        // A word may look like one, but none that was there is gone.
        assert!(before.is_subset(&after), "{file:?} became {edited:?}");
    }
    let item = [
        ("id".to_owned(), edit::New::Text(key.clone())),
        ("notes".to_owned(), edit::New::List(words.clone())),
    ];
    if let Ok(edited) = edit::append(&source, &KeyPath::root().key("specimens"), &item) {
        let tree = yaml::Tree::parse(&Source::new("shoes/x.yaml", edited.as_str()));
        assert!(tree.problems.is_empty(), "{:?}", tree.problems);
    }
    let made = edit::write_new("made", &item);
    if !text.contains(|c: char| is_refused(c) || c == '\r') {
        let tree = yaml::Tree::parse(&Source::new("shoes/x.yaml", made.as_str()));
        assert!(tree.problems.is_empty(), "{made:?}: {:?}", tree.problems);
    }
    let _ = yaml::read::<ShoeFile>(&source);
}

/// A ledger: refused with clear problems, or whole: its head fits it, and its
/// lines written again are the same ledger.
pub fn ledger(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else {
        return;
    };
    let source = Source::new("lab/ledger.jsonl", text);
    match Ledger::read(&source) {
        Err(problems) => are_clear(&problems, text),
        Ok(ledger) => {
            let head = Source::new("lab/ledger.head", ledger.head());
            assert!(ledger.check_head(&head).is_ok());
            let lines: String = ledger
                .entries()
                .iter()
                .map(|entry| serde_json::to_string(entry).expect("JSON") + "\n")
                .collect();
            let again = Ledger::read(&Source::new("lab/ledger.jsonl", lines)).expect("it is whole");
            assert_eq!(again, ledger);
        }
    }
    // The same bytes as a head: no more than a clear refusal.
    let head = Source::new("lab/ledger.head", text);
    if let Err(problems) = Ledger::default().check_head(&head) {
        are_clear(&problems, text);
    }
}
