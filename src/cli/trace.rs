//! `trace`: the way from a shoe's readings to its findings.

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::edition::is_out;
use crate::files::{Date, Key, Slug, nearest};
use crate::gather::Gathered;
use crate::measure::{TraceStep, quantity_steps};
use crate::rules::Judged;
use clap::Args;
use serde::Serialize;
use std::fmt::Write as _;

/// Show the way from a shoe's readings to a finding (or to all of them), step by
/// step, with formulas and numbers.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The shoe's address: its file's name without the ending
    shoe: String,
    /// The finding or quantity; all without it
    finding: Option<String>,
    /// The edition's date: under the rule set and protocol that held then, and only
    /// what was out; without it as it is today, drafts and held shoes too
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
    /// With a date: drafts and held shoes too
    #[arg(long, requires = "as_of")]
    drafts: bool,
}

/// One stretch of the way: a quantity or a finding.
#[derive(Debug, Serialize)]
struct Stretch {
    name: String,
    label: String,
    kind: &'static str,
    steps: Vec<TraceStep>,
    /// Why there is none.
    missing: Option<String>,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    let root = desk.root()?;
    let as_of = arguments.as_of.unwrap_or_else(Desk::today);
    let gathered = match desk.gather_as_of(&root, as_of)? {
        Ok(gathered) => gathered,
        Err(exit) => return Ok(exit),
    };
    let only_out = arguments.as_of.filter(|_| !arguments.drafts);
    let judged = find_shoe(&gathered, &arguments.shoe, only_out)?;
    let wanted = match &arguments.finding {
        None => gathered
            .lab
            .protocol
            .quantities
            .keys()
            .chain(gathered.rules.rules.keys())
            .cloned()
            .collect(),
        Some(name) => way_to(&gathered, judged, name)?,
    };
    let stretches: Vec<Stretch> = wanted
        .iter()
        .map(|key| stretch(&gathered, judged, key))
        .collect();
    if desk.json() {
        let text = serde_json::to_string_pretty(&serde_json::json!({
            "shoe": judged.shoe.slug,
            "title": judged.shoe.title(),
            "as_of": as_of,
            "rules_version": gathered.rules.version,
            "protocol_version": gathered.lab.protocol.version,
            "way": stretches,
        }))?;
        desk.print(&format!("{text}\n"));
    } else {
        let head = format!(
            "{}\nas of {as_of}; rule set version {}; protocol version {}\n",
            on_one_line(&judged.shoe.title()),
            gathered.rules.version,
            gathered.lab.protocol.version
        );
        desk.print(&for_people(head, &stretches));
    }
    Ok(Exit::Done)
}

/// The shoe of a name; with a date only one that was out then.
fn find_shoe<'g>(
    gathered: &'g Gathered,
    name: &str,
    out_on: Option<Date>,
) -> anyhow::Result<&'g Judged> {
    let slug = name.parse::<Slug>().ok();
    let found = gathered
        .shoes
        .iter()
        .find(|judged| Some(&judged.shoe.slug) == slug.as_ref());
    let Some(judged) = found else {
        let known = gathered.shoes.iter();
        let near = nearest(name, known.map(|judged| judged.shoe.slug.as_str()));
        let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
        return Err(UsageError(format!("there is no shoe `{name}`{hint}")).into());
    };
    match out_on {
        Some(day) if !is_out(judged, day) => {
            let when = match judged.shoe.file.publish {
                Some(publish) => format!("it comes out on {publish}"),
                None => "it is a draft".to_owned(),
            };
            let message = format!("`{name}` is not out on {day}: {when}; add `--drafts` to see it");
            Err(UsageError(message).into())
        }
        _ => Ok(judged),
    }
}

fn way_to(gathered: &Gathered, judged: &Judged, name: &str) -> anyhow::Result<Vec<Key>> {
    let key = name.parse::<Key>().ok().filter(|key| {
        gathered.rules.rules.contains(key) || gathered.lab.protocol.quantities.contains(key)
    });
    match key {
        Some(key) => Ok(crate::rules::trace::way(&gathered.rules, judged, &key)),
        None => {
            let known = gathered
                .rules
                .rules
                .keys()
                .chain(gathered.lab.protocol.quantities.keys());
            let near = nearest(name, known.map(Key::as_str));
            let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
            Err(UsageError(format!("there is no finding or quantity `{name}`{hint}")).into())
        }
    }
}

fn stretch(gathered: &Gathered, judged: &Judged, key: &Key) -> Stretch {
    let protocol = &gathered.lab.protocol;
    if let Some(spec) = protocol.quantities.get(key) {
        let (steps, missing) = match judged.quantities.get(key) {
            Some(Ok(summary)) => (quantity_steps(summary, spec, protocol), None),
            Some(Err(absent)) => (Vec::new(), Some(absent.reason.clone())),
            None => (Vec::new(), Some("it was not measured".to_owned())),
        };
        return Stretch {
            name: key.to_string(),
            label: spec.label.to_string(),
            kind: "quantity",
            steps,
            missing,
        };
    }
    let rule = gathered.rules.rules.get(key);
    let facts = judged.facts();
    let (steps, missing) = match (rule, judged.findings.get(key)) {
        (Some(rule), Some(Ok(finding))) => (rule.steps(&facts, finding), None),
        (_, Some(Err(not))) => (Vec::new(), Some(not.reason.clone())),
        _ => (Vec::new(), Some("it was not judged".to_owned())),
    };
    Stretch {
        name: key.to_string(),
        label: rule.map_or(String::new(), |rule| rule.label().to_owned()),
        kind: rule.map_or("finding", |rule| rule.kind()),
        steps,
        missing,
    }
}

fn for_people(mut text: String, stretches: &[Stretch]) -> String {
    for stretch in stretches {
        let _ = write!(
            text,
            "\n{} ({}, {})\n",
            on_one_line(&stretch.label),
            stretch.name,
            stretch.kind
        );
        if let Some(missing) = &stretch.missing {
            let _ = writeln!(text, "  not there: {}", on_one_line(missing));
        }
        for (at, step) in stretch.steps.iter().enumerate() {
            let _ = writeln!(text, "  {}. {}", at + 1, on_one_line(&step.what));
            let _ = writeln!(text, "     {}", on_one_line(&step.formula));
            let _ = writeln!(text, "     {}", on_one_line(&step.numbers));
        }
    }
    text
}

/// A text without line breaks and tabs, so that none of it looks like a step of its
/// own. What else acts on a terminal was refused when the lab was read.
fn on_one_line(text: &str) -> String {
    text.replace(['\n', '\r', '\t'], " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_of_several_lines_does_not_look_like_a_step() {
        let stretch = Stretch {
            name: "mass".to_owned(),
            label: "Mass\n  1. the mean of nothing".to_owned(),
            kind: "quantity",
            steps: vec![TraceStep {
                what: "one\r\ntwo".to_owned(),
                formula: "x̄".to_owned(),
                numbers: "262\tg".to_owned(),
            }],
            missing: None,
        };
        let text = for_people(format!("{}\n", on_one_line("Maker\nModel")), &[stretch]);
        assert_eq!(
            text.lines().collect::<Vec<_>>(),
            [
                "Maker Model",
                "",
                "Mass   1. the mean of nothing (mass, quantity)",
                "  1. one  two",
                "     x̄",
                "     262 g",
            ]
        );
    }
}
