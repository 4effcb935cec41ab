//! A rule set from its file: every mistake of the whole set in one go.
//!
//! Nothing is half built: a set with one mistake is refused with all of them, so
//! that judging never meets a name that isn't there, a circle or an expression
//! that doesn't fit.

use super::bands::check_names;
use super::graph::Graph;
use super::kinds::RuleFile;
use super::names::{Meaning, Names};
use super::{Grounds, Rule, RuleSet, Yields};
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Key, LINE_LIMIT, Map, too_long};
use crate::lab::{Protocol, RuleSetFile};
use std::sync::Arc;

/// The most rules of a set.
pub const RULES_LIMIT: usize = 200;

impl RuleSet {
    /// The rule set its file describes. `file_name` is the file problems are
    /// placed in, relative to the lab's root.
    ///
    /// # Errors
    /// Every mistake of the set, in the file's order within each part of it.
    pub fn build(
        file: RuleSetFile<RuleFile>,
        protocol: &Protocol,
        file_name: &str,
    ) -> Result<RuleSet, Vec<Problem>> {
        let mut problems = Problems {
            file: file_name,
            found: Vec::new(),
        };
        problems.head(&file);
        problems.taken(&file.rules, protocol);
        let names = names(&file.rules, protocol);
        let order = problems.order(&file.rules);
        problems.page(&file.page, &file.rules);
        let grounds = Grounds {
            protocol,
            bands: &file.bands,
            borderline_below: file.borderline_below,
            names: &names,
        };
        let mut rules: Vec<(Key, Box<dyn Rule>)> = Vec::with_capacity(file.rules.len());
        for (key, rule) in file.rules.iter() {
            match rule.clone().build(key, &grounds) {
                Ok(rule) => rules.push((key.clone(), rule)),
                Err(mistakes) => {
                    let root = KeyPath::root().key("rules").key(key.as_str());
                    for mistake in mistakes {
                        let mut path = root.clone();
                        path.0.extend(mistake.path.0);
                        problems.add(mistake.code, path, mistake.message, mistake.hint);
                    }
                }
            }
        }
        if !problems.found.is_empty() {
            return Err(problems.found);
        }
        Ok(RuleSet {
            version: file.version,
            effective: file.effective,
            borderline_below: file.borderline_below,
            bands: file.bands,
            history: file.history,
            page: file.page,
            rules: rules.into_iter().collect(),
            order,
            drawn: Arc::default(),
        })
    }
}

/// What every quantity and finding can be used as. A rule's name that is a
/// quantity's stands for the quantity; it is a problem of its own.
fn names(rules: &Map<Key, RuleFile>, protocol: &Protocol) -> Names {
    let mut names = Names::default();
    for (key, quantity) in protocol.quantities.iter() {
        names.add(key, &quantity.label, Meaning::Quantity(quantity.unit));
    }
    for (key, rule) in rules.iter() {
        let meaning = match rule.yields() {
            Yields::Score => Meaning::Score,
            Yields::Number => Meaning::Number(rule.unit()),
            Yields::Words => Meaning::Words,
        };
        names.add(key, rule.label(), meaning);
    }
    names
}

/// The problems of one file, as they are found.
struct Problems<'a> {
    file: &'a str,
    found: Vec<Problem>,
}

