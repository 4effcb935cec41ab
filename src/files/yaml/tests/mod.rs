//! The walk over small types of every shape, and laws that hold for any text.

mod laws;
mod slips;

use super::*;
use crate::files::{Address, Date, Key, Map, Month, RelPath};
use crate::quantity::Amount;
use serde::Deserialize;

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Shoe {
    schema: u32,
    maker: String,
    model: String,
    category: Option<Key>,
    size: Option<Size>,
    released: Option<Month>,
    publish: Option<Date>,
    #[serde(default)]
    specimens: Vec<Specimen>,
    review: Option<String>,
    home: Option<Address>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Size {
    system: System,
    value: f64,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum System {
    /// Foot length in millimetres.
    Mondopoint,
    Paris,
    /// United States.
    Us,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Specimen {
    id: String,
    left: Option<bool>,
    readings: Map<Key, Reading>,
    plausible: Option<(Amount, Amount)>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(untagged)]
enum Reading {
    One(Amount),
    Trials(Vec<Amount>),
    Curve(Curve),
    LeftOut(LeftOut),
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Curve {
    curve: RelPath,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct LeftOut {
    reading: u8,
    reason: String,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct RuleSet {
    version: u8,
    rules: Map<Key, Rule>,
    paper: Option<Paper>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
enum Rule {
    Scale(Scale),
    Blend {
        of: Map<Key, f64>,
        #[serde(default)]
        cuts: Vec<f64>,
    },
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Scale {
    of: Key,
    points: Vec<(f64, f64)>,
    note: Option<String>,
}

#[derive(Debug, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum Paper {
    A4,
    Own(Size),
    Named { name: String },
}

const SHOE: &str = "\
schema: 1
maker: Fennick & Vale            # invented
model: Quarrel
category: road
size: {system: mondopoint, value: 270}
released: 2026-03
publish: 2026-11-26
specimens:
  - id: Q2-L
    left: true
    readings:
      mass: [262, 263 g, 262]
      static-drop: 6.0
      heel-load-curve: {curve: curves/x.csv}
      odd: {reading: 2, reason: slipped}
    plausible: [90 g, 600]
review: |
  *Even-tempered*: for daily miles.
";

fn shoe(text: &str) -> Vec<Problem> {
    read::<Shoe>(&Source::new("shoes/a.yaml", text)).unwrap_err()
}

/// The shoe with one piece of its text replaced.
fn with(old: &str, new: &str) -> String {
    assert!(SHOE.contains(old), "{old}");
    SHOE.replacen(old, new, 1)
}

/// Problems in short: `code line:column path | message | hint`.
fn short(problems: &[Problem]) -> String {
    let line = |p: &Problem| {
        let place = p.place.unwrap();
        let hint = p.hint.as_deref().unwrap_or("-");
        let path = &p.path;
        format!(
            "{} {}:{} {path} | {} | {hint}",
            p.code, place.line, place.column, p.message
        )
    };
    problems.iter().map(line).collect::<Vec<_>>().join("\n")
}

fn broken(old: &str, new: &str) -> String {
    short(&shoe(&with(old, new)))
}

fn rules(text: &str) -> String {
    short(&read::<RuleSet>(&Source::new("lab/rules.yaml", text)).unwrap_err())
}

/// Compares problems with what is expected of each: its beginning.
fn assert_begins(of: &str, found: &str, expected: &[&str]) {
    let found: Vec<&str> = found.lines().collect();
    let same = found.len() == expected.len()
        && found
            .iter()
            .zip(expected)
            .all(|(found, expected)| found.starts_with(expected));
    assert!(same, "{of}\nfound:    {found:#?}\nexpected: {expected:#?}");
}

#[test]
fn a_right_file_reads_on_both_ways() {
    let fast: Shoe = read(&Source::new("a", SHOE)).unwrap();
    let slow: Shoe = read_slowly(&Source::new("a", SHOE), &Forms::standard(), None).unwrap();
    assert_eq!(fast, slow);
    assert_eq!(fast.specimens[0].readings.len(), 4);
}

#[test]
fn a_file_that_is_no_shoe_at_all_has_one_clear_problem() {
    for (text, expected) in [
        ("", "empty-file 1:1  | the file is empty"),
        ("# only a comment\n", "empty-file 1:1  | the file is empty"),
        ("---\n", "empty-value 2:1"),
        ("~", "empty-value 1:1  | no value where a map is expected"),
        (
            "a",
            "wrong-type 1:1  | the text `a` where a map is expected",
        ),
        ("- a", "wrong-type 1:1  | a list where a map is expected"),
        (
            "[",
            "yaml-syntax 1:2  | a `,` or `]` is missing in the list that begins at line 1, column 1",
        ),
        (
            "{",
            "yaml-syntax 1:2  | a `,` or `}` is missing in the map that begins at line 1, column 1",
        ),
        (
            "\tmaker: a",
            "yaml-syntax 1:1  | a tab stands where the indentation must be spaces",
        ),
        ("maker: a\n---\nmaker: b\n---\n", "second-document 2:1"),
        ("%YAML 1.2\n---\n---\n", "second-document 3:1"),
    ] {
        assert_begins(text, &short(&shoe(text)), &[expected]);
    }
}

#[test]
fn a_file_cut_off_anywhere_has_problems_within_it_and_one_if_it_is_broken() {
    for cut in (0..SHOE.len()).filter(|cut| SHOE.is_char_boundary(*cut)) {
        let source = Source::new("shoes/a.yaml", &SHOE[..cut]);
        let Err(problems) = read::<Shoe>(&source) else {
            continue;
        };
        let broken = problems.iter().any(|p| p.code == "yaml-syntax");
        assert!(
            !broken || problems.len() == 1,
            "{cut}: {}",
            short(&problems)
        );
        assert!(
            problems
                .iter()
                .all(|p| p.place.unwrap().line <= SHOE[..cut].lines().count().max(1) + 1)
        );
    }
}

#[test]
fn all_slips_of_a_file_come_in_one_run_in_the_files_order() {
    let text = with("model: Quarrel", "modle: Quarrel")
        .replace("2026-03", "2026-14")
        .replace("left: true", "left: on")
        .replace("263 g", "263 parsec")
        .replace("{reading: 2,", "{reading: *two,");
    let found = shoe(&text);
    let codes: Vec<_> = found
        .iter()
        .map(|p| (p.code, p.place.unwrap().line))
        .collect();
    let expected = [
        ("unknown-key", 3),
        ("wrong-form", 6),
        ("wrong-type", 10),
        ("wrong-form", 12),
        ("alias-refused", 15),
    ];
    // An alias to no anchor ends the parser's reading; the rest can't be judged then.
    assert_eq!(codes, expected[4..]);
    let text = text.replace("schema: 1", "schema: &two 1");
    let codes: Vec<_> = shoe(&text)
        .iter()
        .map(|p| (p.code, p.place.unwrap().line))
        .collect();
    assert_eq!(codes[0], ("alias-refused", 1));
    assert_eq!(codes[1..], expected);
}

#[test]
fn a_file_with_a_thousand_slips_reports_a_hundred_and_counts_the_rest() {
    let many: String = (0..1000).map(|n| format!("key-{n}: 1\n")).collect();
    let found = shoe(&format!("{SHOE}{many}"));
    assert_eq!(found.len(), crate::files::PROBLEM_LIMIT + 1);
    let last = found.last().unwrap();
    assert_eq!(
        (last.code, last.message.as_str()),
        ("more-problems", "900 more problems in this file")
    );
}

#[test]
fn a_number_is_taken_where_text_is_wanted_but_not_within_choices() {
    let shoe: Shoe = read(&Source::new("a", with("model: Quarrel", "model: 2"))).unwrap();
    assert_eq!(shoe.model, "2");
    // Nothing else is wrong, so the number is not blamed either.
    let text = with("model: Quarrel", "model: 2").replace("left: true", "left: on");
    assert!(short(&self::shoe(&text)).lines().count() == 1);
}

#[test]
fn an_item_left_empty_is_no_text() {
    let found = read::<Vec<String>>(&Source::new("a", "- a\n-\n- b\n")).unwrap_err();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].code, "empty-value");
    assert_eq!(found[0].path.to_string(), "[1]");
}

#[test]
fn a_tab_after_a_dash_is_called_a_tab() {
    let found = shoe(&with("  - id: Q2-L", "  -\tid: Q2-L"));
    let line = &short(&found);
    assert!(line.contains("a tab stands where"), "{line}");
}

#[test]
fn a_line_in_brackets_that_is_not_indented_is_told_from_a_missing_bracket() {
    let text = with("[262, 263 g, 262]", "[262, 263 g,\n  262]").replace("left: true", "left: on");
    assert_begins(
        "brackets",
        &short(&shoe(&text)),
        &[
            "yaml-syntax 13:3  | this line stands left of the list it belongs to, which begins at line 12, column 13; or a `]` is missing",
        ],
    );
}

#[test]
fn a_types_own_check_is_shown_with_its_place_and_path() {
    #[derive(Debug, Deserialize, JsonSchema)]
    #[serde(try_from = "Vec<f64>")]
    struct Rising(#[expect(dead_code, reason = "only read")] Vec<f64>);
    impl TryFrom<Vec<f64>> for Rising {
        type Error = String;
        fn try_from(values: Vec<f64>) -> Result<Self, String> {
            if values.is_sorted() {
                Ok(Rising(values))
            } else {
                Err("cuts must rise".into())
            }
        }
    }
    #[derive(Debug, Deserialize, JsonSchema)]
    struct Cuts {
        #[expect(dead_code, reason = "only read")]
        blends: Vec<Rising>,
    }
    let found = read::<Cuts>(&Source::new("a", "blends:\n  - [1, 2]\n  - [2, 1]\n")).unwrap_err();
    assert_begins(
        "cuts",
        &short(&found),
        &["refused-value 2:3 blends | cuts must rise"],
    );
}

#[test]
fn a_form_of_ones_own_is_checked() {
    fn never(_: &str) -> Result<(), Misformed> {
        Err(Misformed::because("no"))
    }
    let forms = || {
        Forms::standard().with(Form {
            name: "month",
            expected: "nothing at all",
            check: never,
        })
    };
    let source = Source::new("a", with("left: true", "left: on"));
    let found = read_with::<Shoe>(&source, &forms).unwrap_err();
    assert!(short(&found).starts_with("wrong-form 6:11 released | no | write nothing at all"));
}

#[test]
fn hostile_files_are_refused_in_bounded_time() {
    let size = YAML_LIMIT as usize;
    let aliases = format!(
        "a: &a [{}]\nb: [{}]\n",
        "1,".repeat(20_000),
        "*a,".repeat(20_000)
    );
    let texts = [
        aliases,
        "[".repeat(200_000),
        "{a: ".repeat(100_000),
        "- ".repeat(size / 2),
        "? ".repeat(size / 2),
        "a: b\n".repeat(size / 5),
        format!("a: [{}]", "1,".repeat(size / 2 - 10)),
        format!("a: {}", "x".repeat(size - 10)),
        "[\"]\",".repeat(size / 6),
        "\n".repeat(size),
        "&a ".repeat(size / 3),
        "!a ".repeat(size / 3),
        format!("a: |\n{}", " \n".repeat(size / 2 - 10)),
        "x".repeat(size + 1),
        (0..60).map(|n| format!("{}a:\n", " ".repeat(n))).collect(),
        (0..900).map(|n| format!("{}a:\n", " ".repeat(n))).collect(),
    ];
    for text in texts {
        let start = std::time::Instant::now();
        let found = shoe(&text);
        let took = start.elapsed();
        let bounded = !found.is_empty() && found.len() <= crate::files::PROBLEM_LIMIT + 1;
        assert!(bounded, "{:?}… {}", &text[..20], found.len());
        // Generous: other work may share the machine.
        assert!(took.as_secs() < 10, "{:?}…: {took:?}", &text[..20]);
        let shown = crate::diagnostics::render::human(
            &found,
            |_| Some(text.clone()),
            Default::default(),
            60,
        );
        assert!(shown.len() < 1 << 20);
    }
}
