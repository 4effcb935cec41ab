//! The bench page: the control shoe's charts and the gauge study, each as a
//! picture with the data in a table beside it. It is there if the lab keeps a log
//! of its control shoe or made a study.

use super::composer::Composer;
use super::figures::{coordinate, is_number_zero, minus, with_unit};
use super::output::{Output, Sheet, Subject, Surroundings};
use super::readings::written_places;
use super::sheets::{self, page};
use super::views::{DriftChartView, DriftPointView, DriftView, StudyRowView, StudyView, TickView};
use crate::edition::Edition;
use crate::files::Key;
use crate::lab::{Lab, QuantitySpec, StudyReadings, known_on};
use crate::measure::drift::{BASE, Drift, DriftChart, FEWEST};
use crate::measure::gauge::{Component, Findings, Study};
use crate::quantity::{decimals_for_uncertainty, fixed};
use crate::words::say;

/// Where the page lies.
pub(super) const PATH: &str = "method/drift/index.html";

/// The page's path from the root, where the lab has anything for it.
pub(super) fn address(lab: &Lab) -> Option<String> {
    (!lab.control.is_empty() || !lab.study.is_empty()).then(|| "method/drift/".to_owned())
}

/// The chance over which an interaction is pooled with the scatter (common practice, no source).
const POOLING: f64 = 0.25;

const WIDTH: f64 = 600.0;
const HEIGHT: f64 = 200.0;
const RANGE_HEIGHT: f64 = 100.0;

/// The bench page.
pub(super) struct Bench;

impl Output for Bench {
    fn name(&self) -> &'static str {
        "drift"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        if address(&edition.lab).is_none() {
            return Vec::new();
        }
        let composer = Composer::new(edition, surroundings);
        vec![page(
            self.name(),
            Subject::Folio,
            sheets::path(PATH),
            "drift.html",
            move || view(&composer),
        )]
    }
}

fn view(composer: &Composer<'_>) -> DriftView {
    let lab = &composer.edition.lab;
    let control = known_on(&lab.control, composer.edition.as_of);
    let drift = Drift::of(&control);
    DriftView {
        site: composer.site(),
        head: composer.head(
            &sheets::path(PATH),
            &say!(composer, "The bench, day by day"),
            &say!(composer, "The control shoe's charts and the gauge study."),
        ),
        base: BASE,
        charts: control
            .iter()
            .filter_map(|readings| {
                let key = &readings.quantity;
                Some(chart_view(
                    composer,
                    key,
                    lab.protocol.quantities.get(key)?,
                    drift.chart(key)?,
                ))
            })
            .collect(),
        studies: lab
            .study
            .iter()
            .filter_map(|readings| study_view(composer, readings))
            .collect(),
    }
}

