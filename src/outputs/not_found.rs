//! The page for an address that is not there.
//!
//! A server shows it at any depth, so its way to the root is not relative but
//! the path of the folio's own address.

use super::composer::Composer;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::sheets::{self, page};
use super::views::PlainView;
use crate::edition::Edition;
use crate::words::say;

/// The page for a missing address.
pub(super) struct NotFound;

impl Output for NotFound {
    fn name(&self) -> &'static str {
        "not-found"
    }

    fn speaks(&self) -> bool {
        false
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        vec![page(
            self.name(),
            Subject::Folio,
            sheets::path("404.html"),
            "404.html",
            move || not_found_view(&composer),
        )]
    }
}

fn not_found_view(composer: &Composer<'_>) -> PlainView {
    let mut head = composer.head(
        &sheets::path("404.html"),
        &say!(composer, "Nothing at this address"),
        &say!(composer, "There is no page at this address."),
    );
    head.root = root(&composer.address());
    head.top.clone_from(&head.root);
    // There is no such page in another language to go to.
    head.languages.clear();
    PlainView {
        site: composer.site(),
        head,
    }
}

/// The path of an absolute address: `/` or `/folio/`.
fn root(address: &str) -> String {
    let rest = address.split_once("://").map_or(address, |(_, rest)| rest);
    rest.find('/').map_or("/", |at| &rest[at..]).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn its_links_hold_at_any_depth() {
        assert_eq!(root("https://lab.example/"), "/");
        assert_eq!(root("https://lab.example/folio/"), "/folio/");
    }
}
