//! The way from readings to a quantity's value, step by step, with numbers.

use super::interval::{Method, Stated};
use super::summarise::{SpecimenSummary, Summary};
use crate::lab::{Protocol, QuantitySpec};
use crate::quantity::{Part, fixed};

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
    steps.push(step(
        match method {
            Method::Analytic | Method::Grid => "expanded uncertainty",
            Method::Draws => {
                "expanded uncertainty, from random draws (JCGM 101, 7.7), since the usual factor does not fit here"
            }
        },
        "U = k · u",
        format!(
            "{} × {} = {} {unit}, at {} % coverage",
            fixed(interval.k, 2),
            number(value.u()),
            number(interval.U),
            fixed(protocol.coverage * 100.0, 0)
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
        Shape::Student if summary.pooled => {
            "uᵢ = s_p / √n / m (pooled repeatability; JCGM 100, 4.2.4)"
        }
        Shape::Student => "uᵢ = s / √n / m (JCGM 100, 4.2.3)",
        Shape::Rectangular => "uᵢ = step / √12 (JCGM 100, F.2.2.1)",
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
