//! Killed at any instant, `out/` is the old edition or the new one after the
//! next run, and a reader in between finds every file whole.
//!
//! The publishes that are killed run in processes of their own: this test file's
//! own program, started with [`CHILD`] in its environment.

#[path = "common/folders.rs"]
mod folders;
mod press_support;
#[path = "common/tools.rs"]
mod tools;

use folders::copy;
use press_support::*;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// Names the folio and the world of a publish that may be killed.
const CHILD: &str = "SOLEFOLIO_TEST_PRESS_CHILD";
/// SIGKILL.
const KILL: i32 = 9;

/// The worlds that editions are made of: they share shoes, and each has some
/// that no other has.
fn world(number: u64, shoes: u64) -> World {
    let mut world = World::new(0, 0);
    for at in 0..shoes {
        let at = (at * 7 + number * 3) % (shoes + 4);
        // A third of the texts don't change from one world to the next.
        let text = if at.is_multiple_of(3) { 0 } else { number };
        world
            .shoes
            .insert(format!("shoe-{at}"), format!("text {text}"));
    }
    world.style = format!("style {}", number % 5);
    world.padding = 3000;
    world
}

/// The publish that may be killed. Run as a test of its own it does nothing.
#[test]
fn child() {
    let Ok(task) = std::env::var(CHILD) else {
        return;
    };
    let task: Vec<&str> = task.split('\n').collect();
    let [out, number, shoes] = task.as_slice() else {
        panic!("a folio, a number and a count");
    };
    let world = world(
        number.parse().expect("a number"),
        shoes.parse().expect("a count"),
    );
    // One thread, so that a count of system calls means one place.
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .use_current_thread()
        .build()
        .expect("a thread");
    let done = pool.install(|| put(Path::new(out), &world));
    if let Err(stopped) = done {
        eprintln!("STOPPED {stopped}");
        std::process::exit(4);
    }
}

fn command<'c>(program: &'c mut Command, out: &Path, number: u64, shoes: u64) -> &'c mut Command {
    let out = out.to_str().expect("UTF-8");
    program
        .env(CHILD, format!("{out}\n{number}\n{shoes}"))
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
}

const TEST: [&str; 4] = ["--exact", "child", "--test-threads=1", "--nocapture"];

fn own() -> PathBuf {
    std::env::current_exe().expect("a program")
}

fn start(out: &Path, number: u64, shoes: u64) -> Child {
    let mut program = Command::new(own());
    program.args(TEST);
    command(&mut program, out, number, shoes)
        .spawn()
        .expect("started")
}

/// What a reader may find at each path, and which paths must be there.
struct Promise {
    may: BTreeMap<String, Vec<Vec<u8>>>,
    must: Vec<String>,
}

impl Promise {
    /// From what lay there, by way of editions that a run may complete or make.
    fn new(before: &Files, editions: &[&Files]) -> Self {
        let mut may: BTreeMap<String, Vec<Vec<u8>>> = BTreeMap::new();
        for files in std::iter::once(before).chain(editions.iter().copied()) {
            for (path, bytes) in files {
                may.entry(path.clone()).or_default().push(bytes.clone());
            }
        }
        let must = before
            .keys()
            .filter(|path| editions.iter().all(|files| files.contains_key(*path)))
            .cloned()
            .collect();
        Promise { may, must }
    }

    fn check(&self, found: &Files, what: &str) {
        for (path, bytes) in found {
            let known = self.may.get(path).is_some_and(|may| may.contains(bytes));
            assert!(
                known,
                "{what}: {path} is no version it ever had ({} bytes)",
                bytes.len()
            );
        }
        for path in &self.must {
            assert!(found.contains_key(path), "{what}: {path} is missing");
        }
    }

    /// Reads a file as a reader would.
    fn read_one(&self, out: &Path, place: usize) {
        let path = &self.must[place % self.must.len()];
        let bytes = fs::read(out.join(path)).unwrap_or_else(|error| panic!("{path}: {error}"));
        assert!(
            self.may[path].contains(&bytes),
            "{path} is no version it ever had"
        );
    }
}

