//! Writing what is new as its neighbours are written.

use super::patch::{Text, spaces};
use super::{New, NotEdited};
use crate::files::yaml::{Entry, Node, Value, stays_text};

/// Sets an entry that is there to these words.
pub(super) fn set_words(
    text: &mut Text<'_>,
    entry: &Entry,
    words: &[String],
) -> Result<(), NotEdited> {
    let value = &entry.value;
    match &value.value {
        _ if super::is_empty(value) => {
            let written = match words {
                [one] => word(one),
                many => flow_list(many, ", "),
            };
            text.insert(text.after_colon(entry), format!(" {written}"));
            Ok(())
        }
        Value::Scalar(scalar) => {
            let (range, raw) = text.raw(value)?;
            let first = if scalar.text == words[0] {
                raw.to_owned()
            } else {
                like(raw, &words[0])
            };
            let with = match words {
                [_] => first,
                [_, rest @ ..] => {
                    let rest: Vec<String> = rest.iter().map(|one| like(raw, one)).collect();
                    format!("[{first}, {}]", rest.join(", "))
                }
                [] => return Ok(()),
            };
            if with != raw {
                text.replace(range, with);
            }
            Ok(())
        }
        Value::List(items) => set_items(text, value, items, words),
        Value::Map(_) | Value::Refused => Err(NotEdited::at(
            value,
            "a map stands where readings should be",
        )),
    }
}

fn set_items(
    text: &mut Text<'_>,
    list: &Node,
    items: &[Node],
    words: &[String],
) -> Result<(), NotEdited> {
    let mut old = Vec::with_capacity(items.len());
    for item in items {
        let Value::Scalar(scalar) = &item.value else {
            return Err(NotEdited::at(
                item,
                "a list or map stands where a reading should be",
            ));
        };
        old.push(scalar.text.as_str());
    }
    let stay = stays(&old, words);
    for (at, new) in stay.iter().zip(words) {
        if old[*at] != new {
            let (range, raw) = text.raw(&items[*at])?;
            let with = like(raw, new);
            text.replace(range, with);
        }
    }
    if stay.len() < items.len() {
        return take_out(text, list, items, &stay);
    }
    let more = &words[items.len()..];
    if more.is_empty() {
        return Ok(());
    }
    let model = match items.last() {
        Some(item) => text.raw(item)?.1,
        None => "",
    };
    let more: Vec<String> = more.iter().map(|one| like(model, one)).collect();
    if text.is_flow(list) {
        let spans: Vec<_> = items
            .iter()
            .map(|item| (text.start(item), text.end(item)))
            .collect();
        append_flow(text, list, &spans, &more);
        return Ok(());
    }
    let Some(last) = items.last() else {
        return Err(NotEdited::at(list, "the list can't be continued"));
    };
    let prefix = dash_prefix(text, last)?;
    let line_break = text.line_break();
    let added: String = more
        .iter()
        .map(|one| format!("{line_break}{prefix}{one}"))
        .collect();
    text.insert(
        text.end_with_comments(text.end(last), spaces(&prefix)),
        added,
    );
    Ok(())
}

/// The places of the items that stay when a list comes to hold these words. Where
/// the words are the old ones with some taken out, just those go; else the list is
/// cut at its end.
pub(super) fn stays(old: &[&str], words: &[String]) -> Vec<usize> {
    let mut wanted = words.iter().peekable();
    let found = old.iter().enumerate();
    let found: Vec<usize> = found
        .filter_map(|(at, old)| wanted.next_if(|word| word == old).map(|_| at))
        .collect();
    if found.len() == words.len() {
        found
    } else {
        (0..old.len().min(words.len())).collect()
    }
}

