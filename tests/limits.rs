//! Every limit on what a lab's files may hold: it exists, one more is refused with
//! a clear problem, and `docs/limits.md` says the same number.
//!
//! After a change of a limit, `UPDATE_LIMITS=1 cargo test --test limits` writes the
//! table anew.

use serde_json::{Value, json};
use solefolio::diagnostics::Problem;
use solefolio::diagnostics::codes::find;
use solefolio::edition::LEDGER_LIMIT;
use solefolio::files::{
    ADDRESS_LIMIT, CSV_LIMIT, Files, LABEL_LIMIT, LINE_LIMIT, Listed, Memory, NAME_LIMIT,
    PARAGRAPH_LIMIT, PATH_LIMIT, Refused, RelPath, Root, WORD_LIMIT, YAML_LIMIT, csv, yaml,
};
use solefolio::gather::{SHOES_LIMIT, TEMPLATE_LIMIT, gather, read_templates};
use solefolio::lab::{MAIL_LIMIT, QUANTITIES_LIMIT};
use solefolio::rules::{EXPRESSION_LIMIT, EXPRESSION_NESTING, POINTS_LIMIT, RULES_LIMIT};
use solefolio::shoe::{REVIEW_LIMIT, SPECIMENS_LIMIT, SUMMARY_LIMIT, TITLE_LIMIT, TRIALS_LIMIT};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

const LAB: &str = "lab/lab.yaml";
const PROTOCOL: &str = "lab/protocol.yaml";
const INSTRUMENTS: &str = "lab/instruments.yaml";
const RULES: &str = "lab/rules.yaml";
const PHRASES: &str = "lab/phrases.yaml";
const SHOE: &str = "shoes/full.yaml";
const CURVE: &str = "shoes/curves/kestrel.csv";

type Lab = BTreeMap<String, Vec<u8>>;

/// Puts so much of something into a lab.
type Make = Box<dyn Fn(&mut Lab, usize)>;

/// What is limited, to how many of what, the code of one more, and a lab of so many.
struct Limit {
    what: &'static str,
    most: usize,
    of: &'static str,
    code: &'static str,
    make: Make,
}

fn files_below(folder: &Path, top: &Path, into: &mut Lab) {
    for entry in fs::read_dir(folder).expect("listed") {
        let path = entry.expect("listed").path();
        if path.is_dir() {
            files_below(&path, top, into);
        } else {
            let name = path
                .strip_prefix(top)
                .expect("inside")
                .to_str()
                .expect("UTF-8");
            into.insert(name.replace('\\', "/"), fs::read(&path).expect("read"));
        }
    }
}

fn lab() -> Lab {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/hostile-lab");
    let mut lab = Lab::new();
    files_below(&top, &top, &mut lab);
    lab
}

/// Changes the value at a way of a file.
fn set(lab: &mut Lab, file: &str, way: &str, value: Value) {
    let bytes = lab.get_mut(file).expect("the file is there");
    let mut whole: Value = serde_yaml::from_slice(bytes).expect("it is right");
    *whole
        .pointer_mut(way)
        .unwrap_or_else(|| panic!("{file} has no {way}")) = value;
    *bytes = serde_json::to_vec_pretty(&whole).expect("JSON");
}

/// Adds entries to the map at a way of a file.
fn add(lab: &mut Lab, file: &str, way: &str, entries: impl IntoIterator<Item = (String, Value)>) {
    let bytes = lab.get_mut(file).expect("the file is there");
    let mut whole: Value = serde_yaml::from_slice(bytes).expect("it is right");
    let map = whole
        .pointer_mut(way)
        .and_then(Value::as_object_mut)
        .expect("a map");
    map.extend(entries);
    *bytes = serde_json::to_vec_pretty(&whole).expect("JSON");
}

fn text(file: &'static str, way: &'static str, what: &'static str, most: usize) -> Limit {
    Limit {
        what,
        most,
        of: "characters",
        code: "text-too-long",
        // Two bytes a letter: characters are counted.
        make: Box::new(move |lab, n| set(lab, file, way, json!("ä".repeat(n)))),
    }
}

fn limit(
    what: &'static str,
    most: usize,
    of: &'static str,
    code: &'static str,
    make: impl Fn(&mut Lab, usize) + 'static,
) -> Limit {
    let make = Box::new(make);
    Limit {
        what,
        most,
        of,
        code,
        make,
    }
}

