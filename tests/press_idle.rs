//! What a run of the program costs when there is nothing to do, and how fast it
//! stops: seen from outside, by its system calls and by the clock.
#![cfg(target_os = "linux")]

#[expect(dead_code, reason = "its `main` and arguments are the example's own")]
#[path = "../examples/synthesise/main.rs"]
mod synthesise;
#[path = "common/tools.rs"]
mod tools;

use solefolio::press::Typesetter;
use std::cell::RefCell;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};
use tools::left_out;

const PROGRAM: &str = env!("CARGO_BIN_EXE_solefolio");
const PUBLISH: [&str; 5] = ["publish", "--as-of", "2026-11-26", "--pdf", "never"];

fn lab(shoes: u32) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let lab = folder.path().join("lab");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("lab");
    synthesise::write_lab(&source, &lab, shoes, 7).expect("a lab");
    (folder, lab)
}

fn publish(lab: &Path) -> Output {
    Command::new(PROGRAM)
        .args(PUBLISH)
        .arg("--root")
        .arg(lab)
        .output()
        .expect("the program runs")
}

/// The system calls of a publish, one a line; `None` where they can't be seen.
fn traced(lab: &Path, arguments: &[&str]) -> Option<String> {
    let trace = lab.parent().expect("a folder above").join("trace");
    let calls = "openat,open,creat,rename,renameat,renameat2,link,linkat,unlink,unlinkat,mkdir,mkdirat,truncate,ftruncate,symlink,symlinkat,execve";
    let done = Command::new("strace")
        .args(["-f", "-qq", "-e", &format!("trace={calls}"), "-o"])
        .arg(&trace)
        .arg(PROGRAM)
        .args(PUBLISH)
        .args(arguments)
        .arg("--root")
        .arg(lab)
        .output();
    match done {
        Ok(done) if done.status.success() => {
            Some(fs::read_to_string(trace).expect("strace's own file"))
        }
        _ => {
            left_out("strace is not installed, or may not trace");
            None
        }
    }
}

#[test]
fn a_run_with_nothing_changed_opens_no_input_and_no_page_and_writes_nothing() {
    let (_folder, lab) = lab(20);
    // The demo's files may have been copied within one tick of the clock.
    std::thread::sleep(Duration::from_millis(50));
    assert!(publish(&lab).status.success());
    let Some(trace) = traced(&lab, &[]) else {
        return;
    };
    let of_lab: Vec<&str> = trace
        .lines()
        .filter(|line| line.contains(".yaml") || line.contains(".html") || line.contains(".csv"))
        .collect();
    assert!(of_lab.is_empty(), "{of_lab:#?}");
    let writing: Vec<&str> = trace
        .lines()
        .filter(|line| {
            line.contains("O_WRONLY")
                || line.contains("O_RDWR") && !line.contains("/dev/")
                || line.contains("O_CREAT")
                || ["rename", "link", "mkdir", "truncate"]
                    .iter()
                    .any(|call| line.contains(call))
        })
        .collect();
    assert!(writing.is_empty(), "{writing:#?}");
    // It starts no other program: one that is not asked for PDFs asks nobody's version.
    assert_eq!(trace.matches("execve(").count(), 1, "{trace}");

    // The trace would show it: with a shoe touched its file is opened.
    let shoe = lab.join("shoes/0000");
    let shoe = fs::read_dir(shoe).unwrap().next().unwrap().unwrap().path();
    fs::write(&shoe, fs::read(&shoe).unwrap()).unwrap();
    let trace = traced(&lab, &[]).expect("it was traced before");
    assert!(trace.contains(".yaml"));
}

#[test]
fn every_made_file_is_told_with_its_reason_for_people_and_as_json() {
    let (_folder, lab) = lab(6);
    assert!(publish(&lab).status.success());
    let rules = lab.join("lab/rules.yaml");
    let text = fs::read_to_string(&rules).unwrap();
    fs::write(&rules, text.replacen("[45, 60]", "[46, 60]", 1)).unwrap();
    let run = |arguments: &[&str]| {
        let output = Command::new(PROGRAM)
            .args(PUBLISH)
            .args(arguments)
            .arg("--root")
            .arg(&lab)
            .output()
            .expect("the program runs");
        assert!(output.status.success());
        String::from_utf8(output.stdout).unwrap()
    };
    let said: serde_json::Value =
        serde_json::from_str(&run(&["--why", "--format", "json"])).unwrap();
    let why = said["why"].as_array().unwrap();
    assert!(!why.is_empty());
    assert_eq!(
        why.len() as u64,
        said["made"].as_u64().unwrap() + said["same"].as_u64().unwrap()
    );
    for sheet in why {
        let reasons = sheet["reasons"].as_array().unwrap();
        assert!(!reasons.is_empty(), "{sheet}");
        for reason in reasons {
            match reason["reason"].as_str().unwrap() {
                "view-changed" => {
                    for part in reason["parts"].as_array().unwrap() {
                        assert!(part["part"].is_string() && part["old"] != part["new"]);
                    }
                }
                "bytes-changed" => assert_ne!(reason["old"], reason["new"]),
                other => panic!("a moved threshold is no reason for {other}: {sheet}"),
            }
        }
    }
    fs::write(&rules, text).unwrap();
    let told = run(&["--why"]);
    assert_eq!(
        told.lines()
            .filter(|line| line.starts_with("made ") || line.starts_with("same "))
            .count(),
        why.len()
    );
}

