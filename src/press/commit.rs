//! From one edition to the next, whole.
//!
//! # Mechanism
//!
//! 1. Every new file is written into `out/.solefolio/staging/`, and so is the
//!    new record. `out/` is not touched.
//! 2. The list of renames is written beside as `journal.new`, and all of it is
//!    brought onto the disk by one `syncfs`, which costs less than one `fsync` a
//!    file. Then `journal.new` is renamed to `journal`. **This rename is the
//!    commit.** Before it the old edition stands; after it the new one will.
//! 3. The steps are taken: an added file is renamed into place where nothing may
//!    be; a replaced file gets a second name in the staging folder, then the new
//!    one is renamed over it; a removed file is renamed into the staging folder.
//!    The record goes last.
//! 4. Folders that removals left empty are removed, then the journal, then the
//!    staging folder.
//!
//! Files that are added come before those that are replaced, and removals come
//! last, so that a page never links to something that isn't there yet.
//!
//! # If it is interrupted
//!
//! | killed | `out/` holds | the next run |
//! | --- | --- | --- |
//! | 1. while files are staged | the old edition | drops the staging folder |
//! | 2. after the journal was written beside, before its rename | the old edition | drops both |
//! | 3. between two steps | of each file the old or the new, none missing | takes all steps again; each sees whether it was taken |
//! | 4. within a step | the same: a rename happens or doesn't; a second name without its rename is harmless | the same |
//! | 5. after the last step, before the journal is removed | the new edition | finds every step taken, removes the journal |
//! | 6. after the journal is removed | the new edition | drops the staging folder |
//! | 7. while the next run does any of this | as above | starts over with the same journal |
//!
//! # If a step fails
//!
//! A full disk, a folder somebody put in the way, a file that may not be
//! touched: the journal is renamed to `undo`, and every step is taken back in
//! reverse from what the staging folder kept. `out/` is as it was, and the error
//! names the file. Killed while undoing, the next run goes on undoing. If undoing
//! fails too, both errors are told and the next run tries again.
//!
//! # Guarantees
//!
//! Against a kill of the process: all of the above. Against a power cut: the
//! same on a file system that keeps renames and removals in the order in which
//! they were done, as journalling ones do, because all new bytes are on the disk
//! before the first rename. On one that doesn't, each file's bytes are whole, and
//! what the cut left mixed differs from the stamp, so the next run mends it.

use super::folder::{Folder, Lies, Trouble, Walker};
use super::journal::{Journal, Step};
use super::manifest::Sums;
use super::progress::{Phase, Progress};
use crate::outputs::WriteStream;
use std::sync::atomic::{AtomicU32, Ordering};

/// The hidden folder in `out/`. No sheet can lie in it, for no part of a sheet's
/// path begins with a dot.
pub const HIDDEN: &str = ".solefolio";
/// The record, in the hidden folder.
pub const RECORD: &str = "record";

const STAGING: &str = "staging";
const JOURNAL: &str = "journal";
const JOURNAL_BESIDE: &str = "journal.new";
const UNDO: &str = "undo";
/// The staged files are spread over so many folders, because threads that make
/// files in one folder wait for each other.
const SHARDS: u32 = 8;

/// Where new files wait.
#[derive(Debug)]
pub struct Staging {
    folder: Folder,
    shards: Vec<Folder>,
    next: AtomicU32,
}

/// A file that waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Staged {
    /// Its number.
    pub number: u32,
    /// Its inode, by which it is known again once it is in place.
    pub inode: u64,
}

impl Staging {
    /// An empty staging folder; what an earlier run left is dropped.
    pub fn make(hidden: &Folder) -> Result<Self, Trouble> {
        hidden.remove_tree(STAGING)?;
        Staging::open(hidden)
    }

    /// The staging folder as it is.
    fn open(hidden: &Folder) -> Result<Self, Trouble> {
        let folder = hidden.folder_made(STAGING)?;
        let shards = (0..SHARDS).map(|shard| folder.folder_made(&shard.to_string()));
        Ok(Staging {
            shards: shards.collect::<Result<_, _>>()?,
            folder,
            next: AtomicU32::new(0),
        })
    }

    /// Puts new bytes down. Called from many threads.
    pub fn add(&self, bytes: &[u8]) -> Result<Staged, Trouble> {
        let number = self.number();
        let meta = self.shard(number).write_new(&number.to_string(), bytes)?;
        Ok(Staged {
            number,
            inode: meta.inode,
        })
    }

