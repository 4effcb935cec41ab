//! Sheet by sheet: what it is made from now, whether that differs, and if so,
//! its new bytes.
//!
//! Views live only while their sheet is judged, so memory doesn't grow with the
//! folio but for the record.

use super::commit::Staging;
use super::fingerprint::{Basis, ViewPrint};
use super::folder::Folder;
use super::job::{InTheWay, Job, Obstacle, Stopped};
use super::judged::{Judged, Turn};
use super::manifest::{Sum, Sums};
use super::past::{Past, Standing};
use super::progress::Phase;
use super::reason::{Difference, Reason, Way};
use super::record::Entry;
use crate::diagnostics::{KeyPath, Problem};
use crate::outputs::{FolioPath, Make, Sheet, View, WriteStream, streamed};
use blake3::Hash;
use rayon::prelude::*;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// So many problems are gathered before it is given up.
const PROBLEMS: usize = 100;

/// What all sheets are judged with.
pub struct Judge<'j> {
    job: &'j Job<'j>,
    out: &'j Folder,
    past: &'j Past,
    staging: &'j Staging,
    program: Arc<str>,
    typesetter: Option<Arc<str>>,
    templates: HashMap<String, (Arc<str>, Hash)>,
    problems: Mutex<Vec<Problem>>,
    in_the_way: Mutex<Vec<InTheWay>>,
}

impl<'j> Judge<'j> {
    /// Asks for the fingerprints that all sheets share.
    pub fn new(job: &'j Job<'j>, out: &'j Folder, past: &'j Past, staging: &'j Staging) -> Self {
        let mut templates: HashMap<String, (Arc<str>, Hash)> = HashMap::new();
        let mut prints = false;
        for sheet in &job.sheets {
            let (template, is_print) = match &sheet.make {
                Make::Page { template, .. } => (&**template, false),
                Make::Print { template, .. } => (&**template, true),
                Make::Bytes(_) | Make::Stream(_) | Make::Static { .. } => continue,
            };
            prints |= is_print;
            if !templates.contains_key(template) {
                let print = if is_print {
                    job.renderer.print_fingerprint(template)
                } else {
                    job.renderer.page_fingerprint(template)
                };
                templates.insert(template.to_owned(), (template.into(), print));
            }
        }
        Judge {
            job,
            out,
            past,
            staging,
            program: job.program.as_str().into(),
            typesetter: prints.then(|| job.renderer.typesetter().into()),
            templates,
            problems: Mutex::default(),
            in_the_way: Mutex::default(),
        }
    }

    /// Judges all sheets, in parallel; the answers are in their order.
    ///
    /// # Errors
    /// Problems of templates and things in the way, all that were found; or
    /// what stopped it.
    pub fn all(&self) -> Result<Vec<Judged>, Stopped> {
        let sheets = &self.job.sheets;
        self.job
            .progress
            .begin(Phase::Rendering, sheets.len() as u64);
        let judged = sheets
            .par_iter()
            .map(|sheet| {
                if self.job.interrupt.is_raised() {
                    return Err(Stopped::Interrupted);
                }
                let judged = self.one(sheet);
                self.job.progress.advance(Phase::Rendering, 1);
                judged
            })
            .collect::<Result<Vec<_>, _>>();
        self.job.progress.end(Phase::Rendering);
        // Even where it was given up, what was found says more than that.
        self.found()?;
        judged
    }

    /// Fails with the problems and the things in the way that were found.
    pub fn found(&self) -> Result<(), Stopped> {
        let mut problems = std::mem::take(&mut *locked(&self.problems));
        if !problems.is_empty() {
            problems.sort_by(|a, b| {
                (&a.file, a.place, &a.message).cmp(&(&b.file, b.place, &b.message))
            });
            problems.dedup();
            return Err(Stopped::Problems(problems));
        }
        let mut in_the_way = std::mem::take(&mut *locked(&self.in_the_way));
        if !in_the_way.is_empty() {
            in_the_way.sort();
            return Err(Stopped::InTheWay(in_the_way));
        }
        Ok(())
    }

