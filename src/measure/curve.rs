//! Figures of a shoe's raw curves, by the protocol: which loop, which figure.

use super::hysteresis::{Axes, Estimate, Loop, LoopError, Settings};
use crate::lab::{CurveFigure, CurveSpec, QuantitySpec};
use crate::quantity::{Dimension, Unit};
use crate::shoe::RawCurve;
use crate::words::{said, text};

/// The units in which a curve of this specification is worked out: millimetres
/// and newtons, or degrees and newton metres.
pub fn working_units(spec: &CurveSpec) -> (Unit, Unit) {
    match spec.load.dimension() {
        Dimension::Torque => (Unit::Degree, Unit::NewtonMetre),
        _ => (Unit::Millimetre, Unit::Newton),
    }
}

/// Reads a curve's loop.
///
/// # Errors
/// [`LoopError`] if its rows are no loop, hold fewer cycles than the protocol
/// wants, or never reach the load it goes to.
pub fn read_loop(curve: &RawCurve, spec: &CurveSpec) -> Result<Loop, LoopError> {
    let axes = match spec.load.dimension() {
        Dimension::Torque => Axes::TorqueAngle,
        _ => Axes::LoadTravel,
    };
    let rows: Vec<(f64, f64)> = curve
        .travel
        .iter()
        .copied()
        .zip(curve.load.iter().copied())
        .collect();
    let settings = Settings {
        cycles: spec.cycles,
        ..Settings::new(axes)
    };
    let read = Loop::from_rows(&rows, settings)?;
    read.travel_at(end(spec))?;
    Ok(read)
}

/// The load the loop goes to, in the working unit.
fn end(spec: &CurveSpec) -> f64 {
    spec.load
        .convert(spec.to, working_units(spec).1)
        .unwrap_or(spec.to)
}

/// One figure of a loop, in the quantity's unit.
///
/// # Errors
/// A clause that says why there is none.
pub fn curve_figure(
    read: &Loop,
    spec: &CurveSpec,
    quantity: &QuantitySpec,
    take: CurveFigure,
) -> Result<Estimate, String> {
    let (travel, load) = working_units(spec);
    let (stiffness, to) = (stiffness_unit(load), end(spec));
    let reason = |error: LoopError| said!("its curve can't be used: {reason}", reason = error);
    let (found, unit) = match take {
        CurveFigure::Travel => (read.travel_at(to).map_err(reason)?, travel),
        CurveFigure::Load => {
            let at = quantity
                .at
                .ok_or("the protocol does not say at which travel")?;
            let at = at.in_unit(travel).map_err(|error| error.to_string())?;
            (read.load_at(at).map_err(reason)?, load)
        }
        CurveFigure::SecantStiffness => {
            (read.secant_stiffness(0.0, to).map_err(reason)?, stiffness)
        }
        CurveFigure::TangentStiffness => (read.tangent_stiffness(to).map_err(reason)?, stiffness),
        CurveFigure::EnergyIn => (read.energy().stored, Unit::Joule),
        CurveFigure::EnergyBack => (read.energy().returned, Unit::Joule),
        CurveFigure::EnergyLost => (read.energy().lost, Unit::Joule),
        CurveFigure::EnergyReturn => {
            let back = read
                .energy()
                .energy_return
                .ok_or(text!("no energy was put in"))?;
            (back, Unit::Percent)
        }
    };
    let factor = unit
        .sensitivity(quantity.unit)
        .map_err(|error| error.to_string())?;
    Ok(Estimate {
        value: found.value * factor,
        u: found.u * factor,
    })
}

fn stiffness_unit(load: Unit) -> Unit {
    match load {
        Unit::NewtonMetre => Unit::NewtonMetrePerDegree,
        _ => Unit::NewtonPerMillimetre,
    }
}

/// Every figure of a loop, for its picture: what it is, the number with the
/// loop's own uncertainty, its unit.
pub fn loop_figures(read: &Loop, spec: &CurveSpec) -> Vec<(&'static str, Estimate, Unit)> {
    let (travel, load) = working_units(spec);
    let to = end(spec);
    let energy = read.energy();
    let mut figures = Vec::new();
    figures.extend(
        read.travel_at(to)
            .ok()
            .map(|found| (text!("Travel at the load"), found, travel)),
    );
    figures.extend(
        read.tangent_stiffness(to)
            .ok()
            .map(|found| (text!("Stiffness at the load"), found, stiffness_unit(load))),
    );
    figures.push((text!("Energy in"), energy.stored, Unit::Joule));
    figures.push((text!("Energy back"), energy.returned, Unit::Joule));
    figures.push((text!("Energy lost"), energy.lost, Unit::Joule));
    figures.extend(
        energy
            .energy_return
            .map(|found| (text!("Energy return"), found, Unit::Percent)),
    );
    figures
}
