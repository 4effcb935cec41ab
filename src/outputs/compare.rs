//! The comparison: every current shoe as a row, every finding and quantity as a
//! column. The page is a table of all shoes, or, of a long folio, of the first; its
//! script reads the same from `data.js`, and the rest from `rows.js` once the page
//! answers. A plain table of all stands on a page of its own.

use super::composer::Composer;
use super::entry::{self, banded, categories};
use super::figures::Print;
use super::findings::{score_spread, value_figure};
use super::output::{FolioPath, Output, Sheet, Subject, Surroundings};
use super::sheets::{self, page, page_and_data};
use super::views::{
    CellView, ColumnView, CompareDataView, CompareRowView, CompareRowsView, CompareView,
    FigureView, HeadView, PlainRowView, PlainTableView,
};
use super::{linked_data, sorted};
use crate::edition::Edition;
use crate::files::Key;
use crate::measure::interval::wider_side;
use crate::quantity::{Uncertain, Unit};
use crate::rules::{Form, Judged, Says};
use crate::words::say;
use std::collections::BTreeSet;

/// The comparison page, its data and its plain table.
pub(super) struct Compare {
    /// More shoes than this are not all in the page; and a script draws of so many
    /// only those in view.
    pub long: usize,
}

impl Compare {
    /// As the folio has it.
    pub const USUAL: Compare = Compare { long: 200 };
}

impl Output for Compare {
    fn name(&self) -> &'static str {
        "compare"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let long = self.long;
        let composer = Composer::new(edition, surroundings);
        let [own, data, plain, rest] = std::array::from_fn(|_| composer.clone());
        let mut sheets = page_and_data(
            self.name(),
            "compare",
            ("compare.html", move || compare_view(&own, long)),
            ("compare-data.js", move || data_view(&data, long)),
        );
        sheets.push(page(
            self.name(),
            Subject::Folio,
            plain_path(),
            "compare-all.html",
            move || plain_view(&plain),
        ));
        if composer.current().count() > long {
            sheets.push(page(
                self.name(),
                Subject::Folio,
                sheets::path("compare/rows.js"),
                "compare-rows.js",
                move || CompareRowsView {
                    rows: table(&rest).1,
                },
            ));
        }
        sheets
    }
}

/// So many shoes of a long folio stand in the page: as many as a window of common
/// height shows, which the script takes over as they are.
const FIRST: usize = 32;

fn page_path() -> FolioPath {
    sheets::path("compare/index.html")
}

fn plain_path() -> FolioPath {
    sheets::path("compare/all/index.html")
}

/// How many of so many shoes stand in the page.
fn first(shoes: usize, long: usize) -> usize {
    if shoes > long {
        FIRST.min(shoes)
    } else {
        shoes
    }
}

/// What a column is made of.
enum Column<'e> {
    Band(&'e Key),
    Value(&'e Key),
    Quantity(&'e Key),
}

fn compare_view(composer: &Composer<'_>, long: usize) -> CompareView {
    let columns = columns(composer);
    let shoes = by_title(composer);
    let there = &shoes[..first(shoes.len(), long)];
    CompareView {
        site: composer.site(),
        head: head(composer, shoes.len()),
        columns: column_views(composer, &columns),
        categories: categories(composer),
        sorted: sorted::links(composer),
        shoes: shoes.len(),
        long: shoes.len() > long,
        rows: rows(composer, there, &columns).collect(),
    }
}

fn data_view(composer: &Composer<'_>, long: usize) -> CompareDataView {
    let columns = columns(composer);
    let shoes = by_title(composer);
    let there = &shoes[..first(shoes.len(), long)];
    let makers: BTreeSet<&str> = shoes
        .iter()
        .map(|judged| judged.shoe.file.maker.as_str())
        .collect();
    CompareDataView {
        head: head(composer, shoes.len()),
        columns: column_views(composer, &columns),
        categories: categories(composer),
        makers: makers.into_iter().map(str::to_owned).collect(),
        currency: one_currency(&shoes),
        shoes: shoes.len(),
        long,
        rows: rows(composer, there, &columns).collect(),
    }
}

fn plain_view(composer: &Composer<'_>) -> PlainTableView {
    let columns = columns(composer);
    let shoes = by_title(composer);
    let title = say!(composer, "All shoes in a plain table");
    PlainTableView {
        site: composer.site(),
        head: composer.head(&plain_path(), &title, &description(composer, shoes.len())),
        columns: column_views(composer, &columns),
        rows: rows(composer, &shoes, &columns)
            .map(|row| plain(composer, row))
            .collect(),
    }
}

/// Amounts in several currencies cannot be compared.
fn one_currency(shoes: &[&Judged]) -> Option<String> {
    let prices = shoes
        .iter()
        .filter_map(|judged| judged.shoe.file.price.as_ref());
    let mut currencies = prices.map(|price| &price.currency);
    let first = currencies.next()?;
    currencies
        .all(|other| other == first)
        .then(|| first.clone())
}

/// All columns, and all rows by title.
pub(super) fn table(composer: &Composer<'_>) -> (Vec<ColumnView>, Vec<CompareRowView>) {
    let columns = columns(composer);
    let rows = rows(composer, &by_title(composer), &columns).collect();
    (column_views(composer, &columns), rows)
}

/// The comparison of so many shoes, in a sentence.
fn description(composer: &Composer<'_>, shoes: usize) -> String {
    say!(
        composer,
        "{n} measured shoes side by side: every finding with its uncertainty.",
        one = "{n} measured shoe side by side: every finding with its uncertainty.",
        n = shoes
    )
}

/// The head of the comparison of so many shoes.
pub(super) fn head(composer: &Composer<'_>, shoes: usize) -> HeadView {
    let description = description(composer, shoes);
    let mut head = composer.head(&page_path(), &say!(composer, "Compare shoes"), &description);
    head.linked_data = Some(linked_data::data_set(composer));
    head
}

fn by_title<'e>(composer: &Composer<'e>) -> Vec<&'e Judged> {
    let mut shoes: Vec<&Judged> = composer.current().collect();
    shoes.sort_by_cached_key(|judged| {
        (judged.shoe.title().to_lowercase(), judged.shoe.slug.clone())
    });
    shoes
}

