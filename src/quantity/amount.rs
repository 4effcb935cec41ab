//! An amount as it is written in a lab's file: a number, with or without its unit.

use super::{Incommensurable, Unit};
use std::fmt;

/// A number with the unit written beside it, if one was.
///
/// A bare number takes the unit its place in the file implies (the protocol's
/// unit, for a reading).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Amount {
    /// The number as written; always finite.
    pub value: f64,
    /// The unit as written.
    pub unit: Option<Unit>,
}

/// A text that is no amount.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotAnAmount {
    /// What is wrong, in words.
    pub reason: String,
}

impl fmt::Display for NotAnAmount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.reason)
    }
}

impl std::error::Error for NotAnAmount {}

impl Amount {
    /// The amount in `unit`; a bare number is taken to be in `unit` already.
    ///
    /// # Errors
    /// [`Incommensurable`] if the written unit measures something else.
    pub fn in_unit(self, unit: Unit) -> Result<f64, Incommensurable> {
        match self.unit {
            None => Ok(self.value),
            Some(written) => written.convert(self.value, unit),
        }
    }

    /// The amount as a difference in `unit`: `1.5 °C` of tolerance is 1.5 K.
    ///
    /// # Errors
    /// [`Incommensurable`] if the written unit measures something else.
    pub fn difference_in(self, unit: Unit) -> Result<f64, Incommensurable> {
        match self.unit {
            None => Ok(self.value),
            Some(written) => Ok(self.value * written.sensitivity(unit)?),
        }
    }
}

impl std::str::FromStr for Amount {
    type Err = NotAnAmount;

    /// Reads `4.2`, `4.2 N·m`, `12%` or `38 in·lbf`; a decimal point, no
    /// thousands separators, nothing but finite numbers.
    fn from_str(text: &str) -> Result<Self, NotAnAmount> {
        let text = text.trim();
        let end = text
            .char_indices()
            .find(|(at, c)| {
                let exponent = matches!(c, 'e' | 'E')
                    && text[at + 1..].starts_with(|next: char| {
                        next.is_ascii_digit() || next == '-' || next == '+'
                    });
                !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '−') || exponent)
            })
            .map_or(text.len(), |(at, _)| at);
        let (number, unit) = text.split_at(end);
        if unit.starts_with(',') {
            return Err(NotAnAmount {
                reason: format!("`{text}` has a comma; write a decimal point"),
            });
        }
        let value: f64 = number.replace('−', "-").parse().map_err(|_| NotAnAmount {
            reason: format!("`{text}` does not begin with a number"),
        })?;
        if !value.is_finite() {
            return Err(NotAnAmount {
                reason: format!("`{text}` is not finite"),
            });
        }
        let unit = match unit.trim() {
            "" => None,
            symbol => Some(symbol.parse::<Unit>().map_err(|unknown| NotAnAmount {
                reason: unknown.to_string(),
            })?),
        };
        Ok(Amount { value, unit })
    }
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.unit {
            None => write!(f, "{}", self.value),
            Some(unit) => write!(f, "{} {unit}", self.value),
        }
    }
}

impl<'de> serde::Deserialize<'de> for Amount {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;
        impl serde::de::Visitor<'_> for Visitor {
            type Value = Amount;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number, or a number with its unit such as `38 in·lbf`")
            }

            fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Amount, E> {
                self.visit_f64(value as f64)
            }

            fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Amount, E> {
                self.visit_f64(value as f64)
            }

            fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Amount, E> {
                if value.is_finite() {
                    Ok(Amount { value, unit: None })
                } else {
                    Err(E::custom("a number must be finite"))
                }
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Amount, E> {
                text.parse().map_err(E::custom)
            }
        }
        deserializer.deserialize_any(Visitor)
    }
}

