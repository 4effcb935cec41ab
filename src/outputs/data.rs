//! The open data: tables as CSV, one JSON file a shoe, one for the folio, and
//! the descriptor that tells what each column means.
//!
//! `data.json` of a shoe holds everything of it, its readings too.
//! `data/folio.json` holds all shoes without their readings, and what the
//! protocol and the rule set call things; the readings of all shoes are in
//! `data/readings.csv`. The form of both has the version [`SCHEMA`]; a field
//! that changes its meaning or goes gives it a new one, a new field does not.
//!
//! The descriptor tells every file's length and SHA-256. [`freeze`] makes the same
//! files for an edition that is sealed.
//!
//! Shoes stand by address, quantities and findings in their files' order, so
//! the same edition gives the same bytes. A review taken back is in none.

use super::composer::Composer;
use super::csv::Csv;
use super::digest::Digest;
use super::entry;
use super::output::{Make, Output, Sheet, Subject, Surroundings};
use super::package::{self, FINDINGS, QUANTITIES, READINGS, SHOES, Table};
use super::records::{self, Figures, FindingRecord, ShoeRecord, VerdictRecord};
use super::sheets::{self, bytes};
use crate::edition::Edition;
use crate::files::{Date, Key};
use crate::rules::{Form, Judged};
use serde::{Serialize, Serializer};
use serde_json::{Value, json};
use std::io::{self, BufWriter, Write};
use std::sync::{Arc, OnceLock};

/// The version of the form of `data.json` and `folio.json`.
const SCHEMA: u32 = 1;

/// The open data.
pub(super) struct OpenData;

impl Output for OpenData {
    fn name(&self) -> &'static str {
        "open-data"
    }

    fn speaks(&self) -> bool {
        false
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        let mut sheets: Vec<Sheet<'e>> = Vec::with_capacity(edition.shoes.len() + 6);
        let digests: Digests = Arc::default();
        for (at, (file, write)) in FILES.into_iter().enumerate() {
            let (own, digests) = (composer.clone(), Arc::clone(&digests));
            let path = sheets::path(format!("data/{file}"));
            sheets.push(Sheet {
                path,
                output: self.name(),
                subject: Subject::Folio,
                make: Make::Stream(Box::new(move |out| {
                    let digest = digested(write, &own, out)?;
                    digests[at].get_or_init(|| digest);
                    Ok(())
                })),
            });
        }
        let own = composer.clone();
        sheets.push(bytes(
            self.name(),
            Subject::Folio,
            sheets::path(format!("data/{DESCRIPTOR}")),
            move || descriptor(&own, &own.last_change().to_string(), "", &digests),
        ));
        for judged in composer.current() {
            let own = composer.clone();
            let slug = &judged.shoe.slug;
            sheets.push(bytes(
                self.name(),
                Subject::Shoe(slug.clone()),
                sheets::path(format!("{}data.json", entry::path(slug))),
                move || shoe_json(&own, judged),
            ));
        }
        sheets
    }
}