impl Problems<'_> {
    fn add(
        &mut self,
        code: &'static str,
        path: KeyPath,
        message: impl Into<String>,
        hint: Option<String>,
    ) -> &mut Problem {
        let mut problem = Problem::error(code, self.file, path, message);
        problem.hint = hint;
        self.found.push(problem);
        let last = self.found.len() - 1;
        &mut self.found[last]
    }

    /// What stands beside the rules: version, limit, bands, history.
    fn head(&mut self, file: &RuleSetFile<RuleFile>) {
        let root = KeyPath::root();
        if file.version == 0 {
            self.add(
                "version-out-of-range",
                root.key("version"),
                "versions of a rule set count from 1",
                Some("write 1 for the first".into()),
            );
        }
        let limit = file.borderline_below;
        if !(limit > 0.5 && limit < 1.0) {
            self.add(
                "limit-out-of-range",
                root.key("borderline-below"),
                format!("a limit of {limit} is out of range: it is a chance above 0.5 and below 1"),
                Some("write a chance such as 0.80".into()),
            );
        }
        if file.rules.len() > RULES_LIMIT {
            let message = format!("{} rules; {RULES_LIMIT} are the most", file.rules.len());
            let hint = "take out what nothing shows any more".to_owned();
            self.add("wrong-length", root.key("rules"), message, Some(hint));
        }
        for mistake in check_names(&file.bands, &root.key("bands")) {
            self.add(mistake.code, mistake.path, mistake.message, mistake.hint);
        }
        self.history(file);
    }

    /// The history rises, ends with this version, and agrees with it.
    fn history(&mut self, file: &RuleSetFile<RuleFile>) {
        let path = KeyPath::root().key("history");
        for (at, entry) in file.history.iter().enumerate() {
            let path = path.index(at);
            if entry.note.trim().is_empty() {
                self.add(
                    "blank-text",
                    path.key("note"),
                    format!("the note on version {} is empty", entry.version),
                    Some("say in a sentence what changed; the method page prints it".into()),
                );
            }
            if let Some(message) = too_long("note", &entry.note, LINE_LIMIT) {
                self.add(
                    "text-too-long",
                    path.key("note"),
                    message,
                    Some("shorten it".into()),
                );
            }
            if entry.version > file.version {
                self.add(
                    "history-mismatch",
                    path.key("version"),
                    format!(
                        "the history tells of version {}, and the rule set is version {}",
                        entry.version, file.version
                    ),
                    Some(format!("raise `version` to {}", entry.version)),
                );
            }
            if entry.version == file.version && entry.effective != file.effective {
                self.add(
                    "history-mismatch",
                    path.key("effective"),
                    format!(
                        "the history says version {} holds from {}, and the rule set from {}",
                        entry.version, entry.effective, file.effective
                    ),
                    Some("write the same day in both places".into()),
                );
            }
            if at > 0 {
                let before = &file.history[at - 1];
                if entry.version <= before.version {
                    self.add(
                        "history-out-of-order",
                        path.key("version"),
                        format!(
                            "version {} comes after version {}; versions must rise",
                            entry.version, before.version
                        ),
                        Some("put the oldest version first, each once".into()),
                    );
                } else if entry.effective < before.effective {
                    self.add(
                        "history-out-of-order",
                        path.key("effective"),
                        format!(
                            "version {} holds from {}, before version {} did",
                            entry.version, entry.effective, before.version
                        ),
                        Some("check the two days".into()),
                    );
                }
            }
        }
        if let Some(last) = file.history.last().filter(|l| l.version < file.version) {
            self.add(
                "history-mismatch",
                path,
                format!(
                    "the history ends with version {}, and the rule set is version {}",
                    last.version, file.version
                ),
                Some(format!(
                    "add a line {{version: {}, effective: {}, note: what changed}}",
                    file.version, file.effective
                )),
            );
        }
    }

    /// No finding has a quantity's name.
    fn taken(&mut self, rules: &Map<Key, RuleFile>, protocol: &Protocol) {
        for key in rules
            .keys()
            .filter(|key| protocol.quantities.contains(*key))
        {
            let path = KeyPath::root().key("rules").key(key.as_str());
            let problem = self.add(
                "name-taken",
                path,
                format!("`{key}` is a quantity of the protocol already"),
                Some("give the rule another name; expressions could not tell the two apart".into()),
            );
            problem.at_key = true;
        }
    }

    /// The order of judging; circles are problems.
    fn order(&mut self, rules: &Map<Key, RuleFile>) -> Vec<usize> {
        let keys: Vec<&Key> = rules.keys().collect();
        let place = |key: &Key| keys.iter().position(|known| *known == key);
        let graph = Graph(
            rules
                .iter()
                .map(|(_, rule)| rule.mentions().iter().filter_map(place).collect())
                .collect(),
        );
        let walk = graph.walk();
        for circle in walk.circles {
            let along: Vec<&str> = circle.iter().map(|at| keys[*at].as_str()).collect();
            let path = KeyPath::root().key("rules").key(along[0]);
            let problem = self.add(
                "circle-of-rules",
                path,
                format!(
                    "rules rest on each other in a circle: {}",
                    along.join(" → ")
                ),
                Some("let one of them rest on quantities alone".into()),
            );
            problem.at_key = true;
        }
        walk.order
    }

    /// A review leads with findings that have bands, each once.
    fn page(&mut self, page: &[Key], rules: &Map<Key, RuleFile>) {
        let path = KeyPath::root().key("page");
        let banded = || {
            rules
                .iter()
                .filter(|(_, rule)| rule.yields() == Yields::Score)
                .map(|(key, _)| key.as_str())
        };
        for (at, key) in page.iter().enumerate() {
            let path = path.index(at);
            match rules.get(key) {
                None => {
                    let hint = match crate::files::nearest(key.as_str(), banded()) {
                        Some(known) => format!("did you mean `{known}`?"),
                        None => "name a rule of kind `scale` or `blend`".into(),
                    };
                    self.add(
                        "unknown-name",
                        path,
                        format!("`{key}` is no rule"),
                        Some(hint),
                    );
                }
                Some(rule) if rule.yields() != Yields::Score => {
                    self.add(
                        "needs-a-score",
                        path,
                        format!(
                            "`{key}` is of kind `{}`, which has no bands, and a review leads with bands",
                            rule.kind()
                        ),
                        Some("name a rule of kind `scale` or `blend`".into()),
                    );
                }
                Some(_) if page[..at].contains(key) => {
                    self.add(
                        "duplicate-name",
                        path,
                        format!("`{key}` is named twice"),
                        Some("name each finding once".into()),
                    );
                }
                Some(_) => {}
            }
        }
    }
}

#[cfg(test)]
mod tests;
