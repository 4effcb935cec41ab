//! The open data's own pages: what there is now, and every edition that was
//! sealed, with a folder each whose files never change again.
//!
//! `data/NAME/` holds what `seal` froze in the lab's folder, byte for byte, with
//! `SHA256SUMS` for the usual tools. Its page tells how to cite it, under which
//! licence it may be used, and what was corrected or taken back since: that page
//! is of the edition that shows it, the files beside it are not.

use super::composer::Composer;
use super::data::FILES;
use super::entry;
use super::linked_data;
use super::output::{Make, Output, Sheet, Subject, Surroundings};
use super::package;
use super::sheets::{self, bytes, page};
use super::views::{
    DataFileView, DataView, EditionLinkView, EditionView, LaterChangeView, LinkView,
};
use super::wording::{capital, sentence};
use crate::edition::{Edition, Frozen};
use crate::words::say;

/// The file of sums, as the usual tools read it.
const SUMS: &str = "SHA256SUMS";

/// The pages of the open data, and the frozen editions.
pub(super) struct Editions;

impl Output for Editions {
    fn name(&self) -> &'static str {
        "editions"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let own = composer.clone();
        let mut sheets = vec![page(
            self.name(),
            Subject::Folio,
            sheets::path("data/index.html"),
            "data.html",
            move || data_view(&own),
        )];
        for frozen in &edition.frozen {
            let at = |file: &str| sheets::path(format!("{}{file}", path(frozen)));
            sheets.extend(frozen.files.iter().map(|file| Sheet {
                path: at(&file.name),
                output: self.name(),
                subject: Subject::Folio,
                make: Make::Static {
                    name: frozen.place(file),
                },
            }));
            sheets.push(bytes(self.name(), Subject::Folio, at(SUMS), move || {
                sums(frozen).into_bytes()
            }));
            let own = composer.clone();
            sheets.push(page(
                self.name(),
                Subject::Folio,
                at("index.html"),
                "edition.html",
                move || edition_view(&own, frozen),
            ));
        }
        sheets
    }
}

/// A frozen edition's path from the root.
pub(super) fn path(frozen: &Frozen) -> String {
    format!("data/{}/", frozen.name)
}

fn sums(frozen: &Frozen) -> String {
    let line = |file: &crate::edition::FrozenFile| format!("{}  {}\n", file.sha256, file.name);
    frozen.files.iter().map(line).collect()
}

/// What a file of the open data holds, in words.
fn about(composer: &Composer<'_>, file: &str) -> String {
    let table = package::TABLES.iter().find(|table| table.path == file);
    match (table, file) {
        (Some(table), _) => composer.say(table.title, &[]),
        (None, package::FOLIO) => say!(composer, "All shoes without their readings, as JSON"),
        (None, "datapackage.json") => {
            say!(
                composer,
                "Descriptor: columns, units, lengths and sums (Data Package, version 2)"
            )
        }
        (None, SUMS) => say!(composer, "Sums of the files, for sha256sum"),
        (None, other) => other.to_owned(),
    }
}

fn file_view(
    composer: &Composer<'_>,
    folder: &str,
    name: &str,
    size: Option<u64>,
    sha256: Option<&str>,
) -> DataFileView {
    DataFileView {
        name: name.to_owned(),
        path: format!("{folder}{name}"),
        about: about(composer, name),
        size: size.map(size_text),
        sha256: sha256.map(str::to_owned),
    }
}

/// A length in whole kilobytes (1000 bytes), or in bytes below one.
fn size_text(bytes: u64) -> String {
    match bytes {
        0..1000 => format!("{bytes} B"),
        more => format!("{} kB", more.div_ceil(1000)),
    }
}

fn data_view(composer: &Composer<'_>) -> DataView {
    let mut head = composer.head(
        &sheets::path("data/index.html"),
        &say!(composer, "Open data"),
        &say!(
            composer,
            "Shoes, findings and readings with units and uncertainties, and every edition that was sealed."
        ),
    );
    head.linked_data = Some(linked_data::data_set(composer));
    let names = FILES.iter().map(|(name, _)| *name);
    DataView {
        site: composer.site(),
        files: names
            .chain(["datapackage.json"])
            .map(|name| file_view(composer, "data/", name, None, None))
            .collect(),
        editions: composer
            .edition
            .frozen
            .iter()
            .rev()
            .map(|frozen| edition_link(composer, frozen))
            .collect(),
        head,
    }
}

fn edition_link(composer: &Composer<'_>, frozen: &Frozen) -> EditionLinkView {
    let because = composer.editors(&frozen.because);
    EditionLinkView {
        name: frozen.name.clone(),
        on: composer.date(frozen.on),
        path: path(frozen),
        because: sentence(because.text),
        because_language: because.language(composer),
        shoes: frozen.shoes,
        rules_version: frozen.rules_version,
        protocol_version: frozen.protocol_version,
    }
}

