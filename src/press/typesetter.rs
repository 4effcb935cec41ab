//! Sheets to PDF, by the outside program Typst.
//!
//! # What it is for
//! [`Typesetter::typeset_each`] takes many sheets, each a template's name and
//! its view as JSON, and hands back each one's PDF (PDF/UA-1, tagged) or the
//! reason why there is none. [`Typesetter::fingerprint`] says when a sheet must
//! be set again.
//!
//! # How
//! A view reaches Typst as a data file and never as markup. A template is a
//! Typst file that exports a function `sheet`; it is called with the view.
//!
//! Starting a Typst process costs more than setting a sheet, so where Typst has
//! the bundle export (0.15, an experiment of its makers) many sheets share a
//! process. In a bundle, however, what a sheet asks of the document (its
//! headings, counters, labels) it is told of all sheets together. A template
//! that asks such things is found by the words it uses ([`template::keeps_to_itself`])
//! and set one process a sheet. For all others both ways give the same bytes;
//! tests hold them to it.
//!
//! A template may be quick and take a risk, such as reckoning heights instead of
//! measuring them. If that went wrong it stops with the panic `again, exactly`;
//! the sheet is then set once more, alone, with `sys.inputs.again` being
//! `exactly`. The choice is the sheet's own, so it does not depend on its batch.
//!
//! # What it guarantees
//! - Same in, same out: bytes depend on the view, the templates, the date and
//!   Typst's version; not on batches, threads, time, place or surroundings.
//! - A sheet that fails is named, with Typst's own message, and spoils no other:
//!   a batch that fails is halved until the culprit stands alone.
//! - Typst sees a folder of its own, mode 0700, and nothing outside it; no
//!   environment variable, no system font, no package, no network. The folder
//!   is removed in the end, whatever happens short of being killed.
//! - Time, size of output and size of messages are limited.
//!
//! # What it does not do
//! It keeps nothing between calls and decides nothing about what is up to date.
//! A process killed from outside with no chance to clean up leaves its folder
//! behind in the system's temporary folder.

mod find;
mod process;
mod run;
pub mod template;
mod workshop;

use crate::files::Date;
use find::Version;
pub use find::{INSTALL, Missing, PROGRAM_VARIABLE};
use process::Limits;
use run::Run;
use std::{
    fmt, fs,
    path::{Path, PathBuf},
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, AtomicUsize, Ordering},
    },
    thread,
    time::Duration,
};
use workshop::Workshop;

/// Most sheets in one process. A process holds its sheets until the last is
/// set: a review of two pages takes about 4.5 MB, a batch of them 190 MB.
const BATCH: usize = 32;

/// Most processes at a time that hold a batch each; what bounds the memory.
const BATCHES_AT_ONCE: usize = 2;

/// Whether a sheet is set for the first time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pass {
    /// It is.
    First,
    /// Its template asked to be set again.
    Again,
}

/// Marks the way sheets are handed over: part of every fingerprint.
const WAY: &str = "sheet(json), ua-1, no system fonts, 1";

/// A program that sets sheets.
#[derive(Clone, Debug)]
pub struct Typesetter {
    program: PathBuf,
    /// What it says of itself, whole: `typst 0.15.1 (…)`.
    says: String,
    version: Version,
    bundles: bool,
    limits: Limits,
    stop: Arc<AtomicBool>,
}

/// One sheet to set.
#[derive(Clone, Debug)]
pub struct PrintJob {
    /// How a problem names the sheet: its path in the folio.
    pub name: String,
    /// Its template: a file at the top of the print templates, such as `review.typ`.
    pub template: String,
    /// Its view, as JSON.
    pub data: Vec<u8>,
    /// The edition's date; a template that asks for today's date is told this.
    pub date: Date,
}

/// Why a sheet could not be set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PrintProblem {
    /// The sheet, as its job named it.
    pub name: String,
    /// What went wrong.
    pub cause: PrintCause,
}

/// What went wrong with a sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PrintCause {
    /// Typst refused it; its own message, places relative to the print templates.
    Refused(String),
    /// There is no such template, or its name is not one.
    Template(String),
    /// It took longer than allowed.
    TooLong(Duration),
    /// The file came out larger than allowed, in bytes.
    TooLarge(u64),
    /// The run was stopped before its turn.
    Stopped,
    /// Typst could not be run, or its files not be handed over.
    System(String),
}

impl fmt::Display for PrintProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "could not set `{}`: ", self.name)?;
        match &self.cause {
            PrintCause::Refused(message) => write!(f, "typst says: {message}"),
            PrintCause::Template(name) => write!(
                f,
                "there is no print template `{name}`; see templates/print/"
            ),
            PrintCause::TooLong(limit) => write!(
                f,
                "typst took longer than {} s; look for a loop in the template",
                limit.as_secs()
            ),
            PrintCause::TooLarge(limit) => {
                write!(f, "the file came out larger than {} MiB", limit >> 20)
            }
            PrintCause::Stopped => write!(f, "the run was stopped"),
            PrintCause::System(message) => write!(f, "{message}"),
        }
    }
}

