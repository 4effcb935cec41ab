//! A review: its page, and its print.
//!
//! A shoe whose review was taken back keeps its page, which then says so and
//! holds no finding and no number; its print and its data are gone.

use super::composer::Composer;
use super::output::{FolioPath, Output, Sheet, Subject, Surroundings};
use super::own;
use super::sheets::{self, page, print};
use super::suits::suits;
use super::views::{CorrectionView, HeadView, ReviewView, ShoeView, WithdrawnView};
use super::wording::{capital, sentence};
use super::{
    card, difference, doubts, drift, entry, findings, linked_data, markdown, qr, readings,
};
use crate::edition::{Correction, Edition};
use crate::files::Slug;
use crate::lab::MadeFor;
use crate::rules::{Form, Judged};
use crate::shoe::Withdrawn;
use crate::words::say;

/// The review pages and prints.
pub(super) struct Review;

/// What a review is made for: what its links are told from, and what it leaves out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Medium {
    /// A page of the folio.
    Page,
    /// A sheet of paper.
    Print,
    /// The feed, read far from the folio.
    Feed,
}

impl Output for Review {
    fn name(&self) -> &'static str {
        "review"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let mut sheets = Vec::with_capacity(edition.shoes.len());
        for judged in &edition.shoes {
            let slug = &judged.shoe.slug;
            let subject = || Subject::Shoe(slug.clone());
            let own = composer.clone();
            sheets.push(page(
                self.name(),
                subject(),
                page_path(slug),
                "review.html",
                move || review_view(&own, judged, Medium::Page),
            ));
            if surroundings.prints && composer.withdrawn(judged).is_none() {
                let own = composer.clone();
                let on = composer.changed(judged);
                sheets.push(print(
                    self.name(),
                    subject(),
                    sheets::path(print_path(slug)),
                    "review.typ",
                    on,
                    move || review_view(&own, judged, Medium::Print),
                ));
            }
        }
        sheets
    }
}

/// A review page's file.
pub(super) fn page_path(slug: &Slug) -> FolioPath {
    sheets::path(format!("{}index.html", entry::path(slug)))
}

fn print_path(slug: &Slug) -> String {
    format!("{}review.pdf", entry::path(slug))
}

/// A review, for one medium.
pub(super) fn review_view(composer: &Composer<'_>, judged: &Judged, medium: Medium) -> ReviewView {
    if let Some(withdrawn) = composer.withdrawn(judged) {
        return withdrawn_view(composer, judged, withdrawn);
    }
    let slug = &judged.shoe.slug;
    let (lead, other) = composer.bands();
    let suits = suits(composer, judged);
    let summary = composer.summary(judged);
    let shoe = entry::shoe(composer, judged);
    let alternatives = difference::alternatives(composer, judged);
    let mut view = ReviewView {
        site: composer.site(),
        head: composer.head(
            &page_path(slug),
            &shoe.title,
            &description(composer, &shoe, &suits.text),
        ),
        suits: suits.text,
        suits_language: suits.language,
        suits_by_editor: suits.by_editor,
        summary_language: summary.and_then(|summary| summary.language(composer)),
        summary: summary.map(|summary| summary.text.to_owned()),
        lead: lead
            .into_iter()
            .map(|key| findings::band(composer, judged, key))
            .collect(),
        other: other
            .into_iter()
            .map(|key| findings::band(composer, judged, key))
            .collect(),
        values: composer
            .rules_of(|form| matches!(form, Form::Value(..)))
            .into_iter()
            .map(|key| findings::number(composer, judged, key))
            .collect(),
        fits: composer
            .rules_of(|form| *form == Form::Fit)
            .into_iter()
            .map(|key| findings::fit(composer, judged, key))
            .collect(),
        advice: findings::advice(composer, judged),
        alike: difference::alike(composer, judged),
        alternatives,
        quantities: readings::quantities(composer, judged),
        curves: readings::curves(composer, judged),
        sessions: readings::sessions(composer, judged),
        doubts: doubts::doubts(composer, judged),
        corrections: corrections(composer, slug),
        review_html: None,
        review_language: None,
        review_blocks: Vec::new(),
        pdf: composer.surroundings.prints.then(|| print_path(slug)),
        data: format!("{}data.json", entry::path(slug)),
        bench: drift::address(&composer.edition.lab),
        withdrawn: None,
        qr: Vec::new(),
        shoe,
    };
    view.head.pages = own::links(
        composer.surroundings,
        MadeFor::EachShoe,
        Some(slug.as_str()),
    );
    if let Some(review) = composer.review(judged) {
        view.review_language = review.language(composer);
        add_text(&mut view, review.text, medium);
    }
    match medium {
        Medium::Page => {
            view.head.image = card::image(composer, judged);
            view.head.linked_data = Some(linked_data::review(composer, judged, &view));
        }
        Medium::Print => view.qr = qr::code(&address(&view)),
        Medium::Feed => {}
    }
    view
}

