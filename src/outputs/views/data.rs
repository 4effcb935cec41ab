//! What the pages of the open data show.

use super::{DateView, HeadView, LinkView, SiteView};
use schemars::JsonSchema;
use serde::Serialize;

/// The open data as it is now, and the editions that were sealed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DataView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The files as they are now.
    pub files: Vec<DataFileView>,
    /// The editions that were sealed, latest first.
    pub editions: Vec<EditionLinkView>,
}

/// One sealed edition: its files, which never change.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct EditionView {
    /// What every page carries; of the edition that shows this page.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The sealed edition.
    pub edition: EditionLinkView,
    /// How to cite it.
    pub cite: String,
    /// Its files.
    pub files: Vec<DataFileView>,
    /// What was corrected or taken back since, latest first.
    pub since: Vec<LaterChangeView>,
}

/// A file of the open data.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DataFileView {
    /// Its name.
    pub name: String,
    /// Its path from the folio's root.
    pub path: String,
    /// What it holds.
    pub about: String,
    /// Its length, for people; none where it changes from edition to edition.
    pub size: Option<String>,
    /// Its SHA-256, likewise.
    pub sha256: Option<String>,
}

/// A sealed edition and where its page is.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct EditionLinkView {
    /// Its name: `2026-11-26`.
    pub name: String,
    /// The edition's date.
    pub on: DateView,
    /// Its path from the folio's root.
    pub path: String,
    /// Why it was sealed, as a sentence.
    pub because: String,
    /// The language of that, where it is not the page's.
    pub because_language: Option<String>,
    /// How many shoes are in it.
    pub shoes: usize,
    /// Version of the rule set.
    pub rules_version: u32,
    /// Version of the protocol.
    pub protocol_version: u32,
}

/// A change after an edition was sealed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LaterChangeView {
    /// When.
    pub on: DateView,
    /// Of which shoe.
    pub shoe: LinkView,
    /// What changed, one line each; none of a review that was taken back.
    pub what: Vec<String>,
    /// Why, as a sentence.
    pub because: String,
    /// The language of that, where it is not the page's.
    pub because_language: Option<String>,
    /// Whether the review was taken back.
    pub withdrawn: bool,
}
