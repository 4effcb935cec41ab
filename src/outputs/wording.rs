//! Words every view is made with: placeholders, shares, lists, sizes, weeks.
//!
//! Each is said in the language handed over; the lab's own words come from its
//! phrases and labels.

use super::figures::{minus, with_unit};
use crate::files::{Date, Month, Week};
use crate::lab::{Size, SizeSystem};
use crate::quantity::{Amount, fixed, round_half_even};
pub(super) use crate::words::fill_isolated as fill;
use crate::words::{Language, say, text};

/// A chance of 0 to 1 as per cent with its sign. It is never printed as certain:
/// `over 99 %` and `under 1 %` stand at the ends. Nor on the other side of the limit
/// under which a finding is borderline: with 80 %, 79.7 % is printed as 79 %.
pub(super) fn chance(language: &Language, share: f64, limit: f64) -> String {
    if share > 0.99 {
        return say!(language, "over 99 %");
    }
    if share < 0.01 {
        return say!(language, "under 1 %");
    }
    let percent = share * 100.0;
    let rounded = round_half_even(percent, 0);
    let is_under = |percent: f64| percent < limit * 100.0 - 1e-9;
    let printed = match (share < limit, is_under(rounded)) {
        (true, false) => percent.floor(),
        (false, true) => percent.ceil(),
        _ => rounded,
    };
    format!("{} %", fixed(printed, 0))
}

/// A share of 0 to 1 that somebody fixed, as per cent with its sign: `95 %`.
/// It keeps the decimals it was fixed with, two at most.
pub(super) fn percent(share: f64) -> String {
    let text = fixed(share * 100.0, 2);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} %")
}

/// A number somebody fixed, as they fixed it: six decimals at most.
pub(super) fn as_fixed(language: &Language, value: f64) -> String {
    let text = fixed(value, 6);
    let short = text.trim_end_matches('0').trim_end_matches('.');
    language.number(&minus(short)).into_owned()
}

/// `a`, `a or b`, `a, b or c`.
pub(super) fn any_of(language: &Language, items: &[String]) -> String {
    in_a_row(items, |items, last| {
        say!(language, "{items} or {last}", items = items, last = last)
    })
}

/// `a`, `a and b`, `a, b and c`.
pub(super) fn all_of(language: &Language, items: &[String]) -> String {
    in_a_row(items, |items, last| {
        say!(language, "{items} and {last}", items = items, last = last)
    })
}

