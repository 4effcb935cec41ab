//! How quantities become findings: the trait, the registry, one file a kind.
//!
//! A rule set is built once from `lab/rules.yaml` and the protocol, with every
//! mistake reported in one go ([`RuleSet::build`]), and then judges any number of
//! shoes ([`RuleSet::judge`]). Judging is pure, never panics on a built set, and
//! does not depend on the order of the rules in the file. A finding that can't be
//! made is a [`NotJudged`] with its reason; it spoils no other that doesn't need it.

mod answers;
mod bands;
mod build;
mod condition;
#[cfg(test)]
mod drawn_tests;
mod expression;
mod finding;
#[cfg(test)]
mod fixture;
mod graph;
mod input;
mod judged;
mod kinds;
mod names;
mod points;
mod printed;
mod rule;
mod text;
pub mod trace;

pub use answers::{Answer, Answered, Answers, Fact, ProgramUse};
pub use build::RULES_LIMIT;
pub use expression::{LENGTH_LIMIT as EXPRESSION_LIMIT, NESTING_LIMIT as EXPRESSION_NESTING};
pub use finding::{
    Advice, BandScale, Banded, Finding, Fit, FitAxis, FitOption, NotJudged, Says, Value, Verdict,
};
pub use judged::Judged;
pub use kinds::{HEADINGS, KindDoc, RuleFile, kinds};
pub use names::{Meaning, Name, Names};
pub use points::POINTS_LIMIT;
pub use rule::{
    Facts, Findings, Form, Grounds, Head, Kind, Made, Mistake, Rule, RuleMethod, Yields,
};

pub use crate::measure::TraceStep;

use crate::files::{Date, Key, Map};
use crate::lab::RuleSetVersion;
use crate::measure::{Flag, Quantities, drawn::Drawn};
use crate::shoe::Shoe;
use std::sync::Arc;

/// The rule set, built: its rules in an order in which each comes after what it needs.
#[derive(Debug)]
pub struct RuleSet {
    /// Its version.
    pub version: u32,
    /// The day from which it holds.
    pub effective: Date,
    /// The chance under which a finding is borderline.
    pub borderline_below: f64,
    /// The names of the five bands.
    pub bands: [String; 5],
    /// What changed from version to version.
    pub history: Vec<RuleSetVersion>,
    /// The findings a review leads with, in this order.
    pub page: Vec<Key>,
    /// The rules, in the file's order.
    pub rules: Map<Key, Box<dyn Rule>>,
    /// The order of judging: places in `rules`.
    pub(crate) order: Vec<usize>,
    /// Intervals that were drawn before; of any rule set, since each is known by what
    /// it was drawn from.
    pub drawn: Arc<Drawn>,
}

impl RuleSet {
    /// All findings of one shoe.
    ///
    /// A session in doubt (a flag that stops publishing unless it is accepted)
    /// makes every finding of the shoe provisional; a quantity in doubt those that
    /// rest on it.
    pub fn judge(
        &self,
        shoe: Arc<Shoe>,
        quantities: Quantities,
        session_flags: Vec<Flag>,
    ) -> Judged {
        self.judge_with(shoe, quantities, session_flags, Answers::new())
    }

    /// All findings of one shoe, with what outside programs have answered of it.
    pub fn judge_with(
        &self,
        shoe: Arc<Shoe>,
        quantities: Quantities,
        session_flags: Vec<Flag>,
        answers: Answers,
    ) -> Judged {
        let in_doubt = session_flags.iter().any(Flag::makes_provisional);
        let rules: Vec<&dyn Rule> = self.rules.iter().map(|(_, rule)| &**rule).collect();
        let mut findings = Findings::new();
        for place in &self.order {
            let rule = rules[*place];
            let facts = Facts {
                quantities: &quantities,
                findings: &findings,
                answers: &answers,
            };
            let mut made = rule.judge(&facts, &self.drawn);
            if let Ok(finding) = &mut made {
                finding.provisional |= in_doubt;
            }
            findings.insert(rule.key().clone(), made.map(Box::new));
        }
        Judged {
            shoe,
            quantities,
            findings,
            session_flags,
            answers,
        }
    }

    /// What a rule's program is told of a judged shoe; none if the rule has no
    /// program or the shoe lacks one of the facts.
    pub fn question(&self, judged: &Judged, finding: &Key) -> Option<Vec<Fact>> {
        self.rule(finding)?.question(&judged.facts())
    }

    /// A rule by its finding's name.
    pub fn rule(&self, finding: &Key) -> Option<&dyn Rule> {
        self.rules.get(finding).map(|rule| &**rule)
    }

    /// The rules in the order of judging: each after those it needs.
    pub fn in_order(&self) -> impl Iterator<Item = &dyn Rule> {
        let rules: Vec<&dyn Rule> = self.rules.iter().map(|(_, rule)| &**rule).collect();
        self.order.iter().map(move |place| rules[*place])
    }

    /// Every entry under `findings` of `phrases.yaml` that a page may need, in the
    /// file's order of rules: the finding and the names of its entries.
    pub fn phrases(&self) -> Vec<(&Key, Vec<String>)> {
        self.rules
            .iter()
            .map(|(key, rule)| (key, rule.phrases()))
            .filter(|(_, entries)| !entries.is_empty())
            .collect()
    }

    /// Every entry under `advice` of `phrases.yaml` that a page may need: the
    /// finding and the entry it says.
    pub fn advice_phrases(&self) -> Vec<(&Key, &Key)> {
        self.rules
            .iter()
            .filter_map(|(key, rule)| Some((key, rule.advice()?)))
            .collect()
    }

    /// Every rule as the method page tells it, in the file's order.
    pub fn method(&self) -> Vec<(&Key, RuleMethod)> {
        self.rules
            .iter()
            .map(|(key, rule)| (key, rule.method()))
            .collect()
    }
}
