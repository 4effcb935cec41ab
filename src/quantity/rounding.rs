//! The one place where numbers are rounded, for display only.
//!
//! Rounding is half to even on the decimal value (ASTM E29, rounding method;
//! the standard was seen as its public abstract only): 2.345 to two places is
//! 2.34 although the nearest binary double lies above it, because what was
//! written down is 2.345.

/// Rounds half to even at `decimals` places, on the shortest decimal that
/// stands for `value`.
///
/// Values too large to have digits at that place come back as they are.
pub fn round_half_even(value: f64, decimals: u8) -> f64 {
    if let Some(count) = count_of_steps(value.abs(), decimals) {
        // Both are exact, so the quotient is the double nearest to the decimal.
        return (count as f64 / POWERS[usize::from(decimals)]).copysign(value) + 0.0;
    }
    if !value.is_finite() {
        return value;
    }
    fixed(value, decimals).parse().unwrap_or(value)
}

/// `value` rounded half to even with exactly `decimals` places, ASCII digits and
/// a hyphen as minus; a rounded zero has no sign.
pub fn fixed(value: f64, decimals: u8) -> String {
    debug_assert!(value.is_finite(), "only finite numbers are printed");
    match count_of_steps(value.abs(), decimals) {
        Some(count) => written(value < 0.0, count, usize::from(decimals)),
        None => of_shortest(value, decimals),
    }
}

/// Powers of ten that are exact, of the places that are asked for.
const POWERS: [f64; 10] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// How many steps of the last place a value comes to, where that is beyond doubt: a
/// folio prints a million numbers, and hardly one lies near the middle of two steps.
/// The product below is off by 2⁻⁵² of itself at most, and so is the shortest decimal
/// from the double it stands for; under 10⁸ that is far less than [`CLEAR`].
fn count_of_steps(value: f64, decimals: u8) -> Option<u64> {
    const MOST: f64 = 1e8;
    const CLEAR: f64 = 1e-6;
    let scaled = value * POWERS.get(usize::from(decimals))?;
    if scaled.is_nan() || scaled >= MOST {
        return None;
    }
    let below = scaled.floor();
    let over = scaled - below;
    ((over - 0.5).abs() > CLEAR).then_some(below as u64 + u64::from(over > 0.5))
}

/// A count of steps of the last place, with its point.
fn written(negative: bool, mut count: u64, decimals: usize) -> String {
    // A count under 10⁸ and its point and sign; or nought, nine places and a point.
    let mut text = [0; 16];
    let mut at = text.len();
    let negative = negative && count > 0;
    let mut places = 0;
    while count > 0 || places <= decimals {
        if places == decimals && decimals > 0 {
            at -= 1;
            text[at] = b'.';
        }
        at -= 1;
        text[at] = b'0' + (count % 10) as u8;
        count /= 10;
        places += 1;
    }
    if negative {
        at -= 1;
        text[at] = b'-';
    }
    String::from_utf8_lossy(&text[at..]).into_owned()
}

/// The same for any value, on the digits of its shortest decimal.
fn of_shortest(value: f64, decimals: u8) -> String {
    let written = format!("{}", value.abs());
    let (whole, fraction) = written.split_once('.').unwrap_or((&written, ""));
    let kept = usize::from(decimals);
    let mut digits: Vec<u8> = whole.bytes().chain(fraction.bytes().take(kept)).collect();
    let rest: &[u8] = fraction.as_bytes().get(kept..).unwrap_or(&[]);
    digits.extend(std::iter::repeat_n(
        b'0',
        kept.saturating_sub(fraction.len()),
    ));
    let last_is_odd = digits.last().is_some_and(|digit| (digit - b'0') % 2 == 1);
    let up = match rest.first() {
        Some(b'6'..=b'9') => true,
        Some(b'5') => rest[1..].iter().any(|digit| *digit != b'0') || last_is_odd,
        _ => false,
    };
    if up {
        carry(&mut digits);
    }
    let point = digits.len() - kept;
    let text: String = digits.iter().map(|digit| char::from(*digit)).collect();
    let zero = digits.iter().all(|digit| *digit == b'0');
    let sign = if value < 0.0 && !zero { "-" } else { "" };
    if kept == 0 {
        format!("{sign}{text}")
    } else {
        format!("{sign}{}.{}", &text[..point], &text[point..])
    }
}

/// Adds one in the last place.
fn carry(digits: &mut Vec<u8>) {
    for digit in digits.iter_mut().rev() {
        if *digit == b'9' {
            *digit = b'0';
        } else {
            *digit += 1;
            return;
        }
    }
    digits.insert(0, b'1');
}

