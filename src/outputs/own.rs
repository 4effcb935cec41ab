//! What a lab adds to the folio: pages by its own templates, files by its own programs.
//!
//! Both see the same views: of each shoe whose review stands, of each week, or of
//! the folio as a whole. A page's view is that view with the page's own head.

use super::compare;
use super::composer::Composer;
use super::entry::entry;
use super::output::{FolioPath, Make, Output, Sheet, Subject, Surroundings};
use super::pages::OwnPage;
use super::review::{self, Medium, review_view};
use super::view::View;
use super::views::{FolioView, LinkView, WeekLinkView};
use super::weeks::{week_link, week_view};
use crate::edition::Edition;
use crate::files::{Slug, Week};
use crate::lab::MadeFor;
use crate::rules::Judged;
use std::borrow::Cow;

/// The pages a lab's templates add.
pub(super) struct Own;

impl Output for Own {
    fn name(&self) -> &'static str {
        "own-pages"
    }

    fn speaks(&self) -> bool {
        false
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let mut sheets = Vec::new();
        for page in &surroundings.pages {
            for own in own_views(edition, surroundings, page.header.made_for) {
                let Some(path) = page.path(own.of()) else {
                    continue;
                };
                let at = path.clone();
                sheets.push(Sheet {
                    path,
                    output: self.name(),
                    subject: own.subject(),
                    make: Make::Page {
                        template: Cow::Owned(page.template.clone()),
                        view: Box::new(move || Box::new(own.page_view(page, &at))),
                    },
                });
            }
        }
        sheets
    }
}

/// What something of the lab's own is made for.
#[derive(Clone, Debug)]
enum Of {
    Shoe(Slug),
    Week(Week, String),
    Folio,
}

/// One view for a page or a program of the lab's own, made when it is wanted.
#[derive(Clone, Debug)]
pub struct OwnView<'e> {
    composer: Composer<'e>,
    of: Of,
}

/// The views for what is made for something, in the edition's order.
pub fn own_views<'e>(
    edition: &'e Edition,
    surroundings: &'e Surroundings,
    made_for: MadeFor,
) -> Vec<OwnView<'e>> {
    let composer = Composer::new(edition, surroundings);
    let all: Vec<Of> = match made_for {
        MadeFor::EachShoe => composer
            .current()
            .map(|judged| Of::Shoe(judged.shoe.slug.clone()))
            .collect(),
        MadeFor::EachWeek => edition
            .weeks
            .keys()
            .map(|week| Of::Week(*week, week.slug()))
            .collect(),
        MadeFor::Once => vec![Of::Folio],
    };
    all.into_iter()
        .map(|of| OwnView {
            composer: composer.clone(),
            of,
        })
        .collect()
}

impl OwnView<'_> {
    /// The address of the shoe or the week; none for the folio.
    pub fn of(&self) -> Option<&str> {
        match &self.of {
            Of::Shoe(slug) => Some(slug.as_str()),
            Of::Week(_, slug) => Some(slug),
            Of::Folio => None,
        }
    }

    /// The shoe it is of.
    pub(super) fn shoe(&self) -> Option<&Judged> {
        match &self.of {
            Of::Shoe(slug) => self.composer.current_shoe(slug),
            _ => None,
        }
    }

    fn subject(&self) -> Subject {
        match &self.of {
            Of::Shoe(slug) => Subject::Shoe(slug.clone()),
            Of::Week(_, slug) => Subject::Week(slug.clone()),
            Of::Folio => Subject::Folio,
        }
    }

    /// The view: a review's, a week's or the folio's.
    pub fn view(&self) -> serde_json::Value {
        match &self.of {
            Of::Shoe(slug) => match self.composer.current_shoe(slug) {
                Some(judged) => review_view(&self.composer, judged, Medium::Page).value(),
                None => serde_json::Value::Null,
            },
            Of::Week(week, _) => week_view(&self.composer, *week).value(),
            Of::Folio => folio_view(&self.composer).value(),
        }
    }

    /// The view with the head of a page of the lab's own, and an editor's links told
    /// from there.
    fn page_view(&self, page: &OwnPage, path: &FolioPath) -> serde_json::Value {
        let mut view = self.view();
        let title = match &self.of {
            Of::Shoe(_) => view["shoe"]["title"]
                .as_str()
                .unwrap_or_default()
                .to_owned(),
            Of::Week(week, _) => week.to_string(),
            Of::Folio => self.composer.edition.lab.settings.name.clone(),
        };
        let mut head = self
            .composer
            .head(path, &page.title(&title), &page.description(&title));
        // It is there in the lab's own language alone.
        head.languages.clear();
        if let Some(judged) = self.shoe() {
            view["review_html"] = review::text_for(&self.composer, judged, &head).into();
        }
        view["head"] = head.value();
        view
    }
}

