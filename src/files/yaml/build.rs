//! From a parser's events to a [`Tree`].

use super::scalar::{Plain, classify};
use super::tree::{DEPTH_LIMIT, Entry, Node, Scalar, Span, Tree, Value, clamp};
use super::words;
use crate::diagnostics::text::{is_refused, line, line_starts, quote, says_refused};
use crate::diagnostics::{KeyPath, Place, Problem};
use crate::files::{Found, Source};
use saphyr_parser::{Event, Marker, Parser, ScalarStyle, Span as Marks};
use std::collections::HashMap;

impl Tree {
    /// Reads a file's text.
    pub fn parse(source: &Source) -> Tree {
        let mut builder = Builder::new(source);
        if refused_characters(source, &mut builder.found) {
            builder.broken = true;
        }
        builder.raw_refused = !builder.found.is_empty();
        let outcome = builder.run();
        if let Err(problem) = outcome {
            // A control character is the likelier cause of whatever follows from it.
            if !builder.broken {
                builder.found.push(*problem);
            }
            builder.broken = true;
        }
        while let Some(frame) = builder.stack.pop() {
            let end = frame.span.start;
            builder.finish(frame, end);
        }
        if builder.root.is_none() && !builder.broken {
            builder.broken = true;
            builder.found.push(
                Problem::error(
                    "empty-file",
                    &*source.file,
                    KeyPath::root(),
                    "the file is empty",
                )
                .at(1, 1)
                .hint("bring it back as it was, or remove it"),
            );
        }
        Tree {
            root: builder.root,
            problems: builder.found.into_problems(&source.file),
            broken: builder.broken,
        }
    }
}

/// Characters as they stand in the text that are refused there, comments
/// included: the first of each line, and whether the parser could stumble over one.
fn refused_characters(source: &Source, found: &mut Found) -> bool {
    let mut stumbles = false;
    if !source.text.contains(is_refused) {
        return stumbles;
    }
    let starts = line_starts(&source.text);
    for number in 1..=starts.len() {
        let text = line(&source.text, &starts, number).unwrap_or_default();
        let Some((column, c)) = text.chars().enumerate().find(|(_, c)| is_refused(*c)) else {
            continue;
        };
        stumbles |= text.contains(|c: char| {
            is_refused(c) && (c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{FEFF}'))
        });
        found.push(
            Problem::error(
                "control-character",
                &*source.file,
                KeyPath::root(),
                says_refused(c),
            )
            .at(number, column + 1)
            .hint(REFUSED_HINT),
        );
    }
    stumbles
}

/// What to do about a character that is refused.
const REFUSED_HINT: &str = "take it out; it can't be seen, and acts on what stands around it";

/// A map or list that is still open.
struct Frame {
    span: Span,
    /// Whether it is written in brackets.
    flow: bool,
    tagged: bool,
    inside: Inside,
}

enum Inside {
    List(Vec<Node>),
    Map {
        entries: Vec<Entry>,
        key: Option<Node>,
        seen: HashMap<String, Place>,
    },
}

struct Builder<'a> {
    source: &'a Source,
    starts: Vec<usize>,
    end: Place,
    stack: Vec<Frame>,
    root: Option<Node>,
    found: Found,
    /// Whether refused characters stand in the text as they are, and are reported.
    raw_refused: bool,
    broken: bool,
}

impl<'a> Builder<'a> {
    fn new(source: &'a Source) -> Self {
        let starts = line_starts(&source.text);
        Builder {
            source,
            end: clamp(
                &source.text,
                &starts,
                Place {
                    line: usize::MAX,
                    column: 1,
                },
            ),
            starts,
            stack: Vec::new(),
            root: None,
            found: Found::default(),
            raw_refused: false,
            broken: false,
        }
    }

    fn run(&mut self) -> Result<(), Box<Problem>> {
        let source = self.source;
        let mut parser = Parser::new_from_str(&source.text);
        let mut documents = 0;
        while let Some(event) = parser.next_event() {
            let (event, marks) = match event {
                Ok(event) => event,
                Err(error) => return Err(Box::new(self.syntax(&error))),
            };
            if matches!(event, Event::DocumentStart(_)) {
                documents += 1;
                if documents > 1 {
                    let place = self.place(marks.start);
                    return Err(Box::new(self.second_document(place)));
                }
            }
            self.take(event, marks)?;
        }
        Ok(())
    }

