//! Dates of a lab's files: days, months and ISO 8601 weeks.

use jiff::civil;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::{borrow::Cow, fmt, str::FromStr};

/// A day, written `2026-11-18`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date(pub civil::Date);

/// A month, written `2026-03`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Month {
    /// The year.
    pub year: i16,
    /// The month, 1 to 12.
    pub month: i8,
}

/// An ISO 8601 week, written `2026-W48`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Week {
    /// The year the week belongs to.
    pub year: i16,
    /// The week, 1 to 53.
    pub week: i8,
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

impl Date {
    /// The ISO 8601 week the day lies in.
    pub fn week(self) -> Week {
        let week = self.0.iso_week_date();
        Week {
            year: week.year(),
            week: week.week(),
        }
    }

    /// `26 November 2026`.
    pub fn text(self) -> String {
        format!(
            "{} {} {}",
            self.0.day(),
            MONTHS[usize::from(self.0.month().unsigned_abs()) - 1],
            self.0.year()
        )
    }
}

impl Month {
    /// `March 2026`.
    pub fn text(self) -> String {
        format!(
            "{} {}",
            MONTHS[usize::from(self.month.unsigned_abs()) - 1],
            self.year
        )
    }
}

impl Week {
    /// The week's Monday.
    pub fn monday(self) -> Option<Date> {
        let week = civil::ISOWeekDate::new(self.year, self.week, civil::Weekday::Monday).ok()?;
        Some(Date(week.date()))
    }

    /// The week as it stands in addresses: `2026-w48`.
    pub fn slug(self) -> String {
        format!("{:04}-w{:02}", self.year, self.week)
    }
}

impl FromStr for Date {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let digits =
            |part: &str, n: usize| part.len() == n && part.bytes().all(|b| b.is_ascii_digit());
        let parts: Vec<&str> = text.split('-').collect();
        let [year, month, day] = parts[..] else {
            return Err(format!("`{text}` is no day; write it as 2026-11-18"));
        };
        if !(digits(year, 4) && digits(month, 2) && digits(day, 2)) {
            return Err(format!("`{text}` is no day; write it as 2026-11-18"));
        }
        text.parse::<civil::Date>()
            .map(Date)
            .map_err(|_| format!("`{text}` is not in the calendar"))
    }
}

impl FromStr for Month {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let Date(first) = format!("{text}-01")
            .parse::<Date>()
            .map_err(|_| format!("`{text}` is no month; write it as 2026-03"))?;
        Ok(Month {
            year: first.year(),
            month: first.month(),
        })
    }
}

impl FromStr for Week {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("`{text}` is no week; write it as 2026-W48");
        let (year, week) = text
            .split_once("-W")
            .or_else(|| text.split_once("-w"))
            .ok_or_else(wrong)?;
        if year.len() != 4 || week.len() != 2 {
            return Err(wrong());
        }
        let week = Week {
            year: year.parse().map_err(|_| wrong())?,
            week: week.parse().map_err(|_| wrong())?,
        };
        week.monday()
            .map(|_| week)
            .ok_or_else(|| format!("{} has no week {}", week.year, week.week))
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{:04}-{:02}-{:02}",
            self.0.year(),
            self.0.month(),
            self.0.day()
        )
    }
}

impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}", self.year, self.month)
    }
}

impl fmt::Display for Week {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-W{:02}", self.year, self.week)
    }
}

macro_rules! as_text {
    ($type:ident, $format:literal, $about:literal) => {
        impl<'de> Deserialize<'de> for $type {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                Cow::<str>::deserialize(deserializer)?
                    .parse()
                    .map_err(serde::de::Error::custom)
            }
        }

        impl Serialize for $type {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl JsonSchema for $type {
            fn schema_name() -> Cow<'static, str> {
                stringify!($type).into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({"description": $about, "type": "string", "format": $format})
            }
        }
    };
}

as_text!(Date, "date", "A day, as 2026-11-18.");
as_text!(Month, "month", "A month, as 2026-03.");
as_text!(Week, "week", "An ISO 8601 week, as 2026-W48.");
