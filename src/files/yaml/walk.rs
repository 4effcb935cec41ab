//! A file's whole tree against its type's JSON Schema: every problem, not the first.
//!
//! It knows what schemars writes: references, choices (untagged, tagged by a
//! property such as `kind`, named by their only key, optional), properties and
//! additional ones, items, kinds, ranges, texts to choose from, and formats
//! ([`Forms`]). Other keywords are left to serde. A key that serde knows by a
//! second name (`alias`) is not in the schema, and is unknown here.

use super::form::Forms;
use super::scalar::{Plain, classify};
use super::schema::{Kinds, LIST_LIMIT, Schemas, array, choices, one_of, own_kinds};
use super::tree::{Entry, Node, Scalar, Value};
use super::unlike;
use crate::diagnostics::text::{quote, quote_list};
use crate::diagnostics::{KeyPath, Problem};
use crate::files::Found;
use crate::files::nearest;
use serde_json::Value as Json;

/// The most nodes looked at, choices tried included: a bound on what a recursive
/// schema with untagged choices can cost.
const STEPS: usize = 2_000_000;

/// What the walk found.
#[derive(Default)]
pub(super) struct Outcome {
    /// Problems in any case.
    pub(super) found: Found,
    /// Problems only if serde refuses the file for no other reason: a number
    /// where text is wanted, which serde takes in most places but not in all.
    pub(super) perhaps: Found,
}

/// Walks a file's tree.
pub(super) fn walk(file: &str, root: &Node, schema: &Json, forms: &Forms) -> Outcome {
    let mut walk = Walk {
        file,
        schemas: Schemas {
            root: schema,
            forms,
        },
        outcome: Outcome::default(),
        steps: STEPS,
    };
    let at = At {
        node: root,
        key: None,
        is_key: false,
        way: Way::Root,
        buffered: false,
    };
    walk.check(&at, schema);
    walk.outcome
}

/// The way from the root, without copies until a problem needs it.
#[derive(Clone, Copy)]
enum Way<'w> {
    Root,
    Key(&'w Way<'w>, &'w str),
    Index(&'w Way<'w>, usize),
}

impl Way<'_> {
    fn path(&self) -> KeyPath {
        match self {
            Way::Root => KeyPath::root(),
            Way::Key(parent, key) => parent.path().key(*key),
            Way::Index(parent, index) => parent.path().index(*index),
        }
    }
}

/// Where the walk is.
#[derive(Clone, Copy)]
struct At<'w> {
    node: &'w Node,
    /// The key it stands under.
    key: Option<&'w Node>,
    /// Whether the node is itself a key.
    is_key: bool,
    way: Way<'w>,
    /// Whether serde reads this value before it knows its type: in tagged and
    /// untagged choices a number is then no text.
    buffered: bool,
}

struct Walk<'s> {
    file: &'s str,
    schemas: Schemas<'s>,
    outcome: Outcome,
    steps: usize,
}

impl<'s> Walk<'s> {
    fn check(&mut self, at: &At<'_>, schema: &'s Json) {
        if self.steps == 0 || at.node.value == Value::Refused {
            return;
        }
        self.steps -= 1;
        let mut here = *at;
        let mut parts = Vec::new();
        if !self.gather(&mut here, schema, &mut parts, 0) {
            return;
        }
        let kinds = parts
            .iter()
            .fold(Kinds::ANY, |kinds, part| kinds.and(own_kinds(part)));
        if !self.is_of_kind(&here, kinds, schema) {
            return;
        }
        match &here.node.value {
            Value::Scalar(scalar) => self.scalar(&here, scalar, &parts),
            Value::List(items) => self.list(&here, items, &parts),
            Value::Map(entries) => self.map(&here, entries, &parts),
            Value::Refused => {}
        }
    }

    /// Collects the schemas that apply to a node, its choices made; false if there
    /// is nothing more to check.
    fn gather(
        &mut self,
        at: &mut At<'_>,
        schema: &'s Json,
        parts: &mut Vec<&'s Json>,
        depth: usize,
    ) -> bool {
        if depth > 16 {
            return false;
        }
        for part in self.schemas.parts(schema) {
            parts.push(part);
            for list in choices(part) {
                match self.choose(at, list, schema) {
                    Choice::Done => return false,
                    Choice::Of(chosen) => {
                        if !self.gather(at, chosen, parts, depth + 1) {
                            return false;
                        }
                    }
                }
            }
        }
        true
    }

