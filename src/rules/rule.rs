//! The trait every rule has, the facts it judges, and the kind it is of.

use super::answers::{Answers, Fact, ProgramUse};
use super::names::Names;
use super::{BandScale, Finding, NotJudged};
use crate::diagnostics::KeyPath;
use crate::files::Key;
use crate::lab::Protocol;
use crate::measure::{Quantities, TraceStep, drawn::Drawn};
use crate::quantity::Unit;
use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use std::{collections::BTreeMap, sync::Arc};

/// What is known of one shoe when a rule judges it.
#[derive(Debug)]
pub struct Facts<'a> {
    /// Its quantities.
    pub quantities: &'a Quantities,
    /// The findings made so far: at least all that the rule needs.
    pub findings: &'a Findings,
    /// What outside programs answered of the shoe.
    pub answers: &'a Answers,
}

/// A shoe's findings: each one, or why it was not made.
pub type Findings = BTreeMap<Key, Made>;

/// A finding, or why it was not made. Boxed: a map keeps places free for more.
pub type Made = Result<Box<Finding>, NotJudged>;

/// What every rule has, of whatever kind it is.
#[derive(Clone, Debug)]
pub struct Head {
    /// The finding's name.
    pub key: Key,
    /// How the finding is called on a page.
    pub label: String,
    /// The name of its kind in `rules.yaml`.
    pub kind: &'static str,
    /// How its kind is called on a page, marked by [`text!`](crate::words::text).
    pub kind_word: &'static str,
    /// The quantities and findings it needs.
    pub needs: Vec<Key>,
}

impl Head {
    /// The head of a rule of a kind.
    pub fn of<K: Kind>(key: &Key, label: String, needs: Vec<Key>) -> Self {
        Head {
            key: key.clone(),
            label,
            kind: K::NAME,
            kind_word: K::WORD,
            needs,
        }
    }
}

/// One way to turn facts into a finding.
pub trait Rule: Send + Sync + std::fmt::Debug {
    /// What it has like every rule.
    fn head(&self) -> &Head;

    /// The finding's name.
    fn key(&self) -> &Key {
        &self.head().key
    }

    /// How the finding is called on a page.
    fn label(&self) -> &str {
        &self.head().label
    }

    /// The name of its kind in `rules.yaml`.
    fn kind(&self) -> &'static str {
        self.head().kind
    }

    /// The quantities and findings it needs; the rules form a graph without circles.
    fn needs(&self) -> &[Key] {
        &self.head().needs
    }

    /// The finding, or the reason there is none. `drawn` spares it what was drawn
    /// before, for this shoe or any other, and says the same.
    ///
    /// # Errors
    /// [`NotJudged`] with a reason that is shown in the finding's place.
    fn judge(&self, facts: &Facts<'_>, drawn: &Drawn) -> Result<Finding, NotJudged>;

    /// The way from the facts to the finding, with formulas and numbers, for `trace`.
    fn steps(&self, facts: &Facts<'_>, finding: &Finding) -> Vec<TraceStep>;

    /// The entries of `phrases.yaml` the finding may need: band names, or `any`,
    /// or none for kinds that have words of their own.
    fn phrases(&self) -> Vec<String>;

    /// The rule in a sentence and its formula, for the method page.
    fn method(&self) -> RuleMethod;

    /// The form its findings take.
    fn form(&self) -> Form;

    /// The lab's own words in it beside its label: names of bands and of options.
    fn words(&self) -> Vec<String> {
        match self.form() {
            Form::Band(scale) => scale.names.clone(),
            Form::Value(..) | Form::Fit | Form::Advice => Vec::new(),
        }
    }

    /// The entry under `advice` of `phrases.yaml` it says; none for kinds that give no advice.
    fn advice(&self) -> Option<&Key> {
        None
    }

    /// The outside program that must be asked before it can judge; none for kinds
    /// that judge by themselves.
    fn program(&self) -> Option<ProgramUse<'_>> {
        None
    }

    /// What its program is told of a shoe; none if it has no program or a fact is missing.
    fn question(&self, _facts: &Facts<'_>) -> Option<Vec<Fact>> {
        None
    }
}

/// The form a rule's findings take, by which pages know where they belong.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// A score in these bands.
    Band(Arc<BandScale>),
    /// A number in a unit, printed with so many decimals.
    Value(Unit, u8),
    /// Rows against columns: whom it may suit.
    Fit,
    /// An advice.
    Advice,
}

/// A rule as the method page tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct RuleMethod {
    /// In plain words.
    pub plain: String,
    /// In symbols.
    pub formula: String,
}

/// What a rule may lean on when it is built.
#[derive(Debug)]
pub struct Grounds<'a> {
    /// The protocol: quantities and their units.
    pub protocol: &'a Protocol,
    /// The names of the five bands.
    pub bands: &'a [String; 5],
    /// The chance under which a finding is borderline.
    pub borderline_below: f64,
    /// What each quantity and finding of the set can be used as, so that a rule can
    /// refuse an input it can't use.
    pub names: &'a Names,
}

/// What a rule's finding can be used as by other rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Yields {
    /// A score from 0 to 100.
    Score,
    /// A number.
    Number,
    /// Nothing others can compute with.
    Words,
}

/// A mistake in a rule's settings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// The problem's code.
    pub code: &'static str,
    /// The way to it, from the rule.
    pub path: KeyPath,
    /// What is wrong, and what was expected.
    pub message: String,
    /// What to do about it.
    pub hint: Option<String>,
}

impl Mistake {
    /// A mistake at a path from the rule.
    pub fn new(code: &'static str, path: KeyPath, message: impl Into<String>) -> Self {
        Mistake {
            code,
            path,
            message: message.into(),
            hint: None,
        }
    }

    /// With what to do about it.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

/// A kind of rule: its name in `rules.yaml`, its settings, and how it is built.
pub trait Kind {
    /// The name in `rules.yaml`.
    const NAME: &'static str;
    /// How it is called on a page, marked by [`text!`](crate::words::text).
    const WORD: &'static str;
    /// What its findings can be used as.
    const YIELDS: Yields;
    /// The settings and their schema.
    type Settings: DeserializeOwned + JsonSchema;

    /// How the finding is called on a page.
    fn label(settings: &Self::Settings) -> &str;

    /// The names its settings mention, known or not, so that circles are found
    /// even among rules with other mistakes.
    fn mentions(settings: &Self::Settings) -> Vec<Key>;

    /// The unit of the number it yields, as written; none for other kinds.
    fn unit(_settings: &Self::Settings) -> Option<Unit> {
        None
    }

    /// A rule from its settings.
    ///
    /// # Errors
    /// Every mistake in the settings, not only the first.
    fn build(
        key: &Key,
        settings: Self::Settings,
        grounds: &Grounds<'_>,
    ) -> Result<Box<dyn Rule>, Vec<Mistake>>;
}
