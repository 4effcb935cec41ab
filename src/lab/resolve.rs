//! From the protocol as written to the protocol as used: units resolved,
//! amounts converted, instruments found; every mistake reported.

use super::check::{QUANTITIES_LIMIT, count, label, length, not_negative, positive};
use super::instruments::Instrument;
use super::protocol::{ConditioningFile, CurveFigure, CurveFile, ProtocolFile, QuantityFile};
use super::specification::{Conditioning, CurveSpec, Protocol, QuantitySpec, Spread};
use crate::diagnostics::{Collector, KeyPath};
use crate::files::{Key, LINE_LIMIT, Map, nearest};
use crate::quantity::{Amount, Unit};

/// Where the settings are.
pub const SETTINGS: &str = "lab/lab.yaml";
/// Where the protocol is.
pub const PROTOCOL: &str = "lab/protocol.yaml";
/// Where the instruments are.
pub const INSTRUMENTS: &str = "lab/instruments.yaml";
/// Where the rule set is.
pub const RULES: &str = "lab/rules.yaml";
/// Where the phrases are.
pub const PHRASES: &str = "lab/phrases.yaml";

/// Converts an amount or reports why it can't be.
fn amount(found: Amount, unit: Unit, path: &KeyPath, to: &mut Collector) -> Option<f64> {
    let result = found.in_unit(unit);
    if result.is_err() {
        wrong_unit(found, unit, path, to);
    }
    result.ok()
}

/// Converts a difference or reports why it can't be.
fn difference(found: Amount, unit: Unit, path: &KeyPath, to: &mut Collector) -> Option<f64> {
    let result = found.difference_in(unit);
    if result.is_err() {
        wrong_unit(found, unit, path, to);
    }
    result.ok()
}

fn wrong_unit(found: Amount, unit: Unit, path: &KeyPath, to: &mut Collector) {
    if unit == Unit::One {
        return to.error(
            "wrong-unit",
            path.clone(),
            format!("`{found}` is no share of a whole"),
            "write it in per cent, such as `95 %`",
        );
    }
    to.error(
        "wrong-unit",
        path.clone(),
        format!("`{found}` is not in {unit} nor in a unit that converts into it"),
        format!("give it in {unit}"),
    );
}

fn unit(text: &str, path: &KeyPath, to: &mut Collector) -> Option<Unit> {
    let parsed = text.parse::<Unit>();
    if parsed.is_err() {
        let near = nearest(text, Unit::symbols());
        to.error(
            "unknown-unit",
            path.clone(),
            format!("`{text}` is no unit known here"),
            match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!(
                    "known units are {}",
                    Unit::symbols().collect::<Vec<_>>().join(", ")
                ),
            },
        );
    }
    parsed.ok()
}

/// Reports a count outside its limits, both of which are allowed.
fn between(
    count: usize,
    (least, most): (usize, usize),
    path: &KeyPath,
    what: &str,
    to: &mut Collector,
) {
    if !(least..=most).contains(&count) {
        to.error(
            "out-of-range",
            path.clone(),
            format!("{what} must be {least} to {most}, not {count}"),
            format!("write a whole number from {least} to {most}"),
        );
    }
}

/// The protocol as used.
pub(super) fn protocol(
    file: ProtocolFile,
    instruments: &Map<Key, Instrument>,
    to: &mut Collector,
) -> Option<Protocol> {
    let root = KeyPath::root();
    let coverage = amount(file.coverage, Unit::One, &root.key("coverage"), to);
    if coverage.is_some_and(|coverage| coverage <= 0.5 || coverage >= 1.0) {
        to.error(
            "out-of-range",
            root.key("coverage"),
            format!(
                "a coverage of {} is not between 50 % and 100 %",
                file.coverage
            ),
            "95 % is usual (JCGM 100, 6.2)",
        );
    }
    if file.quantities.is_empty() {
        to.error(
            "nothing-given",
            root.key("quantities"),
            "there is no quantity",
            "say what the lab measures",
        );
    }
    for (number, what) in [
        (file.quantities.len(), "quantities"),
        (file.curves.len(), "curves"),
    ] {
        count(number, root.key(what), QUANTITIES_LIMIT, what, to);
    }
    let conditioning = conditioning(&file.conditioning, &root.key("conditioning"), to);
    let curves: Map<Key, CurveSpec> = file
        .curves
        .iter()
        .filter_map(|(key, curve)| {
            let path = root.key("curves").key(key.as_str());
            if file.quantities.contains(key) {
                to.error(
                    "name-taken",
                    path.clone(),
                    format!("`{key}` is the name of a quantity too"),
                    "give the curve a name of its own",
                );
            }
            Some((key.clone(), curve_spec(curve, &path, to)?))
        })
        .collect();
    let quantities: Map<Key, QuantitySpec> = file
        .quantities
        .iter()
        .filter_map(|(key, quantity)| {
            let path = root.key("quantities").key(key.as_str());
            Some((
                key.clone(),
                quantity_spec(quantity, &path, instruments, &curves, to)?,
            ))
        })
        .collect();
    positive(
        file.reference_size.value,
        &root.key("reference-size").key("value"),
        "a size",
        to,
    );
    Some(Protocol {
        version: file.version,
        effective: file.effective,
        coverage: coverage?,
        conditioning: conditioning?,
        reference_size: file.reference_size,
        minimum_shoes: file.minimum_shoes.max(1),
        quantities,
        curves,
    })
}