/// A file filled up to so many bytes.
fn fill(lab: &mut Lab, file: &str, comment: &str, size: usize) {
    let bytes = lab.get_mut(file).expect("the file is there");
    let room = size - bytes.len();
    let line = format!("{comment}{}\n", "x".repeat(98 - comment.len() + 1));
    let mut more = line.repeat(room / 100);
    let rest = room % 100;
    if rest > 0 {
        more.push_str(&format!("{comment:x<width$}\n", width = rest - 1)[..rest]);
    }
    bytes.extend_from_slice(more.as_bytes());
    assert_eq!(bytes.len(), size);
}

fn quantity(lab: &Lab) -> Value {
    let whole: Value = serde_yaml::from_slice(&lab[PROTOCOL]).expect("it is right");
    whole["quantities"]["mass"].clone()
}

fn of_files() -> Vec<Limit> {
    vec![
        limit(
            "a YAML file",
            YAML_LIMIT as usize,
            "bytes",
            "file-too-large",
            |lab, n| fill(lab, SHOE, "# ", n),
        ),
        limit(
            "a CSV file",
            CSV_LIMIT as usize,
            "bytes",
            "file-too-large",
            |lab, n| fill(lab, CURVE, "# ", n),
        ),
        limit(
            "maps and lists in each other",
            yaml::DEPTH_LIMIT,
            "levels",
            "too-deep",
            |lab, n| {
                let nested = format!("{}{}", "[".repeat(n - 1), "]".repeat(n - 1));
                lab.insert(SHOE.into(), format!("notes: {nested}\n").into_bytes());
            },
        ),
        limit(
            "rows of a CSV file",
            csv::ROW_LIMIT,
            "rows",
            "csv-too-many",
            |lab, n| {
                let rows = "1,2\n".repeat(n);
                lab.insert(
                    CURVE.into(),
                    format!("travel (mm),load (N)\n{rows}").into_bytes(),
                );
            },
        ),
        limit(
            "columns of a CSV file",
            csv::COLUMN_LIMIT,
            "columns",
            "csv-too-many",
            |lab, n| {
                let names: Vec<String> = (0..n).map(|at| format!("c{at}")).collect();
                lab.insert(CURVE.into(), format!("{}\n", names.join(",")).into_bytes());
            },
        ),
        limit(
            "a name: a quantity, a rule, a shoe's address",
            NAME_LIMIT,
            "characters",
            "wrong-form",
            |lab, n| {
                set(lab, SHOE, "/category", json!("x".repeat(n)));
            },
        ),
        limit("a path", PATH_LIMIT, "bytes", "outside-root", |lab, n| {
            let csv = format!("{}.csv", "x".repeat(n - "shoes/.csv".len()));
            set(
                lab,
                SHOE,
                "/specimens/0/readings/heel-load-curve/curve",
                json!(csv),
            );
        }),
        limit(
            "a web address",
            ADDRESS_LIMIT,
            "bytes",
            "wrong-form",
            |lab, n| {
                let head = "https://x.example/";
                set(
                    lab,
                    LAB,
                    "/address",
                    json!(format!("{head}{}/", "x".repeat(n - head.len() - 1))),
                );
            },
        ),
        limit("shoes", SHOES_LIMIT, "files", "too-many-shoes", |_, _| {}),
    ]
}

