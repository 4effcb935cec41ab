//! A shop's stock: which of the shoes on its shelf the lab has measured.
//!
//! A list is plain text or CSV: one shoe a line, by its address, or by maker and
//! model as the folio calls it; in CSV the first cell that names a shoe counts, else
//! maker and model in the first two cells, or these with the version in the third,
//! which counts where a heading calls it so, or there is none. Letters' case and
//! punctuation do not. A line that names no shoe of the edition
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
    let mut titles: BTreeMap<String, usize> = BTreeMap::new();
    let standing = edition
        .shoes
        .iter()
        .filter(|judged| judged.shoe.file.withdrawn.is_none());
    for judged in standing {
        let slug = &judged.shoe.slug;
        known.insert(plain(slug.as_str()), slug);
        let title = plain(&judged.shoe.title());
        *titles.entry(title.clone()).or_default() += 1;
        known.insert(title, slug);
    }
    let mut stock = Stock {
        name: name.chars().filter(|c| !is_refused(*c)).collect(),
        ..Stock::default()
    };
    let mut first = true;
    let mut third_is_version = true;
    for line in text.trim_start_matches('\u{feff}').lines() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let is_first = std::mem::take(&mut first);
        let cells: Vec<&str> = line
            .split([',', ';', '\t'])
            .map(|cell| cell.trim().trim_matches('"').trim())
            .collect();
        let joined = |count: usize| plain(&cells.iter().take(count).copied().collect::<String>());
        // `Maker,Model` in two cells, or one cell that names the shoe alone.
        let found = known
            .get(&plain(line))
            .or_else(|| cells.iter().find_map(|cell| known.get(&plain(cell))))
            .or_else(|| known.get(&joined(2)))
            // `Maker,Model,2,12`: another number in its place may say how many there are.
            .or_else(|| {
                let name = joined(3);
                let sure = third_is_version && titles.get(&name) == Some(&1);
                known.get(&name).filter(|_| sure)
            });
        match found {
            Some(slug) => stock.shoes.push((*slug).clone()),
            None if is_first && is_heading(&cells) => {
                third_is_version = cells.get(2).is_some_and(|cell| plain(cell) == "version");
            }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn only_the_first_line_is_a_heading() {
        let list = "# the wall\nmaker,model,kind\nNobody,Anything,Shoe\nNobody,Model\n";
        let stock = read_stock("shop", list, &testing::edition());
        assert_eq!(stock.not_measured, ["Nobody Anything", "Nobody Model"]);
        assert!(stock.shoes.is_empty());
    }

    #[test]
    fn a_version_in_the_third_cell_belongs_to_the_name() {
        let edition = testing::edition();
        let judged = edition
            .shoes
            .iter()
            .find(|judged| {
                let file = &judged.shoe.file;
                file.version.is_some() && file.colour.is_none()
            })
            .expect("a shoe with a version and no colour");
        let file = &judged.shoe.file;
        let version = judged.shoe.model().replacen(&file.model, "", 1);
        let line = format!("{},{},{},12\n", file.maker, file.model, version.trim());
        let found = |list: &str| read_stock("shop", list, &edition).shoes;
        let slug = judged.shoe.slug.clone();
        assert_eq!(found(&line), std::slice::from_ref(&slug));
        assert_eq!(found(&format!("maker,model,version,count\n{line}")), [slug]);
        assert!(found(&format!("maker,model,count,price\n{line}")).is_empty());
    }
}
