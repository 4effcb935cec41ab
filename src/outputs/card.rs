//! The social card: a picture of a shoe's findings, shown beside a link to its
//! review where such links are shared.
//!
//! Only for a lab that wants them (`social-cards` in `lab/lab.yaml`), since a
//! picture takes as long to draw as many pages. It names no edition, so it is
//! drawn again only when the shoe's own findings or names change. A review that
//! was taken back has none.
//!
//! A picture breaks no lines, so the title's size and lines are reckoned here
//! from how wide letters mostly are; what is still too long ends in `…`.

use super::composer::Composer;
use super::entry;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::sheets::{self, page};
use super::views::{CardBandView, CardCellView, CardView, EntryBandView, ImageView};
use super::wording::all_of;
use crate::edition::Edition;
use crate::rules::Judged;
use crate::words::say;

/// The picture's size in pixels: what most places that show one crop the least.
pub(super) const SIZE: (u32, u32) = (1200, 630);
/// What is left free on either side.
const MARGIN: f64 = 72.0;
/// Most findings a card has room for.
const MOST: usize = 6;
/// The title's sizes that are tried, the largest first.
const TITLE_SIZES: [f64; 5] = [84.0, 72.0, 62.0, 54.0, 46.0];
/// Where the strip of a finding's bands begins and how wide it is.
const STRIP: (f64, f64) = (452.0, 300.0);
/// The ramp's two ends on light paper, as the style sheet has them.
const RAMP: [[u8; 3]; 2] = [[0xd3, 0xe1, 0xe4], [0x12, 0x46, 0x5a]];

/// The social cards.
pub(super) struct Cards;

impl Output for Cards {
    fn name(&self) -> &'static str {
        "social-card"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        if !edition.lab.settings.social_cards {
            return Vec::new();
        }
        let composer = Composer::new(edition, surroundings);
        composer
            .current()
            .map(|judged| {
                let own = composer.clone();
                page(
                    self.name(),
                    Subject::Shoe(judged.shoe.slug.clone()),
                    sheets::path(path(judged)),
                    "card.png.svg",
                    move || card_view(&own, judged),
                )
            })
            .collect()
    }
}

fn path(judged: &Judged) -> String {
    format!("{}card.png", entry::path(&judged.shoe.slug))
}

/// The card as a page's head names it, if there is one.
pub(super) fn image(composer: &Composer<'_>, judged: &Judged) -> Option<ImageView> {
    let settings = &composer.edition.lab.settings;
    (settings.social_cards && composer.withdrawn(judged).is_none()).then(|| ImageView {
        path: path(judged),
        alt: alt(composer, &judged.shoe.title(), &bands(composer, judged)),
        width: SIZE.0,
        height: SIZE.1,
    })
}

fn bands(composer: &Composer<'_>, judged: &Judged) -> Vec<EntryBandView> {
    let lead = composer.bands().0.into_iter().take(MOST);
    lead.map(|key| entry::band(composer, judged, key)).collect()
}

/// What the picture says, in words.
fn alt(composer: &Composer<'_>, title: &str, bands: &[EntryBandView]) -> String {
    let said: Vec<String> = bands
        .iter()
        .map(|finding| {
            let label = composer.inside(&finding.label);
            match &finding.band {
                Some(band) if finding.borderline => say!(
                    composer,
                    "{finding} {band} (borderline)",
                    finding = label,
                    band = band
                ),
                Some(band) => format!("{label} {band}"),
                None => say!(composer, "{finding} not judged", finding = label),
            }
        })
        .collect();
    match said.is_empty() {
        true => title.to_owned(),
        false => format!("{title}: {}.", all_of(composer.language, &said)),
    }
}

fn card_view(composer: &Composer<'_>, judged: &Judged) -> CardView {
    let settings = &composer.edition.lab.settings;
    let shoe = entry::shoe(composer, judged);
    let bands = bands(composer, judged);
    let (width, _) = SIZE;
    let room = f64::from(width) - 2.0 * MARGIN;
    let (title_size, title) = set(&shoe.model, room);
    let address = composer.address();
    let host = address.split("://").last().unwrap_or(&address);
    CardView {
        alt: alt(composer, &shoe.title, &bands),
        language: composer.language.tag.clone(),
        lab: cut(&settings.name, 30.0, room * 0.6),
        address: cut(host.trim_end_matches('/'), 26.0, room * 0.4),
        invented: settings.invented,
        drafts: composer.edition.drafts && composer.came_out(judged).is_none(),
        maker: cut(&shoe.maker, 36.0, room * 0.7),
        category: cut(&shoe.category, 30.0, room * 0.28),
        title,
        title_size,
        bands: rows(&bands),
    }
}

fn rows(bands: &[EntryBandView]) -> Vec<CardBandView> {
    let step = if bands.len() > 5 { 44.0 } else { 52.0 };
    let below = f64::from(SIZE.1) - MARGIN - 58.0;
    bands
        .iter()
        .zip((0..bands.len()).rev())
        .map(|(finding, from_last)| CardBandView {
            y: below - step * count(from_last),
            label: cut(&finding.label, 32.0, STRIP.0 - MARGIN - 24.0),
            band: finding.band.as_deref().map(|band| {
                let room = f64::from(SIZE.0) - MARGIN - STRIP.0 - STRIP.1 - 28.0;
                cut(
                    band,
                    32.0,
                    room * if finding.borderline { 0.55 } else { 1.0 },
                )
            }),
            borderline: finding.borderline,
            cells: cells(finding),
        })
        .collect()
}

