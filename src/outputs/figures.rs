//! How a value is printed: places, units and uncertainty.
//!
//! A value is printed to the places of its expanded uncertainty with two
//! significant digits (JCGM 100:2008, 7.2.6), but with no more than one place
//! beyond the quantity's own `decimals`: the protocol says how fine a reading
//! of the quantity can mean anything, a mean of readings may be one place
//! finer, and an uncertainty that came out small (three equal readings on a
//! fine scale) must not make up digits nobody could measure. An uncertainty
//! under the last place that is printed is rounded up to one of it, never down
//! to nothing.
//!
//! Minus is U+2212 in print; data files keep the hyphen.

use super::views::FigureView;
use crate::lab::{QuantitySpec, UnitsOrder};
use crate::measure::{expanded, interval::wider_side};
use crate::quantity::{Uncertain, Unit, decimals_for_uncertainty, fixed};

/// The most places a value in a second unit can have.
const MOST_PLACES: u8 = 6;

/// A value of this unit, such as 75.0 of 100, is a score.
const SCORE_DECIMALS: u8 = 0;

/// Scores are kept to a billionth: of an uncertainty under half of that nothing is left.
pub(super) const LEAST_SCORE: f64 = 0.5e-9;

/// How values of one kind are printed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Print {
    /// The unit the values come in.
    base: Unit,
    /// Decimals of a printed reading in that unit.
    decimals: u8,
    /// The unit printed first.
    first: Unit,
    /// The unit printed beside it.
    second: Option<Unit>,
}

impl Print {
    /// Values in one unit only.
    pub fn plain(unit: Unit, decimals: u8) -> Self {
        Print {
            base: unit,
            decimals,
            first: unit,
            second: None,
        }
    }

    /// Scores of 100.
    pub fn score() -> Self {
        Print::plain(Unit::Score, SCORE_DECIMALS)
    }

    /// Values of a quantity, in the order of units the lab chose. Where both of
    /// its units are of one system the protocol's order stays.
    pub fn quantity(spec: &QuantitySpec, order: UnitsOrder) -> Self {
        let wants_customary = order == UnitsOrder::CustomaryFirst;
        let (first, second) = match spec.also {
            Some(also)
                if customary(spec.unit) != wants_customary
                    && customary(also) == wants_customary =>
            {
                (also, Some(spec.unit))
            }
            also => (spec.unit, also),
        };
        Print {
            base: spec.unit,
            decimals: spec.decimals,
            first,
            second,
        }
    }

    /// A value in the base unit, as it is printed.
    pub fn figure(&self, value: &Uncertain, coverage: f64) -> FigureView {
        self.figure_within(value, expanded(value, coverage).U)
    }

    /// A value and its interval, both in the base unit, as they are printed: beside
    /// the value stands the wider side, so that no more is claimed than is known.
    pub fn figure_between(&self, value: &Uncertain, interval: (f64, f64)) -> FigureView {
        self.figure_within(value, wider_side(value.value, interval))
    }

    /// A value and what stands after its ±, both in the base unit, as they are printed.
    pub fn figure_within(&self, value: &Uncertain, spread: f64) -> FigureView {
        // A level formula has no parts, and an interval all the same where it was drawn.
        let spread = (spread > 0.0 || !value.parts().is_empty()).then_some(spread);
        let (number, uncertainty) = self.in_unit(value.value, spread, self.first);
        FigureView {
            number,
            unit: self.first.symbol().to_owned(),
            uncertainty,
            also: self.second.map(|unit| {
                let (number, _) = self.in_unit(value.value, spread, unit);
                with_unit(&number, unit)
            }),
        }
    }

    /// The unit printed first.
    pub fn unit(&self) -> Unit {
        self.first
    }

    /// The most places a value with its uncertainty has in the unit printed first.
    pub fn most_places(&self) -> u8 {
        self.as_fine_as(self.decimals + 1, self.first)
    }

    /// The factor from the base unit to the one printed first, and a value in it, unrounded.
    pub fn in_first(&self, value: f64) -> (f64, f64) {
        let factor = self.base.sensitivity(self.first).unwrap_or(1.0);
        (
            factor,
            self.base.convert(value, self.first).unwrap_or(value),
        )
    }

    /// The size of a difference in the base unit, with its unit: `18 g`.
    pub fn difference(&self, difference: f64) -> String {
        let factor = self.base.sensitivity(self.first).unwrap_or(1.0);
        let size = (difference * factor).abs();
        let unit = self.first.of_differences();
        let places = self.places(None, self.first);
        let rough = fixed(size, places);
        if is_number_zero(&rough) {
            with_unit(&fixed(size, places.saturating_add(1)), unit)
        } else {
            with_unit(&rough, unit)
        }
    }

    /// Value and spread, both in the base unit, as numbers in `unit`.
    fn in_unit(&self, value: f64, spread: Option<f64>, unit: Unit) -> (String, Option<String>) {
        let converted = self.base.convert(value, unit).unwrap_or(value);
        let factor = self.base.sensitivity(unit).unwrap_or(1.0).abs();
        let spread = spread.map(|spread| spread * factor);
        let places = self.places(spread, unit);
        let number = minus(&fixed(converted, places));
        (number, spread.map(|spread| rounded_up(spread, places)))
    }

    /// The places of a value in `unit`.
    fn places(&self, spread: Option<f64>, unit: Unit) -> u8 {
        match spread {
            Some(spread) if spread > 0.0 => {
                decimals_for_uncertainty(spread, self.as_fine_as(self.decimals + 1, unit))
            }
            _ => self.as_fine_as(self.decimals, unit),
        }
    }

