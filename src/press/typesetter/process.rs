//! One run of Typst: shut in, and limited in time and size.

use super::{PrintCause, Typesetter};
use crate::files::Date;
use jiff::tz::TimeZone;
use std::{
    ffi::OsString,
    fs,
    io::{self, Read},
    path::Path,
    process::{Child, Command, ExitStatus, Stdio},
    sync::atomic::{AtomicBool, Ordering},
    thread,
    time::{Duration, Instant},
};

/// What a process may take.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    /// Time to start and to set the first sheet.
    pub(super) start: Duration,
    /// Time for each sheet.
    pub(super) sheet: Duration,
    /// Size of one file, in bytes.
    pub(super) bytes: u64,
}

impl Default for Limits {
    /// Generous: a review takes some ten milliseconds and a hundred kilobytes,
    /// a week's print of forty reviews half a second.
    fn default() -> Self {
        Self {
            start: Duration::from_secs(60),
            sheet: Duration::from_secs(2),
            bytes: 64 << 20,
        }
    }
}

/// Most of Typst's messages that is read, in bytes.
const MESSAGES: u64 = 64 << 10;

/// Most lines of them that a problem shows.
const LINES: usize = 6;

/// How often a running process is looked at.
const LOOK: Duration = Duration::from_millis(4);

/// What to compile, and how.
pub(super) struct Order<'o> {
    pub(super) typesetter: &'o Typesetter,
    pub(super) root: &'o Path,
    pub(super) messages: &'o Path,
    pub(super) threads: usize,
    pub(super) date: Date,
    pub(super) sheets: usize,
    pub(super) arguments: &'o [OsString],
}

/// A program with nothing of our surroundings. Typst reads fonts, packages, a
/// date and features from variables: none of them may change a print. The proxy
/// that no one listens on keeps a template from fetching a package.
fn shut_in(program: &Path) -> Command {
    let mut command = Command::new(program);
    command
        .env_clear()
        .stdin(Stdio::null())
        .stdout(Stdio::null());
    for name in ["http_proxy", "https_proxy", "all_proxy"] {
        command.env(name, "http://127.0.0.1:9");
        command.env(name.to_ascii_uppercase(), "http://127.0.0.1:9");
    }
    command.env("LC_ALL", "C").env("TZ", "UTC");
    command
}

/// What the program says of its version, on one line.
pub(super) fn version(program: &Path) -> Result<String, String> {
    let mut child = shut_in(program)
        .arg("--version")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|error| error.to_string())?;
    let never = AtomicBool::new(false);
    let status = wait(&mut child, Duration::from_secs(20), &never)
        .map_err(|_| "it does not answer".to_owned())?;
    let mut says = String::new();
    if let Some(stdout) = child.stdout.take() {
        // A line is far below what a pipe holds, so the program never waited on us.
        stdout
            .take(256)
            .read_to_string(&mut says)
            .map_err(|error| error.to_string())?;
    }
    if status.success() {
        Ok(says.lines().next().unwrap_or_default().trim().to_owned())
    } else {
        Err(format!("it ended with {status}"))
    }
}

/// Compiles.
pub(super) fn compile(order: &Order) -> Result<(), PrintCause> {
    let typesetter = order.typesetter;
    let system = |error: io::Error| {
        PrintCause::System(format!(
            "`{}` could not be run: {error}",
            typesetter.program.display()
        ))
    };
    if typesetter.stop.load(Ordering::Relaxed) {
        return Err(PrintCause::Stopped);
    }
    let messages = fs::File::create(order.messages).map_err(system)?;
    let nowhere = order.root.join(".no-packages");
    let mut child = shut_in(&typesetter.program)
        .current_dir(order.root)
        .env("HOME", order.root)
        .env("TMPDIR", order.root)
        .arg("compile")
        .arg("--root")
        .arg(order.root)
        .args(["--ignore-system-fonts", "--diagnostic-format", "short"])
        .args(["--pdf-standard", "ua-1"])
        .arg("--creation-timestamp")
        .arg(midnight(order.date).to_string())
        .arg("--package-path")
        .arg(&nowhere)
        .arg("--package-cache-path")
        .arg(&nowhere)
        .arg("--jobs")
        .arg(order.threads.to_string())
        .args(order.arguments)
        .stderr(messages)
        .spawn()
        .map_err(system)?;
    limit_files(&child, typesetter.limits.bytes);
    let sheets = u32::try_from(order.sheets).unwrap_or(u32::MAX);
    let limit = typesetter
        .limits
        .start
        .saturating_add(typesetter.limits.sheet.saturating_mul(sheets));
    let status = wait(&mut child, limit, &typesetter.stop)?;
    if status.success() {
        return Ok(());
    }
    if past_size_limit(status) {
        return Err(PrintCause::TooLarge(typesetter.limits.bytes));
    }
    let mut said = Vec::new();
    fs::File::open(order.messages)
        .and_then(|file| file.take(MESSAGES).read_to_end(&mut said))
        .map_err(system)?;
    let said = String::from_utf8_lossy(&said);
    Err(PrintCause::Refused(essence(&said).unwrap_or_else(|| {
        format!("nothing, but it ended with {status}")
    })))
}

