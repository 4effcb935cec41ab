//! The tables of the open data, column by column, and their descriptor: a Data
//! Package of version 2 (datapackage.org, 2024-06-26).
//!
//! The columns are told once, here; the tables are written by them and the
//! descriptor is made of them, so neither can drift from the other.

use super::composer::Composer;
use super::digest::Digest;
use super::wording::instant;
use crate::words::text;
use serde_json::{Value, json};

/// One table.
pub(super) struct Table {
    /// Its name in the descriptor.
    pub name: &'static str,
    /// Its file, beside the descriptor.
    pub path: &'static str,
    /// What one row is.
    pub title: &'static str,
    /// Its columns, in order.
    pub columns: &'static [Column],
    /// The columns that tell one row from another.
    key: &'static [&'static str],
}

/// One column: its name, its type in a Table Schema, what it holds.
pub(super) struct Column(&'static str, &'static str, &'static str);

impl Table {
    /// The names of the columns, in order.
    pub fn names(&self) -> impl Iterator<Item = &'static str> {
        self.columns.iter().map(|column| column.0)
    }
}

const SHOE: Column = Column(
    "shoe",
    "string",
    "The shoe's address; the key between all tables",
);
const UNIT: Column = Column(
    "unit",
    "string",
    "The unit of value and uncertainties, as printed",
);
const UCUM: Column = Column(
    "ucum",
    "string",
    "The same unit's code of the Unified Code for Units of Measure",
);
const STANDARD: Column = Column(
    "standard_uncertainty",
    "number",
    "Combined standard uncertainty (JCGM 100), in unit",
);
const DOF: Column = Column(
    "dof",
    "number",
    "Effective degrees of freedom; empty where they are infinite",
);
const EXPANDED: Column = Column(
    "expanded_uncertainty",
    "number",
    "Expanded uncertainty, in unit",
);
const COVERAGE: Column = Column(
    "coverage",
    "number",
    "Coverage probability of the expanded uncertainties, 0 to 1",
);
const K: Column = Column("k", "number", "Coverage factor");
const LOW: Column = Column(
    "interval_low",
    "number",
    "Lower end of the interval at that coverage, in unit",
);
const HIGH: Column = Column(
    "interval_high",
    "number",
    "Upper end of that interval; the value is not always in its middle",
);
const N: Column = Column("n", "integer", "How many readings it rests on");
const PROVISIONAL: Column = Column(
    "provisional",
    "boolean",
    "Whether a reading it rests on is in doubt",
);
const PROTOCOL: Column = Column("protocol_version", "integer", "Version of the protocol");
const RULES: Column = Column("rules_version", "integer", "Version of the rule set");

/// Every table, in the descriptor's order.
pub(super) const TABLES: [Table; 4] = [SHOES, QUANTITIES, FINDINGS, READINGS];

/// One row a shoe.
pub(super) const SHOES: Table = Table {
    name: "shoes",
    path: "shoes.csv",
    title: text!("Shoes: one row a shoe"),
    key: &["shoe"],
    columns: &[
        SHOE,
        Column(
            "title",
            "string",
            "Maker, model, version and colour in one line",
        ),
        Column("maker", "string", "Who makes it"),
        Column("model", "string", "The model's name, without its version"),
        Column("version", "string", "The model's version"),
        Column(
            "colour",
            "string",
            "The colour, where one model was measured in several",
        ),
        Column("category", "string", "The lab's category"),
        Column(
            "size_system",
            "string",
            "The system of the size that was measured",
        ),
        Column(
            "size",
            "number",
            "The size that was measured, in that system",
        ),
        Column("price", "number", "Its price, in currency"),
        Column("currency", "string", "ISO 4217 code"),
        Column("released", "yearmonth", "The month of its release"),
        Column(
            "status",
            "string",
            "published, or draft where an edition shows drafts",
        ),
        Column("published", "date", "The day its review came out"),
        Column("changed", "date", "The day its review last changed"),
        Column("week", "string", "The ISO 8601 week it came out in"),
        Column(
            "specimens",
            "integer",
            "How many physical shoes were measured",
        ),
        Column("page", "string", "The review's address"),
        PROTOCOL,
        RULES,
    ],
};

