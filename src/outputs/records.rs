//! One shoe as open data: unrounded, with units, uncertainties and versions.
//!
//! The records are what `data.json` and `folio.json` hold, by these field
//! names, and what the tables are written from. An absent value is `null`;
//! `dof` is also `null` where the degrees of freedom are infinite. Numbers are
//! the shortest decimals that read back as the same doubles.

use super::composer::Composer;
use super::entry;
use super::figures::LEAST_SCORE;
use super::findings::{expanded_as_stated, is_measured};
use super::readings::side;
use crate::files::{Date, Key, Month};
use crate::lab::SizeSystem;
use crate::measure::expanded;
use crate::measure::{Absent, Flag, SpecimenSummary, Summary};
use crate::quantity::{Expanded, Uncertain, Unit};
use crate::rules::{Banded, Finding, Fit, Judged, Says, Verdict};
use crate::shoe::{Price, Session, Specimen};
use serde::Serialize;

/// A shoe.
#[derive(Serialize)]
pub(super) struct ShoeRecord<'e> {
    pub shoe: &'e str,
    pub title: String,
    pub maker: &'e str,
    pub model: &'e str,
    pub version: Option<String>,
    pub colour: Option<&'e str>,
    pub category: &'e Key,
    pub size_system: SizeSystem,
    pub size: f64,
    pub price: Option<&'e Price>,
    pub released: Option<Month>,
    pub status: &'static str,
    pub published: Option<Date>,
    pub changed: Option<Date>,
    pub week: Option<String>,
    pub page: String,
    pub quantities: Vec<QuantityRecord<'e>>,
    pub findings: Vec<FindingRecord<'e>>,
    pub flags: Vec<FlagRecord<'e>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub readings: Option<Vec<ReadingRecord<'e>>>,
}

/// A value with its uncertainty.
#[derive(Default, Serialize)]
pub(super) struct Figures {
    pub value: Option<f64>,
    pub unit: Option<&'static str>,
    pub ucum: Option<&'static str>,
    pub standard_uncertainty: Option<f64>,
    pub dof: Option<f64>,
    pub expanded_uncertainty: Option<f64>,
    pub coverage: Option<f64>,
    pub k: Option<f64>,
    pub interval_low: Option<f64>,
    pub interval_high: Option<f64>,
    pub n: Option<usize>,
}

/// A quantity of a shoe.
#[derive(Serialize)]
pub(super) struct QuantityRecord<'e> {
    pub quantity: &'e Key,
    pub absent: Option<String>,
    #[serde(flatten)]
    pub figures: Figures,
    pub size_step: Option<f64>,
    pub pooled: Option<bool>,
    pub provisional: Option<bool>,
}

/// A finding of a shoe.
#[derive(Serialize)]
pub(super) struct FindingRecord<'e> {
    pub finding: &'e Key,
    pub kind: &'static str,
    pub not_judged: Option<String>,
    #[serde(flatten)]
    pub figures: Figures,
    pub band: Option<BandRecord<'e>>,
    pub verdicts: Option<Vec<VerdictRecord<'e>>>,
    pub applies: Option<&'static str>,
    pub provisional: Option<bool>,
}

/// A score and its band.
#[derive(Serialize)]
pub(super) struct BandRecord<'e> {
    pub score: f64,
    pub score_standard_uncertainty: Option<f64>,
    pub score_dof: Option<f64>,
    pub score_expanded_uncertainty: Option<f64>,
    pub score_k: Option<f64>,
    pub score_interval_low: Option<f64>,
    pub score_interval_high: Option<f64>,
    pub band: &'e str,
    pub band_number: usize,
    pub bands: usize,
    pub chance: f64,
    pub borderline_with: Option<&'e str>,
    pub percentile: Option<f64>,
    pub rank: Option<usize>,
    pub of_shoes: Option<usize>,
}