fn column_views(composer: &Composer<'_>, columns: &[Column<'_>]) -> Vec<ColumnView> {
    let columns = columns.iter();
    columns
        .map(|column| column_view(composer, column))
        .collect()
}

fn rows(
    composer: &Composer<'_>,
    shoes: &[&Judged],
    columns: &[Column<'_>],
) -> impl Iterator<Item = CompareRowView> {
    shoes.iter().map(|judged| row(composer, judged, columns))
}

/// A row in words alone.
fn plain(composer: &Composer<'_>, row: CompareRowView) -> PlainRowView {
    let said = |cell: CellView| {
        let text = cell.text?;
        Some(match cell.borderline {
            true => say!(composer, "{band}, borderline", band = text),
            false => text,
        })
    };
    PlainRowView {
        title: row.shoe.title,
        path: row.shoe.path,
        category: row.shoe.category,
        price: row.shoe.price,
        cells: row.cells.into_iter().map(said).collect(),
    }
}

/// Leading bands, other bands, numbers, quantities; each in its file's order.
fn columns<'e>(composer: &Composer<'e>) -> Vec<Column<'e>> {
    let (lead, other) = composer.bands();
    let values = composer.rules_of(|form| matches!(form, Form::Value(..)));
    let quantities = composer.edition.lab.protocol.quantities.keys();
    lead.into_iter()
        .chain(other)
        .map(Column::Band)
        .chain(values.into_iter().map(Column::Value))
        .chain(quantities.map(Column::Quantity))
        .collect()
}

fn column_view(composer: &Composer<'_>, column: &Column<'_>) -> ColumnView {
    match column {
        Column::Band(key) => ColumnView {
            key: key.to_string(),
            label: composer.label(key),
            kind: "band",
            unit: None,
            places: Print::score().most_places(),
            bands: composer.band_names(key),
        },
        Column::Value(key) => {
            let print = match composer.form(key) {
                Some(Form::Value(unit, decimals)) => Some(Print::plain(unit, decimals)),
                _ => None,
            };
            number_column(key, composer.label(key), "value", print)
        }
        Column::Quantity(key) => {
            let order = composer.edition.lab.settings.units;
            let spec = composer.quantity(key);
            let print = spec.map(|spec| Print::quantity(spec, order));
            number_column(key, composer.quantity_label(key), "quantity", print)
        }
    }
}

fn number_column(key: &Key, label: String, kind: &'static str, print: Option<Print>) -> ColumnView {
    ColumnView {
        key: key.to_string(),
        label,
        kind,
        unit: print.and_then(|print| unit_name(print.unit())),
        places: print.map_or(0, |print| print.most_places()),
        bands: Vec::new(),
    }
}

/// A unit at a column's head; a ratio has none.
fn unit_name(unit: Unit) -> Option<String> {
    (unit != Unit::One).then(|| unit.symbol().to_owned())
}