/// A file of the open data: its name, and how it is written.
type File = (&'static str, Writing);
type Writing = fn(&Composer<'_>, &mut dyn Write) -> io::Result<()>;

/// Writes a file, in pieces of a size that is worth it, and tells its digest.
fn digested(write: Writing, composer: &Composer<'_>, out: &mut dyn Write) -> io::Result<Digest> {
    Digest::passing(out, |out| {
        let mut pieces = BufWriter::with_capacity(PIECE, out);
        write(composer, &mut pieces)?;
        pieces.flush()
    })
}

const PIECE: usize = 1 << 16;

/// The files of the open data that the descriptor tells of, in its order.
pub(super) const FILES: [File; 5] = [
    (SHOES.path, shoes),
    (QUANTITIES.path, quantities),
    (FINDINGS.path, findings),
    (READINGS.path, readings),
    (package::FOLIO, folio_json),
];

/// The descriptor's file.
const DESCRIPTOR: &str = "datapackage.json";

/// The sums of the files, told by whoever made them first: their own sheets come
/// before the descriptor's, so that mostly no file is made twice.
type Digests = Arc<[OnceLock<Digest>; FILES.len()]>;

/// The descriptor of an edition's files, which lie beside it in `data/` or in a
/// folder there.
fn descriptor(composer: &Composer<'_>, version: &str, folder: &str, digests: &Digests) -> Vec<u8> {
    let told = FILES.iter().zip(digests.iter());
    let told: Vec<&Digest> = told
        .map(|((_, write), digest)| {
            let find = || digested(*write, composer, &mut io::sink());
            digest.get_or_init(|| find().expect("a sink takes everything"))
        })
        .collect();
    pretty(&package::descriptor(composer, version, folder, &told))
}

/// An edition's data files under the name it is sealed by, each by its name: what
/// `data/NAME/` will hold from then on.
pub fn freeze(edition: &Edition, name: &str) -> Vec<(String, Vec<u8>, String)> {
    let surroundings = Surroundings::default();
    let composer = Composer::new(edition, &surroundings);
    let digests: Digests = Arc::default();
    let mut files = Vec::with_capacity(FILES.len() + 1);
    for (at, (file, write)) in FILES.into_iter().enumerate() {
        let mut made = Vec::new();
        let digest = digested(write, &composer, &mut made);
        let digest = digest.expect("writing to memory does not fail");
        files.push((file.to_owned(), made, digest.sha256.clone()));
        digests[at].get_or_init(|| digest);
    }
    let descriptor = descriptor(&composer, name, &format!("{name}/"), &digests);
    let sum = Digest::of(&descriptor).sha256;
    files.push((DESCRIPTOR.to_owned(), descriptor, sum));
    files
}

/// What stands before the shoes in both JSON files.
#[derive(Serialize)]
struct Preamble<'e> {
    schema: u32,
    lab: &'e str,
    invented: bool,
    drafts: bool,
    licence: &'e str,
    licence_address: &'e str,
    folio: String,
    protocol_version: u32,
    rules_version: u32,
    coverage: f64,
}

fn preamble<'e>(composer: &Composer<'e>) -> Preamble<'e> {
    let lab = &composer.edition.lab;
    Preamble {
        schema: SCHEMA,
        lab: &lab.settings.name,
        invented: lab.settings.invented,
        drafts: composer.edition.drafts,
        licence: &lab.settings.licence.name,
        licence_address: &lab.settings.licence.address,
        folio: composer.address(),
        protocol_version: lab.protocol.version,
        rules_version: composer.edition.rules.version,
        coverage: lab.protocol.coverage,
    }
}

/// A shoe's own file. It does not name the edition's date, so that it stays the
/// same from edition to edition while nothing of the shoe changes.
fn shoe_json(composer: &Composer<'_>, judged: &Judged) -> Vec<u8> {
    #[derive(Serialize)]
    struct File<'e> {
        #[serde(flatten)]
        preamble: Preamble<'e>,
        #[serde(flatten)]
        shoe: ShoeRecord<'e>,
    }
    let mut shoe = records::shoe(composer, judged);
    shoe.readings = Some(records::readings(composer, judged));
    pretty(&File {
        preamble: preamble(composer),
        shoe,
    })
}

fn folio_json(composer: &Composer<'_>, out: &mut dyn Write) -> io::Result<()> {
    #[derive(Serialize)]
    struct File<'e, 'c> {
        #[serde(flatten)]
        preamble: Preamble<'e>,
        as_of: Date,
        quantities: Vec<Value>,
        findings: Vec<Value>,
        shoes: Records<'e, 'c>,
    }
    let file = File {
        preamble: preamble(composer),
        as_of: composer.last_change(),
        quantities: quantity_names(composer),
        findings: finding_names(composer),
        shoes: Records(composer),
    };
    serde_json::to_writer(&mut *out, &file)?;
    out.write_all(b"\n")
}

/// The records of all shoes, each made when it is written.
struct Records<'e, 'c>(&'c Composer<'e>);

