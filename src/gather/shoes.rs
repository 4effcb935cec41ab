//! Reading and judging the files of `shoes/`.

use super::heard::Step;
use super::reading::Reading;
use crate::diagnostics::{Collector, KeyPath, Problem, text::quote_list};
use crate::files::{CSV_LIMIT, Key, RelPath, Root, Slug, Source, csv, yaml};
use crate::lab::{CurveSpec, Lab, Protocol};
use crate::measure::drift::Drift;
use crate::measure::hysteresis::LoopError;
use crate::measure::{Figures, curve_figure, read_loop, screen_sessions, summarise, working_units};
use crate::quantity::Unit;
use crate::rules::{Judged, RuleSet};
use crate::shoe::{RawCurve, Readings, Shoe, ShoeFile, check};
use rayon::prelude::*;
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// The most shoes of a lab.
pub const SHOES_LIMIT: usize = 100_000;

/// Reads every shoe. Without a lab (its files are in error) shoes are only
/// checked for their form. Those that are left when somebody wants to stop are not read.
pub(super) fn read(
    root: &Root,
    lab: Option<&Lab>,
    reading: &Reading,
    problems: &mut Vec<Problem>,
) -> Vec<Shoe> {
    let found = root.addresses("shoes", &["yaml", "yml"]);
    problems.extend(found.problems);
    if found.files.len() > SHOES_LIMIT {
        let message = format!(
            "{} files of shoes; {SHOES_LIMIT} are the most",
            found.files.len()
        );
        problems.push(
            Problem::error("too-many-shoes", "shoes", KeyPath::root(), message)
                .hint("split the lab into folders of their own, each with its `--root`"),
        );
        return Vec::new();
    }
    reading.ear.hear(Step::Reading(found.files.len()));
    let read: Vec<(Option<Shoe>, Vec<Problem>)> = found
        .files
        .into_par_iter()
        .filter(|_| !reading.outside.stop.load(Ordering::Relaxed))
        .map(|(slug, path)| {
            let mut problems = Vec::new();
            let shoe = read_one(root, lab, slug, &path, &mut problems);
            reading.ear.hear(Step::Read);
            (shoe, problems)
        })
        .collect();
    let mut shoes = Vec::with_capacity(read.len());
    for (shoe, found) in read {
        shoes.extend(shoe);
        problems.extend(found);
    }
    shoes
}

fn read_one(
    root: &Root,
    lab: Option<&Lab>,
    slug: Slug,
    path: &RelPath,
    problems: &mut Vec<Problem>,
) -> Option<Shoe> {
    let source = root
        .read(path)
        .map_err(|problem| problems.push(problem))
        .ok()?;
    read_shoe(root, lab, slug, path, &source, problems)
}

/// Reads one shoe from its file's text, which may not be on the disk yet; its
/// curves are read from `root`.
pub fn read_shoe(
    root: &Root,
    lab: Option<&Lab>,
    slug: Slug,
    path: &RelPath,
    source: &Source,
    problems: &mut Vec<Problem>,
) -> Option<Shoe> {
    problems.extend(source.cut_off());
    let file: ShoeFile = yaml::read(source)
        .map_err(|found| problems.extend(found))
        .ok()?;
    let lab = lab?;
    let mut found = Collector::new(path.as_str());
    check(slug.as_str(), &file, lab, &mut found);
    let curves = read_curves(root, &file, path, &lab.protocol, &mut found);
    let broken = found.has_errors();
    problems.extend(found.into_problems());
    (!broken).then(|| Shoe {
        slug,
        path: path.as_str().to_owned(),
        file,
        curves,
    })
}