/// Takes out the items that don't stay; one at least does. A comment beside, between or
/// below them stays, on a line of its own.
fn take_out(
    text: &mut Text<'_>,
    list: &Node,
    items: &[Node],
    stay: &[usize],
) -> Result<(), NotEdited> {
    let flow = text.is_flow(list);
    let goes: Vec<usize> = (0..items.len()).filter(|at| !stay.contains(at)).collect();
    for run in goes.chunk_by(|a, b| a + 1 == *b) {
        let (first, last) = (run[0], run[run.len() - 1]);
        let range = match (first.checked_sub(1), items.get(last + 1)) {
            // In brackets the comma behind goes too, or the one before the last.
            (_, Some(next)) if flow => text.start(&items[first])..text.start(next),
            (Some(before), _) if flow => text.end(&items[before])..text.end(&items[last]),
            _ if flow => text.start(&items[first])..text.end(&items[last]),
            _ => own_line(text, &items[first])..text.line_end(text.end(&items[last])),
        };
        // A comment behind the last one must not come to stand behind another.
        let behind = text.line_end(range.end).min(text.end(list));
        if !text.text[range.start..behind.max(range.end)].contains('#') {
            text.replace(range, "");
            continue;
        }
        for at in run {
            take_out_beside_comment(text, &items[*at], flow)?;
        }
    }
    if flow {
        return Ok(());
    }
    for at in goes {
        let (start, end) = (text.start(&items[at]), text.end(&items[at]));
        let column = spaces(text.before(start));
        text.move_comments_out(end, column);
    }
    Ok(())
}

/// The byte before the line break that an item's line begins with.
fn own_line(text: &Text<'_>, item: &Node) -> usize {
    let start = text.start(item);
    let line = start - text.before(start).len();
    let before = &text.text[..line];
    let line_break = if before.ends_with("\r\n") { 2 } else { 1 };
    line.saturating_sub(line_break)
}

/// Takes out one item, and its line if nothing else stands on it.
fn take_out_beside_comment(text: &mut Text<'_>, item: &Node, flow: bool) -> Result<(), NotEdited> {
    let unusual = || {
        NotEdited::at(
            item,
            "a comment stands beside what would be taken out; take both out by hand",
        )
    };
    let start = text.start(item);
    let before = text.before(start);
    let mut end = text.end(item);
    if flow {
        let rest = &text.text[end..text.line_end(end)];
        let comma = rest.len() - rest.trim_start().len();
        if rest[comma..].starts_with(',') {
            end += comma + 1;
        }
        if !before.trim().is_empty() {
            return Err(unusual());
        }
    } else {
        dash_prefix(text, item)?;
    }
    let line_end = text.line_end(end);
    let behind = &text.text[end..line_end];
    if behind.trim().is_empty() {
        text.replace(own_line(text, item)..line_end, "");
        return Ok(());
    }
    if !behind.trim_start().starts_with('#') {
        return Err(unusual());
    }
    // The comment moves to where the reading stood.
    let indent = before.len() - before.trim_start().len();
    let line = start - before.len();
    let comment = end + (behind.len() - behind.trim_start().len());
    text.replace(line + indent..comment, "");
    Ok(())
}

/// The text before an item of a list in lines: spaces, the dash, spaces.
fn dash_prefix(text: &Text<'_>, item: &Node) -> Result<String, NotEdited> {
    let prefix = text.before(text.start(item));
    let rest = prefix.trim_start_matches(' ');
    let only_dash = rest.starts_with('-') && rest[1..].chars().all(|c| c == ' ');
    if only_dash && rest.len() > 1 {
        Ok(prefix.to_owned())
    } else {
        Err(NotEdited::at(item, "the list is written in an unusual way"))
    }
}

