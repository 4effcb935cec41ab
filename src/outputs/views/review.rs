//! A review, as its page and its print see it.

use super::{DateView, FigureView, HeadView, LinkView, SiteView};
use schemars::JsonSchema;
use serde::Serialize;

/// A review, as its page and its print see it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReviewView {
    /// What every page carries.
    pub site: SiteView,
    /// The page's own head.
    pub head: HeadView,
    /// What the shoe is.
    pub shoe: ShoeView,
    /// In one sentence whom it suits.
    pub suits: String,
    /// Whether an editor wrote that sentence for this shoe.
    pub suits_by_editor: bool,
    /// The language of `suits`, where it is not the page's.
    pub suits_language: Option<String>,
    /// The editor's sentence.
    pub summary: Option<String>,
    /// The language of `summary`, where it is not the page's.
    pub summary_language: Option<String>,
    /// The findings the page leads with, in the rule set's order.
    pub lead: Vec<BandView>,
    /// Every other banded finding, such as the pace tier.
    pub other: Vec<BandView>,
    /// Findings that are numbers, such as the drop kept under load.
    pub values: Vec<ValueView>,
    /// Fits, such as build against foot posture.
    pub fits: Vec<FitView>,
    /// Advice that applies, cautions first.
    pub advice: Vec<AdviceView>,
    /// The nearest other shoes.
    pub alternatives: Vec<AlternativeView>,
    /// Others that differ in one quantity and are otherwise alike.
    pub alike: Vec<AlternativeView>,
    /// The quantities with all their readings.
    pub quantities: Vec<QuantityView>,
    /// The raw curves.
    pub curves: Vec<CurveView>,
    /// The sessions it was measured in.
    pub sessions: Vec<SessionView>,
    /// What screening found, and what was accepted or left out, in words.
    pub doubts: Vec<DoubtView>,
    /// What changed since the review was first published.
    pub corrections: Vec<CorrectionView>,
    /// The editor's text: as HTML for the page (raw HTML dropped, addresses
    /// limited to safe schemes), as blocks for the print.
    pub review_html: Option<String>,
    /// The language of the editor's text, where it is not the page's.
    pub review_language: Option<String>,
    /// The same as blocks.
    pub review_blocks: Vec<BlockView>,
    /// The print's path from the root, if the print is there.
    pub pdf: Option<String>,
    /// The data's path from the root.
    pub data: String,
    /// The bench page's path from the root, if there is one.
    pub bench: Option<String>,
    /// Why the review was taken back, and when.
    pub withdrawn: Option<WithdrawnView>,
    /// The page's absolute address as a QR code: one text of `0` and `1` a row,
    /// without the quiet zone of four modules that the print leaves around it.
    /// Empty for the page, and where the address is too long for a code.
    pub qr: Vec<String>,
}

/// What a shoe is.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ShoeView {
    /// Its address.
    pub slug: String,
    /// Maker, model, version and colour in one line.
    pub title: String,
    /// Its maker.
    pub maker: String,
    /// Model, version and colour.
    pub model: String,
    /// Its category's name.
    pub category: String,
    /// Its category's key.
    pub category_key: String,
    /// The size measured, with its system.
    pub size: String,
    /// The reference size, where masses are compared.
    pub reference_size: String,
    /// Its price, with currency.
    pub price: Option<String>,
    /// The month of its release.
    pub released: Option<String>,
    /// The day its review came out; none for a draft.
    pub published: Option<DateView>,
    /// The week it came out in: text `2026-W48` and path.
    pub week: Option<LinkView>,
    /// The page's path from the root: `shoes/<slug>/`.
    pub path: String,
}

/// A banded finding.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BandView {
    /// The rule's name.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// Why it was not judged; then everything below is absent.
    pub not_judged: Option<String>,
    /// What it says; absent if it was not judged.
    pub says: Option<BandSaysView>,
}

