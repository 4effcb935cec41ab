//! The sitemap, and what robots may read.
//!
//! The protocol allows 50,000 addresses a file (sitemaps.org, version 0.9; from
//! memory). A larger folio has parts, and `sitemap.xml` is their index. Drafts
//! and reviews that were taken back are in none; an edition with drafts asks
//! robots to stay out.

use super::composer::Composer;
use super::drift;
use super::entry;
use super::markdown::escape;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::own;
use super::sheets::{self, bytes, page};
use super::views::{SitemapEntryView, SitemapView};
use crate::edition::Edition;
use crate::files::Date;

/// The most addresses a file may have.
const MOST: usize = 50_000;

/// Pages of the folio as a whole. The comparison's sorted lists and the search say
/// nothing that other pages don't.
const FIXED: [&str; 6] = ["", "compare/", "find/", "guide/", "method/", "data/"];

/// The sitemap and `robots.txt`.
pub(super) struct Sitemap;

impl Output for Sitemap {
    fn name(&self) -> &'static str {
        "sitemap"
    }

    fn speaks(&self) -> bool {
        false
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let mut sheets = self.maps(&composer, MOST);
        sheets.push(bytes(
            self.name(),
            Subject::Folio,
            sheets::path("robots.txt"),
            move || robots(&composer).into_bytes(),
        ));
        sheets
    }
}

impl Sitemap {
    /// The sitemap in parts of `most` addresses.
    fn maps<'e>(&self, composer: &Composer<'e>, most: usize) -> Vec<Sheet<'e>> {
        let pages = addresses(composer).len();
        let parts = pages.div_ceil(most);
        let part = |path: String, at: usize| {
            let own = composer.clone();
            page(
                self.name(),
                Subject::Folio,
                sheets::path(path),
                "sitemap.xml",
                move || SitemapView {
                    entries: addresses(&own)
                        .into_iter()
                        .skip(at * most)
                        .take(most)
                        .collect(),
                },
            )
        };
        if parts <= 1 {
            return vec![part("sitemap.xml".into(), 0)];
        }
        let mut sheets: Vec<Sheet<'e>> = (0..parts).map(|at| part(part_path(at), at)).collect();
        let own = composer.clone();
        sheets.push(bytes(
            self.name(),
            Subject::Folio,
            sheets::path("sitemap.xml"),
            move || index(&own, parts).into_bytes(),
        ));
        sheets
    }
}

fn part_path(at: usize) -> String {
    format!("sitemap-{}.xml", at + 1)
}

/// Every page a search engine may show, with the day it last changed.
fn addresses(composer: &Composer<'_>) -> Vec<SitemapEntryView> {
    let folio = composer.address();
    let lab = &composer.edition.lab;
    let tags: Vec<&str> = lab
        .tongues
        .iter()
        .map(|tongue| tongue.language.tag.as_str())
        .collect();
    let line = |path: &str, on: Date| {
        // Each language's page is an address of its own, and names all of them.
        let alternates: Vec<(String, String)> = if tags.is_empty() {
            Vec::new()
        } else {
            let own = (lab.language.tag.clone(), format!("{folio}{path}"));
            let others = tags
                .iter()
                .map(|tag| ((*tag).to_owned(), format!("{folio}{tag}/{path}")));
            std::iter::once(own).chain(others).collect()
        };
        let changed = on.to_string();
        let pages = std::iter::once(format!("{folio}{path}"))
            .chain(tags.iter().map(|tag| format!("{folio}{tag}/{path}")));
        pages
            .map(|address| SitemapEntryView {
                address,
                changed: changed.clone(),
                alternates: alternates.clone(),
            })
            .collect::<Vec<_>>()
    };
    let last = composer.last_change();
    let edition = composer.edition;
    let bench = drift::address(lab);
    let fixed = FIXED.into_iter().chain(bench.as_deref());
    let fixed = fixed.map(|path| line(path, last));
    let weeks = edition.weeks.iter().filter_map(|(week, places)| {
        let shoes = places.iter().filter_map(|at| edition.shoes.get(*at));
        let out = shoes.filter(|judged| composer.came_out(judged).is_some());
        let on = out.map(|judged| composer.changed(judged)).max()?;
        Some(line(&format!("weeks/{}/", week.slug()), on))
    });
    let shoes = composer
        .current()
        .filter(|judged| composer.came_out(judged).is_some())
        .map(|judged| line(&entry::path(&judged.shoe.slug), composer.changed(judged)));
    let sealed = edition.frozen.iter();
    let sealed = sealed.map(|frozen| line(&super::editions::path(frozen), frozen.on));
    // The lab's own pages are there once, in its own language.
    let own = own_addresses(composer)
        .into_iter()
        .map(|path| SitemapEntryView {
            address: format!("{folio}{path}"),
            changed: last.to_string(),
            alternates: Vec::new(),
        });
    fixed
        .chain(weeks)
        .chain(shoes)
        .chain(sealed)
        .flatten()
        .chain(own)
        .collect()
}

