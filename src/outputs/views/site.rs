//! What every page and print carries.

use schemars::JsonSchema;
use serde::Serialize;

/// What every page and print carries.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SiteView {
    /// The laboratory's name.
    pub lab: String,
    /// Who it is, in a sentence or two.
    pub about: String,
    /// Whether lab, makers and shoes are made up; the page says so.
    pub invented: bool,
    /// Whether drafts are shown; the page says so.
    pub drafts: bool,
    /// Language tag.
    pub language: String,
    /// Absolute address of the folio in this language, with a slash at its end.
    pub address: String,
    /// Absolute address of the folio's own root, where the data and the static
    /// files of all languages lie.
    pub folio: String,
    /// Where corrections and questions go.
    pub contact: String,
    /// Licence of the data.
    pub licence: LinkView,
    /// The edition's date.
    pub as_of: DateView,
    /// Version of the protocol.
    pub protocol_version: u32,
    /// Version of the rule set.
    pub rules_version: u32,
    /// The short caution.
    pub caution: String,
    /// `a4` or `us-letter`.
    pub paper: &'static str,
    /// Pages of the lab's own that the navigation names.
    pub pages: Vec<LinkView>,
}

/// A page's own head: where it lies and how it is called.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct HeadView {
    /// The title, without the lab's name.
    pub title: String,
    /// One sentence for search engines and previews.
    pub description: String,
    /// The way from the page to the root of its language: empty or some `../`.
    pub root: String,
    /// The way to the folio's own root, where the data and the static files of
    /// all languages lie.
    pub top: String,
    /// The page's path from its root, with a slash at its end or a file name.
    pub path: String,
    /// The page in each language, its own among them; empty where there is one.
    pub languages: Vec<LanguageView>,
    /// The page's facts in the schema.org vocabulary, as JSON-LD that is safe to
    /// stand unescaped inside a script element: it holds no `<`, `>` or `&`.
    pub linked_data: Option<String>,
    /// Pages of the lab's own on the same shoe or week.
    pub pages: Vec<LinkView>,
    /// The picture shown beside a link to the page.
    pub image: Option<super::ImageView>,
}

/// A page in one of the folio's languages.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LanguageView {
    /// The language's tag.
    pub tag: String,
    /// What its speakers call it.
    pub name: String,
    /// Whether it is the page's own.
    pub here: bool,
    /// Whether it is the lab's own.
    pub original: bool,
    /// The way there from the page.
    pub href: String,
    /// The absolute address.
    pub address: String,
}

/// A date, for people and for machines.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct DateView {
    /// `2026-11-26`.
    pub iso: String,
    /// `26 November 2026`.
    pub text: String,
}

/// A link and what it is called.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LinkView {
    /// What it is called.
    pub text: String,
    /// Where it leads: an absolute address, or a path from the folio's root.
    pub href: String,
}

/// A value as it is printed.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FigureView {
    /// The number, rounded: `4.21`.
    pub number: String,
    /// Its unit: `N·m`.
    pub unit: String,
    /// Expanded uncertainty in the same unit, rounded: `0.18`.
    #[serde(rename = "U")]
    pub uncertainty: Option<String>,
    /// Number and unit in the second unit: `37.3 in·lbf`.
    pub also: Option<String>,
}
