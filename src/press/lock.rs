//! One press at a time: the second waits until the first is done.
//!
//! The lock is the system's own on an open file. It ends with the process that
//! holds it, however that ends, so there is no stale lock to clear away.

use super::folder::{Folder, Trouble};
use super::interrupt::Interrupt;
use super::progress::Progress;
use rustix::fs::FlockOperation;
use rustix::io::Errno;
use std::fs::File;
use std::io::{Read, Seek, Write};
use std::time::{Duration, Instant};

const NAME: &str = "lock";
/// How often the lock is asked for.
const AGAIN: Duration = Duration::from_millis(20);
/// How long nothing is said of waiting.
const QUIET: Duration = Duration::from_secs(1);

/// Held while it lives.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

impl Lock {
    /// Waits for the lock of a hidden folder; `None` if interrupted. After a
    /// second it says whom it waits for.
    pub fn wait(
        hidden: &Folder,
        interrupt: &Interrupt,
        progress: &dyn Progress,
    ) -> Result<Option<Self>, Trouble> {
        let mut file = hidden.open_lock(NAME)?;
        let began = Instant::now();
        let mut said = false;
        loop {
            match rustix::fs::flock(&file, FlockOperation::NonBlockingLockExclusive) {
                Ok(()) => break,
                Err(Errno::WOULDBLOCK | Errno::INTR) => {}
                Err(error) => return Err(hidden.trouble("lock", NAME, error)),
            }
            if interrupt.is_raised() {
                return Ok(None);
            }
            if !said && began.elapsed() >= QUIET {
                said = true;
                progress.say(&format!(
                    "waiting for another publish into {} to end{}",
                    hidden.path().parent().unwrap_or(hidden.path()).display(),
                    holder(&mut file)
                ));
            }
            std::thread::sleep(AGAIN);
        }
        // The number only serves the message; a full disk must not matter here.
        let _ = write_holder(&mut file);
        Ok(Some(Lock { _file: file }))
    }

    /// The lock, if nobody holds it.
    pub fn try_now(hidden: &Folder) -> Result<Option<Self>, Trouble> {
        let file = hidden.open_lock(NAME)?;
        match rustix::fs::flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => Ok(Some(Lock { _file: file })),
            Err(Errno::WOULDBLOCK | Errno::INTR) => Ok(None),
            Err(error) => Err(hidden.trouble("lock", NAME, error)),
        }
    }
}

fn holder(file: &mut File) -> String {
    let mut text = String::new();
    let read = file.rewind().and_then(|()| file.read_to_string(&mut text));
    match (read, text.trim().parse::<u32>()) {
        (Ok(_), Ok(process)) => format!(" (process {process})"),
        _ => String::new(),
    }
}

fn write_holder(file: &mut File) -> std::io::Result<()> {
    file.rewind()?;
    file.set_len(0)?;
    write!(file, "{}", std::process::id())
}
