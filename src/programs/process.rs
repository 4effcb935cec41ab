//! One run of an outside program, limited in time, output and memory.
//!
//! The program gets its input on standard input, all at once, and is heard until
//! it ends. It runs with the user's rights: what it may read, write or reach on a
//! network is not limited here, and can't be without more than this program has.
//!
//! # What is limited
//!
//! - time: the clock on the wall; and as much of the processor's, so that a
//!   program that outlives this one ends too
//! - output: bytes on standard output; of standard error the first 64 KiB are
//!   kept and the rest is read and dropped, so that it never blocks
//! - memory: the address space of each of its processes (Linux; elsewhere memory
//!   is not limited), set as soon as it has started
//!
//! It is the head of a process group of its own, and the whole group is ended when
//! it ends, whichever way. A process that leaves the group is out of reach; if it
//! keeps the output open, the run has failed. If this program itself is killed, its
//! streams are closed and the limit on the processor's time stays.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// How often a running program is looked at.
const LOOK: Duration = Duration::from_millis(3);
/// How long its streams may stay open once it is gone.
const DRAIN: Duration = Duration::from_secs(2);
/// Most of standard error that is kept, in bytes.
const SAID: u64 = 64 << 10;

/// A program, its arguments and where it runs.
#[derive(Clone, Debug)]
pub(super) struct Order {
    /// The program's file.
    pub program: PathBuf,
    /// Its arguments.
    pub arguments: Vec<String>,
    /// The folder it runs in.
    pub folder: PathBuf,
}

/// What a run may take.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    pub time: Duration,
    pub output: u64,
    pub memory: u64,
}

/// What a program wrote before it ended.
#[derive(Debug, Default)]
pub(super) struct Ran {
    /// Standard output.
    pub out: Vec<u8>,
    /// Standard error; what is no UTF-8 is replaced.
    pub said: String,
    /// What went wrong with the run.
    pub failure: Option<Failure>,
}

/// How a run can fail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Failure {
    /// It could not be started.
    NotStarted(String),
    /// It ended otherwise than well; how.
    Ended(String),
    /// It took longer than it may.
    TooSlow(Duration),
    /// It wrote more than it may.
    TooMuch(u64),
    /// It left something behind that keeps its output open.
    LeftOpen,
    /// Somebody wanted to stop.
    Stopped,
}

/// Runs a program with an input.
pub(super) fn run(order: &Order, input: Vec<u8>, limits: Limits, stop: &AtomicBool) -> Ran {
    let mut child = match start(order) {
        Ok(child) => child,
        Err(error) => {
            return Ran {
                failure: Some(Failure::NotStarted(error.to_string())),
                ..Ran::default()
            };
        }
    };
    limit(&child, limits);
    let too_much = Arc::new(AtomicBool::new(false));
    if let Some(mut stdin) = child.stdin.take() {
        // A program that doesn't read on is no failure of ours; its answers decide.
        std::thread::spawn(move || drop(stdin.write_all(&input)));
    }
    let out = hear(child.stdout.take(), limits.output, Some(too_much.clone()));
    let said = hear(child.stderr.take(), SAID, None);
    let begun = Instant::now();
    let mut failure = None;
    while failure.is_none() && !has_ended(&mut child) {
        if stop.load(Ordering::Relaxed) {
            failure = Some(Failure::Stopped);
        } else if too_much.load(Ordering::Relaxed) {
            failure = Some(Failure::TooMuch(limits.output));
        } else if begun.elapsed() >= limits.time {
            failure = Some(Failure::TooSlow(limits.time));
        } else {
            std::thread::sleep(LOOK);
        }
    }
    end_group(&child);
    let _ = child.kill();
    let status = child.wait();
    let heard = [out, said].map(|stream| stream.recv_timeout(DRAIN));
    let left_open = heard.iter().any(Result::is_err);
    let [out, said] = heard.map(Result::unwrap_or_default);
    if failure.is_none() && too_much.load(Ordering::Relaxed) {
        failure = Some(Failure::TooMuch(limits.output));
    }
    let failure = failure.or_else(|| match status {
        Ok(status) if status.success() => left_open.then_some(Failure::LeftOpen),
        Ok(status) => Some(Failure::Ended(how(status))),
        Err(error) => Some(Failure::Ended(error.to_string())),
    });
    Ran {
        out,
        said: String::from_utf8_lossy(&said).into_owned(),
        failure,
    }
}

