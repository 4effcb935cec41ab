//! The shoes of a category as points: the quantities a scale is laid on, each
//! over the category's robust deviation.

use crate::files::{Key, Slug};
use crate::lab::Protocol;
use crate::measure::{Summary, robust};
use crate::rules::{Form, Judged, RuleSet};
use std::collections::BTreeMap;
use std::f64::consts::FRAC_PI_2;

/// The shoes that have all of the quantities, in order of address; the tables
/// have one row a shoe, the rows one after the other.
pub(super) struct Space<'s> {
    /// The quantities, in the protocol's order: the axes.
    pub keys: Vec<&'s Key>,
    /// The shoes' addresses.
    pub slugs: Vec<&'s Slug>,
    /// Values in the protocol's units.
    values: Vec<f64>,
    /// Their expanded uncertainties.
    wide: Vec<f64>,
    /// Which shoes are one model in another version's clothes: equal numbers.
    model: Vec<u32>,
    /// By axis: the robust deviation; infinite where all shoes are alike.
    pub scales: Vec<f64>,
}

impl<'s> Space<'s> {
    /// The space of these shoes, which come in order of address. A shoe that lacks
    /// one of the quantities has no place in it.
    pub fn of(shoes: &[&'s Judged], protocol: &'s Protocol, rules: &RuleSet) -> Self {
        let keys: Vec<&Key> = protocol
            .quantities
            .keys()
            .filter(|key| is_scaled(rules, key))
            .collect();
        let mut space = Space {
            keys,
            slugs: Vec::new(),
            values: Vec::new(),
            wide: Vec::new(),
            model: Vec::new(),
            scales: Vec::new(),
        };
        let mut models = BTreeMap::new();
        for judged in shoes {
            let summaries: Option<Vec<&Summary>> = space
                .keys
                .iter()
                .map(|key| judged.quantities.get(*key)?.as_ref().ok())
                .collect();
            let Some(summaries) = summaries else { continue };
            let file = &judged.shoe.file;
            let next = u32::try_from(models.len()).unwrap_or(u32::MAX);
            let model = models
                .entry((&file.maker, &file.model, &file.version))
                .or_insert(next);
            space.model.push(*model);
            space.slugs.push(&judged.shoe.slug);
            for summary in summaries {
                space.values.push(summary.value.value);
                space.wide.push(summary.stated.expanded.U);
            }
        }
        space.scales = (0..space.axes())
            .map(|axis| {
                // A category whose shoes are all alike in a quantity is not told
                // apart by it.
                deviation(&space.column(axis)).unwrap_or(f64::INFINITY)
            })
            .collect();
        space
    }

    /// How many shoes there are.
    pub fn len(&self) -> usize {
        self.slugs.len()
    }

    /// How many quantities there are.
    pub fn axes(&self) -> usize {
        self.keys.len()
    }

    /// A shoe's value in a quantity.
    pub fn value(&self, at: usize, axis: usize) -> f64 {
        self.values[at * self.axes() + axis]
    }

    /// All shoes' values in a quantity.
    pub fn column(&self, axis: usize) -> Vec<f64> {
        (0..self.len()).map(|at| self.value(at, axis)).collect()
    }

    /// A shoe's expanded uncertainty in a quantity.
    pub fn wide(&self, at: usize, axis: usize) -> f64 {
        self.wide[at * self.axes() + axis]
    }

    /// The points of a tree: every shoe's values over the scales, on these axes.
    pub fn points(&self, axes: &[usize]) -> Vec<f64> {
        (0..self.len())
            .flat_map(|at| {
                axes.iter()
                    .map(move |axis| self.value(at, *axis) / self.scales[*axis])
            })
            .collect()
    }

    /// By how much another shoe's value is more than this one's, where that is
    /// more than their expanded uncertainties together (in quadrature).
    pub fn apart(&self, at: usize, other: usize, axis: usize) -> Option<f64> {
        let apart = self.value(other, axis) - self.value(at, axis);
        let unsure = self.wide(at, axis).hypot(self.wide(other, axis));
        (apart.abs() > unsure).then_some(apart)
    }

    /// Whether two shoes are one model in another version's clothes: a shoe is no
    /// alternative to its own other colour.
    pub fn same_model(&self, at: usize, other: usize) -> bool {
        self.model[at] == self.model[other]
    }
}

/// The robust deviation of a category's values, in their unit; none where they are all
/// alike.
///
/// Where over half of them are one value, the median absolute deviation is zero, and
/// the mean absolute deviation from the median stands in, times √(π/2), by which it
/// estimates a normal standard deviation too (B. Iglewicz and D. C. Hoaglin, "How to
/// Detect and Handle Outliers", ASQC 1993, from memory: 1.253314).
fn deviation(values: &[f64]) -> Option<f64> {
    let centre = robust::median(values)?;
    let off: f64 = values.iter().map(|value| (value - centre).abs()).sum();
    let mean = FRAC_PI_2.sqrt() * off / values.len() as f64;
    // Equal values may differ by rounding.
    let told = |scale: &f64| *scale > 1e-12 * centre.abs();
    let robust = robust::scaled_deviation(values).filter(told);
    robust.or(Some(mean).filter(told))
}

/// Whether a scale is laid on a quantity: what readers see of a shoe, and so what
/// makes two shoes alike.
fn is_scaled(rules: &RuleSet, quantity: &Key) -> bool {
    rules
        .rules
        .iter()
        .any(|(_, rule)| matches!(rule.form(), Form::Band(_)) && rule.needs().contains(quantity))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_over_half_are_alike_the_mean_deviation_stands_in() {
        // Off by 0, 0, 0, 1 and 4: 1 in the mean; √(π/2) = 1.253 314.
        let scale = deviation(&[7.0, 7.0, 7.0, 8.0, 11.0]).unwrap();
        assert!((scale - 1.253_314).abs() < 1e-6, "{scale}");
        let robust = [1.0, 2.0, 3.0, 4.0, 100.0];
        assert_eq!(deviation(&robust), robust::scaled_deviation(&robust));
    }

    #[test]
    fn values_that_are_alike_but_for_rounding_tell_no_shoes_apart() {
        for alike in [
            &[7.0; 3][..],
            &[0.0; 3],
            &[],
            &[0.3, 0.3, 0.1 + 0.2],
            &[0.3, 0.1 + 0.2],
        ] {
            assert_eq!(deviation(alike), None, "{alike:?}");
        }
    }
}