fn read_curves(
    root: &Root,
    file: &ShoeFile,
    path: &RelPath,
    protocol: &Protocol,
    to: &mut Collector,
) -> Vec<RawCurve> {
    let mut curves = Vec::new();
    for (at, specimen) in file.specimens.iter().enumerate() {
        for (key, readings) in specimen.readings.iter() {
            let (Readings::Curve(named), Some(spec)) = (readings, protocol.curves.get(key)) else {
                continue;
            };
            let place = KeyPath::root()
                .key("specimens")
                .index(at)
                .key("readings")
                .key(key.as_str())
                .key("curve");
            let beside = named
                .curve
                .parse::<RelPath>()
                .and_then(|named| path.beside(&named));
            let csv = match beside {
                Ok(csv) => csv,
                Err(error) => {
                    to.error(
                        "outside-root",
                        place,
                        error.to_string(),
                        "name a file beside the shoe's, such as `curves/heel.csv`",
                    );
                    continue;
                }
            };
            let (curve, problems) = read_curve(root, &csv, (at, key), spec);
            curves.extend(curve);
            for problem in problems {
                // A file that is not there is a mistake in the shoe's file.
                if problem.code == "unreadable-file" {
                    to.error(
                        "unreadable-file",
                        place.clone(),
                        format!("{csv}: {}", problem.message),
                        "check the name; it is relative to the shoe's file",
                    );
                } else {
                    to.push(problem);
                }
            }
        }
    }
    curves
}

/// A curve's rows in the working units; none if they are no loop. With what is
/// wrong: a warning alone leaves the curve as it is.
fn read_curve(
    root: &Root,
    path: &RelPath,
    of: (usize, &Key),
    spec: &CurveSpec,
) -> (Option<RawCurve>, Vec<Problem>) {
    let source = match root.read_text(path, CSV_LIMIT) {
        Ok(source) => source,
        Err(problem) => return (None, vec![problem]),
    };
    let mut problems = Vec::from_iter(source.cut_off());
    let curve = curve_of(&source, path, of, spec)
        .map_err(|found| problems.extend(found))
        .ok();
    (curve, problems)
}

fn curve_of(
    source: &Source,
    path: &RelPath,
    (specimen, key): (usize, &Key),
    spec: &CurveSpec,
) -> Result<RawCurve, Vec<Problem>> {
    let columns = csv::numbers(source)?;
    let (travel_unit, load_unit) = working_units(spec);
    let travel = column(&columns, "travel", (spec.travel, travel_unit), path)?;
    let load = column(&columns, "load", (spec.load, load_unit), path)?;
    let curve = RawCurve {
        specimen,
        key: key.clone(),
        travel,
        load,
    };
    match read_loop(&curve, spec) {
        Ok(_) => Ok(curve),
        Err(error) => {
            let row = match error {
                LoopError::Unsorted { row } | LoopError::Gap { row } => row,
                _ => 0,
            };
            let line = columns[0].lines.get(row).copied().unwrap_or(1);
            Err(vec![
                Problem::error(
                    "curve-unusable",
                    path.as_str(),
                    KeyPath::root(),
                    error.to_string(),
                )
                .at(line, 1)
                .hint("record the loop again, or leave the curve away"),
            ])
        }
    }
}

/// The column of a name, in a unit that converts into the protocol's or without one;
/// else the one column in such a unit; in the working unit.
fn column(
    columns: &[csv::Column],
    name: &str,
    (protocol, working): (Unit, Unit),
    path: &RelPath,
) -> Result<Vec<f64>, Vec<Problem>> {
    let measures = |column: &csv::Column| {
        let unit = column.unit;
        unit.is_some_and(|unit| unit.dimension() == protocol.dimension())
    };
    let named = |column: &&csv::Column| {
        column.name.eq_ignore_ascii_case(name) && (column.unit.is_none() || measures(column))
    };
    let measured: Vec<&csv::Column> = columns.iter().filter(|one| measures(one)).collect();
    let found = match (columns.iter().find(named), &measured[..]) {
        (Some(named), _) => Some(named),
        (None, [only]) => Some(*only),
        (None, _) => None,
    };
    let convert = |value: &f64| {
        found?
            .unit
            .unwrap_or(protocol)
            .convert(*value, working)
            .ok()
    };
    found
        .and_then(|column| column.values.iter().map(convert).collect())
        .ok_or_else(|| {
            let message = match measured.len() {
                0 | 1 => format!("no column is in {protocol} or a unit that converts into it"),
                several => format!(
                    "{several} columns are in {protocol} or a unit that converts into it, and none is called `{name}`: {}",
                    quote_list(measured.iter().map(|one| one.name.as_str()), several)
                ),
            };
            vec![
                Problem::error(
                    "csv-column-missing",
                    path.as_str(),
                    KeyPath::root(),
                    message,
                )
                .at(1, 1)
                .hint(format!("head it `{name} ({protocol})`")),
            ]
        })
}

