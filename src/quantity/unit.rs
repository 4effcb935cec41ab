//! Units of the bench, with exact factors.
//!
//! Every factor is the exact one of the international yard-and-pound agreement
//! (1 in = 25.4 mm, 1 lb = 0.453 592 37 kg) and standard gravity
//! (9.806 65 m/s²); none is rounded. A temperature and a difference of
//! temperatures are different dimensions: 1.5 °C of tolerance is 2.7 °F of
//! tolerance, not 34.7 °F.

use std::fmt;

/// What a unit measures. Only units of one dimension convert into each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A length, such as a travel, a drop or a stack height.
    Length,
    /// A mass.
    Mass,
    /// A force.
    Force,
    /// A torque.
    Torque,
    /// A temperature on a scale.
    Temperature,
    /// A difference of two temperatures.
    TemperatureDifference,
    /// A share, in per cent or as a plain number.
    Ratio,
    /// A duration.
    Duration,
    /// A plane angle.
    Angle,
    /// An energy.
    Energy,
    /// A force per travel.
    Stiffness,
    /// A torque per angle.
    TorsionalStiffness,
    /// A place on a scale from 0 to 100.
    Score,
}

/// A unit of measurement the lab's files may name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "each variant is the unit it is named after")]
pub enum Unit {
    Millimetre,
    Centimetre,
    Inch,
    Gram,
    Kilogram,
    Ounce,
    Pound,
    Newton,
    Kilonewton,
    PoundForce,
    NewtonMetre,
    InchPoundForce,
    FootPoundForce,
    Celsius,
    Fahrenheit,
    CelsiusDegree,
    FahrenheitDegree,
    Percent,
    One,
    Hour,
    Minute,
    Second,
    Degree,
    Radian,
    Joule,
    Millijoule,
    NewtonPerMillimetre,
    PoundForcePerInch,
    NewtonMetrePerDegree,
    InchPoundForcePerDegree,
    Score,
}

/// One row a unit: symbol, further spellings, UCUM code, dimension, factor to
/// the dimension's base unit.
struct Row {
    unit: Unit,
    symbol: &'static str,
    also: &'static [&'static str],
    ucum: &'static str,
    dimension: Dimension,
    factor: f64,
}

const POUND_FORCE: f64 = 4.448_221_615_260_5; // N, exact: 0.453 592 37 kg × 9.806 65 m/s²
const INCH_POUND_FORCE: f64 = 0.112_984_829_027_616_7; // N·m, exact: lbf × 0.0254 m

const fn row(
    unit: Unit,
    symbol: &'static str,
    also: &'static [&'static str],
    ucum: &'static str,
    dimension: Dimension,
    factor: f64,
) -> Row {
    Row {
        unit,
        symbol,
        also,
        ucum,
        dimension,
        factor,
    }
}

