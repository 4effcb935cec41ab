//! One publish, from the plan to the new edition.

use super::commit::{self, HIDDEN, RECORD, Staging};
use super::folder::{Folder, Lies, Meta, Trouble};
use super::job::{Job, Stopped};
use super::journal::{Journal, Step};
use super::judge::Judge;
use super::judged::{Judged, Turn};
use super::lock::Lock;
use super::manifest::Sum;
use super::past::{self, Past, Standing};
use super::plan::Plan;
use super::printing;
use super::progress::Phase;
use super::reason::Reason;
use super::record::{Entry, Record};
use super::report::{Outcome, Prints, Report, Why};
use super::stamp::{self, SeenOutput, Stamp};
use crate::outputs::{FolioPath, Make};
use std::collections::HashSet;
use std::time::{Duration, Instant};

/// More files than this are worth waiting a clock's tick for, so that the stamp
/// can trust their times and the next run needn't read them.
const WORTH_A_TICK: usize = 64;
/// Longer than a tick of the file system's clock.
const TICK: Duration = Duration::from_millis(25);

/// Brings `out/` to the edition that the sheets are.
///
/// # Errors
/// [`Stopped`], with `out/` as it was. A print that fails doesn't stop it: it is
/// in the report, and all else is published.
pub fn publish(job: &Job<'_>) -> Result<Report, Stopped> {
    let plan = Plan::of(job);
    plan.check()?;
    let out = Folder::make(job.out)?;
    let hidden = out.folder_made(HIDDEN)?;
    let Some(_lock) = Lock::wait(&hidden, &job.interrupt, job.progress)? else {
        return Err(Stopped::Interrupted);
    };
    let recovered = commit::recover(&out, &hidden, job.progress)?;
    let staging = Staging::make(&hidden)?;
    let done = under_way(job, &plan, &out, &hidden, &staging);
    match done {
        Ok(mut report) => {
            report.recovered = recovered;
            Ok(report)
        }
        Err(stopped) => {
            // Unless its steps are still to be taken back, what is staged is of
            // no use; if even that fails, the next run drops it.
            if !commit::is_pending(&hidden).unwrap_or(true) {
                let _ = commit::drop_staging(&hidden);
            }
            Err(stopped)
        }
    }
}

fn under_way(
    job: &Job<'_>,
    plan: &Plan<'_>,
    out: &Folder,
    hidden: &Folder,
    staging: &Staging,
) -> Result<Report, Stopped> {
    let mut report = Report {
        held_back: job.held_back,
        ..Report::default()
    };
    let began = Instant::now();
    let seen_at = stamp::now();
    let past = Past::load(hidden)?;
    let judge = Judge::new(job, out, &past, staging);
    let mut judged = judge.all()?;
    report.spent(Phase::Rendering, began.elapsed());

    let began = Instant::now();
    let failed = printing::print(job, &past, &judge, &mut judged)?;
    report.spent(Phase::Printing, began.elapsed());

    let began = Instant::now();
    let left = LeftOver::of(job, plan, out, &past, &mut judged)?;
    judged.push(manifest(&judge, plan, &left, &judged)?);
    let changes = Changes::of(plan, out, &past, staging, &judged, left)?;
    if job.interrupt.is_raised() {
        return Err(Stopped::Interrupted);
    }
    let record = changes.record.write();
    if !changes.journal.steps.is_empty() || past.record_bytes.as_ref() != Some(&record) {
        let steps = changes.journal.steps.len() as u64;
        job.progress.begin(Phase::Committing, steps);
        let done = commit::commit(
            out,
            hidden,
            staging,
            &changes.journal,
            &record,
            job.progress,
        );
        job.progress.end(Phase::Committing);
        done?;
    } else {
        commit::drop_staging(hidden)?;
    }
    report.prints.failed = failed;
    count(job, plan, &judged, &mut report);
    report.removed = changes.removed.len();
    if job.options.why {
        explain(plan, &judged, &changes, &mut report);
    }
    // The edition stands; what follows only serves the next run and the report.
    if let Err(trouble) = put_stamp(plan, out, hidden, &changes, &judged, seen_at) {
        job.progress
            .say(&format!("{trouble}; the next run compares all by content"));
    }
    match past::foreign_files(out, &changes.record) {
        Ok(foreign) => report.foreign = foreign,
        Err(trouble) => job.progress.say(&trouble.to_string()),
    }
    report.spent(Phase::Committing, began.elapsed());
    Ok(report)
}

/// Recorded files that no sheet is planned for.
struct LeftOver {
    /// Those that stay, as they are.
    kept: Vec<(FolioPath, Entry, Standing)>,
    /// Those that go.
    removed: Vec<FolioPath>,
}