    fn take(&mut self, event: Event<'_>, marks: Marks) -> Result<(), Box<Problem>> {
        let span = Span {
            start: self.place(marks.start),
            end: self.place(marks.end),
        };
        match event {
            Event::Alias(_) => self.take_alias(span),
            Event::Scalar(text, style, anchor, tag) => {
                let refused = self.refuse(span, anchor, tag.as_deref().map(ToString::to_string));
                self.take_scalar(text.into_owned(), style, span, refused);
            }
            Event::SequenceStart(anchor, tag) => {
                let tagged = self.refuse(span, anchor, tag.as_deref().map(ToString::to_string));
                self.open(span, tagged, Inside::List(Vec::new()))?;
            }
            Event::MappingStart(anchor, tag) => {
                let tagged = self.refuse(span, anchor, tag.as_deref().map(ToString::to_string));
                let map = Inside::Map {
                    entries: Vec::new(),
                    key: None,
                    seen: HashMap::new(),
                };
                self.open(span, tagged, map)?;
            }
            Event::SequenceEnd | Event::MappingEnd => {
                if let Some(frame) = self.stack.pop() {
                    self.finish(frame, span.end);
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn open(&mut self, span: Span, tagged: bool, inside: Inside) -> Result<(), Box<Problem>> {
        if self.stack.len() >= DEPTH_LIMIT {
            let message = format!("maps and lists lie more than {DEPTH_LIMIT} deep in each other");
            // The path would be as deep, and say nothing.
            let problem = Problem::error("too-deep", &*self.source.file, KeyPath::root(), message)
                .at(span.start.line, span.start.column)
                .hint("no file of a lab needs to be that deep; is a bracket missing?");
            return Err(Box::new(problem));
        }
        self.stack.push(Frame {
            span,
            flow: span.start != span.end,
            tagged,
            inside,
        });
        Ok(())
    }

    fn finish(&mut self, frame: Frame, end: Place) {
        let span = Span {
            start: frame.span.start,
            end: end.max(frame.span.end),
        };
        let value = match frame.inside {
            _ if frame.tagged => Value::Refused,
            Inside::List(items) => Value::List(items),
            Inside::Map { entries, .. } => Value::Map(entries),
        };
        self.attach(Node { span, value });
    }

    fn attach(&mut self, node: Node) {
        let Some(frame) = self.stack.last_mut() else {
            self.root = Some(node);
            return;
        };
        let refused = match &mut frame.inside {
            Inside::List(items) => {
                items.push(node);
                None
            }
            Inside::Map { entries, key, seen } => match key.take() {
                Some(key) => {
                    entries.push(Entry { key, value: node });
                    None
                }
                None => {
                    let refused = refuse_key(&self.source.file, &node, seen);
                    *key = Some(node);
                    refused
                }
            },
        };
        if let Some(mut problem) = refused {
            problem.path = self.path();
            self.found.push(problem);
        }
    }

    fn take_scalar(&mut self, text: String, style: ScalarStyle, span: Span, refused: bool) {
        let plain = style == ScalarStyle::Plain;
        // A return, which only an escape can write, goes back to a line's beginning.
        if let Some(c) = text.chars().find(|c| is_refused(*c) || *c == '\r') {
            // Written as an escape; as they are, they are reported already.
            let escaped = style == ScalarStyle::DoubleQuoted
                && (!self.raw_refused || !self.source.text.contains(c));
            if escaped {
                self.found.push(
                    self.problem("control-character", span.start, says_refused(c))
                        .hint(REFUSED_HINT),
                );
            }
            let value = Value::Refused;
            return self.attach(Node { span, value });
        }
        if plain && !refused && classify(&text) == Plain::NotFinite {
            let message = format!("{} is no number a reading can have", quote(&text));
            self.found.push(
                self.problem("not-finite", span.start, message)
                    .hint("leave the value out if there is none; put it in quotes if it is text"),
            );
            let value = Value::Refused;
            return self.attach(Node { span, value });
        }
        let value = if refused {
            Value::Refused
        } else {
            Value::Scalar(Scalar { text, plain })
        };
        self.attach(Node { span, value });
    }

    fn take_alias(&mut self, span: Span) {
        // `<<: *x` is reported once, at its key.
        let merged = self.stack.last().is_some_and(|frame| match &frame.inside {
            Inside::Map { key: Some(key), .. } => is_merge(key),
            _ => false,
        });
        if !merged {
            self.found.push(
                self.problem(
                    "alias-refused",
                    span.start,
                    "an alias (`*name`) is not read here",
                )
                .hint("write the value out"),
            );
        }
        let value = Value::Refused;
        self.attach(Node { span, value });
    }

    /// Reports an anchor and a tag; whether there was a tag.
    fn refuse(&mut self, span: Span, anchor: usize, tag: Option<String>) -> bool {
        if anchor > 0 {
            self.found.push(
                self.problem(
                    "alias-refused",
                    span.start,
                    "an anchor (`&name`) is not read here",
                )
                .hint("take it out, and write the value out wherever it is needed"),
            );
        }
        if let Some(tag) = &tag {
            let message = format!("a tag ({}) is not read here", quote(&shown_tag(tag)));
            self.found.push(
                self.problem("tag-refused", span.start, message)
                    .hint("take it out; put the value in quotes if it is text"),
            );
        }
        tag.is_some()
    }

    fn problem(&self, code: &'static str, place: Place, message: impl Into<String>) -> Problem {
        Problem::error(code, &*self.source.file, self.path(), message).at(place.line, place.column)
    }

    /// The way to the value that comes next.
    fn path(&self) -> KeyPath {
        let mut path = KeyPath::root();
        for frame in &self.stack {
            match &frame.inside {
                Inside::List(items) => path = path.index(items.len()),
                Inside::Map { key: Some(key), .. } => {
                    if let Value::Scalar(scalar) = &key.value {
                        path = path.key(scalar.text.clone());
                    }
                }
                Inside::Map { .. } => {}
            }
        }
        path
    }

    fn second_document(&self, place: Place) -> Problem {
        self.problem(
            "second-document",
            place,
            "a second document begins here; a file holds one",
        )
        .hint("take out the `---`, or move what follows into a file of its own")
    }

    fn syntax(&self, error: &saphyr_parser::ScanError) -> Problem {
        let place = clamp(&self.source.text, &self.starts, self.place(*error.marker()));
        let text = line(&self.source.text, &self.starts, place.line).unwrap_or_default();
        let open = self.stack.iter().rev().find(|frame| frame.flow);
        let open = open.map(|frame| (frame.span.start, matches!(frame.inside, Inside::List(_))));
        let below = line(&self.source.text, &self.starts, place.line + 1).unwrap_or_default();
        let said = words::of_syntax(error.info(), text, below, open);
        if said.code == "alias-refused" {
            return self.problem(said.code, place, said.message).hint(said.hint);
        }
        // Which value was meant can't be known any more: no path.
        Problem::error(said.code, &*self.source.file, KeyPath::root(), said.message)
            .at(place.line, place.column)
            .hint(said.hint)
    }

    /// A mark as a place; one after the last line is the end of the text.
    fn place(&self, mark: Marker) -> Place {
        if mark.line() > self.starts.len() {
            return self.end;
        }
        Place {
            line: mark.line().max(1),
            column: mark.col() + 1,
        }
    }
}

fn is_merge(key: &Node) -> bool {
    matches!(&key.value, Value::Scalar(scalar) if scalar.plain && scalar.text == "<<")
}

fn shown_tag(tag: &str) -> String {
    tag.replacen("tag:yaml.org,2002:!", "!!", 1)
}

/// Why a key is refused, if it is; the way to it is filled in by the caller.
fn refuse_key(file: &str, key: &Node, seen: &mut HashMap<String, Place>) -> Option<Problem> {
    let place = key.span.start;
    let problem = |code, message: String| {
        let problem = Problem::error(code, file, KeyPath::root(), message);
        problem.at(place.line, place.column).on_key()
    };
    let Value::Scalar(scalar) = &key.value else {
        // An alias or a tag has been reported already.
        let refused = key.value == Value::Refused;
        let message = "a key must be one word, not a list or a map".to_owned();
        return (!refused).then(|| {
            problem("wrong-type", message)
                .hint("put the value in quotes if it begins with a bracket")
        });
    };
    if is_merge(key) {
        let message = "a merge key (`<<`) is not read here".to_owned();
        return Some(problem("alias-refused", message).hint("write the values out"));
    }
    if let Some(first) = seen.get(&scalar.text) {
        let message = format!(
            "the key {} stands twice in this map; first at line {}, column {}",
            quote(&scalar.text),
            first.line,
            first.column
        );
        return Some(problem("duplicate-key", message).hint("keep one of the two"));
    }
    seen.insert(scalar.text.clone(), place);
    None
}