    /// Puts down what is written, and tells its sums.
    pub fn add_written(&self, write: &WriteStream<'_>) -> Result<(Staged, Sums), Trouble> {
        let number = self.number();
        let (meta, sums) = self
            .shard(number)
            .write_new_by(&number.to_string(), |file| Sums::passing(write, file))?;
        let inode = meta.inode;
        Ok((Staged { number, inode }, sums))
    }

    /// A number that no file has.
    pub fn number(&self) -> u32 {
        self.next.fetch_add(1, Ordering::Relaxed)
    }

    fn shard(&self, number: u32) -> &Folder {
        &self.shards[(number % SHARDS) as usize]
    }

    /// Puts the new record down.
    fn add_record(&self, record: &[u8]) -> Result<(), Trouble> {
        self.folder.write_new(RECORD, record).map(drop)
    }
}

fn kept(number: u32) -> String {
    format!("{number}.old")
}

/// Drops what is staged.
pub fn drop_staging(hidden: &Folder) -> Result<(), Trouble> {
    hidden.remove_tree(STAGING)
}

/// Turns `out/` into the next edition, or leaves it as it was.
///
/// # Errors
/// The failure that stopped it; `out/` is as it was, or the error says that it
/// could not be undone yet.
pub fn commit(
    out: &Folder,
    hidden: &Folder,
    staging: &Staging,
    journal: &Journal,
    record: &[u8],
    progress: &dyn Progress,
) -> Result<(), Trouble> {
    staging.add_record(record)?;
    hidden.remove(JOURNAL_BESIDE)?;
    hidden.write_new(JOURNAL_BESIDE, &journal.write())?;
    hidden.sync()?;
    hidden.rename(JOURNAL_BESIDE, hidden, JOURNAL)?;
    forward_or_back(out, hidden, staging, journal, progress)
}

fn forward_or_back(
    out: &Folder,
    hidden: &Folder,
    staging: &Staging,
    journal: &Journal,
    progress: &dyn Progress,
) -> Result<(), Trouble> {
    match forward(out, hidden, staging, journal, progress) {
        Ok(()) => {
            if let Err(trouble) = finish(out, hidden, journal) {
                // The new edition stands; with the journal still there the next
                // run finds every step taken, and tidies up.
                progress.say(&format!(
                    "the new edition is in place, but the press {trouble}; the next run tidies up"
                ));
            }
            Ok(())
        }
        Err(failed) => {
            let undone = hidden
                .rename(JOURNAL, hidden, UNDO)
                .and_then(|()| back(out, hidden, staging, journal));
            Err(match undone {
                Ok(()) => failed,
                Err(again) => Trouble {
                    tried: format!(
                        "{}; taking back what was done failed too ({again}) and is tried again by the next run: {}",
                        failed.tried, failed.error
                    ),
                    error: again.error,
                },
            })
        }
    }
}

/// Completes or takes back what an earlier run began, and drops what it left.
/// Says whether there was something to complete.
///
/// # Errors
/// If it can't; the next run tries again.
pub fn recover(out: &Folder, hidden: &Folder, progress: &dyn Progress) -> Result<bool, Trouble> {
    for (name, undo) in [(UNDO, true), (JOURNAL, false)] {
        let Some(bytes) = hidden.read(name)? else {
            continue;
        };
        let Ok(journal) = Journal::read(&bytes) else {
            // It was whole when it was renamed: the disk lost it since. Every
            // file of `out/` is the old or the new one, and what differs from
            // the record is made again.
            progress.say(&format!(
                "{} is damaged and is dropped; all files are compared by content",
                hidden.path().join(name).display()
            ));
            hidden.remove(name)?;
            continue;
        };
        let staging = Staging::open(hidden)?;
        if undo {
            back(out, hidden, &staging, &journal)?;
        } else {
            progress.say("an earlier publish was interrupted; completing it first");
            forward_or_back(out, hidden, &staging, &journal, progress)?;
        }
        return Ok(true);
    }
    hidden.remove(JOURNAL_BESIDE)?;
    drop_staging(hidden)?;
    Ok(false)
}

/// Whether an earlier run left something to complete.
pub fn is_pending(hidden: &Folder) -> Result<bool, Trouble> {
    Ok(hidden.has(JOURNAL)? || hidden.has(UNDO)?)
}

fn forward(
    out: &Folder,
    hidden: &Folder,
    staging: &Staging,
    journal: &Journal,
    progress: &dyn Progress,
) -> Result<(), Trouble> {
    let mut walker = Walker::new(out);
    for step in &journal.steps {
        take(&mut walker, staging, step)?;
        progress.advance(Phase::Committing, 1);
    }
    if staging.folder.has(RECORD)? {
        staging.folder.rename(RECORD, hidden, RECORD)?;
    }
    Ok(())
}

