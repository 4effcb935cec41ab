//! One slip at a time, and what is said of it.

use super::{assert_begins, broken, rules};

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
                "control-character 3:15  | the character U+0085 does not belong in a text | take it out; it can't be seen, and acts on what stands around it",
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
