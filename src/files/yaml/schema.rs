//! Reading a JSON Schema as schemars writes it: references, kinds, choices.

use super::form::Forms;
use crate::diagnostics::text::quote_list;
use serde_json::{Map, Value as Json};

/// How often one reference may lead to the next: a circle ends here.
const CHAIN: usize = 16;
/// The most choices listed in a message.
pub(super) const LIST_LIMIT: usize = 40;

/// Which kinds of values are meant, as a set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Kinds(u8);

impl Kinds {
    pub(super) const NONE: Kinds = Kinds(0);
    pub(super) const NULL: Kinds = Kinds(1);
    pub(super) const BOOL: Kinds = Kinds(2);
    pub(super) const WHOLE: Kinds = Kinds(4);
    pub(super) const FRACTION: Kinds = Kinds(8);
    pub(super) const NUMBER: Kinds = Kinds(12);
    pub(super) const TEXT: Kinds = Kinds(16);
    pub(super) const LIST: Kinds = Kinds(32);
    pub(super) const MAP: Kinds = Kinds(64);
    pub(super) const ANY: Kinds = Kinds(127);

    pub(super) fn meets(self, other: Kinds) -> bool {
        self.0 & other.0 != 0
    }

    /// The kinds without null.
    pub(super) fn filled(self) -> Kinds {
        Kinds(self.0 & !Kinds::NULL.0)
    }

    pub(super) fn is_text_only(self) -> bool {
        self.filled() == Kinds::TEXT
    }

    pub(super) fn and(self, other: Kinds) -> Kinds {
        Kinds(self.0 & other.0)
    }

    pub(super) fn or(self, other: Kinds) -> Kinds {
        Kinds(self.0 | other.0)
    }

    fn named(name: &str) -> Kinds {
        match name {
            "null" => Kinds::NULL,
            "boolean" => Kinds::BOOL,
            "integer" => Kinds::WHOLE,
            "number" => Kinds::NUMBER,
            "string" => Kinds::TEXT,
            "array" => Kinds::LIST,
            "object" => Kinds::MAP,
            _ => Kinds::ANY,
        }
    }

    fn of_json(value: &Json) -> Kinds {
        match value {
            Json::Null => Kinds::NULL,
            Json::Bool(_) => Kinds::BOOL,
            Json::Number(n) if n.is_f64() => Kinds::FRACTION,
            Json::Number(_) => Kinds::WHOLE,
            Json::String(_) => Kinds::TEXT,
            Json::Array(_) => Kinds::LIST,
            Json::Object(_) => Kinds::MAP,
        }
    }

    /// The kinds in words, such as `a number or text`.
    pub(super) fn words(self) -> String {
        let names = [
            (Kinds::BOOL, "true or false"),
            (Kinds::FRACTION, "a number"),
            (Kinds::WHOLE, "a whole number"),
            (Kinds::TEXT, "text"),
            (Kinds::LIST, "a list"),
            (Kinds::MAP, "a map"),
        ];
        let number = self.meets(Kinds::FRACTION);
        let words: Vec<&str> = names
            .iter()
            .filter(|(kind, _)| self.meets(*kind) && !(*kind == Kinds::WHOLE && number))
            .map(|(_, name)| *name)
            .collect();
        words.join(" or ")
    }
}

/// A schema with its definitions at hand.
#[derive(Clone, Copy)]
pub(super) struct Schemas<'s> {
    pub(super) root: &'s Json,
    pub(super) forms: &'s Forms,
}

