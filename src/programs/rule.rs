//! Asking a rule's program of many shoes at once.

use super::lines::{self, AnswerLine, FactLine, HeadLine, LINES, ShoeLine};
use super::{Named, Outside, keep, recalled};
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Key, Slug};
use crate::quantity::Unit;
use crate::rules::{Answer, Fact};
use crate::words::said;
use std::collections::BTreeMap;

/// One shoe a program is asked of.
#[derive(Debug)]
pub struct Asked<'a> {
    /// Its address.
    pub slug: &'a Slug,
    /// Its file, for problems.
    pub file: &'a str,
    /// Its category.
    pub category: &'a Key,
    /// What the program is told.
    pub facts: &'a [Fact],
}

/// What is asked of all shoes: a finding, in a unit.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// The finding.
    pub finding: &'a Key,
    /// The unit the answer is kept in.
    pub unit: Unit,
}

/// One answer a shoe, in their order: a number, or the reason there is none.
pub type Said = Vec<Result<Answer, String>>;

/// A line that can't be taken: its code, what is wrong, what to do.
type Wrong = (&'static str, String, &'static str);

/// Asks a program of shoes, as far as their answers are not remembered; the
/// problems are errors or warnings as the lab wants its failures weighed.
pub fn ask_rule(
    named: Named<'_>,
    wanted: Wanted<'_>,
    shoes: &[Asked<'_>],
    outside: &Outside,
    problems: &mut Vec<Problem>,
) -> Said {
    let fail = |problem: Problem, problems: &mut Vec<Problem>| {
        let reason = said!("the program `{program}` failed", program = named.name);
        problems.push(problem);
        shoes.iter().map(|_| Err(reason.clone())).collect()
    };
    let print = match named.print() {
        Ok(print) => print,
        Err(problem) => return fail(problem, problems),
    };
    let head = json(&HeadLine {
        solefolio: LINES,
        purpose: "rule",
        program: named.name.to_string(),
        finding: Some(wanted.finding.to_string()),
        unit: Some(wanted.unit.to_string()),
        lines: "shoe",
        views: None,
    });
    let memory = format!("rule-{}", wanted.finding);
    let before = recalled(outside, &memory);
    let mut run = Run {
        named,
        wanted,
        shoes,
        places: lines::places(shoes.iter().map(|asked| asked.slug)),
        answers: vec![None; shoes.len()],
    };
    let mut input = format!("{head}\n");
    let mut prints = Vec::with_capacity(shoes.len());
    let mut open = Vec::new();
    for (at, asked) in shoes.iter().enumerate() {
        let line = json(&line(asked));
        let key = blake3::hash(format!("{print}\n{head}\n{line}").as_bytes()).to_string();
        let known = before.get(&key).and_then(|line| run.read(line).ok());
        match known {
            Some((place, answer, line)) if place == at => run.answers[at] = Some((answer, line)),
            _ => {
                input.push_str(&line);
                input.push('\n');
                open.push(at);
            }
        }
        prints.push(key);
    }
    if !open.is_empty()
        && let Err(problem) = run.ask(input, &open, outside, problems)
    {
        return fail(problem, problems);
    }
    let remembered: Vec<(String, String)> = prints
        .into_iter()
        .zip(&run.answers)
        .filter_map(|(print, answer)| Some((print, answer.as_ref()?.1.clone())))
        .collect();
    if !open.is_empty() {
        keep(outside, &memory, &remembered);
    }
    let none = || {
        Err(said!(
            "the program `{program}` gave no answer that can be used",
            program = named.name
        ))
    };
    run.answers
        .into_iter()
        .map(|answer| answer.map_or_else(none, |(answer, _)| answer))
        .collect()
}

/// An answer that can be used, with the line it came in.
type Taken = (Result<Answer, String>, String);

/// A line that was read: the shoe's place, its answer, the line as it is kept.
type Read = (usize, Result<Answer, String>, String);

/// A line that was not: the shoe's place, if it is known, and what is wrong.
type Refused = (Option<usize>, Wrong);

struct Run<'r> {
    named: Named<'r>,
    wanted: Wanted<'r>,
    shoes: &'r [Asked<'r>],
    places: BTreeMap<&'r str, usize>,
    answers: Vec<Option<Taken>>,
}