    fn one(&self, sheet: &Sheet<'_>) -> Result<Judged, Stopped> {
        let past = self.past.entry(&sheet.path).map(|(entry, _)| entry);
        let standing = self.past.standing(self.out, &sheet.path)?;
        let asked = self.job.options.only.as_ref();
        if asked.is_some_and(|only| !only.matches(sheet)) {
            return Ok(Judged {
                entry: past.cloned(),
                turn: Turn::Left,
                reasons: Vec::new(),
                difference: None,
                standing,
            });
        }
        if let Standing::NoFile(what) = standing {
            self.is_in_the_way(&sheet.path, what);
            return Ok(Judged::undone(standing));
        }
        match &sheet.make {
            Make::Page { template, view } => {
                let view = view();
                let basis = self.basis(template, &*view, None, past);
                let reasons = self.reasons(past, standing, Some(&basis));
                if let (true, Standing::Intact(meta)) = (reasons.is_empty(), standing) {
                    return Ok(Judged::unchanged(past, basis, meta));
                }
                match self.job.renderer.page(template, view) {
                    Ok(bytes) => self.settle(&sheet.path, &bytes, Some(basis), reasons, standing),
                    Err(problems) => self.is_wrong(problems, standing),
                }
            }
            Make::Print {
                template,
                date,
                view,
            } => {
                let basis = self.basis(template, &*view(), Some(*date), past);
                let reasons = self.reasons(past, standing, Some(&basis));
                if let (true, Standing::Intact(meta)) = (reasons.is_empty(), standing) {
                    return Ok(Judged::unchanged(past, basis, meta));
                }
                let bytes = past.map_or_else(|| blake3::hash(b""), |entry| entry.bytes);
                Ok(Judged {
                    entry: Some(Entry {
                        basis: Some(basis),
                        bytes,
                        sum: None,
                    }),
                    turn: Turn::ToPrint,
                    reasons,
                    difference: None,
                    standing,
                })
            }
            Make::Bytes(bytes) => self.bytes(&sheet.path, &bytes(), standing),
            Make::Stream(write) => self.stream(&sheet.path, write, standing),
            Make::Static { name } => self.static_file(sheet, name, standing),
        }
    }

    /// Judges a file that is nothing but bytes, whoever asked for it.
    pub fn whole(&self, path: &FolioPath, bytes: &[u8]) -> Result<Judged, Stopped> {
        let standing = self.past.standing(self.out, path)?;
        if let Standing::NoFile(what) = standing {
            self.is_in_the_way(path, what);
            return Ok(Judged::undone(standing));
        }
        self.bytes(path, bytes, standing)
    }

    fn static_file(
        &self,
        sheet: &Sheet<'_>,
        name: &str,
        standing: Standing,
    ) -> Result<Judged, Stopped> {
        let sum = self.job.renderer.static_sum(name);
        let past = self.past.entry(&sheet.path).map(|(entry, _)| entry);
        if let (Some(past), Some(sum), Standing::Intact(meta)) = (past, sum, standing)
            && past.bytes == sum
            && self.reasons(Some(past), standing, None).is_empty()
        {
            return Ok(Judged {
                entry: Some(past.clone()),
                turn: Turn::Unchanged(meta),
                reasons: Vec::new(),
                difference: None,
                standing,
            });
        }
        let problem = match self.job.renderer.static_file(name) {
            Some(bytes) if sum.is_none_or(|sum| sum == blake3::hash(&bytes)) => {
                return self.bytes(&sheet.path, &bytes, standing);
            }
            Some(_) => Problem::error(
                "edition-altered",
                name,
                KeyPath::root(),
                "the file is not what was sealed: its sum differs",
            )
            .hint("a frozen edition never changes: bring the file back from version control"),
            None if sum.is_some() => Problem::error(
                "edition-altered",
                name,
                KeyPath::root(),
                "the file was sealed and is not there any more",
            )
            .hint("a frozen edition never changes: bring the file back from version control"),
            None => Problem::error(
                "static-file-missing",
                format!("templates/{name}"),
                KeyPath::root(),
                format!(
                    "the templates have no static file `{name}`, which {} needs",
                    sheet.path
                ),
            ),
        };
        self.is_wrong(vec![problem], standing)
    }

    fn bytes(&self, path: &FolioPath, bytes: &[u8], standing: Standing) -> Result<Judged, Stopped> {
        match self.same(path, blake3::hash(bytes), standing) {
            Ok(judged) => Ok(judged),
            Err(reasons) => self.settle(path, bytes, None, reasons, standing),
        }
    }

    /// Judges a file whose bytes are written one after the other: once to know
    /// whether they are those that are there, and only if not, once more to put
    /// them down.
    fn stream(
        &self,
        path: &FolioPath,
        write: &WriteStream<'_>,
        standing: Standing,
    ) -> Result<Judged, Stopped> {
        // What differs can only be told of bytes.
        if self.job.options.why {
            return self.bytes(path, &streamed(write), standing);
        }
        let recorded = self.past.entry(path).map(|(entry, _)| entry.bytes);
        if let Some((meta, found)) = standing.hash(recorded) {
            let sums = Sums::of(write);
            let reasons = match self.same(path, sums.bytes, standing) {
                Ok(judged) => return Ok(judged),
                Err(reasons) => reasons,
            };
            if found == sums.bytes {
                return Ok(Judged::of_bytes(sums, Turn::Same(meta), reasons, standing));
            }
        }
        if let Standing::Foreign(..) = standing {
            self.is_in_the_way(path, Obstacle::ForeignFile);
            return Ok(Judged::undone(standing));
        }
        let (staged, sums) = self.staging.add_written(write)?;
        let reasons = self.reasons_of_bytes(path, sums.bytes, standing);
        Ok(Judged::of_bytes(
            sums,
            Turn::Staged(staged),
            reasons,
            standing,
        ))
    }