fn conditioning(
    file: &ConditioningFile,
    path: &KeyPath,
    to: &mut Collector,
) -> Option<Conditioning> {
    let temperature = amount(
        file.temperature,
        Unit::Celsius,
        &path.key("temperature"),
        to,
    );
    let tolerance = difference(
        file.temperature_tolerance,
        Unit::Celsius,
        &path.key("temperature-tolerance"),
        to,
    );
    let humidity = amount(file.humidity, Unit::Percent, &path.key("humidity"), to);
    let humidity_tolerance = amount(
        file.humidity_tolerance,
        Unit::Percent,
        &path.key("humidity-tolerance"),
        to,
    );
    let soak = amount(file.soak, Unit::Hour, &path.key("soak"), to);
    for (found, key, what) in [
        (tolerance, "temperature-tolerance", "a tolerance"),
        (humidity_tolerance, "humidity-tolerance", "a tolerance"),
        (soak, "soak", "the time for conditioning"),
    ] {
        if let Some(found) = found {
            not_negative(found, &path.key(key), what, to);
        }
    }
    let within = &path.key("measure-within");
    let measure_within = match file.measure_within {
        None => None,
        Some(written) => {
            let minutes = amount(written, Unit::Minute, within, to)?;
            positive(minutes, within, "the time for measuring", to);
            Some(minutes)
        }
    };
    Some(Conditioning {
        temperature: temperature?,
        temperature_tolerance: tolerance?,
        humidity: humidity?,
        humidity_tolerance: humidity_tolerance?,
        soak: soak?,
        measure_within,
    })
}

fn curve_spec(file: &CurveFile, path: &KeyPath, to: &mut Collector) -> Option<CurveSpec> {
    label(&file.label, path.key("label"), to);
    let travel = unit(&file.travel, &path.key("travel"), to);
    let load = unit(&file.load, &path.key("load"), to);
    between(
        file.cycles,
        (1, 100),
        &path.key("cycles"),
        "the cycles of a curve",
        to,
    );
    let end = amount(file.to, load?, &path.key("to"), to)?;
    positive(end, &path.key("to"), "where a loop goes to", to);
    Some(CurveSpec {
        label: file.label.clone(),
        travel: travel?,
        load: load?,
        to: end,
        cycles: file.cycles,
    })
}

