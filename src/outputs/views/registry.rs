//! Every view a template or a program sees: its name, its templates, its schema.

use super::{
    CardView, CompareDataView, CompareRowsView, CompareView, DataView, DriftView, EditionView,
    FeedView, FindDataView, FindView, FolioView, FrontView, GuideView, MethodView, PlainTableView,
    PlainView, RedirectView, ReviewView, SearchDataView, SitemapView, SortedView, WeekPrintView,
    WeekView,
};
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};

/// A view as the reference and `schema` tell it.
#[derive(Clone, Copy, Debug)]
pub struct ViewDoc {
    /// Its name, such as `view-review`.
    pub name: &'static str,
    /// The built-in templates that see it.
    pub templates: &'static [&'static str],
    /// What of the lab's own sees it, as headers and programs say it.
    pub made_for: Option<&'static str>,
    schema: fn() -> Schema,
}

impl ViewDoc {
    /// Its JSON Schema; the version of the views' form stands in it.
    pub fn schema(&self) -> Schema {
        let mut schema = (self.schema)();
        schema.insert("version".into(), super::VIEWS.into());
        schema
    }
}

/// A view's schema as it is written, not read: what may be `null` is there all the same.
fn written<V: JsonSchema>() -> Schema {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    settings.into_generator().into_root_schema_for::<V>()
}

macro_rules! views {
    ($($name:literal: $view:ident, $templates:expr, $made_for:expr;)+) => {
        /// Every view, the ones for the lab's own first.
        pub const ALL: &[ViewDoc] = &[$(ViewDoc {
            name: $name,
            templates: &$templates,
            made_for: $made_for,
            schema: written::<$view>,
        },)+];
    };
}

views! {
    "view-review": ReviewView, ["review.html", "review.typ"], Some("each-shoe");
    "view-week": WeekView, ["week.html"], Some("each-week");
    "view-folio": FolioView, [], Some("once");
    "view-week-print": WeekPrintView, ["week.typ"], None;
    "view-front": FrontView, ["index.html"], None;
    "view-compare": CompareView, ["compare.html"], None;
    "view-compare-data": CompareDataView, ["compare-data.js"], None;
    "view-compare-rows": CompareRowsView, ["compare-rows.js"], None;
    "view-plain-table": PlainTableView, ["compare-all.html"], None;
    "view-find": FindView, ["find.html"], None;
    "view-find-data": FindDataView, ["find-data.js"], None;
    "view-guide": GuideView, ["guide.html", "guide.typ", "guide-large.typ"], None;
    "view-method": MethodView, ["method.html"], None;
    "view-drift": DriftView, ["drift.html"], None;
    "view-search-data": SearchDataView, ["search-data.js"], None;
    "view-feed": FeedView, ["feed.xml"], None;
    "view-sitemap": SitemapView, ["sitemap.xml"], None;
    "view-redirect": RedirectView, ["redirect.html"], None;
    "view-card": CardView, ["card.png.svg"], None;
    "view-data": DataView, ["data.html"], None;
    "view-edition": EditionView, ["edition.html"], None;
    "view-sorted": SortedView, ["sorted.html"], None;
    "view-plain": PlainView, ["404.html", "search.html"], None;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::compare::Compare;
    use crate::outputs::{self, Make, Surroundings, testing};
    use std::collections::BTreeSet;

    #[test]
    fn every_template_an_output_fills_has_its_view_here_and_the_view_fits_its_schema() {
        let mut edition = testing::edition();
        edition.lab.settings.large_print = true;
        let surroundings = Surroundings {
            prints: true,
            ..Surroundings::default()
        };
        let mut seen = BTreeSet::new();
        let long = Compare { long: 0 };
        for output in outputs::all().iter().copied().chain([&long as _]) {
            for sheet in output.plan(&edition, &surroundings) {
                let (template, view) = match &sheet.make {
                    Make::Page { template, view } => (template.to_string(), view),
                    Make::Print { template, view, .. } => (template.to_string(), view),
                    Make::Bytes(_) | Make::Stream(_) | Make::Static { .. } => continue,
                };
                let doc = ALL.iter().find(|doc| doc.templates.contains(&&*template));
                let doc = doc.unwrap_or_else(|| panic!("{template} is in the registry"));
                let schema = doc.schema();
                let properties = schema
                    .get("properties")
                    .and_then(|p| p.as_object())
                    .unwrap();
                let view = view().value();
                let fields: BTreeSet<&String> = view.as_object().unwrap().keys().collect();
                let named: BTreeSet<&String> = properties.keys().collect();
                assert_eq!(fields, named, "{template} and {}", doc.name);
                seen.insert(template);
            }
        }
        let named: BTreeSet<String> = ALL
            .iter()
            .flat_map(|doc| doc.templates)
            .map(|name| (*name).to_owned())
            .collect();
        let never: Vec<&String> = named.difference(&seen).collect();
        assert!(
            never.len() <= 2,
            "{never:?} are filled by no output of the sample"
        );
    }
}
