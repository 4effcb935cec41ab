//! The method page: protocol, instruments, rule set with its history,
//! uncertainty, cautions, and every correction.

use super::composer::Composer;
use super::drift;
use super::entry;
use super::figures::{coordinate, minus, with_unit};
use super::linked_data;
use super::output::{Output, Sheet, Subject, Surroundings};
use super::review::correction_view;
use super::sheets::{self, page};
use super::statistics::statistics;
use super::views::{
    CorrectionView, DateView, InstrumentView, LinkView, MethodQuantityView, MethodRuleView,
    MethodView,
};
use super::wording::{amount, as_fixed, sentence, size};
use crate::edition::Edition;
use crate::files::{Date, Key};
use crate::lab::{Conditioning, Instrument, QuantitySpec, Spread};
use crate::quantity::Unit;
use crate::rules::{Form, Rule};
use crate::words::say;
use std::cmp::Reverse;

/// The method page.
pub(super) struct Method;

impl Output for Method {
    fn name(&self) -> &'static str {
        "method"
    }

    fn plan<'e>(&self, edition: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        let composer = Composer::new(edition, surroundings);
        vec![page(
            self.name(),
            Subject::Folio,
            sheets::path("method/index.html"),
            "method.html",
            move || method_view(&composer),
        )]
    }
}

fn method_view(composer: &Composer<'_>) -> MethodView {
    let lab = &composer.edition.lab;
    let protocol = &lab.protocol;
    let rules = &composer.edition.rules;
    let mut head = composer.head(
        &sheets::path("method/index.html"),
        &say!(composer, "How it is measured"),
        &say!(
            composer,
            "Protocol, instruments, rule set, uncertainty and all corrections."
        ),
    );
    head.linked_data = Some(linked_data::data_set(composer));
    MethodView {
        site: composer.site(),
        head,
        cautions: composer.phrases().cautions.long.clone(),
        protocol_effective: composer.date(protocol.effective),
        coverage: composer.coverage(),
        conditioning: conditioning(composer, &protocol.conditioning),
        reference_size: size(composer.language, protocol.reference_size),
        minimum_shoes: protocol.minimum_shoes,
        quantities: protocol
            .quantities
            .iter()
            .map(|(_, spec)| quantity(composer, spec))
            .collect(),
        instruments: lab
            .instruments
            .iter()
            .map(|(_, known)| instrument(composer, known))
            .collect(),
        statistics: statistics(composer),
        bench: drift::address(lab),
        rules_effective: composer.date(rules.effective),
        borderline_below: composer.percent(rules.borderline_below),
        rules: rules
            .rules
            .iter()
            .map(|(key, judging)| rule(composer, key, judging.as_ref()))
            .collect(),
        history: history(composer),
        corrections: corrections(composer),
    }
}

fn number(composer: &Composer<'_>, value: f64) -> String {
    as_fixed(composer.language, value)
}

fn with(composer: &Composer<'_>, value: f64, unit: Unit) -> String {
    with_unit(&number(composer, value), unit)
}

fn conditioning(composer: &Composer<'_>, conditioning: &Conditioning) -> Vec<String> {
    let fahrenheit = conditioning.temperature * 9.0 / 5.0 + 32.0;
    let tolerance = conditioning.temperature_tolerance * 9.0 / 5.0;
    let number = |value: f64| number(composer, value);
    let tenths = |value: f64| composer.number(&minus(&coordinate(value)));
    let celsius = format!(
        "{} \u{b1} {} °C",
        number(conditioning.temperature),
        number(conditioning.temperature_tolerance)
    );
    let fahrenheit = format!("{} \u{b1} {} °F", tenths(fahrenheit), tenths(tolerance));
    vec![
        say!(
            composer,
            "Temperature {celsius} ({fahrenheit}).",
            celsius = celsius,
            fahrenheit = fahrenheit
        ),
        say!(
            composer,
            "Relative humidity {humidity} ± {tolerance} %.",
            humidity = number(conditioning.humidity),
            tolerance = number(conditioning.humidity_tolerance)
        ),
        say!(
            composer,
            "At least {hours} h in these conditions before it is measured.",
            hours = number(conditioning.soak)
        ),
    ]
}

fn quantity(composer: &Composer<'_>, spec: &QuantitySpec) -> MethodQuantityView {
    let (low, high) = spec.plausible;
    MethodQuantityView {
        label: composer.word(&spec.label),
        what: composer.word(&spec.what),
        at: spec.at.map(|at| amount(composer.language, at)),
        units: match spec.also {
            Some(also) => format!("{}, {also}", spec.unit),
            None => spec.unit.symbol().to_owned(),
        },
        trials: spec.trials,
        spread: spec.spread.map(|spread| match spread {
            Spread::Absolute(most) => with(composer, most, spec.unit.of_differences()),
            Spread::OfMean(share) => {
                say!(
                    composer,
                    "{share} of the mean",
                    share = composer.percent(share)
                )
            }
        }),
        plausible: say!(
            composer,
            "{from} to {to}",
            from = number(composer, low),
            to = with(composer, high, spec.unit)
        ),
        repeatability: spec.repeatability.map(|(s, dof)| {
            say!(
                composer,
                "s = {deviation} with {n} degrees of freedom",
                one = "s = {deviation} with {n} degree of freedom",
                deviation = with(composer, s, spec.unit.of_differences()),
                n = number(composer, dof)
            )
        }),
        instrument: composer.instrument(&spec.instrument),
    }
}

