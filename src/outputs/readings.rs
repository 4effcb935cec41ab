//! The numbers behind a review: each quantity with all its readings, and the
//! sessions they were taken in.

use super::composer::Composer;
use super::curve::{CurveAxes, curve_view};
use super::figures::{Print, is_number_zero, minus};
use super::views::{CurveView, FigureView, QuantityView, SessionView, SpecimenView, TrialView};
use super::wording::amount;
use crate::files::Key;
use crate::lab::QuantitySpec;
use crate::measure::hysteresis::Estimate;
use crate::measure::{SpecimenSummary, Summary, Trial, loop_figures, read_loop, working_units};
use crate::quantity::{
    Amount, Part, Shape, Source, Uncertain, Unit, decimals_for_uncertainty, fixed,
};
use crate::rules::Judged;
use crate::shoe::{Side, Way};
use crate::words::{said, say};

/// The most places a reading is shown with.
const MOST_PLACES: u8 = 6;

/// From this many degrees of freedom on, a table says `∞`: the coverage factor
/// at 95 % is that of infinitely many to five digits.
const MANY: f64 = 100_000.0;

/// Every quantity of the protocol, in its order; where a shoe lacks one, why.
pub(super) fn quantities(composer: &Composer<'_>, judged: &Judged) -> Vec<QuantityView> {
    let specs = composer.edition.lab.protocol.quantities.iter();
    specs
        .map(|(key, spec)| match judged.quantities.get(key) {
            Some(Ok(summary)) => measured(composer, key, spec, summary),
            Some(Err(absent)) => bare(composer, key, spec, Some(composer.retell(&absent.reason))),
            None => bare(
                composer,
                key,
                spec,
                Some(composer.retell(&said!("it was not measured"))),
            ),
        })
        .collect()
}

fn bare(
    composer: &Composer<'_>,
    key: &Key,
    spec: &QuantitySpec,
    absent: Option<String>,
) -> QuantityView {
    QuantityView {
        key: key.to_string(),
        label: composer.word(&spec.label),
        what: composer.word(&spec.what),
        unit: spec.unit.symbol().to_owned(),
        figure: None,
        absent,
        k: None,
        dof: None,
        n: 0,
        instrument: composer.instrument(&spec.instrument),
        specimens: Vec::new(),
        size_step: None,
        pooled: false,
    }
}

fn measured(
    composer: &Composer<'_>,
    key: &Key,
    spec: &QuantitySpec,
    summary: &Summary,
) -> QuantityView {
    let wide = summary.stated.expanded;
    let order = composer.edition.lab.settings.units;
    let certain = summary.value.parts().is_empty();
    QuantityView {
        figure: Some(
            composer.figure(Print::quantity(spec, order).figure_within(&summary.value, wide.U)),
        ),
        k: (!certain).then(|| composer.number(&fixed(wide.k, 2))),
        dof: (!certain).then(|| freedom(summary.value.dof())),
        n: summary.n,
        specimens: summary
            .specimens
            .iter()
            .map(|specimen| specimen_view(composer, spec, specimen))
            .collect(),
        size_step: summary
            .size_step
            .map(|step| composer.number(&size_step(spec, step))),
        pooled: summary.pooled,
        ..bare(composer, key, spec, None)
    }
}

/// Degrees of freedom, cut down to a whole number (JCGM 100:2008, G.4.1).
fn freedom(dof: f64) -> String {
    if dof >= MANY {
        "∞".into()
    } else {
        fixed(dof.floor(), 0)
    }
}

/// What was added to compare at the reference size: `+4 g`.
fn size_step(spec: &QuantitySpec, step: f64) -> String {
    let mut number = fixed(step, spec.decimals);
    if is_number_zero(&number) && step != 0.0 {
        number = fixed(step, spec.decimals.saturating_add(1));
    }
    let sign = if step > 0.0 { "+" } else { "" };
    format!("{sign}{} {}", minus(&number), spec.unit.of_differences())
}

fn specimen_view(
    composer: &Composer<'_>,
    spec: &QuantitySpec,
    specimen: &SpecimenSummary,
) -> SpecimenView {
    let mean_places = spec.decimals.saturating_add(1);
    SpecimenView {
        id: specimen.id.clone(),
        side: side_word(composer, specimen.side),
        trials: specimen
            .trials
            .iter()
            .map(|trial| trial_view(composer, spec, trial))
            .collect(),
        mean: composer.number(&minus(&fixed(specimen.mean, mean_places))),
        deviation: specimen.deviation.map(|deviation| {
            let places = decimals_for_uncertainty(deviation, mean_places.saturating_add(1));
            composer.number(&fixed(deviation, places))
        }),
    }
}

