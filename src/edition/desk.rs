//! The desk list: what each shoe of a batch still misses before it can go out.
//!
//! It lists what a reader would miss, and what would stop publishing. It judges
//! nothing: whether a reading is good is screening's part, and stands in the list
//! as what nobody has accepted yet.

use super::assemble::{is_taken_back, unaccepted};
use crate::files::{Date, Key, Slug, Week};
use crate::lab::Lab;
use crate::rules::{Judged, RuleSet, Says};
use serde::Serialize;
use std::collections::BTreeSet;

/// What one shoe of the batch misses.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DeskLine {
    /// Its address.
    pub shoe: Slug,
    /// Its title.
    pub title: String,
    /// The day it is to come out.
    pub publish: Date,
    /// What is missing; empty if it can go out.
    pub missing: Vec<Missing>,
}

/// Something that is missing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Missing {
    /// A quantity the rule set needs has no value.
    Readings {
        /// Which.
        of: Key,
        /// Why there is none.
        reason: String,
    },
    /// A quantity has fewer trials than the protocol asks for.
    Trials {
        /// Which.
        of: Key,
        /// On which specimen.
        specimen: String,
        /// How many count.
        are: usize,
        /// How many the protocol asks for.
        wanted: usize,
    },
    /// The sentence of the editor.
    Summary,
    /// The words for one result.
    Phrases {
        /// The finding.
        of: Key,
        /// The result without words.
        entry: String,
    },
    /// The text that stands for a picture of the review.
    PictureText {
        /// The picture.
        picture: String,
    },
    /// What the shoe costs.
    Price,
    /// A flag that stops publishing, and nobody accepted.
    Accept {
        /// Its code.
        flag: &'static str,
        /// What was found.
        message: String,
    },
}

/// What each shoe of a week's batch misses, by day and title. A review that is taken
/// back on its very day is no part of a batch; one that is taken back later was, or
/// still is to come out.
pub fn desk_list(
    shoes: &[Judged],
    lab: &Lab,
    rules: &RuleSet,
    week: Week,
    pictures_without_text: impl Fn(&str) -> Vec<String>,
) -> Vec<DeskLine> {
    let needed: BTreeSet<&Key> = rules
        .rules
        .iter()
        .flat_map(|(_, rule)| rule.needs())
        .filter(|key| lab.protocol.quantities.contains(*key))
        .collect();
    let mut list: Vec<DeskLine> = shoes
        .iter()
        .filter_map(|judged| Some((judged, judged.shoe.file.publish?)))
        .filter(|(judged, day)| day.week() == week && !is_taken_back(judged, *day))
        .map(|(judged, publish)| {
            let mut missing = of_readings(judged, lab, &needed);
            let file = &judged.shoe.file;
            if file
                .summary
                .as_deref()
                .is_none_or(|text| text.trim().is_empty())
            {
                missing.push(Missing::Summary);
            }
            missing.extend(of_phrases(judged, lab));
            let pictures = pictures_without_text(file.review.as_deref().unwrap_or_default());
            missing.extend(
                pictures
                    .into_iter()
                    .map(|picture| Missing::PictureText { picture }),
            );
            if file.price.is_none() {
                missing.push(Missing::Price);
            }
            let flags = unaccepted(judged, publish);
            missing.extend(flags.into_iter().map(|problem| Missing::Accept {
                flag: problem.code,
                message: problem.message,
            }));
            DeskLine {
                shoe: judged.shoe.slug.clone(),
                title: judged.shoe.title(),
                publish,
                missing,
            }
        })
        .collect();
    list.sort_by(|a, b| (a.publish, &a.title).cmp(&(b.publish, &b.title)));
    list
}

fn of_readings(judged: &Judged, lab: &Lab, needed: &BTreeSet<&Key>) -> Vec<Missing> {
    let mut missing = Vec::new();
    for (key, spec) in lab.protocol.quantities.iter() {
        match judged.quantities.get(key) {
            Some(Ok(summary)) => {
                // A figure taken from a curve has one value a curve.
                if spec.from.is_some() {
                    continue;
                }
                for specimen in &summary.specimens {
                    let are = specimen
                        .trials
                        .iter()
                        .filter(|trial| trial.left_out.is_none())
                        .count();
                    if are < spec.trials {
                        missing.push(Missing::Trials {
                            of: key.clone(),
                            specimen: specimen.id.clone(),
                            are,
                            wanted: spec.trials,
                        });
                    }
                }
            }
            _ if !needed.contains(key) => {}
            Some(Err(absent)) => missing.push(Missing::Readings {
                of: key.clone(),
                reason: absent.reason.clone(),
            }),
            None => missing.push(Missing::Readings {
                of: key.clone(),
                reason: "it was not measured".into(),
            }),
        }
    }
    missing
}

/// Results that have no words, neither the lab's nor an editor's.
fn of_phrases(judged: &Judged, lab: &Lab) -> Vec<Missing> {
    let mut missing = Vec::new();
    for (key, finding) in &judged.findings {
        let Ok(finding) = finding else { continue };
        if judged.shoe.file.words.contains(key) {
            continue;
        }
        let (there, entry) = match &finding.says {
            Says::Band(banded) => {
                let phrases = lab.phrases.findings.get(key);
                let there = phrases.is_some_and(|found| found.contains(banded.name()));
                (there, banded.name().to_owned())
            }
            Says::Value(_) => {
                let phrases = lab.phrases.findings.get(key);
                (
                    phrases.is_none_or(|found| found.contains("any")),
                    "any".into(),
                )
            }
            Says::Advice(advice) => (
                lab.phrases.advice.contains(&advice.phrase),
                advice.phrase.to_string(),
            ),
            Says::Fit(_) => continue,
        };
        if !there {
            missing.push(Missing::Phrases {
                of: key.clone(),
                entry,
            });
        }
    }
    missing
}