/// Texts with commas between them, the last one joined as it is told.
fn in_a_row(items: &[String], join: impl Fn(String, &String) -> String) -> String {
    match items {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., last] => join(most.join(", "), last),
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

/// An amount as it was written, with a minus sign instead of a hyphen.
pub(super) fn amount(language: &Language, amount: Amount) -> String {
    let number = language
        .number(&minus(&amount.value.to_string()))
        .into_owned();
    match amount.unit {
        Some(unit) => with_unit(&number, unit),
        None => number,
    }
}

/// A size with its system.
pub(super) fn size(language: &Language, size: Size) -> String {
    let value = language.number(&size.value.to_string()).into_owned();
    match size.system {
        SizeSystem::Mondopoint => say!(language, "Mondopoint {size}", size = value),
        SizeSystem::Cm => say!(language, "{size} cm", size = value),
        SizeSystem::Paris => say!(language, "Paris points {size}", size = value),
        SizeSystem::Uk => say!(language, "UK {size}", size = value),
        SizeSystem::UsMen => say!(language, "US men {size}", size = value),
        SizeSystem::UsWomen => say!(language, "US women {size}", size = value),
    }
}

/// The months, as a language may have to say them.
const MONTHS: [&str; 12] = [
    text!("January"),
    text!("February"),
    text!("March"),
    text!("April"),
    text!("May"),
    text!("June"),
    text!("July"),
    text!("August"),
    text!("September"),
    text!("October"),
    text!("November"),
    text!("December"),
];

fn month_name(language: &Language, date: jiff::civil::Date) -> String {
    let at = usize::try_from(date.month() - 1).unwrap_or_default();
    MONTHS
        .get(at)
        .map_or_else(String::new, |name| language.say(name, &[]))
}

/// A month: `March 2026`.
pub(super) fn month(language: &Language, month: Month) -> String {
    let first = month.first().civil();
    let name = month_name(language, first);
    say!(
        language,
        "{month} {year}",
        month = name,
        year = first.year()
    )
}

/// A day: `26 November 2026`.
pub(super) fn day(language: &Language, on: Date) -> String {
    let on = on.civil();
    say!(
        language,
        "{day} {month} {year}",
        day = on.day(),
        month = month_name(language, on),
        year = on.year()
    )
}

/// The days of a week, Monday to Sunday: `23 to 29 November 2026`.
pub(super) fn week_days(language: &Language, week: Week) -> String {
    let monday = week.monday().civil();
    let Ok(sunday) = monday.checked_add(jiff::Span::new().days(6)) else {
        return week.to_string();
    };
    let to = day(language, Date::from(sunday));
    if monday.year() != sunday.year() {
        let from = day(language, Date::from(monday));
        say!(language, "{from} to {to}", from = from, to = to)
    } else if monday.month() != sunday.month() {
        say!(
            language,
            "{day} {month} to {to}",
            day = monday.day(),
            month = month_name(language, monday),
            to = to
        )
    } else {
        say!(language, "{day} to {to}", day = monday.day(), to = to)
    }
}

/// A day as RFC 3339 writes an instant: its midnight, UTC.
pub(super) fn instant(on: Date) -> String {
    format!("{on}T00:00:00Z")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chance_is_never_certain() {
        let said = |share| chance(Language::english(), share, 0.8);
        assert_eq!(said(0.934), "93 %");
        assert_eq!(said(1.0), "over 99 %");
        assert_eq!(said(0.0), "under 1 %");
        assert_eq!(said(0.99), "99 %");
    }

    #[test]
    fn a_chance_stays_on_its_side_of_the_limit() {
        let said = |share, limit| chance(Language::english(), share, limit);
        assert_eq!(said(0.797, 0.8), "79 %");
        assert_eq!(said(0.792, 0.8), "79 %");
        assert_eq!(said(0.8, 0.8), "80 %");
        assert_eq!(said(0.804, 0.8), "80 %");
        assert_eq!(said(0.8029, 0.803), "80 %");
        assert_eq!(said(0.8031, 0.803), "81 %");
        // 0.57 × 100 is a little under 57 as a double.
        assert_eq!(said(0.57, 0.57), "57 %");
    }

    #[test]
    fn a_fixed_share_keeps_its_decimals() {
        assert_eq!(percent(0.95), "95 %");
        assert_eq!(percent(0.9545), "95.45 %");
        assert_eq!(percent(0.5), "50 %");
    }

    #[test]
    fn a_fixed_number_keeps_its_decimals() {
        let text = |value| as_fixed(Language::english(), value);
        assert_eq!(text(40.0), "40");
        assert_eq!(text(33.33), "33.33");
        assert_eq!(text(-0.5), "\u{2212}0.5");
    }

    #[test]
    fn a_week_is_told_by_its_days() {
        let days = |text: &str| week_days(Language::english(), text.parse().unwrap());
        assert_eq!(days("2026-W48"), "23 to 29 November 2026");
        assert_eq!(days("2026-W49"), "30 November to 6 December 2026");
        assert_eq!(days("2026-W53"), "28 December 2026 to 3 January 2027");
    }

    #[test]
    fn a_list_ends_with_its_word() {
        let items = ["a", "b", "c"].map(String::from);
        assert_eq!(any_of(Language::english(), &items), "a, b or c");
        assert_eq!(all_of(Language::english(), &items[..1]), "a");
    }
}
