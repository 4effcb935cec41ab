//! The comparison, sorted beforehand: a plain page for each finding in bands and
//! each number, from the lowest to the highest, for whoever has no scripts or
//! wants a list to link to. A shoe whose finding could not be made stands last,
//! under its own heading.

use super::composer::Composer;
use super::entry::{self, banded};
use super::findings::{measured, score_figure, value_figure};
use super::output::{Output, Sheet, Subject, Surroundings};
use super::sheets::{self, page};
use super::views::{FigureView, LinkView, SortedGroupView, SortedRowView, SortedView};
use crate::edition::Edition;
use crate::files::Key;
use crate::rules::{Form, Judged, Says};
use crate::words::say;
use std::cmp::Ordering;

/// The sorted pages.
pub(super) struct Sorted;

impl Output for Sorted {
    fn name(&self) -> &'static str {
        "compare-sorted"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        keys(&composer)
            .into_iter()
            .map(|key| {
                let own = composer.clone();
                page(
                    self.name(),
                    Subject::Folio,
                    sheets::path(format!("{}index.html", path(key))),
                    "sorted.html",
                    move || sorted_view(&own, key),
                )
            })
            .collect()
    }
}

fn path(key: &Key) -> String {
    format!("compare/by-{key}/")
}

/// What there is a page for: leading bands, other bands, numbers.
fn keys<'e>(composer: &Composer<'e>) -> Vec<&'e Key> {
    let (lead, other) = composer.bands();
    let values = composer.rules_of(|form| matches!(form, Form::Value(..)));
    lead.into_iter().chain(other).chain(values).collect()
}

/// The sorted pages, as links.
pub(super) fn links(composer: &Composer<'_>) -> Vec<LinkView> {
    keys(composer)
        .into_iter()
        .map(|key| LinkView {
            text: composer.label(key),
            href: path(key),
        })
        .collect()
}

/// One shoe's place in a list.
struct Place<'e> {
    judged: &'e Judged,
    /// What it is sorted by; none if it was not judged.
    at: Option<f64>,
    /// Which band, counted from 0.
    band: Option<usize>,
    title: String,
}

fn place<'e>(judged: &'e Judged, key: &Key) -> Place<'e> {
    let (at, band) = match says(judged, key) {
        Some(Says::Band(banded)) => (Some(banded.score.value), Some(banded.band)),
        Some(Says::Value(value)) => (Some(value.value.value), None),
        _ => (None, None),
    };
    Place {
        judged,
        at,
        band,
        title: judged.shoe.title().to_lowercase(),
    }
}

fn says<'j>(judged: &'j Judged, key: &Key) -> Option<&'j Says> {
    Some(&judged.findings.get(key)?.as_ref().ok()?.says)
}

/// By band, so that a score on a border stays where its band was stated; then by
/// number, title and address. What was not judged comes last.
fn order(a: &Place<'_>, b: &Place<'_>) -> Ordering {
    let number = match (a.at, b.at) {
        (Some(a), Some(b)) => a.total_cmp(&b),
        (Some(_), None) => Ordering::Less,
        (None, Some(_)) => Ordering::Greater,
        (None, None) => Ordering::Equal,
    };
    let band = match (a.band, b.band) {
        (Some(a), Some(b)) => a.cmp(&b),
        _ => Ordering::Equal,
    };
    band.then(number)
        .then_with(|| a.title.cmp(&b.title))
        .then_with(|| a.judged.shoe.slug.cmp(&b.judged.shoe.slug))
}

