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
    /// Its parts, one a source, in order of source; a folio keeps some hundred
    /// thousand of these lists, so they hold no room for more.
    parts: Box<[Part]>,
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
        sorted.dedup_by(|part, last| {
            let one = last.source == part.source;
            if one {
                last.absorb(part);
            }
            one
        });
        sorted.retain(|part| part.u != 0.0);
        Uncertain {
            value,
            parts: sorted.into(),
        }
    }

    /// A value without uncertainty, such as a defined constant.
    pub fn exact(value: f64) -> Self {
        Uncertain {
            value,
            parts: Box::default(),
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn part(source: &str, u: f64, dof: f64) -> Part {
        Part {
            source: Source::new(source),
            u,
            dof,
            shape: Shape::Student,
        }
    }

    #[test]
    fn an_exact_value_has_no_uncertainty_and_endless_degrees_of_freedom() {
        let constant = Uncertain::exact(9.80665);
        assert_eq!((constant.u(), constant.dof()), (0.0, f64::INFINITY));
        assert_eq!(constant.through(1.0, 5.0).parts(), []);
    }

    #[test]
    fn parts_that_are_known_leave_the_freedom_of_the_others() {
        let value = Uncertain::new(
            4.2,
            [
                part("trials", 3.0, 2.0),
                part("calibration", 4.0, f64::INFINITY),
            ],
        );
        assert_eq!(value.u(), 5.0);
        // (9 + 16)² / (81/2)
        assert!((value.dof() - 625.0 / 40.5).abs() < 1e-12);
        let known = Uncertain::new(4.2, [part("calibration", 4.0, f64::INFINITY)]);
        assert_eq!(known.dof(), f64::INFINITY);
    }

    #[test]
    fn a_part_that_moves_the_value_down_counts_as_one_that_moves_it_up() {
        for u in [-2.0, -1.0, -0.5] {
            let value = Uncertain::new(0.0, [part("bench", u, 6.0)]);
            assert_eq!((value.u(), value.dof()), (-u, 6.0));
        }
        assert_eq!(Source::new("bench").name(), "bench");
    }

    #[test]
    fn parts_of_one_source_add_with_their_signs_and_are_one_term() {
        let both = Uncertain::new(0.0, [part("bench", 3.0, 6.0), part("bench", 4.0, 6.0)]);
        assert_eq!((both.u(), both.dof()), (7.0, 6.0));
        let none = Uncertain::new(0.0, [part("bench", 3.0, 6.0), part("bench", -3.0, 6.0)]);
        assert_eq!((none.u(), none.parts().len()), (0.0, 0));
    }

    #[test]
    fn of_two_statements_about_one_source_the_more_careful_one_is_kept() {
        let normal = Part {
            shape: Shape::Normal,
            ..part("bench", 1.0, f64::INFINITY)
        };
        let student = part("bench", 1.0, 5.0);
        for order in [[normal.clone(), student.clone()], [student, normal]] {
            let merged = Uncertain::new(0.0, order);
            assert_eq!(merged.parts()[0].dof, 5.0);
            assert_eq!(merged.parts()[0].shape, Shape::Student);
        }
    }

    #[test]
    fn uncertainties_far_from_one_neither_vanish_nor_burst() {
        for size in [1e-120, 1e120] {
            let value = Uncertain::new(0.0, [part("a", size, 4.0), part("b", size, 4.0)]);
            assert!((value.u() / size - 2.0_f64.sqrt()).abs() < 1e-15);
            assert!((value.dof() - 8.0).abs() < 1e-12);
        }
    }

    #[test]
    #[should_panic(expected = "degrees of freedom of trials are positive")]
    fn no_degrees_of_freedom_are_a_mistake() {
        Uncertain::new(0.0, [part("trials", 1.0, 0.0)]);
    }

    fn several() -> impl Strategy<Value = Vec<Part>> {
        let one = (0..6_u8, -10.0..10.0_f64, 1.0..100.0_f64)
            .prop_map(|(source, u, dof)| part(&format!("source {source}"), u, dof));
        prop::collection::vec(one, 1..8)
    }

    proptest! {
        #[test]
        fn prop_order_of_the_parts_does_not_matter(parts in several()) {
            let forth = Uncertain::new(1.0, parts.clone());
            let back = Uncertain::new(1.0, parts.into_iter().rev());
            prop_assert!((forth.u() - back.u()).abs() <= 1e-12);
            prop_assert!(forth.parts().is_sorted_by(|a, b| a.source < b.source));
        }

        #[test]
        fn prop_effective_freedom_lies_between_the_least_and_the_sum(parts in several()) {
            let value = Uncertain::new(1.0, parts);
            if value.u() > 0.0 {
                let least = value.parts().iter().map(|p| p.dof).fold(f64::INFINITY, f64::min);
                let sum: f64 = value.parts().iter().map(|p| p.dof).sum();
                prop_assert!(value.dof() >= least * (1.0 - 1e-12));
                prop_assert!(value.dof() <= sum * (1.0 + 1e-12));
            }
        }

        #[test]
        fn prop_a_sum_is_never_less_certain_than_the_parts_laid_end_to_end(
            parts in several(), others in several(), a in -3.0..3.0_f64, b in -3.0..3.0_f64,
        ) {
            let (x, y) = (Uncertain::new(1.0, parts), Uncertain::new(2.0, others));
            let sum = Uncertain::combine(a + 2.0 * b, [(a, &x), (b, &y)]);
            let limit = a.abs() * x.u() + b.abs() * y.u();
            prop_assert!(sum.u() <= limit * (1.0 + 1e-12));
            let difference = (a.abs() * x.u() - b.abs() * y.u()).abs();
            prop_assert!(sum.u() >= difference - 1e-12 * limit);
        }

        #[test]
        fn prop_through_scales_the_uncertainty_and_keeps_the_freedom(parts in several(), factor in 0.01..100.0_f64) {
            let value = Uncertain::new(1.0, parts);
            let scaled = value.through(5.0, -factor);
            prop_assert!((scaled.u() - factor * value.u()).abs() <= 1e-12 * factor * value.u());
            prop_assert!(value.u() == 0.0 || (scaled.dof() / value.dof() - 1.0).abs() < 1e-9);
        }
    }
}
