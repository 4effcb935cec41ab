//! An address as a QR code's modules (ISO/IEC 18004), for prints.

use fast_qr::{ECL, QRBuilder};

/// One text of `0` and `1` a row, dark is `1`; without the quiet zone. Error
/// correction is level M, which still reads with 15 % of the code damaged.
/// Empty where the text is too long for any code.
pub fn code(text: &str) -> Vec<String> {
    let Ok(code) = QRBuilder::new(text).ecl(ECL::M).build() else {
        return Vec::new();
    };
    (0..code.size)
        .map(|row| {
            (0..code.size)
                .map(|column| if code[row][column].value() { '1' } else { '0' })
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_square_with_its_three_finders() {
        let rows = code("https://lab.example/shoes/quarrel-2/");
        assert!(rows.iter().all(|row| row.len() == rows.len()));
        assert!(rows[0].starts_with("11111110") && rows[0].ends_with("01111111"));
        assert!(rows[rows.len() - 1].starts_with("11111110"));
    }

    #[test]
    fn a_text_too_long_for_a_code_has_none() {
        assert!(code(&"x".repeat(4000)).is_empty());
    }
}