impl Serialize for Records<'_, '_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let shoes = self.0.current();
        serializer.collect_seq(shoes.map(|judged| records::shoe(self.0, judged)))
    }
}

/// What the protocol calls its quantities.
fn quantity_names(composer: &Composer<'_>) -> Vec<Value> {
    let specs = composer.edition.lab.protocol.quantities.iter();
    specs
        .map(|(key, spec)| {
            json!({
                "quantity": key,
                "label": &*spec.label,
                "what": spec.what,
                "at": spec.at.map(|at| at.to_string()),
                "unit": spec.unit.symbol(),
                "ucum": spec.unit.ucum(),
            })
        })
        .collect()
}

/// What the rule set calls its findings, and where their bands begin.
fn finding_names(composer: &Composer<'_>) -> Vec<Value> {
    let rules = composer.edition.rules.rules.iter();
    rules
        .map(|(key, rule)| {
            let scale = match composer.form(key) {
                Some(Form::Band(scale)) => Some(scale),
                _ => None,
            };
            json!({
                "finding": key,
                "label": rule.label(),
                "kind": rule.kind(),
                "bands": scale.as_ref().map(|scale| &scale.names),
                "cuts": scale.as_ref().map(|scale| &scale.cuts),
            })
        })
        .collect()
}

fn pretty(value: &impl Serialize) -> Vec<u8> {
    let mut bytes = serde_json::to_vec_pretty(value).expect("records are texts and finite numbers");
    bytes.push(b'\n');
    bytes
}

/// A table with one or more rows a shoe.
fn table(
    composer: &Composer<'_>,
    table: &Table,
    out: &mut dyn Write,
    rows: impl Fn(&mut Csv, &Judged),
) -> io::Result<()> {
    let mut csv = Csv::new(table.names());
    for judged in composer.current() {
        rows(&mut csv, judged);
        csv.write(out)?;
    }
    // Of the names at least, where there is no shoe.
    csv.write(out)
}

fn version(number: u32) -> Option<usize> {
    usize::try_from(number).ok()
}

fn shoes(composer: &Composer<'_>, out: &mut dyn Write) -> io::Result<()> {
    let protocol = version(composer.edition.lab.protocol.version);
    let rules = version(composer.edition.rules.version);
    table(composer, &SHOES, out, |csv, judged| {
        let file = &judged.shoe.file;
        let out = composer.came_out(judged);
        let version = file.version.as_ref().map(entry::version);
        let price = file.price.as_ref();
        csv.text(Some(judged.shoe.slug.as_str()));
        csv.text(Some(&judged.shoe.title()));
        csv.text(Some(&file.maker));
        csv.text(Some(&file.model));
        csv.text(version.as_deref());
        csv.text(file.colour.as_deref());
        csv.text(Some(file.category.as_str()));
        csv.text(Some(&word(&file.size.system)));
        csv.number(Some(file.size.value));
        csv.number(price.map(|price| price.amount));
        csv.text(price.map(|price| price.currency.as_str()));
        csv.text(file.released.map(|month| month.to_string()).as_deref());
        csv.text(Some(if out.is_some() { "published" } else { "draft" }));
        csv.date(out);
        csv.date(out.map(|_| composer.changed(judged)));
        csv.text(out.map(|on| on.week().to_string()).as_deref());
        csv.count(Some(file.specimens.len()));
        csv.text(Some(&format!(
            "{}{}",
            composer.address(),
            entry::path(&judged.shoe.slug)
        )));
        csv.count(protocol);
        csv.count(rules);
        csv.end();
    })
}

/// A word of a closed list, as its file spells it.
fn word(value: &impl Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(Value::String(word)) => word,
        _ => String::new(),
    }
}

fn figures(csv: &mut Csv, figures: &Figures) {
    csv.number(figures.value);
    csv.text(figures.unit);
    csv.text(figures.ucum);
    csv.number(figures.standard_uncertainty);
    csv.number(figures.dof);
    csv.number(figures.expanded_uncertainty);
    csv.number(figures.coverage);
    csv.number(figures.k);
    csv.number(figures.interval_low);
    csv.number(figures.interval_high);
    csv.count(figures.n);
}

