//! `lab/lab.yaml`: who the laboratory is and how it publishes.

use super::programs::OutsideProgram;
use crate::files::{Key, Map};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// `lab/lab.yaml`: who the laboratory is and how it publishes.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Settings {
    /// Version of this file's form; 1.
    pub schema: SchemaVersion,
    /// The laboratory's name.
    #[schemars(extend("examples" = ["Harrow Lane Footwear Laboratory"]))]
    pub name: String,
    /// Whether lab, makers and shoes are made up; every page then says so.
    #[serde(default)]
    #[schemars(extend("examples" = [true]))]
    pub invented: bool,
    /// Who the laboratory is, in a sentence or two.
    #[schemars(extend("examples" = ["We buy athletic shoes and measure them on a bench."]))]
    pub about: String,
    /// The address the folio is served from; addresses in feeds, sitemaps and prints begin with it.
    #[schemars(extend("format" = "address"))]
    #[schemars(extend("examples" = ["https://harrow-lane.example/"]))]
    pub address: String,
    /// Where corrections and questions go: an electronic mail address.
    #[schemars(extend("examples" = ["desk@harrow-lane.example"]))]
    pub contact: String,
    /// Language of the folio's text, such as `en`.
    #[serde(default = "english")]
    #[schemars(extend("examples" = ["en"]))]
    pub language: String,
    /// Which units come first where both are shown.
    #[serde(default)]
    pub units: UnitsOrder,
    /// Paper of the prints.
    #[serde(default)]
    pub paper: Paper,
    /// Whether the fit guide is printed in large print too: for the wall, and for whoever reads that better.
    #[serde(default)]
    #[schemars(extend("examples" = [true]))]
    pub large_print: bool,
    /// Whether each review gets a picture of its findings, shown where a link to it is shared.
    #[serde(default)]
    #[schemars(extend("examples" = [true]))]
    pub social_cards: bool,
    /// The licence of the published data.
    #[schemars(extend("examples" = [{"name": "CC-BY-4.0", "title": "Creative Commons Attribution 4.0", "address": "https://creativecommons.org/licenses/by/4.0/"}]))]
    pub licence: Licence,
    /// The shoe categories the lab keeps apart, and how each is called on a page.
    #[schemars(extend("examples" = [{"road": "Road", "trail": "Trail"}]))]
    pub categories: Map<Key, String>,
    /// Who operates the bench: initials or short name, and full name.
    #[serde(default)]
    #[schemars(extend("examples" = [{"ivo": "Ivo Brandt"}]))]
    pub operators: Map<Key, String>,
    /// Outside programs that may work out findings or make files, by name.
    #[serde(default)]
    #[schemars(extend("examples" = [{"ride": {"purpose": "rule", "run": ["python3", "lab/programs/ride.py"]}}]))]
    pub programs: Map<Key, OutsideProgram>,
}

fn english() -> String {
    "en".into()
}

impl Settings {
    /// Whether a language's tag, which has small letters, is that of the lab's own,
    /// which may have capitals: `pt-BR`.
    pub fn is_own_language(&self, tag: &str) -> bool {
        self.language.eq_ignore_ascii_case(tag)
    }
}

/// The version of a file's form. There is only one so far.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SchemaVersion;

impl<'de> Deserialize<'de> for SchemaVersion {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match u64::deserialize(deserializer)? {
            1 => Ok(SchemaVersion),
            other => Err(serde::de::Error::custom(format!(
                "schema {other} is not known to this version of solefolio; it knows 1"
            ))),
        }
    }
}

impl JsonSchema for SchemaVersion {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> std::borrow::Cow<'static, str> {
        "SchemaVersion".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({"description": "Version of this file's form.", "const": 1})
    }
}

/// Which units come first where both are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum UnitsOrder {
    /// mm, g, N·m first.
    #[default]
    MetricFirst,
    /// in, oz, in·lbf first.
    CustomaryFirst,
}

/// Paper of the prints.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// ISO 216 A4.
    #[default]
    A4,
    /// 8½ × 11 inches.
    UsLetter,
}

/// The licence of the published data.
#[derive(Clone, Debug, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Licence {
    /// Its short identifier, such as `CC-BY-4.0`.
    #[schemars(extend("examples" = ["CC-BY-4.0"]))]
    pub name: String,
    /// Its title.
    #[schemars(extend("examples" = ["Creative Commons Attribution 4.0"]))]
    pub title: String,
    /// Where it can be read.
    #[schemars(extend("format" = "address"))]
    #[schemars(extend("examples" = ["https://creativecommons.org/licenses/by/4.0/"]))]
    pub address: String,
}