/// What a fit says of one option.
#[derive(Serialize)]
pub(super) struct VerdictRecord<'e> {
    pub axis: &'static str,
    pub option: &'e Key,
    pub verdict: &'static str,
}

/// What screening found.
#[derive(Serialize)]
pub(super) struct FlagRecord<'e> {
    pub code: &'static str,
    pub quantity: Option<&'e Key>,
    pub specimen: Option<&'e str>,
    pub message: &'e str,
    pub accepted: Option<&'e str>,
}

/// One trial.
#[derive(Serialize)]
pub(super) struct ReadingRecord<'e> {
    pub specimen: &'e str,
    pub side: &'static str,
    pub quantity: &'e Key,
    pub trial: usize,
    pub value: f64,
    pub unit: &'static str,
    pub ucum: &'static str,
    pub written: String,
    pub left_out: Option<&'e str>,
    pub session_on: Option<Date>,
    pub operator: Option<&'e str>,
    pub temperature_celsius: Option<f64>,
    pub humidity_percent: Option<f64>,
    pub soaked_hours: Option<f64>,
    pub instrument: &'e str,
}

/// A shoe's record, without its readings.
pub(super) fn shoe<'e>(composer: &Composer<'e>, judged: &'e Judged) -> ShoeRecord<'e> {
    let file = &judged.shoe.file;
    let out = composer.came_out(judged);
    ShoeRecord {
        shoe: judged.shoe.slug.as_str(),
        title: judged.shoe.title(),
        maker: &file.maker,
        model: &file.model,
        version: file.version.as_ref().map(entry::version),
        colour: file.colour.as_deref(),
        category: &file.category,
        size_system: file.size.system,
        size: file.size.value,
        price: file.price.as_ref(),
        released: file.released,
        status: if out.is_some() { "published" } else { "draft" },
        published: out,
        changed: out.map(|_| composer.changed(judged)),
        week: out.map(|on| on.week().to_string()),
        page: format!("{}{}", composer.address(), entry::path(&judged.shoe.slug)),
        quantities: quantities(composer, judged),
        findings: findings(composer, judged),
        flags: flags(composer, judged),
        readings: None,
    }
}

/// A value whose expanded uncertainty is that of JCGM 100.
fn figures(composer: &Composer<'_>, value: &Uncertain, unit: Unit, n: Option<usize>) -> Figures {
    let coverage = composer.edition.lab.protocol.coverage;
    figures_within(value, expanded(value, coverage), unit, n)
}

fn figures_within(value: &Uncertain, wide: Expanded, unit: Unit, n: Option<usize>) -> Figures {
    let wide = (!value.parts().is_empty()).then_some(wide);
    Figures {
        value: finite(value.value),
        unit: Some(unit.symbol()),
        ucum: Some(unit.ucum()),
        standard_uncertainty: wide.and_then(|_| finite(value.u())),
        dof: wide.and_then(|_| finite(value.dof())),
        expanded_uncertainty: wide.and_then(|wide| finite(wide.U)),
        coverage: wide.map(|wide| wide.coverage),
        k: wide.and_then(|wide| finite(wide.k)),
        interval_low: wide.and_then(|wide| finite(value.value - wide.U)),
        interval_high: wide.and_then(|wide| finite(value.value + wide.U)),
        n,
    }
}

fn finite(number: f64) -> Option<f64> {
    Some(number).filter(|number| number.is_finite())
}

/// Every quantity of the protocol, in its order.
pub(super) fn quantities<'e>(
    composer: &Composer<'e>,
    judged: &'e Judged,
) -> Vec<QuantityRecord<'e>> {
    let keys = composer.edition.lab.protocol.quantities.keys();
    keys.map(|key| match judged.quantities.get(key) {
        Some(Ok(summary)) => QuantityRecord {
            quantity: key,
            absent: None,
            figures: figures_within(
                &summary.value,
                summary.stated.expanded,
                summary.unit,
                Some(summary.n),
            ),
            size_step: summary.size_step,
            pooled: Some(summary.pooled),
            provisional: Some(summary.provisional()),
        },
        missing => QuantityRecord {
            quantity: key,
            absent: Some(match missing {
                Some(Err(Absent { reason, .. })) => reason.clone(),
                _ => "it was not measured".into(),
            }),
            figures: Figures::default(),
            size_step: None,
            pooled: None,
            provisional: None,
        },
    })
    .collect()
}

