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
mod view;
pub mod views;

mod card;
mod composer;
mod csv;
mod curve;
mod difference;
mod digest;
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
mod sheets;
mod statistics;
mod suits;
#[cfg(test)]
pub(crate) mod testing;
mod wording;

mod compare;
mod data;
mod editions;
mod feed;
mod find;
mod front;
mod guide;
mod method;
mod not_found;
mod own;
mod redirects;
mod review;
mod search;
mod sitemap;
mod sorted;
mod statics;
mod weeks;

pub use curve::{Branch, CurveAxes, curve_view};
pub use data::freeze;
pub(crate) use drift::repeatability_line;
pub use markdown::{markdown_as_page, markdown_as_print};
pub use output::{
    FolioPath, Heard, Make, MakeView, Output, Sheet, Stock, Subject, Surroundings, UnsafePath,
    WriteStream, streamed,
};
pub use own::{OwnView, own_views};
pub use qr::code as qr_code;
pub use view::View;

use crate::edition::Edition;

/// Every output, in the order in which they are planned.
pub fn all() -> &'static [&'static dyn Output] {
    &[
        &front::Front,
        &review::Review,
        &card::Cards,
        &compare::Compare::USUAL,
        &sorted::Sorted,
        &find::Find,
        &search::Search,
        &guide::Guide,
        &weeks::Weeks,
        &method::Method,
        &drift::Bench,
        &data::OpenData,
        &editions::Editions,
        &feed::Feed,
        &sitemap::Sitemap,
        &redirects::Redirects,
        &not_found::NotFound,
        &statics::Statics,
        &own::Own,
    ]
}

/// All sheets of an edition: those in the lab's own language, then those in each
/// further one.
pub fn plan<'e>(edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
    parts(surroundings)
        .flat_map(|part| part.plan(edition, surroundings))
        .collect()
}

/// What [`plan`] is put together from, in its order.
pub fn parts(surroundings: &Surroundings) -> impl Iterator<Item = Part> + use<> {
    let own = (0..all().len()).map(|output| Part {
        output,
        tongue: None,
    });
    let others = (0..surroundings.tongues.len()).flat_map(|tongue| {
        let speaking = (0..all().len()).filter(|output| all()[*output].speaks());
        speaking.map(move |output| Part {
            output,
            tongue: Some(tongue),
        })
    });
    own.chain(others)
}

/// One output in one language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    output: usize,
    tongue: Option<usize>,
}

impl Part {
    /// Its sheets; none in a language that the lab does not have.
    pub fn plan<'e>(self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let output = all()[self.output];
        let Some(tongue) = self.tongue else {
            return output.plan(edition, surroundings);
        };
        let around = surroundings.tongues.get(tongue);
        let known = around.and_then(|around| edition.lab.tongues.get(around.tongue?));
        let (Some(around), Some(known)) = (around, known) else {
            return Vec::new();
        };
        let sheets = output.plan(edition, around).into_iter();
        sheets
            .filter_map(|sheet| sheet.spoken(&known.language.tag))
            .collect()
    }
}

#[cfg(test)]
#[path = "folio_tests.rs"]
mod tests;