impl LeftOver {
    /// Finds them; and works out the sums of what stays where the record didn't
    /// hold them.
    fn of(
        job: &Job<'_>,
        plan: &Plan<'_>,
        out: &Folder,
        past: &Past,
        judged: &mut [Judged],
    ) -> Result<Self, Stopped> {
        let planned: HashSet<&FolioPath> = plan.all().iter().map(|sheet| &sheet.path).collect();
        let keep: HashSet<&FolioPath> = job.keep.iter().collect();
        let (mut removed, mut kept) = (Vec::new(), Vec::new());
        for (path, entry) in past.record.entries() {
            if planned.contains(path) {
                continue;
            }
            let standing = past.standing(out, path)?;
            if job.options.only.is_some() || keep.contains(path) {
                if standing != Standing::Absent {
                    kept.push((path.clone(), entry.clone(), standing));
                }
            } else if let Standing::Intact(_) = standing {
                // One that somebody changed is theirs now: it stays, as foreign.
                removed.push(path.clone());
            }
        }
        let of_sheets = plan.sheets.iter().zip(judged.iter_mut());
        let of_sheets =
            of_sheets.filter_map(|(sheet, judged)| Some((&sheet.path, judged.entry.as_mut()?)));
        let of_kept = kept.iter_mut().map(|(path, entry, _)| (&*path, entry));
        for (path, entry) in of_sheets.chain(of_kept) {
            if entry.sum.is_none() {
                let bytes = out.read(path.as_str())?;
                let own = bytes.filter(|bytes| blake3::hash(bytes) == entry.bytes);
                entry.sum = own.map(|bytes| Sum::of(&bytes));
            }
        }
        Ok(LeftOver { kept, removed })
    }
}

/// Judges the manifest of all that will be there.
fn manifest(
    judge: &Judge<'_>,
    plan: &Plan<'_>,
    left: &LeftOver,
    judged: &[Judged],
) -> Result<Judged, Stopped> {
    let of_sheets = plan.sheets.iter().zip(judged);
    let of_sheets =
        of_sheets.filter_map(|(sheet, judged)| Some((&sheet.path, judged.entry.as_ref()?)));
    let of_kept = left.kept.iter().map(|(path, entry, _)| (path, entry));
    let text = super::manifest::write(of_sheets.chain(of_kept));
    let judged = judge.whole(&plan.manifest.path, &text)?;
    judge.found()?;
    Ok(judged)
}

/// What is to change in `out/`.
struct Changes {
    journal: Journal,
    record: Record,
    /// Files that are removed.
    removed: Vec<FolioPath>,
    /// Recorded files that no sheet is planned for and that stay, as they are.
    kept: Vec<(FolioPath, Entry, Standing)>,
}

impl Changes {
    fn of(
        plan: &Plan<'_>,
        out: &Folder,
        past: &Past,
        staging: &Staging,
        judged: &[Judged],
        left: LeftOver,
    ) -> Result<Self, Stopped> {
        let LeftOver { kept, removed } = left;
        let mut entries = Vec::with_capacity(judged.len());
        let (mut adds, mut replaces) = (Vec::new(), Vec::new());
        for (sheet, judged) in plan.all().into_iter().zip(judged) {
            if let Some(entry) = &judged.entry {
                entries.push((sheet.path.clone(), entry.clone()));
            }
            let Turn::Staged(file) = judged.turn else {
                continue;
            };
            let (staged, path) = (file.number, sheet.path.clone());
            match judged.standing {
                Standing::Absent => adds.push(Step::Add { staged, path }),
                _ => replaces.push(Step::Replace { staged, path }),
            }
        }
        entries.extend(
            kept.iter()
                .map(|(path, entry, _)| (path.clone(), entry.clone())),
        );
        let removes = removed.iter().map(|path| Step::Remove {
            staged: staging.number(),
            path: path.clone(),
        });
        adds.sort_by(|a, b| a.path().cmp(b.path()));
        replaces.sort_by(|a, b| a.path().cmp(b.path()));
        let steps: Vec<Step> = adds.into_iter().chain(replaces).chain(removes).collect();
        let (made, in_the_way) = past::folders_above(out, steps.iter().map(Step::path))?;
        if !in_the_way.is_empty() {
            return Err(Stopped::InTheWay(in_the_way));
        }
        let (folders, emptied) = folders_after(past, &made, &entries);
        Ok(Changes {
            journal: Journal {
                steps,
                made,
                emptied,
            },
            record: Record::new(entries, folders),
            removed,
            kept,
        })
    }
}

/// The press's own folders that still hold something, and those that don't, the
/// deepest first.
fn folders_after(
    past: &Past,
    made: &[String],
    entries: &[(FolioPath, Entry)],
) -> (Vec<String>, Vec<String>) {
    let mut used: HashSet<&str> = HashSet::new();
    for (path, _) in entries {
        let path = path.as_str();
        for (at, _) in path.rmatch_indices('/') {
            if !used.insert(&path[..at]) {
                break;
            }
        }
    }
    let own = past.record.folders().iter().chain(made).cloned();
    let (folders, mut emptied): (Vec<String>, Vec<String>) =
        own.partition(|folder| used.contains(folder.as_str()));
    emptied.sort_by(|a, b| b.cmp(a));
    (folders, emptied)
}

