//! Reviews of the small edition, field by field.

use super::*;
use crate::catalogue::Standing;
use crate::outputs::testing;
use crate::quantity::Uncertain;

fn view_of(edition: &Edition, slug: &str, medium: Medium) -> ReviewView {
    let surroundings = testing::with_prints();
    let composer = Composer::new(edition, &surroundings);
    let judged = edition
        .shoe(&testing::slug(slug))
        .expect("it is in the edition");
    review_view(&composer, judged, medium)
}

#[test]
fn a_review_is_what_its_golden_file_says() {
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let text = serde_json::to_string_pretty(&view).expect("a view serialises");
    insta::assert_snapshot!("review_of_quarrel_2", text);
}

#[test]
fn a_borderline_finding_names_its_neighbour_and_its_chance() {
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let says = view.lead[0].says.as_ref().unwrap();
    assert_eq!(says.band, "medium");
    assert_eq!(says.borderline.as_deref(), Some("high"));
    assert_eq!(says.chance, "71 %");
    assert_eq!(
        says.standing.as_deref(),
        Some("higher than 72 % of 6 road shoes")
    );
    assert_eq!(says.ruler.ticks, ["120", "333", "470", "550", "610"]);
    let value = says.value.as_ref().unwrap();
    assert_eq!(
        (value.number.as_str(), value.unit.as_str()),
        ("4.26", "N·m")
    );
    assert_eq!(value.also.as_deref(), Some("37.7 in·lbf"));
}

#[test]
fn a_score_held_at_the_end_of_its_scale_has_no_uncertainty_and_says_so() {
    let torsion = |score: Uncertain, known| {
        let mut edition = testing::edition();
        testing::hold_torsion(&mut edition, score, known);
        let view = view_of(&edition, "quarrel-2", Medium::Page);
        let says = view.lead[0].says.clone().unwrap();
        (says.score.number, says.score.uncertainty, says.held)
    };
    // The interval of either is of nought.
    for left in [
        testing::uncertain(100.0, 0.01, "torque"),
        Uncertain::exact(100.0),
    ] {
        assert_eq!(torsion(left, true), ("100".to_owned(), None, true));
    }
    let unknown = torsion(Uncertain::exact(100.0), false);
    assert_eq!(unknown, ("100".to_owned(), None, false));
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let says = view.lead[0].says.as_ref().unwrap();
    assert!(!says.held && says.score.uncertainty.is_some());
}

#[test]
fn a_percentile_is_rounded_as_every_number_is() {
    let mut edition = testing::edition();
    let standing = Standing {
        percentile: Some(62.5),
        rank: 2,
        n: 6,
    };
    let (slug, key) = (testing::slug("quarrel-2"), testing::key("torsion"));
    let catalogue = std::mem::take(&mut edition.catalogue);
    edition.catalogue = catalogue.with_standing(slug, key, standing);
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let standing = view.lead[0].says.as_ref().unwrap().standing.as_deref();
    // Half to even, as the bench desk has it.
    assert_eq!(standing, Some("higher than 62 % of 6 road shoes"));
}

#[test]
fn an_editor_s_words_are_marked_and_have_their_figures_put_in() {
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let firmness = view.lead[1].says.as_ref().unwrap();
    assert!(firmness.by_editor && firmness.provisional);
    assert!(
        firmness.means.starts_with("Firmer than it looks, at 6.11"),
        "{}",
        firmness.means
    );
    assert_eq!(firmness.chance, "over 99 %");
    assert!(!view.lead[0].says.as_ref().unwrap().by_editor);
}

#[test]
fn every_doubt_is_said_in_words() {
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let codes: Vec<&str> = view
        .doubts
        .iter()
        .map(|doubt| doubt.code.as_str())
        .collect();
    assert_eq!(
        codes,
        [
            "soak-short",
            "left-out",
            "calibration-overdue",
            "pooled-scatter",
            "provisional"
        ]
    );
    assert!(
        view.doubts[1]
            .message
            .contains("trial 3 (5.6 N·m) is left out.")
    );
    let reason = view.doubts[1].reason.as_deref().unwrap_or_default();
    assert!(reason.starts_with("The clamp slipped"));
    assert!(
        view.doubts[2]
            .message
            .starts_with("Heel compression, specimen A-L: calibration")
    );
    assert!(view.doubts[2].accepted.is_some());
    assert!(
        view.doubts[4]
            .message
            .contains("heel firmness, pace and firm landing")
    );
}