fn start(lab: &Path, arguments: &[&str]) -> Child {
    Command::new(PROGRAM)
        .args(arguments)
        .arg("--root")
        .arg(lab)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts")
}

/// Interrupts publishes once each is `under_way`: they stop within a second, leave
/// nothing out and nothing behind. The best of a few tries counts: other programs may
/// hold the processors.
fn stops_within_a_second(lab: &Path, arguments: &[&str], under_way: impl Fn(&Child) -> bool) {
    let mut quickest = Duration::MAX;
    for _ in 0..5 {
        let mut child = start(lab, arguments);
        let limit = Instant::now() + Duration::from_secs(120);
        while !under_way(&child) && Instant::now() < limit {
            std::thread::sleep(Duration::from_millis(2));
        }
        let begun = Instant::now();
        let sent = Command::new("kill")
            .args(["-INT", &child.id().to_string()])
            .status();
        assert!(sent.expect("kill runs").success());
        let status = child.wait().expect("it ends");
        quickest = quickest.min(begun.elapsed());
        assert_eq!(status.code(), Some(130));
        assert!(!lab.join("out/index.html").exists());
        assert!(!lab.join("out/.solefolio/staging").exists());
        if quickest < Duration::from_secs(1) {
            return;
        }
    }
    panic!("it took {quickest:?} to stop");
}

#[test]
fn an_interrupt_stops_it_within_a_second_and_leaves_the_folio_as_it_was() {
    let (_folder, lab) = lab(400);
    let staging = lab.join("out/.solefolio/staging/0");
    stops_within_a_second(&lab, &PUBLISH, |_| {
        fs::read_dir(&staging).is_ok_and(|of| of.count() > 0)
    });
}

/// The folders of the processes of a name that another has started and that run.
fn started_by(process: u32, name: &str) -> Vec<PathBuf> {
    let tasks = fs::read_dir(format!("/proc/{process}/task"));
    let tasks = tasks.into_iter().flatten().flatten();
    let children: String = tasks
        .filter_map(|task| fs::read_to_string(task.path().join("children")).ok())
        .collect();
    let folders = children
        .split_whitespace()
        .map(|child| Path::new("/proc").join(child));
    folders.filter(|folder| runs(folder, name)).collect()
}

fn runs(folder: &Path, name: &str) -> bool {
    fs::read_to_string(folder.join("comm")).is_ok_and(|comm| comm.trim() == name)
}

#[test]
fn an_interrupt_while_prints_are_set_stops_them_too() {
    if let Err(missing) = Typesetter::find() {
        return left_out(&missing.to_string());
    }
    let (_folder, lab) = lab(120);
    let publish = ["publish", "--as-of", "2026-11-26", "--pdf", "require"];
    let staging = lab.join("out/.solefolio/staging/0");
    let seen = RefCell::new(Vec::new());
    stops_within_a_second(&lab, &publish, |child| {
        // It is also started once before, to be asked for its version.
        if !staging.exists() {
            return false;
        }
        let found = started_by(child.id(), "typst");
        seen.borrow_mut().extend(found.iter().cloned());
        !found.is_empty()
    });
    let seen = seen.into_inner();
    assert!(!seen.is_empty(), "it was never seen to set a print");
    for folder in seen {
        assert!(!runs(&folder, "typst"), "what it started is gone");
    }
}

#[test]
fn time_zone_locale_and_threads_change_no_byte() {
    let (folder, lab) = lab(40);
    let mut before: Option<Vec<u8>> = None;
    for (zone, locale, threads) in [
        ("UTC", "C", "1"),
        ("Pacific/Kiritimati", "de_DE.UTF-8", "2"),
        ("Pacific/Pago_Pago", "tr_TR.UTF-8", "7"),
    ] {
        let out = lab.join("out");
        if out.exists() {
            fs::rename(&out, folder.path().join(format!("before-{threads}"))).unwrap();
        }
        let done = Command::new(PROGRAM)
            .args(PUBLISH)
            .arg("--root")
            .arg(&lab)
            .envs([("TZ", zone), ("LC_ALL", locale), ("LANG", locale)])
            .env("RAYON_NUM_THREADS", threads)
            .status()
            .expect("the program runs");
        assert!(done.success());
        // The manifest holds the sum of every byte.
        let sums = fs::read(out.join("SHA256SUMS")).unwrap();
        assert!(sums.len() > 1000);
        assert!(
            before.get_or_insert_with(|| sums.clone()) == &sums,
            "{zone}"
        );
    }
}
