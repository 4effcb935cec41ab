//! Sizes: every system in Mondopoint millimetres.
//!
//! Mondopoint (ISO 9407, seen as its public abstract only) is the length of the
//! foot in millimetres. The other systems number the length of the last; how
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

    #[test]
    fn the_systems_meet_near_the_same_foot() {
        // Common practice, no source: EU 42.5, UK 8 and US men 9 are called the same size.
        let eu = Size {
            system: SizeSystem::Paris,
            value: 42.5,
        }
        .millimetres();
        let uk = Size {
            system: SizeSystem::Uk,
            value: 8.0,
        }
        .millimetres();
        let us = Size {
            system: SizeSystem::UsMen,
            value: 9.0,
        }
        .millimetres();
        assert!((eu - uk).abs() < 2.5, "{eu} {uk}");
        assert!((uk - us).abs() < 1e-9);
        assert!((265.0..=271.0).contains(&uk));
    }
}