impl Run<'_> {
    /// Runs the program for the shoes whose answers are open, in their order.
    fn ask(
        &mut self,
        input: String,
        open: &[usize],
        outside: &Outside,
        problems: &mut Vec<Problem>,
    ) -> Result<(), Problem> {
        let what = match open.len() {
            1 => format!("`{}` of 1 shoe", self.wanted.finding),
            many => format!("`{}` of {many} shoes", self.wanted.finding),
        };
        let ran = self.named.run(input.into_bytes(), &what, outside)?;
        let (of_shoes, others) = lines::part(&ran.said, &self.places);
        for (at, said) in of_shoes {
            let message = format!("`{}` says of this shoe: {said}", self.named.name);
            problems.push(Problem::warning(
                "program-says",
                self.shoes[at].file,
                KeyPath::root(),
                message,
            ));
        }
        let said = lines::last(&others);
        let taken = self.take(&ran.out, open, ran.failure.is_some(), problems);
        if let Some(failure) = &ran.failure {
            let (code, message, hint) = self.named.failure(failure, said.as_deref());
            return Err(self.at_next(open, code, message).hint(hint));
        }
        if let Some(said) = said {
            problems.push(Problem::warning(
                "program-says",
                crate::lab::SETTINGS,
                crate::lab::program_path(self.named.name),
                format!("`{}` says: {said}", self.named.name),
            ));
        }
        taken
    }

    /// A problem at the first shoe that has no answer: the one the program was at.
    fn at_next(&self, open: &[usize], code: &'static str, message: String) -> Problem {
        let next = open.iter().find(|at| self.answers[**at].is_none());
        match next {
            Some(at) => {
                let asked = &self.shoes[*at];
                let message = format!("{message}, before it had answered of {}", asked.slug);
                self.named
                    .weighed(Problem::error(code, asked.file, KeyPath::root(), message))
            }
            None => self.named.problem(code, message),
        }
    }

    /// Takes the answers. What is wrong with one is a problem of its shoe; a line
    /// that is no answer at all makes the run fail, unless it has failed anyway.
    fn take(
        &mut self,
        out: &[u8],
        open: &[usize],
        failed: bool,
        problems: &mut Vec<Problem>,
    ) -> Result<(), Problem> {
        let mut refused = vec![false; self.shoes.len()];
        let text = String::from_utf8_lossy(out);
        for (nth, line) in text.lines().enumerate() {
            if line.trim().is_empty() {
                continue;
            }
            let name = self.named.name;
            match self.read(line) {
                Ok((at, ..)) | Err((Some(at), _)) if open.binary_search(&at).is_err() => {
                    let slug = self.shoes[at].slug;
                    let message = format!(
                        "`{name}` answered of {slug}, on line {}, which it was not asked of this \
                         time: its answer is remembered",
                        nth + 1
                    );
                    let problem = self.named.problem("program-answer-unreadable", message);
                    return Err(problem.hint("let it answer for the lines it reads, and no other"));
                }
                Ok((at, ..)) | Err((Some(at), _)) if self.answers[at].is_some() || refused[at] => {
                    let slug = self.shoes[at].slug;
                    let message = format!("`{name}` answered twice of {slug}, on line {}", nth + 1);
                    let problem = self.named.problem("program-answer-unreadable", message);
                    return Err(problem.hint("let it answer once for each line it reads"));
                }
                Ok((at, answer, line)) => self.answers[at] = Some((answer, line)),
                Err((Some(at), (code, message, hint))) => {
                    refused[at] = true;
                    let file = self.shoes[at].file;
                    let message = format!("`{name}` answered of this shoe: {message}");
                    let problem = Problem::error(code, file, KeyPath::root(), message).hint(hint);
                    problems.push(self.named.weighed(problem));
                }
                Err((None, (code, message, hint))) => {
                    let message = format!("`{name}` answered on line {}: {message}", nth + 1);
                    return Err(self.at_next(open, code, message).hint(hint));
                }
            }
        }
        for at in open.iter().filter(|_| !failed) {
            if self.answers[*at].is_none() && !refused[*at] {
                let message = format!("`{}` gave no answer of this shoe", self.named.name);
                let file = self.shoes[*at].file;
                let problem = Problem::error("program-answer-missing", file, KeyPath::root(), message)
                    .hint("let it answer every line it reads, with `none` and a reason where it has no number");
                problems.push(self.named.weighed(problem));
            }
        }
        Ok(())
    }

    /// Reads one line: the shoe's place, its answer, and the line as it is kept.
    fn read(&self, line: &str) -> Result<Read, Refused> {
        const UNREADABLE: &str = "program-answer-unreadable";
        let read: AnswerLine = serde_json::from_str(line).map_err(|error| {
            let shown: String = line.chars().take(80).collect();
            let hint = "write one JSON object a line and nothing else on standard output; `schema program` shows its form";
            (None, (UNREADABLE, format!("`{shown}` is no answer: {error}"), hint))
        })?;
        let Some(at) = self.places.get(read.shoe.as_str()).copied() else {
            let message = format!("it was not asked of a shoe `{}`", read.shoe);
            return Err((
                None,
                (
                    UNREADABLE,
                    message,
                    "give back the address that stands in the input",
                ),
            ));
        };
        let answer = self.answer(&read).map_err(|wrong| (Some(at), wrong))?;
        Ok((at, answer, line.to_owned()))
    }

    /// Checks an answer as any input is checked.
    fn answer(&self, read: &AnswerLine) -> Result<Result<Answer, String>, Wrong> {
        let wrong = |message: String, hint: &'static str| ("program-answer-wrong", message, hint);
        if let Some(reason) = &read.none {
            let reason = lines::plain(reason);
            if read.value.is_some() || reason.is_empty() {
                return Err(wrong(
                    "it gives both a number and a reason for none, or an empty reason".into(),
                    "give `value`, `u` and `unit`, or `none` with a reason",
                ));
            }
            return Ok(Err(reason));
        }
        let (Some(value), Some(u), Some(unit)) = (read.value, read.u, &read.unit) else {
            return Err(wrong(
                "a number needs `value`, `u` and `unit`".into(),
                "give all three, or `none` with a reason",
            ));
        };
        let given: Unit = unit
            .parse()
            .map_err(|error: crate::quantity::UnknownUnit| {
                wrong(
                    error.to_string(),
                    "answer in the unit of the input's first line",
                )
            })?;
        let want = self.wanted.unit;
        let (Ok(converted), Ok(factor)) = (given.convert(value, want), given.sensitivity(want))
        else {
            return Err(wrong(
                format!("{given} does not convert into {want}"),
                "answer in the unit of the input's first line",
            ));
        };
        let u = u * factor.abs();
        let dof = read.dof.unwrap_or(f64::INFINITY);
        if !converted.is_finite() || !u.is_finite() || u < 0.0 {
            return Err(wrong(
                format!(
                    "{value} with u = {} is no finite value with an uncertainty of 0 or more",
                    read.u.unwrap_or(0.0)
                ),
                "give a finite number and a standard uncertainty that is not negative",
            ));
        }
        if dof.is_nan() || dof < 1.0 {
            return Err(wrong(
                format!("{dof} degrees of freedom are none"),
                "give 1 or more, or leave `dof` out where the uncertainty is known",
            ));
        }
        Ok(Ok(Answer {
            value: converted,
            u,
            dof,
        }))
    }
}

fn line(asked: &Asked<'_>) -> ShoeLine {
    let fact = |fact: &Fact| FactLine {
        value: fact.value,
        u: fact.u,
        dof: fact.dof.is_finite().then_some(fact.dof),
        unit: match fact.unit {
            Unit::Score => "score".to_owned(),
            unit => unit.to_string(),
        },
        band: fact.band.clone(),
    };
    ShoeLine {
        shoe: asked.slug.to_string(),
        category: asked.category.to_string(),
        facts: asked
            .facts
            .iter()
            .map(|one| (one.key.to_string(), serde_json::json!(fact(one))))
            .collect(),
    }
}

fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).expect("a line is texts and finite numbers")
}
