//! Sizes: every system in Mondopoint millimetres.
//!
//! Mondopoint (ISO 9407, seen as its public abstract only) is the length of the
//! foot in millimetres, and so is a size in centimetres ten times over. The other systems number the length of the last; how
//! much longer a last is than the foot it is made for differs from maker to
//! maker. The conversions here are common practice, no source: a Paris point is
//! two thirds of a centimetre, a British size a third of an inch counted from
//! 25, an American men's size one more and a women's two and a half more than
//! the British one, and the last is 15 mm longer than the foot by Paris points
//! and 10 mm by thirds of an inch.

use super::protocol::{Size, SizeSystem};
use crate::quantity::fixed;

/// By how much a last numbered in Paris points is longer than the foot, in mm.
const PARIS_ALLOWANCE: f64 = 15.0;
/// By how much a last numbered in thirds of an inch is longer than the foot, in mm.
const INCH_ALLOWANCE: f64 = 10.0;
/// A third of an inch in mm.
const THIRD_OF_AN_INCH: f64 = 25.4 / 3.0;

impl Size {
    /// The size in Mondopoint millimetres.
    pub fn millimetres(self) -> f64 {
        let british = |size: f64| (size + 25.0) * THIRD_OF_AN_INCH - INCH_ALLOWANCE;
        match self.system {
            SizeSystem::Mondopoint => self.value,
            SizeSystem::Cm => self.value * 10.0,
            SizeSystem::Paris => self.value * 20.0 / 3.0 - PARIS_ALLOWANCE,
            SizeSystem::Uk => british(self.value),
            SizeSystem::UsMen => british(self.value - 1.0),
            SizeSystem::UsWomen => british(self.value - 2.5),
        }
    }

    /// Whether the size is one an adult or a child may wear: 80 to 400 mm of foot.
    pub fn is_plausible(self) -> bool {
        (80.0..=400.0).contains(&self.millimetres())
    }

    /// The size with its system: `270 Mondopoint`, `UK 8.5`.
    pub fn text(self) -> String {
        let value = if self.value.fract() == 0.0 {
            fixed(self.value, 0)
        } else {
            fixed(self.value, 1)
        };
        match self.system {
            SizeSystem::Mondopoint => format!("{value} Mondopoint"),
            SizeSystem::Cm => format!("{value} cm"),
            SizeSystem::Paris => format!("EU {value}"),
            SizeSystem::Uk => format!("UK {value}"),
            SizeSystem::UsMen => format!("US men {value}"),
            SizeSystem::UsWomen => format!("US women {value}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn millimetres(system: SizeSystem, value: f64) -> f64 {
        Size { system, value }.millimetres()
    }

    /// Rows of a size chart as makers print them: foot in mm, EU, UK, US men, US
    /// women. Common practice, no source: charts of different makers differ by up to
    /// half a size, and this is the middle of them, written down from memory. A
    /// step is 6.7 mm (EU) or 8.5 mm (UK, US), half sizes half of that.
    const CHART: [(f64, f64, f64, f64, f64); 9] = [
        (226.0, 36.0, 3.0, 4.0, 5.5),
        (235.0, 37.5, 4.0, 5.0, 6.5),
        (243.0, 38.5, 5.0, 6.0, 7.5),
        (252.0, 40.0, 6.0, 7.0, 8.5),
        (260.0, 41.5, 7.0, 8.0, 9.5),
        (269.0, 42.5, 8.0, 9.0, 10.5),
        (277.0, 44.0, 9.0, 10.0, 11.5),
        (286.0, 45.0, 10.0, 11.0, 12.5),
        (294.0, 46.5, 11.0, 12.0, 13.5),
    ];

    #[test]
    fn a_usual_chart_is_met_within_half_a_step() {
        for (foot, eu, uk, men, women) in CHART {
            for (system, value, half) in [
                (SizeSystem::Mondopoint, foot, 0.0),
                (SizeSystem::Cm, foot / 10.0, 1e-9),
                (SizeSystem::Paris, eu, 10.0 / 3.0),
                (SizeSystem::Uk, uk, 25.4 / 6.0),
                (SizeSystem::UsMen, men, 25.4 / 6.0),
                (SizeSystem::UsWomen, women, 25.4 / 6.0),
            ] {
                let found = millimetres(system, value);
                assert!(
                    (found - foot).abs() <= half,
                    "{system:?} {value} is {found} mm of foot, not {foot}"
                );
            }
        }
    }

    #[test]
    fn steps_are_a_millimetre_two_thirds_of_a_centimetre_and_a_third_of_an_inch() {
        // Mondopoint in mm: ISO 9407, public abstract. The Paris point of 2/3 cm and
        // the barleycorn of 1/3 in: common knowledge of the trade, from memory.
        for (system, step) in [
            (SizeSystem::Mondopoint, 1.0),
            // Foot length in cm: JIS S 5037, from memory, unverified.
            (SizeSystem::Cm, 10.0),
            (SizeSystem::Paris, 20.0 / 3.0),
            (SizeSystem::Uk, 25.4 / 3.0),
            (SizeSystem::UsMen, 25.4 / 3.0),
            (SizeSystem::UsWomen, 25.4 / 3.0),
        ] {
            for size in [5.0, 8.5, 40.0] {
                let found = millimetres(system, size + 1.0) - millimetres(system, size);
                assert!((found - step).abs() < 1e-9, "{system:?}: {found}");
            }
        }
    }

    #[test]
    fn counting_begins_where_practice_has_it() {
        // Common practice, no source: British size 0 is a last of 25 barleycorns
        // (8⅓ in); an American men's size is one more, a women's two and a half.
        let last = |system, size| millimetres(system, size) + INCH_ALLOWANCE;
        assert!((last(SizeSystem::Uk, 0.0) - 25.0 * 25.4 / 3.0).abs() < 1e-9);
        let british = millimetres(SizeSystem::Uk, 8.0);
        assert!((millimetres(SizeSystem::UsMen, 9.0) - british).abs() < 1e-9);
        assert!((millimetres(SizeSystem::UsWomen, 10.5) - british).abs() < 1e-9);
        // A Paris point counts from nothing: EU 42 is a last of 28 cm.
        assert!((millimetres(SizeSystem::Paris, 42.0) + PARIS_ALLOWANCE - 280.0).abs() < 1e-9);
    }

    #[test]
    fn a_size_is_written_with_its_system() {
        for (system, value, text) in [
            (SizeSystem::Mondopoint, 270.0, "270 Mondopoint"),
            (SizeSystem::Cm, 27.5, "27.5 cm"),
            (SizeSystem::Paris, 42.5, "EU 42.5"),
            (SizeSystem::Uk, 8.0, "UK 8"),
            (SizeSystem::UsMen, 9.5, "US men 9.5"),
            (SizeSystem::UsWomen, 11.0, "US women 11"),
        ] {
            assert_eq!(Size { system, value }.text(), text);
        }
    }
}
