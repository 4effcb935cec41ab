//! The registry of rule kinds: one file a kind, one line each below.
//!
//! A kind's file opens with a doc comment under fixed headings, from which the
//! reference of kinds is made; its tests are beside it.

mod advice;
mod blend;
mod fit;
mod formula;
mod scale;

use super::{Grounds, Kind, Mistake, Rule, Yields};
use crate::files::Key;
use crate::quantity::Unit;
use schemars::JsonSchema;
use serde::Deserialize;

/// The headings every kind's doc comment has, in this order.
pub const HEADINGS: [&str; 5] = [
    "What it says",
    "Formula and source",
    "Inputs and units",
    "When data are missing",
    "Example",
];

/// A kind of rule as the reference tells it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KindDoc {
    /// Its name in `rules.yaml`.
    pub name: &'static str,
    /// What its findings can be used as.
    pub yields: Yields,
    /// The first sentence of its doc comment.
    pub about: String,
    /// Text by heading, in the order of [`HEADINGS`]; Markdown.
    pub sections: Vec<(String, String)>,
}

macro_rules! kinds {
    ($($(#[doc = $doc:literal])* $kind:ident in $module:ident;)+) => {
        /// One rule: its kind, and the settings of that kind.
        #[derive(Clone, Debug, Deserialize, JsonSchema)]
        #[serde(tag = "kind", rename_all = "kebab-case")]
        pub enum RuleFile {
            $($(#[doc = $doc])* $kind(<$module::$kind as Kind>::Settings),)+
        }

        impl RuleFile {
            /// The name of its kind.
            pub fn kind(&self) -> &'static str {
                match self { $(RuleFile::$kind(_) => <$module::$kind as Kind>::NAME,)+ }
            }

            /// What its finding can be used as.
            pub fn yields(&self) -> Yields {
                match self { $(RuleFile::$kind(_) => <$module::$kind as Kind>::YIELDS,)+ }
            }

            /// How its finding is called on a page.
            pub fn label(&self) -> &str {
                match self { $(RuleFile::$kind(settings) => <$module::$kind as Kind>::label(settings),)+ }
            }

            /// The unit of the number it yields.
            pub(super) fn unit(&self) -> Option<Unit> {
                match self { $(RuleFile::$kind(settings) => <$module::$kind as Kind>::unit(settings),)+ }
            }

            /// The names it mentions, known or not.
            pub(super) fn mentions(&self) -> Vec<Key> {
                match self { $(RuleFile::$kind(settings) => <$module::$kind as Kind>::mentions(settings),)+ }
            }

            /// The rule it describes.
            pub(super) fn build(
                self,
                key: &Key,
                grounds: &Grounds<'_>,
            ) -> Result<Box<dyn Rule>, Vec<Mistake>> {
                match self { $(RuleFile::$kind(settings) => <$module::$kind as Kind>::build(key, settings, grounds),)+ }
            }
        }

        /// Every kind of rule, in the registry's order.
        pub fn kinds() -> Vec<KindDoc> {
            vec![$(describe(
                <$module::$kind as Kind>::NAME,
                <$module::$kind as Kind>::YIELDS,
                include_str!(concat!(stringify!($module), ".rs")),
            ),)+]
        }
    };
}

kinds! {
    /// A quantity put on a scale from 0 to 100 and into a band.
    Scale in scale;
    /// Several scores weighed into one.
    Blend in blend;
    /// A number worked out by an expression.
    Formula in formula;
    /// Whom the shoe's figures suit: two lists of options with a condition each.
    Fit in fit;
    /// An advice that is given when a condition holds.
    Advice in advice;
}

/// The doc comment at the head of a kind's file, by its headings.
fn describe(name: &'static str, yields: Yields, source: &str) -> KindDoc {
    let doc = source
        .lines()
        .map_while(|line| line.strip_prefix("//!"))
        .map(|line| line.strip_prefix(' ').unwrap_or(line));
    let mut about = String::new();
    let mut sections: Vec<(String, String)> = Vec::new();
    for line in doc {
        if let Some(heading) = line.strip_prefix("# ") {
            sections.push((heading.to_owned(), String::new()));
            continue;
        }
        let text = sections.last_mut().map_or(&mut about, |(_, text)| text);
        text.push_str(line);
        text.push('\n');
    }
    let trimmed = |text: String| text.trim().to_owned();
    KindDoc {
        name,
        yields,
        about: trimmed(about),
        sections: sections
            .into_iter()
            .map(|(heading, text)| (heading, trimmed(text)))
            .collect(),
    }
}