fn edition_view(composer: &Composer<'_>, frozen: &Frozen) -> EditionView {
    let folder = path(frozen);
    let lab = &composer.edition.lab.settings.name;
    let file = sheets::path(format!("{folder}index.html"));
    let day = composer.day(frozen.on);
    let title = say!(composer, "Data of {day}", day = day);
    let title = match frozen.name == frozen.on.to_string() {
        true => title,
        false => format!("{title} ({})", frozen.name),
    };
    let description = say!(
        composer,
        "The open data of {lab} as sealed on {day}: these files do not change.",
        lab = lab,
        day = day
    );
    let mut head = composer.head(&file, &title, &description);
    head.linked_data = Some(linked_data::sealed_data_set(composer, frozen));
    let sums = sums(frozen).len() as u64;
    EditionView {
        site: composer.site(),
        edition: edition_link(composer, frozen),
        cite: say!(
            composer,
            "{lab}: measurements of athletic shoes, edition {name} (data set). {address}",
            lab = lab,
            name = frozen.name,
            address = format!("{}{folder}", composer.folio())
        ),
        files: frozen
            .files
            .iter()
            .map(|file| {
                let sum = Some(&*file.sha256);
                file_view(composer, &folder, &file.name, Some(file.bytes), sum)
            })
            .chain([file_view(composer, &folder, SUMS, Some(sums), None)])
            .collect(),
        since: since(composer, frozen),
        head,
    }
}

/// What was corrected or taken back after an edition was sealed, by day.
fn since(composer: &Composer<'_>, frozen: &Frozen) -> Vec<LaterChangeView> {
    let edition = composer.edition;
    let mut found = Vec::new();
    for judged in &edition.shoes {
        let slug = &judged.shoe.slug;
        let was_in = composer.came_out(judged).is_some_and(|on| on <= frozen.on);
        if !was_in {
            continue;
        }
        let shoe = LinkView {
            text: judged.shoe.title(),
            href: entry::path(slug),
        };
        if let Some(withdrawn) = composer.withdrawn(judged) {
            // What was corrected before it was taken back is taken back with it.
            if withdrawn.on > frozen.on {
                let because = composer.editors(&withdrawn.reason);
                found.push(LaterChangeView {
                    on: composer.date(withdrawn.on),
                    shoe,
                    what: Vec::new(),
                    because: sentence(because.text),
                    because_language: because.language(composer),
                    withdrawn: true,
                });
            }
            continue;
        }
        let corrections = edition.corrections.get(slug).into_iter().flatten();
        // What was sealed on the same day is in the last edition of the day.
        for correction in corrections.filter(|correction| correction.on > frozen.on) {
            let because = composer.editors(&correction.because);
            let changes = correction.changes.iter();
            found.push(LaterChangeView {
                on: composer.date(correction.on),
                shoe: shoe.clone(),
                what: changes.map(|c| capital(&composer.retell(c))).collect(),
                because: sentence(because.text),
                because_language: because.language(composer),
                withdrawn: false,
            });
        }
    }
    found.sort_by(|a, b| (&b.on.iso, &a.shoe.text).cmp(&(&a.on.iso, &b.shoe.text)));
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn first(edition: &Edition) -> EditionView {
        let surroundings = Surroundings::default();
        let composer = Composer::new(edition, &surroundings);
        edition_view(&composer, &edition.frozen[0])
    }

    #[test]
    fn a_frozen_folder_holds_its_files_their_sums_and_its_page() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let sheets = Editions.plan(&edition, &surroundings);
        let paths: Vec<&str> = sheets.iter().map(|sheet| sheet.path.as_str()).collect();
        for file in ["shoes.csv", "datapackage.json", SUMS, "index.html"] {
            let path = format!("data/2026-11-19/{file}");
            assert!(paths.contains(&&*path), "{path} in {paths:?}");
        }
        let Make::Static { name } = &sheets[1].make else {
            panic!("a frozen file is kept, not made");
        };
        assert_eq!(name, "lab/editions/2026-11-19/shoes.csv");
        let sums = sums(&edition.frozen[0]);
        assert_eq!(sums.lines().count(), 3);
        assert!(sums.starts_with("abab") && sums.contains("  shoes.csv\n"));
    }

    #[test]
    fn its_page_tells_how_to_cite_it_and_what_changed_since() {
        let edition = testing::edition();
        let view = first(&edition);
        assert!(view.cite.contains("2026-11-19") && view.cite.ends_with("data/2026-11-19/"));
        let corrected = view.since.iter().find(|change| !change.withdrawn).unwrap();
        assert_eq!(corrected.shoe.href, "shoes/tern-1/");
        assert_eq!(corrected.what, ["Torsion: medium → high"]);
        let taken_back = view.since.iter().find(|change| change.withdrawn).unwrap();
        assert_eq!(taken_back.shoe.href, "shoes/skua/");
        assert!(
            view.since
                .iter()
                .all(|c| !c.shoe.href.contains("quarrel-2"))
        );
    }

    #[test]
    fn of_a_review_taken_back_no_earlier_correction_is_told() {
        let mut edition = testing::edition();
        let corrected = edition.corrections[&testing::slug("tern-1")].clone();
        edition.corrections.insert(testing::slug("skua"), corrected);
        let view = first(&edition);
        let of_skua = |change: &&LaterChangeView| change.shoe.href == "shoes/skua/";
        let told: Vec<&LaterChangeView> = view.since.iter().filter(of_skua).collect();
        assert_eq!(told.len(), 1);
        assert!(told[0].withdrawn && told[0].what.is_empty());
    }

    #[test]
    fn a_length_is_never_told_as_nothing() {
        assert_eq!(size_text(999), "999 B");
        assert_eq!(size_text(1000), "1 kB");
        assert_eq!(size_text(391_714), "392 kB");
    }
}
