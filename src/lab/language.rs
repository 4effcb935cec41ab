//! `lab/languages/<tag>/`: a further language of the folio.
//!
//! Two files a language: `words.yaml` with what stands for the program's texts
//! and for the lab's own words, and `phrases.yaml` in the same form as the lab's.
//! A folder under the tag of the lab's own language gives it the program's texts
//! alone: its labels and phrases are those of the lab's files.

use super::phrases::PhrasesFile;
use super::settings::SchemaVersion;
use crate::files::Map;
use crate::words::{Language, Text};
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Where the folders of the languages are.
pub const LANGUAGES: &str = "lab/languages";

/// `lab/languages/<tag>/words.yaml`: what a further language says.
///
/// `solefolio translate TAG --write` lays it with every text there is to translate, and adds to it.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct WordsFile {
    /// Version of this file's form; 1.
    pub schema: SchemaVersion,
    /// What its speakers call the language, such as `Deutsch`.
    #[schemars(extend("examples" = ["Deutsch"]))]
    pub name: String,
    /// The sign between whole and decimal digits.
    #[serde(default)]
    pub decimal: DecimalSign,
    /// How a label is written within a sentence.
    #[serde(default)]
    pub labels_inside: LabelsInside,
    /// The lab's own words, by the words of its files: bands, findings, quantities,
    /// categories.
    #[serde(default)]
    #[schemars(extend("examples" = [{"Torsion": "Torsion", "low": "niedrig"}]))]
    pub labels: Map<String, String>,
    /// The program's texts, by the English ones. A place such as `{day}` stands for
    /// what is put in.
    #[serde(default)]
    #[schemars(extend("examples" = [{"Edition of {day}.": "Ausgabe vom {day}."}]))]
    pub texts: Map<String, TextFile>,
}

/// The sign between whole and decimal digits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DecimalSign {
    /// 4.2
    #[default]
    Point,
    /// 4,2
    Comma,
}

/// How a label is written within a sentence.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LabelsInside {
    /// With a small first letter.
    #[default]
    Small,
    /// As they are, as in a language that writes nouns with a capital.
    AsTheyAre,
}

/// What stands for a text.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum TextFile {
    /// The text, the same for every number.
    One(String),
    /// By the number.
    Forms(FormsFile),
}

/// What stands for a text that is counted, by the plural forms of Unicode CLDR.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FormsFile {
    /// For one.
    #[schemars(extend("examples" = ["{n} Schuh"]))]
    pub one: Option<String>,
    /// For two, where the language has a form for it.
    #[schemars(extend("examples" = ["{n} Schuhe"]))]
    pub two: Option<String>,
    /// For a few, where the language has a form for it.
    #[schemars(extend("examples" = ["{n} Schuhe"]))]
    pub few: Option<String>,
    /// For many, where the language has a form for it.
    #[schemars(extend("examples" = ["{n} Schuhe"]))]
    pub many: Option<String>,
    /// For every other number.
    #[schemars(extend("examples" = ["{n} Schuhe"]))]
    pub other: String,
}

impl TextFile {
    /// All its forms.
    pub fn forms(&self) -> Vec<(&'static str, &str)> {
        match self {
            TextFile::One(text) => vec![("other", text)],
            TextFile::Forms(forms) => [
                ("one", forms.one.as_deref()),
                ("two", forms.two.as_deref()),
                ("few", forms.few.as_deref()),
                ("many", forms.many.as_deref()),
                ("other", Some(forms.other.as_str())),
            ]
            .into_iter()
            .filter_map(|(name, text)| Some((name, text?)))
            .collect(),
        }
    }
}

impl WordsFile {
    /// The language the file makes.
    pub fn language(&self, tag: &str) -> Language {
        let texts = self.texts.iter().map(|(text, said)| {
            let said = match said {
                TextFile::One(said) => Text::One(said.clone()),
                TextFile::Forms(_) => Text::Forms(
                    said.forms()
                        .into_iter()
                        .map(|(name, text)| (name.to_owned(), text.to_owned()))
                        .collect(),
                ),
            };
            (text.clone(), said)
        });
        let labels = self.labels.iter();
        let labels: BTreeMap<String, String> = labels
            .map(|(label, said)| (label.clone(), said.clone()))
            .collect();
        Language::new(
            tag.to_owned(),
            self.name.clone(),
            match self.decimal {
                DecimalSign::Point => '.',
                DecimalSign::Comma => ',',
            },
            self.labels_inside == LabelsInside::AsTheyAre,
            texts.collect(),
            labels,
        )
    }
}

/// A further language of the folio.
#[derive(Clone, Debug)]
pub struct Tongue {
    /// What the program and the lab's labels are called in it.
    pub language: Arc<Language>,
    /// The lab's phrases in it.
    pub phrases: PhrasesFile,
}
