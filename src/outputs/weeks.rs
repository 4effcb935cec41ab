//! A week: the page of the batch that came out in it, and its print.
//!
//! The page is the record of that week, so it also names a shoe whose review
//! was taken back since, and says so. The print holds the reviews that stand.

use super::composer::Composer;
use super::entry::entry;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::own;
use super::review::{Medium, review_view};
use super::sheets::{self, page, print};
use super::views::{WeekLinkView, WeekPrintView, WeekView};
use super::wording::week_days;
use crate::edition::Edition;
use crate::files::Week;
use crate::lab::MadeFor;
use crate::rules::Judged;
use crate::words::say;

/// The week pages and prints.
pub(super) struct Weeks;

impl Output for Weeks {
    fn name(&self) -> &'static str {
        "weeks"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let mut sheets = Vec::new();
        for week in edition.weeks.keys().copied() {
            let subject = || Subject::Week(week.slug());
            let own = composer.clone();
            sheets.push(page(
                self.name(),
                subject(),
                sheets::path(format!("{}index.html", path(week))),
                "week.html",
                move || week_view(&own, week),
            ));
            if has_print(&composer, week) {
                let own = composer.clone();
                let shoes = shoes(&composer, week).into_iter();
                let on = shoes
                    .map(|judged| composer.changed(judged))
                    .max()
                    .unwrap_or(edition.as_of);
                sheets.push(print(
                    self.name(),
                    subject(),
                    sheets::path(format!("{}week.pdf", path(week))),
                    "week.typ",
                    on,
                    move || print_view(&own, week),
                ));
            }
        }
        sheets
    }
}

fn path(week: Week) -> String {
    format!("weeks/{}/", week.slug())
}

/// A week and where its page is.
pub(super) fn week_link(composer: &Composer<'_>, week: Week) -> WeekLinkView {
    WeekLinkView {
        name: week.to_string(),
        days: week_days(composer.language, week),
        path: path(week),
        shoes: standing(composer, week).len(),
    }
}

/// All shoes of a week, in the edition's order.
fn shoes<'e>(composer: &Composer<'e>, week: Week) -> Vec<&'e Judged> {
    let edition = composer.edition;
    let places = edition.weeks.get(&week).into_iter().flatten();
    places.filter_map(|at| edition.shoes.get(*at)).collect()
}

/// Those whose review stands.
fn standing<'e>(composer: &Composer<'e>, week: Week) -> Vec<&'e Judged> {
    let mut shoes = shoes(composer, week);
    shoes.retain(|judged| composer.withdrawn(judged).is_none());
    shoes
}

/// A week whose reviews were all taken back has nothing to print.
fn has_print(composer: &Composer<'_>, week: Week) -> bool {
    composer.surroundings.prints && !standing(composer, week).is_empty()
}

pub(super) fn week_view(composer: &Composer<'_>, week: Week) -> WeekView {
    let weeks = &composer.edition.weeks;
    let link = week_link(composer, week);
    let description = say!(
        composer,
        "{n} shoes measured and published from {days}.",
        one = "{n} shoe measured and published from {days}.",
        n = link.shoes,
        days = link.days
    );
    let file = sheets::path(format!("{}index.html", path(week)));
    let mut head = composer.head(
        &file,
        &say!(composer, "Week {week}", week = link.name),
        &description,
    );
    head.pages = own::links(composer.surroundings, MadeFor::EachWeek, Some(&week.slug()));
    WeekView {
        site: composer.site(),
        head,
        measured: say!(
            composer,
            "{n} shoes were measured and reviewed.",
            one = "One shoe was measured and reviewed.",
            n = link.shoes
        ),
        shoes: shoes(composer, week)
            .into_iter()
            .map(|judged| entry(composer, judged))
            .collect(),
        previous: weeks
            .range(..week)
            .next_back()
            .map(|(week, _)| week_link(composer, *week)),
        next: weeks
            .range(week..)
            .nth(1)
            .map(|(week, _)| week_link(composer, *week)),
        pdf: has_print(composer, week).then(|| format!("{}week.pdf", path(week))),
        week: link,
    }
}

fn print_view(composer: &Composer<'_>, week: Week) -> WeekPrintView {
    WeekPrintView {
        week: week_view(composer, week),
        reviews: standing(composer, week)
            .into_iter()
            .map(|judged| review_view(composer, judged, Medium::Print))
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn a_week_links_to_the_ones_around_it_and_names_what_was_taken_back() {
        let edition = testing::edition();
        let surroundings = testing::with_prints();
        let composer = Composer::new(&edition, &surroundings);
        let week: Week = "2026-W47".parse().unwrap();
        let view = week_view(&composer, week);
        assert_eq!(view.next.as_ref().unwrap().name, "2026-W48");
        assert_eq!(view.previous.as_ref().unwrap().name, "2026-W46");
        let taken_back = view.shoes.iter().find(|e| e.shoe.slug == "skua").unwrap();
        assert!(taken_back.withdrawn && taken_back.bands.is_empty());
        assert_eq!(view.week.shoes, 1);
        let print = print_view(&composer, week);
        let printed: Vec<&str> = print.reviews.iter().map(|r| r.shoe.slug.as_str()).collect();
        assert_eq!(printed, ["tern-1"]);
        assert!(!print.reviews[0].qr.is_empty());
    }

    #[test]
    fn there_is_no_print_where_prints_are_not_made() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        assert_eq!(week_view(&composer, "2026-W48".parse().unwrap()).pdf, None);
        let sheets = Weeks.plan(&edition, &surroundings);
        assert!(
            sheets
                .iter()
                .all(|sheet| !sheet.path.as_str().ends_with(".pdf"))
        );
    }
}