fn row(composer: &Composer<'_>, judged: &Judged, columns: &[Column<'_>]) -> CompareRowView {
    let price = judged.shoe.file.price.as_ref();
    CompareRowView {
        shoe: entry::shoe(composer, judged),
        price: price
            .map(|price| price.amount)
            .filter(|amount| amount.is_finite()),
        currency: price.map(|price| price.currency.clone()),
        cells: columns
            .iter()
            .map(|column| cell(composer, judged, column).unwrap_or_else(nothing))
            .collect(),
    }
}

/// The cell of a shoe that lacks the finding.
fn nothing() -> CellView {
    CellView {
        text: None,
        sort: None,
        spread: None,
        band_index: None,
        borderline: false,
    }
}

fn cell(composer: &Composer<'_>, judged: &Judged, column: &Column<'_>) -> Option<CellView> {
    match column {
        Column::Band(key) => {
            let banded = banded(judged, key)?;
            Some(CellView {
                text: Some(composer.word(banded.name())),
                band_index: Some(banded.band),
                borderline: banded.neighbour.is_some(),
                ..number(
                    banded.score.value,
                    score_spread(composer, judged, key, banded),
                )
            })
        }
        Column::Value(key) => {
            let Says::Value(value) = &judged.findings.get(*key)?.as_ref().ok()?.says else {
                return None;
            };
            Some(CellView {
                text: Some(with_spread(value_figure(composer, value))),
                ..number(
                    value.value.value,
                    spread(&value.value, wider_side(value.value.value, value.interval)),
                )
            })
        }
        Column::Quantity(key) => {
            let summary = judged.quantities.get(*key)?.as_ref().ok()?;
            let spec = composer.quantity(key)?;
            let print = Print::quantity(spec, composer.edition.lab.settings.units);
            let wide = summary.stated.expanded.U;
            let (factor, value) = print.in_first(summary.value.value);
            Some(CellView {
                text: Some(with_spread(
                    composer.figure(print.figure_within(&summary.value, wide)),
                )),
                ..number(value, spread(&summary.value, wide * factor))
            })
        }
    }
}

/// A figure without its unit, which stands in the column's head: `8.80 ± 0.15`.
fn with_spread(figure: FigureView) -> String {
    match figure.uncertainty {
        Some(spread) => format!("{} ± {spread}", figure.number),
        None => figure.number,
    }
}

/// The numbers of a cell: what it is sorted by, and its spread.
fn number(value: f64, spread: Option<f64>) -> CellView {
    CellView {
        sort: Some(value).filter(|value| value.is_finite()),
        spread: spread.filter(|spread| spread.is_finite()),
        ..nothing()
    }
}

