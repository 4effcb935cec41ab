//! The way from readings to a finding.

use super::{Judged, RuleSet, TraceStep};
use crate::files::Key;

/// What to tell for a finding, each after what it rests on: the quantities and
/// findings it needs, theirs before them, and the finding itself last. A quantity
/// names itself alone. Empty if neither a finding nor a quantity has that name.
pub fn way(rules: &RuleSet, judged: &Judged, finding: &Key) -> Vec<Key> {
    let mut told = Vec::new();
    tell(rules, judged, finding, &mut told);
    told
}

fn tell(rules: &RuleSet, judged: &Judged, key: &Key, told: &mut Vec<Key>) {
    if told.contains(key) {
        return;
    }
    match rules.rules.get(key) {
        Some(rule) => {
            for needed in rule.needs() {
                tell(rules, judged, needed, told);
            }
        }
        // A set built for another protocol may know quantities this shoe doesn't.
        None if !judged.quantities.contains_key(key) => return,
        None => {}
    }
    told.push(key.clone());
}

/// The steps of one finding with its numbers; none for a finding that was not
/// made, whose reason stands in `judged`.
pub fn steps(rules: &RuleSet, judged: &Judged, finding: &Key) -> Vec<TraceStep> {
    let (Some(rule), Some(Ok(made))) = (rules.rules.get(finding), judged.findings.get(finding))
    else {
        return Vec::new();
    };
    rule.steps(&judged.facts(), made)
}
