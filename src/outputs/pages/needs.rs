//! What a template uses: parents, includes, components, however far away.
//!
//! The engine keeps this to itself, so the tags are read here once more. The
//! reading is generous: inside a tag, any `<name` that is a component's name
//! counts as a use. A use too many makes a page again for nothing; a use too
//! few would leave an old page in the folio, and that cannot happen, since the
//! engine knows no other way to name a part than these three tags.

use std::collections::{BTreeMap, BTreeSet};

/// A piece of text and the names it uses.
#[derive(Debug, Default)]
struct Part {
    text: String,
    templates: BTreeSet<String>,
    components: BTreeSet<String>,
}

/// All templates and components, with what each uses.
#[derive(Debug, Default)]
pub(super) struct Needs {
    /// By template: its text without the components it defines.
    templates: BTreeMap<String, Part>,
    /// By component.
    components: BTreeMap<String, Part>,
}

impl Needs {
    /// Reads the templates, which the engine has found sound.
    pub(super) fn new(templates: &[(String, String)]) -> Self {
        let mut needs = Needs::default();
        for (name, text) in templates {
            let mut own = Part::default();
            let mut component: Option<(String, Part)> = None;
            let mut rest = text.as_str();
            while !rest.is_empty() {
                let (piece, after) = next_piece(rest);
                rest = after;
                let words = tag_words(piece);
                if words.first() == Some(&"component")
                    && let Some(name) = words.get(1)
                {
                    component = Some(((*name).to_string(), Part::default()));
                }
                let part = component.as_mut().map_or(&mut own, |(_, part)| part);
                part.text.push_str(piece);
                if is_tag(piece) {
                    part.read(piece, &words);
                }
                if words.first() == Some(&"endcomponent")
                    && let Some((name, part)) = component.take()
                {
                    needs.components.insert(name, part);
                }
            }
            needs.templates.insert(name.clone(), own);
        }
        needs
    }

    /// Calls with the name and text of every part a template uses, in a stated order.
    pub(super) fn visit(&self, template: &str, mut with: impl FnMut(&str, &str)) {
        let mut templates = BTreeSet::new();
        let mut components = BTreeSet::new();
        let mut waiting = vec![(true, template)];
        while let Some((is_template, name)) = waiting.pop() {
            let (seen, parts) = if is_template {
                (&mut templates, &self.templates)
            } else {
                (&mut components, &self.components)
            };
            if let Some(part) = parts.get(name)
                && seen.insert(name)
            {
                waiting.extend(part.templates.iter().map(|n| (true, n.as_str())));
                waiting.extend(part.components.iter().map(|n| (false, n.as_str())));
            }
        }
        with("for", template);
        for name in templates {
            with(name, &self.templates[name].text);
        }
        for name in components {
            with(name, &self.components[name].text);
        }
    }

    /// How long a template's text is with all it uses, as a first guess of a page's size.
    pub(super) fn size(&self, template: &str) -> usize {
        let mut size = 0;
        self.visit(template, |_, text| size += text.len());
        size
    }
}

impl Part {
    /// Notes what a tag uses.
    fn read(&mut self, tag: &str, words: &[&str]) {
        if matches!(words.first(), Some(&("extends" | "include")))
            && let Some(name) = quoted(tag)
        {
            self.templates.insert(name.to_string());
        }
        for (at, _) in tag.match_indices('<') {
            let name: String = tag[at + 1..]
                .trim_start()
                .chars()
                .take_while(|c| c.is_alphanumeric() || matches!(c, '_' | '.'))
                .collect();
            if !name.is_empty() {
                self.components.insert(name);
            }
        }
    }
}

/// The text up to the next tag, or the tag itself, and what comes after.
/// Comments are pieces too; text kept raw is read as if it were not, which can
/// only add uses.
fn next_piece(text: &str) -> (&str, &str) {
    let ends = [("{#", "#}"), ("{%", "%}"), ("{{", "}}")];
    for (open, close) in ends {
        if text.starts_with(open) {
            return text.split_at(piece_end(text, close));
        }
    }
    let end = ends
        .iter()
        .filter_map(|(open, _)| text.find(open))
        .min()
        .unwrap_or(text.len());
    text.split_at(end)
}

/// Where the tag or comment a text begins with ends. In a tag, a quoted text may
/// hold the closing mark.
fn piece_end(text: &str, close: &str) -> usize {
    let mut quote = None;
    for (at, character) in text.char_indices().skip(2) {
        match quote {
            Some(open) if character == open => quote = None,
            Some(_) => {}
            None if text[at..].starts_with(close) => return at + close.len(),
            None if close != "#}" && matches!(character, '"' | '\'' | '`') => {
                quote = Some(character);
            }
            None => {}
        }
    }
    text.len()
}

fn is_tag(piece: &str) -> bool {
    piece.starts_with("{%") || piece.starts_with("{{")
}

/// The first words of a statement; none for other pieces.
fn tag_words(piece: &str) -> Vec<&str> {
    let Some(inner) = piece.strip_prefix("{%") else {
        return Vec::new();
    };
    inner
        .trim_start_matches('-')
        .split(|c: char| !(c.is_alphanumeric() || matches!(c, '_' | '.')))
        .filter(|word| !word.is_empty())
        .take(2)
        .collect()
}

/// The text between a tag's first pair of quotes.
fn quoted(tag: &str) -> Option<&str> {
    let open = tag.find(['"', '\'', '`'])?;
    let quote = tag[open..].chars().next()?;
    let inner = &tag[open + 1..];
    inner.find(quote).map(|end| &inner[..end])
}
