//! Numbers as the trace and the method page write them.

use super::Banded;
use crate::measure::{dof_text, drawn::DRAWS};
use crate::quantity::{Uncertain, Unit, decimals_for_uncertainty, fixed};

/// The most places a traced number has.
const MOST: u8 = 6;

/// A number with the places its uncertainty makes sensible: two digits of it.
/// Without uncertainty, as few places as say it, four at most.
pub(super) fn number(value: f64, u: f64) -> String {
    if u > 0.0 {
        return fixed(value, decimals_for_uncertainty(u, MOST));
    }
    let full = fixed(value, 4);
    full.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A value and its unit.
pub(super) fn with_unit(value: f64, u: f64, unit: Unit) -> String {
    format!("{} {unit}", number(value, u))
}

/// A score, to one place more than a reader needs.
pub(super) fn score(value: f64) -> String {
    fixed(value, 1)
}

/// The interval of a score: `72.6 to 76.9 of 100`.
pub(super) fn interval(banded: &Banded) -> String {
    let (low, high) = banded.interval;
    format!("{} to {} of 100", score(low), score(high))
}

/// What a step says of an interval that was drawn.
pub(super) fn drawn(what: &str) -> String {
    let (thousand, rest) = (DRAWS / 1000, DRAWS % 1000);
    format!(
        "{what}, by {thousand}\u{202f}{rest:03} random draws, since the law of propagation parts \
         from them by over u/20 (JCGM 101, 7.7 and 8)"
    )
}

/// A standard uncertainty with two significant digits.
pub(super) fn uncertainty(u: f64) -> String {
    fixed(u, decimals_for_uncertainty(u, MOST))
}

/// Effective degrees of freedom, cut down to whole ones as those of a quantity are.
pub(super) fn dof(value: &Uncertain) -> String {
    dof_text(value.dof())
}

/// A chance in per cent.
pub(super) fn chance(chance: f64) -> String {
    format!("{} %", fixed(100.0 * chance, 1))
}

/// A standard uncertainty and its unit; of a temperature it is a difference.
pub(super) fn with_unit_of_difference(u: f64, unit: Unit) -> String {
    format!("{} {}", uncertainty(u), unit.of_differences())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::fixture::{uncertain, with_dof};

    #[test]
    fn a_number_has_the_places_that_its_uncertainty_or_its_own_digits_need() {
        for (value, u, text) in [
            (4.5678, 0.012, "4.568"),
            (4.5678, 1.2, "4.6"),
            (4.5678, 0.0, "4.5678"),
            (4.567_89, 0.0, "4.5679"),
            (2.5, 0.0, "2.5"),
            (250.0, 0.0, "250"),
            (1.0, 0.000_000_12, "1.000000"),
        ] {
            assert_eq!(number(value, u), text, "{value} {u}");
        }
    }

    #[test]
    fn degrees_of_freedom_are_whole_or_endless() {
        assert_eq!(dof(&uncertain("a", 1.0, 0.5)), "∞");
        assert_eq!(dof(&with_dof("a", 1.0, 0.5, 11.6)), "11");
    }

    #[test]
    fn drawn_tells_how_many_draws() {
        let told = drawn("the interval");
        let count: String = told.chars().filter(char::is_ascii_digit).collect();
        assert!(count.starts_with(&DRAWS.to_string()), "{told}");
        assert!(told.contains("100\u{202f}000 random"), "{told}");
    }
}