/// What a banded finding says.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct BandSaysView {
    /// The measured value, for a scale.
    pub value: Option<FigureView>,
    /// The score and its expanded uncertainty, of 100.
    pub score: FigureView,
    /// Whether the score is held at an end of its scale, so far beyond which the shoe
    /// lies that no uncertainty is left; then it has no ±.
    pub held: bool,
    /// The band's name.
    pub band: String,
    /// The band, counted from 0.
    pub band_index: usize,
    /// How many bands there are.
    pub bands: usize,
    /// The chance that the band is right, as per cent with its sign: `93 %`;
    /// `over 99 %` rather than `100 %`.
    pub chance: String,
    /// The neighbour band, where the finding is borderline.
    pub borderline: Option<String>,
    /// Whether a reading it rests on is in doubt.
    pub provisional: bool,
    /// The band's words, with the shoe's figures put in.
    pub short: String,
    /// What it means for the wearer.
    pub means: String,
    /// The language of `means`, where it is not the page's.
    pub means_language: Option<String>,
    /// Whether an editor wrote these words for this shoe.
    pub by_editor: bool,
    /// The place among the category: `higher than 72 % of 31 road shoes`; absent under the minimum.
    pub standing: Option<String>,
    /// The ruler's picture.
    pub ruler: RulerView,
}

/// A band ruler, laid out on a width of 1000 units; all numbers as text.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RulerView {
    /// The bands from left to right.
    pub bands: Vec<RulerBandView>,
    /// Where the shoe is.
    pub at: String,
    /// Where its interval begins.
    pub low: String,
    /// Where its interval ends.
    pub high: String,
    /// Where the category's other shoes are, rising.
    pub ticks: Vec<String>,
    /// The picture in words, for screen readers.
    pub description: String,
}

/// One band of a ruler.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct RulerBandView {
    /// Its name.
    pub name: String,
    /// Where it begins.
    pub from: String,
    /// How wide it is.
    pub width: String,
    /// Whether it is the stated one.
    pub stated: bool,
}

/// A finding that is a number.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ValueView {
    /// The rule's name.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// The number; absent if it was not judged.
    pub figure: Option<FigureView>,
    /// Why it was not judged.
    pub not_judged: Option<String>,
    /// The lab's words for it.
    pub means: Option<String>,
    /// The language of `means`, where it is not the page's.
    pub means_language: Option<String>,
    /// Whether an editor wrote them.
    pub by_editor: bool,
    /// Whether a reading it rests on is in doubt.
    pub provisional: bool,
}

/// A fit: rows against columns.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FitView {
    /// The rule's name.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// What the rows are.
    pub row_label: String,
    /// What the columns are.
    pub column_label: String,
    /// The columns' names.
    pub columns: Vec<String>,
    /// The rows, each with one verdict a column.
    pub rows: Vec<FitRowView>,
    /// Why it was not judged.
    pub not_judged: Option<String>,
}

/// One row of a fit.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FitRowView {
    /// Its name.
    pub label: String,
    /// One verdict a column.
    pub cells: Vec<VerdictView>,
}

/// A verdict, by word; a template may add a mark of its own.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct VerdictView {
    /// `suits`, `close`, `other` or `unknown`.
    pub key: &'static str,
    /// The lab's words for it.
    pub words: String,
}

/// An advice that applies.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct AdviceView {
    /// The rule's name.
    pub key: String,
    /// `caution` or `note`.
    pub weight: &'static str,
    /// A few words.
    pub short: String,
    /// The advice.
    pub text: String,
    /// The language of `text`, where it is not the page's.
    pub text_language: Option<String>,
    /// Whether an editor wrote it for this shoe.
    pub by_editor: bool,
    /// Whether it applies only at one end of the figures' uncertainty.
    pub close: bool,
}

/// A near shoe and the one difference that matters.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct AlternativeView {
    /// Its title.
    pub title: String,
    /// Its page's path from the root.
    pub path: String,
    /// The difference in words: `18 g lighter, otherwise alike`.
    pub difference: String,
}

/// A quantity with all its readings.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct QuantityView {
    /// Its name.
    pub key: String,
    /// How it is called.
    pub label: String,
    /// What it is, with its load or angle.
    pub what: String,
    /// The unit of the readings below: the protocol's.
    pub unit: String,
    /// The value; absent if it was not measured.
    pub figure: Option<FigureView>,
    /// Why it is absent.
    pub absent: Option<String>,
    /// Coverage factor, two decimals.
    pub k: Option<String>,
    /// Effective degrees of freedom, whole, or `∞`.
    pub dof: Option<String>,
    /// How many readings it rests on.
    pub n: usize,
    /// The instrument's name.
    pub instrument: String,
    /// The specimens' readings.
    pub specimens: Vec<SpecimenView>,
    /// What was added to compare at the reference size, as `+4 g`.
    pub size_step: Option<String>,
    /// Whether the scatter is the lab's pooled repeatability.
    pub pooled: bool,
}

