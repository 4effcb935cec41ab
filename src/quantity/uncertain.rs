//! A value with the parts of its uncertainty.
//!
//! The parts are kept apart by what they come from, so that two quantities that
//! share a cause (the calibration of the instrument both were read on, or a
//! quantity that enters a blend twice) stay correlated when they are combined:
//! parts of one source add with their signs, parts of different sources add in
//! quadrature (JCGM 100:2008, 5.1.2 and 5.2.2 with r = 0 or ±1).

use std::sync::Arc;

/// What a part of an uncertainty comes from, such as
/// `calibration of torque-1` or `trials of mass`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Source(Arc<str>);

impl Source {
    /// Names a source. Equal names are the same cause.
    pub fn new(name: impl Into<Arc<str>>) -> Self {
        Source(name.into())
    }

    /// The source's name.
    pub fn name(&self) -> &str {
        &self.0
    }
}

/// How a part's error is distributed; only draws (JCGM 101) look at it.
///
/// In order of their tails, the lightest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shape {
    /// Anywhere within half a step, equally likely.
    Rectangular,
    /// Known from a certificate.
    Normal,
    /// A mean of trials: Student's t with the part's degrees of freedom.
    Student,
}

/// One part of an uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// What it comes from.
    pub source: Source,
    /// Standard uncertainty it contributes, in the value's unit; negative where
    /// the cause moves the value the other way.
    pub u: f64,
    /// Degrees of freedom; infinite where the standard uncertainty is known.
    pub dof: f64,
    /// How the cause's error is distributed.
    pub shape: Shape,
}

impl Part {
    /// Takes in another part of the same source: they add with their signs. Of
    /// two degrees of freedom the fewer are kept, and of two shapes the one with
    /// the heavier tails, whatever the order.
    pub(crate) fn absorb(&mut self, other: &Part) {
        self.u += other.u;
        self.dof = self.dof.min(other.dof);
        self.shape = self.shape.max(other.shape);
    }
}

/// An expanded uncertainty.
#[expect(non_snake_case, reason = "U is the symbol of JCGM 100")]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expanded {
    /// Half-width of the interval, in the value's unit.
    pub U: f64,
    /// Coverage factor.
    pub k: f64,
    /// Coverage probability, 0 to 1.
    pub coverage: f64,
}

/// A value with the parts of its uncertainty, all in one unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Uncertain {
    /// The estimate.
    pub value: f64,
    /// Its parts, one a source, in order of source.
    parts: Vec<Part>,
}

impl Uncertain {
    /// A value and its parts; parts of one source are added with their signs.
    ///
    /// # Panics
    /// If a part's degrees of freedom are not positive: a standard uncertainty
    /// that nothing is known about is no standard uncertainty.
    pub fn new(value: f64, parts: impl IntoIterator<Item = Part>) -> Self {
        let mut sorted: Vec<Part> = parts.into_iter().filter(|part| part.u != 0.0).collect();
        for part in &sorted {
            assert!(
                part.dof > 0.0,
                "degrees of freedom of {} are positive",
                part.source.name()
            );
        }
        sorted.sort_by(|a, b| a.source.cmp(&b.source));
        let mut merged: Vec<Part> = Vec::with_capacity(sorted.len());
        for part in sorted {
            match merged.last_mut() {
                Some(last) if last.source == part.source => last.absorb(&part),
                _ => merged.push(part),
            }
        }
        merged.retain(|part| part.u != 0.0);
        Uncertain {
            value,
            parts: merged,
        }
    }

    /// A value without uncertainty, such as a defined constant.
    pub fn exact(value: f64) -> Self {
        Uncertain {
            value,
            parts: Vec::new(),
        }
    }

    /// The parts, one a source, in order of source.
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// Combined standard uncertainty (JCGM 100:2008, 5.1.2).
    pub fn u(&self) -> f64 {
        let largest = self.largest();
        if largest == 0.0 {
            return 0.0;
        }
        let squares: f64 = self.parts.iter().map(|p| (p.u / largest).powi(2)).sum();
        largest * squares.sqrt()
    }

    /// Effective degrees of freedom by the Welch–Satterthwaite formula
    /// (JCGM 100:2008, G.4.1); infinite if every part's are. Parts of one source
    /// are one term, as they are wholly correlated.
    pub fn dof(&self) -> f64 {
        // Everything over the largest part, so that no fourth power under- or overflows.
        let largest = self.largest();
        let shares = self.parts.iter().map(|p| ((p.u / largest).powi(2), p.dof));
        let (variance, sum) = shares.fold((0.0, 0.0), |(variance, sum), (share, dof)| {
            (variance + share, sum + share * share / dof)
        });
        if sum == 0.0 {
            f64::INFINITY
        } else {
            variance * variance / sum
        }
    }

    /// Size of the largest part.
    fn largest(&self) -> f64 {
        self.parts.iter().map(|p| p.u.abs()).fold(0.0, f64::max)
    }

    /// The value `value` moved by `factor` for each unit this one moves: the
    /// first-order law of propagation for one input (JCGM 100:2008, 5.1.2).
    pub fn through(&self, value: f64, factor: f64) -> Self {
        Uncertain::new(
            value,
            self.parts.iter().map(|part| Part {
                u: part.u * factor,
                ..part.clone()
            }),
        )
    }

    /// A value that depends on several inputs by their sensitivity
    /// coefficients, with shared sources kept correlated
    /// (JCGM 100:2008, 5.1.2 and 5.2.2).
    pub fn combine<'a>(value: f64, inputs: impl IntoIterator<Item = (f64, &'a Uncertain)>) -> Self {
        Uncertain::new(
            value,
            inputs.into_iter().flat_map(|(sensitivity, input)| {
                input.parts.iter().map(move |part| Part {
                    u: part.u * sensitivity,
                    ..part.clone()
                })
            }),
        )
    }
}