/// A reading: as fine as it was written, or one place beyond the quantity's
/// decimals where it was worked out: converted, or taken from a curve. What nobody
/// read off an instrument has as many digits as the sum brings, and they mean
/// nothing; the data files keep them.
fn trial_view(composer: &Composer<'_>, spec: &QuantitySpec, trial: &Trial) -> TrialView {
    let converted = trial.written.unit.is_some_and(|unit| unit != spec.unit);
    let places = if converted || spec.from.is_some() {
        spec.decimals.saturating_add(1)
    } else {
        written_places(trial.value).clamp(spec.decimals, MOST_PLACES.max(spec.decimals))
    };
    let left_out = trial
        .left_out
        .as_deref()
        .map(|reason| composer.editors(reason));
    TrialView {
        number: composer.number(&minus(&fixed(trial.value, places))),
        written: converted.then(|| amount(composer.language, trial.written)),
        left_out_language: left_out.and_then(|reason| reason.language(composer)),
        left_out: left_out.map(|reason| reason.text.to_owned()),
    }
}

/// The decimals of the shortest text that stands for a number.
pub(super) fn written_places(value: f64) -> u8 {
    let text = format!("{value}");
    let decimals = text
        .split_once('.')
        .map_or(0, |(_, decimals)| decimals.len());
    u8::try_from(decimals).unwrap_or(u8::MAX)
}

/// Left or right, in words.
fn side_word(composer: &Composer<'_>, side: Side) -> String {
    match side {
        Side::Left => say!(composer, "[side] left"),
        Side::Right => say!(composer, "[side] right"),
    }
}

/// Left or right, as data files say it.
pub(super) fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
    }
}

/// The sessions, one a specimen, in the file's order.
pub(super) fn sessions(composer: &Composer<'_>, judged: &Judged) -> Vec<SessionView> {
    let operators = &composer.edition.lab.settings.operators;
    let specimens = judged.shoe.file.specimens.iter();
    specimens
        .map(|specimen| {
            let session = &specimen.session;
            SessionView {
                specimen: specimen.id.clone(),
                side: side_word(composer, specimen.side),
                on: composer.date(session.on),
                operator: operators
                    .get(&session.operator)
                    .cloned()
                    .unwrap_or_else(|| session.operator.to_string()),
                temperature: in_unit(composer, session.temperature, Unit::Celsius),
                humidity: in_unit(composer, session.humidity, Unit::Percent),
                soaked: in_unit(composer, session.soaked, Unit::Hour),
                bought: specimen.bought.as_ref().map(|bought| {
                    let day = composer.day(bought.on);
                    match bought.how {
                        Way::Retail => say!(composer, "bought in a shop on {day}", day = day),
                        Way::Lent => say!(composer, "lent by the maker on {day}", day = day),
                        Way::Given => say!(composer, "given by the maker on {day}", day = day),
                    }
                }),
            }
        })
        .collect()
}

/// An amount as it was written; a bare number is in the unit its place implies.
fn in_unit(composer: &Composer<'_>, written: Amount, implied: Unit) -> String {
    let whole = Amount {
        unit: Some(written.unit.unwrap_or(implied)),
        ..written
    };
    amount(composer.language, whole)
}

/// The pictures of a shoe's raw curves, with what each loop comes to.
pub(super) fn curves(composer: &Composer<'_>, judged: &Judged) -> Vec<CurveView> {
    let protocol = &composer.edition.lab.protocol;
    judged
        .shoe
        .curves
        .iter()
        .filter_map(|curve| {
            let spec = protocol.curves.get(&curve.key)?;
            let read = read_loop(curve, spec).ok()?;
            let specimen = judged.shoe.file.specimens.get(curve.specimen)?;
            let (travel, load) = working_units(spec);
            let figures = loop_figures(&read, spec)
                .into_iter()
                .map(|(what, found, unit)| {
                    let figure = loop_figure(found, unit, protocol.coverage);
                    (composer.retell(what), composer.figure(figure))
                })
                .collect();
            curve_view(
                composer.language,
                &composer.word(&spec.label),
                &specimen.id,
                read.loading(),
                read.unloading(),
                CurveAxes { travel, load },
                figures,
            )
        })
        .collect()
}

