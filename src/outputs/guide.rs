//! The shop-floor fit guide: which shoes may suit which build and foot
//! posture, what to ask, and when to send a customer to a clinician.
//!
//! Questions and the list of reasons to refer are the lab's own, from its phrases
//! (the demo's are common practice, no source). They diagnose nothing and promise
//! nothing; they say when the shop's part ends.

use super::composer::Composer;
use super::entry::{self, by_category};
use super::find::{FitHead, cautions, fit_head};
use super::findings::{fit_of, verdict, verdicts};
use super::output::{Output, Sheet, Stock, Subject, Surroundings};
use super::qr;
use super::sheets::{self, page, print};
use super::views::{EntryBandView, GuideShoeView, GuideView, VerdictView};
use crate::edition::Edition;
use crate::rules::{Fit, Judged, Verdict};
use crate::words::say;

/// The guide's page and its prints: the common one, and one in large print for a lab
/// that wants it (`large-print` in `lab/lab.yaml`).
pub(super) struct Guide;

const PDF: &str = "guide/guide.pdf";
const LARGE: &str = "guide/guide-large.pdf";

impl Output for Guide {
    fn name(&self) -> &'static str {
        "guide"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let own = composer.clone();
        let mut sheets = vec![page(
            self.name(),
            Subject::Folio,
            sheets::path("guide/index.html"),
            "guide.html",
            move || guide_view(&own),
        )];
        if surroundings.prints {
            let on = composer.last_change();
            let large = edition.lab.settings.large_print;
            let prints = [(PDF, "guide.typ"), (LARGE, "guide-large.typ")];
            for (path, template) in prints.into_iter().take(1 + usize::from(large)) {
                let own = composer.clone();
                let path = sheets::path(path);
                let view = move || printed_view(&own);
                sheets.push(print(self.name(), Subject::Folio, path, template, on, view));
            }
        }
        sheets
    }
}

/// The view of a print, with the code that leads to the page.
fn printed_view(composer: &Composer<'_>) -> GuideView {
    let view = guide_view(composer);
    GuideView {
        qr: qr::code(&format!("{}{}", view.site.address, view.head.path)),
        ..view
    }
}

fn guide_view(composer: &Composer<'_>) -> GuideView {
    let fit = fit_head(composer);
    let stock = composer.surroundings.stock.as_ref();
    let mut shoes = by_category(composer);
    if let Some(stock) = stock {
        shoes.retain(|judged| stock.shoes.contains(&judged.shoe.slug));
    }
    let shoes: Vec<GuideShoeView> = shoes
        .into_iter()
        .map(|judged| shoe(composer, judged, &fit))
        .collect();
    let description = match stock {
        Some(stock) => say!(
            composer,
            "Which of the shoes {shop} stocks may suit whom.",
            shop = stock.name
        ),
        None => say!(
            composer,
            "Which measured shoes may suit which build and foot posture."
        ),
    };
    GuideView {
        site: composer.site(),
        head: composer.head(
            &sheets::path("guide/index.html"),
            &say!(composer, "Fit guide for the shop floor"),
            &description,
        ),
        row_label: fit.row_label,
        rows: fit.rows,
        column_label: fit.column_label,
        columns: fit.columns,
        shoes,
        questions: composer.phrases().guide.questions.clone(),
        refer: composer.phrases().guide.refer.clone(),
        pdf: composer.surroundings.prints.then(|| PDF.to_owned()),
        pdf_large: (composer.surroundings.prints && composer.edition.lab.settings.large_print)
            .then(|| LARGE.to_owned()),
        qr: Vec::new(),
        stock: stock.map(|stock| stock.name.clone()),
        not_measured: stock.map_or_else(Vec::new, |stock| not_measured(composer, stock)),
    }
}

/// What a shop has and the folio doesn't show. A shoe that is held for later or
/// was taken back is among them, by its address as the shop wrote it: to a
/// reader it is as if it had never been measured.
fn not_measured(composer: &Composer<'_>, stock: &Stock) -> Vec<String> {
    let unknown = stock
        .shoes
        .iter()
        .filter(|slug| composer.current_shoe(slug).is_none())
        .map(ToString::to_string);
    stock.not_measured.iter().cloned().chain(unknown).collect()
}

/// A shoe, with a verdict for every option of the head: the guide is one table, where
/// a verdict too few would put all that follow it into a column that is not theirs.
fn shoe(composer: &Composer<'_>, judged: &Judged, head: &FitHead) -> GuideShoeView {
    let words = &composer.phrases().fit;
    let unknown = |options: &[String]| -> Vec<VerdictView> {
        let options = options.iter();
        options.map(|_| verdict(Verdict::Unknown, words)).collect()
    };
    // A fit that has other options than the head has no verdict on those of the head.
    let is_head_s = |fit: &&Fit| {
        let (rows, columns) = (&fit.rows.options, &fit.columns.options);
        (rows.len(), columns.len()) == (head.rows.len(), head.columns.len())
    };
    let fit = composer.fit().and_then(|key| fit_of(judged, key));
    let (rows, columns) = match fit.filter(is_head_s) {
        Some(fit) => (verdicts(&fit.rows, words), verdicts(&fit.columns, words)),
        None => (unknown(&head.rows), unknown(&head.columns)),
    };
    GuideShoeView {
        shoe: entry::shoe(composer, judged),
        rows,
        columns,
        pace: composer.pace().map_or_else(
            || no_pace(composer),
            |key| entry::band(composer, judged, key),
        ),
        cautions: cautions(composer, judged),
    }
}

