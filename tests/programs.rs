//! Outside programs from the command line: the two examples as their README has
//! them, and everything that can go wrong with one.

#[path = "common/tools.rs"]
mod tools;

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;
use tools::{is_there, left_out};

/// How many of the demo's shoes the lab has.
const SHOES: usize = 3;

fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Whether python3 is there; a missing one is a failure where nothing may be left out.
fn python() -> bool {
    let there = is_there("python3");
    if !there {
        left_out("python3 is not installed");
    }
    there
}

struct Lab {
    folder: TempDir,
}

impl Lab {
    /// The demo's lab with three of its shoes and nothing sealed.
    fn new() -> Lab {
        let lab = Lab {
            folder: tempfile::tempdir().unwrap(),
        };
        fs::create_dir_all(lab.path("lab/programs")).unwrap();
        fs::create_dir_all(lab.path("shoes")).unwrap();
        for name in ["lab", "protocol", "instruments", "rules", "phrases"] {
            let file = format!("lab/{name}.yaml");
            fs::copy(project().join(&file), lab.path(&file)).unwrap();
        }
        let mut shoes: Vec<PathBuf> = fs::read_dir(project().join("shoes"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
            .filter(|path| !fs::read_to_string(path).unwrap().contains("curve:"))
            .collect();
        shoes.sort();
        for path in shoes.iter().take(SHOES) {
            fs::copy(path, lab.path("shoes").join(path.file_name().unwrap())).unwrap();
        }
        lab
    }

    fn path(&self, file: &str) -> PathBuf {
        self.folder.path().join(file)
    }

    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.path(file)).unwrap_or_else(|error| panic!("{file}: {error}"))
    }

    fn edit(&self, file: &str, edit: impl FnOnce(String) -> String) {
        let text = edit(self.read(file));
        fs::write(self.path(file), text).unwrap();
    }

