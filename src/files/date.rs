//! Days, months and ISO weeks of the civil calendar, without clock or time zone.
//!
//! A date is written `2026-11-18`, a month `2026-03`, a week `2026-W48`; nothing
//! else is read, and a day that does not exist is refused with the reason. Weeks
//! are those of ISO 8601: Monday to Sunday, and week 1 holds the year's first
//! Thursday, so the days around New Year may belong to the neighbour year's week.

use jiff::civil;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::{borrow::Cow, fmt, str::FromStr};

/// A text that is no date, month or week.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotADate {
    /// What is wrong, in words.
    pub reason: String,
}

impl fmt::Display for NotADate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.reason)
    }
}

impl std::error::Error for NotADate {}

/// A day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date(civil::Date);

/// A month of a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Month {
    year: i16,
    month: i8,
}

/// An ISO week of its ISO year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Week {
    year: i16,
    week: i8,
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

fn refuse<T>(text: &str, reason: impl fmt::Display) -> Result<T, NotADate> {
    let quoted = crate::diagnostics::text::quote(text);
    Err(NotADate {
        reason: format!("{quoted} {reason}"),
    })
}

/// A number of exactly `digits` digits.
fn number(text: &str, digits: usize) -> Option<i16> {
    let right = text.len() == digits && text.bytes().all(|b| b.is_ascii_digit());
    right.then(|| text.parse().ok()).flatten()
}

impl Date {
    /// The day as the calendar library has it.
    pub fn civil(self) -> civil::Date {
        self.0
    }

    /// The ISO week it lies in.
    pub fn week(self) -> Week {
        let week = self.0.iso_week_date();
        Week {
            year: week.year(),
            week: week.week(),
        }
    }

    /// The day in words, such as `18 November 2026`.
    pub fn text(self) -> String {
        format!("{} {}", self.0.day(), self.month().text())
    }

    /// The month it lies in.
    pub fn month(self) -> Month {
        Month {
            year: self.0.year(),
            month: self.0.month(),
        }
    }
}

impl From<civil::Date> for Date {
    fn from(date: civil::Date) -> Self {
        Date(date)
    }
}

impl FromStr for Date {
    type Err = NotADate;

    fn from_str(text: &str) -> Result<Self, NotADate> {
        let parts: Vec<&str> = text.split('-').collect();
        let [year, month, day] = parts[..] else {
            return refuse(text, "is no date such as 2026-11-18 (year-month-day)");
        };
        let (Some(year), Some(month), Some(day)) =
            (number(year, 4), number(month, 2), number(day, 2))
        else {
            return refuse(text, "is no date such as 2026-11-18 (year-month-day)");
        };
        let Month { year, month } = Month::new(text, year, month)?;
        match i8::try_from(day)
            .ok()
            .and_then(|day| civil::Date::new(year, month, day).ok())
        {
            Some(date) => Ok(Date(date)),
            None => {
                let days = civil::Date::constant(year, month, 1).days_in_month();
                let name = MONTHS[month as usize - 1];
                refuse(text, format!("is no day: {name} {year} has {days} days"))
            }
        }
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day) = (self.0.year(), self.0.month(), self.0.day());
        write!(f, "{year:04}-{month:02}-{day:02}")
    }
}

impl Month {
    fn new(text: &str, year: i16, month: i16) -> Result<Month, NotADate> {
        if year == 0 {
            return refuse(text, "is no date: there is no year 0000");
        }
        match i8::try_from(month) {
            Ok(month @ 1..=12) => Ok(Month { year, month }),
            _ => refuse(text, format!("is no date: there is no month {month:02}")),
        }
    }

    /// The year.
    pub fn year(self) -> i16 {
        self.year
    }

    /// The month, 1 to 12.
    pub fn month(self) -> i8 {
        self.month
    }

    /// Its English name, such as `March`.
    pub fn name(self) -> &'static str {
        MONTHS[self.month as usize - 1]
    }

    /// The month in words, such as `March 2026`.
    pub fn text(self) -> String {
        format!("{} {}", self.name(), self.year)
    }

    /// Its first day.
    pub fn first(self) -> Date {
        Date(civil::Date::constant(self.year, self.month, 1))
    }
}

impl FromStr for Month {
    type Err = NotADate;

    fn from_str(text: &str) -> Result<Self, NotADate> {
        let parts = text.split_once('-');
        let numbers = parts.and_then(|(year, month)| Some((number(year, 4)?, number(month, 2)?)));
        match numbers {
            Some((year, month)) => Month::new(text, year, month),
            None => refuse(text, "is no month such as 2026-03 (year-month)"),
        }
    }
}

impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}", self.year, self.month)
    }
}

impl Week {
    /// The ISO year, which differs from the calendar's around New Year.
    pub fn year(self) -> i16 {
        self.year
    }

    /// The week, 1 to 52 or 53.
    pub fn week(self) -> i8 {
        self.week
    }

    /// The week as a step of an address: `2026-w48`.
    pub fn slug(self) -> String {
        self.to_string().to_lowercase()
    }

    /// Its first day.
    pub fn monday(self) -> Date {
        let first = civil::ISOWeekDate::new(self.year, self.week, civil::Weekday::Monday);
        Date(
            first
                .expect("a week holds a year and week that exist")
                .into(),
        )
    }
}