/// One row a shoe and quantity.
pub(super) const QUANTITIES: Table = Table {
    name: "quantities",
    path: "quantities.csv",
    title: text!("Quantities: one row a shoe and quantity, at the reference size"),
    key: &["shoe", "quantity"],
    columns: &[
        SHOE,
        Column("quantity", "string", "The quantity's name in the protocol"),
        Column(
            "absent",
            "string",
            "Why there is no value; then all figures are empty",
        ),
        Column("value", "number", "The value, unrounded, in unit"),
        UNIT,
        UCUM,
        STANDARD,
        DOF,
        EXPANDED,
        COVERAGE,
        K,
        LOW,
        HIGH,
        N,
        Column(
            "size_step",
            "number",
            "What was added to compare at the reference size, in unit",
        ),
        Column(
            "pooled",
            "boolean",
            "Whether the scatter is the lab's pooled repeatability",
        ),
        PROVISIONAL,
        PROTOCOL,
    ],
};

/// One row a shoe and finding.
pub(super) const FINDINGS: Table = Table {
    name: "findings",
    path: "findings.csv",
    title: text!("Findings: one row a shoe and rule"),
    key: &["shoe", "finding"],
    columns: &[
        SHOE,
        Column("finding", "string", "The rule's name in the rule set"),
        Column("kind", "string", "The kind of its rule"),
        Column(
            "not_judged",
            "string",
            "Why there is no finding; then all figures are empty",
        ),
        Column(
            "value",
            "number",
            "The measured value or the number found, unrounded, in unit",
        ),
        UNIT,
        UCUM,
        STANDARD,
        DOF,
        EXPANDED,
        COVERAGE,
        K,
        LOW,
        HIGH,
        N,
        Column("score", "number", "The score, 0 to 100, unrounded"),
        Column(
            "score_standard_uncertainty",
            "number",
            "Its combined standard uncertainty, of 100; 0 where it is under half a billionth, \
             as of a score far beyond the end of its scale",
        ),
        Column(
            "score_dof",
            "number",
            "Its effective degrees of freedom; empty where they are infinite",
        ),
        Column(
            "score_expanded_uncertainty",
            "number",
            "Its expanded uncertainty, of 100; 0 where its standard uncertainty is",
        ),
        Column("score_k", "number", "Its coverage factor"),
        Column(
            "score_interval_low",
            "number",
            "Lower end of the score's interval at the coverage, of 100",
        ),
        Column(
            "score_interval_high",
            "number",
            "Upper end of that interval; beside a bend of the scale the score is not in its middle",
        ),
        Column("band", "string", "The band's name"),
        Column(
            "band_number",
            "integer",
            "The band, counted from 1 for the lowest",
        ),
        Column("bands", "integer", "How many bands there are"),
        Column(
            "chance",
            "number",
            "Chance that the band is right (JCGM 106), 0 to 1",
        ),
        Column(
            "borderline_with",
            "string",
            "The neighbour band, where that chance is under the rule set's limit",
        ),
        Column(
            "percentile",
            "number",
            "Mid-rank percentile among its category; empty under the protocol's minimum of shoes",
        ),
        Column(
            "rank",
            "integer",
            "Rank among its category, 1 for the highest score",
        ),
        Column(
            "of_shoes",
            "integer",
            "How many shoes of the category have the finding",
        ),
        Column(
            "verdicts",
            "string",
            "For a fit: option=verdict for each option, with semicolons between",
        ),
        Column(
            "applies",
            "string",
            "For an advice: holds, close, fails or unknown",
        ),
        PROVISIONAL,
        PROTOCOL,
        RULES,
    ],
};

/// One row a reading.
pub(super) const READINGS: Table = Table {
    name: "readings",
    path: "readings.csv",
    title: text!("Readings: one row a trial"),
    key: &["shoe", "specimen", "quantity", "trial"],
    columns: &[
        SHOE,
        Column("specimen", "string", "The lab's mark on the physical shoe"),
        Column("side", "string", "left or right"),
        Column("quantity", "string", "The quantity's name in the protocol"),
        Column("trial", "integer", "Which trial, counted from 1"),
        Column(
            "value",
            "number",
            "The reading, in unit, at the size that was measured",
        ),
        UNIT,
        UCUM,
        Column("written", "string", "As it was written down"),
        Column("left_out", "string", "Why it is left out of the value"),
        Column("session_on", "date", "The day of the session"),
        Column(
            "operator",
            "string",
            "Who measured, by the lab's short name",
        ),
        Column(
            "temperature_celsius",
            "number",
            "Temperature at the bench, °C (UCUM Cel)",
        ),
        Column(
            "humidity_percent",
            "number",
            "Relative humidity at the bench, %",
        ),
        Column(
            "soaked_hours",
            "number",
            "How long the specimen was conditioned before, h",
        ),
        Column("instrument", "string", "What it was read on"),
        PROTOCOL,
    ],
};