#[rustfmt::skip]
const TABLE: &[Row] = &[
    row(Unit::Millimetre, "mm", &[], "mm", Dimension::Length, 1.0),
    row(Unit::Centimetre, "cm", &[], "cm", Dimension::Length, 10.0),
    row(Unit::Inch, "in", &["inch", "″", "\""], "[in_i]", Dimension::Length, 25.4),
    row(Unit::Gram, "g", &[], "g", Dimension::Mass, 1.0),
    row(Unit::Kilogram, "kg", &[], "kg", Dimension::Mass, 1000.0),
    row(Unit::Ounce, "oz", &[], "[oz_av]", Dimension::Mass, 28.349_523_125),
    row(Unit::Pound, "lb", &["lbs"], "[lb_av]", Dimension::Mass, 453.592_37),
    row(Unit::Newton, "N", &[], "N", Dimension::Force, 1.0),
    row(Unit::Kilonewton, "kN", &[], "kN", Dimension::Force, 1000.0),
    row(Unit::PoundForce, "lbf", &[], "[lbf_av]", Dimension::Force, POUND_FORCE),
    row(Unit::NewtonMetre, "N·m", &["Nm", "N*m", "N.m", "N m"], "N.m", Dimension::Torque, 1.0),
    row(Unit::InchPoundForce, "in·lbf", &["in*lbf", "in-lbf", "in lbf", "lbf·in", "lbf*in"], "[in_i].[lbf_av]", Dimension::Torque, INCH_POUND_FORCE),
    row(Unit::FootPoundForce, "ft·lbf", &["ft*lbf", "ft-lbf", "ft lbf", "lbf·ft", "lbf*ft"], "[ft_i].[lbf_av]", Dimension::Torque, 12.0 * INCH_POUND_FORCE),
    row(Unit::Celsius, "°C", &["degC"], "Cel", Dimension::Temperature, 1.0),
    row(Unit::Fahrenheit, "°F", &["degF"], "[degF]", Dimension::Temperature, 1.0),
    row(Unit::CelsiusDegree, "K", &["Δ°C"], "K", Dimension::TemperatureDifference, 1.0),
    row(Unit::FahrenheitDegree, "Δ°F", &[], "[degF]", Dimension::TemperatureDifference, 5.0 / 9.0),
    row(Unit::Percent, "%", &["percent"], "%", Dimension::Ratio, 1.0),
    row(Unit::One, "1", &[], "1", Dimension::Ratio, 100.0),
    row(Unit::Hour, "h", &[], "h", Dimension::Duration, 60.0),
    row(Unit::Minute, "min", &[], "min", Dimension::Duration, 1.0),
    row(Unit::Second, "s", &[], "s", Dimension::Duration, 1.0 / 60.0),
    row(Unit::Degree, "°", &["deg"], "deg", Dimension::Angle, 1.0),
    row(Unit::Radian, "rad", &[], "rad", Dimension::Angle, 180.0 / std::f64::consts::PI),
    row(Unit::Joule, "J", &[], "J", Dimension::Energy, 1.0),
    row(Unit::Millijoule, "mJ", &[], "mJ", Dimension::Energy, 0.001),
    row(Unit::NewtonPerMillimetre, "N/mm", &[], "N/mm", Dimension::Stiffness, 1.0),
    row(Unit::PoundForcePerInch, "lbf/in", &[], "[lbf_av]/[in_i]", Dimension::Stiffness, POUND_FORCE / 25.4),
    row(Unit::NewtonMetrePerDegree, "N·m/°", &["Nm/deg", "N·m/deg"], "N.m/deg", Dimension::TorsionalStiffness, 1.0),
    row(Unit::InchPoundForcePerDegree, "in·lbf/°", &["in·lbf/deg", "in-lbf/deg"], "[in_i].[lbf_av]/deg", Dimension::TorsionalStiffness, INCH_POUND_FORCE),
    row(Unit::Score, "of 100", &[], "1", Dimension::Score, 1.0),
];

/// A unit's spelling is not known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownUnit {
    /// The spelling that was found.
    pub found: String,
}

