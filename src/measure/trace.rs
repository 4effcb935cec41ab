//! The way from readings to a quantity's value, step by step, with numbers.

use super::interval::{Method, Stated};
use super::stands_on_few;
use super::summarise::{CURVE_NOISE, SpecimenSummary, Summary, scatters_more, trials_of};
use crate::lab::{Protocol, QuantitySpec};
use crate::quantity::{Part, fixed, round_half_even};

/// One step of the way from readings to a finding.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct TraceStep {
    /// What the step does.
    pub what: String,
    /// The formula, in symbols.
    pub formula: String,
    /// The formula with this shoe's numbers, and the result.
    pub numbers: String,
}

fn step(what: impl Into<String>, formula: impl Into<String>, numbers: String) -> TraceStep {
    TraceStep {
        what: what.into(),
        formula: formula.into(),
        numbers,
    }
}

/// Effective degrees of freedom as they are printed: whole, cut down (JCGM 100:2008,
/// G.4.1, note), or ∞.
pub fn dof_text(dof: f64) -> String {
    if dof.is_finite() && dof < 1e6 {
        fixed(dof.floor(), 0)
    } else {
        "∞".to_owned()
    }
}

/// The way from a quantity's readings to its value and expanded uncertainty.
pub fn quantity_steps(
    summary: &Summary,
    spec: &QuantitySpec,
    protocol: &Protocol,
) -> Vec<TraceStep> {
    // Two places more than is printed, so that a reader can follow the arithmetic.
    let places = spec.decimals.saturating_add(2);
    let number = |value: f64| fixed(value, places);
    let unit = spec.unit.of_differences();
    let mut steps: Vec<TraceStep> = summary
        .specimens
        .iter()
        .map(|specimen| specimen_step(specimen, spec, places))
        .collect();
    let means: Vec<f64> = summary
        .specimens
        .iter()
        .filter(|specimen| specimen.n() > 0)
        .map(|specimen| specimen.mean)
        .collect();
    if means.len() > 1 {
        let mean = means.iter().sum::<f64>() / means.len() as f64;
        steps.push(step(
            "mean of the specimens' means",
            "x = Σ x̄ᵢ / m",
            format!(
                "({}) / {} = {} {}",
                joined(&means, places),
                means.len(),
                number(mean),
                spec.unit
            ),
        ));
    }
    if let Some(added) = summary.size_step {
        let sign = if added < 0.0 { "−" } else { "+" };
        steps.push(step(
            format!("to the reference size {}", protocol.reference_size.text()),
            "x_ref = x + step × (reference length − length)",
            format!(
                "{sign} {} → {} {}",
                number(added.abs()),
                number(summary.value.value),
                spec.unit
            ),
        ));
    }
    for part in summary.value.parts() {
        steps.push(part_step(part, summary, spec, places));
    }
    let value = &summary.value;
    let Stated {
        expanded: interval,
        method,
    } = summary.stated;
    steps.push(step(
        "combined standard uncertainty (JCGM 100, 5.1.2)",
        "u = √(Σ uᵢ²)",
        format!("{} {unit}", number(value.u())),
    ));
    steps.push(step(
        "effective degrees of freedom (Welch–Satterthwaite, JCGM 100, G.4.1)",
        "ν = u⁴ / Σ (uᵢ⁴ / νᵢ)",
        dof_text(value.dof()),
    ));
    let (what, formula) = match method {
        Method::Draws => (
            "expanded uncertainty, from random draws (JCGM 101, 7.7), since the usual factor does not fit here",
            "U = k · u",
        ),
        Method::Analytic | Method::Grid if stands_on_few(value) => (
            "expanded uncertainty, each part widened by its own factor, since few trials stand beside other parts",
            "U = √(Σ (kᵢ · uᵢ)²) = k · u",
        ),
        Method::Analytic | Method::Grid => ("expanded uncertainty", "U = k · u"),
    };
    steps.push(step(
        what,
        formula,
        format!(
            "{} × {} = {} {unit}, at {} % coverage",
            fixed(interval.k, 2),
            number(value.u()),
            number(interval.U),
            round_half_even(protocol.coverage * 100.0, 2)
        ),
    ));
    steps
}

fn joined(values: &[f64], places: u8) -> String {
    values
        .iter()
        .map(|value| fixed(*value, places))
        .collect::<Vec<_>>()
        .join(" + ")
}

fn specimen_step(specimen: &SpecimenSummary, spec: &QuantitySpec, places: u8) -> TraceStep {
    let used = specimen.used();
    let written: Vec<String> = specimen
        .trials
        .iter()
        .filter(|trial| trial.written.unit.is_some_and(|unit| unit != spec.unit))
        .map(|trial| {
            format!(
                "{} is {} {}",
                trial.written,
                fixed(trial.value, places),
                spec.unit
            )
        })
        .collect();
    let left_out: Vec<String> = specimen
        .trials
        .iter()
        .filter_map(|trial| {
            let reason = trial.left_out.as_ref()?;
            Some(format!("{} left out: {reason}", fixed(trial.value, places)))
        })
        .collect();
    let mut numbers = if used.is_empty() {
        "no reading counts".to_owned()
    } else {
        format!(
            "({}) / {} = {} {}",
            joined(&used, places),
            used.len(),
            fixed(specimen.mean, places),
            spec.unit
        )
    };
    if let Some(deviation) = specimen.deviation {
        numbers.push_str(&format!(", s = {}", fixed(deviation, places)));
    }
    for remark in written.into_iter().chain(left_out) {
        numbers.push_str(&format!("; {remark}"));
    }
    step(
        format!("mean of the trials on {}", specimen.id),
        "x̄ = Σ xⱼ / n",
        numbers,
    )
}