impl std::error::Error for PrintProblem {}

/// A sheet's PDF, or why there is none.
pub type Print = Result<Vec<u8>, PrintProblem>;

impl Typesetter {
    /// The version, such as `0.15.1`.
    pub fn version(&self) -> &str {
        &self.version.text
    }

    /// Gives every sheet a process of its own, whatever Typst can do.
    #[must_use]
    pub fn one_by_one(mut self) -> Self {
        self.bundles = false;
        self
    }

    /// Stops when the flag is raised: running processes are ended, and sheets
    /// that have not been set report [`PrintCause::Stopped`].
    #[must_use]
    pub fn stop_when(mut self, flag: Arc<AtomicBool>) -> Self {
        self.stop = flag;
        self
    }

    /// What a sheet of this template depends on beyond its view and date:
    /// Typst's version, the way sheets are handed over, and every template file
    /// that it uses, straight or through others.
    pub fn fingerprint(&self, template: &str, templates: &[(String, Vec<u8>)]) -> blake3::Hash {
        let mut hasher = blake3::Hasher::new();
        let mut part = |bytes: &[u8]| {
            hasher.update(&(bytes.len() as u64).to_le_bytes());
            hasher.update(bytes);
        };
        part(WAY.as_bytes());
        part(self.says.as_bytes());
        part(template.as_bytes());
        for (name, text) in template::used_by(template, templates) {
            part(name.as_bytes());
            part(text);
        }
        hasher.finalize()
    }

    /// Sets sheets and returns them in the jobs' order. `on_done` is told how
    /// many are done whenever that changes.
    pub fn typeset(
        &self,
        jobs: Vec<PrintJob>,
        templates: &[(String, Vec<u8>)],
        on_done: &(dyn Fn(usize) + Sync),
    ) -> Vec<Print> {
        let count = jobs.len();
        let jobs: Vec<Mutex<Option<PrintJob>>> =
            jobs.into_iter().map(|job| Mutex::new(Some(job))).collect();
        let prints: Vec<Mutex<Option<Print>>> = (0..count).map(|_| Mutex::default()).collect();
        let done = AtomicUsize::new(0);
        self.typeset_each(
            count,
            &|index| lock(&jobs[index]).take().expect("a job is asked for once"),
            templates,
            &|index, print| {
                *lock(&prints[index]) = Some(print);
                on_done(done.fetch_add(1, Ordering::Relaxed) + 1);
            },
        );
        prints
            .into_iter()
            .map(|print| {
                print
                    .into_inner()
                    .unwrap_or_else(PoisonError::into_inner)
                    .expect("every job is answered")
            })
            .collect()
    }

    /// Sets `count` sheets, asking for each job when its turn comes and handing
    /// each print over as soon as it is there, so that no more than the batches
    /// under way are held. Both functions are called from several threads, each
    /// exactly once for every index, in no stated order.
    pub fn typeset_each(
        &self,
        count: usize,
        job: &(dyn Fn(usize) -> PrintJob + Sync),
        templates: &[(String, Vec<u8>)],
        each: &(dyn Fn(usize, Print) + Sync),
    ) {
        if count == 0 {
            return;
        }
        let workshop = Workshop::open(templates);
        let cores = thread::available_parallelism().map_or(1, usize::from);
        let workers = if self.bundles {
            cores.min(BATCHES_AT_ONCE)
        } else {
            cores
        };
        // Even batches, so that no worker waits long for another's last one.
        let batches = count.div_ceil(BATCH).next_multiple_of(workers);
        let size = count.div_ceil(batches);
        let run = Run {
            typesetter: self,
            templates,
            threads: cores.div_ceil(workers),
            bundles: AtomicBool::new(self.bundles),
            each,
        };
        let next = AtomicUsize::new(0);
        thread::scope(|scope| {
            for _ in 0..workers.min(count) {
                scope.spawn(|| {
                    loop {
                        let first = next.fetch_add(size, Ordering::Relaxed);
                        if first >= count {
                            return;
                        }
                        let batch = (first..count.min(first + size))
                            .map(|index| (index, job(index)))
                            .collect();
                        match &workshop {
                            Ok(workshop) => run.batch(workshop, batch),
                            Err(error) => run.refuse(
                                batch,
                                &PrintCause::System(format!(
                                    "the temporary folder for typst could not be made: {error}"
                                )),
                            ),
                        }
                    }
                });
            }
        });
    }
}

fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A file's bytes, if it is no larger than allowed.
fn bytes_of(path: &Path, most: u64) -> Result<Vec<u8>, PrintCause> {
    let system = |error: std::io::Error| {
        PrintCause::System(format!("typst's file could not be read: {error}"))
    };
    if fs::metadata(path).map_err(system)?.len() > most {
        return Err(PrintCause::TooLarge(most));
    }
    fs::read(path).map_err(system)
}