/// Starts it with little of our surroundings: the same run gives the same answer
/// whatever language or time zone the user has set.
fn start(order: &Order) -> std::io::Result<Child> {
    let mut command = Command::new(&order.program);
    command
        .args(&order.arguments)
        .current_dir(&order.folder)
        .env_clear()
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    for name in ["PATH", "HOME", "TMPDIR", "SYSTEMROOT"] {
        if let Some(value) = std::env::var_os(name) {
            command.env(name, value);
        }
    }
    command
        .env("LC_ALL", "C.UTF-8")
        .env("TZ", "UTC")
        // Python's compiled files don't belong into the lab's folder, and its
        // sets must not come in another order every time.
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .env("PYTHONHASHSEED", "0");
    #[cfg(unix)]
    std::os::unix::process::CommandExt::process_group(&mut command, 0);
    command.spawn()
}

/// Reads a stream on a thread of its own, `most` bytes of it. Beyond them, either
/// it stops and says so, or reads on and drops the rest.
fn hear(
    stream: Option<impl Read + Send + 'static>,
    most: u64,
    too_much: Option<Arc<AtomicBool>>,
) -> Receiver<Vec<u8>> {
    let (send, receive) = channel();
    std::thread::spawn(move || {
        let mut kept = Vec::new();
        if let Some(mut stream) = stream {
            // What was read before an error is still worth having.
            let _ = stream.by_ref().take(most).read_to_end(&mut kept);
            let mut beyond = [0; 4096];
            while let Ok(1..) = stream.read(&mut beyond) {
                if let Some(too_much) = &too_much {
                    too_much.store(true, Ordering::Relaxed);
                    break;
                }
            }
        }
        let _ = send.send(kept);
    });
    receive
}

/// Whether it has ended. It is not reaped yet, so that its group's number can't
/// belong to anybody else while the group is ended.
#[cfg(unix)]
fn has_ended(child: &mut Child) -> bool {
    use rustix::process::{WaitId, WaitIdOptions, waitid};
    let Some(pid) = pid(child) else { return true };
    let options = WaitIdOptions::EXITED | WaitIdOptions::NOWAIT | WaitIdOptions::NOHANG;
    !matches!(waitid(WaitId::Pid(pid), options), Ok(None))
}

#[cfg(not(unix))]
fn has_ended(child: &mut Child) -> bool {
    !matches!(child.try_wait(), Ok(None))
}

#[cfg(unix)]
fn pid(child: &Child) -> Option<rustix::process::Pid> {
    rustix::process::Pid::from_raw(i32::try_from(child.id()).ok()?)
}

#[cfg(unix)]
fn end_group(child: &Child) {
    if let Some(pid) = pid(child) {
        // Where it left nobody behind there is no group any more.
        let _ = rustix::process::kill_process_group(pid, rustix::process::Signal::KILL);
    }
}

#[cfg(not(unix))]
fn end_group(_: &Child) {}

#[cfg(any(target_os = "linux", target_os = "android"))]
fn limit(child: &Child, limits: Limits) {
    use rustix::process::{Resource, Rlimit, prlimit};
    let Some(pid) = pid(child) else { return };
    let processor = limits.time.as_secs().saturating_add(1);
    for (resource, most) in [
        (Resource::As, limits.memory),
        (Resource::Cpu, processor),
        (Resource::Core, 0),
    ] {
        let limit = Rlimit {
            current: Some(most),
            maximum: Some(most),
        };
        // It may have ended already; then there is nothing to limit.
        let _ = prlimit(Some(pid), resource, limit);
    }
}

#[cfg(not(any(target_os = "linux", target_os = "android")))]
fn limit(_: &Child, _: Limits) {}

