//! Reading the files of `lab/`.

use super::control::{read_control, read_study};
use super::languages::{self, LanguageFiles};
use super::reading::Reading;
use crate::diagnostics::{KeyPath, Problem, Severity};
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
                    problems.extend(self.named(found));
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
                problems.extend(self.named(warnings));
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
                problems.extend(self.named(found));
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

    /// Problems of the lab's files, those of the protocol under the name of the file it
    /// was read from, which may be a kept one.
    fn named(&self, mut problems: Vec<Problem>) -> Vec<Problem> {
        for problem in &mut problems {
            if problem.file == PROTOCOL {
                problem.file.clone_from(&self.protocol.file);
            }
        }
        problems
    }
}

/// Reads the lab and its rule set; none if a problem was an error.
pub fn read_lab(
    root: &Root,
    reading: &Reading,
    problems: &mut Vec<Problem>,
) -> Option<(Lab, RuleSet)> {
    LabFiles::read_as(root, reading, problems)?.assemble(problems)
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
    problems.extend(listing.problems);
    let mut latest = Some(present).filter(|from| *from <= day);
    let mut held = None;
    for path in listing.files {
        if !path.stem().starts_with(stem) {
            continue;
        }
        match root.read(&path) {
            Err(problem) => problems.push(problem),
            Ok(source) => {
                problems.extend(source.cut_off());
                let Some(from) = effective(&source) else {
                    // Passed over, it would hold on no day, and nobody would hear why.
                    problems.extend(mistakes(&source, stem));
                    continue;
                };
                if from <= day && Some(from) > latest {
                    (latest, held) = (Some(from), Some(source));
                }
            }
        }
    }
    held
}

/// What is wrong with the form of a kept file.
fn mistakes(source: &Source, stem: &str) -> Vec<Problem> {
    let found = match stem {
        "rules-" => yaml::read::<RuleSetFile<RuleFile>>(source).err(),
        _ => yaml::read::<ProtocolFile>(source).err(),
    };
    found.unwrap_or_default()
}

/// What is wrong with the rule sets and protocols that don't hold on a day: those that
/// are kept, and a present one that is still to come; and what lies among them and is
/// neither. Each is put together with the lab as on the first day it holds, so that a
/// mistake is heard of before that day.
pub fn check_earlier(root: &Root, as_of: Date) -> Vec<Problem> {
    let mut all = Vec::new();
    let Some(present) = LabFiles::read(root, &mut Vec::new()) else {
        // What can't be read is told by whoever reads the lab.
        return all;
    };
    let others = root.others(&RelPath::fixed(EARLIER), &["yaml", "yml"]);
    all.extend(others.iter().map(not_read));
    for path in root.walk(EARLIER, &["yaml", "yml"]).files {
        let named = |stem: &&str| path.stem().starts_with(*stem);
        let Some(stem) = ["rules-", "protocol-"].into_iter().find(named) else {
            all.push(not_read(&path));
            continue;
        };
        match root.read(&path) {
            Err(problem) => all.push(problem),
            Ok(source) => {
                all.extend(source.cut_off());
                match effective(&source) {
                    None => all.extend(mistakes(&source, stem)),
                    Some(from) => {
                        all.extend(when_it_holds(root, &present, (&source, stem), from, as_of));
                    }
                }
            }
        }
    }
    for (source, stem) in [(&present.rules, "rules-"), (&present.protocol, "protocol-")] {
        if let Some(from) = effective(source).filter(|from| *from > as_of) {
            all.extend(when_it_holds(root, &present, (source, stem), from, as_of));
        }
    }
    all
}

/// What is wrong with a rule set or protocol on the first day it holds. What one that is
/// still to come would break in other files is a warning: there is time to mend it.
fn when_it_holds(
    root: &Root,
    present: &LabFiles,
    (source, stem): (&Source, &str),
    from: Date,
    as_of: Date,
) -> Vec<Problem> {
    let mut files = present.clone();
    files.as_of = Some(from);
    for (file, kind) in [
        (&mut files.rules, "rules-"),
        (&mut files.protocol, "protocol-"),
    ] {
        if kind == stem {
            *file = source.clone();
        } else if let Some(held) = held_on(root, file, kind, from, &mut Vec::new()) {
            *file = held;
        }
    }
    let mut found = Vec::new();
    files.assemble(&mut found);
    found
        .into_iter()
        .filter_map(|problem| {
            if problem.file == source.file {
                return Some(problem);
            }
            (from > as_of && problem.is_error()).then(|| Problem {
                severity: Severity::Warning,
                message: format!("from {from}, with {}: {}", source.file, problem.message),
                ..problem
            })
        })
        .collect()
}

