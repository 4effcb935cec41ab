//! The feed (RFC 4287): the latest reviews with their whole content, what was
//! corrected, and what was taken back.
//!
//! An entry's identifier is the page's address at first publication, so a shoe
//! whose file was renamed is not announced again. Drafts are never in it.

use super::composer::Composer;
use super::entry;
use super::findings::with_spread;
use super::markdown::escape;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::review::{Medium, address, review_view};
use super::sheets::{self, page};
use super::views::{BandView, FeedEntryView, FeedView, ReviewView};
use super::wording::capital;
use super::wording::instant;
use crate::edition::Edition;
use crate::rules::Judged;
use crate::words::say;
use std::cmp::Reverse;

/// How many entries the feed holds.
const ENTRIES: usize = 40;

/// The feed.
pub(super) struct Feed;

impl Output for Feed {
    fn name(&self) -> &'static str {
        "feed"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        vec![page(
            self.name(),
            Subject::Folio,
            sheets::path("feed.xml"),
            "feed.xml",
            move || feed_view(&composer),
        )]
    }
}

/// The feed, for its template.
fn feed_view(composer: &Composer<'_>) -> FeedView {
    let mut shoes: Vec<&Judged> = composer
        .edition
        .shoes
        .iter()
        .filter(|judged| composer.came_out(judged).is_some())
        .collect();
    shoes.sort_by_cached_key(|judged| {
        (
            Reverse(composer.changed(judged)),
            Reverse(composer.came_out(judged)),
            judged.shoe.title().to_lowercase(),
            judged.shoe.slug.clone(),
        )
    });
    shoes.truncate(ENTRIES);
    let updated = shoes.first().map(|judged| composer.changed(judged));
    FeedView {
        site: composer.site(),
        updated: instant(updated.unwrap_or(composer.edition.as_of)),
        entries: shoes
            .into_iter()
            .map(|judged| entry_view(composer, judged))
            .collect(),
    }
}

fn entry_view(composer: &Composer<'_>, judged: &Judged) -> FeedEntryView {
    let view = review_view(composer, judged, Medium::Feed);
    let folio = &view.site.address;
    let first = judged
        .shoe
        .file
        .formerly
        .first()
        .unwrap_or(&judged.shoe.slug);
    let published = composer.came_out(judged).unwrap_or(composer.edition.as_of);
    FeedEntryView {
        id: format!("{folio}{}", entry::path(first)),
        href: address(&view),
        title: match view.withdrawn {
            Some(_) => say!(composer, "Withdrawn: {shoe}", shoe = view.shoe.title),
            None => view.shoe.title.clone(),
        },
        published: instant(published),
        updated: instant(composer.changed(judged)),
        summary: view.summary.clone().unwrap_or_else(|| view.suits.clone()),
        summary_language: match view.summary {
            Some(_) => view.summary_language.clone(),
            None => view.suits_language.clone(),
        },
        content_html: content(composer, &view),
    }
}

/// A review as HTML that reads anywhere: absolute links, no style, no script.
fn content(composer: &Composer<'_>, view: &ReviewView) -> String {
    let mut html = Html::default();
    if let Some(withdrawn) = &view.withdrawn {
        let said = say!(
            composer,
            "This review was withdrawn on {day}.",
            day = withdrawn.on.text
        );
        let reason = written(&withdrawn.reason, withdrawn.reason_language.as_deref());
        html.paragraph(&format!("{} {reason}", escape(&said)));
        return html.0;
    }
    html.paragraph(&written(&view.suits, view.suits_language.as_deref()));
    if let Some(summary) = &view.summary {
        html.paragraph(&written(summary, view.summary_language.as_deref()));
    }
    corrections(&mut html, composer, view);
    if view.site.invented {
        html.paragraph(&escape(&say!(
            composer,
            "Laboratory, makers and shoes are invented."
        )));
    }
    html.heading(&say!(composer, "Findings"));
    html.list(
        view.lead
            .iter()
            .chain(&view.other)
            .map(|band| band_line(composer, band)),
    );
    html.list(view.values.iter().map(|value| {
        let said = match (&value.figure, &value.not_judged) {
            (Some(figure), _) if value.provisional => {
                let provisional = say!(composer, "provisional");
                format!("{} ({provisional})", with_spread(figure))
            }
            (Some(figure), _) => with_spread(figure),
            (None, reason) => not_judged(composer, reason.as_deref()),
        };
        escape(&format!("{}: {said}", value.label))
    }));
    if !view.advice.is_empty() {
        html.heading(&say!(composer, "Cautions and advice"));
        html.list(view.advice.iter().map(|advice| {
            let text = written(&advice.text, advice.text_language.as_deref());
            format!("{}: {text}", escape(&advice.short))
        }));
    }
    if let Some(text) = &view.review_html {
        match &view.review_language {
            None => html.0.push_str(text),
            Some(language) => {
                let language = escape(language);
                let marked = format!("<div lang=\"{language}\">\n{text}</div>\n");
                html.0.push_str(&marked);
            }
        }
    }
    if !view.doubts.is_empty() {
        html.heading(&say!(composer, "How sure"));
        html.list(view.doubts.iter().map(|doubt| {
            let reason = doubt.reason.as_ref();
            let reason = reason.map(|reason| written(reason, doubt.reason_language.as_deref()));
            let accepted = doubt.accepted.as_ref().map(|reason| {
                let said = say!(composer, "Accepted: {reason}", reason = HERE);
                with(&said, &written(reason, doubt.accepted_language.as_deref()))
            });
            let said = std::iter::once(escape(&doubt.message));
            let said: Vec<String> = said.chain(reason).chain(accepted).collect();
            said.join(" ")
        }));
    }
    html.paragraph(&escape(&view.site.caution));
    html.link(
        &address(view),
        &say!(composer, "The whole review with its readings"),
    );
    html.0
}