/// A quantity's chart, with the picture's places.
fn chart_view(
    composer: &Composer<'_>,
    key: &Key,
    spec: &QuantitySpec,
    chart: &DriftChart,
) -> DriftChartView {
    let places = spec.decimals.saturating_add(1);
    let number = |value: f64| composer.number(&minus(&fixed(value, places)));
    // Readings as fine as the finest was written; what is worked out, a place finer.
    let written = chart.values.iter().map(|value| written_places(*value));
    let fine = written.max().unwrap_or(0).clamp(spec.decimals, places);
    let reading = |value: f64| composer.number(&minus(&fixed(value, fine)));
    let unit = spec.unit.of_differences();
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let limits: Vec<f64> = chart
        .limits
        .iter()
        .flat_map(|l| [l.lower(), l.upper()])
        .collect();
    let (low, high) = ends(&mut chart.values.iter().copied().chain(limits));
    let room = if high > low { 0.06 * (high - low) } else { 1.0 };
    let up = |value: f64| HEIGHT - (value - low + room) / (high - low + 2.0 * room) * HEIGHT;
    let last = chart.values.len().saturating_sub(1).max(1) as f64;
    let along = |at: usize| at as f64 / last * WIDTH;
    let ranges = || (1..chart.values.len()).filter_map(|at| Some((at, chart.range(at)?)));
    let top = ranges()
        .map(|(_, range)| range)
        .chain(chart.limits.map(|limits| limits.range_upper()))
        .fold(f64::MIN_POSITIVE, f64::max)
        * 1.08;
    let range_up = |range: f64| RANGE_HEIGHT - range / top * RANGE_HEIGHT;
    let line = |points: &mut dyn Iterator<Item = (f64, f64)>| {
        points
            .map(|(x, y)| format!("{},{}", coordinate(x), coordinate(y)))
            .collect::<Vec<_>>()
            .join(" ")
    };
    let tick = |at: f64, value: f64| TickView {
        at: coordinate(at),
        text: number(value),
    };
    let point = |at: usize| DriftPointView {
        day: composer.date(chart.days[at]),
        x: coordinate(along(at)),
        y: coordinate(up(chart.values[at])),
        value: reading(chart.values[at]),
        range: chart.range(at).map(reading),
        shows: Some(composer.retell(&chart.words(at))).filter(|words| !words.is_empty()),
    };
    DriftChartView {
        key: key.to_string(),
        label: composer.word(&spec.label),
        unit: spec.unit.symbol().to_owned(),
        description: description(composer, spec, chart),
        line: line(&mut (0..chart.values.len()).map(|at| (along(at), up(chart.values[at])))),
        ranges: line(&mut ranges().map(|(at, range)| (along(at), range_up(range)))),
        base: (chart.base < chart.values.len()).then(|| coordinate(along(chart.base - 1))),
        centre: chart.limits.map(|l| tick(up(l.centre), l.centre)),
        lower: chart.limits.map(|l| tick(up(l.lower()), l.lower())),
        upper: chart.limits.map(|l| tick(up(l.upper()), l.upper())),
        range_mean: chart
            .limits
            .map(|l| tick(range_up(l.mean_range), l.mean_range)),
        range_upper: chart
            .limits
            .map(|l| tick(range_up(l.range_upper()), l.range_upper())),
        sigma: chart.limits.map(|limits| {
            let sigma = fixed(limits.sigma, deviation_places(limits.sigma, 0));
            with_unit(&composer.number(&sigma), unit)
        }),
        points: (0..chart.values.len()).map(point).collect(),
    }
}

fn description(composer: &Composer<'_>, spec: &QuantitySpec, chart: &DriftChart) -> String {
    let quantity = composer.word(&spec.label);
    let Some(limits) = &chart.limits else {
        return say!(
            composer,
            "{quantity}: {n} readings of the control shoe; no limits, which need {fewest} readings that differ.",
            one = "{quantity}: {n} reading of the control shoe; no limits, which need {fewest} readings that differ.",
            quantity = quantity,
            n = chart.values.len(),
            fewest = FEWEST
        );
    };
    let places = spec.decimals.saturating_add(1);
    let number = |value: f64| composer.number(&minus(&fixed(value, places)));
    let found = match chart.out() {
        0 => say!(composer, "No reading is out of control."),
        n => say!(
            composer,
            "{n} readings out of control.",
            one = "{n} reading out of control.",
            n = n
        ),
    };
    let read = say!(
        composer,
        "{quantity}: {n} readings of the control shoe. Centre {centre}, limits {lower} to {upper} from the first {base}.",
        one = "{quantity}: {n} reading of the control shoe. Centre {centre}, limits {lower} to {upper} from the first {base}.",
        quantity = quantity,
        n = chart.values.len(),
        centre = number(limits.centre),
        lower = number(limits.lower()),
        upper = with_unit(&number(limits.upper()), spec.unit),
        base = chart.base
    );
    format!("{read} {found}")
}

/// A study, worked out; none where its readings are no crossed study.
fn study_view(composer: &Composer<'_>, readings: &StudyReadings) -> Option<StudyView> {
    let lab = &composer.edition.lab;
    let spec = lab.protocol.quantities.get(&readings.quantity)?;
    let rows = readings.readings.iter();
    let study =
        Study::from_readings(rows.map(|(part, by, value)| (part.as_str(), by.as_str(), *value)))
            .ok()?;
    let found = study.table().findings(POOLING, lab.protocol.coverage);
    let (marks, ticks) = study_marks(composer, &study, spec);
    Some(StudyView {
        label: composer.word(&spec.label),
        unit: spec.unit.of_differences().symbol().to_owned(),
        parts: study.parts().to_vec(),
        operators: study.operators().to_vec(),
        interaction: match (found.interaction_chance, found.pooled) {
            (None, _) => say!(
                composer,
                "There is no scatter to hold the interaction of part and operator against."
            ),
            (Some(chance), true) => say!(
                composer,
                "The interaction of part and operator is not significant (chance {chance}), and pooled with the scatter.",
                chance = chance_of(composer, chance)
            ),
            (Some(chance), false) => say!(
                composer,
                "The interaction of part and operator is kept apart (chance {chance}).",
                chance = chance_of(composer, chance)
            ),
        },
        rows: study_rows(composer, &found, spec),
        categories: found.distinct_categories(),
        coverage: composer.coverage(),
        description: say!(
            composer,
            "{quantity}: {parts} parts measured by {operators} operators; each mark is a reading, parts from left to right.",
            quantity = composer.word(&spec.label),
            parts = study.parts().len(),
            operators = study.operators().len()
        ),
        marks,
        ticks,
        repeatability: repeatability_line(&found, spec),
    })
}

