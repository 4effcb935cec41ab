//! What of a shoe's findings is sealed: what a reader sees of them, in words.

use super::Edition;
use crate::files::Key;
use crate::measure::{expanded, interval::wider_side};
use crate::quantity::{decimals_for_uncertainty, fixed};
use crate::rules::{Banded, Fit, Judged, Made, Says, Verdict};
use crate::words::{said, text};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One finding as it was published.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sealed {
    /// What it says: a band, a number with its unit, verdicts, or why it was not judged.
    pub says: String,
    /// The figures behind it, where it has any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub figures: Option<String>,
}

/// A shoe's findings as they are published.
pub fn sealed(judged: &Judged, edition: &Edition) -> BTreeMap<Key, Sealed> {
    let coverage = edition.lab.protocol.coverage;
    judged
        .findings
        .iter()
        .map(|(key, finding)| (key.clone(), of_finding(finding, coverage)))
        .collect()
}

pub(super) fn of_finding(finding: &Made, coverage: f64) -> Sealed {
    let plain = |says: String| Sealed {
        says,
        figures: None,
    };
    match finding {
        Err(not) => plain(said!("not judged: {reason}", reason = not.reason)),
        Ok(finding) => match &finding.says {
            Says::Band(banded) => of_band(banded, coverage),
            Says::Value(value) => plain(format!(
                "{} {}",
                fixed(value.value.value, value.decimals),
                value.unit
            )),
            Says::Fit(fit) => plain(of_fit(fit)),
            Says::Advice(advice) => plain(
                match (advice.verdict, advice.at_estimate) {
                    (Verdict::Holds, _) => text!("applies"),
                    (Verdict::Close, true) => text!("applies, closely"),
                    (Verdict::Close, false) => text!("does not apply, closely"),
                    (Verdict::Fails, _) => text!("does not apply"),
                    (Verdict::Unknown, _) => text!("not known"),
                }
                .to_owned(),
            ),
        },
    }
}

fn of_band(banded: &Banded, coverage: f64) -> Sealed {
    let says = match banded.neighbour {
        Some(neighbour) => said!(
            "{band}, borderline with {other}",
            band = banded.name(),
            other = banded.scale.names[neighbour]
        ),
        None => banded.name().to_owned(),
    };
    // The places of the published interval, as a page prints the score; a score held
    // at the end of its scale has none.
    let wide = wider_side(banded.score.value, banded.interval);
    let places = if wide == 0.0 {
        0
    } else {
        decimals_for_uncertainty(wide, 1)
    };
    let score = fixed(banded.score.value, places);
    let figures = match &banded.value {
        Some((value, unit)) => {
            let places = decimals_for_uncertainty(expanded(value, coverage).U, 3);
            let score = said!("{score} of 100", score = score);
            format!("{} {unit}, {score}", fixed(value.value, places))
        }
        None => said!("{score} of 100", score = score),
    };
    Sealed {
        says,
        figures: Some(figures),
    }
}

/// The words of verdicts, as they are sealed.
const VERDICTS: [&str; 4] = [
    text!("suits"),
    text!("close"),
    text!("other"),
    text!("not known"),
];