fn cells(finding: &EntryBandView) -> Vec<CardCellView> {
    let of = finding.bands.max(1);
    let wide = STRIP.1 / count(of);
    (0..of)
        .map(|at| CardCellView {
            x: STRIP.0 + wide * count(at),
            width: wide - 4.0,
            stated: finding.band_index == Some(at),
            tint: tint(if of > 1 {
                count(at) / count(of - 1)
            } else {
                0.5
            }),
        })
        .collect()
}

/// A place on the ramp, 0 to 1, as a colour.
fn tint(at: f64) -> String {
    let mixed = |channel: usize| {
        let [low, high] = RAMP.map(|end| f64::from(end[channel]));
        (low + (high - low) * at).round().clamp(0.0, 255.0)
    };
    format!("rgb({},{},{})", mixed(0), mixed(1), mixed(2))
}

fn count(number: usize) -> f64 {
    f64::from(u32::try_from(number).unwrap_or(u32::MAX))
}

/// How wide a text mostly is, in its own size. Letters' widths in a book face,
/// rounded up; of scripts that are not known here each letter counts as square.
fn em(text: &str) -> f64 {
    let wide = |letter: char| match letter {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '’' | '|' | '!' => 0.30,
        ' ' | 't' | 'f' | 'r' | 's' | '-' | '(' | ')' | '/' | 'I' => 0.41,
        'm' | 'w' | 'M' | 'W' | '@' | '%' | '—' | 'Æ' | 'Œ' => 1.0,
        _ if letter.is_uppercase() => 0.80,
        _ if letter.is_lowercase() || letter.is_numeric() => 0.56,
        '&' => 0.80,
        _ => 1.0,
    };
    text.chars().map(wide).sum()
}

/// A title in one or two lines at the largest size at which it fits.
fn set(title: &str, room: f64) -> (f64, Vec<String>) {
    for (at, size) in TITLE_SIZES.into_iter().enumerate() {
        if em(title) * size <= room {
            return (size, vec![title.to_owned()]);
        }
        // Two lines have room below only in the smaller sizes.
        if at >= 2
            && let Some(lines) =
                halves(title).filter(|lines| lines.iter().all(|l| em(l) * size <= room))
        {
            return (size, lines.to_vec());
        }
    }
    let least = TITLE_SIZES[TITLE_SIZES.len() - 1];
    (least, vec![cut(title, least, room)])
}

/// A text broken at the space that leaves the lines most alike.
fn halves(text: &str) -> Option<[String; 2]> {
    text.match_indices(' ')
        .map(|(at, _)| [&text[..at], &text[at + 1..]])
        .min_by(|a, b| {
            let longer = |lines: &[&str; 2]| em(lines[0]).max(em(lines[1]));
            longer(a).total_cmp(&longer(b))
        })
        .map(|lines| lines.map(str::to_owned))
}

/// A text, or as much of it as there is room for at a size.
fn cut(text: &str, size: f64, room: f64) -> String {
    if em(text) * size <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    for letter in text.chars() {
        if (em(&kept) + em(letter.encode_utf8(&mut [0; 4])) + 1.0) * size > room {
            break;
        }
        kept.push(letter);
    }
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn with_cards() -> Edition {
        let mut edition = testing::edition();
        edition.lab.settings.social_cards = true;
        edition
    }

    #[test]
    fn cards_are_made_only_where_the_lab_wants_them_and_never_of_a_review_taken_back() {
        let surroundings = Surroundings::default();
        assert!(Cards.plan(&testing::edition(), &surroundings).is_empty());
        let edition = with_cards();
        let paths: Vec<String> = Cards
            .plan(&edition, &surroundings)
            .iter()
            .map(|sheet| sheet.path.to_string())
            .collect();
        assert!(paths.contains(&"shoes/quarrel-2/card.png".to_owned()));
        assert!(!paths.iter().any(|path| path.contains("skua")));
    }

    #[test]
    fn the_words_for_those_who_do_not_see_it_name_every_finding() {
        let edition = with_cards();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let judged = composer.current_shoe(&testing::slug("quarrel-2")).unwrap();
        let image = image(&composer, judged).unwrap();
        let view = card_view(&composer, judged);
        assert_eq!(image.alt, view.alt);
        for band in &view.bands {
            assert!(
                image.alt.contains(&band.label.to_lowercase()),
                "{}",
                image.alt
            );
        }
        assert!(image.alt.contains("(borderline)"), "{}", image.alt);
    }

    #[test]
    fn a_long_title_takes_two_lines_and_a_longer_one_is_cut() {
        let room = 1056.0;
        assert_eq!(set("Quarrel 2", room), (84.0, vec!["Quarrel 2".to_owned()]));
        let (_, lines) = set("Quarrel Cross-Country Winter Edition Two", room);
        assert_eq!(lines.len(), 2);
        for text in ["W".repeat(200), "Word ".repeat(60), "長".repeat(90)] {
            let (size, lines) = set(&text, room);
            assert!(
                lines.iter().all(|line| em(line) * size <= room),
                "{lines:?}"
            );
            assert!(lines.last().unwrap().ends_with('…'));
        }
    }
}