fn part_step(part: &Part, summary: &Summary, spec: &QuantitySpec, places: u8) -> TraceStep {
    use crate::quantity::Shape;
    let unit = spec.unit.of_differences();
    let formula = match part.shape {
        Shape::Student if summary.pooled && !is_own_scatter(part, summary, spec) => {
            "uᵢ = s_p / √n / m (pooled repeatability; JCGM 100, 4.2.4)"
        }
        Shape::Student => "uᵢ = s / √n / m (JCGM 100, 4.2.3)",
        Shape::Rectangular => "uᵢ = step / √12 (JCGM 100, F.2.2.1)",
        Shape::Normal if part.source.name().starts_with(CURVE_NOISE) => {
            "uᵢ = what the scatter and the steps of the curve's rows make of the figure, / m"
        }
        Shape::Normal => "uᵢ = U / k of the certificate (JCGM 100, 4.3.3)",
    };
    step(
        format!("uncertainty from {}", part.source.name()),
        formula,
        format!(
            "{} {unit}, ν = {}",
            fixed(part.u.abs(), places),
            dof_text(part.dof)
        ),
    )
}

/// Whether a part is the scatter of trials that scatter significantly more than the
/// pooled, though the shoe's other specimens take the pooled one.
fn is_own_scatter(part: &Part, summary: &Summary, spec: &QuantitySpec) -> bool {
    summary
        .specimens
        .iter()
        .find(|specimen| trials_of(&summary.quantity, &specimen.id) == part.source)
        .and_then(|specimen| Some(scatters_more(specimen.scatter()?, spec.repeatability?)))
        .unwrap_or(false)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lab::fixture;
    use crate::measure::Trial;
    use crate::quantity::{Expanded, Shape, Source, Uncertain, Unit};
    use crate::shoe::Side;

    #[test]
    fn degrees_of_freedom_are_cut_down_and_many_are_all() {
        for (dof, text) in [
            (2.0, "2"),
            (2.99, "2"),
            (999_999.9, "999999"),
            (1e6, "∞"),
            (f64::INFINITY, "∞"),
        ] {
            assert_eq!(dof_text(dof), text, "{dof}");
        }
    }

    fn specimen(id: &str, readings: &[(&str, f64, Option<&str>)], mean: f64) -> SpecimenSummary {
        SpecimenSummary {
            id: id.into(),
            side: Side::Left,
            trials: readings
                .iter()
                .map(|(written, value, left_out)| Trial {
                    written: written.parse().unwrap(),
                    value: *value,
                    left_out: left_out.map(str::to_owned),
                })
                .collect(),
            mean,
            deviation: (id == "L").then_some(0.577_35),
        }
    }

    fn part(source: &'static str, u: f64, dof: f64, shape: Shape) -> Part {
        let source = Source::new(source);
        Part {
            source,
            u,
            dof,
            shape,
        }
    }

    /// Two of three specimens were read: (787/3 + 261.5)/2 = 261.917, less 5 for the
    /// size. u² = 0.1732² + 1/12 + 0.3² = 0.2033; ν = 58·0.2033²/0.1732⁴ = 2664.4.
    fn summary(specimens: Vec<SpecimenSummary>, size_step: Option<f64>) -> Summary {
        let value = Uncertain::new(
            256.916_667,
            [
                part("trials of mass on L", 0.173_205_08, 58.0, Shape::Student),
                part(
                    "display",
                    1.0 / 12.0_f64.sqrt(),
                    f64::INFINITY,
                    Shape::Rectangular,
                ),
                part("calibration", -0.3, f64::INFINITY, Shape::Normal),
            ],
        );
        let expanded = Expanded {
            U: 1.961 * value.u(),
            k: 1.961,
            coverage: 0.95,
        };
        Summary {
            quantity: "mass".parse().unwrap(),
            unit: Unit::Gram,
            value,
            stated: Stated {
                expanded,
                method: Method::Analytic,
            },
            n: 4,
            specimens,
            size_step,
            pooled: true,
            flags: Vec::new(),
        }
    }

    fn three() -> Vec<SpecimenSummary> {
        vec![
            specimen(
                "L",
                &[
                    ("262", 262.0, None),
                    ("0.263 kg", 263.0, None),
                    ("262 g", 262.0, None),
                    ("300", 300.0, Some("a slip")),
                ],
                787.0 / 3.0,
            ),
            specimen("R", &[("261.5", 261.5, None)], 261.5),
            specimen("X", &[("1", 1.0, Some("torn"))], f64::NAN),
        ]
    }

    /// What each step does and its numbers.
    fn steps(summary: &Summary) -> Vec<(String, String)> {
        let spec = QuantitySpec {
            decimals: 0,
            ..fixture::quantity("Mass", Unit::Gram)
        };
        let steps = quantity_steps(summary, &spec, &fixture::protocol([]));
        steps
            .into_iter()
            .map(|step| (step.what, step.numbers))
            .collect()
    }

    #[test]
    fn every_step_from_the_readings_to_the_interval_stands_with_its_numbers() {
        let found = steps(&summary(three(), Some(-5.0)));
        let expected = [
            (
                "mean of the trials on L",
                "(262.00 + 263.00 + 262.00) / 3 = 262.33 g, s = 0.58; 0.263 kg is 263.00 g; 300.00 left out: a slip",
            ),
            ("mean of the trials on R", "(261.50) / 1 = 261.50 g"),
            (
                "mean of the trials on X",
                "no reading counts; 1.00 left out: torn",
            ),
            (
                "mean of the specimens' means",
                "(262.33 + 261.50) / 2 = 261.92 g",
            ),
            ("to the reference size 270 Mondopoint", "− 5.00 → 256.92 g"),
            ("uncertainty from calibration", "0.30 g, ν = ∞"),
            ("uncertainty from display", "0.29 g, ν = ∞"),
            ("uncertainty from trials of mass on L", "0.17 g, ν = 58"),
            ("combined standard uncertainty (JCGM 100, 5.1.2)", "0.45 g"),
            (
                "effective degrees of freedom (Welch–Satterthwaite, JCGM 100, G.4.1)",
                "2664",
            ),
            (
                "expanded uncertainty",
                "1.96 × 0.45 = 0.88 g, at 95 % coverage",
            ),
        ];
        let expected = expected.map(|(what, numbers)| (what.to_owned(), numbers.to_owned()));
        assert_eq!(found, expected);
    }

    #[test]
    fn a_step_that_was_not_taken_is_not_told() {
        let one = vec![specimen("R", &[("261.5", 261.5, None)], 261.5)];
        let what: Vec<String> = steps(&summary(one, None))
            .into_iter()
            .map(|(what, _)| what)
            .collect();
        assert_eq!(what[0], "mean of the trials on R");
        assert_eq!(what[1], "uncertainty from calibration");
        let larger = steps(&summary(three(), Some(5.0)));
        assert_eq!(larger[4].1, "+ 5.00 → 256.92 g");
    }

    #[test]
    fn the_formulas_say_whose_scatter_it_is_and_what_the_interval_rests_on() {
        let mut summary = summary(three(), None);
        let formulas = |summary: &Summary| -> Vec<String> {
            let spec = fixture::quantity("Mass", Unit::Gram);
            let steps = quantity_steps(summary, &spec, &fixture::protocol([]));
            steps.into_iter().map(|step| step.formula).collect()
        };
        let pooled = formulas(&summary);
        assert!(pooled[6].starts_with("uᵢ = s_p / √n / m (pooled repeatability"));
        assert!(pooled[4].starts_with("uᵢ = U / k of the certificate"));
        assert!(pooled[5].starts_with("uᵢ = step / √12"));
        summary.pooled = false;
        assert!(formulas(&summary)[6].starts_with("uᵢ = s / √n / m (JCGM"));
        summary.stated.method = Method::Draws;
        let last = steps(&summary).pop().unwrap().0;
        assert!(last.contains("from random draws (JCGM 101, 7.7)"), "{last}");
    }

    #[test]
    fn of_several_specimens_each_has_the_scatter_that_was_taken_for_it() {
        let summary = summary(three(), None);
        for (pooled, formula) in [(0.1, "uᵢ = s / √n / m (JCGM"), (0.6, "uᵢ = s_p / √n / m")]
        {
            let spec = QuantitySpec {
                repeatability: Some((pooled, 58.0)),
                ..fixture::quantity("Mass", Unit::Gram)
            };
            let steps = quantity_steps(&summary, &spec, &fixture::protocol([]));
            assert!(
                steps[6].formula.starts_with(formula),
                "{}",
                steps[6].formula
            );
        }
    }

    #[test]
    fn the_noise_of_a_curve_is_no_certificate_and_few_trials_have_a_factor_of_their_own() {
        let mut summary = summary(three(), None);
        summary.value = Uncertain::new(
            61.0,
            [
                part(
                    "noise of the curve for mass on L",
                    0.2,
                    f64::INFINITY,
                    Shape::Normal,
                ),
                part("trials of mass on L", 0.3, 2.0, Shape::Student),
            ],
        );
        let spec = fixture::quantity("Mass", Unit::Gram);
        let protocol = Protocol {
            coverage: 0.9545,
            ..fixture::protocol([])
        };
        let steps = quantity_steps(&summary, &spec, &protocol);
        assert!(steps[4].formula.contains("the curve's rows"), "{steps:?}");
        let last = &steps[steps.len() - 1];
        assert_eq!(last.formula, "U = √(Σ (kᵢ · uᵢ)²) = k · u");
        assert!(last.numbers.ends_with("at 95.45 % coverage"), "{last:?}");
    }
}