/// The errors of Typst's messages, without warnings and hints on how to run it.
fn essence(said: &str) -> Option<String> {
    let errors: Vec<&str> = said
        .lines()
        .map(str::trim_end)
        .filter(|line| {
            !line.is_empty() && !line.starts_with("warning:") && !line.contains(": warning:")
        })
        .collect();
    if errors.is_empty() {
        return None;
    }
    let mut shown = errors[..errors.len().min(LINES)].join("; ");
    if errors.len() > LINES {
        shown.push_str(&format!("; and {} more", errors.len() - LINES));
    }
    Some(shown)
}

/// Midnight, UTC, at the beginning of a day, in seconds since 1970.
fn midnight(date: Date) -> i64 {
    // Dates of files lie between the years that a timestamp can hold.
    TimeZone::UTC
        .to_timestamp(date.0.at(0, 0, 0, 0))
        .map_or(0, |timestamp| timestamp.as_second())
}

/// Waits for a process; ends it when its time is over or the run is stopped.
fn wait(child: &mut Child, limit: Duration, stop: &AtomicBool) -> Result<ExitStatus, PrintCause> {
    let begun = Instant::now();
    let cause = loop {
        match child.try_wait() {
            Ok(Some(status)) => return Ok(status),
            Ok(None) => {}
            Err(error) => {
                break PrintCause::System(format!("typst could not be waited for: {error}"));
            }
        }
        if stop.load(Ordering::Relaxed) {
            break PrintCause::Stopped;
        }
        if begun.elapsed() >= limit {
            break PrintCause::TooLong(limit);
        }
        thread::sleep(LOOK);
    };
    // It may have ended by itself since; either way it is gone after this.
    let _ = child.kill();
    let _ = child.wait();
    Err(cause)
}

/// Keeps a process from filling the disk with one file. Where the system can't
/// set that from outside, a file's size is still checked before it is taken.
#[cfg(any(target_os = "linux", target_os = "android"))]
fn limit_files(child: &Child, bytes: u64) {
    use rustix::process::{Pid, Resource, Rlimit, prlimit};
    let Some(pid) = i32::try_from(child.id()).ok().and_then(Pid::from_raw) else {
        return;
    };
    let limit = Rlimit {
        // One more than allowed may be written, so that too large can be told from just so.
        current: Some(bytes.saturating_add(1)),
        maximum: Some(bytes.saturating_add(1)),
    };
    // It may have ended already; then there is nothing to limit.
    let _ = prlimit(Some(pid), Resource::Fsize, limit);
}

#[cfg(not(any(target_os = "linux", target_os = "android")))]
fn limit_files(_: &Child, _: u64) {}

/// Whether a process was ended for writing too large a file.
#[cfg(unix)]
fn past_size_limit(status: ExitStatus) -> bool {
    use std::os::unix::process::ExitStatusExt;
    status.signal() == Some(rustix::process::Signal::XFSZ.as_raw())
}

#[cfg(not(unix))]
fn past_size_limit(_: ExitStatus) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn essence_drops_warnings_and_counts_what_it_leaves_out() {
        let said = "warning: bundle export is experimental\na.typ:1:2: error: one\nb.typ:1:1: warning: w\na.typ:3:2: error: two\n";
        assert_eq!(
            essence(said).as_deref(),
            Some("a.typ:1:2: error: one; a.typ:3:2: error: two")
        );
        let many = "e\n".repeat(LINES + 3);
        assert!(essence(&many).is_some_and(|text| text.ends_with("; and 3 more")));
        assert_eq!(essence("warning: x\n"), None);
    }

    #[test]
    fn midnight_is_in_utc() {
        // 2026-11-26T00:00:00Z, by `date -u -d 2026-11-26 +%s`.
        assert_eq!(
            midnight(Date(jiff::civil::date(2026, 11, 26))),
            1_795_651_200
        );
    }

    #[cfg(unix)]
    #[test]
    fn a_process_that_outstays_its_time_is_ended() {
        let mut child = Command::new("sleep")
            .arg("60")
            .spawn()
            .expect("sleep is there");
        let ended = wait(
            &mut child,
            Duration::from_millis(30),
            &AtomicBool::new(false),
        );
        assert_eq!(
            ended.err(),
            Some(PrintCause::TooLong(Duration::from_millis(30)))
        );
        let mut child = Command::new("sleep")
            .arg("60")
            .spawn()
            .expect("sleep is there");
        let ended = wait(&mut child, Duration::from_secs(60), &AtomicBool::new(true));
        assert_eq!(ended.err(), Some(PrintCause::Stopped));
    }
}
