//! The walk over small types of every shape, and laws that hold for any text.

use super::*;
use crate::files::{Address, Date, Key, Map, Month, RelPath};
use crate::quantity::Amount;
use proptest::prelude::*;
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

#[test]
fn a_right_file_reads_on_both_ways() {
    let fast: Shoe = read(&Source::new("a", SHOE)).unwrap();
    let slow: Shoe = read_slowly(&Source::new("a", SHOE), &Forms::standard(), None).unwrap();
    assert_eq!(fast, slow);
    assert_eq!(fast.specimens[0].readings.len(), 4);
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
fn every_slip_in_a_shoe_is_found_where_it_is() {
    // What is replaced, by what, and the problems in short.
    let cases: &[(&str, &str, &[&str])] = &[
        (
            "model: Quarrel",
            "modle: Quarrel",
            &[
                "unknown-key 3:1 modle | the key `modle` is not known here | did you mean `model`? known here: `schema`, `maker`, `mo",
            ],
        ),
        (
            "category: road",
            "categroy: road",
            &[
                "unknown-key 4:1 categroy | the key `categroy` is not known here | did you mean `category`? known here: `schema`, `maker`, ",
            ],
        ),
        (
            "category: road",
            "colour: blue",
            &[
                "unknown-key 4:1 colour | the key `colour` is not known here | known here: `schema`, `maker`, `model`, `category`, `siz",
            ],
        ),
        (
            "maker: Fennick & Vale            # invented\n",
            "",
            &["missing-key 1:1  | the key `maker` is missing | add `maker: …` (text)"],
        ),
        (
            "value: 270",
            "valeu: 270",
            &[
                "unknown-key 5:28 size.valeu | the key `valeu` is not known here | did you mean `value`? known here: `system`, `value`",
            ],
        ),
        (
            "      mass: [262, 263 g, 262]",
            "      mass: [262, 263 gr, 38 in.lbf]",
            &[
                "wrong-form 12:19 specimens[0].readings.mass[1] | `gr` is no unit known here | known are mm, cm, in, g, kg, oz, lb, N, kN, lbf, N·m, in",
                "wrong-form 12:27 specimens[0].readings.mass[2] | `in.lbf` is no unit known here | did you mean `in·lbf`? known are mm, cm, in, g, kg, oz, ",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop: true",
            &[
                "wrong-type 13:20 specimens[0].readings.static-drop | `true` where a number, with or without its unit, or a list, or a map is expected | -",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop:",
            &[
                "empty-value 13:7 specimens[0].readings.static-drop | no value where a number, with or without its unit, or a list, or a map is expected | write the value, or take the key out if there is none",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop: ~",
            &[
                "empty-value 13:20 specimens[0].readings.static-drop | no value where a number, with or without its unit, or a list, or a map is expected | write the value, or take the key out if there is none",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop: .nan",
            &[
                "not-finite 13:20 specimens[0].readings.static-drop | `.nan` is no number a reading can have | leave the value out if there is none; put it in quotes i",
            ],
        ),
        (
            "static-drop: 6.0",
            "mass: 6.0",
            &[
                "duplicate-key 13:7 specimens[0].readings.mass | the key `mass` stands twice in this map; first at line 12, column 7 | keep one of the two",
            ],
        ),
        (
            "static-drop: 6.0",
            "Static Drop: 6.0",
            &[
                "wrong-form 13:7 specimens[0].readings.Static Drop | `Static Drop` is no name: use small letters a to z, digits and single hyphens between them, 80 at most | write a name of small letters, digits and hyphens",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop: 6,0",
            &[
                "wrong-form 13:20 specimens[0].readings.static-drop | `6,0` has a comma; write a decimal point | write `6.0`",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop: &a 6.0",
            &[
                "alias-refused 13:20 specimens[0].readings.static-drop | an anchor (`&name`) is not read here | take it out, and write the value out wherever it is needed",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop: *a",
            &[
                "alias-refused 13:20 specimens[0].readings.static-drop | an alias (`*name`) is not read here | write the value out; put it in quotes if it is text",
            ],
        ),
        (
            "static-drop: 6.0",
            "static-drop: !!float 6.0",
            &[
                "tag-refused 13:20 specimens[0].readings.static-drop | a tag (`!!float`) is not read here | take it out; put the value in quotes if it is text",
            ],
        ),
        (
            "static-drop: 6.0",
            "<<: {a: 1}",
            &[
                "alias-refused 13:7 specimens[0].readings.<< | a merge key (`<<`) is not read here | write the values out",
            ],
        ),
        (
            "{curve: curves/x.csv}",
            "{curve: ../x.csv}",
            &[
                "wrong-form 14:32 specimens[0].readings.heel-load-curve.curve | `../x.csv` has `..`; a path may not lead upward | write a path relative to this file",
            ],
        ),
        (
            "{curve: curves/x.csv}",
            "{curv: x.csv}",
            &[
                "unknown-key 14:25 specimens[0].readings.heel-load-curve.curv | the key `curv` is not known here | did you mean `curve`? known here: `curve`",
            ],
        ),
        (
            "{curve: curves/x.csv}",
            "{reading: 300, reason: x}",
            &[
                "out-of-range 14:34 specimens[0].readings.heel-load-curve.reading | 300 is out of range: at most 255 is expected | -",
            ],
        ),
        (
            "{reading: 2, reason: slipped}",
            "{reading: 2.5, reason: slipped}",
            &[
                "wrong-type 15:22 specimens[0].readings.odd.reading | the number `2.5` where a whole number is expected | write it without decimals or exponent",
            ],
        ),
        (
            "{reading: 2, reason: slipped}",
            "{reading: 2, reason: 7}",
            &[
                "wrong-type 15:33 specimens[0].readings.odd.reason | the number `7` where text is expected | put it in quotes",
            ],
        ),
        (
            "{reading: 2, reason: slipped}",
            "{reading: 2}",
            &[
                "missing-key 15:7 specimens[0].readings.odd | the key `reason` is missing | add `reason: …` (text)",
            ],
        ),
        (
            "plausible: [90 g, 600]",
            "plausible: [90 g]",
            &[
                "wrong-length 16:16 specimens[0].plausible | a list of 1 where exactly 2 are expected | -",
            ],
        ),
        (
            "plausible: [90 g, 600]",
            "plausible: 90 g",
            &[
                "wrong-type 16:16 specimens[0].plausible | the text `90 g` where a list is expected | put it in brackets, even if it is one: `[90 g]`",
            ],
        ),
        (
            "left: true",
            "left: yes",
            &[
                "wrong-type 10:11 specimens[0].left | the text `yes` where true or false is expected | write `true`, without quotes",
            ],
        ),
        (
            "left: true",
            "left: \"true\"",
            &[
                "wrong-type 10:11 specimens[0].left | the text `true` where true or false is expected | write `true`, without quotes",
            ],
        ),
        (
            "schema: 1",
            "schema: one",
            &["wrong-type 1:9 schema | the text `one` where a whole number is expected | -"],
        ),
        (
            "schema: 1",
            "schema: \"1\"",
            &[
                "wrong-type 1:9 schema | the text `1` where a whole number is expected | take the quotes away: `1`",
            ],
        ),
        (
            "schema: 1",
            "schema: 1.5",
            &[
                "wrong-type 1:9 schema | the number `1.5` where a whole number is expected | write it without decimals or exponent",
            ],
        ),
        (
            "schema: 1",
            "schema: -1",
            &["out-of-range 1:9 schema | -1 is out of range: at least 0 is expected | -"],
        ),
        (
            "schema: 1",
            "schema: 1e999",
            &[
                "wrong-type 1:9 schema | the text `1e999` where a whole number is expected | the number is too large to be read",
            ],
        ),
        (
            "value: 270",
            "value: 270 mm",
            &[
                "wrong-type 5:35 size.value | the text `270 mm` where a number is expected | the unit is fixed here: write `270` alone",
            ],
        ),
        (
            "value: 270",
            "value: 270,5",
            &[
                "unknown-key 5:39 size.5 | the key `5` is not known here | a comma ends the value before it; is it a decimal comma?",
            ],
        ),
        (
            "value: 270",
            "value: n/a",
            &[
                "wrong-type 5:35 size.value | the text `n/a` where a number is expected | leave the value out if there is none",
            ],
        ),
        (
            "system: mondopoint",
            "system: Mondopoint",
            &[
                "not-one-of 5:16 size.system | `Mondopoint` is not known here | did you mean `mondopoint`? known here: `paris`, `mondopo",
            ],
        ),
        (
            "system: mondopoint",
            "system: japan",
            &[
                "not-one-of 5:16 size.system | `japan` is not known here | known here: `paris`, `mondopoint`, `us`",
            ],
        ),
        (
            "system: mondopoint",
            "system: 7",
            &[
                "not-one-of 5:16 size.system | `7` is not known here | known here: `paris`, `mondopoint`, `us`",
            ],
        ),
        (
            "publish: 2026-11-26",
            "publish: 2026-02-30",
            &[
                "wrong-form 7:10 publish | `2026-02-30` is no day: February 2026 has 28 days | write a date such as 2026-11-18",
            ],
        ),
        (
            "publish: 2026-11-26",
            "publish: 26.11.2026",
            &[
                "wrong-form 7:10 publish | `26.11.2026` is no date such as 2026-11-18 (year-month-day) | write a date such as 2026-11-18",
            ],
        ),
        (
            "released: 2026-03",
            "released: 2026-13",
            &[
                "wrong-form 6:11 released | `2026-13` is no date: there is no month 13 | write a month such as 2026-03",
            ],
        ),
        (
            "released: 2026-03",
            "released: 2026",
            &[
                "wrong-form 6:11 released | `2026` is no month such as 2026-03 (year-month) | write a month such as 2026-03",
            ],
        ),
        (
            "model: Quarrel",
            "model:",
            &[
                "empty-value 3:1 model | no value where text is expected | write the value, or take the key out if there is none",
            ],
        ),
        (
            "model: Quarrel",
            "model: null",
            &[
                "empty-value 3:8 model | no value where text is expected | write the value, or take the key out if there is none",
            ],
        ),
        (
            "model: Quarrel",
            "model: {a: b}",
            &[
                "wrong-type 3:8 model | a map where text is expected | put the text in quotes if it holds `: ` or begins with a brace",
            ],
        ),
        (
            "model: Quarrel",
            "model: Quarrel: two",
            &[
                "yaml-syntax 3:15  | a `: ` that can't stand here | put the text in quotes if it holds `: `, and look whethe",
            ],
        ),
        (
            "model: Quarrel",
            "model: [Quarrel",
            &[
                "yaml-syntax 4:9  | a `,` or `]` is missing in the list that begins at line 3, column 8 | close it with `]`; put texts that hold brackets, commas ",
            ],
        ),
        (
            "model: Quarrel",
            "model: \"Quarrel",
            &[
                "yaml-syntax 3:8  | the quote that opens here is not closed before a line that begins a new key | close it; within quotes, lines are indented deeper than ",
            ],
        ),
        (
            "model: Quarrel",
            "model: @home",
            &["yaml-syntax 3:8  | `@` can't begin a value | put the value in quotes"],
        ),
        (
            "model: Quarrel",
            "model: Quarrel\n\tx: 1",
            &[
                "yaml-syntax 3:8  | a tab stands where the indentation must be spaces | replace the tab by spaces",
            ],
        ),
        (
            "model: Quarrel",
            "\tmodel: Quarrel",
            &[
                "yaml-syntax 2:34  | the line below begins with a tab, which indents nothing | begin the next line below this line's key, with spaces",
            ],
        ),
        (
            "model: Quarrel",
            "model: Quarrel\u{85}x: 1",
            &[
                "control-character 3:15  | the character U+0085 does not belong in a text | take it out; in double quotes it may be written as an escape",
            ],
        ),
        (
            "model: Quarrel",
            "model: Quarrel\n---",
            &[
                "second-document 4:1  | a second document begins here; a file holds one | take out the `---`, or move what follows into a file of its own",
            ],
        ),
        (
            "model: Quarrel",
            "model: \"a\\qb\"",
            &[
                "yaml-syntax 3:8  | an escape in double quotes that is not known | write `\\\\` for a backslash, or use single quotes",
            ],
        ),
        (
            "model: Quarrel",
            "model: Quarrel\nhome: javascript:alert(1)",
            &[
                "wrong-form 4:7 home | `javascript:alert(1)` is no address that begins with `https://` or `http://` | write a web address",
            ],
        ),
        (
            "specimens:\n",
            "specimens: none\nx:\n",
            &[
                "wrong-type 8:12 specimens | the text `none` where a list is expected | put it in brackets, even if it is one: `[none]`",
                "unknown-key 9:1 x | the key `x` is not known here | known here: `schema`, `maker`, `model`, `category`, `siz",
            ],
        ),
        (
            "    left: true",
            "   left: true",
            &[
                "yaml-syntax 10:4  | the line does not fit the list above it | line it up with its neighbours, with spaces",
            ],
        ),
        (
            "    readings:",
            "      readings:",
            &[
                "yaml-syntax 11:15  | a `: ` that can't stand here | put the text in quotes if it holds `: `, and look whethe",
            ],
        ),
        (
            "  - id: Q2-L",
            "  - Q2-L\n  - id: Q2-L",
            &[
                "wrong-type 9:5 specimens[0] | the text `Q2-L` where a map is expected | a map has its keys below it: `id`, `readings`, `left`, `",
            ],
        ),
        (
            "  - id: Q2-L",
            "  - id: Q2-L\n    - x",
            &[
                "yaml-syntax 10:7  | the line does not fit the map above it | line it up with its neighbours, with spaces",
            ],
        ),
        (
            "size: {system: mondopoint, value: 270}",
            "size: 270",
            &[
                "wrong-type 5:7 size | the number `270` where a map is expected | a map has its keys below it: `system`, `value`",
            ],
        ),
        (
            "size: {system: mondopoint, value: 270}",
            "size: {}",
            &[
                "missing-key 5:1 size | the key `system` is missing | add `system: …` (one of `paris`, `mondopoint`, `us`)",
                "missing-key 5:1 size | the key `value` is missing | add `value: …` (a number)",
            ],
        ),
        (
            "size: {system: mondopoint, value: 270}",
            "? [a]\n: b",
            &[
                "wrong-type 5:3  | a key must be one word, not a list or a map | put the value in quotes if it begins with a bracket",
            ],
        ),
    ];
    for (old, new, expected) in cases {
        assert_begins(new, &broken(old, new), expected);
    }
}

#[test]
fn every_slip_in_a_tagged_or_named_choice_is_found_where_it_is() {
    let cases: &[(&str, &[&str])] = &[
        (
            "version: 4\nrules:\n  a: {kind: scale, of: x, points: [[0, 0], [1]]}\n  b: {kind: blnd, of: {}}\n  c: {of: {}}\n  d: {kind: blend, of: {a: 0.5}, cut: [1]}\n",
            &[
                "wrong-length 3:44 rules.a.points[1] | a list of 1 where exactly 2 are expected | -",
                "not-one-of 4:13 rules.b.kind | `blnd` is not known here | did you mean `blend`? known here: `scale`, `blend`",
                "missing-key 5:3 rules.c | the key `kind` is missing; it is one of `scale`, `blend` | add `kind: …`",
                "unknown-key 6:34 rules.d.cut | the key `cut` is not known here | did you mean `cuts`? known here: `kind`, `of`, `cuts`",
            ],
        ),
        (
            "version: 4\nrules:\n  a: {kind: scale, of: x, points: [[0, 0]], note: 5}\n",
            &[
                "wrong-type 3:51 rules.a.note | the number `5` where text is expected | put it in quotes",
            ],
        ),
        (
            "version: 4\nrules:\n  a: {kind: [x]}\n  b: 5\n  c:\n  d: {kind: blend, of: {a: half}, of: 3}\n",
            &[
                "wrong-type 3:13 rules.a.kind | a list where one of `scale`, `blend` is expected | -",
                "wrong-type 4:6 rules.b | the number `5` where a map is expected | -",
                "empty-value 5:3 rules.c | no value where a map is expected | write the value, or take the key out if there is none",
                "wrong-type 6:28 rules.d.of.a | the text `half` where a number is expected | -",
                "duplicate-key 6:35 rules.d.of | the key `of` stands twice in this map; first at line 6, column 20 | keep one of the two",
                "wrong-type 6:39 rules.d.of | the number `3` where a map is expected | -",
            ],
        ),
        (
            "version: 4\nrules: {}\npaper: a5\n",
            &[
                "not-one-of 3:8 paper | `a5` is not known here | did you mean `a4`? known here: `a4`",
            ],
        ),
        (
            "version: 4\nrules: {}\npaper: {nmaed: {name: x}}\n",
            &[
                "unknown-key 3:9 paper.nmaed | the key `nmaed` is not known here | did you mean `named`? known here: `own`, `named`",
            ],
        ),
        (
            "version: 4\nrules: {}\npaper: {own: {system: us, value: 5}, named: 1}\n",
            &[
                "unknown-key 3:38 paper.named | a second key where only one of `own`, `named` is expected | keep one of the keys",
            ],
        ),
        (
            "version: 4\nrules: {}\npaper: {own: {system: us}}\n",
            &["missing-key 3:9 paper.own | the key `value` is missing | add `value: …` (a number)"],
        ),
        (
            "version: 4\nrules: {}\npaper: {}\n",
            &["missing-key 3:8 paper | an empty map where one of `own`, `named` is expected | -"],
        ),
        (
            "version: 4\nrules: {}\npaper: [a4]\n",
            &["wrong-type 3:8 paper | a list where `a4`, or a map is expected | -"],
        ),
        (
            "version: 400\nrules: [a]\n",
            &[
                "out-of-range 1:10 version | 400 is out of range: at most 255 is expected | -",
                "wrong-type 2:8 rules | a list where a map is expected | -",
            ],
        ),
    ];
    for (text, expected) in cases {
        assert_begins(text, &rules(text), expected);
    }
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
        let shown =
            crate::diagnostics::render::human(&found, |_| Some(text.clone()), Default::default());
        assert!(shown.len() < 1 << 20);
    }
}

/// What a tree stands for, as serde reads it.
fn as_serde(node: &Node) -> serde_yaml::Value {
    match &node.value {
        Value::List(items) => serde_yaml::Value::Sequence(items.iter().map(as_serde).collect()),
        Value::Map(entries) => {
            let pairs = entries
                .iter()
                .map(|e| (as_serde(&e.key), as_serde(&e.value)));
            serde_yaml::Value::Mapping(pairs.collect())
        }
        Value::Scalar(scalar) if scalar.plain => serde_yaml::from_str(&scalar.text).unwrap(),
        Value::Scalar(scalar) => serde_yaml::Value::String(scalar.text.clone()),
        Value::Refused => unreachable!("nothing was refused"),
    }
}

fn any_value() -> impl Strategy<Value = serde_json::Value> {
    let leaf = prop_oneof![
        any::<bool>().prop_map(Into::into),
        any::<i32>().prop_map(Into::into),
        (-1e9f64..1e9).prop_map(Into::into),
        "[ -~äß°·\n]{0,12}".prop_map(Into::into),
        "(~|null|yes|- a|&x|\\*x|!t|<<|a: b|#c|.nan|2026-03-01)".prop_map(Into::into),
    ];
    leaf.prop_recursive(4, 40, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Into::into),
            prop::collection::btree_map("[a-zß&*!~# -]{1,8}", inner, 0..6)
                .prop_map(|map| serde_json::Value::Object(map.into_iter().collect())),
        ]
    })
}

/// A shoe with a few pieces of its text replaced by what breaks files.
fn mutated() -> impl Strategy<Value = String> {
    let piece =
        "[ \n\t:,\\[\\]{}&*!#|>'\"%@`~.?-]{1,3}|<<: |---\n|\u{85}|\u{2028}|ß|- |\u{feff}|\r|null";
    prop::collection::vec((0..SHOE.len(), 0usize..6, piece), 1..4).prop_map(|edits| {
        let mut text: Vec<char> = SHOE.chars().collect();
        for (at, gone, new) in edits {
            let at = at.min(text.len());
            let end = (at + gone).min(text.len());
            text.splice(at..end, new.chars());
        }
        text.into_iter().collect()
    })
}

fn assert_sound(text: &str) -> Result<(), TestCaseError> {
    let source = Source::new("shoes/a.yaml", text);
    let text = &source.text;
    match read::<Shoe>(&source) {
        Ok(shoe) => {
            let by_serde: Shoe = serde_yaml::from_str(text).unwrap();
            prop_assert_eq!(shoe, by_serde);
        }
        Err(problems) => {
            prop_assert!(!problems.is_empty());
            let starts = line_starts(text);
            for problem in problems {
                let place = problem.place.unwrap();
                let line = line(text, &starts, place.line);
                let within = line.is_some_and(|l| place.column <= l.chars().count() + 1);
                prop_assert!(within && place.column > 0, "{:?} {:?}", text, problem);
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn prop_any_text_is_read_or_refused_at_a_place_within_it(
        text in "[a-c0-9 \n\t:,\\[\\]{}&*!#|>'\"%@`~.?\\\\-]{0,40}|\\PC{0,40}|[\\x00-\\xff\u{2028}\u{feff}]{0,20}",
    ) {
        assert_sound(&text)?;
    }

    #[test]
    fn prop_a_broken_shoe_is_read_as_serde_does_or_refused_at_a_place_within_it(text in mutated()) {
        assert_sound(&text)?;
    }

    #[test]
    fn prop_valid_yaml_reads_as_serde_reads_it(value in any_value()) {
        let text = serde_yaml::to_string(&value).unwrap();
        let source = Source::new("a", &*text);
        let by_serde: serde_json::Value = serde_yaml::from_str(&text).unwrap();
        let fast = read::<serde_json::Value>(&source);
        prop_assert_eq!(fast.as_ref(), Ok(&by_serde), "{}", text);
        let slow = read_slowly::<serde_json::Value>(&source, &Forms::standard(), None);
        prop_assert_eq!(slow, fast);
    }

    #[test]
    fn prop_the_tree_is_what_serde_reads(value in any_value()) {
        let text = serde_yaml::to_string(&value).unwrap();
        let tree = Tree::parse(&Source::new("a", &*text));
        prop_assert_eq!(tree.problems, vec![]);
        let by_serde: serde_yaml::Value = serde_yaml::from_str(&text).unwrap();
        prop_assert_eq!(as_serde(&tree.root.unwrap()), by_serde, "{}", text);
    }

    #[test]
    fn prop_a_scalars_place_is_where_its_text_stands(value in any_value()) {
        let text = serde_yaml::to_string(&value).unwrap();
        let places = Places::of(&Source::new("a", &*text));
        let starts = line_starts(&text);
        let mut open = vec![(KeyPath::root(), places.tree().root.clone().unwrap())];
        while let Some((path, node)) = open.pop() {
            match node.value {
                Value::List(items) => {
                    open.extend(items.into_iter().enumerate().map(|(n, item)| (path.index(n), item)));
                }
                Value::Map(entries) => {
                    for entry in entries {
                        open.push((path.key(entry.name().unwrap()), entry.value));
                    }
                }
                Value::Scalar(scalar) if scalar.plain && !scalar.text.contains('\n') => {
                    let place = places.find(&path, false).unwrap();
                    let line: String = line(&text, &starts, place.line).unwrap().chars().skip(place.column - 1).collect();
                    let word = scalar.text.split(' ').next().unwrap();
                    prop_assert!(line.starts_with(word), "{} {:?} {}", text, scalar, line);
                }
                _ => {}
            }
        }
    }
}
