//! `drift`: whether the bench moves, and how much of the spread is the measuring.

use super::desk::UsageError;
use super::{Desk, Exit};
use crate::diagnostics::Problem;
use crate::files::{CSV_LIMIT, Key, Source, nearest};
use crate::gather::{Reading, check_control, read_lab, read_study};
use crate::lab::{Lab, QuantitySpec, StudyReadings};
use crate::measure::drift::{Drift, DriftChart, FEWEST};
use crate::measure::gauge::{Component, Findings, Study};
use crate::outputs::repeatability_line;
use crate::quantity::{fixed, round_half_even};
use anyhow::Context as _;
use clap::Args;
use serde_json::json;
use std::fmt::Write as _;
use std::path::PathBuf;

/// The narrowest a chart is drawn, and the width where the terminal tells none.
const NARROWEST: usize = 40;
const USUAL: usize = 80;

/// Lines of a chart of individuals, and of one of moving ranges.
const TALL: usize = 13;
const LOW: usize = 6;

/// Room to the left of a chart, for its numbers.
const MARGIN: usize = 10;

/// Draw the control shoe's charts, and work out the gauge study.
///
/// Reads lab/control.csv (a column `date`, then one column a quantity with its
/// unit) and, if it is there, lab/gauge-study.csv (`part`, `operator`, `trial`,
/// then one column a quantity). The charts are also a page of the folio.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Only this quantity
    quantity: Option<String>,
    /// A gauge study other than lab/gauge-study.csv
    #[arg(long, value_name = "FILE")]
    study: Option<PathBuf>,
    /// How wide the charts are drawn; the terminal's width without it
    #[arg(long, value_name = "COLUMNS", value_parser = clap::value_parser!(u16).range(40..=400))]
    width: Option<u16>,
    /// The interaction is pooled with the scatter when its chance is over this
    #[arg(long, value_name = "SHARE", default_value_t = 0.25)]
    pooling: f64,
}

pub fn run(desk: &Desk, arguments: &Arguments) -> anyhow::Result<Exit> {
    if !(0.0..=1.0).contains(&arguments.pooling) {
        return Err(UsageError("--pooling takes a share from 0 to 1".into()).into());
    }
    let root = desk.root()?;
    let mut problems = Vec::new();
    let today = Desk::today();
    let lab = read_lab(&root, &Reading::on(today), &mut problems).map(|(lab, _)| lab);
    let study = match (&lab, &arguments.study) {
        (Some(lab), Some(path)) => {
            let name = path.display().to_string();
            let bytes = std::fs::read(path).with_context(|| format!("can't read {name}"))?;
            match Source::from_bytes(&name, bytes, CSV_LIMIT) {
                Ok(source) => {
                    problems.extend(source.cut_off());
                    read_study(&source, &lab.protocol, &mut problems)
                }
                Err(problem) => {
                    problems.push(problem);
                    Vec::new()
                }
            }
        }
        (Some(lab), None) => lab.study.clone(),
        (None, _) => Vec::new(),
    };
    let Some(mut lab) = lab.filter(|_| !problems.iter().any(Problem::is_error)) else {
        desk.show_problems(&root, problems);
        return Ok(Exit::Problems);
    };
    problems.retain(|problem| problem.code == "cut-off");
    problems.extend(check_control(&root, today));
    if !problems.is_empty() && !desk.json() {
        desk.show_problems(&root, problems);
    }
    lab.study = study;
    let only = arguments
        .quantity
        .as_deref()
        .map(|name| find(&lab, name))
        .transpose()?;
    let wanted = |key: &Key| only.as_ref().is_none_or(|only| only == key);
    let drift = Drift::of(&lab.control);
    let charts: Vec<(&Key, &QuantitySpec, &DriftChart)> = lab
        .control
        .iter()
        .map(|readings| &readings.quantity)
        .filter(|key| wanted(key))
        .filter_map(|key| Some((key, lab.protocol.quantities.get(key)?, drift.chart(key)?)))
        .collect();
    let studies: Vec<(&StudyReadings, &QuantitySpec, Worked)> = lab
        .study
        .iter()
        .filter(|readings| wanted(&readings.quantity))
        .filter_map(|readings| {
            let spec = lab.protocol.quantities.get(&readings.quantity)?;
            Some((
                readings,
                spec,
                work_out(readings, arguments.pooling, lab.protocol.coverage),
            ))
        })
        .collect();
    if charts.is_empty() && studies.is_empty() {
        desk.say(match &only {
            Some(key) => format!(
                "neither the log of the control shoe (lab/control.csv) nor a gauge study has readings of {key}"
            ),
            None => "there is neither a log of the control shoe (lab/control.csv) nor a gauge study"
                .to_owned(),
        });
    }
    if desk.json() {
        let text = serde_json::to_string_pretty(&json!({
            "control": charts.iter().map(|chart| chart_json(*chart)).collect::<Vec<_>>(),
            "studies": studies.iter().map(|(readings, spec, worked)| {
                study_json(readings, spec, worked)
            }).collect::<Vec<_>>(),
        }))?;
        desk.print(&format!("{text}\n"));
        return Ok(Exit::Done);
    }
    let width = arguments
        .width
        .map_or_else(terminal_width, usize::from)
        .max(NARROWEST);
    let mut text = String::new();
    for (_, spec, chart) in &charts {
        chart_text(&mut text, spec, chart, width);
    }
    for (_, spec, worked) in &studies {
        study_text(&mut text, spec, worked, lab.protocol.coverage);
    }
    desk.print(&text);
    Ok(Exit::Done)
}

