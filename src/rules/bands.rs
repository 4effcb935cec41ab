//! The bands of a score: their settings checked, a score put into one of them.

use super::text;
use super::{BandScale, Banded, Grounds, Mistake, TraceStep};
use crate::diagnostics::KeyPath;
use crate::files::{LABEL_LIMIT, WORD_LIMIT, too_long};
use crate::measure::interval::Method;
use crate::quantity::{Uncertain, Unit};
use crate::words::said;
use std::sync::Arc;

/// Where bands begin unless the rule says otherwise.
const DEFAULT_CUTS: [f64; 4] = [20.0, 40.0, 60.0, 80.0];

/// Scores are kept to a billionth, so that a reading that lies on a cut point
/// lies on it in whichever unit it was written down.
const STEPS: f64 = 1e9;

/// From about here on (2⁵³/10⁹) neighbouring numbers lie more than a billionth apart.
const COARSE: f64 = 9.0e6;

/// A rule's bands and when they are borderline.
#[derive(Clone, Debug)]
pub(super) struct Bands {
    pub scale: Arc<BandScale>,
    borderline_below: f64,
}

/// A score and what is known of it, before it is put into a band.
#[derive(Debug)]
pub(super) struct Placed {
    pub value: Option<(Uncertain, Unit)>,
    pub points: Option<Arc<[(f64, f64)]>>,
    pub score: Uncertain,
    pub interval: (f64, f64),
    pub method: Method,
    pub chances: Vec<f64>,
}

impl Bands {
    /// The bands from a rule's `cuts` and `names`.
    pub fn build(
        cuts: Option<Vec<f64>>,
        names: Option<Vec<String>>,
        grounds: &Grounds<'_>,
    ) -> Result<Bands, Vec<Mistake>> {
        let own_cuts = cuts.is_some();
        let cuts = cuts.unwrap_or_else(|| DEFAULT_CUTS.to_vec());
        let mut mistakes = check_cuts(&cuts);
        let own_names = names.is_some();
        let names = names.unwrap_or_else(|| grounds.bands.to_vec());
        if own_names {
            mistakes.extend(check_names(&names, &KeyPath::root().key("names")));
        }
        if names.len() != cuts.len() + 1 {
            let path = if own_names || !own_cuts {
                "names"
            } else {
                "cuts"
            };
            let hint = if own_names {
                format!("write {} names, from the lowest band", cuts.len() + 1)
            } else {
                format!(
                    "give the rule `names` of its own, {} of them, from the lowest band",
                    cuts.len() + 1
                )
            };
            mistakes.push(
                Mistake::new(
                    "band-names-count",
                    KeyPath::root().key(path),
                    format!(
                        "{} {} bands, but there {}",
                        cuts.len(),
                        match cuts.len() {
                            1 => "cut makes 2".to_owned(),
                            many => format!("cuts make {}", many + 1),
                        },
                        match names.len() {
                            1 => "is 1 name".to_owned(),
                            many => format!("are {many} names"),
                        },
                    ),
                )
                .hint(hint),
            );
        }
        if mistakes.is_empty() {
            Ok(Bands {
                scale: Arc::new(BandScale { names, cuts }),
                borderline_below: grounds.borderline_below,
            })
        } else {
            Err(mistakes)
        }
    }

    /// The band a score lies in; a score on a cut lies in the band above it.
    pub fn band(&self, score: f64) -> usize {
        self.scale.cuts.partition_point(|cut| *cut <= score)
    }

    /// The finding for a score.
    pub fn place(&self, placed: Placed) -> Banded {
        let band = self.band(placed.score.value);
        let neighbour = (placed.chances[band] < self.borderline_below)
            .then(|| likeliest_other(&placed.chances, band))
            .flatten();
        Banded {
            value: placed.value,
            points: placed.points,
            score: placed.score,
            interval: placed.interval,
            method: placed.method,
            scale: self.scale.clone(),
            band,
            chances: placed.chances,
            neighbour,
        }
    }

    /// All chance on one band: for a score without uncertainty.
    pub fn certain(&self, score: f64) -> Vec<f64> {
        let stated = self.band(score);
        (0..self.scale.names.len())
            .map(|band| f64::from(u8::from(band == stated)))
            .collect()
    }