/// Adds to a list or map in brackets: on lines of their own if its last ones are,
/// else in the same line with the same comma.
fn append_flow(text: &mut Text<'_>, node: &Node, spans: &[(usize, usize)], more: &[String]) {
    let open = text.start(node) + 1;
    let close = text.end(node) - 1;
    let Some(&(start, end)) = spans.last() else {
        let mut added = more.join(", ");
        if text.text[open..].starts_with('#') {
            added.push(' ');
        }
        text.insert(open, added);
        return;
    };
    let indent = text.before(start);
    let own_line = indent.bytes().all(|b| b == b' ' || b == b'\t')
        && text.line_end(end) < close
        && text.text[open..start].contains(['\n', '\r']);
    if !own_line {
        let gap = match spans {
            [(_, first), (second, _), ..] => &text.text[*first..*second],
            _ => ", ",
        };
        let gap = if gap.trim() == "," && !gap.contains(['\n', '\r']) {
            gap
        } else {
            ", "
        };
        let added: String = more.iter().map(|one| format!("{gap}{one}")).collect();
        text.insert(end, added);
        return;
    }
    let rest = &text.text[end..text.line_end(end)];
    let comma = rest.trim_start().starts_with(',');
    let line_break = text.line_break();
    let mut added = String::new();
    for (at, one) in more.iter().enumerate() {
        let last = at + 1 == more.len();
        added.push_str(&format!("{line_break}{indent}{one}"));
        if !last || comma {
            added.push(',');
        }
    }
    if !comma {
        text.insert(end, ",");
    }
    text.insert(text.end_with_comments(end, indent.len()), added);
}

/// Adds an entry at the end of a map.
pub(super) fn insert_entry(
    text: &mut Text<'_>,
    map: &Node,
    key: &str,
    value: &New,
) -> Result<(), NotEdited> {
    let Value::Map(entries) = &map.value else {
        return Err(NotEdited::at(map, "no map stands where the readings are"));
    };
    if text.is_flow(map) {
        let spans: Vec<_> = entries
            .iter()
            .map(|entry| (text.start(&entry.key), text.entry_end(entry)))
            .collect();
        append_flow(text, map, &spans, &[format!("{key}: {}", flow(value))]);
        return Ok(());
    }
    let Some(last) = entries.last() else {
        return Err(NotEdited::at(map, "the map can't be continued"));
    };
    let indent = " ".repeat(entries[0].key.span.start.column - 1);
    let line_break = text.line_break();
    let written = match value {
        New::List(words) => list_like(text, entries, words),
        New::Block(inner) => block(inner, &format!("{indent}  "), line_break),
        other => format!(" {}", flow(other)),
    };
    text.insert(
        text.end_with_comments(text.entry_end(last), indent.len()),
        format!("{line_break}{indent}{key}:{written}"),
    );
    Ok(())
}

/// A list as the lists beside it are written.
fn list_like(text: &Text<'_>, beside: &[Entry], words: &[String]) -> String {
    let lists = || {
        beside.iter().filter_map(|entry| match &entry.value.value {
            Value::List(items) if !items.is_empty() => Some((&entry.value, items)),
            _ => None,
        })
    };
    let line_break = text.line_break();
    if let Some((_, items)) = lists().next().filter(|(list, _)| !text.is_flow(list))
        && let Ok(prefix) = dash_prefix(text, &items[0])
    {
        let lines = words
            .iter()
            .map(|one| format!("{line_break}{prefix}{}", word(one)));
        return lines.collect();
    }
    let gap = lists()
        .filter(|(list, items)| text.is_flow(list) && items.len() > 1)
        .map(|(_, items)| &text.text[text.end(&items[0])..text.start(&items[1])])
        .find(|gap| gap.trim() == "," && !gap.contains(['\n', '\r']));
    format!(" {}", flow_list(words, gap.unwrap_or(", ")))
}

/// Puts a map where an entry's value was left empty.
pub(super) fn fill(
    text: &mut Text<'_>,
    parent: &Node,
    entry: &Entry,
    value: &New,
) -> Result<(), NotEdited> {
    let at = text.after_colon(entry);
    match value {
        New::Block(inner) if !text.is_flow(parent) => {
            let indent = " ".repeat(entry.key.span.start.column + 1);
            let added = block(inner, &indent, text.line_break());
            text.insert(text.line_end(at), added);
        }
        other => text.insert(at, format!(" {}", flow(other))),
    }
    Ok(())
}

