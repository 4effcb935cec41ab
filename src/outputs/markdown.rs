//! The editor's Markdown as blocks, and the blocks as HTML.
//!
//! What it is for: CommonMark in, the same content out as HTML for a page and
//! as plain blocks for a print. Both are made from one reading, so they can't
//! drift apart.
//!
//! What it guarantees: nothing the editor wrote becomes markup. Characters that
//! act instead of being seen are dropped, though an entity (`&#x202e;`) wrote them. Raw HTML is
//! dropped, images leave their alternative text, and the HTML is written from
//! blocks with every character escaped. A link keeps its address only if that
//! is `http`, `https`, `mailto`, a fragment, or a path inside the folio, read
//! from the root of the page's language, or from the folio's own where the file is
//! there once; else its text stays alone. Headings begin under the
//! page's own and skip no level. Blocks nest [`DEPTH`] deep at most; what lies
//! deeper is told at that depth.
//!
//! It never fails: every text is Markdown.

use super::views::{BlockView, SpanView};
use crate::diagnostics::text::is_refused;
use pulldown_cmark::{Event, LinkType, Options, Parser, Tag, TagEnd};
use std::borrow::Cow;

/// How deep lists and quotations may nest.
const DEPTH: usize = 6;

/// The highest heading of a page's own section is `h2`, so an editor's begin at `h3`.
const HEADING_SHIFT: u8 = 2;

/// The lowest level of an editor's headings.
const LOWEST_HEADING: u8 = 3;

/// What an address inside the folio is told from.
#[derive(Clone, Copy, Debug)]
pub(super) enum Standpoint<'a> {
    /// A page, by its ways to the root: empty or some `../`.
    Page {
        /// The way to the root of its language.
        root: &'a str,
        /// The way to the folio's own root.
        top: &'a str,
    },
    /// A print or the feed, by absolute addresses.
    Afar {
        /// The folio's address in its language, with a slash at its end.
        folio: &'a str,
        /// The address of the folio's own root, likewise.
        top: &'a str,
        /// The page's own address, for fragments.
        page: &'a str,
    },
}

/// An editor's text as the HTML a page at the folio's root holds.
pub fn markdown_as_page(markdown: &str) -> String {
    html(&blocks(markdown, Standpoint::Page { root: "", top: "" }))
}

/// An editor's text as the blocks a print of that page is set from.
pub fn markdown_as_print(markdown: &str, folio: &str, page: &str) -> Vec<BlockView> {
    let top = folio;
    blocks(markdown, Standpoint::Afar { folio, top, page })
}

/// A text as blocks.
pub(super) fn blocks(markdown: &str, from: Standpoint<'_>) -> Vec<BlockView> {
    let mut reader = Reader {
        from,
        open: vec![Frame::of(Holder::Root)],
        style: Style::default(),
        last_heading: 0,
    };
    for event in Parser::new_ext(markdown, Options::empty()) {
        reader.take(event);
    }
    reader.finish()
}

/// What a frame of open blocks becomes when it closes.
enum Holder {
    Root,
    Quote,
    List {
        /// Its first number, where it is numbered.
        first: Option<u64>,
    },
    Item,
    /// Lies too deep: its blocks join those around it.
    Dissolved,
}

/// Blocks being gathered.
struct Frame {
    holder: Holder,
    blocks: Vec<BlockView>,
    items: Vec<Vec<BlockView>>,
    spans: Vec<SpanView>,
}

impl Frame {
    fn of(holder: Holder) -> Self {
        Frame {
            holder,
            blocks: Vec::new(),
            items: Vec::new(),
            spans: Vec::new(),
        }
    }

    /// Loose text, as a tight list item has it, becomes a paragraph.
    fn flush(&mut self) {
        let text = std::mem::take(&mut self.spans);
        if text.iter().any(|span| !span.text.trim().is_empty()) {
            self.blocks.push(BlockView::Paragraph { text });
        }
    }
}

/// How text is set just now. Counters, because emphasis nests.
#[derive(Default)]
struct Style {
    emphasis: usize,
    strong: usize,
    hrefs: Vec<Option<String>>,
    code_block: Option<String>,
}

struct Reader<'a> {
    from: Standpoint<'a>,
    open: Vec<Frame>,
    style: Style,
    last_heading: u8,
}