/// A share of 0 to 1 as per cent; what is there is never printed as nothing.
fn percent_of(composer: &Composer<'_>, share: f64) -> String {
    let percent = fixed(share * 100.0, 1);
    if share > 0.0 && is_number_zero(&percent) {
        say!(composer, "under 0.1 %")
    } else {
        composer.number(&format!("{percent} %"))
    }
}

/// The chance of a test. It is never nought, though it may be too small for a double.
fn chance_of(composer: &Composer<'_>, chance: f64) -> String {
    percent_of(composer, chance.max(f64::MIN_POSITIVE))
}

/// The most places a deviation is printed with.
const MOST_PLACES: u8 = 9;

/// The places of a deviation: those of two significant digits, `least` at least.
fn deviation_places(deviation: f64, least: u8) -> u8 {
    if deviation > 0.0 {
        decimals_for_uncertainty(deviation, MOST_PLACES).max(least)
    } else {
        least
    }
}

/// The line a study gives the protocol.
pub(crate) fn repeatability_line(found: &Findings, spec: &QuantitySpec) -> String {
    let deviation = found.repeatability.deviation;
    format!(
        "repeatability: {{s: {} {}, dof: {}}}",
        fixed(
            deviation,
            deviation_places(deviation, spec.decimals.saturating_add(2))
        ),
        spec.unit.of_differences(),
        fixed(found.repeatability_dof, 0)
    )
}

fn study_rows(composer: &Composer<'_>, found: &Findings, spec: &QuantitySpec) -> Vec<StudyRowView> {
    let row = |label: String, component: &Component| {
        let places = deviation_places(component.deviation, spec.decimals.saturating_add(2));
        StudyRowView {
            label,
            deviation: composer.number(&fixed(component.deviation, places)),
            limits: say!(
                composer,
                "{from} to {to}",
                from = composer.number(&fixed(component.limits.0, places)),
                to = composer.number(&fixed(component.limits.1, places))
            ),
            share: match found.share(component) {
                Some(share) => percent_of(composer, share),
                None => say!(composer, "no spread"),
            },
            set_to_zero: component.set_to_zero,
        }
    };
    vec![
        row(
            say!(composer, "Repeatability: one operator, one part"),
            &found.repeatability,
        ),
        row(
            say!(composer, "Reproducibility: between operators"),
            &found.reproducibility,
        ),
        row(say!(composer, "The measuring: both together"), &found.gauge),
        row(say!(composer, "Between parts"), &found.part),
    ]
}

