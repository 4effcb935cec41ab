//! The list of renames that turns one edition into the next, as a file.

use super::codec::{self, Unreadable, Writer};
use crate::outputs::FolioPath;

const TITLE: &str = "solefolio journal 1";

/// One change of `out/`. The numbers name files of the staging folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// A file comes that wasn't there.
    Add {
        /// The staged file.
        staged: u32,
        /// Where it goes.
        path: FolioPath,
    },
    /// A file comes in the place of another.
    Replace {
        /// The staged file; the old one is kept beside it until all is done.
        staged: u32,
        /// Where it goes.
        path: FolioPath,
    },
    /// A file goes.
    Remove {
        /// The number under which it is kept until all is done.
        staged: u32,
        /// Where it was.
        path: FolioPath,
    },
}

impl Step {
    /// The number of its staged file.
    pub fn staged(&self) -> u32 {
        match self {
            Step::Add { staged, .. }
            | Step::Replace { staged, .. }
            | Step::Remove { staged, .. } => *staged,
        }
    }

    /// The file of the folio.
    pub fn path(&self) -> &FolioPath {
        match self {
            Step::Add { path, .. } | Step::Replace { path, .. } | Step::Remove { path, .. } => path,
        }
    }
}

/// All that turns one edition into the next. The new record lies in the staging
/// folder and goes last.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Journal {
    /// The changes, in their order.
    pub steps: Vec<Step>,
    /// Folders that are made for it, those above first.
    pub made: Vec<String>,
    /// Folders that are removed afterwards if they are empty, those below first.
    pub emptied: Vec<String>,
}

impl Journal {
    /// The journal as a file.
    pub fn write(&self) -> Vec<u8> {
        let mut file = Writer::new(TITLE);
        let mut before = "";
        file.count(self.steps.len());
        for step in &self.steps {
            file.number(match step {
                Step::Add { .. } => 0,
                Step::Replace { .. } => 1,
                Step::Remove { .. } => 2,
            });
            file.number(u64::from(step.staged()));
            file.text_after(before, step.path().as_str());
            before = step.path().as_str();
        }
        for folders in [&self.made, &self.emptied] {
            file.count(folders.len());
            folders.iter().for_each(|folder| file.text(folder));
        }
        file.seal()
    }

    /// Reads a journal; every path in it is checked.
    ///
    /// # Errors
    /// [`Unreadable`] with what is wrong.
    pub fn read(bytes: &[u8]) -> Result<Self, Unreadable> {
        let safe =
            |path: String| FolioPath::new(path).map_err(|error| Unreadable(error.to_string()));
        let mut file = codec::open(bytes, TITLE)?;
        let mut journal = Journal::default();
        for _ in 0..file.count()? {
            let kind = file.number()?;
            let staged = u32::try_from(file.number()?)
                .map_err(|_| Unreadable("a number is too large".to_owned()))?;
            let before = journal.steps.last().map_or("", |step| step.path().as_str());
            let path = safe(file.text_after(before)?)?;
            journal.steps.push(match kind {
                0 => Step::Add { staged, path },
                1 => Step::Replace { staged, path },
                2 => Step::Remove { staged, path },
                _ => return Err(Unreadable(format!("it holds an unknown step {kind}"))),
            });
        }
        for folders in [&mut journal.made, &mut journal.emptied] {
            for _ in 0..file.count()? {
                folders.push(safe(file.text()?.to_owned())?.as_str().to_owned());
            }
        }
        file.end()?;
        Ok(journal)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_journal_is_read_as_it_was_written() {
        let path = |path: &str| FolioPath::new(path).unwrap();
        let journal = Journal {
            steps: vec![
                Step::Add {
                    staged: 300,
                    path: path("shoes/a/index.html"),
                },
                Step::Replace {
                    staged: 1,
                    path: path("shoes/b/index.html"),
                },
                Step::Remove {
                    staged: 0,
                    path: path("x"),
                },
            ],
            made: vec!["shoes".into(), "shoes/a".into()],
            emptied: vec!["weeks".into()],
        };
        assert_eq!(Journal::read(&journal.write()).unwrap(), journal);
    }

    #[test]
    fn a_journal_that_leads_out_of_the_folio_is_refused() {
        let journal = Journal {
            made: vec!["../elsewhere".into()],
            ..Journal::default()
        };
        assert!(Journal::read(&journal.write()).is_err());
    }
}