/// A finding for every rule, in the rule set's order.
pub(super) fn findings<'e>(composer: &Composer<'e>, judged: &'e Judged) -> Vec<FindingRecord<'e>> {
    let rules = composer.edition.rules.rules.iter();
    rules
        .map(|(key, rule)| {
            let mut record = FindingRecord {
                finding: key,
                kind: rule.kind(),
                not_judged: None,
                figures: Figures::default(),
                band: None,
                verdicts: None,
                applies: None,
                provisional: None,
            };
            match composer.finding(judged, key) {
                Ok(finding) => fill(&mut record, composer, judged, finding),
                Err(reason) => record.not_judged = Some(reason),
            }
            record
        })
        .collect()
}

fn fill<'e>(
    record: &mut FindingRecord<'e>,
    composer: &Composer<'e>,
    judged: &'e Judged,
    finding: &'e Finding,
) {
    let n = Some(composer.readings_of(judged, &finding.key));
    record.provisional = Some(finding.provisional);
    match &finding.says {
        Says::Band(banded) => {
            record.figures = match &banded.value {
                Some((value, unit)) => {
                    let wide = expanded_as_stated(composer, judged, &finding.key, value);
                    figures_within(value, wide, *unit, n)
                }
                None => Figures {
                    coverage: Some(composer.edition.lab.protocol.coverage),
                    n,
                    ..Figures::default()
                },
            };
            record.band = Some(band(composer, judged, &finding.key, banded));
        }
        Says::Value(value) => {
            record.figures = figures(composer, &value.value, value.unit, n);
            // An expression that bends has its own interval, not value ± U.
            if record.figures.k.is_some() || value.interval.0 < value.interval.1 {
                record.figures.interval_low = finite(value.interval.0);
                record.figures.interval_high = finite(value.interval.1);
            }
        }
        Says::Fit(fit) => {
            record.figures.n = n;
            record.verdicts = Some(verdicts(fit));
        }
        Says::Advice(advice) => {
            record.figures.n = n;
            record.applies = Some(verdict(advice.verdict));
        }
    }
}

fn band<'e>(
    composer: &Composer<'_>,
    judged: &Judged,
    key: &Key,
    banded: &'e Banded,
) -> BandRecord<'e> {
    let score = score_figures(composer, judged, key, banded);
    let standing = composer.edition.catalogue.standing(&judged.shoe.slug, key);
    BandRecord {
        score: banded.score.value,
        score_standard_uncertainty: score.standard_uncertainty,
        score_dof: score.dof,
        score_expanded_uncertainty: score.expanded_uncertainty,
        score_k: score.k,
        score_interval_low: score.k.and_then(|_| finite(banded.interval.0)),
        score_interval_high: score.k.and_then(|_| finite(banded.interval.1)),
        band: banded.name(),
        band_number: banded.band + 1,
        bands: banded.scale.names.len(),
        chance: banded.chance(),
        borderline_with: banded
            .neighbour
            .and_then(|at| banded.scale.names.get(at).map(String::as_str)),
        percentile: standing.and_then(|standing| standing.percentile),
        rank: standing.map(|standing| standing.rank),
        of_shoes: standing.map(|standing| standing.n),
    }
}

