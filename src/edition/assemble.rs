//! From judged shoes to an edition: who is out, who is held, what stops it.

use super::{Correction, Edition};
use crate::catalogue::Catalogue;
use crate::diagnostics::{KeyPath, Problem};
use crate::files::{Date, Slug, Week};
use crate::lab::Lab;
use crate::measure::Flag;
use crate::rules::{Judged, RuleSet};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Which shoes an edition holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// Only what is out.
    Published,
    /// Drafts and held shoes too; every page says so.
    WithDrafts,
}

/// A shoe that is not in an edition, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// Which.
    pub slug: Slug,
    /// Until when; none for a draft.
    pub until: Option<Date>,
}

/// An edition, and the shoes that are not in it.
#[derive(Debug)]
pub struct Assembled {
    /// The edition.
    pub edition: Edition,
    /// Drafts and held shoes, by address.
    pub held: Vec<Held>,
}

impl Edition {
    /// Puts the edition of a date together.
    ///
    /// Shoes may come in any order. A withdrawal after the date has not happened
    /// yet and is not in the edition.
    pub fn assemble(
        lab: Lab,
        rules: RuleSet,
        shoes: Vec<Judged>,
        corrections: BTreeMap<Slug, Vec<Correction>>,
        as_of: Date,
        scope: Scope,
    ) -> Assembled {
        let (mut out, held) = sort_out(shoes, as_of, scope);
        out.sort_by(|a, b| a.shoe.slug.cmp(&b.shoe.slug));
        for judged in &mut out {
            if judged.shoe.file.withdrawn.is_some() && !is_taken_back(judged, as_of) {
                Arc::make_mut(&mut judged.shoe).file.withdrawn = None;
            }
        }
        let mut weeks: BTreeMap<Week, Vec<usize>> = BTreeMap::new();
        for (at, judged) in out.iter().enumerate() {
            if let Some(day) = judged.shoe.file.publish
                && day <= as_of
            {
                weeks.entry(day.week()).or_default().push(at);
            }
        }
        let standing: Vec<&Judged> = out
            .iter()
            .filter(|judged| judged.shoe.file.withdrawn.is_none())
            .collect();
        let catalogue = Catalogue::of(&standing, &lab.protocol, &rules);
        let published = |slug: &Slug| {
            out.binary_search_by(|judged| judged.shoe.slug.cmp(slug))
                .is_ok()
        };
        let corrections = corrections
            .into_iter()
            .filter(|(slug, _)| published(slug))
            .map(|(slug, mut of)| {
                of.retain(|correction| correction.on <= as_of);
                (slug, of)
            })
            .filter(|(_, of)| !of.is_empty())
            .collect();
        let edition = Edition {
            as_of,
            drafts: scope == Scope::WithDrafts,
            lab,
            rules,
            shoes: out,
            weeks,
            catalogue,
            corrections,
            frozen: Vec::new(),
            sealed: None,
        };
        Assembled { edition, held }
    }
}

fn sort_out(shoes: Vec<Judged>, as_of: Date, scope: Scope) -> (Vec<Judged>, Vec<Held>) {
    let mut out = Vec::with_capacity(shoes.len());
    let mut held = Vec::new();
    for judged in shoes {
        if scope == Scope::WithDrafts || is_out(&judged, as_of) {
            out.push(judged);
        } else {
            held.push(Held {
                slug: judged.shoe.slug.clone(),
                until: judged.shoe.file.publish,
            });
        }
    }
    held.sort_by(|a, b| a.slug.cmp(&b.slug));
    (out, held)
}

/// Whether a shoe is out as of a date.
pub fn is_out(judged: &Judged, as_of: Date) -> bool {
    judged.shoe.file.publish.is_some_and(|day| day <= as_of)
}

/// Whether a review is taken back as of a date; a later day has not come yet.
pub fn is_taken_back(judged: &Judged, as_of: Date) -> bool {
    let withdrawn = judged.shoe.file.withdrawn.as_ref();
    withdrawn.is_some_and(|withdrawn| withdrawn.on <= as_of)
}

/// What screening found and nobody accepted: an error for a shoe that is out,
/// a warning for one that is not, so that one unready shoe holds nobody up.
pub fn unaccepted(judged: &Judged, as_of: Date) -> Vec<Problem> {
    let out = is_out(judged, as_of) && !is_taken_back(judged, as_of);
    let of_quantities = judged
        .quantities
        .values()
        .filter_map(|quantity| quantity.as_ref().ok())
        .flat_map(|summary| &summary.flags);
    judged
        .session_flags
        .iter()
        .chain(of_quantities)
        .filter(|flag| flag.stops())
        .map(|flag| {
            let path = path_of(judged, flag);
            let make = if out {
                Problem::error
            } else {
                Problem::warning
            };
            make(
                flag.code,
                judged.shoe.path.clone(),
                path,
                flag.message.clone(),
            )
            .hint(format!(
                "measure again, or accept it: `accept: [{{flag: {}{}, reason: …}}]`",
                flag.code,
                flag.quantity
                    .as_ref()
                    .map_or(String::new(), |key| format!(", of: {key}")),
            ))
        })
        .collect()
}

fn path_of(judged: &Judged, flag: &Flag) -> KeyPath {
    let root = KeyPath::root().key("specimens");
    let Some(at) = flag.specimen.as_ref().and_then(|id| {
        judged
            .shoe
            .file
            .specimens
            .iter()
            .position(|specimen| specimen.id == *id)
    }) else {
        return root;
    };
    let specimen = root.index(at);
    match &flag.quantity {
        Some(key) => specimen.key("readings").key(key.as_str()),
        None => specimen.key("session"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{FlagWeight, Quantities};
    use crate::rules::{Answers, Findings};
    use crate::shoe::Shoe;

    /// Out since 26 November, taken back on 10 December, and in doubt.
    fn doubted() -> Judged {
        let file = "{schema: 1, maker: Nobody, model: Fixture, category: road, \
                    size: {system: mondopoint, value: 270}, publish: 2026-11-26, \
                    withdrawn: {on: 2026-12-10, reason: Mislabelled.}, specimens: []}";
        let flag = Flag {
            code: "spread",
            weight: FlagWeight::Stops,
            quantity: None,
            specimen: None,
            message: "too wide".into(),
            accepted: None,
        };
        Judged {
            shoe: Arc::new(Shoe {
                curves: Vec::new(),
                slug: "fixture".parse().unwrap(),
                path: "shoes/fixture.yaml".into(),
                file: serde_yaml::from_str(file).unwrap(),
            }),
            quantities: Quantities::new(),
            findings: Findings::new(),
            session_flags: vec![flag],
            answers: Answers::new(),
        }
    }

    #[test]
    fn what_is_in_doubt_stops_publishing_from_the_day_it_is_out_to_the_day_it_is_taken_back() {
        for (as_of, stops) in [
            ("2026-11-25", false),
            ("2026-11-26", true),
            ("2026-12-09", true),
            ("2026-12-10", false),
        ] {
            let problems = unaccepted(&doubted(), as_of.parse().unwrap());
            let errors: Vec<bool> = problems.iter().map(Problem::is_error).collect();
            assert_eq!(errors, [stops], "{as_of}");
        }
    }
}
