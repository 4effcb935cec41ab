//! Setting the prints that changed, so many at once as the renderer can take.

use super::fingerprint::Basis;
use super::job::{Job, Stopped, of};
use super::judge::Judge;
use super::judged::{Judged, Turn};
use super::past::Past;
use super::progress::Phase;
use super::renderer::{PrintJob, PrintProblem};
use super::report::FailedPrint;
use crate::outputs::{Make, Sheet};
use rayon::prelude::*;

/// Sets all prints that have to be set. One that fails keeps the print of the
/// last edition, if there is one, and its entry, so the next run tries again.
///
/// # Errors
/// What stopped it; not a print that failed, these are handed back.
pub fn print(
    job: &Job<'_>,
    past: &Past,
    judge: &Judge<'_>,
    judged: &mut [Judged],
) -> Result<Vec<FailedPrint>, Stopped> {
    let waiting: Vec<usize> = (0..judged.len())
        .filter(|&place| judged[place].turn == Turn::ToPrint)
        .collect();
    let mut failed = Vec::new();
    if waiting.is_empty() {
        return Ok(failed);
    }
    job.progress.begin(Phase::Printing, waiting.len() as u64);
    for places in waiting.chunks(job.renderer.prints_at_once().max(1)) {
        if job.interrupt.is_raised() {
            return Err(Stopped::Interrupted);
        }
        let jobs = places
            .par_iter()
            .filter_map(|&place| print_job(&job.sheets[place]))
            .collect::<Vec<_>>();
        let mut answers = job.renderer.prints(jobs, &job.interrupt).into_iter();
        if job.interrupt.is_raised() {
            return Err(Stopped::Interrupted);
        }
        let answers: Vec<_> = places
            .iter()
            .map(|&place| (place, answers.next().unwrap_or_else(no_answer)))
            .collect();
        let settled = answers
            .into_par_iter()
            .map(|(place, answer)| {
                let bytes = match answer {
                    Ok(bytes) => bytes,
                    Err(problem) => return Ok((place, Err(problem))),
                };
                let waiting = &judged[place];
                let basis: Option<Basis> = waiting.entry.as_ref().and_then(|e| e.basis.clone());
                let path = &job.sheets[place].path;
                let done = judge.settle(
                    path,
                    &bytes,
                    basis,
                    waiting.reasons.clone(),
                    waiting.standing,
                )?;
                Ok((place, Ok(done)))
            })
            .collect::<Result<Vec<_>, Stopped>>()?;
        for (place, answer) in settled {
            match answer {
                Ok(done) => judged[place] = done,
                Err(problem) => {
                    failed.push(fail(&job.sheets[place], past, &mut judged[place], problem));
                }
            }
        }
        job.progress.advance(Phase::Printing, places.len() as u64);
    }
    job.progress.end(Phase::Printing);
    judge.found()?;
    Ok(failed)
}

fn print_job(sheet: &Sheet<'_>) -> Option<PrintJob> {
    let Make::Print {
        template,
        date,
        view,
    } = &sheet.make
    else {
        return None;
    };
    Some(PrintJob {
        name: sheet.path.to_string(),
        template: template.to_string(),
        data: view().json(),
        date: *date,
    })
}

fn no_answer() -> Result<Vec<u8>, PrintProblem> {
    Err(PrintProblem {
        message: "the typesetter gave no answer for it".to_owned(),
    })
}

fn fail(sheet: &Sheet<'_>, past: &Past, judged: &mut Judged, problem: PrintProblem) -> FailedPrint {
    let old = past.entry(&sheet.path).map(|(entry, _)| entry.clone());
    let kept_old = old.is_some() && judged.standing.hash(None).is_some()
        || matches!(judged.standing, super::past::Standing::Intact(_));
    // Without the file there is nothing to record.
    judged.entry = old.filter(|_| kept_old);
    judged.turn = Turn::Failed;
    FailedPrint {
        path: sheet.path.to_string(),
        of: of(&sheet.subject),
        message: problem.message,
        kept_old,
    }
}
