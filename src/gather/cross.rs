//! Checks across files: shoes against rules, addresses against each other; and
//! [phrases](super::phrases) against rules.

use crate::diagnostics::{Collector, KeyPath, Problem};
use crate::files::{Key, Slug, nearest};
use crate::lab::Lab;
use crate::measure::FLAGS;
use crate::rules::RuleSet;
use crate::shoe::Shoe;
use std::collections::BTreeMap;

pub(super) fn check<'s>(
    lab: &Lab,
    rules: &RuleSet,
    shoes: impl Iterator<Item = &'s Shoe> + Clone,
    problems: &mut Vec<Problem>,
) {
    problems.extend(super::phrases::check(rules, &lab.phrases));
    problems.extend(super::outside::check(lab, rules));
    for shoe in shoes.clone() {
        let mut found = Collector::new(shoe.path.clone());
        check_words(shoe, rules, &mut found);
        check_accepted(shoe, lab, &mut found);
        problems.extend(found.into_problems());
    }
    problems.extend(check_former_addresses(shoes));
}

/// An editor's words stand for a finding the rule set makes.
fn check_words(shoe: &Shoe, rules: &RuleSet, to: &mut Collector) {
    for (key, words) in shoe.file.words.iter() {
        let path = KeyPath::root().key("words").key(key.as_str());
        if !rules.rules.contains(key) {
            let near = nearest(key.as_str(), rules.rules.keys().map(Key::as_str));
            to.push(
                Problem::error(
                    "unknown-name",
                    shoe.path.clone(),
                    path,
                    format!("the rule set makes no finding `{key}`"),
                )
                .hint(near.map_or_else(
                    || "name a finding of lab/rules.yaml".to_owned(),
                    |near| format!("did you mean `{near}`?"),
                ))
                .on_key(),
            );
        } else if words.trim().is_empty() {
            to.error(
                "nothing-given",
                path,
                "an editor's words are empty",
                "write them, or take the key away",
            );
        }
    }
}

fn check_accepted(shoe: &Shoe, lab: &Lab, to: &mut Collector) {
    for (at, accept) in shoe.file.accept.iter().enumerate() {
        let path = KeyPath::root().key("accept").index(at);
        if !FLAGS.contains(&accept.flag.as_str()) {
            to.error(
                "unknown-name",
                path.key("flag"),
                format!(
                    "there is no flag `{}`; there are {}",
                    accept.flag,
                    FLAGS.join(", ")
                ),
                nearest(accept.flag.as_str(), FLAGS).map_or_else(
                    || "name the flag as `proof` shows it".to_owned(),
                    |near| format!("did you mean `{near}`?"),
                ),
            );
        }
        if let Some(of) = &accept.of
            && !lab.protocol.quantities.contains(of)
        {
            to.error(
                "unknown-name",
                path.key("of"),
                format!("the protocol has no quantity `{of}`"),
                nearest(of.as_str(), lab.protocol.quantities.keys().map(Key::as_str)).map_or_else(
                    || "name a quantity of lab/protocol.yaml".to_owned(),
                    |near| format!("did you mean `{near}`?"),
                ),
            );
        }
    }
}

/// An earlier address belongs to one shoe, and to none that is there now.
fn check_former_addresses<'s>(shoes: impl Iterator<Item = &'s Shoe> + Clone) -> Vec<Problem> {
    let mut taken: BTreeMap<&Slug, &Shoe> = shoes.clone().map(|shoe| (&shoe.slug, shoe)).collect();
    let mut problems = Vec::new();
    for shoe in shoes {
        for (at, former) in shoe.file.formerly.iter().enumerate() {
            if let Some(other) = taken.insert(former, shoe) {
                problems.push(
                    Problem::error(
                        "same-address",
                        shoe.path.clone(),
                        KeyPath::root().key("formerly").index(at),
                        format!("the address `{former}` is taken by {}", other.path),
                    )
                    .hint("an earlier address leads to one shoe only"),
                );
                taken.insert(former, other);
            }
        }
    }
    problems
}
