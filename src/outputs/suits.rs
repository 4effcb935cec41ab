//! In one sentence whom a shoe suits, from its fit and its pace tier.
//!
//! The sentence says `may`, uses the lab's labels, says `perhaps` where a
//! verdict turns within the figures' uncertainty, and says so where nothing
//! suits or nothing is known. It describes the shoe, not a person.

use super::composer::Composer;
use super::wording::{any_of, article, fill, sentence};
use crate::rules::{Banded, Fit, FitAxis, Judged, Says, Verdict};
use crate::words::say;

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

/// The sentence that says whom a shoe suits.
pub(super) struct Suits {
    /// The sentence.
    pub text: String,
    /// Its language, where it is not the page's.
    pub language: Option<String>,
    /// Whether an editor wrote it.
    pub by_editor: bool,
}

/// The sentence for a shoe.
pub(super) fn suits(composer: &Composer<'_>, judged: &Judged) -> Suits {
    let fit_key = composer.fit();
    if let Some(words) = fit_key.and_then(|key| composer.own_words(judged, key)) {
        let title = judged.shoe.title();
        return Suits {
            text: sentence(&fill(words.text, &[("shoe", &title)])),
            language: words.language(composer),
            by_editor: true,
        };
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
            Says::Fit(fit) => Some(whom(composer, fit)),
            _ => None,
        },
        Some(None) => Some(say!(
            composer,
            "whom it may suit is not known, because it could not be judged"
        )),
    };
    let pace = pace(composer, judged);
    let both: Vec<String> = whom.into_iter().chain(pace).collect();
    let text = if both.is_empty() {
        say!(composer, "The rule set does not judge whom a shoe suits.")
    } else {
        sentence(&both.join("; "))
    };
    Suits {
        text,
        language: None,
        by_editor: false,
    }
}

/// Whom a fit speaks for, as a clause.
fn whom(composer: &Composer<'_>, fit: &Fit) -> String {
    use Words::{None, Suits, Unknown};
    match (words(composer, &fit.rows), words(composer, &fit.columns)) {
        (Suits(rows), Suits(columns)) => say!(
            composer,
            "may suit {rows} and {columns}",
            rows = rows,
            columns = columns
        ),
        (None(label), _) | (_, None(label)) => say!(
            composer,
            "its figures suit none of the options under {list}",
            list = label
        ),
        (Suits(known), Unknown(label)) | (Unknown(label), Suits(known)) => say!(
            composer,
            "may suit {known}, but {list} could not be judged",
            known = known,
            list = label
        ),
        (Unknown(rows), Unknown(columns)) => say!(
            composer,
            "whom it may suit is not known, because {rows} and {columns} could not be judged",
            rows = rows,
            columns = columns
        ),
    }
}

/// What one list comes to, in the lab's labels.
fn words(composer: &Composer<'_>, axis: &FitAxis) -> Words {
    let labels: Vec<String> = axis
        .options
        .iter()
        .map(|option| composer.word(&option.label))
        .collect();
    let list = composer.word(&axis.label);
    let (stems, noun) = stems(composer, &labels, &list);
    let with = |verdict: Verdict| -> Vec<String> {
        let options = axis.options.iter().zip(&stems);
        options
            .filter(|(option, _)| option.verdict == verdict)
            .map(|(_, stem)| composer.inside(stem))
            .collect()
    };
    let (holds, close) = (with(Verdict::Holds), with(Verdict::Close));
    let unknown = !with(Verdict::Unknown).is_empty();
    if holds.is_empty() && close.is_empty() {
        let list = composer.inside(&list);
        return if unknown {
            Words::Unknown(list)
        } else {
            Words::None(list)
        };
    }
    if holds.len() == axis.options.len() {
        return Words::Suits(say!(composer, "any {noun}", noun = noun));
    }
    let close_words = any_of(composer.language, &close);
    if holds.is_empty() {
        return Words::Suits(say!(
            composer,
            "perhaps {article} {options} {noun}",
            article = article(&close_words),
            options = close_words,
            noun = noun
        ));
    }
    let holds = any_of(composer.language, &holds);
    let words = say!(
        composer,
        "{article} {options} {noun}",
        article = article(&holds),
        options = holds,
        noun = noun
    );
    if close.is_empty() {
        Words::Suits(words)
    } else {
        Words::Suits(say!(
            composer,
            "{what} (perhaps also {options})",
            what = words,
            options = close_words
        ))
    }
}

/// The labels without the word they all end in, and that word; or the labels as
/// they are and the list's own name: `light`, `middling`, and `build`.
fn stems(composer: &Composer<'_>, labels: &[String], list: &str) -> (Vec<String>, String) {
    let split: Option<Vec<(&str, &str)>> =
        labels.iter().map(|label| label.rsplit_once(' ')).collect();
    if let Some(split) = split
        && let Some((_, noun)) = split.first()
        && split.iter().all(|(_, last)| last == noun)
    {
        let stems = split.iter().map(|(stem, _)| (*stem).to_owned());
        return (stems.collect(), (*noun).to_owned());
    }
    (labels.to_vec(), composer.inside(list))
}

/// The pace tier, as a clause: `a daily shoe by pace`.
fn pace(composer: &Composer<'_>, judged: &Judged) -> Option<String> {
    let key = composer.pace()?;
    let label = composer.inside(&composer.label(key));
    let banded: &Banded = match judged.findings.get(key) {
        Some(Ok(finding)) => match &finding.says {
            Says::Band(banded) => banded,
            _ => return None,
        },
        _ => {
            return Some(say!(
                composer,
                "its {label} could not be judged",
                label = label
            ));
        }
    };
    let tier = composer.word(banded.name());
    let near = banded
        .neighbour
        .and_then(|at| banded.scale.names.get(at))
        .map(|name| composer.word(name));
    Some(match near {
        Some(near) => say!(
            composer,
            "{article} {tier} shoe by {label}, near {near}",
            article = article(&tier),
            tier = tier,
            label = label,
            near = near
        ),
        None => say!(
            composer,
            "{article} {tier} shoe by {label}",
            article = article(&tier),
            tier = tier,
            label = label
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn fit(rows: [Verdict; 3], columns: [Verdict; 3]) -> String {
        let edition = testing::edition();
        let surroundings = crate::outputs::Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        whom(&composer, &testing::fit(rows, columns))
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