#[test]
fn a_publish_killed_at_random_instants_keeps_the_promise() {
    let folder = in_memory();
    let out = folder.path().join("out");
    let journal = out.join(".solefolio/journal");
    let shoes = 40;
    let mut random = Pcg64::seed_from_u64(20_261_126);
    put(&out, &world(0, shoes)).expect("published");
    let began = Instant::now();
    assert!(start(&out, 1, shoes).wait().expect("ended").success());
    let whole = began.elapsed().max(Duration::from_millis(5));

    let (mut kills, mut with_journal, mut recovered_kills) = (0, 0, 0);
    let mut number = 1;
    // The editions that runs that were killed may have left to complete.
    let mut pending: Vec<Files> = Vec::new();
    // How many kills hit a completion is chance: go on until enough did, so that the
    // promise was tried there too, whatever the machine's speed.
    while (kills < 220 || with_journal <= 20 || recovered_kills <= 5) && kills < 1500 {
        number += 1;
        let edition = world(number, shoes).files();
        let before = only_files(&out);
        let had_journal = journal.exists();
        let editions: Vec<&Files> = pending.iter().chain([&edition]).collect();
        let promise = Promise::new(&before, &editions);
        let mut child = start(&out, number, shoes);
        // Half of the kills anywhere, half while the steps are taken: those that
        // are over in a moment would hardly be hit otherwise.
        let began = Instant::now();
        let anywhere = random.random_bool(0.5);
        let delay = whole.mul_f64(random.random_range(0.0..if anywhere { 1.2 } else { 0.2 }));
        let mut from = anywhere.then_some(began);
        while from.is_none_or(|from| from.elapsed() < delay) {
            promise.read_one(&out, random.random_range(0..usize::MAX));
            if from.is_none() && (journal.exists() || began.elapsed() > whole * 3) {
                from = Some(Instant::now());
            }
        }
        child.kill().expect("killed");
        let status = child.wait().expect("ended");
        let what = format!("run {number} killed after {delay:?}");
        promise.check(&only_files(&out), &what);
        if status.signal() == Some(KILL) {
            kills += 1;
            let journal = journal.exists();
            with_journal += usize::from(journal);
            recovered_kills += usize::from(journal && had_journal);
        } else {
            assert!(status.success(), "{what}: {status}");
        }
        if !journal.exists() {
            pending.clear();
        } else {
            pending.push(edition);
        }
        // Mostly the next run is killed too; sometimes it may end.
        if random.random_range(0..3) == 0 {
            let world = world(number, shoes);
            put(&out, &world).expect("published");
            assert_holds(&out, &world);
            let hidden: Vec<_> = fs::read_dir(out.join(".solefolio"))
                .expect("a folder")
                .map(|entry| entry.expect("an entry").file_name())
                .collect();
            assert!(
                !hidden
                    .iter()
                    .any(|name| name == "journal" || name == "staging")
            );
            pending.clear();
        }
    }
    println!(
        "{kills} kills, {with_journal} between journal and end, {recovered_kills} while completing"
    );
    assert!(with_journal > 20, "only {with_journal} kills hit the steps");
    assert!(
        recovered_kills > 5,
        "only {recovered_kills} kills hit a completion"
    );
}

fn has_strace() -> bool {
    let probe = Command::new("strace")
        .args(["-f", "-o", "/dev/null", "true"])
        .output();
    let has = probe.is_ok_and(|output| output.status.success());
    if !has {
        tools::left_out("strace is not installed, or may not trace");
    }
    has
}

/// The system calls with which the press changes the disk.
const CALLS: [&str; 9] = [
    "openat",
    "write",
    "mkdirat",
    "renameat",
    "renameat2",
    "linkat",
    "unlinkat",
    "syncfs",
    "ftruncate",
];

/// Runs a publish with faults in its system calls.
fn run_with_faults(out: &Path, number: u64, shoes: u64, faults: &[String]) -> (ExitStatus, String) {
    let mut program = Command::new("strace");
    program.args(["-f", "-qq", "-o", "/dev/null"]);
    let calls = CALLS.join(",");
    program.args(["-e", &format!("trace={calls}")]);
    for fault in faults {
        program.args(["-e", &format!("inject={fault}")]);
    }
    program.arg(own()).args(TEST);
    let done = command(&mut program, out, number, shoes)
        .output()
        .expect("ended");
    (
        done.status,
        String::from_utf8_lossy(&done.stderr).into_owned(),
    )
}

fn was_killed(status: ExitStatus) -> bool {
    status.signal() == Some(KILL) || status.code() == Some(128 + KILL)
}

const FEW: u64 = 3;

