//! What the folio contains: one file an output, each from an edition to sheets.
//!
//! An output plans sheets and makes their views. It reads no file and writes
//! none; only the press touches `out/`. A view is already worded and rounded,
//! so a template does no arithmetic, and the same edition gives the same views
//! whatever the thread or the order in which they are made.
//!
//! What is missing has a reason, and the reason is shown in its place. A shoe
//! whose review was taken back keeps its page, which says so, and is in no
//! data, count, list of findings or picture; see [`composer`] for where lists
//! mention it.

mod output;
pub mod pages;
pub mod views;

mod composer;
mod csv;
mod curve;
mod difference;
mod doubts;
mod drift;
mod entry;
mod figures;
mod findings;
mod linked_data;
mod markdown;
mod package;
mod qr;
mod readings;
mod records;
mod ruler;
mod statistics;
mod suits;
#[cfg(test)]
pub(crate) mod testing;
mod wording;

mod compare;
mod data;
mod feed;
mod find;
mod front;
mod guide;
mod method;
mod not_found;
mod redirects;
mod review;
mod search;
mod sitemap;
mod statics;
mod weeks;

pub use curve::{Branch, CurveAxes, curve_view};
pub(crate) use drift::repeatability_line;
pub use output::{FolioPath, Make, Output, Sheet, Stock, Subject, Surroundings, UnsafePath};
pub use qr::code as qr_code;

use crate::edition::Edition;

/// Every output, in the order in which they are planned.
pub fn all() -> &'static [&'static dyn Output] {
    &[
        &front::Front,
        &review::Review,
        &compare::Compare,
        &find::Find,
        &search::Search,
        &guide::Guide,
        &weeks::Weeks,
        &method::Method,
        &drift::Bench,
        &data::OpenData,
        &feed::Feed,
        &sitemap::Sitemap,
        &redirects::Redirects,
        &not_found::NotFound,
        &statics::Statics,
    ]
}

/// All sheets of an edition: those in the lab's own language, then those in each
/// further one.
pub fn plan<'e>(edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
    let mut sheets: Vec<Sheet<'e>> = all()
        .iter()
        .flat_map(|output| output.plan(edition, surroundings))
        .collect();
    for tongue in &surroundings.tongues {
        let Some(known) = tongue.tongue.and_then(|at| edition.lab.tongues.get(at)) else {
            continue;
        };
        let speaking = all().iter().filter(|output| output.speaks());
        sheets.extend(
            speaking
                .flat_map(|output| output.plan(edition, tongue))
                .filter_map(|sheet| sheet.spoken(&known.language.tag)),
        );
    }
    sheets
}

#[cfg(test)]
#[path = "folio_tests.rs"]
mod tests;