fn sorted_view(composer: &Composer<'_>, key: &Key) -> SortedView {
    let label = composer.label(key);
    let mut places: Vec<Place<'_>> = composer
        .current()
        .map(|judged| place(judged, key))
        .collect();
    places.sort_by(order);
    let names = composer.band_names(key);
    let mut groups: Vec<SortedGroupView> = Vec::new();
    for place in &places {
        let (name, of) = match (place.at, place.band) {
            (None, _) => (None, "not-judged".to_owned()),
            (_, Some(band)) => (names.get(band).cloned(), format!("band-{}", band + 1)),
            (_, None) => (None, "all".to_owned()),
        };
        if groups.last().is_none_or(|group| group.key != of) {
            groups.push(SortedGroupView {
                key: of,
                name,
                band_index: place.band,
                bands: names.len(),
                judged: place.at.is_some(),
                rows: Vec::new(),
            });
        }
        if let Some(group) = groups.last_mut() {
            group.rows.push(row(composer, place.judged, key));
        }
    }
    let file = sheets::path(format!("{}index.html", path(key)));
    let inside = composer.inside(&label);
    let title = say!(composer, "Shoes by {finding}", finding = inside);
    let description = say!(
        composer,
        "All measured shoes by {finding}, lowest first.",
        finding = inside
    );
    let others = links(composer);
    SortedView {
        site: composer.site(),
        head: composer.head(&file, &title, &description),
        others: others
            .into_iter()
            .filter(|link| link.href != path(key))
            .collect(),
        label,
        groups,
    }
}

fn row(composer: &Composer<'_>, judged: &Judged, key: &Key) -> SortedRowView {
    let mut row = SortedRowView {
        title: judged.shoe.title(),
        path: entry::path(&judged.shoe.slug),
        category: composer.category(&judged.shoe.file.category),
        score: None,
        value: None,
        borderline: None,
        not_judged: composer
            .finding(judged, key)
            .err()
            .map(|reason| composer.retell(&reason)),
    };
    if let Some(banded) = banded(judged, key) {
        row.score = Some(score_figure(composer, banded));
        let value = banded.value.as_ref();
        row.value = value.map(|(value, unit)| plain(measured(composer, judged, key, value, *unit)));
        row.borderline = banded
            .neighbour
            .and_then(|at| Some(composer.word(banded.scale.names.get(at)?)));
    } else if let Some(Says::Value(value)) = says(judged, key) {
        row.value = Some(value_figure(composer, value));
    }
    row
}

/// A figure without its second unit: a list is read down, in one unit.
fn plain(figure: FigureView) -> FigureView {
    FigureView {
        also: None,
        ..figure
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn view(edition: &Edition, key: &str) -> SortedView {
        let surroundings = Surroundings::default();
        sorted_view(&Composer::new(edition, &surroundings), &testing::key(key))
    }

    #[test]
    fn shoes_stand_by_band_and_score_and_those_not_judged_last() {
        let edition = testing::edition();
        let torsion = view(&edition, "torsion");
        let last = torsion.groups.last().unwrap();
        assert!(!last.judged);
        assert_eq!(last.rows[0].path, "shoes/plover/");
        assert!(last.rows[0].not_judged.is_some() && last.rows[0].value.is_none());
        let bands: Vec<Option<usize>> = torsion.groups.iter().map(|g| g.band_index).collect();
        assert!(bands[..bands.len() - 1].is_sorted(), "{bands:?}");
        let rows = torsion.groups.iter().flat_map(|group| &group.rows);
        assert_eq!(rows.count(), 3, "each current shoe once, none taken back");
        let quarrel = torsion.groups.iter().flat_map(|group| &group.rows);
        let quarrel = quarrel.clone().find(|row| row.path.contains("quarrel"));
        assert_eq!(quarrel.unwrap().borderline.as_deref(), Some("high"));
    }

    #[test]
    fn every_finding_with_an_order_has_its_page_and_a_link_from_all_others() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let sheets = Sorted.plan(&edition, &surroundings);
        let paths: Vec<&str> = sheets.iter().map(|sheet| sheet.path.as_str()).collect();
        assert!(
            paths.contains(&"compare/by-torsion/index.html"),
            "{paths:?}"
        );
        let torsion = view(&edition, "torsion");
        assert_eq!(torsion.others.len() + 1, paths.len());
    }
}