/// The lab's own pages that a search engine may show.
fn own_addresses(composer: &Composer<'_>) -> Vec<String> {
    let edition = composer.edition;
    let mut found = Vec::new();
    for page in &composer.surroundings.pages {
        if !page.header.sitemap || !page.is_html() {
            continue;
        }
        for own in own::own_views(edition, composer.surroundings, page.header.made_for) {
            let out = own
                .shoe()
                .is_none_or(|judged| composer.came_out(judged).is_some());
            if let Some(path) = page.path(own.of()).filter(|_| out) {
                found.push(own::address(&path));
            }
        }
    }
    found
}

fn index(composer: &Composer<'_>, parts: usize) -> String {
    let folio = escape(&composer.address());
    let on = composer.last_change();
    let mut xml = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<sitemapindex xmlns=\"http://www.sitemaps.org/schemas/sitemap/0.9\">\n",
    );
    for at in 0..parts {
        xml.push_str(&format!(
            "<sitemap><loc>{folio}{}</loc><lastmod>{on}</lastmod></sitemap>\n",
            part_path(at)
        ));
    }
    xml.push_str("</sitemapindex>\n");
    xml
}

fn robots(composer: &Composer<'_>) -> String {
    if composer.edition.drafts {
        "User-agent: *\nDisallow: /\n".into()
    } else {
        format!(
            "User-agent: *\nAllow: /\n\nSitemap: {}sitemap.xml\n",
            composer.address()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn it_lists_what_is_out_and_nothing_taken_back() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let lines = addresses(&composer);
        let has = |path: &str| {
            lines
                .iter()
                .any(|l| l.address == format!("https://lab.example/{path}"))
        };
        assert!(has("") && has("shoes/quarrel-2/") && has("weeks/2026-w48/"));
        assert!(!has("shoes/skua/"));
        let tern = lines
            .iter()
            .find(|l| l.address.ends_with("/tern-1/"))
            .unwrap();
        assert_eq!(tern.changed, "2026-11-24");
    }

    #[test]
    fn the_bench_page_is_in_it_where_there_is_one() {
        let mut edition = testing::edition();
        let surroundings = Surroundings::default();
        let listed = |edition: &Edition| {
            let lines = addresses(&Composer::new(edition, &surroundings));
            lines
                .iter()
                .any(|line| line.address.ends_with("/method/drift/"))
        };
        assert!(!listed(&edition));
        edition.lab.control.push(crate::lab::ControlReadings {
            quantity: testing::key("mass"),
            days: Vec::new(),
            values: Vec::new(),
        });
        assert!(listed(&edition));
    }

    #[test]
    fn a_large_folio_has_parts_and_an_index() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let sheets = Sitemap.maps(&composer, 4);
        let paths: Vec<&str> = sheets.iter().map(|sheet| sheet.path.as_str()).collect();
        assert_eq!(
            paths,
            [
                "sitemap-1.xml",
                "sitemap-2.xml",
                "sitemap-3.xml",
                "sitemap-4.xml",
                "sitemap.xml"
            ]
        );
        assert!(index(&composer, 4).contains("<loc>https://lab.example/sitemap-4.xml</loc>"));
    }

    #[test]
    fn an_edition_with_drafts_keeps_robots_out() {
        let mut edition = testing::edition();
        edition.drafts = true;
        let surroundings = Surroundings::default();
        assert!(robots(&Composer::new(&edition, &surroundings)).contains("Disallow: /"));
    }
}