fn of_fit(fit: &Fit) -> String {
    let verdict = |verdict: Verdict| match verdict {
        Verdict::Holds => VERDICTS[0],
        Verdict::Close => VERDICTS[1],
        Verdict::Fails => VERDICTS[2],
        Verdict::Unknown => VERDICTS[3],
    };
    [&fit.rows, &fit.columns]
        .into_iter()
        .flat_map(|axis| &axis.options)
        .map(|option| format!("{} {}", option.label, verdict(option.verdict)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// What changed from one state to another, one line each, in the order of names:
/// `Torsion: medium → high`. A finding that only one of them has is said too.
pub fn changes(
    old: &BTreeMap<Key, Sealed>,
    new: &BTreeMap<Key, Sealed>,
    label: impl Fn(&Key) -> String,
) -> Vec<String> {
    let mut keys: Vec<&Key> = old.keys().chain(new.keys()).collect();
    keys.sort();
    keys.dedup();
    keys.into_iter()
        .filter_map(|key| {
            let label = label(key);
            match (old.get(key), new.get(key)) {
                (Some(old), Some(new)) if old.says != new.says => Some(format!(
                    "{label}: {}",
                    verdicts_changed(&old.says, &new.says)
                        .unwrap_or_else(|| format!("{} → {}", old.says, new.says))
                )),
                (Some(old), Some(new)) if old.figures != new.figures => {
                    let figures =
                        |of: &Sealed| of.figures.clone().unwrap_or_else(|| of.says.clone());
                    Some(format!("{label}: {} → {}", figures(old), figures(new)))
                }
                (None, Some(new)) => Some(said!(
                    "{finding}: new, {says}",
                    finding = label,
                    says = new.says
                )),
                (Some(old), None) => Some(said!(
                    "{finding}: no longer found; it was {says}",
                    finding = label,
                    says = old.says
                )),
                _ => None,
            }
        })
        .collect()
}

/// Of two lists of verdicts the ones that changed, so that nobody has to find them;
/// none if the two are no such lists of the same options.
fn verdicts_changed(old: &str, new: &str) -> Option<String> {
    let split = |says: &'_ str| -> Option<Vec<(String, &'static str)>> {
        says.split(", ")
            .map(|part| {
                VERDICTS.into_iter().find_map(|verdict| {
                    let option = part.strip_suffix(verdict)?.strip_suffix(' ')?;
                    Some((option.to_owned(), verdict))
                })
            })
            .collect()
    };
    let (old, new) = (split(old)?, split(new)?);
    let alike = old.len() == new.len() && old.iter().zip(&new).all(|(old, new)| old.0 == new.0);
    alike.then(|| {
        let changed = old.iter().zip(&new).filter(|(old, new)| old.1 != new.1);
        changed
            .map(|(old, new)| format!("{} {} → {}", old.0, old.1, new.1))
            .collect::<Vec<_>>()
            .join(", ")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_change_is_told_once_by_name_with_what_it_was_and_is() {
        let all = |of: &[(&str, &str, Option<&str>)]| -> BTreeMap<Key, Sealed> {
            let one = |(key, says, figures): &(&str, &str, Option<&str>)| {
                let sealed = Sealed {
                    says: (*says).to_owned(),
                    figures: figures.map(str::to_owned),
                };
                (key.parse().unwrap(), sealed)
            };
            of.iter().map(one).collect()
        };
        let old = all(&[
            ("build", "Light suits, Heavy close", None),
            ("gone", "low", None),
            ("lift", "low", Some("2.0 mm, 20 of 100")),
            ("still", "low", Some("1 of 100")),
            ("torsion", "medium", Some("50 of 100")),
        ]);
        let new = all(&[
            ("a-new-one", "high", None),
            ("build", "Light suits, Heavy other", None),
            ("lift", "low", Some("2.1 mm, 21 of 100")),
            ("still", "low", Some("1 of 100")),
            ("torsion", "high", Some("61 of 100")),
        ]);
        assert_eq!(
            changes(&old, &new, |key| key.to_string().to_uppercase()),
            [
                "A-NEW-ONE: new, high",
                "BUILD: Heavy close → other",
                "GONE: no longer found; it was low",
                "LIFT: 2.0 mm, 20 of 100 → 2.1 mm, 21 of 100",
                "TORSION: medium → high",
            ]
        );
    }

    #[test]
    fn lists_of_other_options_are_told_whole() {
        let old = "Light build suits, Neutral close";
        for new in [
            "Light build suits, Pronated close",
            "Light build other",
            "Light build suits, Neutral close, Pronated other",
        ] {
            assert_eq!(verdicts_changed(old, new), None, "{new}");
        }
    }

    #[test]
    fn of_a_fit_only_the_verdicts_that_changed_are_told() {
        let old = "Light build suits, Neutral close, Pronated not known";
        let new = "Light build suits, Neutral suits, Pronated other";
        assert_eq!(
            verdicts_changed(old, new).as_deref(),
            Some("Neutral close → suits, Pronated not known → other")
        );
        assert_eq!(verdicts_changed("applies", "applies, closely"), None);
        assert_eq!(
            verdicts_changed("medium, borderline with high", "high"),
            None
        );
        assert_eq!(
            verdicts_changed(old, "not judged: a reading is missing"),
            None
        );
    }
}
