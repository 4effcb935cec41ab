//! The header of a page a lab adds: a comment at the head of its template that
//! says what the page is made for, where it lies and how it is called.
//!
//! ```text
//! {# page
//! views: 1
//! made-for: each-shoe
//! address: shoes/{shoe}/bend.html
//! title: "How {title} bends"
//! nav: How it bends
//! #}
//! ```

use super::FOLDER;
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Source, yaml};
use crate::lab::MadeFor;
use crate::outputs::FolioPath;
use crate::outputs::views::VIEWS;
use schemars::JsonSchema;
use serde::Deserialize;

/// The header of a page the lab adds, as written.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct PageHeader {
    /// The version of the views' form that the template is written for; 1.
    pub views: u32,
    /// What a page is made for: `each-shoe` sees a review's view, `each-week` a
    /// week's, `once` the folio's.
    pub made_for: MadeFor,
    /// Where it lies in the folio, such as `shoes/{shoe}/bend.html` or `bends/`;
    /// `{shoe}` and `{week}` stand for their addresses.
    pub address: String,
    /// How the page is called; `{title}` stands for what the shoe or the week is called.
    pub title: String,
    /// What it holds, in one sentence, for search engines and previews.
    #[serde(default)]
    pub description: String,
    /// How links to it are called: in the folio's navigation, or, for a page of a
    /// shoe or a week, on the review's or the week's page. Without it nothing links there.
    pub nav: Option<String>,
    /// Whether the sitemap names it.
    #[serde(default = "yes")]
    pub sitemap: bool,
}

fn yes() -> bool {
    true
}

/// A page the lab adds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnPage {
    /// Its template, such as `pages/bend.html`.
    pub template: String,
    /// What its header says.
    pub header: PageHeader,
}

impl OwnPage {
    /// Where the page of a shoe, of a week or of the folio lies.
    pub(crate) fn path(&self, of: Option<&str>) -> Option<FolioPath> {
        FolioPath::new(self.address(of)).ok()
    }

    fn address(&self, of: Option<&str>) -> String {
        let mut address = self.header.address.trim_start_matches('/').to_owned();
        if let Some(of) = of {
            address = address.replace("{shoe}", of).replace("{week}", of);
        }
        if address.is_empty() || address.ends_with('/') {
            address.push_str("index.html");
        }
        address
    }

    /// How it is called.
    pub(crate) fn title(&self, title: &str) -> String {
        self.header.title.replace("{title}", title)
    }

    /// How it is described.
    pub(crate) fn description(&self, title: &str) -> String {
        match self.header.description.as_str() {
            "" => self.title(title),
            text => text.replace("{title}", title),
        }
    }

    /// Whether it is a document a reader opens, not a file for programs.
    pub(crate) fn is_html(&self) -> bool {
        self.address(Some("x")).ends_with(".html")
    }
}

/// The header's text, its lines where they are in the template; none if the
/// template has no header.
fn header_text(text: &str) -> Option<String> {
    let inner = text.trim_start_matches('\u{feff}').strip_prefix("{#")?;
    let inner = inner.strip_prefix('-').unwrap_or(inner);
    let end = inner.find("#}")?;
    let (first, rest) = inner[..end].split_once('\n')?;
    if first.trim() != "page" {
        return None;
    }
    Some(format!("\n{}\n", rest.trim_end().trim_end_matches('-')))
}

/// Reads a template's header; none if it has none.
///
/// # Errors
/// Everything that is wrong with it, placed in the template.
pub(super) fn read(template: &str, text: &str) -> Option<Result<OwnPage, Vec<Problem>>> {
    let file = format!("{FOLDER}{template}");
    let source = Source::new(file.clone(), header_text(text)?);
    let header: PageHeader = match yaml::read(&source) {
        Ok(header) => header,
        Err(problems) => return Some(Err(placed(problems, &source))),
    };
    let page = OwnPage {
        template: template.to_owned(),
        header,
    };
    let problems = check(&page, &file);
    Some(if problems.is_empty() {
        Ok(page)
    } else {
        Err(placed(problems, &source))
    })
}

