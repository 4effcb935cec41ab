//! A file's whole tree against its type's JSON Schema: every problem, not the first.
//!
//! It knows what schemars writes: references, choices (untagged, tagged by a
//! property such as `kind`, named by their only key, optional), properties and
//! additional ones, items, kinds, ranges, texts to choose from, and formats
//! ([`Forms`]). Other keywords are left to serde. A key that serde knows by a
//! second name (`alias`) is not in the schema, and is unknown here.

use super::choose::Choice;
use super::form::Forms;
use super::scalar::{Plain, classify};
use super::schema::{Kinds, LIST_LIMIT, Schemas, Shape, array, choices, own_kinds};
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
pub(super) enum Way<'w> {
    Root,
    Key(&'w Way<'w>, &'w str),
    Index(&'w Way<'w>, usize),
}

impl Way<'_> {
    pub(super) fn path(&self) -> KeyPath {
        match self {
            Way::Root => KeyPath::root(),
            Way::Key(parent, key) => parent.path().key(*key),
            Way::Index(parent, index) => parent.path().index(*index),
        }
    }
}

/// Where the walk is.
#[derive(Clone, Copy)]
pub(super) struct At<'w> {
    pub(super) node: &'w Node,
    /// The key it stands under.
    pub(super) key: Option<&'w Node>,
    /// Whether the node is itself a key.
    pub(super) is_key: bool,
    pub(super) way: Way<'w>,
    /// Whether serde reads this value before it knows its type: in tagged and
    /// untagged choices a number is then no text.
    pub(super) buffered: bool,
}

pub(super) struct Walk<'s> {
    pub(super) file: &'s str,
    pub(super) schemas: Schemas<'s>,
    pub(super) outcome: Outcome,
    steps: usize,
}

impl<'s> Walk<'s> {
    pub(super) fn check(&mut self, at: &At<'_>, schema: &'s Json) {
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
    pub(super) fn report_kind(&mut self, at: &At<'_>, wanted: Kinds, schema: &'s Json) {
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
                self.only(at, number, part);
                self.range(at, number, part);
            } else if kinds_of(at.node) != Kinds::NULL && kinds.meets(Kinds::TEXT) {
                self.length(at, &scalar.text, part);
                self.form(at, &scalar.text, part);
            }
        }
    }

    /// A number that can be one only, such as the version of a file's form.
    fn only(&mut self, at: &At<'_>, value: f64, part: &Json) {
        let only = part.get("const").and_then(Json::as_f64);
        if let Some(only) = only.filter(|only| *only != value) {
            let message = format!("{value} is not known to this version; it knows {only}");
            let problem = Problem::error("not-one-of", self.file, at.way.path(), message);
            self.report(at, problem.hint(format!("write {only}")));
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

    pub(super) fn not_one_of(&mut self, at: &At<'_>, text: &str, texts: &[&str]) {
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
    pub(super) fn unknown_key(
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

    pub(super) fn report(&mut self, at: &At<'_>, problem: Problem) {
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
    pub(super) fn at_map(&self, at: &At<'_>, problem: Problem) -> Problem {
        let place = at.key.unwrap_or(at.node).span.start;
        let problem = problem.at(place.line, place.column);
        if at.key.is_some() {
            problem.on_key()
        } else {
            problem
        }
    }
}

/// The kinds a node is of.
pub(super) fn kinds_of(node: &Node) -> Kinds {
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
