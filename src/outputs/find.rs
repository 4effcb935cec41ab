//! The finder: a runner's own shortlist by build, foot posture, use and wishes.
//!
//! All it needs is in the page and the `data.js` beside it, so nothing a reader
//! chooses leaves the page. Without
//! scripts it is the whole list with every verdict in words.

use super::composer::Composer;
use super::entry::{self, by_category, categories};
use super::figures::Print;
use super::findings::{advice, fit_of, labels, verdicts};
use super::output::{FolioPath, Output, Sheet, Surroundings};
use super::sheets::{self, page_and_data};
use super::suits::suits;
use super::views::{ColumnView, FindDataView, FindShoeView, FindView};
use crate::edition::Edition;
use crate::files::Key;
use crate::rules::{Fit, Judged};
use crate::words::say;

/// The finder page and its data.
pub(super) struct Find;

impl Output for Find {
    fn name(&self) -> &'static str {
        "find"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let (own, data) = (composer.clone(), composer);
        page_and_data(
            self.name(),
            "find",
            ("find.html", move || find_view(&own)),
            ("find-data.js", move || data_view(&data)),
        )
    }
}

fn page_path() -> FolioPath {
    sheets::path("find/index.html")
}

/// The lists of a fit as a page heads them; they are the same for every shoe.
#[derive(Default)]
pub(super) struct FitHead {
    /// What the rows are.
    pub row_label: String,
    /// Their names.
    pub rows: Vec<String>,
    /// What the columns are.
    pub column_label: String,
    /// Their names.
    pub columns: Vec<String>,
}

/// The lists of the edition's fit; empty where no shoe was judged by one.
pub(super) fn fit_head(composer: &Composer<'_>) -> FitHead {
    let fit = composer
        .fit()
        .and_then(|key| composer.current().find_map(|judged| fit_of(judged, key)));
    fit.map_or_else(FitHead::default, |fit: &Fit| FitHead {
        row_label: composer.word(&fit.rows.label),
        rows: labels(composer, &fit.rows),
        column_label: composer.word(&fit.columns.label),
        columns: labels(composer, &fit.columns),
    })
}

fn find_view(composer: &Composer<'_>) -> FindView {
    let fit = fit_head(composer);
    let (wishes, _) = composer.bands();
    let pace = composer.pace();
    FindView {
        site: composer.site(),
        head: composer.head(
            &page_path(),
            &say!(composer, "Find a shoe"),
            &say!(
                composer,
                "A shortlist by build, foot posture and use, made on this page alone. No medical advice."
            ),
        ),
        row_label: fit.row_label,
        rows: fit.rows,
        column_label: fit.column_label,
        columns: fit.columns,
        categories: categories(composer),
        pace_label: pace.map(|key| composer.label(key)),
        tiers: pace.map_or_else(Vec::new, |key| composer.band_names(key)),
        wishes: wishes
            .into_iter()
            .map(|key| ColumnView {
                key: key.to_string(),
                label: composer.label(key),
                kind: "band",
                unit: None,
                places: Print::score().most_places(),
                bands: composer.band_names(key),
            })
            .collect(),
    }
}

fn data_view(composer: &Composer<'_>) -> FindDataView {
    let (wishes, _) = composer.bands();
    FindDataView {
        page: find_view(composer),
        shoes: by_category(composer)
            .into_iter()
            .map(|judged| shoe(composer, judged, &wishes))
            .collect(),
    }
}

fn shoe(composer: &Composer<'_>, judged: &Judged, wishes: &[&Key]) -> FindShoeView {
    let words = &composer.phrases().fit;
    let fit = composer.fit().and_then(|key| fit_of(judged, key));
    FindShoeView {
        shoe: entry::shoe(composer, judged),
        suits: suits(composer, judged).text,
        rows: fit.map_or_else(Vec::new, |fit| verdicts(&fit.rows, words)),
        columns: fit.map_or_else(Vec::new, |fit| verdicts(&fit.columns, words)),
        pace: composer
            .pace()
            .map(|key| entry::band(composer, judged, key)),
        bands: wishes
            .iter()
            .map(|key| entry::band(composer, judged, key))
            .collect(),
        cautions: cautions(composer, judged),
        provisional: provisional(judged),
    }
}

/// The few words of each caution that applies.
pub(super) fn cautions(composer: &Composer<'_>, judged: &Judged) -> Vec<String> {
    advice(composer, judged)
        .into_iter()
        .filter(|advice| advice.weight == "caution")
        .map(|advice| advice.short)
        .collect()
}

fn provisional(judged: &Judged) -> bool {
    let mut findings = judged.findings.values();
    findings.any(|finding| finding.as_ref().is_ok_and(|finding| finding.provisional))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn it_holds_a_verdict_for_every_option_and_the_words_for_it() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let data = data_view(&Composer::new(&edition, &surroundings));
        let view = data.page;
        assert_eq!(view.rows, ["Light build", "Middling build", "Heavy build"]);
        assert_eq!(view.pace_label.as_deref(), Some("Pace"));
        assert_eq!(view.tiers, ["easy", "daily", "tempo", "race"]);
        assert_eq!(data.shoes.len(), 3);
        for shoe in &data.shoes {
            assert!(shoe.rows.is_empty() || shoe.rows.len() == view.rows.len());
            assert!(shoe.rows.iter().all(|verdict| !verdict.words.is_empty()));
            assert_eq!(shoe.bands.len(), view.wishes.len());
        }
    }
}