/// Problems with their places in the header looked up: the template itself is no
/// YAML, so nobody can do that later.
fn placed(mut problems: Vec<Problem>, source: &Source) -> Vec<Problem> {
    yaml::place_all(&mut problems, |_| Some(source.clone()));
    problems
}

fn check(page: &OwnPage, file: &str) -> Vec<Problem> {
    let root = KeyPath::root();
    let mut problems = Vec::new();
    let mut wrong = |key: &str, message: String, hint: &str| {
        problems.push(Problem::error("page-header", file, root.key(key), message).hint(hint));
    };
    let header = &page.header;
    if header.views != VIEWS {
        wrong(
            "views",
            format!(
                "it is written for views of version {}, and this program makes version {VIEWS}",
                header.views
            ),
            "look at `solefolio schema view-review` and its like, mend the template, and write the version",
        );
    }
    let address = &header.address;
    let has = |name: &str| address.contains(&format!("{{{name}}}"));
    let (needs, other) = match header.made_for {
        MadeFor::EachShoe => (Some("shoe"), "week"),
        MadeFor::EachWeek => (Some("week"), "shoe"),
        MadeFor::Once => (None, "shoe"),
    };
    match needs {
        Some(name) if !has(name) => wrong(
            "address",
            format!("`{address}` is the same for every {name}; it needs `{{{name}}}`"),
            "write an address such as `shoes/{shoe}/bend.html` or `weeks/{week}/bend.html`",
        ),
        _ if has(other) || (needs.is_none() && has("week")) => wrong(
            "address",
            format!("`{address}` names a place that is not known of what the page is made for"),
            "say `made-for: each-shoe` for `{shoe}`, `each-week` for `{week}`, `once` for neither",
        ),
        _ if page.path(Some("x")).is_none() => wrong(
            "address",
            format!("`{address}` is no path inside the folio"),
            "use letters, digits, `-`, `_`, `.` and slashes; no part begins with a dot",
        ),
        _ => {}
    }
    if header.title.trim().is_empty() {
        wrong(
            "title",
            "the title is empty".into(),
            "say how the page is called",
        );
    }
    problems
}

#[cfg(test)]
mod tests {
    use super::*;

    fn header(lines: &str) -> Result<OwnPage, Vec<Problem>> {
        read(
            "pages/own.html",
            &format!("{{# page\n{lines}\n#}}\n<p>{{{{ head.title }}}}</p>\n"),
        )
        .expect("it has a header")
    }

    const WHOLE: &str =
        "views: 1\nmade-for: each-shoe\naddress: shoes/{shoe}/bend/\ntitle: How {title} bends";

    #[test]
    fn a_header_says_where_its_pages_lie_and_how_they_are_called() {
        let page = header(WHOLE).unwrap();
        assert_eq!(
            page.path(Some("tern-1")).unwrap().as_str(),
            "shoes/tern-1/bend/index.html"
        );
        assert_eq!(page.title("Tern 1"), "How Tern 1 bends");
        assert!(page.header.sitemap && page.header.nav.is_none());
        assert!(read("review.html", "{% extends \"base.html\" %}").is_none());
        assert!(read("review.html", "{# a remark #}\n").is_none());
    }

    #[test]
    fn a_mistake_in_a_header_is_placed_in_the_template() {
        let found = header(&WHOLE.replace("made-for", "made-fro")).unwrap_err();
        assert_eq!(found[0].file, "templates/html/pages/own.html");
        assert!(
            found
                .iter()
                .any(|problem| problem.place.is_some_and(|place| place.line == 3)),
            "{found:?}"
        );
        for (from, to, line, part) in [
            ("views: 1", "views: 7", 2, "version 7"),
            ("{shoe}", "all", 4, "the same for every shoe"),
            ("{shoe}", "{shoe}{week}", 4, "not known"),
            ("shoes/{shoe}", "../{shoe}", 4, "no path inside"),
            ("How {title} bends", "' '", 5, "empty"),
        ] {
            let found = header(&WHOLE.replace(from, to)).unwrap_err();
            assert_eq!(found.len(), 1, "{found:?}");
            assert_eq!(found[0].code, "page-header");
            assert_eq!(
                found[0].place.map(|place| place.line),
                Some(line),
                "{found:?}"
            );
            assert!(found[0].message.contains(part), "{found:?}");
        }
    }
}