    /// The names of the bands that scores between two can lie in.
    pub fn reachable(&self, low: f64, high: f64) -> Vec<String> {
        self.scale.names[self.band(low)..=self.band(high)].to_vec()
    }

    /// The bands with their limits: `very low to 20, low to 40, …, very high from 80`.
    pub fn text(&self) -> String {
        let BandScale { names, cuts } = &*self.scale;
        let mut parts: Vec<String> = names
            .iter()
            .zip(cuts)
            .map(|(name, cut)| said!("{band} under {score}", band = name, score = cut))
            .collect();
        if let (Some(name), Some(cut)) = (names.last(), cuts.last()) {
            parts.push(said!("{band} from {score}", band = name, score = cut));
        }
        parts.join(", ")
    }

    /// The steps of the trace that put the score into its band; `on_quantity` tells
    /// where the band begins and ends on the quantity, if the chances are worked
    /// out there.
    pub fn steps(&self, banded: &Banded, on_quantity: Option<String>) -> Vec<TraceStep> {
        let BandScale { names, cuts } = &*self.scale;
        let limits = match (
            banded.band.checked_sub(1).map(|b| cuts[b]),
            cuts.get(banded.band),
        ) {
            (Some(low), Some(high)) => format!("{low} ≤ score < {high}"),
            (None, Some(high)) => format!("score < {high}"),
            (Some(low), None) => format!("score ≥ {low}"),
            (None, None) => "any score".into(),
        };
        let chances: Vec<String> = names
            .iter()
            .zip(&banded.chances)
            .map(|(name, chance)| format!("{name} {}", text::chance(*chance)))
            .collect();
        let chance = text::chance(banded.chance());
        let limit = text::chance(self.borderline_below);
        let verdict = match banded.neighbour {
            // Rounded, a chance under the limit may read as the limit itself.
            Some(other) if chance == limit => format!(
                "{chance} is just under {limit}: borderline with {}",
                names[other]
            ),
            Some(other) => format!(
                "{chance} is under {limit}: borderline with {}",
                names[other]
            ),
            None => format!("{chance} is not under {limit}: not borderline"),
        };
        vec![
            TraceStep {
                what: "put the score into its band".into(),
                formula: limits,
                numbers: format!("{} → {}", text::score(banded.score.value), banded.name()),
            },
            TraceStep {
                what: "the chance of each band, by Student's t (JCGM 106)".into(),
                formula: "P(band) = F((upper − value)/u) − F((lower − value)/u)".into(),
                numbers: format!(
                    "{}{}; {verdict}",
                    on_quantity
                        .map(|text| format!("{text}; "))
                        .unwrap_or_default(),
                    chances.join(", ")
                ),
            },
        ]
    }
}

/// A score, or another figure a rule decides by, kept to a billionth. Numbers so large
/// that they lie farther apart stay as they are.
pub(super) fn settle(figure: f64) -> f64 {
    if figure.abs() < COARSE {
        (figure * STEPS).round() / STEPS
    } else {
        figure
    }
}

/// The likeliest band but one; the lower of two that are equally likely.
fn likeliest_other(chances: &[f64], band: usize) -> Option<usize> {
    (0..chances.len())
        .filter(|other| *other != band)
        .rev()
        .max_by(|a, b| chances[*a].total_cmp(&chances[*b]))
}

fn check_cuts(cuts: &[f64]) -> Vec<Mistake> {
    let path = KeyPath::root().key("cuts");
    let mut mistakes = Vec::new();
    if cuts.is_empty() {
        mistakes.push(
            Mistake::new(
                "no-cuts",
                path.clone(),
                "`cuts` is empty; a rule with bands needs one at least",
            )
            .hint("leave `cuts` out to have 20, 40, 60, 80"),
        );
    }
    for (at, cut) in cuts.iter().enumerate() {
        if !(*cut > 0.0 && *cut < 100.0) {
            mistakes.push(
                Mistake::new(
                    "cut-out-of-range",
                    path.index(at),
                    format!("a cut of {cut} leaves a band empty; scores go from 0 to 100"),
                )
                .hint("write a score above 0 and below 100"),
            );
        }
        if at > 0 && *cut <= cuts[at - 1] {
            mistakes.push(
                Mistake::new(
                    "cuts-not-rising",
                    path.index(at),
                    format!("{cut} comes after {}; cuts must rise", cuts[at - 1]),
                )
                .hint("sort the cuts, lowest first, and write each once"),
            );
        }
    }
    mistakes
}

