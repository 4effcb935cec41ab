//! A number a rule yields, as it is printed: its unit and its decimals, checked.

use super::Mistake;
use crate::diagnostics::KeyPath;
use crate::quantity::Unit;

/// The most places a printed number may have.
const MOST_DECIMALS: u8 = 9;

/// How many places it has unless the rule says otherwise.
pub(super) fn one_decimal() -> u8 {
    1
}

/// The unit of a rule's result, from its setting `unit`.
pub(super) fn check_unit(unit: &str) -> Result<Unit, Mistake> {
    unit.parse::<Unit>().map_err(|unknown| {
        let path = KeyPath::root().key("unit");
        Mistake::new("unknown-unit", path, unknown.to_string()).hint("write one of the units named")
    })
}

/// What is wrong with a rule's setting `decimals`, if anything.
pub(super) fn check_decimals(decimals: u8) -> Option<Mistake> {
    (decimals > MOST_DECIMALS).then(|| {
        Mistake::new(
            "decimals-out-of-range",
            KeyPath::root().key("decimals"),
            format!("{decimals} decimals are more than the {MOST_DECIMALS} a page can print"),
        )
        .hint("write as many as the uncertainty makes sensible, such as 1")
    })
}
