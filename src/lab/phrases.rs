//! `lab/phrases.yaml`: the lab's own words, keyed by finding and band.
//!
//! The same result always reads the same, because a page has no other words
//! for it. A phrase names values by placeholder, never by typed number.

use super::settings::SchemaVersion;
use crate::files::{Key, Map};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// `lab/phrases.yaml`: the lab's own words.
///
/// In `short` and `means` these placeholders stand for the shoe's own figures:
/// `{shoe}`, `{value}`, `{band}`, `{score}`, `{chance}`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhrasesFile {
    /// Version of this file's form; 1.
    pub schema: SchemaVersion,
    /// By finding, then by band; a finding without bands has the one entry `any`.
    #[schemars(extend("examples" = [{"torsion": {"low": {"short": "turns readily", "means": "At {value}, the midfoot gives way with little effort."}}}]))]
    pub findings: Map<Key, Map<String, Phrase>>,
    /// What an advice rule says, by the name in its `say`.
    #[serde(default)]
    #[schemars(extend("examples" = [{"low-drop": {"weight": "note", "short": "Little drop is left", "text": "Under load the heel stands hardly higher than the forefoot."}}]))]
    pub advice: Map<Key, AdvicePhrase>,
    /// The words of a fit.
    #[schemars(extend("examples" = [{"suits": "may suit", "close": "too close to say", "other": "look at another", "unknown": "not measured"}]))]
    pub fit: FitWords,
    /// What the shop-floor guide asks, and when it sends a customer on.
    #[schemars(extend("examples" = [{"questions": ["Where do you run?"], "refer": ["Whoever has pain is sent to a licensed clinician."]}]))]
    pub guide: Guide,
    /// The cautions every page carries.
    #[schemars(extend("examples" = [{"short": "Findings describe shoes, not people.", "long": ["Nothing here is medical advice; ask a licensed clinician."]}]))]
    pub cautions: Cautions,
}

/// The words for one band of one finding.
#[derive(Clone, Debug, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Phrase {
    /// A few words, to stand after the finding's name.
    #[schemars(extend("examples" = ["turns readily"]))]
    pub short: String,
    /// What it means for the wearer, in a sentence or two.
    #[schemars(extend("examples" = ["At {value}, the midfoot gives way with little effort."]))]
    pub means: String,
}

/// The words of an advice.
#[derive(Clone, Debug, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AdvicePhrase {
    /// Whether it warns or informs.
    pub weight: AdviceWeight,
    /// A few words, to head it.
    #[schemars(extend("examples" = ["Little drop is left"]))]
    pub short: String,
    /// The advice. A caution says `may`, names the tissue or the situation, and
    /// ends at a licensed clinician.
    #[schemars(extend("examples" = ["Under load the heel stands hardly higher than the forefoot."]))]
    pub text: String,
}

/// Whether an advice warns or informs.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize, Serialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum AdviceWeight {
    /// Something may hurt.
    Caution,
    /// Good to know.
    Note,
}

/// The words of a fit's verdicts.
#[derive(Clone, Debug, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FitWords {
    /// The shoe's figures suit.
    #[schemars(extend("examples" = ["may suit"]))]
    pub suits: String,
    /// The verdict turns within the figures' uncertainty.
    #[schemars(extend("examples" = ["too close to say"]))]
    pub close: String,
    /// The figures speak for another shoe.
    #[schemars(extend("examples" = ["look at another"]))]
    pub other: String,
    /// A figure is missing.
    #[schemars(extend("examples" = ["not measured"]))]
    pub unknown: String,
}

/// The words of the shop-floor guide that do not depend on a shoe.
#[derive(Clone, Debug, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Guide {
    /// What to ask the customer, one question each, in the order they are asked.
    #[schemars(length(min = 1))]
    #[schemars(extend("examples" = [["Where do you run?", "Has anything hurt lately?"]]))]
    pub questions: Vec<String>,
    /// When to refer the customer, one situation each; the last line ends at a
    /// licensed clinician.
    #[schemars(length(min = 1))]
    #[schemars(extend("examples" = [["Whoever has pain is sent to a licensed clinician."]]))]
    pub refer: Vec<String>,
}

/// The cautions every page carries.
#[derive(Clone, Debug, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cautions {
    /// On every page and print.
    #[schemars(extend("examples" = ["Findings describe shoes, not people."]))]
    pub short: String,
    /// On the method page, one paragraph each.
    #[schemars(extend("examples" = [["Nothing here is medical advice; ask a licensed clinician."]]))]
    pub long: Vec<String>,
}