fn folio_view(composer: &Composer<'_>) -> FolioView {
    let (columns, rows) = compare::table(composer);
    let weeks: Vec<WeekLinkView> = composer
        .edition
        .weeks
        .keys()
        .rev()
        .map(|week| week_link(composer, *week))
        .collect();
    FolioView {
        site: composer.site(),
        head: compare::head(composer, rows.len()),
        shoes: composer
            .current()
            .map(|judged| entry(composer, judged))
            .collect(),
        weeks,
        columns,
        rows,
    }
}

/// Links to the lab's own pages of a shoe, a week, or the folio; from the folio's
/// own root, where those pages lie for all languages.
pub(super) fn links(
    surroundings: &Surroundings,
    made_for: MadeFor,
    of: Option<&str>,
) -> Vec<LinkView> {
    surroundings
        .pages
        .iter()
        .filter(|page| page.header.made_for == made_for)
        .filter_map(|page| {
            let path = page.path(of)?;
            Some(LinkView {
                text: page.header.nav.clone()?,
                href: address(&path),
            })
        })
        .collect()
}

/// A page's path as links have it: without `index.html`.
pub(super) fn address(path: &FolioPath) -> String {
    let path = path.as_str();
    path.strip_suffix("index.html").unwrap_or(path).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::pages::{OwnFile, Pages};
    use crate::outputs::testing;

    fn pages(files: &[(&str, &str)]) -> Pages {
        Pages::load(files.iter().map(|(name, text)| OwnFile {
            name: (*name).into(),
            bytes: text.as_bytes().to_vec(),
        }))
        .unwrap()
    }

    #[test]
    fn an_editor_s_links_are_told_from_the_page_they_stand_on() {
        let edition = testing::edition();
        let header = "views: 1\nmade-for: each-shoe\ntitle: Text\n";
        let pages = ["words/{shoe}.html", "shoes/{shoe}/in/words/"].map(|address| {
            let text = format!("{{# page\n{header}address: {address}\n#}}");
            pages(&[("pages/words.html", &*text)])
        });
        let links = pages.map(|pages| {
            let surroundings = Surroundings {
                pages: pages.own().to_vec(),
                ..Surroundings::default()
            };
            let sheets = Own.plan(&edition, &surroundings);
            let mut sheets = sheets.iter();
            let quarrel = sheets.find(|sheet| sheet.path.as_str().contains("quarrel-2"));
            let Some(Make::Page { view, .. }) = quarrel.map(|sheet| &sheet.make) else {
                panic!("quarrel-2 has a page");
            };
            let html = view().value()["review_html"].as_str().unwrap().to_owned();
            let (_, link) = html.split_once("href=\"").unwrap();
            link.split_once('"').unwrap().0.to_owned()
        });
        assert_eq!(
            links,
            ["../compare/index.html", "../../../../compare/index.html"]
        );
    }

    #[test]
    fn a_page_is_made_for_each_shoe_each_week_or_once_with_its_own_head() {
        let edition = testing::edition();
        let pages = pages(&[
            (
                "pages/bend.html",
                "{# page\nviews: 1\nmade-for: each-shoe\naddress: shoes/{shoe}/bend/\ntitle: How {title} bends\nnav: Bending\n#}\n{{ head.title }} {{ shoe.slug }} {{ head.root }}",
            ),
            (
                "pages/week.txt",
                "{#- page\nviews: 1\nmade-for: each-week\naddress: weeks/{week}/list.txt\ntitle: '{title}'\n-#}\n{{ head.title }}",
            ),
            (
                "pages/all.html",
                "{# page\nviews: 1\nmade-for: once\naddress: all/\ntitle: All\nnav: All\n#}\n{{ shoes | length }} {{ rows | length }} {{ weeks | length }} {{ site.pages[0].href }}",
            ),
        ]);
        let surroundings = Surroundings {
            pages: pages.own().to_vec(),
            ..Surroundings::default()
        };
        let sheets = Own.plan(&edition, &surroundings);
        let render = |path: &str| {
            let sheet = sheets.iter().find(|sheet| sheet.path.as_str() == path);
            let Some(Make::Page { template, view }) = sheet.map(|sheet| &sheet.make) else {
                panic!("{path} is planned");
            };
            let bytes = pages.render(template, &*view()).unwrap();
            String::from_utf8(bytes).unwrap().trim().to_owned()
        };
        assert_eq!(
            render("shoes/tern-1/bend/index.html"),
            "How Ostler Tern 1, moss bends tern-1 ../../../"
        );
        assert_eq!(render("weeks/2026-w48/list.txt"), "2026-W48");
        let current = own_views(&edition, &surroundings, MadeFor::EachShoe).len();
        let weeks = edition.weeks.len();
        assert_eq!(
            render("all/index.html"),
            format!("{current} {current} {weeks} all/")
        );
        // A review taken back has no page of the lab's own.
        assert!(
            sheets
                .iter()
                .all(|sheet| sheet.path.as_str() != "shoes/skua/bend/index.html")
        );
        assert_eq!(sheets.len(), current + weeks + 1);
        let links = links(&surroundings, MadeFor::EachShoe, Some("tern-1"));
        assert_eq!(links[0].href, "shoes/tern-1/bend/");
    }
}