impl FromStr for Week {
    type Err = NotADate;

    fn from_str(text: &str) -> Result<Self, NotADate> {
        let parts = text.split_once("-W").or_else(|| text.split_once("-w"));
        let numbers = parts.and_then(|(year, week)| Some((number(year, 4)?, number(week, 2)?)));
        let Some((year, week)) = numbers else {
            return refuse(text, "is no week such as 2026-W48");
        };
        let real = i8::try_from(week)
            .ok()
            .filter(|_| year > 0)
            .and_then(|week| civil::ISOWeekDate::new(year, week, civil::Weekday::Monday).ok());
        match real {
            Some(real) => Ok(Week {
                year: real.year(),
                week: real.week(),
            }),
            None => refuse(
                text,
                format!("is no week: the year {year:04} has no week {week:02}"),
            ),
        }
    }
}

impl fmt::Display for Week {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-W{:02}", self.year, self.week)
    }
}

macro_rules! as_text {
    ($name:ident, $format:literal, $about:literal) => {
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = Cow::<str>::deserialize(deserializer)?;
                text.parse().map_err(serde::de::Error::custom)
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({
                    "description": $about,
                    "type": "string",
                    "format": $format,
                })
            }
        }
    };
}

as_text!(Date, "date", "A day such as 2026-11-18.");
as_text!(Month, "month", "A month such as 2026-03.");
as_text!(Week, "week", "An ISO week such as 2026-W48.");

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn date(text: &str) -> Date {
        text.parse().unwrap()
    }

    /// ISO 8601 weeks of days around New Year, leap days and long years; computed
    /// with CPython's `date.isocalendar`, fourteen of them cross-checked with GNU
    /// coreutils `date +%G-W%V-%u` (tests/data/iso8601_week_dates.csv).
    #[test]
    fn weeks_at_the_edges_of_years_are_those_of_iso_8601() {
        let table = include_str!("../../tests/data/iso8601_week_dates.csv");
        let mut rows = 0;
        for row in table.lines().skip(1) {
            let cells: Vec<&str> = row.split(',').collect();
            let expected = cells[1].rsplit_once('-').unwrap().0;
            let day = date(cells[0]);
            assert_eq!(day.week().to_string(), expected, "{row}");
            assert_eq!(day.to_string(), cells[0]);
            assert!(day.week().monday() <= day);
            rows += 1;
        }
        assert_eq!(rows, 55);
    }

    #[test]
    fn a_day_that_does_not_exist_says_why() {
        let reason = |text: &str| text.parse::<Date>().unwrap_err().reason;
        assert_eq!(
            reason("2026-02-30"),
            "`2026-02-30` is no day: February 2026 has 28 days"
        );
        assert!(reason("2024-02-30").contains("29 days"));
        assert!(reason("2026-13-01").contains("no month 13"));
        assert!(reason("0000-01-01").contains("year 0000"));
        for text in [
            "",
            "18.11.2026",
            "2026-11-18T10:00",
            "26-11-18",
            "2026-1-8",
            " 2026-11-18",
            "+026-11-18",
        ] {
            assert!(reason(text).contains("year-month-day"), "{text}");
        }
    }

    #[test]
    fn a_week_parses_as_it_prints_and_a_53rd_only_where_there_is_one() {
        let week: Week = "2026-W53".parse().unwrap();
        assert_eq!(week.slug(), "2026-w53");
        assert_eq!(week.slug().parse(), Ok(week));
        let error = "2027-W53".parse::<Week>().unwrap_err();
        assert!(error.reason.contains("no week 53"));
        for text in ["2026-48", "2026-W00", "2026-W", "0000-W01"] {
            assert!(text.parse::<Week>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_month_knows_its_first_day_and_refuses_a_thirteenth() {
        let month: Month = "2026-03".parse().unwrap();
        assert_eq!(month.first(), date("2026-03-01"));
        assert_eq!(month.name(), "March");
        assert_eq!(date("2026-03-31").month(), month);
        for text in ["2026-13", "2026-00", "2026-3", "2026", "March 2026"] {
            assert!(text.parse::<Month>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_plain_date_in_yaml_is_text_and_reads() {
        assert_eq!(
            serde_yaml::from_str::<Date>("2026-11-18").unwrap(),
            date("2026-11-18")
        );
        assert_eq!(
            serde_yaml::to_string(&date("2026-11-18")).unwrap().trim(),
            "2026-11-18"
        );
    }

    proptest! {
        #[test]
        fn prop_dates_months_and_weeks_parse_as_they_print(days in 0i32..3_000_000) {
            let start = civil::date(1, 1, 1);
            let day = Date(start.checked_add(jiff::Span::new().days(days)).unwrap());
            prop_assert_eq!(day.to_string().parse(), Ok(day));
            prop_assert_eq!(day.month().to_string().parse(), Ok(day.month()));
            prop_assert_eq!(day.week().to_string().parse(), Ok(day.week()));
            let monday = day.week().monday();
            prop_assert!(monday <= day && monday.week() == day.week());
        }

        #[test]
        fn prop_any_text_is_read_or_refused(text in "\\PC{0,12}|[0-9W-]{0,10}") {
            let _ = (text.parse::<Date>(), text.parse::<Month>(), text.parse::<Week>());
        }
    }
}
