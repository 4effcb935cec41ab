//! Views across shoes: front, comparison, guide, weeks, method, feed.

use super::{DateView, HeadView, LinkView, ReviewView, ShoeView, SiteView, VerdictView, script};
use schemars::JsonSchema;
use serde::Serialize;

/// A shoe as a card or a row: what lists show of it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct EntryView {
    /// What it is.
    pub shoe: ShoeView,
    /// In one sentence whom it suits.
    pub suits: String,
    /// The language of `suits`, where it is not the page's.
    pub suits_language: Option<String>,
    /// The editor's sentence.
    pub summary: Option<String>,
    /// The language of `summary`, where it is not the page's.
    pub summary_language: Option<String>,
    /// The leading findings: label and band, or `not judged`.
    pub bands: Vec<EntryBandView>,
    /// Whether it was taken back.
    pub withdrawn: bool,
}

/// A banded finding, in a list.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct EntryBandView {
    /// The rule's name.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// The band's name; absent if it was not judged.
    pub band: Option<String>,
    /// The band, counted from 0.
    pub band_index: Option<usize>,
    /// How many bands there are.
    pub bands: usize,
    /// The score, rounded.
    pub score: Option<String>,
    /// Whether it is borderline.
    pub borderline: bool,
}

/// The front page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FrontView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The latest week that has come out.
    pub week: Option<WeekLinkView>,
    /// Its shoes.
    pub this_week: Vec<EntryView>,
    /// The shoes before it, latest first, a screenful.
    pub latest: Vec<EntryView>,
    /// All weeks, latest first.
    pub weeks: Vec<WeekLinkView>,
    /// How many shoes are out.
    pub shoes: usize,
    /// How many readings they rest on.
    pub readings: usize,
}

/// The folio as a whole, for pages and programs of the lab's own.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FolioView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The shoes whose review stands, by address.
    pub shoes: Vec<EntryView>,
    /// All weeks, latest first.
    pub weeks: Vec<WeekLinkView>,
    /// The findings and quantities, as columns of `rows`.
    pub columns: Vec<ColumnView>,
    /// The shoes with all their figures, by title.
    pub rows: Vec<CompareRowView>,
}

/// A week and where its page is.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WeekLinkView {
    /// `2026-W48`.
    pub name: String,
    /// `23 to 29 November 2026`.
    pub days: String,
    /// Its page's path from the root.
    pub path: String,
    /// How many shoes came out.
    pub shoes: usize,
}

/// A week's page and print.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WeekView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The week.
    pub week: WeekLinkView,
    /// Its shoes.
    pub shoes: Vec<EntryView>,
    /// The week before that has a page.
    pub previous: Option<WeekLinkView>,
    /// The week after that has a page.
    pub next: Option<WeekLinkView>,
    /// The print's path from the root, if it is there.
    pub pdf: Option<String>,
    /// How many shoes were measured, in a sentence.
    pub measured: String,
}

/// A week's print: its page's view and its reviews.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WeekPrintView {
    /// The week's page.
    pub week: WeekView,
    /// Its reviews, in the page's order.
    pub reviews: Vec<ReviewView>,
}

/// The comparison page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CompareView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The findings, as columns.
    pub columns: Vec<ColumnView>,
    /// The categories: key and name.
    pub categories: Vec<(String, String)>,
    /// Lists sorted beforehand.
    pub sorted: Vec<LinkView>,
    /// How many shoes there are.
    pub shoes: usize,
    /// Whether these are too many for the page, whose table is the script's then.
    pub long: bool,
    /// The shoes, as rows, by title; the first of them where they are too many.
    pub rows: Vec<CompareRowView>,
}

/// All shoes of the comparison in a plain table.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlainTableView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The findings, as columns.
    pub columns: Vec<ColumnView>,
    /// The shoes, by title.
    pub rows: Vec<PlainRowView>,
}

/// The comparison for its page's script.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CompareDataView {
    /// The page's own head.
    pub head: HeadView,
    /// The findings, as columns.
    pub columns: Vec<ColumnView>,
    /// The categories: key and name.
    pub categories: Vec<(String, String)>,
    /// The makers, each once.
    pub makers: Vec<String>,
    /// The currency that all prices are in; absent where there are several, or none.
    pub currency: Option<String>,
    /// How many shoes there are.
    pub shoes: usize,
    /// More shoes than this are not all in the page, and of so many rows only those in
    /// view are drawn.
    pub long: usize,
    /// The shoes that stand in the page, by title: lists of JSON, ready for a script,
    /// which reads one when it needs it.
    #[serde(serialize_with = "script::compare_rows")]
    #[schemars(with = "String")]
    pub rows: Vec<CompareRowView>,
}