/// Names of bands: none blank, none twice.
pub(super) fn check_names(names: &[String], path: &KeyPath) -> Vec<Mistake> {
    let mut mistakes = Vec::new();
    for (at, name) in names.iter().enumerate() {
        if name.trim().is_empty() {
            mistakes.push(
                Mistake::new(
                    "blank-text",
                    path.index(at),
                    "the name of a band is empty; a page shows it as a word",
                )
                .hint("write a word or two, such as `very low`"),
            );
        } else if let Some(message) = too_long("the name of a band", name, WORD_LIMIT) {
            mistakes
                .push(Mistake::new("text-too-long", path.index(at), message).hint("shorten it"));
        } else if names[..at].contains(name) {
            mistakes.push(
                Mistake::new(
                    "duplicate-name",
                    path.index(at),
                    format!("`{name}` names two bands"),
                )
                .hint("give each band a name of its own"),
            );
        }
    }
    mistakes
}

/// The label of a rule or an option: not blank, and not longer than a heading.
pub(super) fn check_label(label: &str, path: KeyPath) -> Option<Mistake> {
    if let Some(message) = too_long("label", label, LABEL_LIMIT) {
        return Some(Mistake::new("text-too-long", path, message).hint("shorten it"));
    }
    label.trim().is_empty().then(|| {
        Mistake::new(
            "blank-text",
            path,
            "the label is empty; a page shows it as the finding's name",
        )
        .hint("write a word or two, such as `Heel firmness`")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bands() -> Bands {
        Bands {
            scale: Arc::new(BandScale {
                names: ["low", "middle", "high"].map(String::from).to_vec(),
                cuts: vec![30.0, 70.0],
            }),
            borderline_below: 0.8,
        }
    }

    #[test]
    fn bands_are_told_with_their_limits() {
        assert_eq!(
            bands().text(),
            "low under 30, middle under 70, high from 70"
        );
    }

    /// A score of 50 whose band has this chance, the one above it the rest.
    fn placed(chance: f64) -> Banded {
        bands().place(Placed {
            value: None,
            points: None,
            score: Uncertain::exact(50.0),
            interval: (50.0, 50.0),
            method: Method::Analytic,
            chances: vec![0.0, chance, 1.0 - chance],
        })
    }

    #[test]
    fn a_chance_at_the_limit_is_not_borderline() {
        assert_eq!(placed(0.8).neighbour, None);
        assert_eq!(placed(0.799).neighbour, Some(2));
    }

    #[test]
    fn a_chance_that_reads_as_the_limit_is_told_to_be_just_under_it() {
        let told = |chance| {
            let steps = bands().steps(&placed(chance), None);
            steps[1].numbers.split_once("; ").unwrap().1.to_owned()
        };
        assert_eq!(
            told(0.7999),
            "80.0 % is just under 80.0 %: borderline with high"
        );
        assert_eq!(told(0.799), "79.9 % is under 80.0 %: borderline with high");
        assert_eq!(told(0.8), "80.0 % is not under 80.0 %: not borderline");
    }

    #[test]
    fn a_score_is_kept_to_the_nearest_billionth() {
        for (score, kept) in [
            (59.999_999_999_9, 60.0),
            (60.000_000_000_1, 60.0),
            (59.999_999_998, 59.999_999_998),
        ] {
            assert_eq!(settle(score), kept, "{score}");
        }
        for large in [12_345_678.1, -1e300, f64::INFINITY] {
            assert_eq!(settle(large), large);
        }
    }

    #[test]
    fn cuts_are_each_written_once_and_leave_no_band_empty() {
        let codes = |cuts: &[f64]| -> Vec<&str> {
            let mistakes = check_cuts(cuts);
            mistakes.into_iter().map(|mistake| mistake.code).collect()
        };
        assert!(codes(&[0.5, 99.5]).is_empty());
        assert_eq!(codes(&[30.0, 30.0]), ["cuts-not-rising"]);
        assert_eq!(codes(&[0.0, 100.0]), ["cut-out-of-range"; 2]);
    }
}