#[test]
fn a_finding_that_was_not_made_says_why_in_its_place() {
    let edition = testing::edition();
    let view = view_of(&edition, "plover", Medium::Page);
    assert_eq!(view.lead.len(), 2);
    for band in &view.lead {
        assert_eq!(
            band.not_judged.as_deref(),
            Some("midfoot torque was not measured")
        );
        assert!(band.says.is_none());
    }
    assert_eq!(
        view.values[0].not_judged.as_deref(),
        Some("midfoot torque was not measured")
    );
    assert!(view.fits[0].not_judged.is_some());
    let torque = view
        .quantities
        .iter()
        .find(|q| q.key == "midfoot-torque")
        .unwrap();
    assert_eq!(torque.absent.as_deref(), Some("it was not measured"));
    assert!(torque.figure.is_none() && torque.k.is_none());
    assert_eq!(
        view.suits,
        "Whom it may suit is not known, because it could not be judged; its pace could not be judged."
    );
    assert!(
        view.doubts
            .iter()
            .any(|doubt| doubt.code == "advice-not-judged")
    );
}

#[test]
fn a_review_taken_back_says_so_and_holds_no_number() {
    let edition = testing::edition();
    let view = view_of(&edition, "skua", Medium::Page);
    assert_eq!(
        view.withdrawn.as_ref().unwrap().reason,
        "The specimen was a counterfeit."
    );
    let text = serde_json::to_string(&view).unwrap();
    for number in ["9.87", "88.2", "311", "torsion"] {
        assert!(!text.contains(number), "{number} in {text}");
    }
    assert_eq!((view.pdf, view.data.as_str()), (None, ""));
}

#[test]
fn a_review_to_be_taken_back_later_still_stands() {
    let mut edition = testing::edition();
    edition.as_of = testing::day("2026-11-24");
    let view = view_of(&edition, "skua", Medium::Page);
    assert!(view.withdrawn.is_none() && view.lead[0].says.is_some());
}

#[test]
fn a_draft_says_that_the_page_shows_drafts_and_has_no_date() {
    let edition = testing::with_draft();
    let view = view_of(&edition, "whimbrel", Medium::Page);
    assert!(view.site.drafts);
    assert_eq!(view.shoe.published, None);
    assert_eq!(view.shoe.week, None);
}

#[test]
fn alternatives_are_only_what_is_out_with_the_difference_that_matters() {
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let told: Vec<(&str, &str)> = view
        .alternatives
        .iter()
        .map(|other| (other.path.as_str(), other.difference.as_str()))
        .collect();
    assert_eq!(
        told,
        [
            ("shoes/tern-1/", "18 g lighter, otherwise alike"),
            (
                "shoes/plover/",
                "alike in all that was compared, within the uncertainty"
            ),
        ]
    );
}

#[test]
fn the_print_has_blocks_absolute_links_and_the_code_of_its_page() {
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Print);
    assert!(view.qr.len() >= 21 && view.qr.iter().all(|row| row.len() == view.qr.len()));
    assert!(view.review_html.is_none());
    let text = serde_json::to_string(&view.review_blocks).unwrap();
    assert!(text.contains("https://lab.example/compare/"));
    assert!(!text.contains("javascript") && !text.contains("script>"));
    let page = view_of(&edition, "quarrel-2", Medium::Page);
    assert_eq!(
        serde_json::to_string(&page.lead).unwrap(),
        serde_json::to_string(&view.lead).unwrap(),
        "the print shows the page's figures"
    );
}

#[test]
fn linked_data_is_json_without_a_rating() {
    let edition = testing::edition();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let text = view.head.linked_data.unwrap();
    assert!(!text.contains(['<', '>', '&']));
    let data: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(data["@type"], "Review");
    assert_eq!(data["itemReviewed"]["brand"]["name"], "Fennick & Vale");
    let mass = &data["itemReviewed"]["additionalProperty"][0];
    assert_eq!(mass["unitCode"], "GRM");
    assert_eq!(mass["value"].to_string(), "262.3");
    assert!(!text.to_lowercase().contains("rating"));
}

#[test]
fn a_result_the_lab_has_no_words_for_says_so() {
    let mut edition = testing::edition();
    edition.lab.phrases.findings = Default::default();
    let view = view_of(&edition, "quarrel-2", Medium::Page);
    let says = view.lead[0].says.as_ref().unwrap();
    assert_eq!(says.short, "medium");
    assert_eq!(says.means, "The lab has no words for this result yet.");
}
