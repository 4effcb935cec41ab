//! One finding of one shoe, as far as a reader sees it, to be compared.

use super::Edition;
use super::sealed::of_finding;
use crate::files::Key;
use crate::rules::{Judged, Made, Says, Verdict};
use serde::Serialize;

/// One finding of one shoe, as far as a reader sees it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct State {
    /// What it says, as it is sealed.
    pub says: String,
    /// The measured value with its unit, as printed; absent where it is all that is said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<String>,
    /// The score, as printed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub score: Option<String>,
    /// The band's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band: Option<String>,
    /// The band, counted from 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub band_index: Option<usize>,
    /// The neighbour band, where it is borderline.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub borderline: Option<String>,
    /// Why it is not judged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_judged: Option<String>,
    /// Rank within the category and of how many; absent where it is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rank: Option<(usize, usize)>,
    /// The cells of a fit: `row × column` and the verdict.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cells: Vec<(String, &'static str)>,
    /// Unrounded figures of the open data: chance, coverage, interval, estimate,
    /// standard uncertainty, degrees of freedom.
    #[serde(skip)]
    pub exact: Option<Vec<f64>>,
    /// `band`, `value`, `fit` or `advice`; absent where it is not known.
    #[serde(skip)]
    pub form: Option<String>,
}

/// The state of a finding in its edition.
pub(super) fn state(judged: &Judged, key: &Key, finding: &Made, edition: &Edition) -> State {
    let sealed = of_finding(finding, edition.lab.protocol.coverage);
    let mut state = State {
        says: sealed.says,
        ..State::default()
    };
    let finding = match finding {
        Ok(finding) => finding,
        Err(not) => {
            state.not_judged = Some(not.reason.clone());
            return state;
        }
    };
    let doubt = f64::from(u8::from(finding.provisional));
    match &finding.says {
        Says::Band(banded) => {
            if let Some(figures) = sealed.figures {
                match figures.rsplit_once(", ") {
                    Some((value, score)) => {
                        state.value = Some(value.to_owned());
                        state.score = Some(bare(score));
                    }
                    None => state.score = Some(bare(&figures)),
                }
            }
            state.band = Some(banded.name().to_owned());
            state.band_index = Some(banded.band);
            state.borderline = banded
                .neighbour
                .and_then(|near| banded.scale.names.get(near).cloned());
            let standing = edition.catalogue.standing(&judged.shoe.slug, key);
            state.rank = standing.map(|standing| (standing.rank, standing.n));
            let value = banded.value.as_ref().map(|(value, _)| value);
            let figures = value.into_iter().chain([&banded.score]);
            let (low, high) = banded.interval;
            let coverage = edition.lab.protocol.coverage;
            let mut exact = vec![banded.chance(), doubt, coverage, low, high];
            // A tie that is broken moves the percentile and not the rank.
            exact.extend(standing.and_then(|standing| standing.percentile));
            exact.extend(figures.flat_map(|figure| [figure.value, figure.u(), figure.dof()]));
            state.exact = Some(exact);
            state.form = Some("band".into());
        }
        Says::Value(value) => {
            let (low, high) = value.interval;
            let figure = &value.value;
            state.exact = Some(vec![
                doubt,
                low,
                high,
                figure.value,
                figure.u(),
                figure.dof(),
            ]);
            state.form = Some("value".into());
        }
        Says::Fit(fit) => {
            for (down, row) in fit.rows.options.iter().enumerate() {
                for (across, column) in fit.columns.options.iter().enumerate() {
                    let verdict = words(fit.cell(down, across));
                    let cell = format!("{} × {}", row.label, column.label);
                    state.cells.push((cell, verdict));
                }
            }
            state.exact = Some(vec![doubt]);
            state.form = Some("fit".into());
        }
        Says::Advice(_) => {
            state.exact = Some(vec![doubt]);
            state.form = Some("advice".into());
        }
    }
    state
}

fn bare(score: &str) -> String {
    score.strip_suffix(" of 100").unwrap_or(score).to_owned()
}

fn words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "suits",
        Verdict::Close => "close",
        Verdict::Fails => "other",
        Verdict::Unknown => "not known",
    }
}