fn quantities(composer: &Composer<'_>, out: &mut dyn Write) -> io::Result<()> {
    let protocol = version(composer.edition.lab.protocol.version);
    table(composer, &QUANTITIES, out, |csv, judged| {
        for record in records::quantities(composer, judged) {
            csv.text(Some(judged.shoe.slug.as_str()));
            csv.text(Some(record.quantity.as_str()));
            csv.text(record.absent.as_deref());
            figures(csv, &record.figures);
            csv.number(record.size_step);
            csv.truth(record.pooled);
            csv.truth(record.provisional);
            csv.count(protocol);
            csv.end();
        }
    })
}

fn findings(composer: &Composer<'_>, out: &mut dyn Write) -> io::Result<()> {
    let protocol = version(composer.edition.lab.protocol.version);
    let rules = version(composer.edition.rules.version);
    table(composer, &FINDINGS, out, |csv, judged| {
        for record in records::findings(composer, judged) {
            csv.text(Some(judged.shoe.slug.as_str()));
            csv.text(Some(record.finding.as_str()));
            csv.text(Some(record.kind));
            csv.text(record.not_judged.as_deref());
            figures(csv, &record.figures);
            band(csv, &record);
            csv.text(record.verdicts.as_deref().map(verdicts).as_deref());
            csv.text(record.applies);
            csv.truth(record.provisional);
            csv.count(protocol);
            csv.count(rules);
            csv.end();
        }
    })
}

fn band(csv: &mut Csv, record: &FindingRecord<'_>) {
    let band = record.band.as_ref();
    csv.number(band.map(|band| band.score));
    csv.number(band.and_then(|band| band.score_standard_uncertainty));
    csv.number(band.and_then(|band| band.score_dof));
    csv.number(band.and_then(|band| band.score_expanded_uncertainty));
    csv.number(band.and_then(|band| band.score_k));
    csv.number(band.and_then(|band| band.score_interval_low));
    csv.number(band.and_then(|band| band.score_interval_high));
    csv.text(band.map(|band| band.band));
    csv.count(band.map(|band| band.band_number));
    csv.count(band.map(|band| band.bands));
    csv.number(band.map(|band| band.chance));
    csv.text(band.and_then(|band| band.borderline_with));
    csv.number(band.and_then(|band| band.percentile));
    csv.count(band.and_then(|band| band.rank));
    csv.count(band.and_then(|band| band.of_shoes));
}

/// `light=fails;middling=holds`.
fn verdicts(verdicts: &[VerdictRecord<'_>]) -> String {
    let said = |record: &VerdictRecord<'_>| -> String {
        let option: &Key = record.option;
        format!("{option}={}", record.verdict)
    };
    verdicts.iter().map(said).collect::<Vec<_>>().join(";")
}

fn readings(composer: &Composer<'_>, out: &mut dyn Write) -> io::Result<()> {
    let protocol = version(composer.edition.lab.protocol.version);
    table(composer, &READINGS, out, |csv, judged| {
        for record in records::readings(composer, judged) {
            csv.text(Some(judged.shoe.slug.as_str()));
            csv.text(Some(record.specimen));
            csv.text(Some(record.side));
            csv.text(Some(record.quantity.as_str()));
            csv.count(Some(record.trial));
            csv.number(Some(record.value));
            csv.text(Some(record.unit));
            csv.text(Some(record.ucum));
            csv.text(Some(&record.written));
            csv.text(record.left_out);
            csv.date(record.session_on);
            csv.text(record.operator);
            csv.number(record.temperature_celsius);
            csv.number(record.humidity_percent);
            csv.number(record.soaked_hours);
            csv.text(Some(record.instrument));
            csv.count(protocol);
            csv.end();
        }
    })
}

#[cfg(test)]
#[path = "data_tests.rs"]
mod tests;