impl<'s> Schemas<'s> {
    /// What `$ref` points at.
    pub(super) fn target(self, schema: &'s Json) -> Option<&'s Json> {
        let reference = schema.get("$ref")?.as_str()?;
        let pointer = reference.strip_prefix('#')?;
        if pointer.is_empty() {
            return Some(self.root);
        }
        self.root.pointer(pointer)
    }

    /// The schema itself and all it refers to or joins, without its choices.
    pub(super) fn parts(self, schema: &'s Json) -> Vec<&'s Json> {
        let mut parts = Vec::new();
        self.collect(schema, &mut parts, 0);
        parts
    }

    fn collect(self, schema: &'s Json, parts: &mut Vec<&'s Json>, depth: usize) {
        if depth > CHAIN {
            return;
        }
        parts.push(schema);
        if let Some(target) = self.target(schema) {
            self.collect(target, parts, depth + 1);
        }
        for part in array(schema, "allOf") {
            self.collect(part, parts, depth + 1);
        }
    }

    /// The kinds of values a schema takes, its choices included.
    pub(super) fn kinds(self, schema: &'s Json) -> Kinds {
        self.kinds_within(schema, 0)
    }

    fn kinds_within(self, schema: &'s Json, depth: usize) -> Kinds {
        if depth > CHAIN {
            return Kinds::ANY;
        }
        let mut kinds = Kinds::ANY;
        for part in self.parts(schema) {
            kinds = kinds.and(own_kinds(part));
            for choices in choices(part) {
                let any = choices.iter().fold(Kinds::NONE, |sum, choice| {
                    sum.or(self.kinds_within(choice, depth + 1))
                });
                kinds = kinds.and(any);
            }
        }
        kinds
    }

    /// The texts a schema is limited to, if it is.
    pub(super) fn texts(self, schema: &'s Json) -> Option<Vec<&'s str>> {
        self.parts(schema).into_iter().find_map(own_texts)
    }

    /// The value a schema's property `name` must have, if it must have one.
    pub(super) fn tag_value(self, schema: &'s Json, name: &str) -> Option<&'s str> {
        let parts = self.parts(schema);
        let property = parts
            .iter()
            .find_map(|part| part.get("properties")?.get(name))?;
        match self.texts(property)?[..] {
            [only] => Some(only),
            _ => None,
        }
    }

    /// The property that tells all these maps apart by its value, such as `kind`.
    pub(super) fn tag(self, maps: &[&'s Json]) -> Option<&'s str> {
        let first = self.parts(maps.first()?);
        let names = first
            .iter()
            .filter_map(|part| part.get("properties")?.as_object());
        let mut names = names.flat_map(Map::keys);
        let tells = |name: &&String| {
            maps.iter().all(|map| {
                let required = self.parts(map).iter().any(|part| {
                    array(part, "required")
                        .iter()
                        .any(|r| r.as_str() == Some(name))
                });
                required && self.tag_value(map, name).is_some()
            })
        };
        names.find(tells).map(String::as_str)
    }

    /// The one key each of these maps has, if each has one and no other: an enum
    /// whose variant is named by its key.
    pub(super) fn only_keys(self, maps: &[&'s Json]) -> Option<Vec<&'s str>> {
        let only = |map: &&'s Json| {
            let parts = self.parts(map);
            let closed = parts
                .iter()
                .any(|p| p.get("additionalProperties") == Some(&Json::Bool(false)));
            let mut names = parts
                .iter()
                .filter_map(|p| p.get("properties")?.as_object())
                .flat_map(Map::keys);
            match (names.next(), names.next()) {
                (Some(name), None) if closed => Some(name.as_str()),
                _ => None,
            }
        };
        maps.iter().map(only).collect()
    }

    /// The keys of the map a schema describes, those that must be there first; of an
    /// optional map too.
    pub(super) fn keys(self, schema: &'s Json) -> Vec<&'s str> {
        let mut parts = self.parts(schema);
        for list in parts.clone().into_iter().flat_map(choices) {
            let mut filled = list
                .iter()
                .filter(|choice| self.kinds(choice) != Kinds::NULL);
            if let (Some(only), None) = (filled.next(), filled.next()) {
                parts.extend(self.parts(only));
            }
        }
        let required = parts.iter().flat_map(|part| array(part, "required"));
        let mut keys: Vec<&str> = required.filter_map(Json::as_str).collect();
        let known = parts
            .iter()
            .filter_map(|part| part.get("properties")?.as_object());
        for key in known.flat_map(Map::keys) {
            if !keys.contains(&key.as_str()) {
                keys.push(key);
            }
        }
        keys
    }

    /// What a schema expects, in words.
    pub(super) fn expected(self, schema: &'s Json) -> String {
        for part in self.parts(schema) {
            let form = part.get("format").and_then(Json::as_str);
            if let Some(form) = form.and_then(|name| self.forms.get(name)) {
                return form.expected.to_owned();
            }
            if let Some(texts) = own_texts(part) {
                return one_of(&texts);
            }
            for choices in choices(part) {
                let filled = || choices.iter().filter(|c| self.kinds(c) != Kinds::NULL);
                let texts: Option<Vec<Vec<&str>>> = filled().map(|c| self.texts(c)).collect();
                if let Some(texts) = texts.filter(|texts| !texts.is_empty()) {
                    return one_of(&texts.concat());
                }
                let mut words: Vec<String> = Vec::new();
                for choice in filled() {
                    let word = self.expected(choice);
                    if !words.contains(&word) {
                        words.push(word);
                    }
                }
                if !words.is_empty() {
                    return words.join(", or ");
                }
            }
        }
        self.kinds(schema).words()
    }
}

/// `one of` the texts, or the only one.
pub(super) fn one_of(texts: &[&str]) -> String {
    let list = quote_list(texts.iter().copied(), LIST_LIMIT);
    match texts {
        [_] => list,
        _ => format!("one of {list}"),
    }
}

/// A keyword's array, empty if it has none.
pub(super) fn array<'s>(schema: &'s Json, keyword: &str) -> &'s [Json] {
    schema
        .get(keyword)
        .and_then(Json::as_array)
        .map_or(&[], Vec::as_slice)
}

/// A schema's lists of choices.
pub(super) fn choices(schema: &Json) -> impl Iterator<Item = &[Json]> {
    let lists = ["anyOf", "oneOf"].map(|keyword| array(schema, keyword));
    lists.into_iter().filter(|list| !list.is_empty())
}

/// The kinds a schema takes, without what it refers to or chooses from.
pub(super) fn own_kinds(schema: &Json) -> Kinds {
    if schema == &Json::Bool(false) {
        return Kinds::NONE;
    }
    let mut kinds = match schema.get("type") {
        Some(Json::String(name)) => Kinds::named(name),
        Some(Json::Array(names)) => names
            .iter()
            .filter_map(Json::as_str)
            .fold(Kinds::NONE, |sum, name| sum.or(Kinds::named(name))),
        _ => Kinds::ANY,
    };
    if let Some(value) = schema.get("const") {
        kinds = kinds.and(Kinds::of_json(value));
    }
    if let Some(Json::Array(values)) = schema.get("enum") {
        let any = values
            .iter()
            .fold(Kinds::NONE, |sum, v| sum.or(Kinds::of_json(v)));
        kinds = kinds.and(any);
    }
    kinds
}

fn own_texts(schema: &Json) -> Option<Vec<&str>> {
    if let Some(text) = schema.get("const").and_then(Json::as_str) {
        return Some(vec![text]);
    }
    let values = schema.get("enum")?.as_array()?;
    let texts: Vec<&str> = values.iter().filter_map(Json::as_str).collect();
    (!texts.is_empty()).then_some(texts)
}

/// What several schemas say of one map together.
pub(super) struct Shape<'s> {
    pub(super) properties: Vec<(&'s str, &'s Json)>,
    pub(super) required: Vec<&'s str>,
    /// What any other key must be.
    pub(super) additional: Option<&'s Json>,
    pub(super) names: Option<&'s Json>,
    /// Whether no other key is allowed.
    pub(super) closed: bool,
}

impl<'s> Shape<'s> {
    pub(super) fn of(parts: &[&'s Json]) -> Shape<'s> {
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
