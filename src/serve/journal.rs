//! The bench's journal: what was typed, on the disk before it is said to be kept.
//!
//! A file of lines, each a JSON value, that is only ever added to. A line counts
//! once it ends; the piece of a line that a pulled plug left is passed over and
//! cut off by the next start. One process holds it at a time. No symbolic link is
//! followed to it: a lab's folder may come from elsewhere.

use anyhow::Context as _;
use rustix::fs::{FlockOperation, Mode, OFlags, flock};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

/// The most bytes of a journal.
const LIMIT: u64 = 64 << 20;

/// An open journal.
#[derive(Debug)]
pub struct Journal {
    file: File,
    path: PathBuf,
}

impl Journal {
    /// Opens a journal and hands back what is in it. A line that is no `T` (from
    /// another version) is passed over and counted.
    ///
    /// # Errors
    /// If it can't be opened, is larger than it can have become, or another process
    /// holds it.
    pub fn open<T: DeserializeOwned>(path: &Path) -> anyhow::Result<(Journal, Vec<T>, usize)> {
        let say = || format!("can't open the bench's journal {}", path.display());
        let flags = OFlags::RDWR | OFlags::CREATE | OFlags::CLOEXEC | OFlags::NOFOLLOW;
        let mut file = rustix::fs::open(path, flags, Mode::from_raw_mode(0o666))
            .map(File::from)
            .with_context(say)?;
        flock(&file, FlockOperation::NonBlockingLockExclusive).with_context(|| {
            format!(
                "another bench is open on this lab: it holds {}",
                path.display()
            )
        })?;
        // Cut at the limit, it would lose what was typed last.
        if file.metadata().with_context(say)?.len() > LIMIT {
            anyhow::bail!(
                "the bench's journal {} is larger than {} MiB; move it away, and take from it \
                 by hand what is in no shoe's file",
                path.display(),
                LIMIT >> 20
            );
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).with_context(say)?;
        let whole = bytes
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(0, |at| at + 1);
        let mut lines = Vec::new();
        let mut passed = 0;
        for line in bytes[..whole].split(|byte| *byte == b'\n') {
            if line.is_empty() {
                continue;
            }
            match serde_json::from_slice(line) {
                Ok(value) => lines.push(value),
                Err(_) => passed += 1,
            }
        }
        if whole < bytes.len() {
            file.set_len(whole as u64).with_context(say)?;
        }
        file.seek(SeekFrom::End(0)).with_context(say)?;
        let path = path.to_owned();
        Ok((Journal { file, path }, lines, passed))
    }

    /// Adds a line and waits until it is on the disk.
    ///
    /// # Errors
    /// If the disk is full or fails; then the line does not count.
    pub fn add(&mut self, line: &impl Serialize) -> anyhow::Result<()> {
        let say = || format!("can't write the bench's journal {}", self.path.display());
        let mut bytes = serde_json::to_vec(line)?;
        bytes.push(b'\n');
        let end = self.file.stream_position().with_context(say)?;
        let written = self
            .file
            .write_all(&bytes)
            .and_then(|()| self.file.sync_data());
        if written.is_err() {
            // What got there is no whole line, or not kept: take it back.
            let _ = self.file.set_len(end);
            let _ = self.file.seek(SeekFrom::Start(end));
        }
        written.with_context(say)
    }

    /// Begins again with these lines only.
    ///
    /// # Errors
    /// As [`Journal::add`]; then the old lines stay.
    pub fn rewrite<T: Serialize>(&mut self, lines: &[T]) -> anyhow::Result<()> {
        let mut bytes = Vec::new();
        for line in lines {
            serde_json::to_writer(&mut bytes, line)?;
            bytes.push(b'\n');
        }
        let beside = self.path.with_extension("new");
        let say = || format!("can't write {}", beside.display());
        // One that an earlier run left, or a link to somewhere else.
        let _ = std::fs::remove_file(&beside);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create_new(true)
            .open(&beside)
            .with_context(say)?;
        flock(&file, FlockOperation::NonBlockingLockExclusive).with_context(say)?;
        file.write_all(&bytes)
            .and_then(|()| file.sync_all())
            .with_context(say)?;
        std::fs::rename(&beside, &self.path).with_context(say)?;
        self.file = file;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_come_back_and_a_torn_one_is_cut_off() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("j");
        let (mut journal, lines, _) = Journal::open::<u32>(&path).unwrap();
        assert_eq!(lines, [] as [u32; 0]);
        journal.add(&1).unwrap();
        journal.add(&2).unwrap();
        assert!(
            Journal::open::<u32>(&path).is_err(),
            "one process at a time"
        );
        drop(journal);
        let mut bytes = std::fs::read(&path).unwrap();
        bytes.extend(b"\"other\"\n3");
        std::fs::write(&path, bytes).unwrap();
        let (mut journal, lines, passed) = Journal::open::<u32>(&path).unwrap();
        assert_eq!((lines, passed), (vec![1, 2], 1));
        journal.add(&4).unwrap();
        drop(journal);
        let (mut journal, lines, _) = Journal::open::<u32>(&path).unwrap();
        assert_eq!(lines, [1, 2, 4]);
        journal.rewrite(&[7]).unwrap();
        journal.add(&8).unwrap();
        drop(journal);
        assert_eq!(Journal::open::<u32>(&path).unwrap().1, [7, 8]);
    }

    #[test]
    fn what_is_too_large_to_read_back_is_not_cut() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("j");
        let file = File::create(&path).unwrap();
        file.set_len(LIMIT + 1).unwrap();
        let error = Journal::open::<u32>(&path).unwrap_err();
        assert!(error.to_string().contains("larger than 64 MiB"), "{error}");
        assert_eq!(file.metadata().unwrap().len(), LIMIT + 1);
    }

    #[test]
    fn a_link_leads_to_no_other_file() {
        let folder = tempfile::tempdir().unwrap();
        let other = folder.path().join("other");
        std::fs::write(&other, "1\nno line").unwrap();
        let path = folder.path().join("j");
        std::os::unix::fs::symlink(&other, &path).unwrap();
        assert!(Journal::open::<u32>(&path).is_err());
        std::fs::remove_file(&path).unwrap();
        std::os::unix::fs::symlink(&other, path.with_extension("new")).unwrap();
        let (mut journal, ..) = Journal::open::<u32>(&path).unwrap();
        journal.rewrite(&[7]).unwrap();
        assert_eq!(std::fs::read(&other).unwrap(), b"1\nno line");
    }
}
