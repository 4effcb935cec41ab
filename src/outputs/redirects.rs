//! Earlier addresses of a shoe: each is a page that leads to where it is now.
//!
//! An address that is a shoe's own is never taken by a redirect, and one that
//! two shoes name goes to the first of them by address.

use super::composer::Composer;
use super::entry;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::sheets::{self, page};
use super::views::{LinkView, RedirectView};
use crate::edition::Edition;
use crate::files::Slug;
use crate::rules::Judged;
use crate::words::say;
use std::collections::BTreeMap;

/// The redirect pages.
pub(super) struct Redirects;

impl Output for Redirects {
    fn name(&self) -> &'static str {
        "redirects"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let mut leads: BTreeMap<&Slug, &Judged> = BTreeMap::new();
        for judged in &edition.shoes {
            for former in &judged.shoe.file.formerly {
                if edition.shoe(former).is_none() {
                    leads.entry(former).or_insert(judged);
                }
            }
        }
        leads
            .into_iter()
            .map(|(former, judged)| {
                let own = composer.clone();
                page(
                    self.name(),
                    Subject::Shoe(judged.shoe.slug.clone()),
                    sheets::path(format!("{}index.html", entry::path(former))),
                    "redirect.html",
                    move || redirect_view(&own, former, judged),
                )
            })
            .collect()
    }
}

fn redirect_view(composer: &Composer<'_>, former: &Slug, judged: &Judged) -> RedirectView {
    let title = judged.shoe.title();
    let file = sheets::path(format!("{}index.html", entry::path(former)));
    RedirectView {
        site: composer.site(),
        head: composer.head(
            &file,
            &title,
            &say!(composer, "{shoe} has a new address.", shoe = title),
        ),
        target: LinkView {
            text: title,
            href: entry::path(&judged.shoe.slug),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn a_former_address_leads_to_the_present_one() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let sheets = Redirects.plan(&edition, &surroundings);
        let paths: Vec<&str> = sheets.iter().map(|sheet| sheet.path.as_str()).collect();
        assert_eq!(paths, ["shoes/quarrel-mk2/index.html"]);
        let composer = Composer::new(&edition, &surroundings);
        let quarrel = edition.shoe(&testing::slug("quarrel-2")).unwrap();
        let view = redirect_view(&composer, &testing::slug("quarrel-mk2"), quarrel);
        assert_eq!(view.target.href, "shoes/quarrel-2/");
        assert_eq!(view.head.path, "shoes/quarrel-mk2/");
    }
}