/// All shoes of a comparison that are too many for its page, for its script.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CompareRowsView {
    /// The shoes, by title, as `view-compare-data` has the first of them.
    #[serde(serialize_with = "script::compare_rows")]
    #[schemars(with = "String")]
    pub rows: Vec<CompareRowView>,
}

/// A row of the comparison without its marks.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlainRowView {
    /// The shoe's title.
    pub title: String,
    /// The review's path from the root.
    pub path: String,
    /// The category's name.
    pub category: String,
    /// The price, in words.
    pub price: Option<String>,
    /// What each column's cell says; absent if it was not judged.
    pub cells: Vec<Option<String>>,
}

/// A column of the comparison.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ColumnView {
    /// The rule's or quantity's name.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// `band`, `value` or `quantity`.
    pub kind: &'static str,
    /// The unit, where it is a number.
    pub unit: Option<String>,
    /// The most decimals its numbers, or its scores, are printed with.
    pub places: u8,
    /// The bands' names, where it has bands.
    pub bands: Vec<String>,
}

/// A row of the comparison.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CompareRowView {
    /// What the shoe is.
    pub shoe: ShoeView,
    /// The price's amount, to sort and filter by.
    pub price: Option<f64>,
    /// The price's currency, ISO 4217.
    pub currency: Option<String>,
    /// One cell a column.
    pub cells: Vec<CellView>,
}

/// A cell of the comparison.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CellView {
    /// What is printed: a band's name, a number with its ±; absent if it was not judged.
    pub text: Option<String>,
    /// The number to sort by, unrounded.
    pub sort: Option<f64>,
    /// Expanded uncertainty of `sort`, in its unit; 0 for a score that is held at the end
    /// of its scale, absent where none is known.
    pub spread: Option<f64>,
    /// The band, counted from 0.
    pub band_index: Option<usize>,
    /// Whether it is borderline.
    pub borderline: bool,
}

/// The shop-floor fit guide, page and print.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct GuideView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// What the rows of a fit are.
    pub row_label: String,
    /// The rows' names.
    pub rows: Vec<String>,
    /// What the columns of a fit are.
    pub column_label: String,
    /// The columns' names.
    pub columns: Vec<String>,
    /// The shoes, by category and title.
    pub shoes: Vec<GuideShoeView>,
    /// What to ask the customer.
    pub questions: Vec<String>,
    /// When to send a customer to a clinician.
    pub refer: Vec<String>,
    /// The print's path from the root, if it is there.
    pub pdf: Option<String>,
    /// The path of the print in large print, if it is there.
    pub pdf_large: Option<String>,
    /// In print, the page's absolute address as a QR code, as in a review's; empty for
    /// the page.
    pub qr: Vec<String>,
    /// The name of the stock it is limited to.
    pub stock: Option<String>,
    /// Shoes of the stock that the lab has not measured.
    pub not_measured: Vec<String>,
}

/// One shoe of the guide.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct GuideShoeView {
    /// What it is.
    pub shoe: ShoeView,
    /// The verdicts for the rows.
    pub rows: Vec<VerdictView>,
    /// The verdicts for the columns.
    pub columns: Vec<VerdictView>,
    /// The pace tier, or why there is none.
    pub pace: EntryBandView,
    /// The cautions' few words.
    pub cautions: Vec<String>,
}

/// The finder: a runner's own shortlist.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FindView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// What the rows of a fit are: the runner's build.
    pub row_label: String,
    /// The rows' names.
    pub rows: Vec<String>,
    /// What the columns of a fit are: foot posture.
    pub column_label: String,
    /// The columns' names.
    pub columns: Vec<String>,
    /// The categories that have a shoe: key and name.
    pub categories: Vec<(String, String)>,
    /// How the pace tier is called.
    pub pace_label: Option<String>,
    /// The pace tiers' names, from the slowest.
    pub tiers: Vec<String>,
    /// The banded findings one can wish for, in the rule set's order.
    pub wishes: Vec<ColumnView>,
}

/// The finder's shoes for its page's script.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FindDataView {
    /// What the page sees.
    #[serde(flatten)]
    pub page: FindView,
    /// The shoes, by category and title: JSON, ready for a script.
    #[serde(serialize_with = "script::find_shoes")]
    #[schemars(with = "String")]
    pub shoes: Vec<FindShoeView>,
}

/// One shoe of the finder.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FindShoeView {
    /// What it is.
    pub shoe: ShoeView,
    /// In one sentence whom it suits.
    pub suits: String,
    /// The verdicts for the rows.
    pub rows: Vec<VerdictView>,
    /// The verdicts for the columns.
    pub columns: Vec<VerdictView>,
    /// The pace tier, or that it was not judged; absent where the rule set has none.
    pub pace: Option<EntryBandView>,
    /// One finding a wish, in the order of the wishes.
    pub bands: Vec<EntryBandView>,
    /// The cautions' few words.
    pub cautions: Vec<String>,
    /// Whether a finding rests on a reading in doubt.
    pub provisional: bool,
}