impl schemars::JsonSchema for Amount {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Amount".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": "A number, or a number with its unit such as `38 in·lbf`.",
            "type": ["number", "string"],
            "format": "amount",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn an_amount_reads_with_and_without_its_unit() {
        assert_eq!(
            "4.2".parse(),
            Ok(Amount {
                value: 4.2,
                unit: None
            })
        );
        assert_eq!(
            "38 in·lbf".parse(),
            Ok(Amount {
                value: 38.0,
                unit: Some(Unit::InchPoundForce)
            })
        );
        assert_eq!(
            "12%".parse(),
            Ok(Amount {
                value: 12.0,
                unit: Some(Unit::Percent)
            })
        );
        assert_eq!(
            "-4 mm".parse(),
            Ok(Amount {
                value: -4.0,
                unit: Some(Unit::Millimetre)
            })
        );
        assert_eq!(
            "1e3 N".parse(),
            Ok(Amount {
                value: 1000.0,
                unit: Some(Unit::Newton)
            })
        );
    }

    #[test]
    fn an_exponent_belongs_to_the_number_and_a_letter_after_it_to_the_unit() {
        for (text, value) in [
            ("2e3 mm", 2000.0),
            ("2E-3 mm", 0.002),
            ("2.e+3 mm", 2000.0),
            (" 2 mm ", 2.0),
        ] {
            let read: Amount = text.parse().unwrap();
            assert_eq!((read.value, read.unit), (value, Some(Unit::Millimetre)));
        }
        let reason = "2 ells".parse::<Amount>().unwrap_err().reason;
        assert!(reason.starts_with("`ells` is no unit"), "{reason}");
        let reason = "2ells".parse::<Amount>().unwrap_err().reason;
        assert!(reason.starts_with("`ells` is no unit"), "{reason}");
    }

    #[test]
    fn an_amount_is_written_as_it_is_read() {
        for text in ["4.2", "-38 in·lbf"] {
            assert_eq!(text.parse::<Amount>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn a_decimal_comma_and_a_number_out_of_range_are_refused() {
        assert!(
            "4,2"
                .parse::<Amount>()
                .unwrap_err()
                .reason
                .contains("comma")
        );
        assert!(
            "1e999"
                .parse::<Amount>()
                .unwrap_err()
                .reason
                .contains("finite")
        );
        assert!("mm 4".parse::<Amount>().is_err());
        assert!("4 furlongs".parse::<Amount>().is_err());
    }

    #[test]
    fn a_difference_of_temperatures_is_read_as_one() {
        let tolerance: Amount = "1.5 °C".parse().unwrap();
        assert_eq!(tolerance.difference_in(Unit::CelsiusDegree), Ok(1.5));
        let fahrenheit: Amount = "2.7 °F".parse().unwrap();
        assert!((fahrenheit.difference_in(Unit::Celsius).unwrap() - 1.5).abs() < 1e-15);
        assert!(tolerance.difference_in(Unit::Gram).is_err());
        let bare: Amount = "3".parse().unwrap();
        assert_eq!(
            (bare.in_unit(Unit::Gram), bare.difference_in(Unit::Gram)),
            (Ok(3.0), Ok(3.0))
        );
    }

    #[test]
    fn a_file_gives_numbers_or_texts_and_nothing_else() {
        let read = |text: &str| serde_yaml::from_str::<Amount>(text).map_err(|e| e.to_string());
        assert_eq!(read("6.0").unwrap().value, 6.0);
        assert_eq!(read("262").unwrap(), "262".parse().unwrap());
        assert_eq!(read("38 in·lbf").unwrap().unit, Some(Unit::InchPoundForce));
        assert!(read(".nan").unwrap_err().contains("finite"));
        assert!(read("true").unwrap_err().contains("a number"));
        assert!(read("[1]").is_err());
    }

    proptest! {
        #[test]
        fn prop_what_is_printed_reads_back(
            value in prop::num::f64::NORMAL | prop::num::f64::ZERO,
            unit in prop::sample::select(Unit::symbols().collect::<Vec<_>>()),
        ) {
            let amount = Amount { value, unit: Some(unit.parse().unwrap()) };
            prop_assert_eq!(amount.to_string().parse(), Ok(amount));
            let bare = Amount { value, unit: None };
            prop_assert_eq!(bare.to_string().parse(), Ok(bare));
        }

        #[test]
        fn prop_no_text_makes_it_panic(text in ".{0,24}") {
            let _ = text.parse::<Amount>();
        }
    }
}
