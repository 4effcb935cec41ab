//! Choosing among several schemas the one a value is meant for, so that its
//! problems are told and not those of all the others.
//!
//! A map is told by its tag (`kind`), or by its only key; anything else by its
//! kind, and by the fewest problems where several are of one kind.

use super::schema::{Kinds, one_of};
use super::tree::{Entry, Scalar, Value};
use super::unlike;
use super::walk::{At, Walk, Way, kinds_of};
use crate::diagnostics::Problem;
use serde_json::Value as Json;

/// What was chosen.
pub(super) enum Choice<'s> {
    /// This schema applies.
    Of(&'s Json),
    /// Nothing more is to be checked.
    Done,
}

impl<'s> Walk<'s> {
    /// Which of several schemas applies to a node.
    pub(super) fn choose(
        &mut self,
        at: &mut At<'_>,
        list: &'s [Json],
        whole: &'s Json,
    ) -> Choice<'s> {
        let kinds = kinds_of(at.node);
        let is_null = |choice: &&Json| self.schemas.kinds(choice) == Kinds::NULL;
        let filled: Vec<&Json> = list.iter().filter(|c| !is_null(c)).collect();
        if kinds == Kinds::NULL {
            return match list
                .iter()
                .find(|c| self.schemas.kinds(c).meets(Kinds::NULL))
            {
                Some(null) => Choice::Of(null),
                None => {
                    self.report_kind(at, Kinds::NONE, whole);
                    Choice::Done
                }
            };
        }
        if let [only] = filled[..] {
            return Choice::Of(only);
        }
        let taking = |wanted: Kinds| -> Vec<&'s Json> {
            let fits = |choice: &&&Json| self.schemas.kinds(choice).meets(wanted);
            filled.iter().filter(fits).copied().collect()
        };
        let mut fitting = taking(kinds);
        if fitting.is_empty() && !matches!(at.node.value, Value::List(_) | Value::Map(_)) {
            fitting = taking(Kinds::TEXT);
            fitting.retain(|choice| self.schemas.kinds(choice).is_text_only());
        }
        match &at.node.value {
            _ if fitting.is_empty() => {
                self.report_kind(at, Kinds::NONE, whole);
                Choice::Done
            }
            Value::Map(entries) => self.choose_map(at, entries, &fitting),
            Value::Scalar(scalar) => self.choose_text(at, scalar, &fitting),
            _ => self.try_each(at, &fitting),
        }
    }

    fn choose_map(&mut self, at: &mut At<'_>, entries: &[Entry], maps: &[&'s Json]) -> Choice<'s> {
        if let Some(names) = self.schemas.only_keys(maps) {
            return self.choose_by_key(at, entries, maps, &names);
        }
        let Some(tag) = self.schemas.tag(maps) else {
            return self.try_each(at, maps);
        };
        at.buffered = true;
        let values: Vec<&str> = maps
            .iter()
            .filter_map(|m| self.schemas.tag_value(m, tag))
            .collect();
        let Some(entry) = entries.iter().find(|entry| entry.name() == Some(tag)) else {
            let message = format!("the key `{tag}` is missing; it is {}", one_of(&values));
            let problem = self.at_map(
                at,
                Problem::error("missing-key", self.file, at.way.path(), message),
            );
            self.outcome
                .found
                .push(problem.hint(format!("add `{tag}: …`")));
            return Choice::Done;
        };
        let inside = At {
            node: &entry.value,
            key: Some(&entry.key),
            is_key: false,
            way: Way::Key(&at.way, tag),
            buffered: true,
        };
        if let Value::Scalar(scalar) = &entry.value.value {
            if let Some(chosen) = values.iter().position(|value| *value == scalar.text) {
                return Choice::Of(maps[chosen]);
            }
            self.not_one_of(&inside, &scalar.text, &values);
        } else if entry.value.value != Value::Refused {
            let message = format!(
                "{} where {} is expected",
                unlike::found(&entry.value),
                one_of(&values)
            );
            let problem = Problem::error("wrong-type", self.file, inside.way.path(), message);
            self.report(&inside, problem);
        }
        Choice::Done
    }

    fn choose_by_key(
        &mut self,
        at: &At<'_>,
        entries: &[Entry],
        maps: &[&'s Json],
        names: &[&'s str],
    ) -> Choice<'s> {
        let known = |entry: &Entry| names.iter().position(|name| entry.name() == Some(name));
        match entries {
            [] => {
                let message = format!("an empty map where {} is expected", one_of(names));
                let problem = Problem::error("missing-key", self.file, at.way.path(), message);
                self.report(at, problem);
                Choice::Done
            }
            [one] => match known(one) {
                Some(chosen) => Choice::Of(maps[chosen]),
                None => {
                    self.unknown_key(at, one, names, &[]);
                    Choice::Done
                }
            },
            [_, second, ..] => {
                let way = Way::Key(&at.way, second.name().unwrap_or_default());
                let message = format!("a second key where only {} is expected", one_of(names));
                let problem = Problem::error("unknown-key", self.file, way.path(), message)
                    .hint("keep one of the keys");
                let inside = At {
                    node: &second.key,
                    is_key: true,
                    way,
                    ..*at
                };
                self.report(&inside, problem);
                Choice::Done
            }
        }
    }

    /// Texts to choose from in several choices are one set of texts.
    fn choose_text(
        &mut self,
        at: &mut At<'_>,
        scalar: &Scalar,
        fitting: &[&'s Json],
    ) -> Choice<'s> {
        let lists: Option<Vec<Vec<&str>>> = fitting.iter().map(|c| self.schemas.texts(c)).collect();
        let Some(lists) = lists else {
            return self.try_each(at, fitting);
        };
        let texts = lists.concat();
        if !texts.contains(&scalar.text.as_str()) {
            self.not_one_of(at, &scalar.text, &texts);
        }
        Choice::Done
    }

    /// Takes the choice with the fewest problems, and its problems.
    fn try_each(&mut self, at: &mut At<'_>, fitting: &[&'s Json]) -> Choice<'s> {
        at.buffered = true;
        if let [only] = fitting {
            return Choice::Of(only);
        }
        let mut best: Option<(usize, &'s Json)> = None;
        for choice in fitting {
            let kept = std::mem::take(&mut self.outcome);
            self.check(at, choice);
            let tried = std::mem::replace(&mut self.outcome, kept);
            let problems = tried.found.len();
            if best.is_none_or(|(fewest, _)| problems < fewest) {
                best = Some((problems, choice));
            }
            if problems == 0 {
                break;
            }
        }
        best.map_or(Choice::Done, |(_, choice)| Choice::Of(choice))
    }
}