/// The page's absolute address.
pub(super) fn address(view: &ReviewView) -> String {
    format!("{}{}", view.site.address, view.head.path)
}

/// The editor's text as HTML for another page, by that page's head: its links are told
/// from there.
pub(super) fn text_for(
    composer: &Composer<'_>,
    judged: &Judged,
    head: &HeadView,
) -> Option<String> {
    let from = markdown::Standpoint::Page {
        root: &head.root,
        top: &head.top,
    };
    let blocks = markdown::blocks(composer.review(judged)?.text, from);
    (!blocks.is_empty()).then(|| markdown::html(&blocks))
}

/// Puts in the editor's text: as HTML, or as blocks for the print.
fn add_text(view: &mut ReviewView, text: &str, medium: Medium) {
    let page = address(view);
    let from = match medium {
        Medium::Page => markdown::Standpoint::Page {
            root: &view.head.root,
            top: &view.head.top,
        },
        Medium::Print | Medium::Feed => markdown::Standpoint::Afar {
            folio: &view.site.address,
            top: &view.site.folio,
            page: &page,
        },
    };
    let blocks = markdown::blocks(text, from);
    if medium == Medium::Print {
        view.review_blocks = blocks;
    } else if !blocks.is_empty() {
        view.review_html = Some(markdown::html(&blocks));
    }
}

/// One sentence for search engines and previews.
fn description(composer: &Composer<'_>, shoe: &ShoeView, suits: &str) -> String {
    say!(
        composer,
        "{shoe}, measured on the bench. {suits}",
        shoe = shoe.title,
        suits = suits
    )
}

/// What changed since a review was first published, latest first.
fn corrections(composer: &Composer<'_>, slug: &Slug) -> Vec<CorrectionView> {
    let corrections = composer.edition.corrections.get(slug);
    corrections
        .into_iter()
        .flatten()
        .rev()
        .map(|correction| correction_view(composer, correction))
        .collect()
}

/// A change, as pages tell it.
pub(super) fn correction_view(composer: &Composer<'_>, correction: &Correction) -> CorrectionView {
    let because = composer.editors(&correction.because);
    CorrectionView {
        on: composer.date(correction.on),
        because: sentence(because.text),
        because_language: because.language(composer),
        changes: correction
            .changes
            .iter()
            .map(|change| capital(&composer.retell(change)))
            .collect(),
        versions: say!(
            composer,
            "Rule set {rules}; protocol {protocol}.",
            rules = version(composer, correction.rules),
            protocol = version(composer, correction.protocol)
        ),
    }
}

fn version(composer: &Composer<'_>, (from, to): (u32, u32)) -> String {
    if from == to {
        say!(composer, "version {n}", n = to)
    } else {
        say!(composer, "version {from} → {to}", from = from, to = to)
    }
}

/// The page of a review that was taken back.
fn withdrawn_view(composer: &Composer<'_>, judged: &Judged, withdrawn: &Withdrawn) -> ReviewView {
    let slug = &judged.shoe.slug;
    let shoe = entry::bare_shoe(composer, judged);
    let said = say!(
        composer,
        "This review was withdrawn on {day}.",
        day = composer.day(withdrawn.on)
    );
    let reason = composer.editors(&withdrawn.reason);
    ReviewView {
        site: composer.site(),
        head: composer.head(&page_path(slug), &shoe.title, &said),
        shoe,
        suits: say!(
            composer,
            "The laboratory no longer stands by its figures, so none are shown."
        ),
        suits_language: None,
        suits_by_editor: false,
        summary: None,
        summary_language: None,
        lead: Vec::new(),
        other: Vec::new(),
        values: Vec::new(),
        fits: Vec::new(),
        advice: Vec::new(),
        alternatives: Vec::new(),
        alike: Vec::new(),
        quantities: Vec::new(),
        curves: Vec::new(),
        sessions: Vec::new(),
        doubts: Vec::new(),
        corrections: Vec::new(),
        review_html: None,
        review_language: None,
        review_blocks: Vec::new(),
        pdf: None,
        data: String::new(),
        bench: None,
        withdrawn: Some(WithdrawnView {
            on: composer.date(withdrawn.on),
            reason: sentence(reason.text),
            reason_language: reason.language(composer),
        }),
        qr: Vec::new(),
    }
}

#[cfg(test)]
#[path = "review_tests.rs"]
mod tests;
