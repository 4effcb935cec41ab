//! The registry of rule kinds: one file a kind, one line each below.
//!
//! A kind's file opens with a doc comment under fixed headings, from which the
//! reference of kinds is made; its tests are beside it.

mod advice;
mod blend;
mod fit;
mod formula;
mod program;
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
        #[schemars(transform = explain_kinds)]
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
    /// A number worked out by a program of the lab's own.
    Program in program;
}

/// Gives the key `kind` of each rule its explanation, for editors.
fn explain_kinds(schema: &mut schemars::Schema) {
    let variants = schema.get_mut("oneOf").and_then(|of| of.as_array_mut());
    for variant in variants.into_iter().flatten() {
        let about = variant.get("description").cloned();
        if let (Some(about), Some(kind)) = (about, variant.pointer_mut("/properties/kind")) {
            kind["description"] = about;
        }
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn names_are_unique_and_are_those_the_file_is_read_by() {
        let names: Vec<&str> = kinds().iter().map(|kind| kind.name).collect();
        assert_eq!(names.iter().collect::<BTreeSet<_>>().len(), names.len());
        let schema = schemars::schema_for!(RuleFile);
        let variants = schema.get("oneOf").unwrap().as_array().unwrap();
        let tags: Vec<&str> = variants
            .iter()
            .map(|variant| variant["properties"]["kind"]["const"].as_str().unwrap())
            .collect();
        assert_eq!(tags, names);
    }

    #[test]
    fn every_file_of_the_folder_is_registered() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/rules/kinds");
        let files: BTreeSet<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name != "mod.rs")
            .collect();
        let registered = kinds();
        let expected: BTreeSet<String> = registered
            .iter()
            .map(|kind| format!("{}.rs", kind.name))
            .collect();
        assert_eq!(files, expected);
    }

    #[test]
    fn every_kind_is_documented_under_the_fixed_headings() {
        for kind in kinds() {
            let headings: Vec<&str> = kind.sections.iter().map(|(h, _)| h.as_str()).collect();
            assert_eq!(headings, HEADINGS, "{}", kind.name);
            assert!(!kind.about.is_empty(), "{}", kind.name);
            for (heading, text) in &kind.sections {
                assert!(text.len() > 40, "{}: {heading} says nothing", kind.name);
            }
        }
    }

    #[test]
    fn every_example_reads_as_a_rule_of_its_kind() {
        for kind in kinds() {
            let (_, example) = kind.sections.last().unwrap();
            let yaml = example
                .strip_prefix("```yaml\n")
                .and_then(|text| text.strip_suffix("```"))
                .unwrap();
            let rules: crate::files::Map<Key, RuleFile> = serde_yaml::from_str(yaml).unwrap();
            for (_, rule) in rules.iter() {
                assert_eq!(rule.kind(), kind.name);
            }
        }
    }

    #[test]
    fn the_schema_says_what_an_editor_needs() {
        let schema = schemars::schema_for!(crate::lab::RuleSetFile<RuleFile>);
        let text = serde_json::to_string(&schema).unwrap();
        for wanted in [
            r#""format":"unit""#,
            r#""format":"expression""#,
            r#""format":"name""#,
            "Points of the scale",
            "weights are positive and add up to 1",
        ] {
            assert!(text.contains(wanted), "{wanted} is not in {text}");
        }
    }

    #[test]
    fn a_mistyped_setting_and_a_kind_that_is_none_are_refused_by_name() {
        let read = |text: &str| {
            serde_yaml::from_str::<RuleFile>(text)
                .unwrap_err()
                .to_string()
        };
        let mistyped = read("{kind: advice, label: L, when: a > 1.0, says: b}");
        assert!(
            mistyped.contains("says") && mistyped.contains("say"),
            "{mistyped}"
        );
        assert!(read("{kind: scales, label: L}").contains("`scale`"));
        assert!(read("{kind: blend, label: L, of: {a: 0.5, a: 0.5}}").contains("duplicate key"));
    }
}
