//! What outside programs answered before, in the press's own folder.
//!
//! Each program has one file in `out/.solefolio/answers/`, which is written over
//! whole. A file that can't be read is as one that isn't there; one that can't be
//! written only costs asking again.

use super::commit::HIDDEN;
use super::folder::Folder;
use crate::programs::Memory;
use std::path::PathBuf;

/// The folder in the press's own.
const ANSWERS: &str = "answers";

/// Answers remembered in a folio's folder.
#[derive(Clone, Debug)]
pub struct AnswerFiles {
    out: PathBuf,
    writes: bool,
}

impl AnswerFiles {
    /// Reads and writes the answers of a folio.
    pub fn of(out: impl Into<PathBuf>) -> Self {
        AnswerFiles {
            out: out.into(),
            writes: true,
        }
    }

    /// Reads them only: for commands that write nothing.
    pub fn read_only(out: impl Into<PathBuf>) -> Self {
        AnswerFiles {
            out: out.into(),
            writes: false,
        }
    }
}

impl Memory for AnswerFiles {
    fn recall(&self, name: &str) -> Option<Vec<u8>> {
        let folder = Folder::open(&self.out).ok()?;
        let answers = folder.folder(HIDDEN).ok()?.folder(ANSWERS).ok()?;
        answers.read(name).ok()?
    }

    fn keep(&self, name: &str, bytes: &[u8]) {
        if !self.writes {
            return;
        }
        let written = Folder::make(&self.out)
            .and_then(|out| out.folder_made(HIDDEN))
            .and_then(|hidden| hidden.folder_made(ANSWERS))
            .and_then(|answers| answers.write_over(name, bytes));
        // Without it the next run asks again; nothing else is lost.
        drop(written);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_recalled_and_reading_only_keeps_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out");
        let files = AnswerFiles::of(&out);
        assert_eq!(files.recall("rule-ride"), None);
        AnswerFiles::read_only(&out).keep("rule-ride", b"x");
        assert!(!out.exists());
        files.keep("rule-ride", b"one");
        files.keep("rule-ride", b"two");
        assert_eq!(files.recall("rule-ride").as_deref(), Some(&b"two"[..]));
    }
}
