//! What a plain word of YAML stands for, as serde reads it: the core schema of
//! YAML 1.2 (`yes` and `on` are text; `0x1F`, `0o17` and `0b1` are whole numbers;
//! `007` is text).

/// What a plain (unquoted) scalar stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Plain {
    Null,
    Bool(bool),
    Whole(f64),
    Number(f64),
    NotFinite,
    Text,
}

/// Reads a plain scalar.
pub(super) fn classify(text: &str) -> Plain {
    match text {
        "" | "~" | "null" | "Null" | "NULL" => return Plain::Null,
        "true" | "True" | "TRUE" => return Plain::Bool(true),
        "false" | "False" | "FALSE" => return Plain::Bool(false),
        _ => {}
    }
    let unsigned = text.strip_prefix(['-', '+']).unwrap_or(text);
    if matches!(unsigned, ".inf" | ".Inf" | ".INF") || matches!(text, ".nan" | ".NaN" | ".NAN") {
        return Plain::NotFinite;
    }
    if let Some(whole) = whole(text, unsigned) {
        return Plain::Whole(whole);
    }
    let digits = unsigned.bytes().all(|b| b.is_ascii_digit());
    if unsigned.starts_with(['+', '-'])
        || (digits && unsigned.len() > 1 && unsigned.starts_with('0'))
    {
        return Plain::Text;
    }
    match text.strip_prefix('+').unwrap_or(text).parse::<f64>() {
        Ok(value) if value.is_finite() => Plain::Number(value),
        _ => Plain::Text,
    }
}

/// Whether a plain scalar is read as the text it is.
pub(in crate::files) fn stays_text(text: &str) -> bool {
    classify(text) == Plain::Text
}

fn whole(text: &str, unsigned: &str) -> Option<f64> {
    let (digits, radix) = match unsigned.get(..2) {
        Some("0x") => (&unsigned[2..], 16),
        Some("0o") => (&unsigned[2..], 8),
        Some("0b") => (&unsigned[2..], 2),
        _ => (unsigned, 10),
    };
    let starts_as_number = digits.starts_with(|c: char| c.is_digit(radix));
    let padded = radix == 10 && digits.len() > 1 && digits.starts_with('0');
    if !starts_as_number || padded {
        return None;
    }
    let value = u128::from_str_radix(digits, radix).ok()? as f64;
    Some(if text.starts_with('-') { -value } else { value })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// serde's own reading of a plain scalar.
    fn by_serde(text: &str) -> Option<Plain> {
        Some(
            match serde_yaml::from_str::<serde_yaml::Value>(text).ok()? {
                serde_yaml::Value::Null => Plain::Null,
                serde_yaml::Value::Bool(value) => Plain::Bool(value),
                serde_yaml::Value::Number(n) => {
                    let value = n.as_f64()?;
                    if !value.is_finite() {
                        Plain::NotFinite
                    } else if n.is_f64() {
                        Plain::Number(value)
                    } else {
                        Plain::Whole(value)
                    }
                }
                serde_yaml::Value::String(_) => Plain::Text,
                _ => return None,
            },
        )
    }

    #[test]
    fn plain_words_are_read_as_serde_reads_them() {
        for text in [
            "~",
            "null",
            "yes",
            "on",
            "true",
            "True",
            "tRue",
            "1",
            "+1",
            "-1",
            "--1",
            "+-1",
            "007",
            "0",
            "-0",
            "00",
            "0x1F",
            "-0x1f",
            "0o17",
            "0b11",
            "0x",
            "0x-1",
            "1.5",
            "-1.5",
            ".5",
            "5.",
            "1e3",
            "1E-3",
            "1e999",
            "-.inf",
            "+.inf",
            ".nan",
            "-.nan",
            "inf",
            "nan",
            "infinity",
            "2026-11-18",
            "2026-03",
            "4,2",
            "1_000",
            "12%",
            "1.2.3",
            "0.0",
            "007.5",
            "0x1.8",
        ] {
            assert_eq!(Some(classify(text)), by_serde(text), "{text}");
        }
    }

    proptest! {
        #[test]
        fn prop_numbers_are_read_as_serde_reads_them(text in "[-+]{0,2}[0-9.xobeEfFinaIN_]{1,10}") {
            if let Some(expected) = by_serde(&text) {
                prop_assert_eq!(classify(&text), expected);
            }
        }
    }
}