/// The file of all shoes as JSON.
pub(super) const FOLIO: &str = "folio.json";

/// The descriptor of an edition's files, which lie in `data/` or in a folder there
/// whose name ends in a slash. `digests` are those of the tables, then of [`FOLIO`].
pub(super) fn descriptor(
    composer: &Composer<'_>,
    version: &str,
    folder: &str,
    digests: &[&Digest],
) -> Value {
    let settings = &composer.edition.lab.settings;
    let licence = &settings.licence;
    let folio = composer.address();
    let as_of = composer.last_change();
    let mut about = String::new();
    if composer.edition.drafts {
        about.push_str("With drafts: not for publication. ");
    }
    if settings.invented {
        about.push_str("Laboratory, makers and shoes are invented. ");
    }
    about.push_str(&format!(
        "{} Absent values are empty cells. A text that would be taken for a formula has one apostrophe before it, \
         and so has one that begins with an apostrophe: drop one leading apostrophe to have the text back.",
        settings.about
    ));
    let mut package = json!({
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "measured-shoes",
        "id": format!("{folio}data/{folder}datapackage.json"),
        "title": format!("{}: measurements of athletic shoes", settings.name),
        "description": about,
        "version": version,
        "created": instant(as_of),
        "homepage": folio,
        "licenses": [{"name": licence.name, "title": licence.title, "path": licence.address}],
        "contributors": [{"title": settings.name, "path": folio, "roles": ["creator"]}],
        "resources": resources(digests),
    });
    // Whoever keeps a copy can tell whether the ledger still holds what it held.
    if let Some(mark) = &composer.edition.sealed {
        package["ledger"] = json!(mark);
    }
    package
}

fn resources(digests: &[&Digest]) -> Vec<Value> {
    let tables = TABLES.iter().map(resource);
    let folio = json!({
        "name": "folio",
        "path": FOLIO,
        "title": "All shoes without their readings, with what quantities and findings are called",
        "format": "json",
        "mediatype": "application/json",
        "encoding": "utf-8",
    });
    let all = tables.chain([folio]).zip(digests);
    all.map(|(mut resource, digest)| {
        resource["bytes"] = digest.bytes.into();
        resource["hash"] = format!("sha256:{}", digest.sha256).into();
        resource
    })
    .collect()
}

fn resource(table: &Table) -> Value {
    let fields: Vec<Value> = table
        .columns
        .iter()
        .map(|Column(name, kind, about)| {
            let required = table.key.contains(name);
            let mut field = json!({"name": name, "type": kind, "description": about});
            if required {
                field["constraints"] = json!({"required": true});
            }
            field
        })
        .collect();
    let mut schema = json!({
        "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
        "fields": fields,
        "primaryKey": table.key,
        "missingValues": [""],
    });
    if table.name != "shoes" {
        schema["foreignKeys"] = json!([
            {"fields": ["shoe"], "reference": {"resource": "shoes", "fields": ["shoe"]}}
        ]);
    }
    json!({
        "name": table.name,
        "type": "table",
        "path": table.path,
        "title": table.title,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {
            "$schema": "https://datapackage.org/profiles/2.0/tabledialect.json",
            "lineTerminator": "\r\n",
        },
        "schema": schema,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn columns_are_named_once_and_keys_are_columns() {
        // Types a Table Schema of version 2 knows, of those used here.
        let types = [
            "string",
            "number",
            "integer",
            "boolean",
            "date",
            "yearmonth",
        ];
        for table in &TABLES {
            let names: BTreeSet<&str> = table.names().collect();
            assert_eq!(names.len(), table.columns.len(), "{}", table.name);
            assert!(table.key.iter().all(|key| names.contains(key)));
            assert!(table.columns.iter().all(|column| types.contains(&column.1)));
            assert!(table.columns.iter().all(|column| !column.2.is_empty()));
        }
    }
}