/// Each reading's place in the picture, by operator, and the ticks of its side.
fn study_marks(
    composer: &Composer<'_>,
    study: &Study,
    spec: &QuantitySpec,
) -> (Vec<(usize, String, String)>, Vec<TickView>) {
    let cells = || {
        (0..study.parts().len()).flat_map(move |part| {
            (0..study.operators().len()).flat_map(move |by| {
                study
                    .cell(part, by)
                    .iter()
                    .map(move |value| (part, by, *value))
            })
        })
    };
    let (low, high) = cells().fold(
        (f64::INFINITY, f64::NEG_INFINITY),
        |(low, high), (_, _, v)| (low.min(v), high.max(v)),
    );
    let range = if high > low { high - low } else { 1.0 };
    let up = |value: f64| HEIGHT * (0.95 - 0.9 * (value - low) / range);
    let wide = WIDTH / study.parts().len() as f64;
    let step = wide / (study.operators().len() + 1) as f64;
    let marks = cells()
        .map(|(part, by, value)| {
            let x = part as f64 * wide + (by + 1) as f64 * step;
            (by, coordinate(x), coordinate(up(value)))
        })
        .collect();
    let tick = |value: f64| TickView {
        at: coordinate(up(value)),
        text: composer.number(&minus(&fixed(value, spec.decimals))),
    };
    (marks, vec![tick(low), tick(high)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lab::ControlReadings;
    use crate::outputs::testing;

    fn lab_with_a_bench() -> Edition {
        let mut edition = testing::edition();
        let mut values: Vec<f64> = (0..24).map(|at| 6.4 + 0.05 * f64::from(at % 3)).collect();
        values[22] = 7.2;
        edition.lab.control = vec![ControlReadings {
            quantity: testing::key("heel-compression"),
            days: (1..=24)
                .map(|day| testing::day(&format!("2026-11-{day:02}")))
                .collect(),
            values,
        }];
        let part = |name: &str, by: &str, value| (name.to_owned(), by.to_owned(), value);
        edition.lab.study = vec![StudyReadings {
            quantity: testing::key("heel-compression"),
            readings: vec![
                part("A", "ivo", 3.4),
                part("A", "ivo", 3.5),
                part("A", "mara", 3.4),
                part("A", "mara", 3.3),
                part("B", "ivo", 5.4),
                part("B", "ivo", 5.5),
                part("B", "mara", 5.6),
                part("B", "mara", 5.5),
            ],
        }];
        edition
    }

    #[test]
    fn a_lab_without_a_log_has_no_such_page() {
        let edition = testing::edition();
        assert!(Bench.plan(&edition, &Surroundings::default()).is_empty());
    }

    #[test]
    fn the_chart_has_its_limits_its_data_and_says_what_a_reading_shows() {
        let edition = lab_with_a_bench();
        let surroundings = Surroundings::default();
        let view = view(&Composer::new(&edition, &surroundings));
        let chart = &view.charts[0];
        assert_eq!(chart.points.len(), 24);
        assert_eq!(chart.points[0].range, None);
        assert!(
            chart.points[22]
                .shows
                .as_deref()
                .unwrap()
                .contains("beyond the control limits")
        );
        assert!(chart.points[3].shows.is_none());
        assert!(chart.upper.is_some() && chart.base.is_some());
        assert!(
            chart.description.contains("24 readings"),
            "{}",
            chart.description
        );
    }

    #[test]
    fn what_is_there_is_not_printed_as_nothing() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        assert_eq!(percent_of(&composer, 0.1234), "12.3 %");
        assert_eq!(percent_of(&composer, 0.0), "0.0 %");
        assert_eq!(percent_of(&composer, 0.0004), "under 0.1 %");
        assert_eq!(chance_of(&composer, 0.0), "under 0.1 %");
        for (deviation, least, places) in
            [(0.0042, 3, 4), (0.042, 3, 3), (0.042, 0, 3), (0.0, 2, 2)]
        {
            assert_eq!(deviation_places(deviation, least), places, "{deviation}");
        }
    }

    #[test]
    fn a_steady_bench_has_a_sigma_and_a_repeatability_above_nought() {
        let mut edition = lab_with_a_bench();
        for value in &mut edition.lab.control[0].values {
            *value = 6.4 + (*value - 6.4) / 1000.0;
        }
        for (_, _, value) in &mut edition.lab.study[0].readings {
            *value /= 1000.0;
        }
        let surroundings = Surroundings::default();
        let view = view(&Composer::new(&edition, &surroundings));
        for printed in [
            view.charts[0].sigma.as_ref().unwrap(),
            &view.studies[0].rows[0].deviation,
            &view.studies[0].repeatability,
        ] {
            let number = printed.split(", dof").next().unwrap();
            assert!(!is_number_zero(number), "{printed}");
        }
    }

    #[test]
    fn the_study_has_its_shares_its_picture_and_the_protocol_s_line() {
        let edition = lab_with_a_bench();
        let surroundings = Surroundings::default();
        let view = view(&Composer::new(&edition, &surroundings));
        let study = &view.studies[0];
        assert_eq!((study.rows.len(), study.marks.len()), (4, 8));
        // Within cells four pairs 0.1 apart; pooled with the interaction if that is not significant.
        assert!(study.repeatability.starts_with("repeatability: {s: 0."));
        assert!(study.repeatability.ends_with("}"));
        assert!(study.categories.unwrap() > 5);
    }
}