impl Reader<'_> {
    fn top(&mut self) -> &mut Frame {
        self.open.last_mut().expect("the root is never closed")
    }

    fn take(&mut self, event: Event<'_>) {
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(tag) => self.end(tag),
            Event::Text(text) => match &mut self.style.code_block {
                Some(code) => code.extend(text.chars().filter(|c| !is_refused(*c))),
                None => self.span(&text, false),
            },
            Event::Code(text) => self.span(&text, true),
            Event::SoftBreak => self.span(" ", false),
            Event::HardBreak => self.span("\n", false),
            Event::Rule => {
                self.top().flush();
                self.top().blocks.push(BlockView::Rule);
            }
            // Raw HTML is dropped. The rest belongs to extensions that are off.
            Event::Html(_)
            | Event::InlineHtml(_)
            | Event::InlineMath(_)
            | Event::DisplayMath(_)
            | Event::FootnoteReference(_)
            | Event::TaskListMarker(_) => {}
        }
    }

    fn start(&mut self, tag: Tag<'_>) {
        match tag {
            Tag::Paragraph | Tag::Heading { .. } => self.top().flush(),
            Tag::BlockQuote(_) => self.nest(Holder::Quote),
            Tag::List(first) => self.nest(Holder::List { first }),
            Tag::Item => self.item(),
            Tag::CodeBlock(_) => {
                self.top().flush();
                self.style.code_block = Some(String::new());
            }
            Tag::Emphasis => self.style.emphasis += 1,
            Tag::Strong => self.style.strong += 1,
            Tag::Link {
                link_type: LinkType::Email,
                dest_url,
                ..
            } => {
                let href = safe_address(&format!("mailto:{dest_url}"), self.from);
                self.style.hrefs.push(href);
            }
            Tag::Link { dest_url, .. } => {
                let href = safe_address(&dest_url, self.from);
                self.style.hrefs.push(href);
            }
            _ => {}
        }
    }

    fn end(&mut self, tag: TagEnd) {
        match tag {
            TagEnd::Paragraph => self.top().flush(),
            TagEnd::Heading(level) => self.heading(level as u8),
            TagEnd::BlockQuote(_) | TagEnd::List(_) | TagEnd::Item => self.close(),
            TagEnd::CodeBlock => {
                if let Some(text) = self.style.code_block.take() {
                    self.top().blocks.push(BlockView::Code { text });
                }
            }
            TagEnd::Emphasis => self.style.emphasis -= 1,
            TagEnd::Strong => self.style.strong -= 1,
            TagEnd::Link => {
                self.style.hrefs.pop();
            }
            _ => {}
        }
    }

    /// Opens a quotation or a list, or lets it dissolve where it lies too deep.
    fn nest(&mut self, holder: Holder) {
        self.top().flush();
        let depth = self
            .open
            .iter()
            .filter(|frame| matches!(frame.holder, Holder::Quote | Holder::List { .. }))
            .count();
        self.open.push(Frame::of(if depth < DEPTH {
            holder
        } else {
            Holder::Dissolved
        }));
    }

    fn item(&mut self) {
        let in_list = matches!(self.top().holder, Holder::List { .. });
        self.open.push(Frame::of(if in_list {
            Holder::Item
        } else {
            Holder::Dissolved
        }));
    }

    fn close(&mut self) {
        let mut frame = self.open.pop().expect("only opened blocks close");
        frame.flush();
        let around = self.top();
        match frame.holder {
            Holder::Item => around.items.push(frame.blocks),
            Holder::Quote => around.blocks.push(BlockView::Quote {
                blocks: frame.blocks,
            }),
            Holder::List { first } => around.blocks.push(BlockView::List {
                numbered: first.is_some(),
                start: first.unwrap_or(1),
                items: frame.items,
            }),
            Holder::Dissolved | Holder::Root => around.blocks.extend(frame.blocks),
        }
    }

    fn heading(&mut self, level: u8) {
        let level = level.min(self.last_heading + 1).min(LOWEST_HEADING);
        let text = std::mem::take(&mut self.top().spans);
        if text.iter().any(|span| !span.text.trim().is_empty()) {
            self.last_heading = level;
            self.top().blocks.push(BlockView::Heading { level, text });
        }
    }

    fn span(&mut self, text: &str, code: bool) {
        let text = &*seen(text);
        let span = SpanView {
            text: text.to_owned(),
            emphasis: self.style.emphasis > 0,
            strong: self.style.strong > 0,
            code,
            href: self.style.hrefs.last().cloned().flatten(),
        };
        let spans = &mut self.top().spans;
        match spans.last_mut() {
            Some(last) if alike(last, &span) => last.text.push_str(text),
            _ => spans.push(span),
        }
    }

    fn finish(mut self) -> Vec<BlockView> {
        while self.open.len() > 1 {
            self.close();
        }
        self.top().flush();
        self.open.pop().map_or_else(Vec::new, |root| root.blocks)
    }
}

/// A text without characters that act instead of being seen.
fn seen(text: &str) -> Cow<'_, str> {
    if text.contains(is_refused) {
        Cow::Owned(text.chars().filter(|c| !is_refused(*c)).collect())
    } else {
        Cow::Borrowed(text)
    }
}

fn alike(a: &SpanView, b: &SpanView) -> bool {
    a.emphasis == b.emphasis && a.strong == b.strong && a.code == b.code && a.href == b.href
}