/// Works out every quantity and finding of every shoe, but for those that are left
/// when somebody wants to stop.
pub(super) fn judge(
    shoes: Vec<Shoe>,
    lab: &Lab,
    rules: &RuleSet,
    reading: &Reading,
) -> Vec<Judged> {
    let drift = Drift::of(&lab.control);
    reading.ear.hear(Step::Judging(shoes.len()));
    shoes
        .into_par_iter()
        .filter(|_| !reading.outside.stop.load(Ordering::Relaxed))
        .map(|shoe| {
            let judged = judge_with(shoe.into(), lab, rules, &drift);
            reading.ear.hear(Step::Judged);
            judged
        })
        .collect()
}

/// Works out every quantity and finding of one shoe.
pub fn judge_one(shoe: Shoe, lab: &Lab, rules: &RuleSet) -> Judged {
    judge_with(shoe.into(), lab, rules, &Drift::of(&lab.control))
}

/// The same, with the control shoe's charts worked out before.
pub(super) fn judge_with(shoe: Arc<Shoe>, lab: &Lab, rules: &RuleSet, drift: &Drift) -> Judged {
    let figures = figures(&shoe, &lab.protocol);
    let mut quantities = summarise(&shoe, &lab.protocol, &figures, &rules.drawn);
    // What is about one quantity belongs to it: only findings that rest on it are in doubt.
    let mut session_flags = Vec::new();
    for flag in screen_sessions(&shoe, lab, drift) {
        match flag
            .quantity
            .as_ref()
            .and_then(|key| quantities.get_mut(key))
        {
            Some(Ok(summary)) => summary.flags.push(flag),
            Some(Err(_)) => {}
            None => session_flags.push(flag),
        }
    }
    rules.judge(shoe, quantities, session_flags)
}

/// The figures of a shoe's curves that quantities are taken from.
fn figures(shoe: &Shoe, protocol: &Protocol) -> Figures {
    let mut figures = Figures::new();
    for curve in &shoe.curves {
        let Some(spec) = protocol.curves.get(&curve.key) else {
            continue;
        };
        let read = read_loop(curve, spec);
        for (key, quantity) in protocol.quantities.iter() {
            if let Some((from, take)) = &quantity.from
                && *from == curve.key
            {
                let figure = match &read {
                    Ok(read) => curve_figure(read, spec, quantity, *take),
                    Err(error) => Err(format!("its curve can't be used: {error}")),
                };
                figures.insert((curve.specimen, key.clone()), figure);
            }
        }
    }
    figures
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_several_columns_of_a_kind_the_one_by_its_name_is_taken_or_none() {
        let path: RelPath = "shoes/curves/x.csv".parse().unwrap();
        let travel = |header: &str| {
            let text = format!("{header}\n1,2,3\n4,5,6\n");
            let columns = csv::numbers(&Source::new("x.csv", text)).unwrap();
            let unit = Unit::Millimetre;
            column(&columns, "travel", (unit, unit), &path).map_err(|mut found| found.remove(0))
        };
        assert_eq!(travel("load (N),travel (mm),x").unwrap(), [2.0, 5.0]);
        assert_eq!(travel("load (N),way (mm),x").unwrap(), [2.0, 5.0]);
        assert_eq!(travel("set (mm),travel (mm),load (N)").unwrap(), [2.0, 5.0]);
        assert_eq!(travel("set (mm),Travel,load (N)").unwrap(), [2.0, 5.0]);
        let several = travel("set (mm),way (mm),load (N)").unwrap_err();
        assert_eq!(several.code, "csv-column-missing");
        assert!(several.message.contains("`set`, `way`"), "{several:?}");
        let none = travel("load (N),travel (s),x").unwrap_err();
        assert!(none.message.starts_with("no column"), "{none:?}");
    }
}