fn find(lab: &Lab, name: &str) -> anyhow::Result<Key> {
    let known = || lab.protocol.quantities.keys();
    known()
        .find(|key| key.as_str() == name)
        .cloned()
        .ok_or_else(|| {
            let near = nearest(name, known().map(Key::as_str));
            let hint = near.map_or(String::new(), |near| format!("; did you mean `{near}`?"));
            UsageError(format!("there is no quantity `{name}`{hint}")).into()
        })
}

fn terminal_width() -> usize {
    let columns = std::env::var("COLUMNS").ok();
    columns
        .and_then(|columns| columns.parse().ok())
        .unwrap_or(USUAL)
}

/// A study worked out, or why it can't be.
type Worked = Result<(Study, Findings), String>;

fn work_out(readings: &StudyReadings, pooling: f64, coverage: f64) -> Worked {
    let rows = readings.readings.iter();
    let study =
        Study::from_readings(rows.map(|(part, by, value)| (part.as_str(), by.as_str(), *value)))
            .map_err(|error| error.to_string())?;
    let found = study.table().findings(pooling, coverage);
    Ok((study, found))
}

fn chart_json((key, spec, chart): (&Key, &QuantitySpec, &DriftChart)) -> serde_json::Value {
    let points: Vec<_> = (0..chart.values.len())
        .map(|at| {
            json!({
                "date": chart.days[at].to_string(),
                "value": chart.values[at],
                "moving_range": chart.range(at),
                "shows": chart.shows[at].iter().map(|shown| shown.what()).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "quantity": key,
        "unit": spec.unit.symbol(),
        "base": chart.base,
        "limits": chart.limits.map(|limits| json!({
            "centre": limits.centre,
            "lower": limits.lower(),
            "upper": limits.upper(),
            "sigma": limits.sigma,
            "mean_moving_range": limits.mean_range,
            "moving_range_upper": limits.range_upper(),
        })),
        "points": points,
    })
}

fn study_json(readings: &StudyReadings, spec: &QuantitySpec, worked: &Worked) -> serde_json::Value {
    let component = |found: &Findings, one: &Component| {
        json!({
            "standard_deviation": one.deviation,
            "limits": [one.limits.0, one.limits.1],
            "share": found.share(one),
            "set_to_zero": one.set_to_zero,
        })
    };
    match worked {
        Err(reason) => json!({"quantity": readings.quantity, "not_worked_out": reason}),
        Ok((study, found)) => json!({
            "quantity": readings.quantity,
            "unit": spec.unit.of_differences().symbol(),
            "parts": study.parts(),
            "operators": study.operators(),
            "interaction_chance": found.interaction_chance,
            "pooled": found.pooled,
            "repeatability": component(found, &found.repeatability),
            "repeatability_dof": found.repeatability_dof,
            "reproducibility": component(found, &found.reproducibility),
            "gauge": component(found, &found.gauge),
            "part": component(found, &found.part),
            "distinct_categories": found.distinct_categories(),
            "protocol_line": repeatability_line(found, spec),
        }),
    }
}

fn chart_text(text: &mut String, spec: &QuantitySpec, chart: &DriftChart, width: usize) {
    let places = spec.decimals.saturating_add(1);
    let number = |value: f64| fixed(value, places);
    let _ = writeln!(text, "{} of the control shoe ({})", spec.label, spec.unit);
    let Some(limits) = &chart.limits else {
        let _ = writeln!(
            text,
            "  {} readings; limits need {FEWEST} readings that differ\n",
            chart.values.len()
        );
        return;
    };
    let shown = chart.values.len().min(width - MARGIN - 1);
    let from = chart.values.len() - shown;
    let lines = [
        (limits.upper(), '┄'),
        (limits.centre, '─'),
        (limits.lower(), '┄'),
    ];
    let marks = |at: usize| {
        if chart.shows[at].is_empty() {
            '●'
        } else {
            '×'
        }
    };
    let values = (from..chart.values.len()).map(|at| (chart.values[at], marks(at)));
    draw(text, &values.collect::<Vec<_>>(), &lines, TALL, &number);
    let ranges = (from..chart.values.len()).map(|at| {
        let range = chart.range(at);
        let beyond = range.is_some_and(|range| range > limits.range_upper());
        (range.unwrap_or(f64::NAN), if beyond { '×' } else { '●' })
    });
    let _ = writeln!(text, "  moving range");
    let lines = [
        (limits.range_upper(), '┄'),
        (limits.mean_range, '─'),
        (0.0, ' '),
    ];
    draw(text, &ranges.collect::<Vec<_>>(), &lines, LOW, &number);
    let _ = writeln!(
        text,
        "  {} to {}; limits {} to {} and centre {} from the first {} readings",
        chart.days[from],
        chart.days[chart.days.len() - 1],
        number(limits.lower()),
        number(limits.upper()),
        number(limits.centre),
        chart.base
    );
    for at in (0..chart.values.len()).filter(|at| !chart.shows[*at].is_empty()) {
        let _ = writeln!(
            text,
            "  × {}  {} {}: {}",
            chart.days[at],
            number(chart.values[at]),
            spec.unit,
            chart.words(at)
        );
    }
    text.push('\n');
}

/// Marks over lines, `height` rows high; a value that is none leaves its column empty.
fn draw(
    text: &mut String,
    values: &[(f64, char)],
    lines: &[(f64, char)],
    height: usize,
    number: &dyn Fn(f64) -> String,
) {
    let all = values.iter().chain(lines).map(|(value, _)| *value);
    let (low, high) = all
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
    let step = (high - low) / (height - 1) as f64;
    let row = |value: f64| {
        let up = if step > 0.0 {
            ((value - low) / step).round() as usize
        } else {
            0
        };
        height - 1 - up.min(height - 1)
    };
    for at in 0..height {
        let line = lines.iter().find(|(value, _)| row(*value) == at);
        let label = line.map_or_else(String::new, |(value, _)| number(*value));
        let ground = line.map_or(' ', |(_, ground)| *ground);
        let drawn: String = values
            .iter()
            .map(|(value, mark)| {
                if value.is_finite() && row(*value) == at {
                    *mark
                } else {
                    ground
                }
            })
            .collect();
        let row = format!("{label:>width$} {drawn}", width = MARGIN - 1);
        let _ = writeln!(text, "{}", row.trim_end());
    }
}

fn study_text(text: &mut String, spec: &QuantitySpec, worked: &Worked, coverage: f64) {
    let _ = writeln!(text, "Gauge study of {}", spec.label);
    let (study, found) = match worked {
        Ok(worked) => worked,
        Err(reason) => {
            let _ = writeln!(text, "  not worked out: {reason}\n");
            return;
        }
    };
    let _ = writeln!(
        text,
        "  {} parts, {} operators, {} readings of each",
        study.parts().len(),
        study.operators().len(),
        study.cell(0, 0).len()
    );
    let places = spec.decimals.saturating_add(2);
    let unit = spec.unit.of_differences();
    for (label, one) in [
        ("repeatability", &found.repeatability),
        ("reproducibility", &found.reproducibility),
        ("the measuring", &found.gauge),
        ("between parts", &found.part),
    ] {
        let share = found.share(one).map_or_else(String::new, |share| {
            format!(", {} % of the spread", fixed(share * 100.0, 1))
        });
        let zero = if one.set_to_zero {
            "; came out negative, set to zero"
        } else {
            ""
        };
        let _ = writeln!(
            text,
            "  {label:<16} s = {} {unit} ({} to {} at {} %){share}{zero}",
            fixed(one.deviation, places),
            fixed(one.limits.0, places),
            fixed(one.limits.1, places),
            round_half_even(coverage * 100.0, 2),
        );
    }
    if let Some(chance) = found.interaction_chance {
        let verdict = if found.pooled {
            "pooled with the scatter"
        } else {
            "kept apart"
        };
        let _ = writeln!(
            text,
            "  interaction      {verdict} (chance {})",
            fixed(chance, 3)
        );
    }
    match found.distinct_categories() {
        Some(kinds) => drop(writeln!(text, "  tells {kinds} kinds of parts apart")),
        None => drop(writeln!(text, "  the measuring shows no spread")),
    }
    let _ = writeln!(
        text,
        "  for the protocol:\n    {}\n",
        repeatability_line(found, spec)
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chart_keeps_to_its_width_and_marks_what_is_out() {
        let mut text = String::new();
        let values: Vec<(f64, char)> = (0..30).map(|at| (f64::from(at % 3), '●')).collect();
        draw(&mut text, &values, &[(2.0, '┄'), (0.0, '─')], 5, &|v| {
            fixed(v, 1)
        });
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 5);
        assert!(lines.iter().all(|line| line.chars().count() <= MARGIN + 30));
        assert!(lines[0].starts_with("      2.0 ┄┄●"), "{}", lines[0]);
        assert!(lines[4].starts_with("      0.0 ●──●"), "{}", lines[4]);
    }

    #[test]
    fn readings_that_are_no_crossed_study_say_why() {
        let readings = StudyReadings {
            quantity: "mass".parse().unwrap(),
            readings: vec![
                ("A".into(), "ivo".into(), 1.0),
                ("B".into(), "ivo".into(), 2.0),
            ],
        };
        let reason = work_out(&readings, 0.25, 0.95).unwrap_err();
        assert!(
            reason.contains("1 operators") || reason.contains("operators"),
            "{reason}"
        );
    }
}