fn not_read(path: &RelPath) -> Problem {
    Problem::warning(
        "not-read",
        path.as_str(),
        KeyPath::root(),
        "the file is neither a rule set nor a protocol by its name, and nothing reads it",
    )
    .hint("name it as `rules-5.yaml` or `protocol-3.yaml`, or put it elsewhere")
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
pub(super) fn read_table(root: &Root, name: &str, problems: &mut Vec<Problem>) -> Option<Source> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::Memory;

    #[test]
    fn a_kept_file_that_does_not_say_since_when_it_holds_is_told_of() {
        for (stem, name) in [("rules-", RULES), ("protocol-", PROTOCOL)] {
            let file = format!("{EARLIER}/{stem}5.yaml");
            let text = "schema: 1\nversion: 5\nefective: 2026-11-20\n";
            let root = Root::over(Memory::new().with(&file, text));
            let present = Source::new(name, "effective: 2026-11-01\n");
            let day = "2026-12-01".parse().unwrap();
            let mut problems = Vec::new();
            let held = held_on(&root, &present, stem, day, &mut problems);
            assert!(held.is_none());
            let unknown = |problem: &Problem| problem.code == "unknown-key" && problem.file == file;
            assert!(problems.iter().any(unknown), "{problems:?}");
        }
    }

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    /// The demo's files of `lab/`, without its shoes and languages.
    fn demo() -> Memory {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        [SETTINGS, PROTOCOL, INSTRUMENTS, RULES, PHRASES]
            .into_iter()
            .fold(Memory::new(), |memory, name| {
                memory.with(name, std::fs::read(folder.join(name)).unwrap())
            })
    }

    fn text(name: &str) -> String {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        std::fs::read_to_string(folder.join(name)).unwrap()
    }

    /// The demo's rule set as version 5, from 15 December.
    fn next_rules() -> String {
        text(RULES)
            .replacen(
                "version: 4\neffective: 2026-11-01",
                "version: 5\neffective: 2026-12-15",
                1,
            )
            .replacen(
                "rules:\n",
                "  - {version: 5, effective: 2026-12-15, note: Points moved.}\nrules:\n",
                1,
            )
    }

    #[test]
    fn what_is_used_at_the_desk_is_what_holds_that_day() {
        let root = Root::over(demo().with("lab/earlier/rules-5.yaml", next_rules()));
        for (today, version) in [("2026-12-14", 4), ("2026-12-15", 5)] {
            let usable = crate::gather::gather_usable(&root, day(today)).unwrap();
            assert_eq!(usable.rules.version, version, "{today}");
        }
    }

    #[test]
    fn a_protocol_s_limits_are_not_negative_and_its_labels_say_something() {
        let torque = "quantities.midfoot-torque";
        for (from, to, code, path) in [
            ("soak: 12", "soak: -12", "out-of-range", "conditioning.soak"),
            (
                "temperature-tolerance: ",
                "temperature-tolerance: -",
                "out-of-range",
                "conditioning.temperature-tolerance",
            ),
            (
                "humidity-tolerance: ",
                "humidity-tolerance: -",
                "out-of-range",
                "conditioning.humidity-tolerance",
            ),
            (
                "left-right: ",
                "left-right: -",
                "out-of-range",
                &*format!("{torque}.left-right"),
            ),
            (
                "label: Midfoot torque",
                "label: \"\"",
                "nothing-given",
                &*format!("{torque}.label"),
            ),
        ] {
            let protocol = text(PROTOCOL).replacen(from, to, 1);
            let mut problems = Vec::new();
            let root = Root::over(demo().with(PROTOCOL, protocol));
            read_lab(&root, &Reading::default(), &mut problems);
            let told: Vec<_> = problems
                .iter()
                .map(|problem| (problem.code, problem.path.to_string()))
                .collect();
            assert_eq!(told, [(code, path.to_owned())], "{to}");
        }
    }

    #[test]
    fn a_kept_file_s_mistakes_are_told_before_its_day() {
        let check = |name: &str, text: String| -> Vec<(&'static str, String, bool)> {
            let root = Root::over(demo().with(name, text));
            let problems = check_earlier(&root, day("2026-12-01"));
            let told = problems.into_iter();
            told.map(|problem| (problem.code, problem.file.clone(), problem.is_error()))
                .collect()
        };
        let rules = "lab/earlier/rules-5.yaml";
        assert_eq!(check(rules, next_rules()), []);
        // A word that can't be read, and one that stands for nothing.
        for (from, to) in [("kind: scale", "kind: scael"), ("[45, 60]", "[45, 160]")] {
            let told = check(rules, next_rules().replacen(from, to, 1));
            assert!(
                told.iter().any(|(_, file, error)| file == rules && *error),
                "{to}: {told:?}"
            );
        }
        let protocol = "lab/earlier/protocol-3.yaml";
        let next = text(PROTOCOL).replacen("effective: 2026-09-01", "effective: 2026-12-15", 1);
        assert_eq!(check(protocol, next.clone()), []);
        let told = check(protocol, next.replacen("coverage: ", "coverage: 1", 1));
        assert_eq!(told, [("out-of-range", protocol.to_owned(), true)]);
        for name in ["lab/earlier/rule-5.yaml", "lab/earlier/rules-5.yaml.bak"] {
            let told = check(name, next_rules());
            assert_eq!(told, [("not-read", name.to_owned(), false)]);
        }
        // One that is to come may stand in the present one's place.
        let told = check(RULES, next_rules().replacen("[45, 60]", "[45, 160]", 1));
        assert!(
            told.iter().any(|(_, file, error)| file == RULES && *error),
            "{told:?}"
        );
        // What it would break elsewhere is a warning.
        let without = next.replacen("  mass:\n", "  weight:\n", 1);
        let told = check(protocol, without);
        assert!(
            told.iter().any(|(_, file, error)| file == RULES && !error),
            "{told:?}"
        );
        assert!(told.iter().all(|(_, _, error)| !error), "{told:?}");
    }
}