    /// The places in `unit` that are no finer than `decimals` places of the base unit.
    fn as_fine_as(&self, decimals: u8, unit: Unit) -> u8 {
        if unit == self.base {
            return decimals;
        }
        let factor = self.base.sensitivity(unit).unwrap_or(1.0).abs();
        let step = 10_f64.powi(-i32::from(decimals)) * factor;
        (0..=MOST_PLACES)
            .rev()
            .find(|places| 10_f64.powi(-i32::from(*places)) >= step * (1.0 - 1e-9))
            .unwrap_or(0)
    }
}

/// An uncertainty at `places`, never rounded to nothing.
fn rounded_up(spread: f64, places: u8) -> String {
    let text = fixed(spread, places);
    if is_number_zero(&text) && spread > 0.0 {
        fixed(10_f64.powi(-i32::from(places)), places)
    } else {
        text
    }
}

/// Whether every digit of a printed number is 0.
pub(super) fn is_number_zero(number: &str) -> bool {
    !number.bytes().any(|digit| (b'1'..=b'9').contains(&digit))
}

/// Whether a unit is of the inch–pound system.
fn customary(unit: Unit) -> bool {
    matches!(
        unit,
        Unit::Inch
            | Unit::Ounce
            | Unit::Pound
            | Unit::PoundForce
            | Unit::InchPoundForce
            | Unit::FootPoundForce
            | Unit::Fahrenheit
            | Unit::FahrenheitDegree
            | Unit::PoundForcePerInch
            | Unit::InchPoundForcePerDegree
    )
}

/// A number as it is printed: its hyphen is a minus sign.
pub(super) fn minus(number: &str) -> String {
    number.replace('-', "\u{2212}")
}

/// A number and its unit: `4.2 N·m`, but `15°`.
pub(super) fn with_unit(number: &str, unit: Unit) -> String {
    match unit {
        Unit::Degree => format!("{number}{unit}"),
        Unit::One => number.to_owned(),
        _ => format!("{number} {unit}"),
    }
}

/// A number of the picture: at most one decimal, none where it is whole.
pub(super) fn coordinate(at: f64) -> String {
    let text = fixed(at, 1);
    text.strip_suffix(".0").unwrap_or(&text).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;
    use crate::quantity::{Part, Shape, Source};

    fn uncertain(value: f64, u: f64) -> Uncertain {
        let part = Part {
            source: Source::new("trials"),
            u,
            dof: f64::INFINITY,
            shape: Shape::Normal,
        };
        Uncertain::new(value, [part])
    }

    fn torque(value: f64, u: f64, order: UnitsOrder) -> FigureView {
        let lab = testing::lab();
        let spec = lab.protocol.quantities.get("midfoot-torque").unwrap();
        Print::quantity(spec, order).figure(&uncertain(value, u), 0.95)
    }

    #[test]
    fn a_value_has_the_places_of_its_uncertainty() {
        let figure = torque(4.213_7, 0.0918, UnitsOrder::MetricFirst);
        assert_eq!(figure.number, "4.21");
        assert_eq!(figure.uncertainty.as_deref(), Some("0.18"));
        assert_eq!(figure.unit, "N·m");
        assert_eq!(figure.also.as_deref(), Some("37.3 in·lbf"));
    }

    #[test]
    fn a_small_uncertainty_makes_up_no_digits_and_never_vanishes() {
        let figure = torque(4.213_7, 0.000_01, UnitsOrder::MetricFirst);
        assert_eq!(figure.number, "4.214");
        assert_eq!(figure.uncertainty.as_deref(), Some("0.001"));
    }

    #[test]
    fn a_value_without_uncertainty_has_the_quantity_s_own_decimals() {
        let exact = Uncertain::exact(-4.213_7);
        let figure = Print::plain(Unit::Millimetre, 1).figure(&exact, 0.95);
        assert_eq!(figure.number, "\u{2212}4.2");
        assert_eq!(figure.uncertainty, None);
    }

    #[test]
    fn customary_units_come_first_where_the_lab_chose_so() {
        let figure = torque(4.213_7, 0.0918, UnitsOrder::CustomaryFirst);
        assert_eq!(
            (figure.number.as_str(), figure.unit.as_str()),
            ("37.3", "in·lbf")
        );
        assert_eq!(figure.uncertainty.as_deref(), Some("1.6"));
        assert_eq!(figure.also.as_deref(), Some("4.21 N·m"));
    }

    #[test]
    fn no_figure_has_more_places_than_its_column_tells() {
        assert_eq!(Print::score().most_places(), 1);
        let lab = testing::lab();
        let spec = lab.protocol.quantities.get("midfoot-torque").unwrap();
        for (order, most) in [
            (UnitsOrder::MetricFirst, 3),
            (UnitsOrder::CustomaryFirst, 2),
        ] {
            assert_eq!(Print::quantity(spec, order).most_places(), most);
            let number = torque(4.213_7, 1e-9, order).number;
            let (_, fraction) = number.split_once('.').unwrap();
            assert_eq!(fraction.len(), usize::from(most), "{number}");
        }
    }

    #[test]
    fn a_difference_is_printed_by_its_size() {
        let lab = testing::lab();
        let mass = lab.protocol.quantities.get("mass").unwrap();
        let print = Print::quantity(mass, UnitsOrder::MetricFirst);
        assert_eq!(print.difference(-18.2), "18 g");
        assert_eq!(print.difference(0.4), "0.4 g");
    }

    #[test]
    fn a_coordinate_has_a_decimal_only_where_it_needs_one() {
        assert_eq!(coordinate(600.0), "600");
        assert_eq!(coordinate(612.34), "612.3");
    }
}