fn is_print(make: &Make<'_>) -> bool {
    matches!(make, Make::Print { .. })
}

fn count(job: &Job<'_>, plan: &Plan<'_>, judged: &[Judged], report: &mut Report) {
    let mut prints = Prints {
        missing: job.missing_prints,
        ..Prints::default()
    };
    for (sheet, judged) in plan.all().into_iter().zip(judged) {
        let print = usize::from(is_print(&sheet.make));
        match judged.turn {
            Turn::Staged(_) => {
                report.made += 1;
                prints.made += print;
            }
            Turn::Same(_) => {
                report.same += 1;
                prints.made += print;
            }
            Turn::Unchanged(_) => {
                report.unchanged += 1;
                prints.kept += print;
            }
            Turn::Left => report.left += 1,
            Turn::Failed | Turn::ToPrint => {}
        }
    }
    prints.failed = std::mem::take(&mut report.prints.failed);
    report.prints = prints;
}

fn explain(plan: &Plan<'_>, judged: &[Judged], changes: &Changes, report: &mut Report) {
    for (sheet, judged) in plan.all().into_iter().zip(judged) {
        let outcome = match judged.turn {
            Turn::Staged(_) => Outcome::Made,
            Turn::Same(_) => Outcome::Same,
            Turn::Failed | Turn::ToPrint => Outcome::Failed,
            Turn::Left | Turn::Unchanged(_) => continue,
        };
        report.why.push(Why {
            path: sheet.path.to_string(),
            outcome,
            reasons: judged.reasons.clone(),
            difference: judged.difference.clone(),
        });
    }
    report.why.extend(changes.removed.iter().map(|path| Why {
        path: path.to_string(),
        outcome: Outcome::Removed,
        reasons: vec![Reason::NotPlanned],
        difference: None,
    }));
    report.why.sort_by(|a, b| a.path.cmp(&b.path));
}

/// Notes how all files were seen, so that the next run can see at a glance
/// whether anything was touched.
fn put_stamp(
    plan: &Plan<'_>,
    out: &Folder,
    hidden: &Folder,
    changes: &Changes,
    judged: &[Judged],
    seen_at: i64,
) -> Result<(), Trouble> {
    let job = plan.job;
    if changes.journal.steps.len() > WORTH_A_TICK {
        std::thread::sleep(TICK);
    }
    let seen_staged_at = stamp::now();
    let mut outputs = Vec::with_capacity(changes.record.entries().len());
    for (sheet, judged) in plan.all().into_iter().zip(judged) {
        let Some(entry) = &judged.entry else {
            continue;
        };
        let seen = match (judged.turn, judged.standing) {
            (Turn::Staged(staged), _) => match out.lies(sheet.path.as_str())? {
                Lies::File(meta) if meta.inode == staged.inode => Some((meta, seen_staged_at)),
                _ => None,
            },
            (_, Standing::Intact(meta)) => Some((meta, seen_at)),
            (Turn::Same(meta), _) => Some((meta, seen_at)),
            _ => None,
        };
        outputs.push(output(&sheet.path, entry, seen));
    }
    for (path, entry, standing) in &changes.kept {
        let seen = match standing {
            Standing::Intact(meta) => Some((*meta, seen_at)),
            _ => None,
        };
        outputs.push(output(path, entry, seen));
    }
    outputs.sort_by(|a, b| a.path().cmp(b.path()));
    let Lies::File(record) = hidden.lies(RECORD)? else {
        return Ok(());
    };
    // A page that fails stops the run; what failed here are prints.
    let has_failed = |one: &&Judged| matches!(one.turn, Turn::Failed | Turn::ToPrint);
    let failed = judged.iter().filter(has_failed).count();
    let unsettled = if job.inputs.is_none() {
        Some("it doesn't know from which files".to_owned())
    } else if job.options.only.is_some() {
        Some("only a part of the folio was asked for".to_owned())
    } else if failed > 0 {
        Some(format!("{failed} prints could not be set"))
    } else {
        None
    };
    let stamp = Stamp {
        inputs: job.inputs.clone().unwrap_or_default(),
        outputs,
        record,
        unsettled,
    };
    stamp.save(hidden)
}

/// An output as it was seen; one that wasn't is never taken for unchanged
/// without a look into it.
fn output(path: &FolioPath, entry: &Entry, seen: Option<(Meta, i64)>) -> SeenOutput {
    let never = Meta {
        size: 0,
        inode: 0,
        modified: i64::MAX,
        changed: i64::MAX,
    };
    let (meta, at) = seen.unwrap_or((never, i64::MIN));
    SeenOutput::new(path.to_string(), meta, entry.bytes, at)
}