/// The search's index for its page's script.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SearchDataView {
    /// The page's own head; the index is read by this page.
    pub head: HeadView,
    /// What can be found, in a stated order; equal finds keep it.
    pub entries: Vec<SearchEntryView>,
}

/// One thing that can be found.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SearchEntryView {
    /// What it is called.
    pub title: String,
    /// Its page's path from the root; a fragment is allowed.
    pub path: String,
    /// What kind of page it is: `Road shoe`, `Week`, `Method`.
    pub kind: String,
    /// A sentence to show, and to search in: whom it suits, the days of a week.
    pub text: String,
}

/// A page that leads to another address.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RedirectView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// Where the review is now: its title, and its path from the root.
    pub target: LinkView,
}

/// A page with nothing but the site's frame, such as the one for a missing address.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PlainView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
}

/// The method page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MethodView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// The long cautions.
    pub cautions: Vec<String>,
    /// The protocol's date.
    pub protocol_effective: DateView,
    /// Coverage of the intervals: `95 %`.
    pub coverage: String,
    /// The conditioning: temperature, humidity, soak with tolerances.
    pub conditioning: Vec<String>,
    /// The reference size.
    pub reference_size: String,
    /// The fewest shoes for a percentile.
    pub minimum_shoes: usize,
    /// The quantities.
    pub quantities: Vec<MethodQuantityView>,
    /// The instruments.
    pub instruments: Vec<InstrumentView>,
    /// Every statistic the folio prints.
    pub statistics: Vec<StatisticView>,
    /// The bench page's path from the root, if there is one.
    pub bench: Option<String>,
    /// The rule set's date.
    pub rules_effective: DateView,
    /// The chance under which a finding is borderline: `80 %`.
    pub borderline_below: String,
    /// The rules.
    pub rules: Vec<MethodRuleView>,
    /// The rule set's history, latest first: version, date, note, and the note's
    /// language where it is not the page's.
    pub history: Vec<(u32, DateView, String, Option<String>)>,
    /// All corrections, latest first: the shoe and what changed.
    pub corrections: Vec<(LinkView, super::CorrectionView)>,
}

/// A statistic, on the method page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StatisticView {
    /// How it is called.
    pub name: String,
    /// What it says, in plain words.
    pub plain: String,
    /// In symbols.
    pub symbols: String,
    /// Where the method is published.
    pub source: String,
}

/// A quantity, on the method page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MethodQuantityView {
    /// How it is called.
    pub label: String,
    /// What it is.
    pub what: String,
    /// The load or angle.
    pub at: Option<String>,
    /// The units: first and second.
    pub units: String,
    /// How many trials.
    pub trials: usize,
    /// The allowed spread.
    pub spread: Option<String>,
    /// The plausible range.
    pub plausible: String,
    /// The pooled repeatability.
    pub repeatability: Option<String>,
    /// The instrument's name.
    pub instrument: String,
}

/// An instrument, on the method page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct InstrumentView {
    /// How it is called.
    pub label: String,
    /// Its resolution.
    pub resolution: String,
    /// The certificate's uncertainty: `0.12 N·m (k = 2)`.
    pub uncertainty: String,
    /// When it was calibrated.
    pub on: DateView,
    /// When calibration is due.
    pub due: DateView,
}

/// A rule, on the method page.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct MethodRuleView {
    /// Its name.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// Its kind, in words.
    pub kind: String,
    /// In plain words.
    pub plain: String,
    /// In symbols.
    pub formula: String,
    /// The bands with where each begins: `high from 60`.
    pub bands: Vec<String>,
}

/// The feed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FeedView {
    /// What every page carries.
    pub site: SiteView,
    /// When it last changed, RFC 3339.
    pub updated: String,
    /// The entries, latest first.
    pub entries: Vec<FeedEntryView>,
}

/// One entry of the feed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FeedEntryView {
    /// A permanent identifier: the page's address at first publication.
    pub id: String,
    /// The page's address.
    pub href: String,
    /// The title.
    pub title: String,
    /// When it came out, RFC 3339.
    pub published: String,
    /// When it last changed, RFC 3339.
    pub updated: String,
    /// A sentence.
    pub summary: String,
    /// The language of `summary`, where it is not the feed's.
    pub summary_language: Option<String>,
    /// The content, as HTML.
    pub content_html: String,
}

/// The sitemap, or one of its parts.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SitemapView {
    /// Its lines.
    pub entries: Vec<SitemapEntryView>,
}

/// One line of the sitemap.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SitemapEntryView {
    /// The page's address.
    pub address: String,
    /// When it last changed.
    pub changed: String,
    /// The page in every language: tag and absolute address, the lab's own first;
    /// empty where there is one language.
    pub alternates: Vec<(String, String)>,
}
