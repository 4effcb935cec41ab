//! What a publish is to make: all sheets, each at a place of its own.

use super::job::{Job, Stopped};
use super::manifest::MANIFEST;
use crate::diagnostics::{KeyPath, Problem};
use crate::outputs::{FolioPath, Make, Sheet, Subject};
use std::collections::HashMap;

/// All sheets: those of the edition, and the manifest, which is made last.
pub struct Plan<'j> {
    /// What is asked for.
    pub job: &'j Job<'j>,
    /// The edition's.
    pub sheets: &'j [Sheet<'j>],
    /// The manifest's.
    pub manifest: Sheet<'j>,
}

impl<'j> Plan<'j> {
    /// The plan of a job.
    pub fn of(job: &'j Job<'j>) -> Self {
        let path = FolioPath::new(MANIFEST).expect("letters and digits are a safe path");
        Plan {
            job,
            sheets: &job.sheets,
            manifest: Sheet {
                path,
                output: "manifest",
                subject: Subject::Folio,
                make: Make::Bytes(Box::new(Vec::new)),
            },
        }
    }

    /// All of them, the manifest last.
    pub fn all(&self) -> Vec<&Sheet<'j>> {
        self.sheets.iter().chain(Some(&self.manifest)).collect()
    }

    /// Checks that no two sheets want one place, and none a place within another.
    ///
    /// # Errors
    /// [`Stopped::Problems`].
    pub fn check(&self) -> Result<(), Stopped> {
        let sheets = self.all();
        let mut places: HashMap<&str, &str> = HashMap::with_capacity(sheets.len());
        let mut problems = Vec::new();
        for sheet in &sheets {
            if let Some(other) = places.insert(sheet.path.as_str(), sheet.output) {
                problems.push(format!(
                    "the outputs `{other}` and `{}` both make {}",
                    sheet.output, sheet.path
                ));
            }
        }
        for sheet in &sheets {
            let path = sheet.path.as_str();
            for (at, _) in path.match_indices('/') {
                if let Some(other) = places.get(&path[..at]) {
                    problems.push(format!(
                    "the output `{}` makes {path} inside of {}, which the output `{other}` makes as a file",
                    sheet.output,
                    &path[..at]
                ));
                }
            }
        }
        if problems.is_empty() {
            return Ok(());
        }
        let problem = |message| Problem::error("sheets-collide", "out", KeyPath::root(), message);
        Err(Stopped::Problems(
            problems.into_iter().map(problem).collect(),
        ))
    }
}
