//! A shop's stock: which of the shoes on its shelf the lab has measured.
//!
//! A list is plain text or CSV: one shoe a line, by its address, or by maker and
//! model as the folio calls it; in CSV the first cell that names a shoe counts.
//! Letters' case and punctuation do not. A line that names no shoe of the edition
//! is a shoe the lab has not measured, and the guide lists it in the shop's own
//! words: a draft, a held shoe or one taken back is no different from one the lab
//! never had, so that a list can't be used to find out.

use crate::diagnostics::text::is_refused;
use crate::edition::Edition;
use crate::outputs::Stock;
use std::collections::BTreeMap;

/// The longest line that is taken as a shoe's name, in characters.
const NAME_LIMIT: usize = 160;

/// Reads a shop's list, against the shoes of an edition.
pub fn read_stock(name: &str, text: &str, edition: &Edition) -> Stock {
    let mut known = BTreeMap::new();
    let standing = edition
        .shoes
        .iter()
        .filter(|judged| judged.shoe.file.withdrawn.is_none());
    for judged in standing {
        let slug = &judged.shoe.slug;
        known.insert(plain(slug.as_str()), slug);
        known.insert(plain(&judged.shoe.title()), slug);
    }
    let mut stock = Stock {
        name: name.chars().filter(|c| !is_refused(*c)).collect(),
        ..Stock::default()
    };
    for line in text.trim_start_matches('\u{feff}').lines() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let cells: Vec<&str> = line
            .split([',', ';', '\t'])
            .map(|cell| cell.trim().trim_matches('"').trim())
            .collect();
        // `Maker,Model` in two cells, or one cell that names the shoe alone.
        let found = known
            .get(&plain(line))
            .or_else(|| cells.iter().find_map(|cell| known.get(&plain(cell))))
            .or_else(|| known.get(&plain(&cells.iter().take(2).copied().collect::<String>())));
        match found {
            Some(slug) => stock.shoes.push((*slug).clone()),
            None if is_heading(&cells) => {}
            None => stock.not_measured.push(
                cells
                    .iter()
                    .filter(|cell| !cell.is_empty())
                    .take(2)
                    .copied()
                    .collect::<Vec<_>>()
                    .join(" ")
                    .chars()
                    .filter(|c| !is_refused(*c))
                    .take(NAME_LIMIT)
                    .collect(),
            ),
        }
    }
    stock.shoes.sort();
    stock.shoes.dedup();
    stock.not_measured.sort();
    stock.not_measured.dedup();
    stock
}

/// Letters and digits only, small.
fn plain(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// A CSV's first line, such as `maker,model`.
fn is_heading(cells: &[&str]) -> bool {
    const HEADINGS: [&str; 6] = ["shoe", "address", "maker", "model", "name", "title"];
    cells
        .iter()
        .any(|cell| HEADINGS.contains(&plain(cell).as_str()))
}