/// Adds a map at the end of a list.
pub(super) fn append_item(
    text: &mut Text<'_>,
    list: &Node,
    item: &[(String, New)],
) -> Result<(), NotEdited> {
    let Value::List(items) = &list.value else {
        return Err(NotEdited::at(list, "no list stands there"));
    };
    if text.is_flow(list) {
        let spans: Vec<_> = items
            .iter()
            .map(|item| (text.start(item), text.end(item)))
            .collect();
        append_flow(text, list, &spans, &[flow(&New::Flow(item.to_vec()))]);
        return Ok(());
    }
    let Some(last) = items.last() else {
        return Err(NotEdited::at(list, "the list can't be continued"));
    };
    let prefix = dash_prefix(text, last)?;
    let indent = " ".repeat(prefix.chars().count());
    let line_break = text.line_break();
    let lines = block(item, &indent, line_break);
    // The first entry stands on the dash's line.
    let first = &lines[line_break.len() + indent.len()..];
    text.insert(
        text.end_with_comments(text.end(last), spaces(&prefix)),
        format!("{line_break}{prefix}{first}"),
    );
    Ok(())
}

/// A map in lines; each begins with a line break.
pub(super) fn block(entries: &[(String, New)], indent: &str, line_break: &str) -> String {
    let mut lines = String::new();
    for (key, value) in entries {
        lines.push_str(&format!("{line_break}{indent}{key}:"));
        match value {
            New::Block(inner) if !inner.is_empty() => {
                lines.push_str(&block(inner, &format!("{indent}  "), line_break));
            }
            other => {
                lines.push(' ');
                lines.push_str(&flow(other));
            }
        }
    }
    lines
}

fn flow(value: &New) -> String {
    match value {
        New::Word(one) => word(one),
        New::Text(one) => {
            if stays_text(one) {
                word(one)
            } else {
                double_quoted(one)
            }
        }
        New::List(words) => flow_list(words, ", "),
        New::Flow(entries) | New::Block(entries) => {
            let inner: Vec<String> = entries
                .iter()
                .map(|(key, value)| format!("{key}: {}", flow(value)))
                .collect();
            format!("{{{}}}", inner.join(", "))
        }
    }
}

fn flow_list(words: &[String], gap: &str) -> String {
    let words: Vec<String> = words.iter().map(|one| word(one)).collect();
    format!("[{}]", words.join(gap))
}

/// A word in the quotes of another one.
fn like(raw: &str, new: &str) -> String {
    match raw.as_bytes().first() {
        Some(b'"') => double_quoted(new),
        Some(b'\'') if !new.contains(char::is_control) => {
            format!("'{}'", new.replace('\'', "''"))
        }
        _ => word(new),
    }
}

/// A word without quotes where it is safe to leave them out, in brackets too.
fn word(text: &str) -> String {
    let mut chars = text.chars();
    let begins = chars.next().is_some_and(|first| {
        first.is_alphanumeric()
            || first == '−'
            || (matches!(first, '-' | '+' | '.')
                && chars.next().is_some_and(|c| c.is_ascii_digit()))
    });
    let odd = |c: char| c.is_control() || matches!(c, ',' | '[' | ']' | '{' | '}' | '#' | ':');
    let reserved = matches!(
        text,
        "null" | "Null" | "NULL" | "true" | "True" | "TRUE" | "false" | "False" | "FALSE"
    );
    // A hyphen before a bracket ends a word for the parser.
    if begins && !text.contains(odd) && !text.ends_with([' ', '-']) && !reserved {
        text.to_owned()
    } else {
        double_quoted(text)
    }
}

fn double_quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            c if c.is_control() => quoted.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}