/// How many places show an uncertainty with two significant digits
/// (JCGM 100:2008, 7.2.6), never fewer than zero nor more than `most`.
pub fn decimals_for_uncertainty(uncertainty: f64, most: u8) -> u8 {
    if !(uncertainty.is_finite() && uncertainty > 0.0) {
        return most;
    }
    // From here on one place is rounded up to 10.0: 9.95 lies between 9.9 and 10.0,
    // and the even one is above.
    const TEN_ROUNDED: f64 = 9.95;
    (0..most)
        .find(|decimals| uncertainty * 10_f64.powi(i32::from(*decimals)) >= TEN_ROUNDED)
        .unwrap_or(most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn halves_go_to_the_even_digit_of_the_written_decimal() {
        for (value, decimals, expected) in [
            (2.345, 2, "2.34"),
            (2.355, 2, "2.36"),
            (2.5, 0, "2"),
            (3.5, 0, "4"),
            (0.125, 2, "0.12"),
            (9.995, 2, "10.00"),
            (99.5, 0, "100"),
            (-0.04, 1, "0.0"),
            (-1.25, 1, "-1.2"),
            (-0.375, 2, "-0.38"),
            (1e21, 1, "1000000000000000000000.0"),
            (1e-7, 3, "0.000"),
            (7.0, 2, "7.00"),
            (2.500_000_1, 0, "3"),
        ] {
            assert_eq!(fixed(value, decimals), expected, "{value} to {decimals}");
        }
    }

    #[test]
    fn an_uncertainty_shows_two_significant_digits() {
        assert_eq!(decimals_for_uncertainty(0.123, 6), 2);
        // Rounded first: 0.0996 shows as 0.10, not as 0.100.
        assert_eq!(decimals_for_uncertainty(0.0996, 6), 2);
        assert_eq!(decimals_for_uncertainty(0.0094, 6), 4);
        assert_eq!(decimals_for_uncertainty(9.8, 6), 1);
        assert_eq!(decimals_for_uncertainty(12.3, 6), 0);
        assert_eq!(decimals_for_uncertainty(4.2, 6), 1);
    }

    #[test]
    fn an_uncertainty_of_nothing_shows_as_many_places_as_there_may_be() {
        assert_eq!(decimals_for_uncertainty(0.0, 3), 3);
        assert_eq!(decimals_for_uncertainty(f64::NAN, 3), 3);
        assert_eq!(decimals_for_uncertainty(f64::INFINITY, 3), 3);
        assert_eq!(decimals_for_uncertainty(-0.5, 3), 3);
        assert_eq!(decimals_for_uncertainty(1e-9, 4), 4);
        // JCGM 100:2008, 7.2.6 (seen second-hand): 28.05 kHz of uncertainty is 28.
        assert_eq!(fixed(28.05, decimals_for_uncertainty(28.05, 6)), "28");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(20_000))]
        #[test]
        fn prop_the_short_way_is_the_long_one(
            value in prop_oneof![
                -1e9..1e9_f64,
                -100.0..100.0_f64,
                -1e-6..1e-6_f64,
                // Halves of a step as they are written, and their neighbours.
                (-2_000_000..2_000_000_i64, 0..8_i32, -1..=1_i32).prop_map(|(n, places, by)| {
                    let half = (n as f64 * 10.0 + 5.0) / 10_f64.powi(places);
                    f64::from_bits(half.to_bits().wrapping_add_signed(by.into()))
                }),
            ],
            decimals in 0..12_u8,
        ) {
            let long = of_shortest(value, decimals);
            prop_assert_eq!(fixed(value, decimals), &*long);
            let parsed: f64 = long.parse().unwrap();
            let rounded = round_half_even(value, decimals);
            prop_assert_eq!(rounded, parsed);
            prop_assert!(rounded != 0.0 || rounded.is_sign_positive());
        }

        #[test]
        fn prop_places_follow_from_what_rounding_to_one_place_says(
            u in prop_oneof![
                1e-9..1e3_f64,
                (0..7_i32, -2..=2_i64).prop_map(|(places, by)| {
                    f64::from_bits((9.95 / 10_f64.powi(places)).to_bits().wrapping_add_signed(by))
                }),
            ],
            most in 0..10_u8,
        ) {
            let plain = (0..most)
                .find(|places| {
                    let scaled = u * 10_f64.powi(i32::from(*places));
                    of_shortest(scaled, 1).parse::<f64>().unwrap() >= 10.0
                })
                .unwrap_or(most);
            prop_assert_eq!(decimals_for_uncertainty(u, most), plain);
        }
    }

    proptest! {
        #[test]
        fn prop_rounding_moves_by_half_a_unit_at_most_and_twice_is_once(
            value in -1e9..1e9_f64, decimals in 0..9_u8,
        ) {
            let rounded = round_half_even(value, decimals);
            let unit = 10_f64.powi(-i32::from(decimals));
            prop_assert!((rounded - value).abs() <= 0.5 * unit + 1e-15 * value.abs());
            prop_assert_eq!(round_half_even(rounded, decimals), rounded);
        }

        #[test]
        fn prop_a_mirrored_value_rounds_to_the_mirror(value in 0.0..1e6_f64, decimals in 0..6_u8) {
            prop_assert_eq!(round_half_even(-value, decimals), -round_half_even(value, decimals));
        }

        #[test]
        fn prop_rounding_keeps_order(a in -1e4..1e4_f64, b in -1e4..1e4_f64, decimals in 0..6_u8) {
            let (low, high) = (a.min(b), a.max(b));
            prop_assert!(round_half_even(low, decimals) <= round_half_even(high, decimals));
        }

        #[test]
        fn prop_a_value_always_has_the_asked_places(value in -1e12..1e12_f64, decimals in 0..10_u8) {
            let text = fixed(value, decimals);
            let places = text.split_once('.').map_or(0, |(_, fraction)| fraction.len());
            prop_assert_eq!(places, usize::from(decimals));
            let zero = !text.contains(|c: char| ('1'..='9').contains(&c));
            prop_assert!(!(zero && text.starts_with('-')), "{}", text);
        }

        #[test]
        fn prop_an_uncertainty_has_two_digits_where_there_is_room(u in 1e-5..9.9_f64) {
            let shown = fixed(u, decimals_for_uncertainty(u, 9));
            let digits: String = shown.chars().filter(char::is_ascii_digit).collect();
            prop_assert_eq!(digits.trim_start_matches('0').len(), 2, "{}", shown);
        }
    }
}