/// One specimen's readings of one quantity.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SpecimenView {
    /// Its mark.
    pub id: String,
    /// Left or right, in words.
    pub side: String,
    /// The trials in order.
    pub trials: Vec<TrialView>,
    /// Their mean, rounded.
    pub mean: String,
    /// Their standard deviation, rounded; absent for one trial.
    pub deviation: Option<String>,
}

/// One reading.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TrialView {
    /// The number in the protocol's unit, rounded.
    pub number: String,
    /// As it was written, where that was another unit.
    pub written: Option<String>,
    /// Why it is left out.
    pub left_out: Option<String>,
    /// The language of that reason, where it is not the page's.
    pub left_out_language: Option<String>,
}

/// A raw curve: a loop of load against travel.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CurveView {
    /// How it is called.
    pub label: String,
    /// The specimen it was taken on.
    pub specimen: String,
    /// SVG path data of the loading branch in a box of 600 × 400.
    pub loading: String,
    /// The same of the unloading branch.
    pub unloading: String,
    /// Tick marks along travel.
    pub x_ticks: Vec<TickView>,
    /// Tick marks along load.
    pub y_ticks: Vec<TickView>,
    /// What lies along the bottom: `travel (mm)`.
    pub x_label: String,
    /// What lies along the side: `load (N)`.
    pub y_label: String,
    /// What the loop comes to: energy in, back, lost, return, stiffness.
    pub figures: Vec<(String, FigureView)>,
    /// The picture in words.
    pub description: String,
}

/// A tick mark.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TickView {
    /// Where it is, in the picture's units.
    pub at: String,
    /// Its number.
    pub text: String,
}

/// A session.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct SessionView {
    /// The specimen measured.
    pub specimen: String,
    /// Left or right, in words.
    pub side: String,
    /// The day.
    pub on: DateView,
    /// Who measured.
    pub operator: String,
    /// `22.8 °C`.
    pub temperature: String,
    /// `48 %`.
    pub humidity: String,
    /// `14 h`.
    pub soaked: String,
    /// How the lab came by it: `bought in a shop on 2 October 2026`.
    pub bought: Option<String>,
}

/// Something that makes the reader less sure.
#[derive(Clone, Debug, Default, Serialize, JsonSchema)]
pub struct DoubtView {
    /// Its code, such as `calibration-overdue`.
    pub code: String,
    /// What was found, with numbers.
    pub message: String,
    /// Why it was done, where somebody did something: left a reading out.
    pub reason: Option<String>,
    /// The language of that reason, where it is not the page's.
    pub reason_language: Option<String>,
    /// Why it was accepted.
    pub accepted: Option<String>,
    /// The language of that reason, where it is not the page's.
    pub accepted_language: Option<String>,
}

/// A change since the review was first published.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct CorrectionView {
    /// The day.
    pub on: DateView,
    /// Why.
    pub because: String,
    /// The language of that reason, where it is not the page's.
    pub because_language: Option<String>,
    /// What changed, one line each: `Torsion: medium → high`.
    pub changes: Vec<String>,
    /// Under which versions: `Rule set version 3 → 4; protocol version 2.`; empty
    /// where no version has to do with it.
    pub versions: String,
}

/// A review that was taken back.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WithdrawnView {
    /// The day.
    pub on: DateView,
    /// Why.
    pub reason: String,
    /// The language of that reason, where it is not the page's.
    pub reason_language: Option<String>,
}

/// A block of an editor's text.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "block", rename_all = "kebab-case")]
pub enum BlockView {
    /// A heading; level 1 is the highest a review may use.
    Heading {
        /// 1 to 3.
        level: u8,
        /// Its text.
        text: Vec<SpanView>,
    },
    /// A paragraph.
    Paragraph {
        /// Its text.
        text: Vec<SpanView>,
    },
    /// A list.
    List {
        /// Whether it is numbered.
        numbered: bool,
        /// Its first number; 1 where it is not numbered.
        start: u64,
        /// Its items, each some blocks.
        items: Vec<Vec<BlockView>>,
    },
    /// A quotation.
    Quote {
        /// What is quoted.
        blocks: Vec<BlockView>,
    },
    /// Text kept as it is.
    Code {
        /// The text.
        text: String,
    },
    /// A rule across the page.
    Rule,
}

/// A run of text.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SpanView {
    /// The text.
    pub text: String,
    /// Stressed.
    pub emphasis: bool,
    /// Strongly stressed.
    pub strong: bool,
    /// Set as code.
    pub code: bool,
    /// Where it leads, if it is a link.
    pub href: Option<String>,
}