fn quantity_spec(
    file: &QuantityFile,
    path: &KeyPath,
    instruments: &Map<Key, Instrument>,
    curves: &Map<Key, CurveSpec>,
    to: &mut Collector,
) -> Option<QuantitySpec> {
    label(&file.label, path.key("label"), to);
    length(&file.what, path.key("what"), LINE_LIMIT, to);
    between(
        file.trials,
        (1, 100),
        &path.key("trials"),
        "the trials a specimen needs",
        to,
    );
    between(
        usize::from(file.decimals),
        (0, 6),
        &path.key("decimals"),
        "the decimals of a printed value",
        to,
    );
    let own = unit(&file.unit, &path.key("unit"), to)?;
    let also = file.also.as_deref().and_then(|also| {
        let found = unit(also, &path.key("also"), to)?;
        amount(
            Amount {
                value: 1.0,
                unit: Some(found),
            },
            own,
            &path.key("also"),
            to,
        )
        .map(|_| found)
    });
    let (resolution, calibration) = match instruments.get(&file.instrument) {
        Some(instrument) => instrument_figures(file, own, instrument, path, to),
        None => {
            let near = nearest(
                file.instrument.as_str(),
                instruments.keys().map(Key::as_str),
            );
            to.error(
                "unknown-name",
                path.key("instrument"),
                format!(
                    "there is no instrument `{}` in {INSTRUMENTS}",
                    file.instrument
                ),
                match near {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => "name one of the lab's instruments".to_owned(),
                },
            );
            (None, None)
        }
    };
    let low = amount(file.plausible[0], own, &path.key("plausible").index(0), to);
    let high = amount(file.plausible[1], own, &path.key("plausible").index(1), to);
    let plausible = (low?, high?);
    if plausible.0 >= plausible.1 {
        to.error(
            "out-of-order",
            path.key("plausible"),
            "the plausible range ends before it begins",
            "give the lower end first",
        );
    }
    Some(QuantitySpec {
        label: file.label.as_str().into(),
        what: file.what.clone(),
        at: file.at,
        unit: own,
        also,
        decimals: file.decimals.min(6),
        instrument: file.instrument.clone(),
        resolution,
        calibration,
        trials: file.trials.max(1),
        spread: file
            .spread
            .and_then(|spread| spread_limit(spread, own, &path.key("spread"), to)),
        plausible,
        repeatability: file.repeatability.as_ref().and_then(|pooled| {
            let at = path.key("repeatability");
            positive(pooled.s.value, &at.key("s"), "a standard deviation", to);
            if pooled.dof < 1.0 {
                to.error(
                    "out-of-range",
                    at.key("dof"),
                    format!(
                        "a standard deviation has at least one degree of freedom, not {}",
                        pooled.dof
                    ),
                    "give the number of readings less the number of shoes they were taken on",
                );
            }
            Some((difference(pooled.s, own, &at.key("s"), to)?, pooled.dof))
        }),
        left_right: file.left_right.and_then(|limit| {
            let at = path.key("left-right");
            let limit = difference(limit, own, &at, to)?;
            not_negative(limit, &at, "the difference of left and right", to);
            Some(limit)
        }),
        per_size: file
            .per_size
            .and_then(|step| difference(step, own, &path.key("per-size"), to)),
        from: file.from.as_ref().and_then(|from| {
            let known = curves.contains(&from.curve);
            if !known {
                let near = nearest(from.curve.as_str(), curves.keys().map(Key::as_str));
                to.error(
                    "unknown-name",
                    path.key("from").key("curve"),
                    format!("there is no curve `{}` in this protocol", from.curve),
                    near.map_or("say what it holds under `curves:`".to_owned(), |near| {
                        format!("did you mean `{near}`?")
                    }),
                );
            }
            if from.take == CurveFigure::Load && file.at.is_none() {
                to.error(
                    "missing-key",
                    path.clone(),
                    "a load at a stated travel needs `at`",
                    "say at which travel, such as `at: 5 mm`",
                );
            }
            known.then(|| (from.curve.clone(), from.take))
        }),
        differs: file.differs.clone(),
    })
}

/// An instrument's resolution and standard calibration uncertainty in a
/// quantity's unit. A quantity that is worked out from a curve into another dimension
/// has neither, and its repeatability stands for both.
fn instrument_figures(
    file: &QuantityFile,
    own: Unit,
    instrument: &Instrument,
    path: &KeyPath,
    to: &mut Collector,
) -> (Option<f64>, Option<f64>) {
    let resolution = instrument.resolution.difference_in(own).ok();
    let expanded = instrument.calibration.uncertainty.difference_in(own).ok();
    if file.from.is_none() && (resolution.is_none() || expanded.is_none()) {
        to.error(
            "wrong-unit",
            path.key("instrument"),
            format!(
                "`{}` shows {}, which does not convert into {own}",
                file.instrument, instrument.resolution
            ),
            "name an instrument that reads this quantity",
        );
    }
    if file.from.is_some() && file.repeatability.is_none() && resolution.is_none() {
        to.error(
            "missing-key",
            path.clone(),
            "a quantity worked out from a curve needs `repeatability`",
            "give the lab's pooled standard deviation, such as `{s: 0.9 %, dof: 20}`",
        );
    }
    (
        resolution,
        expanded.map(|expanded| expanded / instrument.calibration.k),
    )
}

fn spread_limit(found: Amount, own: Unit, path: &KeyPath, to: &mut Collector) -> Option<Spread> {
    positive(found.value, path, "an allowed spread", to);
    if found.unit == Some(Unit::Percent) && own != Unit::Percent {
        return Some(Spread::OfMean(found.value / 100.0));
    }
    difference(found, own, path, to).map(Spread::Absolute)
}