    /// The shoes, by address.
    fn shoes(&self) -> Vec<String> {
        let mut shoes: Vec<String> = fs::read_dir(self.path("shoes"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
            .collect();
        shoes.sort();
        shoes
    }

    /// A rule of a program that says of itself what it does wrong.
    fn with_rule(mode: &str, settings: &str) -> Lab {
        let lab = Lab::new();
        let second = lab.shoes()[1].clone();
        fs::write(lab.path("lab/programs/odd.py"), ODD).unwrap();
        lab.add_rule(&format!(
            "{{purpose: rule, run: [python3, lab/programs/odd.py, {mode}, {second}], {settings}}}"
        ));
        lab
    }

    fn add_rule(&self, program: &str) {
        self.edit("lab/lab.yaml", |text| {
            format!("{text}\nprograms:\n  ride-index: {program}\n")
        });
        self.edit("lab/rules.yaml", |text| {
            let rules = "rules:\n  ride-index: {kind: program, label: Ride index, program: ride-index, of: [heel-compression, rebound-travel], unit: \"%\", decimals: 0}\n  ride: {kind: scale, label: Ride, of: ride-index, unit: \"%\", points: [[0, 0], [600, 100]]}\n";
            text.replacen("rules:\n", rules, 1)
        });
        self.edit("lab/phrases.yaml", |text| {
            let mut words = "findings:\n  ride-index: {any: {short: rides, means: \"An index of {value}.\"}}\n  ride:\n".to_owned();
            for band in ["very low", "low", "medium", "high", "very high"] {
                words.push_str(&format!("    {band}: {{short: rides {band}, means: It rides {band}.}}\n"));
            }
            text.replacen("findings:\n", &words, 1)
        });
    }

    /// Exit code, and the result or the problems as JSON.
    fn run(&self, arguments: &[&str]) -> (i32, Value) {
        let output = Command::new(env!("CARGO_BIN_EXE_solefolio"))
            .args([
                "--root",
                self.folder.path().to_str().unwrap(),
                "--format",
                "json",
            ])
            .args(arguments)
            .output()
            .unwrap();
        let printed = String::from_utf8(output.stdout).unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        let value = serde_json::from_str(&printed)
            .unwrap_or_else(|error| panic!("{error}: {printed}{said}"));
        (output.status.code().unwrap(), value)
    }

    fn publish(&self, more: &[&str]) -> (i32, Value) {
        let mut arguments = vec![
            "publish",
            "--as-of",
            "2026-11-30",
            "--pdf",
            "never",
            "--drafts",
        ];
        arguments.extend(more);
        self.run(&arguments)
    }

    fn finding(&self, shoe: &str, finding: &str) -> Value {
        let data: Value =
            serde_json::from_str(&self.read(&format!("out/shoes/{shoe}/data.json"))).unwrap();
        let found = |list: &Value| {
            list.as_array()
                .into_iter()
                .flatten()
                .find(|one| one["finding"] == finding || one["key"] == finding)
                .cloned()
        };
        found(&data["findings"])
            .or_else(|| data["findings"].get(finding).cloned())
            .unwrap_or_else(|| panic!("{finding} in {data:#}"))
    }
}

/// A program for a rule that does what its argument says.
const ODD: &str = r#"import json, os, sys, time
mode, odd = sys.argv[1:]
with open("lab/ran", "a") as log:
    log.write("run\n")
head = json.loads(sys.stdin.readline())
for line in sys.stdin:
    shoe = json.loads(line)
    with open("lab/ran", "a") as log:
        log.write(shoe["shoe"] + "\n")
    said = {"shoe": shoe["shoe"], "value": 120.0, "u": 3.0, "unit": "%"}
    if mode == "says":
        print(shoe["shoe"] + ": odd heel", file=sys.stderr)
    if shoe["shoe"] == odd:
        if mode == "crash":
            sys.stdout.flush()
            raise RuntimeError("the heel is odd")
        if mode == "hang":
            sys.stdout.flush()
            time.sleep(600)
        if mode == "garbage":
            print("done!")
        if mode == "nan":
            said["value"] = float("nan")
        if mode == "partial":
            continue
        if mode == "unit":
            said["unit"] = "mm"
        if mode == "negative":
            said["u"] = -1.0
        if mode == "bare":
            del said["u"]
        if mode == "stranger":
            said["shoe"] = "nobody"
        if mode == "twice":
            print(json.dumps(said))
        if mode == "flood":
            while True:
                print("x" * 100000)
        if mode == "memory":
            held = bytearray(3 << 30)
        if mode == "none":
            said = {"shoe": shoe["shoe"], "none": "its heel is odd"}
    print(json.dumps(said), flush=True)
"#;

#[test]
fn the_two_examples_make_a_finding_and_files() {
    if !python() {
        return;
    }
    let lab = Lab::new();
    for name in ["ride_index.py", "shelf_labels.py"] {
        let from = project().join("examples/programs").join(name);
        fs::copy(from, lab.path("lab/programs").join(name)).unwrap();
    }
    lab.add_rule("{purpose: rule, run: [python3, lab/programs/ride_index.py]}");
    lab.edit("lab/lab.yaml", |text| {
        format!("{text}  shelf-labels: {{purpose: output, made-for: each-shoe, run: [python3, lab/programs/shelf_labels.py]}}\n")
    });
    let (code, report) = lab.publish(&["--allow-programs"]);
    assert_eq!(code, 0, "{report:#}");
    for shoe in lab.shoes() {
        let ride = lab.finding(&shoe, "ride-index");
        let page = lab.read(&format!("out/shoes/{shoe}/index.html"));
        assert!(page.contains("Ride index"), "{shoe}");
        assert!(
            ride["value"].as_f64().is_some_and(|value| value > 0.0),
            "{ride:#}"
        );
        // The band of the scale that rests on it is on the page too.
        assert!(page.contains("rides "), "{shoe}");
        let label = lab.read(&format!("out/shelf-labels/{shoe}.txt"));
        assert!(label.contains("Torsion: "), "{label}");
        assert!(
            lab.read(&format!("out/shelf-labels/{shoe}.svg"))
                .starts_with("<svg")
        );
    }
    assert!(lab.read("out/compare/index.html").contains("Ride index"));
    assert!(
        lab.read("out/method/index.html")
            .contains("a program of the lab")
    );
    // What is remembered needs no leave to run, and gives the same bytes.
    let before = lab.read("out/data/findings.csv");
    let (code, report) = lab.publish(&["--fresh"]);
    assert_eq!(code, 0, "{report:#}");
    assert_eq!(lab.read("out/data/findings.csv"), before);
    let shoe = &lab.shoes()[0];
    let (code, traced) = lab.run(&["trace", shoe, "ride"]);
    assert_eq!(code, 0);
    assert!(
        traced.to_string().contains("ask the program `ride-index`"),
        "{traced:#}"
    );
}

#[test]
fn nothing_is_run_unless_the_command_line_allows_it() {
    let lab = Lab::with_rule("whole", "on-failure: stop");
    for arguments in [
        &["publish", "--as-of", "2026-11-30", "--pdf", "never"][..],
        &["proof", "--as-of", "2026-11-30"],
    ] {
        let (code, problems) = lab.run(arguments);
        if code == 1 && codes(&problems).contains(&"program-not-found".to_owned()) {
            assert!(!python(), "python3 is there");
            return;
        }
        assert_eq!(
            (code, codes(&problems)),
            (1, vec!["program-not-allowed".to_owned()])
        );
        let told = problems.to_string();
        assert!(told.contains("python3 lab/programs/odd.py whole"), "{told}");
        assert!(told.contains("--allow-programs"), "{told}");
    }
    assert!(!lab.path("lab/ran").exists());
    assert!(!lab.path("out/index.html").exists());
}

fn codes(problems: &Value) -> Vec<String> {
    let list = problems
        .as_array()
        .or_else(|| problems["problems"].as_array());
    list.into_iter()
        .flatten()
        .filter(|one| one["severity"] == "error")
        .map(|one| one["code"].as_str().unwrap().to_owned())
        .collect()
}

/// What goes wrong, with the code it has, whether it spoils all shoes, and a piece
/// of what is said.
const FAILURES: [(&str, &str, bool, &str); 11] = [
    ("crash", "program-failed", true, "the heel is odd"),
    ("hang", "program-too-slow", true, "longer than 2 s"),
    (
        "garbage",
        "program-answer-unreadable",
        true,
        "`done!` is no answer",
    ),
    ("nan", "program-answer-unreadable", true, "no answer"),
    ("stranger", "program-answer-unreadable", true, "`nobody`"),
    ("twice", "program-answer-unreadable", true, "answered twice"),
    ("flood", "program-too-much", true, "more than 1 MiB"),
    ("memory", "program-failed", true, "MemoryError"),
    (
        "partial",
        "program-answer-missing",
        false,
        "no answer of this shoe",
    ),
    (
        "unit",
        "program-answer-wrong",
        false,
        "does not convert into",
    ),
    (
        "negative",
        "program-answer-wrong",
        false,
        "uncertainty of 0 or more",
    ),
];

#[test]
fn each_failure_has_its_code_and_stops_or_is_left_out_as_the_lab_chose() {
    if !python() {
        return;
    }
    let limits = "limits: {seconds: 2, output: 1, memory: 512}";
    for (mode, code, whole, part) in FAILURES {
        let lab = Lab::with_rule(mode, &format!("{limits}, on-failure: stop"));
        let second = lab.shoes()[1].clone();
        let (exit, problems) = lab.publish(&["--allow-programs"]);
        assert_eq!(
            (exit, codes(&problems)),
            (1, vec![code.to_owned()]),
            "{mode}: {problems:#}"
        );
        let told = problems.to_string();
        assert!(told.contains(part), "{mode}: {told}");
        assert!(told.contains(&second), "{mode} names the shoe: {told}");
        assert!(!lab.path("out/index.html").exists(), "{mode}");

        lab.edit("lab/lab.yaml", |text| {
            text.replace("on-failure: stop", "on-failure: leave-out")
        });
        let (exit, report) = lab.publish(&["--allow-programs"]);
        assert_eq!(exit, 0, "{mode}: {report:#}");
        for shoe in lab.shoes() {
            let page = lab.read(&format!("out/shoes/{shoe}/index.html"));
            let left_out = page.contains("the program `ride-index`");
            assert_eq!(left_out, whole || shoe == second, "{mode}: {shoe}");
        }
    }
}

#[test]
fn a_reason_in_place_of_a_number_is_shown_and_a_remark_is_told() {
    if !python() {
        return;
    }
    let lab = Lab::with_rule("none", "on-failure: stop");
    let (exit, _) = lab.publish(&["--allow-programs"]);
    assert_eq!(exit, 0);
    let second = &lab.shoes()[1];
    assert!(
        lab.read(&format!("out/shoes/{second}/index.html"))
            .contains("its heel is odd")
    );
    let lab = Lab::with_rule("says", "on-failure: stop");
    let (exit, problems) = lab.run(&["proof", "--as-of", "2026-11-30", "--allow-programs"]);
    assert_eq!(exit, 0);
    let said: Vec<&Value> = problems
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["code"] == "program-says")
        .collect();
    assert_eq!(said.len(), SHOES, "{problems:#}");
    assert!(said[0]["file"].as_str().unwrap().starts_with("shoes/"));
}

#[test]
fn it_is_one_process_for_all_shoes_and_only_what_changed_is_asked_again() {
    if !python() {
        return;
    }
    let lab = Lab::with_rule("whole", "on-failure: stop");
    let runs = || {
        let text = fs::read_to_string(lab.path("lab/ran")).unwrap_or_default();
        let _ = fs::remove_file(lab.path("lab/ran"));
        text
    };
    lab.publish(&["--allow-programs"]);
    let text = runs();
    assert_eq!(text.matches("run\n").count(), 1, "{text}");
    assert_eq!(text.lines().count(), 1 + SHOES);
    // One shoe's reading changes: it alone is asked of.
    let shoe = lab.shoes()[0].clone();
    lab.edit(&format!("shoes/{shoe}.yaml"), |text| {
        let line = text
            .lines()
            .find(|line| line.contains("rebound-travel:"))
            .unwrap();
        let moved = line.to_owned();
        let digit = moved.find('.').unwrap() + 1;
        let mut bytes = moved.into_bytes();
        bytes[digit] = if bytes[digit] == b'1' { b'2' } else { b'1' };
        text.replacen(line, &String::from_utf8(bytes).unwrap(), 1)
    });
    lab.publish(&["--allow-programs"]);
    assert_eq!(runs(), format!("run\n{shoe}\n"));
    // The program changes: all are.
    lab.edit("lab/programs/odd.py", |text| format!("{text}\n# changed\n"));
    lab.publish(&["--allow-programs"]);
    assert_eq!(runs().lines().count(), 1 + SHOES);
}

#[test]
fn an_output_cannot_leave_its_folder_nor_take_one_of_the_folios_own() {
    if !python() {
        return;
    }
    let output = |name: &str, line: &str| {
        let lab = Lab::new();
        let program = format!("import sys\nsys.stdin.read()\nprint('''{line}''')\n");
        fs::write(lab.path("lab/programs/out.py"), program).unwrap();
        lab.edit("lab/lab.yaml", |text| {
            format!("{text}\nprograms:\n  {name}: {{purpose: output, made-for: once, run: [python3, lab/programs/out.py]}}\n")
        });
        let result = lab.publish(&["--allow-programs"]);
        (lab, result)
    };
    let (lab, (exit, _)) = output("cards", r#"{"path": "a/b.txt", "text": "ä"}"#);
    assert_eq!((exit, lab.read("out/cards/a/b.txt")), (0, "ä".to_owned()));
    for (name, line, code) in [
        (
            "cards",
            r#"{"path": "../x.txt", "text": ""}"#,
            "program-answer-wrong",
        ),
        (
            "cards",
            r#"{"path": "/etc/x", "text": ""}"#,
            "program-answer-wrong",
        ),
        (
            "cards",
            r#"{"path": ".hidden", "text": ""}"#,
            "program-answer-wrong",
        ),
        (
            "cards",
            r#"{"path": "x", "base64": "Z"}"#,
            "program-answer-wrong",
        ),
        ("cards", r#"{"path": "x"}"#, "program-answer-wrong"),
        ("cards", r#"<html>"#, "program-answer-unreadable"),
        (
            "shoes",
            r#"{"path": "x.txt", "text": ""}"#,
            "program-setting",
        ),
    ] {
        let (lab, (exit, problems)) = output(name, line);
        assert_eq!(
            (exit, codes(&problems)),
            (1, vec![code.to_owned()]),
            "{line}: {problems:#}"
        );
        assert!(!lab.path("out/index.html").exists());
    }
}

#[test]
fn the_schema_of_the_lines_and_of_the_views_carries_a_version() {
    let lab = Lab::new();
    let (_, program) = lab.run(&["schema", "program"]);
    for line in ["head", "shoe", "fact", "answer", "view", "file"] {
        assert!(program["properties"][line].is_object(), "{line}");
    }
    let (_, view) = lab.run(&["schema", "view-review"]);
    assert_eq!(view["version"], 1);
    assert!(view["properties"]["shoe"].is_object());
}