/// The pace of a shoe under a rule set without tiers.
fn no_pace(composer: &Composer<'_>) -> EntryBandView {
    EntryBandView {
        key: "pace".into(),
        label: say!(composer, "Pace"),
        band: None,
        band_index: None,
        bands: 0,
        score: None,
        borderline: false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;
    use crate::rules::Says;

    #[test]
    fn it_is_limited_to_the_stock_and_lists_what_is_not_measured() {
        let edition = testing::edition();
        let mut surroundings = testing::with_prints();
        surroundings.stock = Some(Stock {
            name: "Corner Shop".into(),
            shoes: vec![testing::slug("quarrel-2"), testing::slug("skua")],
            not_measured: vec!["Some Other Shoe".into()],
        });
        let view = guide_view(&Composer::new(&edition, &surroundings));
        let slugs: Vec<&str> = view.shoes.iter().map(|s| s.shoe.slug.as_str()).collect();
        assert_eq!(slugs, ["quarrel-2"]);
        assert_eq!(view.not_measured, ["Some Other Shoe", "skua"]);
        assert_eq!(view.stock.as_deref(), Some("Corner Shop"));
        assert_eq!(view.pdf.as_deref(), Some("guide/guide.pdf"));
    }

    #[test]
    fn it_is_printed_large_too_where_the_lab_wants_it() {
        let mut edition = testing::edition();
        let prints = testing::with_prints();
        let planned = |edition: &Edition, surroundings| -> Vec<String> {
            let sheets = Guide.plan(edition, surroundings);
            sheets.iter().map(|sheet| sheet.path.to_string()).collect()
        };
        let view = |edition: &Edition| guide_view(&Composer::new(edition, &prints));
        assert_eq!(planned(&edition, &prints), ["guide/index.html", PDF]);
        assert_eq!(view(&edition).pdf_large, None);
        edition.lab.settings.large_print = true;
        assert_eq!(planned(&edition, &prints), ["guide/index.html", PDF, LARGE]);
        assert_eq!(view(&edition).pdf_large.as_deref(), Some(LARGE));
        assert_eq!(
            planned(&edition, &Surroundings::default()),
            ["guide/index.html"]
        );
        // Only a print needs a way back to the page.
        let composer = Composer::new(&edition, &prints);
        assert!(printed_view(&composer).qr.len() >= 21 && guide_view(&composer).qr.is_empty());
    }

    #[test]
    fn a_shoe_whose_fit_was_not_judged_has_a_verdict_in_every_column() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let view = guide_view(&Composer::new(&edition, &surroundings));
        for item in &view.shoes {
            let (rows, columns) = (item.rows.len(), item.columns.len());
            assert_eq!((rows, columns), (3, 3), "{}", item.shoe.slug);
        }
        let plover = view.shoes.iter().find(|s| s.shoe.slug == "plover").unwrap();
        let verdicts = || plover.rows.iter().chain(&plover.columns);
        assert!(verdicts().all(|verdict| verdict.key == "unknown"));
        assert!(verdicts().all(|verdict| verdict.words == "not known"));
    }

    #[test]
    fn a_shoe_whose_fit_has_other_options_has_a_verdict_in_every_column_too() {
        let mut edition = testing::edition();
        let slug = testing::slug("tern-1");
        let shoes = &mut edition.shoes;
        let tern = shoes.iter_mut().find(|one| one.shoe.slug == slug).unwrap();
        let Some(Ok(finding)) = tern.findings.get_mut(&testing::key("builds")) else {
            panic!("the fit of tern-1 is judged");
        };
        let Says::Fit(fit) = &mut finding.says else {
            panic!("builds is a fit");
        };
        fit.rows.options.pop();
        let surroundings = Surroundings::default();
        let view = guide_view(&Composer::new(&edition, &surroundings));
        for item in &view.shoes {
            assert_eq!(item.rows.len(), view.rows.len(), "{}", item.shoe.slug);
            assert_eq!(item.columns.len(), view.columns.len());
        }
    }

    #[test]
    fn without_a_stock_it_lists_all_by_category_and_title() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let view = guide_view(&Composer::new(&edition, &surroundings));
        let slugs: Vec<&str> = view.shoes.iter().map(|s| s.shoe.slug.as_str()).collect();
        assert_eq!(slugs, ["quarrel-2", "tern-1", "plover"]);
        // The lab's own words, as its phrases have them.
        assert_eq!(view.questions, ["Does a heel hurt?"]);
        assert_eq!(view.refer, ["Pain that stays: to a licensed clinician."]);
    }
}