    fn choose(&mut self, at: &mut At<'_>, list: &'s [Json], whole: &'s Json) -> Choice<'s> {
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

    fn is_of_kind(&mut self, at: &At<'_>, wanted: Kinds, schema: &'s Json) -> bool {
        let kinds = kinds_of(at.node);
        if wanted.meets(kinds) {
            return true;
        }
        let as_text = Kinds::BOOL.or(Kinds::NUMBER).meets(kinds) && wanted.is_text_only();
        if !as_text {
            self.report_kind(at, wanted, schema);
            return false;
        }
        if at.is_key {
            return true;
        }
        let message = format!("{} where text is expected", unlike::found(at.node));
        let problem = Problem::error("wrong-type", self.file, at.way.path(), message);
        let problem = self.placed(at, problem).hint("put it in quotes");
        if at.buffered {
            self.outcome.found.push(problem);
        } else {
            self.outcome.perhaps.push(problem);
        }
        !at.buffered
    }

    /// Reports that a node is of a kind that is not wanted.
    fn report_kind(&mut self, at: &At<'_>, wanted: Kinds, schema: &'s Json) {
        let expected = self.schemas.expected(schema);
        let wanted = if wanted == Kinds::NONE {
            self.schemas.kinds(schema)
        } else {
            wanted
        };
        let problem = if kinds_of(at.node) == Kinds::NULL {
            let message = format!("no value where {expected} is expected");
            let hint = "write the value, or take the key out if there is none";
            Problem::error("empty-value", self.file, at.way.path(), message).hint(hint)
        } else {
            let message = format!("{} where {expected} is expected", unlike::found(at.node));
            let problem = Problem::error("wrong-type", self.file, at.way.path(), message);
            let hint = unlike::hint(at.node, wanted.filled()).or_else(|| {
                let keys = self.schemas.keys(schema);
                let wants_map = wanted.filled() == Kinds::MAP && !keys.is_empty();
                wants_map.then(|| format!("a map has its keys below it: {}", quote_list(keys, 8)))
            });
            match hint {
                Some(hint) => problem.hint(hint),
                None => problem,
            }
        };
        self.report(at, problem);
    }

    fn scalar(&mut self, at: &At<'_>, scalar: &Scalar, parts: &[&'s Json]) {
        let kinds = parts
            .iter()
            .fold(Kinds::ANY, |kinds, part| kinds.and(own_kinds(part)));
        let number = match classify(&scalar.text) {
            Plain::Whole(value) | Plain::Number(value)
                if scalar.plain && kinds.meets(Kinds::NUMBER) =>
            {
                Some(value)
            }
            _ => None,
        };
        for part in parts {
            if let Some(texts) = self.schemas.texts(part)
                && kinds.meets(Kinds::TEXT)
                && !texts.contains(&scalar.text.as_str())
            {
                return self.not_one_of(at, &scalar.text, &texts);
            }
            if let Some(number) = number {
                self.range(at, number, part);
            } else if kinds_of(at.node) != Kinds::NULL && kinds.meets(Kinds::TEXT) {
                self.length(at, &scalar.text, part);
                self.form(at, &scalar.text, part);
            }
        }
    }

    fn range(&mut self, at: &At<'_>, value: f64, part: &Json) {
        let bound = |keyword: &str| part.get(keyword).and_then(Json::as_f64);
        let broken = [
            (
                "minimum",
                "at least",
                bound("minimum").filter(|b| value < *b),
            ),
            (
                "maximum",
                "at most",
                bound("maximum").filter(|b| value > *b),
            ),
            (
                "exclusiveMinimum",
                "more than",
                bound("exclusiveMinimum").filter(|b| value <= *b),
            ),
            (
                "exclusiveMaximum",
                "less than",
                bound("exclusiveMaximum").filter(|b| value >= *b),
            ),
        ];
        for (_, words, bound) in broken {
            if let Some(bound) = bound {
                let message = format!("{value} is out of range: {words} {bound} is expected");
                let problem = Problem::error("out-of-range", self.file, at.way.path(), message);
                self.report(at, problem);
            }
        }
    }

    fn length(&mut self, at: &At<'_>, text: &str, part: &Json) {
        let limit = |keyword: &str| part.get(keyword).and_then(Json::as_u64);
        let count = text.chars().count() as u64;
        let message = match (limit("minLength"), limit("maxLength")) {
            (Some(least), _) if count < least => {
                format!("{count} characters where at least {least} are expected")
            }
            (_, Some(most)) if count > most => {
                format!("{count} characters where at most {most} are expected")
            }
            _ => return,
        };
        let problem = Problem::error("wrong-length", self.file, at.way.path(), message);
        self.report(at, problem);
    }

    fn form(&mut self, at: &At<'_>, text: &str, part: &Json) {
        let name = part.get("format").and_then(Json::as_str);
        let Some(form) = name.and_then(|name| self.schemas.forms.get(name)) else {
            return;
        };
        if let Err(misformed) = (form.check)(text) {
            let problem = Problem::error("wrong-form", self.file, at.way.path(), misformed.reason);
            let hint = misformed
                .hint
                .unwrap_or_else(|| format!("write {}", form.expected));
            self.report(at, problem.hint(hint));
        }
    }

    fn not_one_of(&mut self, at: &At<'_>, text: &str, texts: &[&str]) {
        let message = format!("{} is not known here", quote(text));
        let known = format!(
            "known here: {}",
            quote_list(texts.iter().copied(), LIST_LIMIT)
        );
        let problem = Problem::error("not-one-of", self.file, at.way.path(), message);
        let problem = match nearest(text, texts.iter().copied()) {
            Some(meant) => problem.hint(format!("did you mean `{meant}`? {known}")),
            None => problem.hint(known),
        };
        self.report(at, problem);
    }

    fn list(&mut self, at: &At<'_>, items: &[Node], parts: &[&'s Json]) {
        for part in parts {
            let limit = |keyword: &str| part.get(keyword).and_then(Json::as_u64);
            let (least, most) = (
                limit("minItems").unwrap_or(0),
                limit("maxItems").unwrap_or(u64::MAX),
            );
            let count = items.len() as u64;
            if count < least || count > most {
                let wanted = match (least, most) {
                    (least, most) if least == most => format!("exactly {least}"),
                    (least, _) if count < least => format!("at least {least}"),
                    (_, most) => format!("at most {most}"),
                };
                let message = format!("a list of {count} where {wanted} are expected");
                let problem = Problem::error("wrong-length", self.file, at.way.path(), message);
                self.report(at, problem);
            }
            let first = array(part, "prefixItems");
            let rest = part.get("items").filter(|schema| schema.is_object());
            for (index, item) in items.iter().enumerate() {
                if let Some(schema) = first.get(index).or(rest) {
                    let inside = At {
                        node: item,
                        key: None,
                        is_key: false,
                        way: Way::Index(&at.way, index),
                        buffered: at.buffered,
                    };
                    self.check(&inside, schema);
                }
            }
        }
    }

