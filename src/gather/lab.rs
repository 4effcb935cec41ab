//! Reading the files of `lab/`.

use super::control::{read_control, read_study};
use super::languages::{self, LanguageFiles};
use super::reading::Reading;
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{CSV_LIMIT, Date, RelPath, Root, Source, yaml};
use crate::lab::{
    CONTROL, INSTRUMENTS, Instruments, Lab, PHRASES, PROTOCOL, PhrasesFile, ProtocolFile, RULES,
    RuleSetFile, SETTINGS, STUDY, Settings, check, known_on,
};
use crate::measure::drawn::Drawn;
use crate::rules::{RuleFile, RuleSet};
use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use std::sync::Arc;

/// The files of `lab/`, as read.
#[derive(Clone, Debug)]
pub struct LabFiles {
    /// `lab/lab.yaml`.
    pub settings: Source,
    /// `lab/protocol.yaml`.
    pub protocol: Source,
    /// `lab/instruments.yaml`.
    pub instruments: Source,
    /// `lab/rules.yaml`.
    pub rules: Source,
    /// `lab/phrases.yaml`.
    pub phrases: Source,
    /// `lab/control.csv`, if the lab keeps one.
    pub control: Option<Source>,
    /// `lab/gauge-study.csv`, if the lab made one.
    pub study: Option<Source>,
    /// `lab/languages/`, by tag.
    pub languages: Vec<LanguageFiles>,
    /// The edition's date: what the control shoe showed later was not known.
    pub as_of: Option<Date>,
    /// Intervals that were drawn before, for the rule set.
    pub drawn: Arc<Drawn>,
}

/// Where a lab keeps the rule sets and protocols it had, and those to come:
/// `rules-3.yaml`, `protocol-1.yaml`.
pub const EARLIER: &str = "lab/earlier";

impl LabFiles {
    /// Reads the five files as they are wanted; none if one can't be read.
    pub fn read_as(
        root: &Root,
        reading: &Reading,
        problems: &mut Vec<Problem>,
    ) -> Option<LabFiles> {
        let mut files = LabFiles::read(root, problems)?;
        files.as_of = reading.as_of;
        files.drawn = Arc::clone(&reading.drawn);
        for (file, stem) in [
            (&mut files.rules, "rules-"),
            (&mut files.protocol, "protocol-"),
        ] {
            if let Some(instead) = reading.instead.iter().find(|one| one.file == file.file) {
                *file = instead.clone();
            } else if let Some(as_of) = reading.as_of
                && let Some(held) = held_on(root, file, stem, as_of, problems)
            {
                *file = held;
            }
        }
        Some(files)
    }

    /// Reads the five files; none if one can't be read, with the problem added.
    pub fn read(root: &Root, problems: &mut Vec<Problem>) -> Option<LabFiles> {
        let mut one = |name: &str| read_file(root, name, problems);
        let (settings, protocol, instruments, rules, phrases) = (
            one(SETTINGS),
            one(PROTOCOL),
            one(INSTRUMENTS),
            one(RULES),
            one(PHRASES),
        );
        let (control, study) = (
            read_table(root, CONTROL, problems),
            read_table(root, STUDY, problems),
        );
        let languages = languages::read(root, problems);
        Some(LabFiles {
            languages,
            as_of: None,
            drawn: Arc::default(),
            settings: settings?,
            protocol: protocol?,
            instruments: instruments?,
            rules: rules?,
            phrases: phrases?,
            control,
            study,
        })
    }