/// The address a link may have, or none.
fn safe_address(written: &str, from: Standpoint<'_>) -> Option<String> {
    let address = written.trim();
    // Browsers drop tabs and line breaks inside an address and read a backslash
    // as a slash, so what looks relative may not be.
    let acts = |c: char| c.is_control() || c == '\\' || is_refused(c);
    if address.is_empty() || address.contains(acts) {
        return None;
    }
    if let Some(fragment) = address.strip_prefix('#') {
        return Some(match from {
            Standpoint::Page { .. } => format!("#{fragment}"),
            Standpoint::Afar { page, .. } => format!("{page}#{fragment}"),
        });
    }
    let head = address.split(['/', '?', '#']).next().unwrap_or_default();
    if let Some((scheme, _)) = head.split_once(':') {
        let allowed = ["http", "https", "mailto"];
        return allowed
            .contains(&scheme.to_ascii_lowercase().as_str())
            .then(|| address.to_owned());
    }
    let path = address.strip_prefix('/').unwrap_or(address);
    let bare = path.split(['?', '#']).next().unwrap_or_default();
    // Without its slash, `/javascript:x` would be an address with a scheme on a
    // page at the folio's root.
    let first = bare.split('/').next().unwrap_or_default();
    if first.contains(':') {
        return None;
    }
    let decoded_dots = |part: &str| part.to_ascii_lowercase().replace("%2e", ".");
    if path.starts_with('/')
        || bare
            .split('/')
            .any(|part| decoded_dots(part).starts_with('.'))
    {
        return None;
    }
    Some(match from {
        // A folder's page is named, so that the link works from a disk as well.
        Standpoint::Page { root, .. } if bare.is_empty() || bare.ends_with('/') => {
            format!("{root}{bare}index.html{}", &path[bare.len()..])
        }
        Standpoint::Page { top, .. } if is_there_once(bare) => format!("{top}{path}"),
        Standpoint::Page { root, .. } => format!("{root}{path}"),
        Standpoint::Afar { top, .. } if is_there_once(bare) => format!("{top}{path}"),
        Standpoint::Afar { folio, .. } => format!("{folio}{path}"),
    })
}

/// Whether a path is that of a file the folio holds once, for all languages: data and
/// static files, but not the pages that tell of data.
fn is_there_once(path: &str) -> bool {
    let in_folder = path.starts_with("data/") || path.starts_with("static/");
    let is_page = path.ends_with('/') || path.ends_with(".html");
    (in_folder && !is_page) || path.ends_with("/data.json")
}

/// Blocks as HTML.
pub(super) fn html(blocks: &[BlockView]) -> String {
    let mut html = String::new();
    write_blocks(&mut html, blocks);
    html
}

fn write_blocks(html: &mut String, blocks: &[BlockView]) {
    for block in blocks {
        match block {
            BlockView::Heading { level, text } => {
                let level = level + HEADING_SHIFT;
                html.push_str(&format!("<h{level}>"));
                write_spans(html, text);
                html.push_str(&format!("</h{level}>\n"));
            }
            BlockView::Paragraph { text } => {
                html.push_str("<p>");
                write_spans(html, text);
                html.push_str("</p>\n");
            }
            BlockView::List {
                numbered,
                start,
                items,
            } => {
                let tag = if *numbered { "ol" } else { "ul" };
                let from = match (numbered, start) {
                    (false, _) | (true, 1) => String::new(),
                    (true, start) => format!(" start=\"{start}\""),
                };
                html.push_str(&format!("<{tag}{from}>\n"));
                for item in items {
                    html.push_str("<li>");
                    write_blocks(html, item);
                    html.push_str("</li>\n");
                }
                html.push_str(&format!("</{tag}>\n"));
            }
            BlockView::Quote { blocks } => {
                html.push_str("<blockquote>\n");
                write_blocks(html, blocks);
                html.push_str("</blockquote>\n");
            }
            BlockView::Code { text } => {
                html.push_str("<pre><code>");
                html.push_str(&escape(text));
                html.push_str("</code></pre>\n");
            }
            BlockView::Rule => html.push_str("<hr>\n"),
        }
    }
}

fn write_spans(html: &mut String, spans: &[SpanView]) {
    for span in spans {
        let mut text = escape(&span.text).replace('\n', "<br>");
        if span.code {
            text = format!("<code>{text}</code>");
        }
        if span.emphasis {
            text = format!("<em>{text}</em>");
        }
        if span.strong {
            text = format!("<strong>{text}</strong>");
        }
        if let Some(href) = &span.href {
            text = format!("<a href=\"{}\">{text}</a>", escape(href));
        }
        html.push_str(&text);
    }
}

/// A text inside HTML or XML, as content or in a quoted attribute. Characters
/// that neither may hold are dropped.
pub(super) fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            '\n' | '\t' => escaped.push(c),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => escaped.push(c),
        }
    }
    escaped
}

#[cfg(test)]
#[path = "markdown_tests.rs"]
mod tests;
