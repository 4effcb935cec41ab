//! Words every view is made with: placeholders, shares, lists, sizes, weeks.
//!
//! English only; the lab's own words come from its phrases.

use super::figures::{minus, with_unit};
use crate::files::Week;
use crate::lab::{Size, SizeSystem};
use crate::quantity::{Amount, fixed};

/// A chance or share of 0 to 1 as per cent with its sign. A chance is never
/// printed as certain: `over 99 %` and `under 1 %` stand at the ends.
pub(super) fn chance(share: f64) -> String {
    if share > 0.99 {
        "over 99 %".into()
    } else if share < 0.01 {
        "under 1 %".into()
    } else {
        format!("{} %", fixed(share * 100.0, 0))
    }
}

/// A share of 0 to 1 that somebody fixed, as per cent with its sign: `95 %`.
/// It keeps the decimals it was fixed with, two at most.
pub(super) fn percent(share: f64) -> String {
    let text = fixed(share * 100.0, 2);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} %")
}

/// A text with its placeholders, such as `{value}`, put in. One pass: what is
/// put in is not searched again, so a shoe called `{band}` stays called that.
/// A placeholder that is not known stays as it is written; the load refuses it.
pub(super) fn fill(text: &str, values: &[(&str, &str)]) -> String {
    let mut filled = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(open) = rest.find('{') {
        filled.push_str(&rest[..open]);
        rest = &rest[open..];
        let known = values.iter().find(|(name, _)| {
            rest[1..]
                .strip_prefix(name)
                .is_some_and(|after| after.starts_with('}'))
        });
        match known {
            Some((name, value)) => {
                filled.push_str(value);
                rest = &rest[name.len() + 2..];
            }
            None => {
                filled.push('{');
                rest = &rest[1..];
            }
        }
    }
    filled.push_str(rest);
    filled
}

/// `a`, `a or b`, `a, b or c`.
pub(super) fn list(items: &[String], last: &str) -> String {
    match items {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., end] => format!("{} {last} {end}", most.join(", ")),
    }
}

/// A label inside a sentence: its first letter small, unless a capital follows.
pub(super) fn inside(label: &str) -> String {
    let mut letters = label.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(_), Some(second)) if second.is_uppercase() => label.to_owned(),
        (Some(first), _) => first.to_lowercase().chain(letters).collect(),
        (None, _) => String::new(),
    }
}

/// A clause at the head of a sentence: its first letter a capital.
pub(super) fn capital(clause: &str) -> String {
    let mut letters = clause.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// A clause as a sentence: a capital first, a full stop last.
pub(super) fn sentence(clause: &str) -> String {
    let clause = capital(clause.trim());
    if clause.is_empty() || clause.ends_with(['.', '!', '?']) {
        clause
    } else {
        clause + "."
    }
}

/// `a` or `an`, by the first letter.
pub(super) fn article(word: &str) -> &'static str {
    let vowel = |c: char| matches!(c.to_ascii_lowercase(), 'a' | 'e' | 'i' | 'o' | 'u');
    if word.starts_with(vowel) { "an" } else { "a" }
}

/// `1 shoe`, `31 shoes`.
pub(super) fn count(n: usize, noun: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{n} {noun}{plural}")
}

/// An amount as it was written, with a minus sign instead of a hyphen.
pub(super) fn amount(amount: Amount) -> String {
    let number = minus(&amount.value.to_string());
    match amount.unit {
        Some(unit) => with_unit(&number, unit),
        None => number,
    }
}

/// A size with its system.
pub(super) fn size(size: Size) -> String {
    let system = match size.system {
        SizeSystem::Mondopoint => "Mondopoint",
        SizeSystem::Cm => "cm",
        SizeSystem::Paris => "Paris points",
        SizeSystem::Uk => "UK",
        SizeSystem::UsMen => "US men",
        SizeSystem::UsWomen => "US women",
    };
    format!("{system} {}", size.value)
}

/// The days of a week, Monday to Sunday: `23 to 29 November 2026`.
pub(super) fn week_days(week: Week) -> String {
    let monday = week.monday();
    let Ok(sunday) = monday.civil().checked_add(jiff::Span::new().days(6)) else {
        return week.to_string();
    };
    let last = crate::files::Date::from(sunday);
    let first = if monday.civil().year() != sunday.year() {
        monday.text()
    } else if monday.civil().month() != sunday.month() {
        monday
            .text()
            .rsplit_once(' ')
            .map_or_else(String::new, |(days, _)| days.to_owned())
    } else {
        monday.civil().day().to_string()
    };
    format!("{first} to {}", last.text())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chance_is_never_certain() {
        assert_eq!(chance(0.934), "93 %");
        assert_eq!(chance(1.0), "over 99 %");
        assert_eq!(chance(0.0), "under 1 %");
        assert_eq!(chance(0.99), "99 %");
    }

    #[test]
    fn a_fixed_share_keeps_its_decimals() {
        assert_eq!(percent(0.95), "95 %");
        assert_eq!(percent(0.9545), "95.45 %");
        assert_eq!(percent(0.5), "50 %");
    }

    #[test]
    fn placeholders_are_put_in_once() {
        let values = [("shoe", "{band}"), ("band", "high")];
        assert_eq!(
            fill("{shoe} is {band}; {other} {", &values),
            "{band} is high; {other} {"
        );
    }

    #[test]
    fn a_week_is_told_by_its_days() {
        let days = |text: &str| week_days(text.parse().unwrap());
        assert_eq!(days("2026-W48"), "23 to 29 November 2026");
        assert_eq!(days("2026-W49"), "30 November to 6 December 2026");
        assert_eq!(days("2026-W53"), "28 December 2026 to 3 January 2027");
    }

    #[test]
    fn a_label_inside_a_sentence_keeps_its_capitals() {
        assert_eq!(inside("Light build"), "light build");
        assert_eq!(inside("US men"), "US men");
    }

    #[test]
    fn a_list_ends_with_its_word() {
        let items = ["a", "b", "c"].map(String::from);
        assert_eq!(list(&items, "or"), "a, b or c");
        assert_eq!(list(&items[..1], "or"), "a");
    }
}
