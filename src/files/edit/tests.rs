use super::*;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom as _;
use rand::{Rng as _, SeedableRng as _};

fn readings(specimen: usize) -> KeyPath {
    let root = KeyPath::root().key("specimens");
    root.index(specimen).key("readings")
}

fn source(text: &str) -> Source {
    Source::new("shoes/x.yaml", text)
}

fn owned(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

fn edited(text: &str, key: &str, words: &[&str]) -> String {
    set(&source(text), &readings(0), key, &owned(words)).unwrap()
}

const HEAD: &str = "specimens:\n  - id: A   # the first\n    readings:\n";

fn inside(line: &str, key: &str, words: &[&str]) -> String {
    let text = edited(&format!("{HEAD}{line}\nnotes: x # y\n"), key, words);
    let rest = text.strip_prefix(HEAD).unwrap();
    rest.strip_suffix("\nnotes: x # y\n").unwrap().to_owned()
}

#[test]
fn a_reading_is_replaced_where_it_stands() {
    let line = "      mass: [ 262,263 , '262' ]   # g";
    assert_eq!(
        inside(line, "mass", &["262", "264", "261 g"]),
        "      mass: [ 262,264 , '261 g' ]   # g"
    );
    assert_eq!(inside(line, "mass", &["262", "263", "262"]), line);
}

#[test]
fn a_reading_is_added_in_the_style_of_the_list() {
    for (before, after) in [
        (
            "      mass: [262,263]  # g",
            "      mass: [262,263,264]  # g",
        ),
        (
            "      mass: [262 , 263 ,]",
            "      mass: [262 , 263 , 264 ,]",
        ),
        (
            "      mass:\n        -  262 # a\n        -  263 # b\n      # c",
            "      mass:\n        -  262 # a\n        -  263 # b\n        -  264\n      # c",
        ),
        (
            "      mass:\n      - 262\n      - 263",
            "      mass:\n      - 262\n      - 263\n      - 264",
        ),
        (
            "      mass: [\n        262,  # a\n        263   # b\n      ]",
            "      mass: [\n        262,  # a\n        263,   # b\n        264\n      ]",
        ),
        (
            "      mass: [\n        262,\n        263,   # b\n      ]",
            "      mass: [\n        262,\n        263,   # b\n        264,\n      ]",
        ),
    ] {
        assert_eq!(inside(before, "mass", &["262", "263", "264"]), after);
    }
}

#[test]
fn a_reading_is_taken_out_wherever_it_stands() {
    let line = "      mass: [ 262,263 , '264' ]   # g";
    for (words, after) in [
        (&["262", "264"][..], "      mass: [ 262,'264' ]   # g"),
        (&["263", "264"], "      mass: [ 263 , '264' ]   # g"),
        (&["262", "263"], "      mass: [ 262,263 ]   # g"),
        (&["264"], "      mass: [ '264' ]   # g"),
        // Changed and fewer: there is no telling which one went.
        (&["262", "270"], "      mass: [ 262,270 ]   # g"),
    ] {
        assert_eq!(inside(line, "mass", words), after);
    }
    let twice = "      mass: [262, 263, 262]";
    assert_eq!(
        inside(twice, "mass", &["262", "263"]),
        "      mass: [262, 263]"
    );
}

#[test]
fn a_comment_beside_a_reading_that_is_taken_out_stays() {
    for (before, after) in [
        (
            "      mass:\n      - 1 # first\n      -   2  # odd\n      # between\n      - 3",
            "      mass:\n      - 1 # first\n      # odd\n      # between\n      - 3",
        ),
        (
            "      mass:\n        - 1\n        # of the second\n        - 2\n        - 3 # third",
            "      mass:\n        - 1\n        # of the second\n        - 3 # third",
        ),
        (
            "      mass: [\n        1,  # first\n        2,  # odd\n        3\n      ] # g",
            "      mass: [\n        1,  # first\n        # odd\n        3\n      ] # g",
        ),
        (
            "      mass: [\n        1, # first\n        2,\n        3 # third\n      ]",
            "      mass: [\n        1, # first\n        3 # third\n      ]",
        ),
    ] {
        assert_eq!(inside(before, "mass", &["1", "3"]), after, "{before}");
    }
    for (before, after) in [
        (
            "      mass:\n      - 1 # first\n      - 3",
            "      mass:\n      # first\n      - 3",
        ),
        (
            "      mass: [\n        1 , # first\n        3 # last\n      ]",
            "      mass: [\n        # first\n        3 # last\n      ]",
        ),
    ] {
        assert_eq!(inside(before, "mass", &["3"]), after, "{before}");
    }
    // What goes on below it must not go on below another.
    for (before, after) in [
        (
            "      mass:\n        - 1\n        - 2\n          # the lace,\n            # again\n        - 3",
            "      mass:\n        - 1\n        # the lace,\n        # again\n        - 3",
        ),
        (
            "      mass:\n        - 1 # a\n          # b\n        - 2 # odd:\n          # the lace\n        - 3",
            "      mass:\n        - 1 # a\n          # b\n        # odd:\n        # the lace\n        - 3",
        ),
    ] {
        assert_eq!(inside(before, "mass", &["1", "3"]), after, "{before}");
    }
    let last = "      mass: [\n        1,\n        3 # last\n      ]";
    assert_eq!(
        inside(last, "mass", &["1"]),
        "      mass: [\n        1,\n        # last\n      ]"
    );
}

#[test]
fn a_comment_that_goes_on_below_a_reading_stays_with_it() {
    for (before, after) in [
        (
            "      mass:\n        - 262 # odd:\n          # the lace\n        # next",
            "      mass:\n        - 262 # odd:\n          # the lace\n        - 263\n        # next",
        ),
        (
            "      mass: [\n        262 # odd:\n          # the lace\n        # next\n      ]",
            "      mass: [\n        262, # odd:\n          # the lace\n        263\n        # next\n      ]",
        ),
    ] {
        assert_eq!(inside(before, "mass", &["262", "263"]), after);
    }
    assert_eq!(
        inside(
            "      mass: 262\n        # the lace\n      # drop",
            "drop",
            &["3"]
        ),
        "      mass: 262\n        # the lace\n      drop: 3\n      # drop"
    );
    let list = KeyPath::root().key("specimens");
    let item = [("id".to_owned(), New::Text("B".into()))];
    assert_eq!(
        append(
            &source("specimens:\n  - id: A\n    # clamp loose\nnotes: x\n"),
            &list,
            &item
        )
        .unwrap(),
        "specimens:\n  - id: A\n    # clamp loose\n  - id: B\nnotes: x\n"
    );
}

#[test]
fn a_single_value_becomes_a_list_and_an_empty_one_is_filled() {
    assert_eq!(
        inside("      drop: 6.0  # mm", "drop", &["6.0", "6.1 mm"]),
        "      drop: [6.0, 6.1 mm]  # mm"
    );
    assert_eq!(
        inside("      drop: '6.0'", "drop", &["5.9"]),
        "      drop: '5.9'"
    );
    assert_eq!(
        inside("      drop:   # to come", "drop", &["5.9"]),
        "      drop: 5.9   # to come"
    );
    assert_eq!(
        inside("      drop: []", "drop", &["5.9"]),
        "      drop: [5.9]"
    );
}

#[test]
fn a_missing_entry_is_written_as_its_neighbours_are() {
    assert_eq!(
        inside("      mass: [1,2] # g", "drop", &["3", "4"]),
        "      mass: [1,2] # g\n      drop: [3,4]"
    );
    assert_eq!(
        inside("      mass:\n       - 1 # g", "drop", &["3", "4"]),
        "      mass:\n       - 1 # g\n      drop:\n       - 3\n       - 4"
    );
    assert_eq!(
        inside("      curve: {curve: a.csv}   # loop", "drop", &["3"]),
        "      curve: {curve: a.csv}   # loop\n      drop: 3"
    );
}

#[test]
fn missing_and_empty_readings_are_begun() {
    for (before, after) in [
        (
            "specimens:\n  - id: A # a\n    side: left # b\nnotes: x\n",
            "specimens:\n  - id: A # a\n    side: left # b\n    readings:\n      mass: [1, 2]\nnotes: x\n",
        ),
        (
            "specimens:\n- id: A\n  readings:   # none\n",
            "specimens:\n- id: A\n  readings:   # none\n    mass: [1, 2]\n",
        ),
        (
            "specimens:\n- id: A\n  readings: {}   # none",
            "specimens:\n- id: A\n  readings: {mass: [1, 2]}   # none",
        ),
        (
            "specimens: [{id: A, readings: {drop: 3}}] # s",
            "specimens: [{id: A, readings: {drop: 3, mass: [1, 2]}}] # s",
        ),
        (
            "specimens: [{id: A}]",
            "specimens: [{id: A, readings: {mass: [1, 2]}}]",
        ),
    ] {
        assert_eq!(edited(before, "mass", &["1", "2"]), after);
    }
}

#[test]
fn what_a_word_could_be_mistaken_for_is_quoted() {
    for (new, written) in [
        ("38 in·lbf", "38 in·lbf"),
        ("-1.5 mm", "-1.5 mm"),
        ("48 %", "48 %"),
        ("a: b", "\"a: b\""),
        ("x # y", "\"x # y\""),
        ("1, 2", "\"1, 2\""),
        ("\"", "\"\\\"\""),
        ("*x", "\"*x\""),
        ("null", "\"null\""),
        ("", "\"\""),
        ("- a", "\"- a\""),
        ("1-", "\"1-\""),
        ("1-1  -", "\"1-1  -\""),
    ] {
        let line = inside("      m: [1, 2]", "m", &["1", new]);
        assert_eq!(line, format!("      m: [1, {written}]"));
    }
}

#[test]
fn nothing_is_edited_that_can_not_be_kept_as_it_is() {
    let refused = |text: &str, words: &[&str]| {
        let source = source(text);
        set(&source, &readings(0), "mass", &owned(words)).unwrap_err()
    };
    let of = |line: &str| format!("{HEAD}{line}\n");
    let anchor = refused(&of("      mass: &m [1]\n      drop: *m"), &["2"]);
    assert!(anchor.reason.contains("anchor"), "{anchor}");
    assert_eq!(anchor.place.unwrap().line, 4);
    assert!(
        refused(&of("      mass: {curve: x.csv}"), &["2"])
            .reason
            .contains("map")
    );
    assert!(
        refused(&of("      mass: [[1], 2]"), &["2", "3"])
            .reason
            .contains("list")
    );
    assert!(
        refused(&of("      mass: |\n        1"), &["2"])
            .reason
            .contains("lines")
    );
    // Where a bracket's comment does not stand alone behind its reading.
    let comment = of("      mass: [1, 2, # odd\n        3]");
    assert!(refused(&comment, &["1", "3"]).reason.contains("comment"));
    assert!(
        refused(&of("      mass: [1"), &["1"])
            .reason
            .contains("mended")
    );
    assert!(
        refused(&of("      mass: [1]"), &[])
            .reason
            .contains("by hand")
    );
    let nowhere = set(&source("a: 1\n"), &readings(0), "mass", &owned(&["1"]));
    assert!(nowhere.unwrap_err().reason.contains("specimens[0]"));
}

#[test]
fn a_key_in_brackets_may_lack_its_colon() {
    assert_eq!(
        edited(
            "specimens: [{readings: {worn, mass: [1]}}]\n",
            "drop",
            &["2"]
        ),
        "specimens: [{readings: {worn, mass: [1], drop: 2}}]\n"
    );
}

#[test]
fn words_come_back_as_they_are_written() {
    let source = source(&format!(
        "{HEAD}      mass: [6.10, '38 in·lbf']\n      drop: 6.0\n"
    ));
    let read = |key: &str| words(&source, &readings(0), key);
    assert_eq!(read("mass"), Some(owned(&["6.10", "38 in·lbf"])));
    assert_eq!(read("drop"), Some(owned(&["6.0"])));
    assert_eq!(read("none"), None);
}

#[test]
fn a_specimen_is_added_below_the_last_one() {
    let item = [
        ("id".to_owned(), New::Text("B".into())),
        (
            "session".to_owned(),
            New::Flow(vec![("on".to_owned(), New::Word("2026-11-18".into()))]),
        ),
        ("readings".to_owned(), New::Block(Vec::new())),
    ];
    let list = KeyPath::root().key("specimens");
    for (before, after) in [
        (
            "specimens:\r\n  - id: A\r\n    readings:\r\n      mass: [1] # g\r\nnotes: x\r\n",
            "specimens:\r\n  - id: A\r\n    readings:\r\n      mass: [1] # g\r\n  - id: B\r\n    \
             session: {on: 2026-11-18}\r\n    readings: {}\r\nnotes: x\r\n",
        ),
        (
            "specimens:\n-   id: A # a",
            "specimens:\n-   id: A # a\n-   id: B\n    session: {on: 2026-11-18}\n    readings: {}",
        ),
        (
            "specimens: [{id: A}]",
            "specimens: [{id: A}, {id: B, session: {on: 2026-11-18}, readings: {}}]",
        ),
    ] {
        assert_eq!(append(&source(before), &list, &item).unwrap(), after);
    }
}

#[test]
fn a_new_file_says_what_it_was_given() {
    let text = write_new(
        "Invented.",
        &[
            ("schema".to_owned(), New::Word("1".into())),
            ("model".to_owned(), New::Text("12".into())),
            ("maker".to_owned(), New::Text("A: \"B\"".into())),
        ],
    );
    assert_eq!(
        text,
        "# Invented.\nschema: 1\nmodel: \"12\"\nmaker: \"A: \\\"B\\\"\"\n"
    );
}

/// How one quantity is written in a file of the property below. The file is
/// written from this model, so that what an edit must give is known to the byte
/// without asking the code that makes it.
#[derive(Clone)]
enum Written {
    /// `key: 6.0`
    Single { quote: &'static str },
    /// `key: [1, 2]`
    Inline {
        open: &'static str,
        gap: &'static str,
        close: &'static str,
        quote: &'static str,
    },
    /// Brackets with a reading a line; comments behind them.
    Lines { comma: bool },
    /// `- 1`, a reading a line, the dash so far in.
    Dashes { indent: usize, gap: &'static str },
}

#[derive(Clone)]
struct Row {
    key: &'static str,
    written: Written,
    /// Each reading, with the comment on its line where it has one of its own;
    /// without a reading, a comment that stands alone.
    lines: Vec<(Option<String>, &'static str)>,
    /// Behind the entry, where it stands on one line.
    behind: &'static str,
}

#[derive(Clone)]
struct File {
    head: String,
    specimens: Vec<(String, bool, Vec<Row>, String)>,
    tail: String,
    line_break: &'static str,
    last_break: bool,
}

const COMMENTS: [&str; 7] = [
    "",
    "",
    "   # g",
    " # [1, 2]",
    "  # it said: 'odd'",
    "\t# 5 °C, \"cold\"",
    " #",
];
const WORDS: [&str; 9] = [
    "262",
    "6.10",
    "-1.5",
    "38 in·lbf",
    "4.2 N·m",
    "0",
    "13.3 mm",
    "48 %",
    "1e2",
];

impl Row {
    fn words(&self) -> Vec<String> {
        let words = self.lines.iter().filter_map(|(word, _)| word.clone());
        words.collect()
    }

    fn text(&self, indent: &str) -> String {
        let mut text = format!("{indent}{}:", self.key);
        let words = self.words();
        match &self.written {
            Written::Single { quote } => {
                text += &format!(" {quote}{}{quote}{}\n", words[0], self.behind);
            }
            Written::Inline {
                open,
                gap,
                close,
                quote,
            } => {
                let words: Vec<_> = words.iter().map(|w| format!("{quote}{w}{quote}")).collect();
                text += &format!(" [{open}{}{close}]{}\n", words.join(gap), self.behind);
            }
            Written::Lines { comma } => {
                text += " [\n";
                let last = self.lines.iter().rposition(|(word, _)| word.is_some());
                for (at, (word, comment)) in self.lines.iter().enumerate() {
                    text += &match word {
                        Some(word) => {
                            let comma = if last == Some(at) && !comma { "" } else { "," };
                            format!("{indent}   {word}{comma}{comment}\n")
                        }
                        None => format!("{indent}   {}\n", comment.trim_start()),
                    };
                }
                text += &format!("{indent} ]\n");
            }
            Written::Dashes { indent: more, gap } => {
                text += "\n";
                let more = " ".repeat(*more);
                for (word, comment) in &self.lines {
                    text += &match word {
                        Some(word) => format!("{indent}{more}-{gap}{word}{comment}\n"),
                        None => format!("{indent}{more}{}\n", comment.trim_start()),
                    };
                }
            }
        }
        text
    }

    /// Takes out the readings that the words lack; a comment on their line stays.
    fn keep(&mut self, words: &[String]) {
        let mut wanted = words.iter().peekable();
        let goes: Vec<usize> = (0..self.lines.len())
            .filter(|at| {
                let word = &self.lines[*at].0;
                word.is_some()
                    && wanted
                        .next_if(|wanted| Some(*wanted) == word.as_ref())
                        .is_none()
            })
            .collect();
        assert!(wanted.peek().is_none(), "only some are taken out");
        let stay = |at: &usize| self.lines[*at].0.is_some() && !goes.contains(at);
        let last = (0..self.lines.len()).rfind(stay).unwrap();
        let commented = self.lines[last..]
            .iter()
            .any(|(_, comment)| !comment.is_empty());
        if let Written::Lines { comma } = &mut self.written
            && goes.iter().any(|at| *at > last)
            && commented
        {
            // The comma before the last one stays with its comment.
            *comma = true;
        }
        for at in goes.iter().rev() {
            self.lines[*at].0 = None;
        }
        self.lines
            .retain(|(word, comment)| word.is_some() || !comment.is_empty());
    }

    fn replace(&mut self, words: &[String]) {
        let mut words = words.iter().cloned();
        for (word, _) in &mut self.lines {
            if word.is_some() {
                *word = words.next();
            }
        }
        let last = self.lines.iter().rposition(|(word, _)| word.is_some());
        let behind = last.map_or(0, |at| at + 1);
        for word in words.rev() {
            self.lines.insert(behind, (Some(word), ""));
        }
    }
}

impl File {
    fn text(&self) -> String {
        let mut text = self.head.clone();
        text += "specimens:\n";
        for (id, flow, entries, between) in &self.specimens {
            text += &format!("  - id: {id}\n    side: left   # by eye\n");
            if *flow {
                let inner: Vec<_> = entries
                    .iter()
                    .map(|e| e.text("").trim_end().to_owned())
                    .collect();
                text += &format!("    readings: {{{}}} # all\n", inner.join(" , "));
            } else {
                text += "    readings:\n";
                for entry in entries {
                    text += &entry.text("      ");
                }
            }
            text += between;
        }
        text += &self.tail;
        if !self.last_break {
            text.pop();
        }
        text.replace('\n', self.line_break)
    }

    fn random(random: &mut StdRng) -> File {
        let pick = |random: &mut StdRng, of: &[&'static str]| *of.choose(random).unwrap();
        let mut head = pick(random, &["", "# A shoe.\n", "# Größe: 'x'\n\n#\n"]).to_owned();
        for line in [
            "schema: 1\n",
            "maker: \"Fennick & Vale\"   # quoted\n",
            "model:  'It''s'\n",
            "size: {system: mondopoint,  value: 270}\n",
        ] {
            head += line;
            head += pick(random, &["", "\n", "# between\n"]);
        }
        let specimens = (0..random.random_range(1..4))
            .map(|at| {
                let flow = random.random_bool(0.2);
                let keys = ["mass", "midfoot-torque", "heel-compression", "static-drop"];
                let count = random.random_range(2..=4);
                let entries = keys[..count]
                    .iter()
                    .map(|key| entry(random, key, flow))
                    .collect();
                let between = pick(random, &["", "", "\n", "    # done\n"]).to_owned();
                (format!("S{at}"), flow, entries, between)
            })
            .collect();
        File {
            head,
            specimens,
            tail: pick(
                random,
                &[
                    "notes: x\n",
                    "review: |\n  mass: [1, 2]  # no comment\n\n  # text\nnotes: 'y'\n",
                    "# the end\n",
                ],
            )
            .to_owned(),
            line_break: pick(random, &["\n", "\n", "\r\n"]),
            last_break: random.random_bool(0.8),
        }
    }
}

fn entry(random: &mut StdRng, key: &'static str, flow: bool) -> Row {
    let quote = *["", "", "\"", "'"].choose(random).unwrap();
    let kind = random.random_range(0..if flow { 2 } else { 4 });
    let count = if kind == 0 {
        1
    } else {
        random.random_range(1..5)
    };
    let written = match kind {
        0 => Written::Single { quote },
        1 => Written::Inline {
            open: ["", " "].choose(random).unwrap(),
            // With one reading there is no comma whose style could be kept.
            gap: if count == 1 {
                ", "
            } else {
                [", ", ",", " , ", ",   "].choose(random).unwrap()
            },
            close: ["", " ", "  "].choose(random).unwrap(),
            quote,
        },
        2 => Written::Lines {
            comma: random.random_bool(0.5),
        },
        _ => Written::Dashes {
            indent: random.random_range(0..4),
            gap: [" ", "   "].choose(random).unwrap(),
        },
    };
    let mut lines: Vec<(Option<String>, &'static str)> = (0..count)
        .map(|_| {
            let word = (*WORDS.choose(random).unwrap()).to_owned();
            (Some(word), *COMMENTS.choose(random).unwrap())
        })
        .collect();
    let mut behind = "";
    if kind < 2 {
        for (_, comment) in &mut lines {
            behind = if flow { "" } else { comment };
            *comment = "";
        }
    }
    Row {
        key,
        written,
        lines,
        behind,
    }
}

/// Changes the model as the edit is to change the file.
fn change(entries: &mut Vec<Row>, flow: bool, key: &'static str, words: Vec<String>) {
    if let Some(entry) = entries.iter_mut().find(|entry| entry.key == key) {
        if let Written::Single { quote } = entry.written
            && words.len() > 1
        {
            entry.written = Written::Inline {
                open: "",
                gap: ", ",
                close: "",
                quote,
            };
        }
        if let Written::Inline { gap, .. } = &mut entry.written
            && words.len() == 1
        {
            // The comma is gone, and its style with it.
            *gap = ", ";
        }
        if words.len() < entry.words().len() {
            entry.keep(&words);
        } else {
            entry.replace(&words);
        }
        return;
    }
    let lists: Vec<&Row> = entries
        .iter()
        .filter(|e| !matches!(e.written, Written::Single { .. }))
        .collect();
    let dashes = lists.first().and_then(|first| match first.written {
        Written::Dashes { indent, gap } if !flow => Some((indent, gap)),
        _ => None,
    });
    let gap = lists.iter().find_map(|e| match e.written {
        Written::Inline { gap, .. } if e.words().len() > 1 => Some(gap),
        _ => None,
    });
    let written = match (words.len(), dashes) {
        (1, _) => Written::Single { quote: "" },
        (_, Some((indent, gap))) => Written::Dashes { indent, gap },
        // In a map in brackets a new list takes no example.
        _ if flow => Written::Inline {
            open: "",
            gap: ", ",
            close: "",
            quote: "",
        },
        _ => Written::Inline {
            open: "",
            gap: gap.unwrap_or(", "),
            close: "",
            quote: "",
        },
    };
    entries.push(Row {
        key,
        written,
        lines: words.into_iter().map(|word| (Some(word), "")).collect(),
        behind: "",
    });
}

/// New words for an entry: one changed, one or two added, or any one taken out.
fn new_words(random: &mut StdRng, entry: Option<&Row>) -> Vec<String> {
    let any = |random: &mut StdRng| (*WORDS.choose(random).unwrap()).to_owned();
    let Some(entry) = entry else {
        return (0..random.random_range(1..4))
            .map(|_| any(random))
            .collect();
    };
    let mut words = entry.words();
    let at = random.random_range(0..words.len());
    match random.random_range(0..4) {
        0 => words[at] = any(random),
        1 => words.push(any(random)),
        2 => words.extend([any(random), any(random)]),
        _ if words.len() > 1 => {
            words.remove(at);
        }
        _ => words[at] = any(random),
    }
    words
}

#[test]
fn prop_500_real_looking_files_survive_ten_edits_each_byte_for_byte_outside_them() {
    for seed in 0..500 {
        let mut random = StdRng::seed_from_u64(seed);
        let mut file = File::random(&mut random);
        let mut text = file.text();
        assert!(Tree::parse(&source(&text)).problems.is_empty(), "{text}");
        for step in 0..10 {
            let at = random.random_range(0..file.specimens.len());
            let key = *[
                "mass",
                "midfoot-torque",
                "heel-compression",
                "static-drop",
                "loaded-drop",
            ]
            .choose(&mut random)
            .unwrap();
            let (_, flow, entries, _) = &mut file.specimens[at];
            let words = new_words(&mut random, entries.iter().find(|e| e.key == key));
            change(entries, *flow, key, words.clone());
            let before = source(&text);
            let edited = set_with_patches(&before, &readings(at), key, &words)
                .unwrap_or_else(|refused| panic!("seed {seed}, step {step}: {refused}\n{text}"));
            let expected = file.text();
            assert_eq!(
                edited.text, expected,
                "seed {seed}, step {step}, {key}: {words:?} in\n{text}"
            );
            outside_is_kept(&text, &edited);
            text = edited.text;
            let back = super::words(&source(&text), &readings(at), key);
            assert_eq!(back, Some(words), "seed {seed}, step {step}");
        }
    }
}

/// Every byte that no patch names is where it was, and no patch takes a comment.
fn outside_is_kept(old: &str, edited: &Edited) {
    let (mut from, mut to) = (0, 0);
    for patch in &edited.patches {
        let kept = &old[from..patch.range.start];
        assert_eq!(kept, &edited.text[to..to + kept.len()]);
        assert!(!old[patch.range.clone()].contains('#'));
        from = patch.range.end;
        to += kept.len() + patch.with.len();
    }
    assert_eq!(&old[from..], &edited.text[to..]);
}