fn corrections(html: &mut Html, composer: &Composer<'_>, view: &ReviewView) {
    for correction in &view.corrections {
        let said = say!(
            composer,
            "Corrected on {day}: {because}",
            day = correction.on.text,
            because = HERE
        );
        let because = written(&correction.because, correction.because_language.as_deref());
        let said = with(&said, &because);
        html.paragraph(&format!("{said} {}", escape(&correction.versions)));
        html.list(correction.changes.iter().map(|change| escape(change)));
    }
}

fn not_judged(composer: &Composer<'_>, reason: Option<&str>) -> String {
    match reason {
        Some(reason) => say!(composer, "not judged: {reason}", reason = reason),
        None => say!(composer, "not judged"),
    }
}

/// Where in a sentence a text of its own language is to stand; no text holds it.
const HERE: &str = "\u{1}";

/// A text somebody wrote, as HTML, marked where it is not in the feed's language.
fn written(text: &str, language: Option<&str>) -> String {
    match language {
        None => escape(text),
        Some(language) => format!(
            "<span lang=\"{}\">{}</span>",
            escape(language),
            escape(text)
        ),
    }
}

/// A sentence as HTML, with HTML where it says [`HERE`].
fn with(sentence: &str, html: &str) -> String {
    let around: Vec<String> = sentence.split(HERE).map(escape).collect();
    around.join(html)
}

/// A banded finding in a line, as HTML.
fn band_line(composer: &Composer<'_>, band: &BandView) -> String {
    let Some(says) = &band.says else {
        return escape(&format!(
            "{}: {}",
            band.label,
            not_judged(composer, band.not_judged.as_deref())
        ));
    };
    let score = match &says.score.uncertainty {
        Some(spread) => format!("{} \u{b1} {spread}", says.score.number),
        None => says.score.number.clone(),
    };
    let mut said = vec![say!(composer, "{score} of 100", score = score)];
    if says.held {
        said.push(say!(composer, "beyond the scale"));
    }
    if let Some(near) = &says.borderline {
        said.push(say!(composer, "borderline with {other}", other = near));
    }
    if says.provisional {
        said.push(say!(composer, "provisional"));
    }
    format!(
        "{} {}",
        escape(&format!(
            "{}: {} ({}).",
            band.label,
            says.band,
            said.join(", ")
        )),
        written(&capital(&says.means), says.means_language.as_deref())
    )
}

/// HTML being written. Headings and links are texts; what stands in paragraphs and
/// lists is HTML already, its texts escaped.
#[derive(Default)]
struct Html(String);

impl Html {
    fn paragraph(&mut self, html: &str) {
        self.0.push_str(&format!("<p>{html}</p>\n"));
    }

    fn heading(&mut self, text: &str) {
        self.0.push_str(&format!("<h2>{}</h2>\n", escape(text)));
    }

    fn list(&mut self, items: impl Iterator<Item = String>) {
        let items: Vec<String> = items.map(|item| format!("<li>{item}</li>\n")).collect();
        if !items.is_empty() {
            self.0.push_str(&format!("<ul>\n{}</ul>\n", items.concat()));
        }
    }

    fn link(&mut self, href: &str, text: &str) {
        self.0.push_str(&format!(
            "<p><a href=\"{}\">{}</a></p>\n",
            escape(href),
            escape(text)
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn entries(edition: &Edition) -> Vec<FeedEntryView> {
        let surroundings = Surroundings::default();
        feed_view(&Composer::new(edition, &surroundings)).entries
    }

    #[test]
    fn the_latest_change_comes_first_and_identifiers_outlive_a_renaming() {
        let edition = testing::edition();
        let entries = entries(&edition);
        let told: Vec<&str> = entries.iter().map(|entry| entry.href.as_str()).collect();
        assert_eq!(told[0], "https://lab.example/shoes/quarrel-2/");
        assert_eq!(entries[0].id, "https://lab.example/shoes/quarrel-mk2/");
        assert_eq!(entries[0].updated, "2026-11-26T00:00:00Z");
        assert!(
            entries
                .windows(2)
                .all(|pair| pair[0].updated >= pair[1].updated)
        );
    }

    #[test]
    fn content_is_whole_escaped_and_links_absolutely() {
        let edition = testing::edition();
        let entries = entries(&edition);
        let quarrel = &entries[0].content_html;
        assert!(quarrel.contains("Torsion: medium"));
        assert!(quarrel.contains("Drop kept under load: 73.3 \u{b1} 5.5 %<"));
        assert!(
            quarrel.contains("href=\"https://lab.example/compare/\""),
            "{quarrel}"
        );
        assert!(!quarrel.contains("href=\"../"));
        assert!(!quarrel.contains("<script"));
    }

    #[test]
    fn what_was_corrected_or_taken_back_is_announced() {
        let edition = testing::edition();
        let entries = entries(&edition);
        let of = |slug: &str| entries.iter().find(|e| e.href.ends_with(slug)).unwrap();
        let tern = &of("/tern-1/").content_html;
        let told = "Corrected on 24 November 2026: Torsion points moved.";
        assert!(tern.contains(told), "{tern}");
        let skua = of("/skua/");
        assert!(skua.title.starts_with("Withdrawn: "));
        assert!(!skua.content_html.contains("Torsion"));
    }

    #[test]
    fn a_draft_is_never_in_the_feed() {
        let edition = testing::with_draft();
        assert!(
            entries(&edition)
                .iter()
                .all(|entry| !entry.href.contains("whimbrel"))
        );
    }
}
