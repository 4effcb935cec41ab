//! In one sentence whom a shoe suits, from its fit and its pace tier.
//!
//! The sentence says `may`, uses the lab's labels, says `perhaps` where a
//! verdict turns within the figures' uncertainty, and says so where nothing
//! suits or nothing is known. It describes the shoe, not a person.

use super::composer::Composer;
use super::wording::{article, fill, inside, list, sentence};
use crate::rules::{Banded, Fit, FitAxis, Judged, Says, Verdict};

/// What one list of options comes to.
#[derive(Debug, PartialEq)]
enum Words {
    /// At least one option may suit.
    Suits(String),
    /// Every option fails.
    None(String),
    /// A figure is missing and nothing is sure to suit.
    Unknown(String),
}

/// The sentence, and whether an editor wrote it.
pub(super) fn suits(composer: &Composer<'_>, judged: &Judged) -> (String, bool) {
    let fit_key = composer.fit();
    if let Some(words) = fit_key.and_then(|key| judged.shoe.file.words.get(key)) {
        let title = judged.shoe.title();
        return (sentence(&fill(words, &[("shoe", &title)])), true);
    }
    let fit = fit_key.map(|key| {
        judged
            .findings
            .get(key)
            .and_then(|finding| finding.as_ref().ok())
    });
    let whom = match fit {
        None => None,
        Some(Some(finding)) => match &finding.says {
            Says::Fit(fit) => Some(whom(fit)),
            _ => None,
        },
        Some(None) => Some("whom it may suit is not known, because it could not be judged".into()),
    };
    let pace = pace(composer, judged);
    let both: Vec<String> = whom.into_iter().chain(pace).collect();
    if both.is_empty() {
        (
            "The rule set does not judge whom a shoe suits.".into(),
            false,
        )
    } else {
        (sentence(&both.join("; ")), false)
    }
}

/// Whom a fit speaks for, as a clause.
fn whom(fit: &Fit) -> String {
    use Words::{None, Suits, Unknown};
    match (words(&fit.rows), words(&fit.columns)) {
        (Suits(rows), Suits(columns)) => format!("may suit {rows} and {columns}"),
        (None(label), _) | (_, None(label)) => {
            format!("its figures suit none of the options under {label}")
        }
        (Suits(known), Unknown(label)) | (Unknown(label), Suits(known)) => {
            format!("may suit {known}, but {label} could not be judged")
        }
        (Unknown(rows), Unknown(columns)) => {
            format!(
                "whom it may suit is not known, because {rows} and {columns} could not be judged"
            )
        }
    }
}

/// What one list comes to, in the lab's labels.
fn words(axis: &FitAxis) -> Words {
    let with = |verdict: Verdict| -> Vec<&str> {
        let options = axis.options.iter();
        options
            .filter(|option| option.verdict == verdict)
            .map(|option| &*option.label)
            .collect()
    };
    let (holds, close) = (with(Verdict::Holds), with(Verdict::Close));
    let unknown = !with(Verdict::Unknown).is_empty();
    let (stems, noun) = stems(axis);
    let named = |labels: &[&str]| {
        let named: Vec<String> = labels
            .iter()
            .map(|label| {
                inside(
                    stems
                        .iter()
                        .find(|(of, _)| of == label)
                        .map_or(*label, |(_, stem)| stem),
                )
            })
            .collect();
        list(&named, "or")
    };
    if holds.is_empty() && close.is_empty() {
        return if unknown {
            Words::Unknown(inside(&axis.label))
        } else {
            Words::None(inside(&axis.label))
        };
    }
    if holds.len() == axis.options.len() {
        return Words::Suits(format!("any {noun}"));
    }
    let mut words = if holds.is_empty() {
        let close = named(&close);
        format!("perhaps {} {close} {noun}", article(&close))
    } else {
        let holds = named(&holds);
        format!("{} {holds} {noun}", article(&holds))
    };
    if !holds.is_empty() && !close.is_empty() {
        words.push_str(&format!(" (perhaps also {})", named(&close)));
    }
    Words::Suits(words)
}

/// The labels without the word they all end in, and that word; or the labels as
/// they are and the list's own name: `light`, `middling`, and `build`.
fn stems(axis: &FitAxis) -> (Vec<(&str, &str)>, String) {
    let labels: Vec<&str> = axis.options.iter().map(|option| &*option.label).collect();
    let split: Option<Vec<(&str, &str)>> =
        labels.iter().map(|label| label.rsplit_once(' ')).collect();
    if let Some(split) = split
        && let Some((_, noun)) = split.first()
        && split.iter().all(|(_, last)| last == noun)
    {
        let noun = (*noun).to_owned();
        let stems = split.iter().map(|(stem, _)| *stem);
        return (labels.iter().copied().zip(stems).collect(), noun);
    }
    let own = labels.iter().map(|label| (*label, *label)).collect();
    (own, inside(&axis.label))
}

/// The pace tier, as a clause: `a daily shoe by pace`.
fn pace(composer: &Composer<'_>, judged: &Judged) -> Option<String> {
    let key = composer.pace()?;
    let label = inside(&composer.label(key));
    let banded: &Banded = match judged.findings.get(key) {
        Some(Ok(finding)) => match &finding.says {
            Says::Band(banded) => banded,
            _ => return None,
        },
        _ => return Some(format!("its {label} could not be judged")),
    };
    let tier = banded.name();
    let near = banded
        .neighbour
        .and_then(|at| banded.scale.names.get(at))
        .map_or_else(String::new, |name| format!(", near {name}"));
    Some(format!("{} {tier} shoe by {label}{near}", article(tier)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn fit(rows: [Verdict; 3], columns: [Verdict; 3]) -> String {
        whom(&testing::fit(rows, columns))
    }

    #[test]
    fn it_names_the_builds_and_postures_that_may_suit() {
        use Verdict::{Close, Fails, Holds, Unknown};
        assert_eq!(
            fit([Fails, Holds, Holds], [Holds, Fails, Holds]),
            "may suit a middling or heavy build and a supinated or pronated foot posture"
        );
        assert_eq!(
            fit([Holds; 3], [Close, Holds, Fails]),
            "may suit any build and a neutral foot posture (perhaps also supinated)"
        );
        assert_eq!(
            fit([Close, Fails, Fails], [Holds; 3]),
            "may suit perhaps a light build and any foot posture"
        );
        assert_eq!(
            fit([Fails; 3], [Holds; 3]),
            "its figures suit none of the options under build"
        );
        assert_eq!(
            fit([Holds, Fails, Fails], [Unknown; 3]),
            "may suit a light build, but foot posture could not be judged"
        );
    }
}
