//! Setting a batch: sheets that may share a process together, others alone, and
//! halving where one spoils the rest.

use super::workshop::Workshop;
use super::{Pass, Print, PrintCause, PrintJob, PrintProblem, Typesetter, template};
use crate::files::Date;
use std::sync::atomic::{AtomicBool, Ordering};

/// Batches of this size or less are not halved any more but parted.
const PART: usize = 4;

/// Whether Typst's message is that of a template that wants its sheet set again.
/// Versions differ in whether they put what a template says in quotation marks.
fn wants_again(message: &str) -> bool {
    message
        .split("panicked with: ")
        .skip(1)
        .any(|said| said.trim_start_matches('"').starts_with("again, exactly"))
}

/// A job with its place among all.
pub(super) type Numbered = (usize, PrintJob);

/// What the workers of one call share.
pub(super) struct Run<'r> {
    pub typesetter: &'r Typesetter,
    pub templates: &'r [(String, Vec<u8>)],
    /// Threads of each process.
    pub threads: usize,
    /// Whether bundles still work; cleared once one failed that held no culprit.
    pub bundles: AtomicBool,
    pub each: &'r (dyn Fn(usize, Print) + Sync),
}

impl Run<'_> {
    /// Sets a batch: sheets that may share a process together, others alone.
    pub fn batch(&self, workshop: &Workshop, batch: Vec<Numbered>) {
        let mut groups: Vec<(Date, Vec<Numbered>)> = Vec::new();
        for (index, job) in batch {
            if !self.templates.iter().any(|(name, _)| *name == job.template)
                || !template::is_name(&job.template)
            {
                let cause = PrintCause::Template(job.template.clone());
                self.refuse(vec![(index, job)], &cause);
            } else if template::keeps_to_itself(&job.template, self.templates) {
                match groups.iter_mut().find(|(date, _)| *date == job.date) {
                    Some((_, group)) => group.push((index, job)),
                    None => groups.push((job.date, vec![(index, job)])),
                }
            } else {
                self.alone(workshop, index, job);
            }
        }
        for (_, group) in groups {
            self.together(workshop, group);
        }
    }

    /// Sets sheets in one process; if that fails, halves them until it is clear
    /// which one is to blame. Says whether none was.
    fn together(&self, workshop: &Workshop, mut group: Vec<Numbered>) -> bool {
        if group.len() < 2 || !self.bundles.load(Ordering::Relaxed) {
            return self.parted(workshop, group);
        }
        let jobs: Vec<&PrintJob> = group.iter().map(|(_, job)| job).collect();
        match workshop.bundle(self.typesetter, self.threads, &jobs) {
            Ok(files) => {
                for ((index, job), file) in group.into_iter().zip(files) {
                    // A file that is missing or too large concerns one sheet only.
                    let print = file.map_err(|cause| PrintProblem {
                        name: job.name,
                        cause,
                    });
                    (self.each)(index, print);
                }
                true
            }
            Err(PrintCause::Stopped) => {
                self.refuse(group, &PrintCause::Stopped);
                true
            }
            Err(_) => {
                let fine = if group.len() <= PART {
                    self.parted(workshop, group)
                } else {
                    let half = group.split_off(group.len() / 2);
                    // Not short-circuited: both halves must be set.
                    self.together(workshop, group) & self.together(workshop, half)
                };
                if fine {
                    // Every sheet is good on its own, so it is the bundle that is not.
                    self.bundles.store(false, Ordering::Relaxed);
                }
                fine
            }
        }
    }

    /// Sets each sheet in a process of its own; says whether all came out.
    fn parted(&self, workshop: &Workshop, group: Vec<Numbered>) -> bool {
        group.into_iter().fold(true, |fine, (index, job)| {
            self.alone(workshop, index, job) & fine
        })
    }

    /// Sets one sheet in a process of its own; says whether it came out.
    fn alone(&self, workshop: &Workshop, index: usize, job: PrintJob) -> bool {
        let print = workshop
            .single(self.typesetter, self.threads, &job, Pass::First)
            .or_else(|cause| match &cause {
                PrintCause::Refused(message) if wants_again(message) => {
                    workshop.single(self.typesetter, self.threads, &job, Pass::Again)
                }
                _ => Err(cause),
            })
            .map_err(|cause| PrintProblem {
                name: job.name,
                cause,
            });
        let fine = print.is_ok();
        (self.each)(index, print);
        fine
    }

    pub fn refuse(&self, group: Vec<Numbered>, cause: &PrintCause) {
        for (index, job) in group {
            let problem = PrintProblem {
                name: job.name,
                cause: cause.clone(),
            };
            (self.each)(index, Err(problem));
        }
    }
}