fn of_lab() -> Vec<Limit> {
    vec![
        text(LAB, "/name", "the laboratory's name", LABEL_LIMIT),
        text(LAB, "/about", "about the laboratory", PARAGRAPH_LIMIT),
        limit(
            "the address for questions",
            MAIL_LIMIT,
            "characters",
            "text-too-long",
            |lab, n| {
                set(
                    lab,
                    LAB,
                    "/contact",
                    json!(format!("{}@b.example", "x".repeat(n - 10))),
                );
            },
        ),
        limit(
            "the language's code",
            WORD_LIMIT,
            "characters",
            "wrong-form",
            |lab, n| {
                let parts = format!("en{}", "-abcdefgh".repeat((n - 4) / 9));
                let last = "x".repeat(n - parts.len() - 1);
                set(lab, LAB, "/language", json!(format!("{parts}-{last}")));
            },
        ),
        text(LAB, "/licence/name", "a licence's identifier", WORD_LIMIT),
        text(LAB, "/licence/title", "a licence's title", LABEL_LIMIT),
        text(LAB, "/categories/road", "a category's name", LABEL_LIMIT),
        text(LAB, "/operators/ada", "an operator's name", LABEL_LIMIT),
        limit(
            "categories; operators",
            QUANTITIES_LIMIT,
            "entries",
            "wrong-length",
            |lab, n| {
                let names = (2..n).map(|at| (format!("c{at}"), json!("C")));
                add(lab, LAB, "/categories", names);
            },
        ),
        limit(
            "instruments",
            QUANTITIES_LIMIT,
            "entries",
            "wrong-length",
            |lab, n| {
                let whole: Value = serde_yaml::from_slice(&lab[INSTRUMENTS]).expect("it is right");
                let one = whole["instruments"]["scale"].clone();
                let more = (2..n).map(|at| (format!("i{at}"), one.clone()));
                add(lab, INSTRUMENTS, "/instruments", more);
            },
        ),
        text(
            INSTRUMENTS,
            "/instruments/scale/label",
            "an instrument's name",
            LABEL_LIMIT,
        ),
        limit(
            "quantities; as many curves",
            QUANTITIES_LIMIT,
            "entries",
            "wrong-length",
            |lab, n| {
                let one = quantity(lab);
                let more = (3..n).map(|at| (format!("q{at}"), one.clone()));
                add(lab, PROTOCOL, "/quantities", more);
            },
        ),
        text(
            PROTOCOL,
            "/quantities/mass/label",
            "a quantity's or curve's name",
            LABEL_LIMIT,
        ),
        text(
            PROTOCOL,
            "/quantities/mass/what",
            "what a quantity is",
            LINE_LIMIT,
        ),
        limit(
            "trials a specimen needs",
            TRIALS_LIMIT,
            "trials",
            "out-of-range",
            |lab, n| {
                set(lab, PROTOCOL, "/quantities/mass/trials", json!(n));
            },
        ),
        limit(
            "cycles of a curve",
            100,
            "cycles",
            "out-of-range",
            |lab, n| {
                add(
                    lab,
                    PROTOCOL,
                    "/curves/heel-load-curve",
                    [("cycles".into(), json!(n))],
                );
            },
        ),
    ]
}

fn of_rules() -> Vec<Limit> {
    vec![
        limit("rules", RULES_LIMIT, "rules", "wrong-length", |lab, n| {
            let rule = json!({"kind": "formula", "label": "F", "unit": "mm", "is": "1.0"});
            let words = json!({"any": {"short": "a", "means": "b"}});
            let names = || (6..n).map(|at| format!("r{at}"));
            add(
                lab,
                RULES,
                "/rules",
                names().map(|name| (name, rule.clone())),
            );
            add(
                lab,
                PHRASES,
                "/findings",
                names().map(|name| (name, words.clone())),
            );
        }),
        limit(
            "points of a scale",
            POINTS_LIMIT,
            "points",
            "wrong-length",
            |lab, n| {
                let points: Vec<[f64; 2]> = (0..n)
                    .map(|at| [at as f64 / 10.0, at as f64 * 100.0 / n as f64])
                    .collect();
                set(lab, RULES, "/rules/firmness/points", json!(points));
            },
        ),
        text(
            RULES,
            "/rules/firmness/label",
            "a rule's or option's name",
            LABEL_LIMIT,
        ),
        limit(
            "a band's name",
            WORD_LIMIT,
            "characters",
            "text-too-long",
            |lab, n| {
                let name = "x".repeat(n);
                set(lab, RULES, "/rules/pace/names/1", json!(name));
                let words = json!({"short": "a", "means": "b"});
                set(
                    lab,
                    PHRASES,
                    "/findings/pace",
                    json!({"easy": words, name: words}),
                );
            },
        ),
        text(RULES, "/history/0/note", "a note on a version", LINE_LIMIT),
        limit(
            "an expression",
            EXPRESSION_LIMIT,
            "characters",
            "expression-too-long",
            |lab, n| {
                set(
                    lab,
                    RULES,
                    "/rules/give/is",
                    json!(format!("mass{}", " ".repeat(n - 4))),
                );
            },
        ),
        limit(
            "brackets in an expression",
            usize::from(EXPRESSION_NESTING),
            "levels",
            "expression-too-deep",
            |lab, n| {
                let nested = format!("{}mass{}", "(".repeat(n), ")".repeat(n));
                set(lab, RULES, "/rules/give/is", json!(nested));
            },
        ),
        text(
            PHRASES,
            "/findings/firmness/high/short",
            "the short words of a phrase or advice",
            LABEL_LIMIT,
        ),
        text(
            PHRASES,
            "/findings/firmness/high/means",
            "the long words of a phrase or advice",
            PARAGRAPH_LIMIT,
        ),
        text(
            PHRASES,
            "/advice/hard-heel/text",
            "an advice",
            PARAGRAPH_LIMIT,
        ),
        text(PHRASES, "/fit/close", "the words of a verdict", LABEL_LIMIT),
        text(
            PHRASES,
            "/guide/questions/0",
            "a question or referral of the guide",
            LINE_LIMIT,
        ),
        text(PHRASES, "/cautions/short", "the short caution", LINE_LIMIT),
        text(
            PHRASES,
            "/cautions/long/0",
            "a paragraph of the long caution",
            PARAGRAPH_LIMIT,
        ),
    ]
}