    /// Puts the lab and its rule set together; none if a problem was an error.
    pub fn assemble(&self, problems: &mut Vec<Problem>) -> Option<(Lab, RuleSet)> {
        let settings: Option<Settings> = parse(&self.settings, problems);
        let protocol: Option<ProtocolFile> = parse(&self.protocol, problems);
        let instruments: Option<Instruments> = parse(&self.instruments, problems);
        let phrases: Option<PhrasesFile> = parse(&self.phrases, problems);
        let rules: Option<RuleSetFile<RuleFile>> = parse(&self.rules, problems);
        let (settings, protocol, instruments, phrases) =
            match (settings, protocol, instruments, phrases) {
                (Some(settings), Some(protocol), Some(instruments), Some(phrases)) => {
                    (settings, protocol, instruments, phrases)
                }
                (settings, protocol, instruments, _) => {
                    // Nothing can be judged, but what is wrong with the rest is said too.
                    let (protocol, found) =
                        check(settings.as_ref(), protocol, instruments.as_ref());
                    problems.extend(found);
                    if let (Some(rules), Some(protocol)) = (rules, protocol)
                        && let Err(found) = RuleSet::build(rules, &protocol, &self.rules.file)
                    {
                        problems.extend(found);
                    }
                    return None;
                }
            };
        let mut lab = match Lab::assemble(settings, protocol, instruments, phrases) {
            Ok((mut lab, warnings)) => {
                problems.extend(warnings);
                if let Some(control) = &self.control {
                    lab.control = read_control(control, &lab.protocol, problems);
                    if let Some(day) = self.as_of {
                        lab.control = known_on(&lab.control, day);
                    }
                }
                if let Some(study) = &self.study {
                    lab.study = read_study(study, &lab.protocol, problems);
                }
                lab
            }
            Err(found) => {
                problems.extend(found);
                return None;
            }
        };
        match RuleSet::build(rules?, &lab.protocol, &self.rules.file) {
            Ok(mut rules) => {
                rules.drawn = Arc::clone(&self.drawn);
                languages::assemble(&mut lab, &rules, &self.languages, problems);
                Some((lab, rules))
            }
            Err(found) => {
                problems.extend(found);
                None
            }
        }
    }
}

/// Reads the lab and its rule set; none if a problem was an error.
pub fn read_lab(root: &Root, problems: &mut Vec<Problem>) -> Option<(Lab, RuleSet)> {
    LabFiles::read(root, problems)?.assemble(problems)
}

/// The day from which a rule set or protocol holds; none if it does not say.
fn effective(source: &Source) -> Option<Date> {
    let file: serde_json::Value = serde_yaml::from_str(&source.text).ok()?;
    file.get("effective")?.as_str()?.parse().ok()
}

/// The kept file that holds on a day in the present one's stead: the latest of them
/// that holds by then, if the present one does not yet, or is the older of the two.
/// None where the present one holds, or no kept one does.
fn held_on(
    root: &Root,
    present: &Source,
    stem: &str,
    day: Date,
    problems: &mut Vec<Problem>,
) -> Option<Source> {
    // One that doesn't say since when it holds is in error, and must be told of.
    let present = effective(present)?;
    let listing = root.walk(EARLIER, &["yaml", "yml"]);
    let mut latest = Some(present).filter(|from| *from <= day);
    let mut held = None;
    for path in listing.files {
        if !path.stem().starts_with(stem) {
            continue;
        }
        match root.read(&path) {
            Err(problem) => problems.push(problem),
            Ok(source) => {
                let from = effective(&source).filter(|from| *from <= day);
                problems.extend(source.cut_off());
                if from.is_some() && from > latest {
                    (latest, held) = (from, Some(source));
                }
            }
        }
    }
    held
}

pub(super) fn read_file(root: &Root, name: &str, problems: &mut Vec<Problem>) -> Option<Source> {
    let path: RelPath = match name.parse() {
        Ok(path) => path,
        Err(error) => {
            problems.push(Problem::error(
                "unreadable-file",
                name,
                KeyPath::root(),
                format!("{error}"),
            ));
            return None;
        }
    };
    let source =
        root.read(&path)
            .map_err(|problem| {
                problems.push(match problem.hint {
                    Some(_) => problem,
                    None => problem
                        .hint("`solefolio begin DIR` lays a new lab with every file it needs"),
                });
            })
            .ok()?;
    problems.extend(source.cut_off());
    Some(source)
}

/// A table that a lab may do without; none if it isn't there or can't be read.
fn read_table(root: &Root, name: &str, problems: &mut Vec<Problem>) -> Option<Source> {
    let path: RelPath = name.parse().ok()?;
    if !root.holds(&path) {
        return None;
    }
    let source = root
        .read_text(&path, CSV_LIMIT)
        .map_err(|problem| problems.push(problem))
        .ok()?;
    problems.extend(source.cut_off());
    Some(source)
}

pub(super) fn parse<T: DeserializeOwned + JsonSchema>(
    source: &Source,
    problems: &mut Vec<Problem>,
) -> Option<T> {
    yaml::read(source)
        .map_err(|found| problems.extend(found))
        .ok()
}