    fn map(&mut self, at: &At<'_>, entries: &[Entry], parts: &[&'s Json]) {
        let shape = Shape::of(parts);
        let names: Vec<&str> = shape.properties.iter().map(|(name, _)| *name).collect();
        let present = |name: &str| entries.iter().any(|entry| entry.name() == Some(name));
        let absent: Vec<&str> = names
            .iter()
            .copied()
            .filter(|name| !present(name))
            .collect();
        let mut meant = Vec::new();
        for entry in entries {
            // A merge key has been reported as such.
            let Some(name) = entry.name().filter(|name| *name != "<<") else {
                continue;
            };
            let inside = At {
                node: &entry.value,
                key: Some(&entry.key),
                is_key: false,
                way: Way::Key(&at.way, name),
                buffered: at.buffered,
            };
            let property = shape.properties.iter().find(|(known, _)| *known == name);
            match (property, shape.additional) {
                (Some((_, schema)), _) => self.check(&inside, schema),
                (None, Some(schema)) => {
                    if let Some(names) = shape.names {
                        let key = At {
                            node: &entry.key,
                            is_key: true,
                            ..inside
                        };
                        self.check(&key, names);
                    }
                    self.check(&inside, schema);
                }
                (None, None) if shape.closed => {
                    meant.extend(self.unknown_key(at, entry, &names, &absent));
                }
                (None, None) => {}
            }
        }
        for name in &shape.required {
            // A mistyped key is one problem, not two.
            if present(name) || meant.contains(name) {
                continue;
            }
            let property = shape.properties.iter().find(|(known, _)| known == name);
            let expected = property.map(|(_, schema)| self.schemas.expected(schema));
            let message = format!("the key `{name}` is missing");
            let problem = Problem::error("missing-key", self.file, at.way.path(), message);
            let hint = match expected.filter(|words| !words.is_empty()) {
                Some(words) => format!("add `{name}: …` ({words})"),
                None => format!("add `{name}: …`"),
            };
            let problem = self.at_map(at, problem.hint(hint));
            self.outcome.found.push(problem);
        }
    }

    /// Reports an unknown key; the known one it is taken for, if any. One that is
    /// absent is meant rather than one that is there.
    fn unknown_key(
        &mut self,
        at: &At<'_>,
        entry: &Entry,
        names: &[&'s str],
        absent: &[&'s str],
    ) -> Option<&'s str> {
        let name = entry.name().unwrap_or_default();
        let way = Way::Key(&at.way, name);
        let message = format!("the key {} is not known here", quote(name));
        let known = match names {
            [] => "no keys are known here".to_owned(),
            names => format!(
                "known here: {}",
                quote_list(names.iter().copied(), LIST_LIMIT)
            ),
        };
        let meant =
            nearest(name, absent.iter().copied()).or_else(|| nearest(name, names.iter().copied()));
        let hint = match meant {
            Some(meant) => format!("did you mean `{meant}`? {known}"),
            // `{value: 270,5}` is a map of `value: 270` and an empty `5`.
            None if name.bytes().all(|b| b.is_ascii_digit())
                && kinds_of(&entry.value) == Kinds::NULL =>
            {
                "a comma ends the value before it; is it a decimal comma? write a decimal point"
                    .into()
            }
            None => known,
        };
        let problem = Problem::error("unknown-key", self.file, way.path(), message).hint(hint);
        let inside = At {
            node: &entry.key,
            key: None,
            is_key: true,
            way,
            buffered: false,
        };
        self.report(&inside, problem);
        meant
    }

    fn report(&mut self, at: &At<'_>, problem: Problem) {
        let problem = self.placed(at, problem);
        self.outcome.found.push(problem);
    }

    /// A problem at its node; at its key if the value is empty.
    fn placed(&self, at: &At<'_>, problem: Problem) -> Problem {
        let empty = matches!(&at.node.value, Value::Scalar(s) if s.plain && s.text.is_empty());
        let (node, on_key) = match at.key {
            Some(key) if empty => (key, true),
            _ => (at.node, at.is_key),
        };
        let place = node.span.start;
        let problem = problem.at(place.line, place.column);
        if on_key { problem.on_key() } else { problem }
    }

    /// A problem of a whole map, at the key it stands under.
    fn at_map(&self, at: &At<'_>, problem: Problem) -> Problem {
        let place = at.key.unwrap_or(at.node).span.start;
        let problem = problem.at(place.line, place.column);
        if at.key.is_some() {
            problem.on_key()
        } else {
            problem
        }
    }
}

