//! Long lists for a page's script: JSON in which a record is an array by place,
//! as one text. A template hands it on as it is; as values of its own, ten
//! thousand rows would take it hundreds of megabytes.

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

/// The comparison's rows: path, title, maker, category, price, its amount, its
/// currency, cells. A cell: text, number to sort by, its expanded uncertainty, and
/// in bands the band, and 1 where it is borderline; 0 for one that was not judged.
pub(super) fn compare_rows<S: Serializer>(
    rows: &[CompareRowView],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let row = |row: &CompareRowView| {
        let shoe = &row.shoe;
        let cells: Vec<Cell<'_>> = row.cells.iter().map(Cell::of).collect();
        quoted(&text((
            &shoe.path,
            &shoe.title,
            &shoe.maker,
            &shoe.category_key,
            &shoe.price,
            row.price.map(Short),
            &row.currency,
            cells,
        )))
    };
    lines(rows, row, serializer)
}

/// A cell of the comparison.
#[derive(Serialize)]
#[serde(untagged)]
enum Cell<'c> {
    Band(&'c str, Option<Short>, Option<Short>, usize, u8),
    Number(&'c str, Option<Short>, Option<Short>),
    NotJudged(u8),
}

impl<'c> Cell<'c> {
    fn of(cell: &'c CellView) -> Self {
        let Some(text) = &cell.text else {
            return Cell::NotJudged(0);
        };
        let (sort, spread) = (cell.sort.map(Short), cell.spread.map(Short));
        match cell.band_index {
            Some(band) => Cell::Band(text, sort, spread, band, u8::from(cell.borderline)),
            None => Cell::Number(text, sort, spread),
        }
    }
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

/// A record's JSON as a text of its own, for a script that reads it when it needs
/// it: a browser passes over a text in a fraction of the time that values take. In
/// single quotes, because JSON is full of double ones.
fn quoted(json: &str) -> String {
    let mut out = String::with_capacity(json.len() + 2);
    out.push('\'');
    for character in json.chars() {
        match character {
            '\\' => out.push_str("\\\\"),
            '\'' => out.push_str("\\'"),
            other => out.push(other),
        }
    }
    out.push('\'');
    out
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
    use serde_json::{Value, json};

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
    fn a_quoted_record_is_one_string_literal() {
        assert_eq!(quoted(&text(("it's \"\\", 1))), r#"'["it\'s \\"\\\\",1]'"#);
    }

    #[test]
    fn a_cell_is_an_array_by_place_and_nought_where_nothing_was_judged() {
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
            ..judged.clone()
        };
        let cells = [&judged, &number, &absent].map(Cell::of);
        let json = text(cells);
        assert!(!json.contains('<'));
        let read: Value = serde_json::from_str(&json).unwrap();
        assert_eq!(
            read,
            json!([
                ["</script>", 41.25, null, 2, 1],
                ["</script>", 41.25, 0.5],
                0
            ])
        );
    }
}