fn of_shoes() -> Vec<Limit> {
    vec![
        text(
            SHOE,
            "/maker",
            "a maker's, model's or colour's name",
            TITLE_LIMIT,
        ),
        text(SHOE, "/version", "a version that is a word", WORD_LIMIT),
        text(SHOE, "/summary", "a summary", SUMMARY_LIMIT),
        text(SHOE, "/review", "a review", REVIEW_LIMIT),
        text(SHOE, "/notes", "notes for the desk", REVIEW_LIMIT),
        text(
            SHOE,
            "/words/firmness",
            "an editor's own words",
            PARAGRAPH_LIMIT,
        ),
        text(SHOE, "/accept/0/reason", "a reason", LINE_LIMIT),
        text(
            SHOE,
            "/specimens/1/id",
            "a specimen's mark or lot",
            WORD_LIMIT,
        ),
        limit(
            "specimens of a shoe",
            SPECIMENS_LIMIT,
            "specimens",
            "wrong-length",
            |lab, n| {
                let whole: Value = serde_yaml::from_slice(&lab[SHOE]).expect("it is right");
                let mut specimens = whole["specimens"].as_array().expect("a list").clone();
                let right = specimens[1].clone();
                for at in 2..n {
                    let mut more = right.clone();
                    more["id"] = json!(format!("S{at}"));
                    specimens.push(more);
                }
                set(lab, SHOE, "/specimens", json!(specimens));
            },
        ),
        limit(
            "trials of a quantity",
            TRIALS_LIMIT,
            "trials",
            "wrong-length",
            |lab, n| {
                set(lab, SHOE, "/specimens/1/readings/mass", json!(vec![262; n]));
            },
        ),
    ]
}

fn limits() -> Vec<(&'static str, Vec<Limit>)> {
    vec![
        ("Files", of_files()),
        ("The laboratory", of_lab()),
        ("Rules and phrases", of_rules()),
        ("Shoes", of_shoes()),
    ]
}

fn problems(lab: Lab) -> Vec<Problem> {
    let memory = lab
        .into_iter()
        .fold(Memory::new(), |memory, (name, bytes)| {
            memory.with(&name, bytes)
        });
    let problems = match gather(&Root::over(memory)) {
        Ok(_) => Vec::new(),
        Err(problems) => problems,
    };
    problems.into_iter().filter(Problem::is_error).collect()
}

#[test]
fn as_much_as_is_allowed_is_taken_and_one_more_is_refused() {
    assert_eq!(problems(lab()), []);
    for (_, limits) in limits() {
        for limit in limits.iter().filter(|limit| limit.code != "too-many-shoes") {
            let at = |n: usize| {
                let mut lab = lab();
                (limit.make)(&mut lab, n);
                let found = problems(lab);
                found.into_iter().find(|problem| problem.code == limit.code)
            };
            assert_eq!(at(limit.most), None, "{}", limit.what);
            let problem = at(limit.most + 1);
            let problem = problem.unwrap_or_else(|| {
                panic!("one more than {} of {} is taken", limit.most, limit.what)
            });
            assert!(find(problem.code).is_some_and(|code| !code.fix.is_empty()));
            assert!(problem.hint.is_some(), "{problem:?}");
            assert!(
                !problem.message.is_empty() && problem.message.len() < 1000,
                "{problem:?}"
            );
        }
    }
}