fn instrument(composer: &Composer<'_>, instrument: &Instrument) -> InstrumentView {
    let calibration = &instrument.calibration;
    InstrumentView {
        label: composer.word(&instrument.label),
        resolution: amount(composer.language, instrument.resolution),
        uncertainty: format!(
            "{} (k = {})",
            amount(composer.language, calibration.uncertainty),
            number(composer, calibration.k)
        ),
        on: composer.date(calibration.on),
        due: composer.date(calibration.due),
    }
}

fn rule(composer: &Composer<'_>, key: &Key, rule: &dyn Rule) -> MethodRuleView {
    let method = rule.method();
    let bands = match composer.form(key) {
        Some(Form::Band(scale)) => {
            let starts = std::iter::once(0.0).chain(scale.cuts.iter().copied());
            let named = scale.names.iter().zip(starts);
            named
                .map(|(name, from)| {
                    say!(
                        composer,
                        "{band} from {score}",
                        band = composer.word(name),
                        score = number(composer, from)
                    )
                })
                .collect()
        }
        _ => Vec::new(),
    };
    MethodRuleView {
        key: key.to_string(),
        label: composer.word(rule.label()),
        kind: composer.say(rule.head().kind_word, &[]),
        plain: composer.retell(&method.plain),
        formula: method.formula,
        bands,
    }
}

/// The rule set's history up to its own version, latest first.
fn history(composer: &Composer<'_>) -> Vec<(u32, DateView, String, Option<String>)> {
    let mut lines: Vec<_> = composer.edition.rules.history.iter().collect();
    lines.sort_by_key(|line| Reverse((line.effective, line.version)));
    lines
        .into_iter()
        .map(|line| {
            let note = composer.editors(&line.note);
            (
                line.version,
                composer.date(line.effective),
                note.text.to_owned(),
                note.language(composer),
            )
        })
        .collect()
}

/// All corrections of what is out, latest first; a review taken back is one.
fn corrections(composer: &Composer<'_>) -> Vec<(LinkView, CorrectionView)> {
    let edition = composer.edition;
    let mut all: Vec<(Date, LinkView, CorrectionView)> = Vec::new();
    for judged in &edition.shoes {
        let link = || LinkView {
            text: judged.shoe.title(),
            href: entry::path(&judged.shoe.slug),
        };
        if let Some(withdrawn) = composer.withdrawn(judged) {
            // What was corrected before it was taken back is taken back with it.
            let reason = composer.editors(&withdrawn.reason);
            let view = CorrectionView {
                on: composer.date(withdrawn.on),
                because: sentence(reason.text),
                because_language: reason.language(composer),
                changes: vec![say!(composer, "The review was withdrawn.")],
                versions: String::new(),
            };
            all.push((withdrawn.on, link(), view));
            continue;
        }
        let own = edition.corrections.get(&judged.shoe.slug);
        for correction in own.into_iter().flatten() {
            all.push((correction.on, link(), correction_view(composer, correction)));
        }
    }
    all.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.text.cmp(&b.1.text)));
    all.into_iter()
        .map(|(_, link, view)| (link, view))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn it_tells_the_protocol_in_words_with_units() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let view = method_view(&Composer::new(&edition, &surroundings));
        assert_eq!(view.coverage, "95 %");
        assert_eq!(view.borderline_below, "80 %");
        assert_eq!(
            view.conditioning[0],
            "Temperature 23 \u{b1} 1.5 °C (73.4 \u{b1} 2.7 °F)."
        );
        let torque = view
            .quantities
            .iter()
            .find(|q| q.label == "Midfoot torque")
            .unwrap();
        assert_eq!(torque.at.as_deref(), Some("15°"));
        assert_eq!(torque.spread.as_deref(), Some("12 % of the mean"));
        assert_eq!(torque.plausible, "0.3 to 15 N·m");
        let torsion = view
            .rules
            .iter()
            .find(|rule| rule.key == "torsion")
            .unwrap();
        assert_eq!(torsion.bands[3], "high from 60");
        assert_eq!(view.history[0].0, 4);
    }

    #[test]
    fn one_degree_of_freedom_is_one() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let spec = composer.quantity(&testing::key("loaded-drop")).unwrap();
        for (dof, told) in [
            (58.0, "s = 0.12 mm with 58 degrees of freedom"),
            (1.0, "s = 0.12 mm with 1 degree of freedom"),
            (1.5, "s = 0.12 mm with 1.5 degrees of freedom"),
        ] {
            let spec = QuantitySpec {
                repeatability: Some((0.12, dof)),
                ..spec.clone()
            };
            let view = quantity(&composer, &spec);
            assert_eq!(view.repeatability.as_deref(), Some(told));
        }
    }

    #[test]
    fn it_lists_corrections_of_what_is_out_and_nothing_else() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let view = method_view(&Composer::new(&edition, &surroundings));
        let told: Vec<(&str, &str)> = view
            .corrections
            .iter()
            .map(|(link, correction)| (link.href.as_str(), correction.on.iso.as_str()))
            .collect();
        assert_eq!(
            told,
            [
                ("shoes/skua/", "2026-11-25"),
                ("shoes/tern-1/", "2026-11-24")
            ]
        );
    }
}