/// A loop's figure with the uncertainty that the scatter of its own rows gives
/// it; what the instruments add is not in it.
fn loop_figure(found: Estimate, unit: Unit, coverage: f64) -> FigureView {
    let noise = Part {
        source: Source::new("noise of the curve"),
        u: found.u,
        dof: f64::INFINITY,
        shape: Shape::Normal,
    };
    Print::plain(unit, 3).figure(&Uncertain::new(found.value, [noise]), coverage)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    fn trial(text: &str, spec: &QuantitySpec) -> TrialView {
        let edition = testing::edition();
        let surroundings = crate::outputs::Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let written: Amount = text.parse().unwrap();
        let value = written.in_unit(spec.unit).unwrap();
        trial_view(
            &composer,
            spec,
            &Trial {
                written,
                value,
                left_out: None,
            },
        )
    }

    #[test]
    fn a_reading_is_shown_as_fine_as_it_was_written() {
        let lab = testing::lab();
        let spec = lab.protocol.quantities.get("midfoot-torque").unwrap();
        assert_eq!(trial("4.3", spec).number, "4.30");
        assert_eq!(trial("4.125", spec).number, "4.125");
        let converted = trial("38 in·lbf", spec);
        assert_eq!(converted.number, "4.293");
        assert_eq!(converted.written.as_deref(), Some("38 in·lbf"));
    }

    #[test]
    fn a_reading_taken_from_a_curve_shows_no_digits_that_nobody_read() {
        let lab = testing::lab();
        let mut spec = lab
            .protocol
            .quantities
            .get("rebound-travel")
            .unwrap()
            .clone();
        assert_eq!(trial("13.055084", &spec).number, "13.055084");
        spec.from = Some((
            testing::key("heel-load-curve"),
            crate::lab::CurveFigure::Travel,
        ));
        assert_eq!(trial("13.055084", &spec).number, "13.06");
    }

    #[test]
    fn a_drawn_uncertainty_is_the_same_in_figure_factor_data_and_doubt() {
        let mut edition = testing::edition();
        let slug = testing::slug("quarrel-2");
        let at = edition
            .shoes
            .iter()
            .position(|one| one.shoe.slug == slug)
            .unwrap();
        let key = testing::key("mass");
        let step = Part {
            source: Source::new("resolution of a coarse scale"),
            u: 10.0 / 12_f64.sqrt(),
            dof: f64::INFINITY,
            shape: Shape::Rectangular,
        };
        let Some(Ok(mass)) = edition.shoes[at].quantities.get_mut(&key) else {
            panic!("mass was measured")
        };
        mass.value = Uncertain::new(mass.value.value, [step]);
        mass.stated = crate::measure::interval::stated(
            &mass.value,
            0.95,
            &crate::measure::drawn::Drawn::default(),
        );
        let surroundings = crate::outputs::Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let judged = edition.shoe(&slug).unwrap();
        let shown = quantities(&composer, judged);
        let mass = shown.iter().find(|one| one.key == "mass").unwrap();
        // Half of 95 % of a step of 10 g; k·u of the normal law would say 5.7 g.
        assert_eq!(
            mass.figure.as_ref().unwrap().uncertainty.as_deref(),
            Some("4.8")
        );
        assert_eq!(mass.k.as_deref(), Some("1.65"));
        let records = crate::outputs::records::quantities(&composer, judged);
        let record = records.iter().find(|one| one.quantity == &key).unwrap();
        let wide = record.figures.expanded_uncertainty.unwrap();
        assert!((wide - 4.75).abs() < 0.05, "{wide}");
        let doubts = crate::outputs::doubts::doubts(&composer, judged);
        let drawn = doubts
            .iter()
            .find(|doubt| doubt.code == "drawn-interval")
            .unwrap();
        assert!(drawn.message.contains("mass"), "{}", drawn.message);
    }

    #[test]
    fn a_size_step_carries_its_sign() {
        let lab = testing::lab();
        let mass = lab.protocol.quantities.get("mass").unwrap();
        assert_eq!(size_step(mass, 4.0), "+4 g");
        assert_eq!(size_step(mass, -4.0), "\u{2212}4 g");
    }

    #[test]
    fn degrees_of_freedom_are_cut_down_to_a_whole_number() {
        assert_eq!(freedom(16.7), "16");
        assert_eq!(freedom(f64::INFINITY), "∞");
    }
}
