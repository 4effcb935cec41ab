//! A text, its places as bytes, and the patches that are laid on it.

use super::NotEdited;
use super::is_empty;
use crate::diagnostics::Place;
use crate::diagnostics::text::line_starts;
use crate::files::Source;
use crate::files::yaml::{Entry, Node, Value};
use std::ops::Range;

/// A stretch of the old text and what stands there in the new one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Patch {
    pub range: Range<usize>,
    pub with: String,
}

/// An edited text, and how it came about.
#[derive(Clone, Debug)]
pub(super) struct Edited {
    pub text: String,
    /// In the text's order.
    #[cfg_attr(not(test), expect(dead_code, reason = "what tests hold the text to"))]
    pub patches: Vec<Patch>,
}

/// A text while it is edited.
pub(super) struct Text<'s> {
    pub text: &'s str,
    starts: Vec<usize>,
    patches: Vec<Patch>,
}

impl<'s> Text<'s> {
    pub fn new(source: &'s Source) -> Text<'s> {
        Text {
            text: &source.text,
            starts: line_starts(&source.text),
            patches: Vec::new(),
        }
    }

    pub fn replace(&mut self, range: Range<usize>, with: impl Into<String>) {
        self.patches.push(Patch {
            range,
            with: with.into(),
        });
    }

    pub fn insert(&mut self, at: usize, text: impl Into<String>) {
        self.replace(at..at, text);
    }

    /// The text with all patches; those at one place in the order they were laid.
    pub fn finish(mut self) -> Edited {
        self.patches.sort_by_key(|patch| patch.range.start);
        let mut text = String::with_capacity(self.text.len() + 64);
        let mut at = 0;
        for patch in &self.patches {
            text.push_str(&self.text[at..patch.range.start]);
            text.push_str(&patch.with);
            at = patch.range.end;
        }
        text.push_str(&self.text[at..]);
        Edited {
            text,
            patches: self.patches,
        }
    }

    /// A place as a byte of the text.
    pub fn offset(&self, place: Place) -> usize {
        let Some(start) = self.starts.get(place.line - 1) else {
            return self.text.len();
        };
        let rest = &self.text[*start..];
        let within = rest.char_indices().nth(place.column - 1);
        within.map_or(self.text.len(), |(at, _)| start + at)
    }

    pub fn start(&self, node: &Node) -> usize {
        self.offset(node.span.start)
    }

    /// Whether a list or map is written in brackets.
    pub fn is_flow(&self, node: &Node) -> bool {
        let opens = self.text[self.start(node)..].starts_with(['[', '{']);
        opens && matches!(node.value, Value::List(_) | Value::Map(_))
    }

    /// The byte after a value's last character.
    pub fn end(&self, node: &Node) -> usize {
        match &node.value {
            Value::List(items) if !self.is_flow(node) => {
                items.last().map_or(self.start(node), |item| self.end(item))
            }
            Value::Map(entries) if !self.is_flow(node) => entries
                .last()
                .map_or(self.start(node), |entry| self.entry_end(entry)),
            Value::List(items) => self.closed(items.last().map(|item| self.end(item)), node),
            Value::Map(entries) => {
                self.closed(entries.last().map(|entry| self.entry_end(entry)), node)
            }
            Value::Scalar(_) | Value::Refused => self.scalar_end(node),
        }
    }

    /// The byte after the bracket that closes a list or map; the parser's own end
    /// takes in a comment behind it.
    fn closed(&self, last: Option<usize>, node: &Node) -> usize {
        let mut at = last.unwrap_or(self.start(node) + 1);
        while let Some(c) = self.text[at..].chars().next() {
            match c {
                '#' => at = self.line_end(at),
                ']' | '}' => return at + 1,
                c => at += c.len_utf8(),
            }
        }
        at
    }

    /// The byte after a scalar, without what the parser takes in behind it.
    fn scalar_end(&self, node: &Node) -> usize {
        let start = self.start(node);
        let end = self.offset(node.span.end).max(start);
        let raw = &self.text[start..end];
        let plain = !matches!(&node.value, Value::Scalar(scalar) if !scalar.plain);
        let length = match raw.as_bytes().first() {
            Some(quote @ (b'"' | b'\'')) if !plain => closing_quote(raw.as_bytes(), *quote),
            // A block of text ends where the next thing begins.
            _ => None,
        };
        start + length.unwrap_or(raw.trim_end().len())
    }

    /// The byte after an entry's value, or after its colon if it has none.
    pub fn entry_end(&self, entry: &Entry) -> usize {
        if is_empty(&entry.value) {
            self.after_colon(entry)
        } else {
            self.end(&entry.value)
        }
    }

    /// The byte after the colon of an entry's key, or after the key if it has none:
    /// in brackets it can be left out.
    pub fn after_colon(&self, entry: &Entry) -> usize {
        let end = self.end(&entry.key);
        let rest = self.text[end..].trim_start();
        if rest.starts_with(':') {
            self.text.len() - rest.len() + 1
        } else {
            end
        }
    }

    /// What is written for a value, if it stands on one line.
    pub fn raw(&self, node: &Node) -> Result<(Range<usize>, &'s str), NotEdited> {
        let range = self.start(node)..self.end(node);
        let raw = &self.text[range.clone()];
        let quoted = raw.starts_with(['"', '\'']);
        let block = matches!(&node.value, Value::Scalar(scalar) if !scalar.plain && !quoted);
        if block || raw.contains(['\n', '\r']) {
            return Err(NotEdited::at(node, "a value goes over several lines"));
        }
        Ok((range, raw))
    }

    /// Where the line ends that a byte stands on; its line end not counted.
    pub fn line_end(&self, at: usize) -> usize {
        self.text[at..]
            .find(['\n', '\r'])
            .map_or(self.text.len(), |found| at + found)
    }

    /// Where the line ends that a byte stands on, or the last of the comments right
    /// below it that are indented deeper than `column` (from 0): they go on with
    /// what stands there, and what is added comes behind them.
    pub fn end_with_comments(&self, at: usize, column: usize) -> usize {
        let mut end = self.line_end(at);
        loop {
            let rest = &self.text[end..];
            let line_break = if rest.starts_with("\r\n") { 2 } else { 1 };
            let below = rest.get(line_break..).unwrap_or_default();
            let indent = spaces(below);
            if indent <= column || !below[indent..].starts_with('#') {
                return end;
            }
            end = self.line_end(end + line_break);
        }
    }

    /// Moves the comments right below the line of a byte that are indented deeper than
    /// `column` (from 0) out to it: what they went on with is taken out, and they must
    /// not come to stand below another.
    pub fn move_comments_out(&mut self, at: usize, column: usize) {
        let text = self.text;
        let last = self.end_with_comments(at, column);
        let mut end = self.line_end(at);
        while end < last {
            let begin = end
                + if text[end..].starts_with("\r\n") {
                    2
                } else {
                    1
                };
            let indent = spaces(&text[begin..]);
            self.replace(begin + column..begin + indent, "");
            end = self.line_end(begin);
        }
    }

    /// The text of a line up to a byte of it.
    pub fn before(&self, at: usize) -> &'s str {
        let start = self.text[..at].rfind(['\n', '\r']).map_or(0, |at| at + 1);
        &self.text[start..at]
    }

    /// How the file ends its lines.
    pub fn line_break(&self) -> &'static str {
        match self.text.find(['\n', '\r']) {
            Some(at) if self.text[at..].starts_with("\r\n") => "\r\n",
            Some(at) if self.text[at..].starts_with('\r') => "\r",
            _ => "\n",
        }
    }
}

/// How many spaces a text begins with.
pub(super) fn spaces(text: &str) -> usize {
    text.len() - text.trim_start_matches(' ').len()
}

/// How long a quoted text is that begins with its quote.
fn closing_quote(raw: &[u8], quote: u8) -> Option<usize> {
    let mut at = 1;
    loop {
        match raw.get(at)? {
            b'\\' if quote == b'"' => at += 2,
            byte if *byte == quote => {
                if quote == b'\'' && raw.get(at + 1) == Some(&quote) {
                    at += 2;
                } else {
                    return Some(at + 1);
                }
            }
            _ => at += 1,
        }
    }
}
