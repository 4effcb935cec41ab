//! Unit conversions against exact factors (`tests/data/units_exact.csv`).

mod common;

use common::{near, records};
use solefolio::quantity::Unit;

/// Exact factors as whole-number ratios; how each is known is in
/// `tests/data/SOURCES.md`.
#[test]
fn every_factor_is_the_exact_one() {
    let mut seen = 0;
    for record in records("units_exact.csv") {
        let [from, to, _, ratio] = &record[..] else {
            panic!("four fields: {record:?}");
        };
        let Some((over, under)) = ratio
            .split_once('/')
            .filter(|(over, _)| !over.contains('F'))
        else {
            continue;
        };
        let exact = over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap();
        // The table's spellings and base units, and the project's.
        let (from, to, factor) = match (from.as_str(), to.as_str()) {
            ("lbf/in", "N/m") => ("lbf/in", "N/mm", exact / 1000.0),
            ("inch", "mm") => ("in", "mm", exact),
            (from, to) => (from, to, exact),
        };
        let (from, to): (Unit, Unit) = (from.parse().unwrap(), to.parse().unwrap());
        near(
            from.convert(1.0, to).unwrap(),
            factor,
            4e-16 * factor,
            "forth",
        );
        near(to.convert(factor, from).unwrap(), 1.0, 4e-16, "back");
        near(
            from.sensitivity(to).unwrap(),
            factor,
            4e-16 * factor,
            "sensitivity",
        );
        seen += 1;
    }
    assert_eq!(seen, 7);
}

/// Seen in Debian's units 2.22, tempF and tempC (all but 71.6 °F, which scipy's
/// convert_temperature gives).
#[test]
fn fahrenheit_and_celsius_meet_where_they_should() {
    for (fahrenheit, celsius) in [
        (-40.0, -40.0),
        (32.0, 0.0),
        (68.0, 20.0),
        (71.6, 22.0),
        (73.4, 23.0),
        (212.0, 100.0),
    ] {
        let there = Unit::Fahrenheit.convert(fahrenheit, Unit::Celsius).unwrap();
        near(there, celsius, 4e-15 * 100.0, "°F to °C");
        let back = Unit::Celsius.convert(celsius, Unit::Fahrenheit).unwrap();
        near(back, fahrenheit, 4e-15 * 212.0, "°C to °F");
    }
}

/// Exact: ASTM F1976-06 prints 44.2 and 61.9 in·lbf for 5 J and 7 J, which are
/// cut, not rounded (seen in its public abstract; the exact figures computed).
/// Torque and energy share the factor.
#[test]
fn five_and_seven_newton_metres_are_these_many_inch_pounds() {
    for (newton_metres, inch_pounds) in [(5.0, 44.2537), (7.0, 61.9552)] {
        let found = Unit::NewtonMetre
            .convert(newton_metres, Unit::InchPoundForce)
            .unwrap();
        near(found, inch_pounds, 5e-5, "in·lbf");
    }
}

/// Computed: in·lbf per degree to N·m per radian is × 6.473 553 852 289 63.
#[test]
fn torsional_stiffness_agrees_by_way_of_radians() {
    let per_degree = Unit::InchPoundForcePerDegree
        .convert(1.0, Unit::NewtonMetrePerDegree)
        .unwrap();
    let degrees = Unit::Radian.convert(1.0, Unit::Degree).unwrap();
    near(per_degree * degrees, 6.473_553_852_289_63, 2e-14, "N·m/rad");
}