enum Choice<'s> {
    /// This schema applies.
    Of(&'s Json),
    /// Nothing more is to be checked.
    Done,
}

/// The kinds a node is of.
fn kinds_of(node: &Node) -> Kinds {
    match &node.value {
        Value::Refused => Kinds::ANY,
        Value::List(_) => Kinds::LIST,
        Value::Map(_) => Kinds::MAP,
        Value::Scalar(scalar) if !scalar.plain => Kinds::TEXT,
        Value::Scalar(scalar) => match classify(&scalar.text) {
            Plain::Null => Kinds::NULL,
            Plain::Bool(_) => Kinds::BOOL,
            Plain::Whole(_) => Kinds::WHOLE,
            Plain::Number(_) | Plain::NotFinite => Kinds::FRACTION,
            Plain::Text => Kinds::TEXT,
        },
    }
}

/// What several schemas say of one map together.
struct Shape<'s> {
    properties: Vec<(&'s str, &'s Json)>,
    required: Vec<&'s str>,
    /// What any other key must be.
    additional: Option<&'s Json>,
    names: Option<&'s Json>,
    /// Whether no other key is allowed.
    closed: bool,
}

impl<'s> Shape<'s> {
    fn of(parts: &[&'s Json]) -> Shape<'s> {
        let mut shape = Shape {
            properties: Vec::new(),
            required: Vec::new(),
            additional: None,
            names: None,
            closed: false,
        };
        for part in parts {
            if let Some(properties) = part.get("properties").and_then(Json::as_object) {
                for (name, schema) in properties {
                    shape.properties.push((name, schema));
                }
            }
            for name in array(part, "required").iter().filter_map(Json::as_str) {
                if !shape.required.contains(&name) {
                    shape.required.push(name);
                }
            }
            shape.names = shape.names.or(part.get("propertyNames"));
            for keyword in ["additionalProperties", "unevaluatedProperties"] {
                match part.get(keyword) {
                    Some(Json::Bool(false)) => shape.closed = true,
                    Some(schema) => shape.additional = shape.additional.or(Some(schema)),
                    None => {}
                }
            }
        }
        shape
    }
}