/// The figures of a score. One that lies so far beyond its scale's end that hardly any
/// error brings it back has an uncertainty, and it is nought.
fn score_figures(composer: &Composer<'_>, judged: &Judged, key: &Key, banded: &Banded) -> Figures {
    let figures = figures(composer, &banded.score, Unit::Score, None);
    if banded.score.u() >= LEAST_SCORE || !is_measured(composer, judged, key, banded) {
        return figures;
    }
    let wide = expanded(&banded.score, composer.edition.lab.protocol.coverage);
    Figures {
        standard_uncertainty: Some(0.0),
        expanded_uncertainty: Some(0.0),
        k: finite(wide.k),
        ..figures
    }
}

fn verdicts(fit: &Fit) -> Vec<VerdictRecord<'_>> {
    let axes = [("row", &fit.rows), ("column", &fit.columns)];
    axes.into_iter()
        .flat_map(|(name, axis)| {
            axis.options.iter().map(move |option| VerdictRecord {
                axis: name,
                option: &option.key,
                verdict: verdict(option.verdict),
            })
        })
        .collect()
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "holds",
        Verdict::Close => "close",
        Verdict::Fails => "fails",
        Verdict::Unknown => "unknown",
    }
}

/// What screening found: of the sessions, then quantity by quantity.
fn flags<'e>(composer: &Composer<'e>, judged: &'e Judged) -> Vec<FlagRecord<'e>> {
    let keys = composer.edition.lab.protocol.quantities.keys();
    let of_quantities = keys
        .filter_map(|key| judged.quantities.get(key)?.as_ref().ok())
        .flat_map(|summary| &summary.flags);
    judged
        .session_flags
        .iter()
        .chain(of_quantities)
        .map(|flag: &Flag| FlagRecord {
            code: flag.code,
            quantity: flag.quantity.as_ref(),
            specimen: flag.specimen.as_deref(),
            message: &flag.message,
            accepted: flag.accepted.as_deref(),
        })
        .collect()
}

/// Every trial, quantity by quantity in the protocol's order, those left out among them.
pub(super) fn readings<'e>(composer: &Composer<'e>, judged: &'e Judged) -> Vec<ReadingRecord<'e>> {
    let specs = composer.edition.lab.protocol.quantities.iter();
    specs
        .filter_map(|(key, spec)| {
            let summary = judged.quantities.get(key)?.as_ref().ok()?;
            Some((key, spec.instrument.as_str(), summary))
        })
        .flat_map(|(key, instrument, summary)| {
            summary.specimens.iter().flat_map(move |specimen| {
                trials(
                    key,
                    instrument,
                    summary,
                    specimen,
                    session(judged, specimen),
                )
            })
        })
        .collect()
}

fn session<'e>(judged: &'e Judged, specimen: &SpecimenSummary) -> Option<&'e Session> {
    let mut specimens = judged.shoe.file.specimens.iter();
    specimens
        .find(|known: &&Specimen| known.id == specimen.id)
        .map(|known| &known.session)
}

fn trials<'e>(
    key: &'e Key,
    instrument: &'e str,
    summary: &'e Summary,
    specimen: &'e SpecimenSummary,
    session: Option<&'e Session>,
) -> impl Iterator<Item = ReadingRecord<'e>> {
    let unit = summary.unit;
    let trials = specimen.trials.iter().enumerate();
    trials.map(move |(at, trial)| ReadingRecord {
        specimen: &specimen.id,
        side: side(specimen.side),
        quantity: key,
        trial: at + 1,
        value: trial.value,
        unit: unit.symbol(),
        ucum: unit.ucum(),
        written: trial.written.to_string(),
        left_out: trial.left_out.as_deref(),
        session_on: session.map(|session| session.on),
        operator: session.map(|session| session.operator.as_str()),
        temperature_celsius: session.and_then(|s| s.temperature.in_unit(Unit::Celsius).ok()),
        humidity_percent: session.and_then(|s| s.humidity.in_unit(Unit::Percent).ok()),
        soaked_hours: session.and_then(|s| s.soaked.in_unit(Unit::Hour).ok()),
        instrument,
    })
}