impl fmt::Display for UnknownUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` is no unit known here; known are {}",
            self.found,
            Unit::symbols().collect::<Vec<_>>().join(", ")
        )
    }
}

impl std::error::Error for UnknownUnit {}

/// Two units measure different things, so neither converts into the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Incommensurable {
    /// The unit of the value at hand.
    pub from: Unit,
    /// The unit that was asked for.
    pub to: Unit,
}

impl fmt::Display for Incommensurable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} does not convert into {}", self.from, self.to)
    }
}

impl std::error::Error for Incommensurable {}

impl Unit {
    fn row(self) -> &'static Row {
        &TABLE[self as usize]
    }

    /// The symbol as printed, such as `N·m`.
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// The code of the Unified Code for Units of Measure, such as `[in_i].[lbf_av]`.
    pub fn ucum(self) -> &'static str {
        self.row().ucum
    }

    /// What the unit measures.
    pub fn dimension(self) -> Dimension {
        self.row().dimension
    }

    /// Every unit, in a stated order.
    pub fn all() -> impl Iterator<Item = Unit> {
        TABLE.iter().map(|row| row.unit)
    }

    /// Every symbol a lab's file may use.
    pub fn symbols() -> impl Iterator<Item = &'static str> {
        TABLE
            .iter()
            .filter(|row| row.unit != Unit::Score)
            .map(|row| row.symbol)
    }

    /// The unit for differences of this one: `K` for `°C`; any other unit is its own.
    pub fn of_differences(self) -> Unit {
        match self {
            Unit::Celsius => Unit::CelsiusDegree,
            Unit::Fahrenheit => Unit::FahrenheitDegree,
            other => other,
        }
    }

    /// Converts a value of this unit into another of the same dimension.
    ///
    /// # Errors
    /// [`Incommensurable`] if the dimensions differ.
    pub fn convert(self, value: f64, to: Unit) -> Result<f64, Incommensurable> {
        if self == to {
            return Ok(value);
        }
        if self.dimension() != to.dimension() {
            return Err(Incommensurable { from: self, to });
        }
        Ok(match (self, to) {
            (Unit::Fahrenheit, Unit::Celsius) => (value - 32.0) * 5.0 / 9.0,
            (Unit::Celsius, Unit::Fahrenheit) => value * 9.0 / 5.0 + 32.0,
            _ => value * self.row().factor / to.row().factor,
        })
    }

    /// The factor by which a small difference in this unit is a difference in
    /// another: the sensitivity coefficient of the conversion.
    ///
    /// # Errors
    /// [`Incommensurable`] if the dimensions differ.
    pub fn sensitivity(self, to: Unit) -> Result<f64, Incommensurable> {
        let (from, into) = (self.of_differences(), to.of_differences());
        if from.dimension() != into.dimension() {
            return Err(Incommensurable { from: self, to });
        }
        Ok(from.row().factor / into.row().factor)
    }
}

impl std::str::FromStr for Unit {
    type Err = UnknownUnit;

    fn from_str(text: &str) -> Result<Self, UnknownUnit> {
        let text = text.trim();
        TABLE
            .iter()
            .filter(|row| row.unit != Unit::Score)
            .find(|row| row.symbol == text || row.also.contains(&text))
            .map(|row| row.unit)
            .ok_or_else(|| UnknownUnit {
                found: text.to_owned(),
            })
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_unit_stands_at_its_own_row() {
        for unit in Unit::all() {
            assert_eq!(unit.row().unit, unit, "TABLE is in the enum's order");
        }
    }

    #[test]
    fn no_spelling_names_two_units() {
        let mut seen = std::collections::BTreeMap::new();
        for row in TABLE.iter().filter(|row| row.unit != Unit::Score) {
            for spelling in row.also.iter().chain([&row.symbol]) {
                assert_eq!(seen.insert(*spelling, row.unit), None, "{spelling}");
                assert_eq!(spelling.parse(), Ok(row.unit));
            }
        }
    }

    #[test]
    fn a_score_is_no_unit_that_a_file_can_name() {
        assert!(Unit::Score.symbol().parse::<Unit>().is_err());
        assert!(Unit::symbols().all(|symbol| symbol.parse::<Unit>().is_ok()));
    }

    #[test]
    fn a_temperature_and_a_difference_are_different_things() {
        // 1.5 °C of tolerance is 2.7 °F of tolerance.
        let factor = Unit::Celsius.sensitivity(Unit::Fahrenheit).unwrap();
        assert!((1.5 * factor - 2.7).abs() < 1e-15);
        assert_eq!(Unit::Celsius.of_differences(), Unit::CelsiusDegree);
        assert_eq!(
            Unit::Celsius.convert(1.5, Unit::CelsiusDegree),
            Err(Incommensurable {
                from: Unit::Celsius,
                to: Unit::CelsiusDegree
            })
        );
    }

    #[test]
    fn what_measures_something_else_does_not_convert_and_says_so() {
        let error = Unit::Newton.convert(1.0, Unit::NewtonMetre).unwrap_err();
        assert_eq!(error.to_string(), "N does not convert into N·m");
        assert!(Unit::Gram.sensitivity(Unit::Newton).is_err());
        let unknown = "furlong".parse::<Unit>().unwrap_err().to_string();
        assert!(unknown.starts_with("`furlong` is no unit known here; known are mm, cm"));
    }

    fn any_unit() -> impl Strategy<Value = Unit> {
        prop::sample::select(Unit::all().collect::<Vec<_>>())
    }

    proptest! {
        #[test]
        fn prop_there_and_back_is_the_same_value(
            value in -1e6..1e6_f64, from in any_unit(), to in any_unit(),
        ) {
            match from.convert(value, to) {
                Ok(there) => {
                    let back = to.convert(there, from).unwrap();
                    // Celsius and Fahrenheit are 32 apart where they are zero.
                    prop_assert!((back - value).abs() <= 1e-15 * (value.abs() + 100.0));
                }
                Err(_) => prop_assert!(from.dimension() != to.dimension()),
            }
        }

        #[test]
        fn prop_a_difference_converts_by_the_sensitivity(
            value in -1e3..1e3_f64, step in 0.1..10.0_f64, from in any_unit(), to in any_unit(),
        ) {
            if let (Ok(low), Ok(high)) = (from.convert(value, to), from.convert(value + step, to)) {
                let factor = from.sensitivity(to).unwrap();
                prop_assert!(((high - low) - factor * step).abs() <= 1e-11 * (1.0 + high.abs()));
            }
        }
    }
}
