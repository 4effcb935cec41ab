//! The front page: this week, the latest before it, and the way to all weeks.

use super::composer::Composer;
use super::entry::entry;
use super::linked_data;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::sheets::{self, page};
use super::views::FrontView;
use super::weeks::week_link;
use crate::edition::Edition;
use crate::rules::Judged;
use crate::words::say;
use std::cmp::Reverse;

/// How many earlier shoes the front page shows.
const LATEST: usize = 24;

/// The front page.
pub(super) struct Front;

impl Output for Front {
    fn name(&self) -> &'static str {
        "front"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        vec![page(
            self.name(),
            Subject::Folio,
            sheets::path("index.html"),
            "index.html",
            move || front_view(&composer),
        )]
    }
}

fn front_view(composer: &Composer<'_>) -> FrontView {
    let edition = composer.edition;
    let latest_week = edition.weeks.iter().next_back();
    let this_week: Vec<&Judged> = latest_week
        .into_iter()
        .flat_map(|(_, places)| places)
        .filter_map(|at| edition.shoes.get(*at))
        .filter(|judged| composer.withdrawn(judged).is_none())
        .collect();
    let shoes = composer.current().count();
    let lab = &edition.lab.settings.name;
    let description = say!(
        composer,
        "{lab} measures athletic shoes on the bench and says what the numbers mean: {n} shoes so far.",
        one = "{lab} measures athletic shoes on the bench and says what the numbers mean: {n} shoe so far.",
        lab = lab,
        n = shoes
    );
    let mut front = composer.head(
        &sheets::path("index.html"),
        &say!(composer, "Measured shoes"),
        &description,
    );
    front.linked_data = Some(linked_data::data_set(composer));
    FrontView {
        site: composer.site(),
        head: front,
        week: latest_week.map(|(week, _)| week_link(composer, *week)),
        latest: earlier(composer, &this_week)
            .into_iter()
            .map(|judged| entry(composer, judged))
            .collect(),
        this_week: this_week
            .into_iter()
            .map(|judged| entry(composer, judged))
            .collect(),
        weeks: edition
            .weeks
            .keys()
            .rev()
            .map(|week| week_link(composer, *week))
            .collect(),
        shoes,
        readings: readings(composer),
    }
}

/// The shoes before this week's, latest first; drafts, where they are shown, before all.
fn earlier<'e>(composer: &Composer<'e>, this_week: &[&Judged]) -> Vec<&'e Judged> {
    let mut shoes: Vec<&Judged> = composer
        .current()
        .filter(|judged| {
            !this_week
                .iter()
                .any(|other| other.shoe.slug == judged.shoe.slug)
        })
        .collect();
    shoes.sort_by_cached_key(|judged| {
        let out = composer.came_out(judged);
        (
            out.is_some(),
            Reverse(out),
            judged.shoe.title().to_lowercase(),
            judged.shoe.slug.clone(),
        )
    });
    shoes.truncate(LATEST);
    shoes
}

/// How many readings the current shoes' values rest on.
fn readings(composer: &Composer<'_>) -> usize {
    composer
        .current()
        .flat_map(|judged| judged.quantities.values())
        .filter_map(|quantity| quantity.as_ref().ok())
        .map(|summary| summary.n)
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn it_shows_this_week_and_what_came_before() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let view = front_view(&Composer::new(&edition, &surroundings));
        assert_eq!(view.week.as_ref().unwrap().name, "2026-W48");
        let this_week: Vec<&str> = view
            .this_week
            .iter()
            .map(|e| e.shoe.slug.as_str())
            .collect();
        assert_eq!(this_week, ["quarrel-2"]);
        let latest: Vec<&str> = view.latest.iter().map(|e| e.shoe.slug.as_str()).collect();
        assert_eq!(latest, ["tern-1", "plover"]);
        assert_eq!(view.shoes, 3);
        assert_eq!(
            view.readings,
            testing::readings_of(&edition, &["quarrel-2", "tern-1", "plover"])
        );
        assert_eq!(view.head.root, "");
    }
}
