//! A shoe as other pages show it: its identity, its card, its banded findings.

use super::composer::Composer;
use super::figures::Print;
use super::suits::suits;
use super::views::{EntryBandView, EntryView, LinkView, ShoeView};
use super::wording::size;
use crate::files::{Key, Slug};
use crate::quantity::fixed;
use crate::rules::{Banded, Judged, Says};
use crate::shoe::{Price, Version};
use crate::words::say;

/// What a shoe is.
pub(super) fn shoe(composer: &Composer<'_>, judged: &Judged) -> ShoeView {
    let shoe = &judged.shoe;
    let file = &shoe.file;
    let model = match &file.colour {
        Some(colour) => format!("{}, {colour}", shoe.model()),
        None => shoe.model(),
    };
    let out = composer.came_out(judged);
    ShoeView {
        slug: shoe.slug.to_string(),
        title: shoe.title(),
        maker: file.maker.clone(),
        model,
        category: composer.category(&file.category),
        category_key: file.category.to_string(),
        size: size(composer.language, file.size),
        reference_size: size(
            composer.language,
            composer.edition.lab.protocol.reference_size,
        ),
        price: file
            .price
            .as_ref()
            .map(|paid| composer.number(&price(paid))),
        released: file.released.map(|month| composer.month(month)),
        published: out.map(|on| composer.date(on)),
        week: out.map(|on| LinkView {
            text: on.week().to_string(),
            href: format!("weeks/{}/", on.week().slug()),
        }),
        path: path(&shoe.slug),
    }
}

/// A review's path from the root.
pub(super) fn path(slug: &Slug) -> String {
    format!("shoes/{slug}/")
}

/// A price with its currency; whole amounts without decimals, others with two.
fn price(price: &Price) -> String {
    let whole = fixed(price.amount, 0);
    let cents = fixed(price.amount, 2);
    let amount = if cents == format!("{whole}.00") {
        whole
    } else {
        cents
    };
    format!("{amount} {}", price.currency)
}

/// A model's version as text.
pub(super) fn version(version: &Version) -> String {
    match version {
        Version::Number(number) => number.to_string(),
        Version::Word(word) => word.clone(),
    }
}

/// A shoe as a card. One taken back is its name and that fact alone.
pub(super) fn entry(composer: &Composer<'_>, judged: &Judged) -> EntryView {
    if let Some(withdrawn) = composer.withdrawn(judged) {
        return EntryView {
            shoe: bare_shoe(composer, judged),
            suits: say!(
                composer,
                "This review was withdrawn on {day}.",
                day = composer.day(withdrawn.on)
            ),
            suits_language: None,
            summary: None,
            summary_language: None,
            bands: Vec::new(),
            withdrawn: true,
        };
    }
    let (lead, _) = composer.bands();
    let suits = suits(composer, judged);
    let summary = composer.summary(judged);
    EntryView {
        shoe: shoe(composer, judged),
        suits: suits.text,
        suits_language: suits.language,
        summary_language: summary.and_then(|summary| summary.language(composer)),
        summary: summary.map(|summary| summary.text.to_owned()),
        bands: lead
            .into_iter()
            .chain(composer.pace())
            .map(|key| band(composer, judged, key))
            .collect(),
        withdrawn: false,
    }
}

/// The identity of a shoe whose review was taken back: no price, no month of release.
pub(super) fn bare_shoe(composer: &Composer<'_>, judged: &Judged) -> ShoeView {
    ShoeView {
        price: None,
        released: None,
        ..shoe(composer, judged)
    }
}

/// A banded finding, in a list.
pub(super) fn band(composer: &Composer<'_>, judged: &Judged, key: &Key) -> EntryBandView {
    let banded = banded(judged, key);
    let score = |banded: &Banded| {
        let figure = Print::score().figure_between(&banded.score, banded.interval);
        composer.figure(figure).number
    };
    EntryBandView {
        key: key.to_string(),
        label: composer.label(key),
        band: banded.map(|banded| composer.word(banded.name())),
        band_index: banded.map(|banded| banded.band),
        bands: banded.map_or_else(
            || composer.band_names(key).len(),
            |banded| banded.scale.names.len(),
        ),
        score: banded.map(score),
        borderline: banded.is_some_and(|banded| banded.neighbour.is_some()),
    }
}

/// A shoe's banded finding, if it was judged.
pub(super) fn banded<'j>(judged: &'j Judged, key: &Key) -> Option<&'j Banded> {
    match &judged.findings.get(key)?.as_ref().ok()?.says {
        Says::Band(banded) => Some(banded),
        _ => None,
    }
}

/// Shoes in the order of a list: by the lab's categories, then by title, then by address.
pub(super) fn by_category<'e>(composer: &Composer<'e>) -> Vec<&'e Judged> {
    let categories = &composer.edition.lab.settings.categories;
    let place = |key: &Key| {
        categories
            .keys()
            .position(|known| known == key)
            .unwrap_or(categories.len())
    };
    let mut shoes: Vec<&Judged> = composer.current().collect();
    shoes.sort_by_cached_key(|judged| {
        let file = &judged.shoe.file;
        (
            place(&file.category),
            judged.shoe.title().to_lowercase(),
            judged.shoe.slug.clone(),
        )
    });
    shoes
}

/// The categories that have a shoe, in the lab's order: key and name.
pub(super) fn categories(composer: &Composer<'_>) -> Vec<(String, String)> {
    let settings = &composer.edition.lab.settings;
    let used = |key: &Key| {
        composer
            .current()
            .any(|judged| judged.shoe.file.category == *key)
    };
    let known = settings.categories.iter();
    known
        .filter(|(key, _)| used(key))
        .map(|(key, name)| (key.to_string(), composer.word(name)))
        .collect()
}