/// How it ended, in words.
fn how(status: ExitStatus) -> String {
    match status.code() {
        Some(code) => format!("it ended with status {code}"),
        None => format!("it was ended by the system ({status})"),
    }
}

/// The file of a program as `run` names it: a path from the lab's folder, or a
/// name that is looked for where programs are.
pub(super) fn find(program: &str, folder: &Path) -> Option<PathBuf> {
    let there = |path: PathBuf| path.is_file().then_some(path);
    if program.contains('/') {
        return there(folder.join(program));
    }
    let places = std::env::var_os("PATH")?;
    std::env::split_paths(&places).find_map(|place| there(place.join(program)))
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits {
        time: Duration::from_secs(20),
        output: 1 << 20,
        memory: 1 << 30,
    };

    fn shell(script: &str, limits: Limits) -> Ran {
        let order = Order {
            program: "/bin/sh".into(),
            arguments: vec!["-c".into(), script.into()],
            folder: "/".into(),
        };
        run(
            &order,
            b"one\ntwo\n".to_vec(),
            limits,
            &AtomicBool::new(false),
        )
    }

    #[test]
    fn it_hears_both_streams_and_gives_the_input() {
        let ran = shell("cat; echo aside >&2", LIMITS);
        assert_eq!(ran.failure, None);
        assert_eq!(ran.out, b"one\ntwo\n");
        assert_eq!(ran.said, "aside\n");
    }

    #[test]
    fn a_program_that_fails_is_told_with_its_status() {
        let ran = shell("echo half; exit 3", LIMITS);
        assert_eq!(
            ran.failure,
            Some(Failure::Ended("it ended with status 3".into()))
        );
        assert_eq!(ran.out, b"half\n");
        let gone = Order {
            program: "/nowhere/at/all".into(),
            arguments: Vec::new(),
            folder: "/".into(),
        };
        let ran = run(&gone, Vec::new(), LIMITS, &AtomicBool::new(false));
        assert!(matches!(ran.failure, Some(Failure::NotStarted(_))));
    }

    #[test]
    fn a_program_that_hangs_is_ended_with_all_it_started() {
        let time = Duration::from_millis(300);
        let begun = Instant::now();
        let ran = shell("sleep 61 & sleep 62", Limits { time, ..LIMITS });
        assert_eq!(ran.failure, Some(Failure::TooSlow(time)));
        assert!(
            begun.elapsed() < Duration::from_secs(15),
            "{:?}",
            begun.elapsed()
        );
    }

    #[test]
    fn what_it_leaves_running_is_ended_too() {
        let begun = Instant::now();
        let ran = shell("sleep 63 & echo done", LIMITS);
        assert_eq!((ran.failure, ran.out), (None, b"done\n".to_vec()));
        assert!(
            begun.elapsed() < Duration::from_secs(15),
            "{:?}",
            begun.elapsed()
        );
    }

    #[test]
    fn a_flood_is_cut_off() {
        let ran = shell("exec cat /dev/zero", LIMITS);
        assert_eq!(ran.failure, Some(Failure::TooMuch(1 << 20)));
        assert_eq!(ran.out.len(), 1 << 20);
        let ran = shell("head -c 1000000 /dev/zero >&2; echo ok", LIMITS);
        assert_eq!((ran.failure, ran.out), (None, b"ok\n".to_vec()));
        assert_eq!(ran.said.len(), 64 << 10);
    }

    #[test]
    fn whoever_wants_to_stop_need_not_wait() {
        let order = Order {
            program: "/bin/sleep".into(),
            arguments: vec!["64".into()],
            folder: "/".into(),
        };
        let ran = run(&order, Vec::new(), LIMITS, &AtomicBool::new(true));
        assert_eq!(ran.failure, Some(Failure::Stopped));
    }

    #[test]
    fn an_input_nobody_reads_does_not_hold_it_up() {
        let order = Order {
            program: "/bin/true".into(),
            arguments: Vec::new(),
            folder: "/".into(),
        };
        let ran = run(&order, vec![b'x'; 4 << 20], LIMITS, &AtomicBool::new(false));
        assert_eq!(ran.failure, None);
    }
}