#[test]
fn a_publish_killed_at_each_system_call_keeps_the_promise() {
    if !has_strace() {
        return;
    }
    let folder = in_memory();
    let old = folder.path().join("old");
    put(&old, &world(0, FEW)).expect("published");
    // Killed in the midst of its steps, so that a run has something to complete.
    let half = folder.path().join("half");
    copy(&old, &half, &|_| true);
    let (status, _) = run_with_faults(&half, 1, FEW, &["renameat:signal=KILL:when=4".into()]);
    assert!(was_killed(status) && half.join(".solefolio/journal").exists());

    let old_files = only_files(&old);
    let (first, second) = (world(1, FEW).files(), world(2, FEW).files());
    for (start, number, editions) in [(&old, 1, vec![&first]), (&half, 2, vec![&first, &second])] {
        let promise = Promise::new(&old_files, &editions);
        let mut kills = 0;
        for call in CALLS {
            for when in 1.. {
                let out = folder.path().join("out");
                copy(start, &out, &|_| true);
                let fault = format!("{call}:signal=KILL:when={when}");
                let (status, said) =
                    run_with_faults(&out, number, FEW, std::slice::from_ref(&fault));
                promise.check(&only_files(&out), &fault);
                put(&out, &world(number, FEW)).expect("published");
                assert_holds(&out, &world(number, FEW));
                fs::remove_dir_all(&out).expect("removed");
                if !was_killed(status) {
                    assert!(status.success(), "{fault}: {status}: {said}");
                    break;
                }
                kills += 1;
            }
        }
        println!("{kills} kills from {}", start.display());
        assert!(kills > 100, "only {kills} kills");
    }
}

#[test]
fn a_failure_of_any_system_call_leaves_the_folio_as_it_was_or_does_not_matter() {
    if !has_strace() {
        return;
    }
    let folder = in_memory();
    let old = folder.path().join("old");
    put(&old, &world(0, FEW)).expect("published");
    let old_files = files_of(&old);
    let new = folder.path().join("new");
    copy(&old, &new, &|_| true);
    put(&new, &world(1, FEW)).expect("published");
    let new_files = files_of(&new);
    let (mut failures, mut undone) = (0, 0);
    for call in CALLS {
        for when in 1.. {
            let out = folder.path().join("out");
            copy(&old, &out, &|_| true);
            let fault = format!("{call}:error=ENOSPC:when={when}");
            let (status, said) = run_with_faults(&out, 1, FEW, std::slice::from_ref(&fault));
            let found = files_of(&out);
            if status.success() {
                // An empty folder may be left to the next run, and nothing else.
                let whole = only_files(&out) == only_files(&new);
                assert!(whole, "{fault}: published, but not whole");
            } else if said.contains("STOPPED") {
                assert!(found == old_files, "{fault}: not as it was: {said}");
                failures += 1;
                undone += usize::from(said.contains("No space left"));
            } else {
                // The test's own printing failed, before or after the publish.
                assert!(found == old_files || found == new_files, "{fault}: {said}");
            }
            put(&out, &world(1, FEW)).unwrap_or_else(|stopped| panic!("{fault}: {stopped}"));
            assert_holds(&out, &world(1, FEW));
            fs::remove_dir_all(&out).expect("removed");
            if status.success() && !was_met(&old, folder.path(), call, when) {
                break;
            }
        }
    }
    println!("{failures} failures, {undone} told with their cause");
    assert!(undone > 30, "only {undone} failures");
}

/// Whether a publish makes so many calls of a kind at all.
fn was_met(old: &Path, folder: &Path, call: &str, when: usize) -> bool {
    let out = folder.join("counted");
    copy(old, &out, &|_| true);
    let fault = format!("{call}:signal=KILL:when={when}");
    let (status, _) = run_with_faults(&out, 1, FEW, &[fault]);
    fs::remove_dir_all(&out).expect("removed");
    was_killed(status)
}

#[test]
fn a_run_killed_while_it_takes_steps_back_is_taken_back_by_the_next() {
    if !has_strace() {
        return;
    }
    let folder = in_memory();
    let old = folder.path().join("old");
    put(&old, &world(0, FEW)).expect("published");
    let mut kills = 0;
    for call in ["renameat", "renameat2", "unlinkat"] {
        for when in 1.. {
            let out = folder.path().join("out");
            copy(&old, &out, &|_| true);
            // The second second name can't be given; then killed while undoing.
            let faults = [
                "linkat:error=EIO:when=2".to_owned(),
                format!("{call}:signal=KILL:when={when}"),
            ];
            let (status, _) = run_with_faults(&out, 1, FEW, &faults);
            let promise = Promise::new(&only_files(&old), &[&world(1, FEW).files()]);
            promise.check(&only_files(&out), &faults[1]);
            let undoing = out.join(".solefolio/undo").exists();
            kills += usize::from(undoing);
            put(&out, &world(2, FEW)).expect("published");
            assert_holds(&out, &world(2, FEW));
            fs::remove_dir_all(&out).expect("removed");
            if !was_killed(status) {
                break;
            }
        }
    }
    println!("{kills} kills while undoing");
    assert!(kills > 3, "only {kills} kills while undoing");
}