/// A folder that says it has so many shoes, and files of so many bytes.
struct Said {
    shoes: usize,
    bytes: u64,
}

impl Files for Said {
    fn list(&self, folder: &RelPath) -> Vec<Listed> {
        let path = |text: String| Listed::File(text.parse().expect("a safe path"));
        match folder.as_str() {
            "shoes" => (0..self.shoes)
                .map(|n| path(format!("shoes/s{n}.yaml")))
                .collect(),
            "templates/html" => vec![path("templates/html/static/a.png".into())],
            _ => Vec::new(),
        }
    }

    fn read(&self, _: &RelPath, limit: u64) -> Result<Vec<u8>, Refused> {
        if self.bytes > limit {
            return Err(Refused::TooLarge);
        }
        Ok(Vec::new())
    }
}

#[test]
fn so_many_shoes_are_read_and_with_one_more_none_is() {
    let codes = |shoes: usize| -> Vec<&str> {
        let found = gather(&Root::over(Said { shoes, bytes: 0 })).expect_err("there is no lab");
        found.into_iter().map(|problem| problem.code).collect()
    };
    assert!(!codes(SHOES_LIMIT).contains(&"too-many-shoes"));
    let refused = codes(SHOES_LIMIT + 1);
    assert!(refused.contains(&"too-many-shoes"));
    assert!(refused.len() < 20, "no shoe was read");
}

#[test]
fn pictures_and_the_ledger_have_a_size_of_their_own() {
    let templates = |bytes| read_templates(&Root::over(Said { shoes: 0, bytes }));
    assert!(templates(TEMPLATE_LIMIT).is_ok());
    let refused = templates(TEMPLATE_LIMIT + 1).expect_err("too large");
    assert_eq!(refused[0].code, "file-too-large");
    let ledger = |bytes| {
        let found = gather(&Root::over(Said { shoes: 0, bytes })).expect_err("there is no lab");
        found
            .into_iter()
            .any(|problem| problem.file == "lab/ledger.jsonl" && problem.code == "file-too-large")
    };
    assert!(!ledger(LEDGER_LIMIT));
    assert!(ledger(LEDGER_LIMIT + 1));
}

/// A number with a comma between thousands, or in KiB and MiB where it is such.
fn written(most: usize, of: &str) -> String {
    match (most, of) {
        (n, "bytes") if n % (1 << 20) == 0 => format!("{} MiB", n >> 20),
        (n, _) if n >= 1000 => format!("{},{:03} {of}", n / 1000, n % 1000),
        (n, _) => format!("{n} {of}"),
    }
}

fn table() -> String {
    let mut text = String::from(
        "# Limits\n\n\
         What a lab's files may hold at most. One more is a problem with its file, line and what to do; \
         `solefolio explain CODE` says more. The table is written by `tests/limits.rs`, which tries each limit and one more.\n",
    );
    for (heading, limits) in limits() {
        text.push_str(&format!(
            "\n## {heading}\n\n| what | at most | code |\n| --- | --- | --- |\n"
        ));
        for limit in limits {
            let most = written(limit.most, limit.of);
            text.push_str(&format!("| {} | {most} | `{}` |\n", limit.what, limit.code));
        }
        if heading == "Files" {
            for (what, most) in [
                (
                    "a file of the lab's own templates, pictures included",
                    TEMPLATE_LIMIT,
                ),
                ("the ledger", LEDGER_LIMIT),
            ] {
                let most = written(most as usize, "bytes");
                text.push_str(&format!("| {what} | {most} | `file-too-large` |\n"));
            }
        }
    }
    text.push_str(&format!(
        "\nA reason given to `seal` has {LINE_LIMIT} characters at most. Reviews hold no pictures: an image in an \
         editor's text leaves its alternative text. A sheet for `intake` is a CSV file as above. An expression has \
         no loop, and its cost is bounded by its length.\n"
    ));
    text
}

#[test]
fn the_table_in_the_docs_says_the_same() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/limits.md");
    if std::env::var_os("UPDATE_LIMITS").is_some() {
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(&path, table()).expect("written");
    }
    let said = fs::read_to_string(&path).expect("docs/limits.md is there");
    assert_eq!(said, table(), "UPDATE_LIMITS=1 cargo test --test limits");
}
