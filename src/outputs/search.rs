//! The search: its page, and the index that the page reads from a static file.
//!
//! Everything a reader may look for by name: shoes whose review stands, weeks,
//! the folio's own pages, and what the method page explains.

use super::composer::Composer;
use super::entry;
use super::output::{FolioPath, Output, Sheet, Surroundings};
use super::sheets::{self, page_and_data};
use super::suits::suits;
use super::views::{HeadView, PlainView, SearchDataView, SearchEntryView};
use super::weeks::week_link;
use crate::edition::Edition;
use crate::words::say;

/// The search page and its index.
pub(super) struct Search;

impl Output for Search {
    fn name(&self) -> &'static str {
        "search"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let (own, data) = (composer.clone(), composer);
        page_and_data(
            self.name(),
            "search",
            ("search.html", move || search_view(&own)),
            ("search-data.js", move || data_view(&data)),
        )
    }
}

fn page_path() -> FolioPath {
    sheets::path("search/index.html")
}

fn search_view(composer: &Composer<'_>) -> PlainView {
    PlainView {
        site: composer.site(),
        head: head(composer),
    }
}

fn head(composer: &Composer<'_>) -> HeadView {
    composer.head(
        &page_path(),
        &say!(composer, "Search"),
        &say!(
            composer,
            "Search the folio's shoes, makers, weeks and method; nothing leaves the page."
        ),
    )
}

fn data_view(composer: &Composer<'_>) -> SearchDataView {
    let mut entries = shoes(composer);
    entries.extend(weeks(composer));
    entries.extend(pages(composer));
    entries.extend(method(composer));
    SearchDataView {
        head: head(composer),
        entries,
    }
}

/// The shoes by title. The editor's sentence is searched too.
fn shoes(composer: &Composer<'_>) -> Vec<SearchEntryView> {
    let mut entries: Vec<SearchEntryView> = composer
        .current()
        .map(|judged| {
            let category = composer.category(&judged.shoe.file.category);
            let whom = suits(composer, judged).text;
            SearchEntryView {
                title: judged.shoe.title(),
                path: entry::path(&judged.shoe.slug),
                kind: say!(composer, "{category} shoe", category = category),
                text: match composer.summary(judged) {
                    Some(summary) => format!("{} {whom}", summary.text),
                    None => whom,
                },
            }
        })
        .collect();
    entries.sort_by_cached_key(|entry| (entry.title.to_lowercase(), entry.path.clone()));
    entries
}

fn weeks(composer: &Composer<'_>) -> impl Iterator<Item = SearchEntryView> {
    composer.edition.weeks.keys().rev().map(|week| {
        let link = week_link(composer, *week);
        SearchEntryView {
            title: say!(composer, "Week {week}", week = link.name),
            path: link.path,
            kind: say!(composer, "Week"),
            text: format!(
                "{}: {}.",
                link.days,
                say!(composer, "{n} shoes", one = "{n} shoe", n = link.shoes)
            ),
        }
    })
}

fn pages(composer: &Composer<'_>) -> [SearchEntryView; 4] {
    [
        (
            say!(composer, "Compare shoes"),
            "compare/",
            say!(
                composer,
                "All shoes in one table, and any four side by side."
            ),
        ),
        (
            say!(composer, "Find a shoe"),
            "find/",
            say!(composer, "A shortlist by build, foot posture and use."),
        ),
        (
            say!(composer, "Fit guide"),
            "guide/",
            say!(
                composer,
                "For the shop floor: who may suit what, and when to refer."
            ),
        ),
        (
            say!(composer, "How it is measured"),
            "method/",
            say!(
                composer,
                "Protocol, instruments, rule set, uncertainty, corrections."
            ),
        ),
    ]
    .map(|(title, path, text)| SearchEntryView {
        title,
        path: path.into(),
        kind: say!(composer, "[search] Page"),
        text,
    })
}

/// What the method page explains: each quantity, each finding.
fn method(composer: &Composer<'_>) -> impl Iterator<Item = SearchEntryView> {
    let entry = |title: &str, path: String, text: String| SearchEntryView {
        title: composer.word(title),
        path,
        kind: say!(composer, "Method"),
        text,
    };
    let quantities = composer.edition.lab.protocol.quantities.iter();
    let rules = composer.edition.rules.rules.iter();
    quantities
        .map(move |(_, spec)| {
            entry(
                &spec.label,
                "method/#quantities".into(),
                composer.word(&spec.what),
            )
        })
        .chain(rules.map(move |(key, rule)| {
            entry(
                rule.label(),
                format!("method/#rule-{key}"),
                composer.retell(&rule.method().plain),
            )
        }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn what_is_out_can_be_found_by_name_and_nothing_else() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let view = data_view(&Composer::new(&edition, &surroundings));
        let has = |path: &str| view.entries.iter().any(|entry| entry.path == path);
        assert!(has("shoes/quarrel-2/") && has("weeks/2026-w48/") && has("method/#rule-torsion"));
        assert!(!has("shoes/skua/"));
        assert!(view.entries.iter().all(|entry| !entry.text.is_empty()));
    }
}
