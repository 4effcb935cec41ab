//! Isolated text in a finished page: as markup where markup may stand.
//!
//! What runs from right to left leaves [`escape`] between two characters that
//! keep the text around it in order (`words::direction`). In an HTML page's text
//! they become a `bdi` element, which is also there for who copies the text or
//! reads the page without its style. Where no element may stand (a title, an
//! option, a picture, an attribute that is read) the characters stay; from
//! attributes that are addresses or names they go.
//!
//! A page without a single one, which is nearly every page, is handed back as it is.
//!
//! [`escape`]: super::escape::escape

use crate::words::direction::{ISOLATE, POP};

/// Elements that hold text alone, or elements of another kind.
const TEXT_ALONE: [&str; 6] = ["title", "option", "textarea", "script", "style", "svg"];

/// Attributes that are read by people.
const READ: [&str; 6] = [
    "alt",
    "aria-label",
    "content",
    "label",
    "placeholder",
    "title",
];

/// The page of this template with its isolates as they belong there.
pub(super) fn settle(template: &str, page: Vec<u8>) -> Vec<u8> {
    let (html, picture) = (template.ends_with(".html"), template.ends_with(".svg"));
    // The middle byte of both characters, which few pages hold at all.
    if !(html || picture) || !page.contains(&0x81) {
        return page;
    }
    match String::from_utf8(page) {
        Ok(text) if !text.contains([ISOLATE, POP]) => text.into_bytes(),
        // Pictures are drawn with faces that have no sign for them.
        Ok(text) if picture => text.replace([ISOLATE, POP], "").into_bytes(),
        Ok(text) => in_markup(&text).into_bytes(),
        Err(bytes) => bytes.into_bytes(),
    }
}

fn in_markup(page: &str) -> String {
    let mut out = String::with_capacity(page.len() + page.len() / 64);
    let mut within: Option<&str> = None;
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        let (text, from) = rest.split_at(at);
        put_text(&mut out, text, within);
        let end = end_of_tag(from);
        let (tag, after) = from.split_at(end);
        put_tag(&mut out, tag);
        within = match (within, name(tag)) {
            (None, Some(opened)) if !tag.ends_with("/>") => {
                TEXT_ALONE.into_iter().find(|element| *element == opened)
            }
            (Some(element), None) if closes(tag, element) => None,
            (within, _) => within,
        };
        rest = after;
    }
    put_text(&mut out, rest, within);
    out
}

fn put_text(out: &mut String, text: &str, within: Option<&str>) {
    if within.is_some() {
        return out.push_str(text);
    }
    for piece in text.split_inclusive([ISOLATE, POP]) {
        out.push_str(piece.trim_end_matches([ISOLATE, POP]));
        match piece.chars().next_back() {
            Some(ISOLATE) => out.push_str("<bdi>"),
            Some(POP) => out.push_str("</bdi>"),
            _ => {}
        }
    }
}

fn put_tag(out: &mut String, tag: &str) {
    let mut attribute = "";
    for (nth, piece) in tag.split('"').enumerate() {
        if nth > 0 {
            out.push('"');
        }
        // Every other piece is a value; before it stands its attribute's name.
        if nth % 2 == 0 {
            attribute = piece.trim_end_matches('=');
            attribute = attribute.rsplit(' ').next().unwrap_or_default();
            out.push_str(piece);
        } else if READ.contains(&attribute) {
            out.push_str(piece);
        } else {
            out.extend(piece.chars().filter(|c| !matches!(*c, ISOLATE | POP)));
        }
    }
}

/// Where the tag or comment that begins here ends.
fn end_of_tag(from: &str) -> usize {
    if from.starts_with("<!--") {
        return from.find("-->").map_or(from.len(), |at| at + 3);
    }
    let mut quoted = false;
    for (at, byte) in from.bytes().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            b'>' if !quoted => return at + 1,
            _ => {}
        }
    }
    from.len()
}

/// The name of the element a tag opens.
fn name(tag: &str) -> Option<&str> {
    let name = tag.strip_prefix('<')?;
    let end = name.find(|c: char| !c.is_ascii_alphanumeric())?;
    (end > 0).then_some(&name[..end])
}

fn closes(tag: &str, element: &str) -> bool {
    tag.strip_prefix("</")
        .and_then(|tag| tag.strip_prefix(element))
        .is_some_and(|after| after.trim_start().starts_with('>'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settled(page: &str) -> String {
        let page = page.replace('[', "\u{2068}").replace(']', "\u{2069}");
        let page = settle("own.html", page.into_bytes());
        let page = String::from_utf8(page).unwrap();
        page.replace('\u{2068}', "[").replace('\u{2069}', "]")
    }

    #[test]
    fn text_gets_an_element_and_what_holds_no_element_keeps_the_characters() {
        for (page, expected) in [
            ("<p>a [b] c</p>", "<p>a <bdi>b</bdi> c</p>"),
            ("[[a] 4] [b]", "<bdi><bdi>a</bdi> 4</bdi> <bdi>b</bdi>"),
            (
                "<title>[a] · b</title><p>[c]",
                "<title>[a] · b</title><p><bdi>c</bdi>",
            ),
            (
                "<svg class=\"x\"><title>[a]</title><text>[b]</text></svg>[c]",
                "<svg class=\"x\"><title>[a]</title><text>[b]</text></svg><bdi>c</bdi>",
            ),
            (
                "<select><option value=\"[a]\">[a]</option></select>",
                "<select><option value=\"a\">[a]</option></select>",
            ),
            (
                "<a href=\"x/[a]\" title=\"[a] > b\">[a]</a>",
                "<a href=\"x/a\" title=\"[a] > b\"><bdi>a</bdi></a>",
            ),
            (
                "<!-- <title> --><b>[a]</b>",
                "<!-- <title> --><b><bdi>a</bdi></b>",
            ),
            (
                "<link title=\"[a]\"/>[b]",
                "<link title=\"[a]\"/><bdi>b</bdi>",
            ),
            ("a < [b]", "a < [b]"),
        ] {
            assert_eq!(settled(page), expected);
        }
    }

    #[test]
    fn only_pages_are_marked_up() {
        let text = "\u{2068}a\u{2069}".as_bytes().to_vec();
        assert_eq!(settle("own.xml", text.clone()), text);
        assert_eq!(settle("own.png.svg", text), b"a");
        let plain = "⁴ \u{81}".as_bytes().to_vec();
        assert_eq!(settle("own.html", plain.clone()), plain);
    }
}