    /// A file of bytes that is as it was, or why it has to be made again.
    fn same(&self, path: &FolioPath, new: Hash, standing: Standing) -> Result<Judged, Vec<Reason>> {
        let past = self.past.entry(path).map(|(entry, _)| entry);
        let reasons = self.reasons_of_bytes(path, new, standing);
        match (past, standing) {
            (Some(past), Standing::Intact(meta)) if reasons.is_empty() => Ok(Judged {
                entry: Some(past.clone()),
                turn: Turn::Unchanged(meta),
                reasons,
                difference: None,
                standing,
            }),
            _ => Err(reasons),
        }
    }

    /// Why a file that is nothing but bytes has to be made again.
    fn reasons_of_bytes(&self, path: &FolioPath, new: Hash, standing: Standing) -> Vec<Reason> {
        let past = self.past.entry(path).map(|(entry, _)| entry);
        let mut reasons = self.reasons(past, standing, None);
        if let Some(past) = past
            && past.bytes != new
            && self.past.unreadable.is_none()
        {
            reasons.push(Reason::BytesChanged {
                old: past.bytes,
                new,
            });
        }
        reasons
    }

    fn basis(
        &self,
        template: &str,
        view: &dyn View,
        date: Option<jiff::civil::Date>,
        past: Option<&Entry>,
    ) -> Basis {
        let past = past.and_then(|entry| entry.basis.as_ref());
        let (template, template_print) = self.templates[template].clone();
        Basis {
            template,
            template_print,
            program: Arc::clone(&self.program),
            typesetter: date.and_then(|_| self.typesetter.clone()),
            view: ViewPrint::of(view, date, past.map(|basis| &basis.view.parts)),
        }
    }

    /// Why a sheet has to be made again, so far as it shows before its bytes.
    fn reasons(
        &self,
        past: Option<&Entry>,
        standing: Standing,
        basis: Option<&Basis>,
    ) -> Vec<Reason> {
        if self.job.options.fresh {
            return vec![Reason::Fresh];
        }
        if let Some(unreadable) = &self.past.unreadable {
            return vec![unreadable.clone()];
        }
        let Some(past) = past else {
            return vec![Reason::New];
        };
        let mut reasons = match (&past.basis, basis) {
            (None, None) => Vec::new(),
            (Some(old), Some(new)) => Reason::between(old, new),
            (old, new) => vec![Reason::MadeOtherwise {
                old: Way::of(old.as_ref()),
                new: Way::of(new),
            }],
        };
        match standing {
            Standing::Absent => reasons.push(Reason::OutputMissing),
            Standing::Altered(_, new) => reasons.push(Reason::OutputAltered {
                old: past.bytes,
                new,
            }),
            Standing::Intact(_) | Standing::Foreign(..) | Standing::NoFile(_) => {}
        }
        reasons
    }

    /// Puts new bytes down, unless they are there already.
    pub fn settle(
        &self,
        path: &FolioPath,
        bytes: &[u8],
        basis: Option<Basis>,
        reasons: Vec<Reason>,
        standing: Standing,
    ) -> Result<Judged, Stopped> {
        let hash = blake3::hash(bytes);
        let past = self.past.entry(path).map(|(entry, _)| entry);
        let recorded = past.map(|entry| entry.bytes);
        // The same bytes have the same sum, which is then not worked out again.
        let sum = match past {
            Some(Entry {
                bytes,
                sum: Some(sum),
                ..
            }) if *bytes == hash => *sum,
            _ => Sum::of(bytes),
        };
        let there = standing.hash(recorded);
        let mut difference = None;
        let turn = match there {
            Some((meta, found)) if found == hash => Turn::Same(meta),
            _ => {
                if let Standing::Foreign(..) = standing {
                    self.is_in_the_way(path, Obstacle::ForeignFile);
                    return Ok(Judged::undone(standing));
                }
                if self.job.options.why && there.is_some() {
                    let old = self.out.read(path.as_str())?;
                    difference = old.and_then(|old| Difference::between(&old, bytes));
                }
                Turn::Staged(self.staging.add(bytes)?)
            }
        };
        Ok(Judged {
            entry: Some(Entry {
                basis,
                bytes: hash,
                sum: Some(sum),
            }),
            turn,
            reasons,
            difference,
            standing,
        })
    }

    fn is_in_the_way(&self, path: &FolioPath, what: Obstacle) {
        locked(&self.in_the_way).push(InTheWay {
            path: self.out.path().join(path.as_str()),
            what,
        });
    }

    /// Notes problems; goes on to find more, up to a number.
    fn is_wrong(&self, new: Vec<Problem>, standing: Standing) -> Result<Judged, Stopped> {
        let mut problems = locked(&self.problems);
        problems.extend(new);
        if problems.len() >= PROBLEMS {
            return Err(Stopped::Problems(Vec::new()));
        }
        Ok(Judged::undone(standing))
    }
}

fn locked<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    // Lists stay whole whatever the thread that held them was at.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