/// Takes a step, unless it was taken.
fn take(walker: &mut Walker<'_>, staging: &Staging, step: &Step) -> Result<(), Trouble> {
    let shard = staging.shard(step.staged());
    let staged = step.staged().to_string();
    if let Step::Remove { path, .. } = step {
        let Some((folder, name)) = walker.parent(path.as_str(), false)? else {
            return Ok(());
        };
        // Kept already: what is there now was put there since, by somebody else.
        if folder.has(name)? && !shard.has(&kept(step.staged()))? {
            folder.rename_new(name, shard, &kept(step.staged()))?;
        }
        return Ok(());
    }
    if !shard.has(&staged)? {
        return Ok(());
    }
    let Some((folder, name)) = walker.parent(step.path().as_str(), true)? else {
        return Ok(());
    };
    match step {
        Step::Replace { .. } if folder.keep_as(name, shard, &kept(step.staged()))? => {
            shard.rename(&staged, folder, name)
        }
        _ => shard.rename_new(&staged, folder, name),
    }
}

/// Takes every step back that was taken, the last first.
fn back(
    out: &Folder,
    hidden: &Folder,
    staging: &Staging,
    journal: &Journal,
) -> Result<(), Trouble> {
    let mut walker = Walker::new(out);
    for step in journal.steps.iter().rev() {
        let shard = staging.shard(step.staged());
        let (staged, kept) = (step.staged().to_string(), kept(step.staged()));
        // A staged file that still waits says that its step wasn't taken, as does a
        // removed one that isn't kept. Nothing is done then, not even the way walked:
        // what kept the step from being taken may keep that from being done.
        let taken = match step {
            Step::Add { .. } | Step::Replace { .. } => !shard.has(&staged)?,
            Step::Remove { .. } => shard.has(&kept)?,
        };
        if !taken {
            continue;
        }
        let Some((folder, name)) = walker.parent(step.path().as_str(), false)? else {
            continue;
        };
        if shard.has(&kept)? {
            shard.rename(&kept, folder, name)?;
        } else if let (Step::Add { .. }, Lies::File(_)) = (step, folder.lies(name)?) {
            folder.rename(name, shard, &staged)?;
        }
    }
    for folder in journal.made.iter().rev() {
        remove_if_empty(&mut walker, folder)?;
    }
    hidden.remove(UNDO)?;
    drop_staging(hidden)
}

/// Removes a folder of the press, unless somebody's own file keeps it, or it lies
/// behind a link.
fn remove_if_empty(walker: &mut Walker<'_>, path: &str) -> Result<(), Trouble> {
    match walker.parent(path, false) {
        Ok(Some((folder, name))) => folder.remove_empty(name).map(drop),
        Ok(None) => Ok(()),
        Err(trouble) if trouble.is_no_folder() => Ok(()),
        Err(trouble) => Err(trouble),
    }
}

fn finish(out: &Folder, hidden: &Folder, journal: &Journal) -> Result<(), Trouble> {
    let mut walker = Walker::new(out);
    for folder in &journal.emptied {
        remove_if_empty(&mut walker, folder)?;
    }
    hidden.remove(JOURNAL)?;
    drop_staging(hidden)
}

#[cfg(test)]
mod tests {
    use super::super::progress::Silent;
    use super::*;
    use crate::outputs::FolioPath;

    #[test]
    fn what_keeps_a_step_from_being_taken_does_not_keep_the_others_from_being_taken_back() {
        let folder = tempfile::tempdir().unwrap();
        let out = Folder::open(folder.path()).unwrap();
        let hidden = out.folder_made(HIDDEN).unwrap();
        let staging = Staging::make(&hidden).unwrap();
        let add = |path: &str| Step::Add {
            staged: staging.add(b"new").unwrap().number,
            path: FolioPath::new(path).unwrap(),
        };
        let journal = Journal {
            steps: vec![add("a"), add("weeks/b")],
            made: vec!["weeks".to_owned()],
            emptied: Vec::new(),
        };
        let weeks = folder.path().join("weeks");
        std::fs::write(&weeks, "mine").unwrap();
        let failed = commit(&out, &hidden, &staging, &journal, b"record", &Silent).unwrap_err();
        assert!(!is_pending(&hidden).unwrap(), "{failed}");
        assert!(!out.has("a").unwrap());
        assert_eq!(std::fs::read(&weeks).unwrap(), b"mine");
    }
}
