//! Long lists for a page's script, as one text: JSON in which a record is an array by
//! place, or, for the comparison, an object with a list for each column. A template
//! hands it on as it is; as values of its own, ten thousand rows would take it hundreds
//! of megabytes.

use super::{CellView, CompareRowView, EntryBandView, FindShoeView, VerdictView};
use serde::{Serialize, Serializer};

/// The same JSON with no character that can end a script element or a line of script.
pub fn safe_in_script(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for character in json.chars() {
        match character {
            '<' => out.push_str("\\u003c"),
            '>' => out.push_str("\\u003e"),
            '&' => out.push_str("\\u0026"),
            '\u{2028}' => out.push_str("\\u2028"),
            '\u{2029}' => out.push_str("\\u2029"),
            other => out.push(other),
        }
    }
    out
}

/// The comparison's rows, by column, since a reader sorts and filters by few of them:
/// an object of path, title, maker, category, price, its amount and currency, each the
/// list of all shoes, and of the cells, by column: number to sort by, its expanded
/// uncertainty, and the text or, in bands, twice the band, and one more where it is
/// borderline; null for one that was not judged. Each list is a text of its own.
pub(super) fn compare_rows<S: Serializer>(
    rows: &[CompareRowView],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let mut out = String::from("{\n");
    let of = rows.iter();
    list(&mut out, "path", of.clone().map(|row| &row.shoe.path));
    list(&mut out, "title", of.clone().map(|row| &row.shoe.title));
    list(&mut out, "maker", of.clone().map(|row| &row.shoe.maker));
    list(
        &mut out,
        "category",
        of.clone().map(|row| &row.shoe.category_key),
    );
    list(&mut out, "price", of.clone().map(|row| &row.shoe.price));
    list(
        &mut out,
        "amount",
        of.clone().map(|row| row.price.map(Short)),
    );
    list(&mut out, "currency", of.clone().map(|row| &row.currency));
    out.push_str("cells: [");
    for column in 0..rows.first().map_or(0, |row| row.cells.len()) {
        let cells = of.clone().map(|row| &row.cells[column]);
        out.push_str("{\n");
        list(
            &mut out,
            "number",
            cells.clone().map(|cell| cell.sort.map(Short)),
        );
        list(
            &mut out,
            "spread",
            cells.clone().map(|cell| cell.spread.map(Short)),
        );
        if cells.clone().any(|cell| cell.band_index.is_some()) {
            let band = |cell: &CellView| Some(2 * cell.band_index? + usize::from(cell.borderline));
            list(&mut out, "band", cells.map(band));
        } else {
            list(&mut out, "text", cells.map(|cell| &cell.text));
        }
        out.push_str("},\n");
    }
    out.push_str("]}");
    serializer.serialize_str(&out)
}

/// A named list as a text of JSON for a script that reads it when it needs it: a
/// browser passes over a text in a fraction of the time that values take. In single
/// quotes, because JSON is full of double ones.
fn list<T: Serialize>(out: &mut String, name: &str, values: impl Iterator<Item = T>) {
    let values: Vec<T> = values.collect();
    out.push_str(name);
    out.push_str(": '");
    for character in text(values).chars() {
        if matches!(character, '\\' | '\'') {
            out.push('\\');
        }
        out.push(character);
    }
    out.push_str("',\n");
}

/// The finder's shoes: path, title, category, whom it suits, verdicts of the rows
/// and of the columns (key, words), pace tier, bands of the wishes (place, name,
/// borderline), cautions, provisional.
pub(super) fn find_shoes<S: Serializer>(
    shoes: &[FindShoeView],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let row = |item: &FindShoeView| {
        let bands: Vec<_> = item.bands.iter().map(band).collect();
        text((
            &item.shoe.path,
            &item.shoe.title,
            &item.shoe.category_key,
            &item.suits,
            verdicts(&item.rows),
            verdicts(&item.columns),
            item.pace.as_ref().and_then(band),
            bands,
            &item.cautions,
            item.provisional,
        ))
    };
    lines(shoes, row, serializer)
}