/// A spread; none for a value that has no uncertainty.
fn spread(value: &Uncertain, spread: f64) -> Option<f64> {
    (!value.parts().is_empty()).then_some(spread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;
    use crate::shoe::Price;

    #[test]
    fn every_row_has_a_cell_for_every_column_and_missing_ones_are_empty() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let view = compare_view(&composer, 3);
        assert!(!view.long);
        assert_eq!(view.rows.len(), 3);
        assert!(
            view.rows
                .iter()
                .all(|row| row.cells.len() == view.columns.len())
        );
        let at = view
            .columns
            .iter()
            .position(|c| c.key == "torsion")
            .unwrap();
        let row = |slug: &str| view.rows.iter().find(|row| row.shoe.slug == slug).unwrap();
        assert_eq!(row("plover").cells[at].text, None);
        assert_eq!(row("plover").cells[at].sort, None);
        assert_eq!(row("quarrel-2").cells[at].text.as_deref(), Some("medium"));
        assert!(row("quarrel-2").cells[at].borderline);
        assert_eq!(view.columns[at].bands.len(), 5);
        let mass = view.columns.iter().position(|c| c.key == "mass").unwrap();
        let cell = &row("quarrel-2").cells[mass];
        assert_eq!(cell.text.as_deref(), Some("262.3 ± 1.1"));
        assert!((cell.spread.unwrap() - 0.5 * 2.228).abs() < 0.001);
        // What a script prints beside that text has its places.
        assert_eq!((view.columns[mass].places, view.columns[at].places), (1, 1));
        let torque = view.columns.iter().find(|c| c.key == "midfoot-torque");
        assert_eq!(torque.unwrap().places, 3);
    }

    #[test]
    fn a_score_held_at_the_scale_s_end_has_a_spread_of_nought_and_an_unknown_one_has_none() {
        let spread_of = |score: Uncertain, known: bool| {
            let mut edition = testing::edition();
            testing::hold_torsion(&mut edition, score, known);
            let surroundings = Surroundings::default();
            let (columns, rows) = table(&Composer::new(&edition, &surroundings));
            let at = columns.iter().position(|c| c.key == "torsion").unwrap();
            let row = rows.iter().find(|row| row.shoe.slug == "quarrel-2");
            row.unwrap().cells[at].spread
        };
        let tiny = testing::uncertain(100.0, 1e-120, "torque");
        assert_eq!(spread_of(tiny, true), Some(0.0));
        assert_eq!(spread_of(Uncertain::exact(100.0), true), Some(0.0));
        assert_eq!(spread_of(Uncertain::exact(100.0), false), None);
    }

    #[test]
    fn the_plain_table_says_in_words_what_the_rows_say() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let (all, plain) = (compare_view(&composer, 3), plain_view(&composer));
        assert_eq!((all.rows.len(), plain.rows.len()), (3, 3));
        for (row, plain) in all.rows.iter().zip(&plain.rows) {
            assert_eq!(row.shoe.title, plain.title);
            for (cell, said) in row.cells.iter().zip(&plain.cells) {
                let expected = cell.text.as_ref().map(|text| match cell.borderline {
                    true => format!("{text}, borderline"),
                    false => text.clone(),
                });
                assert_eq!(*said, expected);
            }
        }
        let cells = || plain.rows.iter().flat_map(|row| &row.cells);
        assert!(cells().any(Option::is_none));
        assert!(cells().flatten().any(|said| said.ends_with(", borderline")));
    }

    #[test]
    fn a_script_that_knows_a_columns_bands_knows_a_banded_cells_text() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let (columns, rows) = table(&Composer::new(&edition, &surroundings));
        let mut banded = 0;
        for row in &rows {
            for (column, cell) in columns.iter().zip(&row.cells) {
                assert_eq!(
                    column.kind == "band" && cell.text.is_some(),
                    cell.band_index.is_some()
                );
                let Some(band) = cell.band_index else {
                    continue;
                };
                assert_eq!(cell.text.as_ref(), column.bands.get(band));
                banded += 1;
            }
        }
        assert!(banded > 4, "{banded}");
    }

    #[test]
    fn only_of_a_long_folio_is_the_page_a_beginning_with_the_rest_in_a_file_of_its_own() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let files = |long| {
            let sheets = Compare { long }.plan(&edition, &surroundings);
            let paths = sheets.iter().map(|sheet| sheet.path.as_str().to_owned());
            paths.collect::<Vec<String>>()
        };
        let rest = "compare/rows.js".to_owned();
        assert!(files(2).contains(&rest) && !files(3).contains(&rest));
        let (page, data) = (compare_view(&composer, 2), data_view(&composer, 2));
        assert!(page.long);
        assert_eq!((page.shoes, data.shoes, data.long), (3, 3, 2));
        assert_eq!(page.rows.len(), data.rows.len());
        assert_eq!(
            (first(3, 2), first(200, 200), first(201, 200)),
            (3, 200, 32)
        );
    }

    #[test]
    fn a_currency_is_named_only_if_all_prices_are_in_it() {
        let mut edition = testing::edition();
        let currency = |edition: &Edition| {
            let surroundings = Surroundings::default();
            one_currency(&by_title(&Composer::new(edition, &surroundings)))
        };
        let price = |edition: &mut Edition, currencies: [Option<&str>; 3]| {
            let current = edition
                .shoes
                .iter_mut()
                .filter(|judged| judged.shoe.slug.as_str() != "skua");
            for (judged, currency) in current.zip(currencies) {
                let shoe = std::sync::Arc::make_mut(&mut judged.shoe);
                shoe.file.price = currency.map(|currency| Price {
                    amount: 100.0,
                    currency: currency.into(),
                });
            }
        };
        price(&mut edition, [None, None, None]);
        assert_eq!(currency(&edition), None);
        price(&mut edition, [None, Some("EUR"), Some("EUR")]);
        assert_eq!(currency(&edition).as_deref(), Some("EUR"));
        price(&mut edition, [None, Some("EUR"), Some("GBP")]);
        assert_eq!(currency(&edition), None);
    }

    #[test]
    fn nothing_of_a_review_taken_back_is_compared() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let (_, rows) = table(&Composer::new(&edition, &surroundings));
        assert!(!rows.is_empty() && rows.iter().all(|row| row.shoe.slug != "skua"));
    }
}
