//! Rules of outside programs: each program is asked of all shoes at once, between
//! judging what it needs and judging what rests on it.

use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Key, RelPath, Root, nearest};
use crate::lab::{Lab, Purpose, RULES, SETTINGS, Settings};
use crate::programs::{self, Asked, Named, Outside, Wanted, ask_rule};
use crate::rules::{Answered, Fact, Judged, Rule, RuleSet};
use rayon::prelude::*;

/// Asks the programs of all rules that have one, in the order of judging, and
/// judges the shoes with their answers.
pub(super) fn answer(
    root: &Root,
    mut shoes: Vec<Judged>,
    lab: &Lab,
    rules: &RuleSet,
    outside: &Outside,
    problems: &mut Vec<Problem>,
) -> Vec<Judged> {
    for rule in rules.in_order() {
        let Some(used) = rule.program() else { continue };
        // A name that is not known, or of another purpose, is a problem of its own.
        let program = lab.settings.programs.get(used.program);
        let Some(program) = program.filter(|program| program.purpose == Purpose::Rule) else {
            continue;
        };
        let questions: Vec<Option<Vec<Fact>>> = shoes
            .par_iter()
            .map(|judged| rules.question(judged, rule.key()))
            .collect();
        let asked: Vec<Asked<'_>> = shoes
            .iter()
            .zip(&questions)
            .filter_map(|(judged, facts)| {
                Some(Asked {
                    slug: &judged.shoe.slug,
                    file: &judged.shoe.path,
                    category: &judged.shoe.file.category,
                    facts: facts.as_ref()?,
                })
            })
            .collect();
        let named = Named {
            root,
            name: used.program,
            program,
        };
        let wanted = Wanted {
            finding: rule.key(),
            unit: used.unit,
        };
        let mut said = ask_rule(named, wanted, &asked, outside, problems).into_iter();
        let answers: Vec<Option<Answered>> = questions
            .into_iter()
            .map(|facts| {
                let facts = facts?;
                let answer = said.next()?;
                Some(Answered { facts, answer })
            })
            .collect();
        shoes = shoes
            .into_par_iter()
            .zip(answers)
            .map(|(judged, answered)| take(judged, rule, rules, answered))
            .collect();
    }
    shoes
}

/// Judges a shoe again with one answer more.
fn take(judged: Judged, rule: &dyn Rule, rules: &RuleSet, answered: Option<Answered>) -> Judged {
    let Some(answered) = answered else {
        return judged;
    };
    let mut answers = judged.answers;
    answers.insert(rule.key().clone(), answered);
    rules.judge_with(
        judged.shoe,
        judged.quantities,
        judged.session_flags,
        answers,
    )
}

/// Rules of kind `program` against the programs the lab names.
pub(super) fn check(lab: &Lab, rules: &RuleSet) -> Vec<Problem> {
    let programs = &lab.settings.programs;
    let mut problems = Vec::new();
    for (key, rule) in rules.rules.iter() {
        let Some(used) = rule.program() else { continue };
        let path = KeyPath::root()
            .key("rules")
            .key(key.as_str())
            .key("program");
        match programs.get(used.program) {
            Some(program) if program.purpose == Purpose::Rule => {}
            Some(_) => problems.push(
                Problem::error(
                    "program-setting",
                    RULES,
                    path,
                    format!("`{}` makes files; it works out no finding", used.program),
                )
                .hint("name a program of purpose `rule` in lab/lab.yaml"),
            ),
            None => {
                let known = programs.keys().map(Key::as_str);
                problems.push(
                    Problem::error(
                        "unknown-name",
                        RULES,
                        path,
                        format!("lab/lab.yaml names no program `{}`", used.program),
                    )
                    .hint(match nearest(used.program.as_str(), known) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => "name it there under `programs`, with what runs it".to_owned(),
                    }),
                );
            }
        }
    }
    problems
}

/// The files that the lab's programs rest on, by its settings as they are now; none
/// if those can't be read, which is said when they are wanted.
pub fn program_files(root: &Root) -> Vec<std::path::PathBuf> {
    let settings = root.read(&RelPath::fixed(SETTINGS)).ok();
    let settings: Option<Settings> =
        settings.and_then(|source| serde_yaml::from_str(&source.text).ok());
    settings.map_or_else(Vec::new, |settings| {
        programs::files_of(root, &settings.programs)
    })
}