fn verdicts(verdicts: &[VerdictView]) -> Vec<(&str, &str)> {
    let verdicts = verdicts.iter();
    verdicts
        .map(|verdict| (verdict.key, &*verdict.words))
        .collect()
}

fn band(band: &EntryBandView) -> Option<(Option<usize>, &str, bool)> {
    Some((band.band_index, band.band.as_deref()?, band.borderline))
}

/// One record a line, so that two editions of the file can be compared.
fn lines<T, S: Serializer>(
    all: &[T],
    row: impl Fn(&T) -> String,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let mut json = String::from("[\n");
    for (at, one) in all.iter().enumerate() {
        json.push_str(&row(one));
        json.push_str(if at + 1 < all.len() { ",\n" } else { "\n" });
    }
    json.push(']');
    serializer.serialize_str(&json)
}

fn text(record: impl Serialize) -> String {
    let json = serde_json::to_string(&record).expect("a record is texts and finite numbers");
    safe_in_script(&json)
}

/// A number in five decimals, which is more than any reader sees, without a
/// fraction where there is none.
struct Short(f64);

impl Serialize for Short {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let rounded = (self.0 * 1e5).round() / 1e5;
        if rounded.fract() == 0.0 && rounded.abs() < 1e15 {
            serializer.serialize_i64(rounded as i64)
        } else {
            serializer.serialize_f64(rounded)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::views::ShoeView;

    #[test]
    fn numbers_are_as_short_as_their_five_decimals() {
        let written = |number| serde_json::to_string(&Short(number)).unwrap();
        for (number, text) in [
            (0.1 + 0.2, "0.3"),
            (73.0, "73"),
            (-0.000_001, "0"),
            (12.345_678, "12.34568"),
        ] {
            assert_eq!(written(number), text);
        }
    }

    #[test]
    fn a_list_is_one_string_literal() {
        let mut out = String::new();
        list(&mut out, "title", ["it's \"\\", "1"].iter());
        assert_eq!(out, "title: '[\"it\\'s \\\\\"\\\\\\\\\",\"1\"]',\n");
    }

    #[test]
    fn rows_are_lists_by_column_and_null_where_nothing_was_judged() {
        let judged = CellView {
            text: Some("</script>".to_owned()),
            sort: Some(41.25),
            spread: None,
            band_index: Some(2),
            borderline: true,
        };
        let number = CellView {
            band_index: None,
            spread: Some(0.5),
            ..judged.clone()
        };
        let absent = CellView {
            text: None,
            sort: None,
            spread: None,
            band_index: None,
            borderline: false,
        };
        let row = |title: &str, cells: [&CellView; 2]| CompareRowView {
            shoe: ShoeView {
                slug: "a".into(),
                title: title.into(),
                maker: "A".into(),
                model: "B".into(),
                category: "Road".into(),
                category_key: "road".into(),
                size: String::new(),
                reference_size: String::new(),
                price: None,
                released: None,
                published: None,
                week: None,
                path: "shoes/a/".into(),
            },
            price: None,
            currency: None,
            cells: cells.map(CellView::clone).to_vec(),
        };
        let rows = [
            row("One", [&judged, &number]),
            row("Two", [&absent, &absent]),
        ];
        let said = compare_rows(&rows, serde_json::value::Serializer).unwrap();
        let said = said.as_str().unwrap();
        assert!(!said.contains('<'), "{said}");
        for line in [
            "title: '[\"One\",\"Two\"]',",
            "price: '[null,null]',",
            "number: '[41.25,null]',\nspread: '[null,null]',\nband: '[5,null]',",
            "number: '[41.25,null]',\nspread: '[0.5,null]',\ntext: '[\"\\\\u003c/script\\\\u003e\",null]',",
        ] {
            assert!(said.contains(line), "{line} is missing in {said}");
        }
    }
}
