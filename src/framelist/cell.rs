//! One value as text: as the screen shows it, and as CSV and JSON keep it. Knows no columns' order and no format.

use std::fmt::Write;

use crate::terms::field::Field;
use crate::terms::field::FieldKind;
use crate::terms::field::SHOWN_AS_KEPT;
use crate::terms::field::Unit;
use crate::terms::printable::printable;
use crate::terms::records::Cell;

/// What stands on the screen where a value is not known.
pub(super) const UNKNOWN: &str = "–";

/// A value as the screen shows it: rounded, instants to the second, control characters made visible.
pub(super) fn shown(cell: &Cell, field: &Field) -> String {
    match cell {
        Cell::Unknown => UNKNOWN.to_owned(),
        Cell::Whole(number) => number.to_string(),
        Cell::Number(number) if !number.is_finite() => UNKNOWN.to_owned(),
        Cell::Number(number) => shown_number(*number, field),
        Cell::Text(text) => match (field.kind, text.get(..19), text.ends_with('Z')) {
            (FieldKind::Instant, Some(seconds), true) => format!("{}Z", printable(seconds)),
            _ => printable(text).into_owned(),
        },
    }
}

fn shown_number(number: f64, field: &Field) -> String {
    if field.decimals_shown != SHOWN_AS_KEPT {
        return without_minus(format!("{number:.*}", usize::from(field.decimals_shown)));
    }
    let short = matches!(field.kind, FieldKind::Number(Unit::Seconds)) && number > 0.0;
    if short && number < 1.0 {
        // Photographers say 1/200, and cameras write 1/30 as 0.0333.
        const SAME: f64 = 1e-3;
        let parts = (1.0 / number).round();
        if parts >= 2.0 && (number * parts - 1.0).abs() < SAME {
            return format!("1/{parts}");
        }
    }
    without_minus(six_digits(number))
}

/// Six digits that count, no zeros at the end: 2.8 where single precision kept 2.799999952.
fn six_digits(number: f64) -> String {
    let mut before_point = 0_i32;
    let mut size = number.abs();
    while size >= 1.0 && before_point < 6 {
        size /= 10.0;
        before_point += 1;
    }
    let small = if number.abs() < 1.0 && number != 0.0 {
        // Zeros behind the point do not count.
        let mut zeros = 0_i32;
        let mut size = number.abs();
        while size < 0.1 && zeros < 12 {
            size *= 10.0;
            zeros += 1;
        }
        zeros
    } else {
        0
    };
    let decimals = usize::try_from(6 - before_point + small).unwrap_or(0);
    let text = format!("{number:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Minus nothing is nothing.
fn without_minus(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// Writes a number as CSV and JSON keep it, rounded to `decimals_kept`: a whole one without a point.
/// `false`, and nothing written, where it is not finite.
pub(super) fn write_kept(number: f64, field: &Field, out: &mut String) -> bool {
    if !number.is_finite() {
        return false;
    }
    let mut number = number;
    if let Some(decimals) = field.decimals_kept {
        let shift = 10_f64.powi(i32::from(decimals));
        let moved = (number * shift).round();
        if moved.abs() < LONGEST_WHOLE {
            write_shifted(moved, usize::from(decimals), out);
            return true;
        }
        if moved.is_finite() {
            number = moved / shift;
        }
    }
    // Adding nothing turns minus nothing into nothing.
    let _ = write!(out, "{}", number + 0.0);
    true
}

/// Below it, fifteen digits are what the shortest text of a number in double precision has at most.
const LONGEST_WHOLE: f64 = 1e15;

/// Writes a whole number with the point moved so many places to the left, no zeros behind what counts: digit by digit, since
/// lists hold millions of them.
fn write_shifted(whole: f64, decimals: usize, out: &mut String) {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    // whole, and bounded by the caller
    let mut rest = whole.abs() as u64;
    let mut digits = [b'0'; 24];
    let mut at = digits.len();
    while rest > 0 || digits.len() - at <= decimals {
        at -= 1;
        digits[at] = b'0' + u8::try_from(rest % 10).unwrap_or(0);
        rest /= 10;
    }
    if whole < 0.0 {
        out.push('-');
    }
    let point = digits.len() - decimals;
    let mut end = digits.len();
    while end > point && digits[end - 1] == b'0' {
        end -= 1;
    }
    out.extend(digits[at..point].iter().map(|d| char::from(*d)));
    if end > point {
        out.push('.');
        out.extend(digits[point..end].iter().map(|d| char::from(*d)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::field::field_keyed;

    fn seen(key: &str, cell: &Cell) -> String {
        shown(cell, field_keyed(key).unwrap())
    }

    #[test]
    fn the_screen_shows_what_a_photographer_would_say() {
        for (key, number, expect) in [
            ("exposure_s", 20.0, "20"),
            ("exposure_s", 2.5, "2.5"),
            ("exposure_s", 1.0 / 3.0, "1/3"),
            ("exposure_s", 0.033_333, "1/30"),
            ("exposure_s", 0.000_125, "1/8000"),
            ("exposure_s", 0.3, "0.3"),
            ("exposure_s", 0.6, "0.6"),
            ("exposure_s", 0.0, "0"),
            ("f_number", f64::from(2.8_f32), "2.8"),
            ("f_number", 1.4, "1.4"),
            ("iso", 1600.0, "1600"),
            ("iso", 102_400.0, "102400"),
            ("iso", 1_638_400.0, "1638400"),
            ("focal_mm", 14.0, "14"),
            ("gps_elev_m", -0.000_01, "-0.00001"),
            ("moon_alt_deg", -0.04, "0.0"),
            ("moon_alt_deg", -10.96, "-11.0"),
            ("moon_lit", 0.126, "0.13"),
            ("moon_alt_deg", f64::NAN, UNKNOWN),
        ] {
            assert_eq!(seen(key, &Cell::Number(number)), expect, "{key} {number}");
        }
        assert_eq!(seen("seq", &Cell::Whole(7)), "7");
        assert_eq!(seen("seq", &Cell::Unknown), "–");
        assert_eq!(
            seen("start_utc", &Cell::Text("2023-12-14T00:12:07.950Z".into())),
            "2023-12-14T00:12:07Z"
        );
        assert_eq!(
            seen("clock_local", &Cell::Text("2023-12-14T00:12:07.25".into())),
            "2023-12-14T00:12:07.25"
        );
    }

    proptest::proptest! {
        #[test]
        fn a_number_with_few_decimals_is_written_as_its_shortest_text(
            whole in -999_999_999_999_999_i64..999_999_999_999_999,
            fewer in 0_u32..14,
            decimals in 0_u8..7,
        ) {
            let whole = (whole / 10_i64.pow(fewer)) as f64;
            let mut out = String::new();
            write_shifted(whole, usize::from(decimals), &mut out);
            let shortest = (whole / 10_f64.powi(i32::from(decimals)) + 0.0).to_string();
            proptest::prop_assert_eq!(out, shortest);
        }
    }

    #[test]
    fn numbers_are_kept_with_the_digits_of_their_field() {
        for (key, number, expect) in [
            ("moon_alt_deg", 63.123_456_789, "63.123457"),
            ("moon_alt_deg", -0.000_000_1, "0"),
            ("moon_alt_deg", 30.0, "30"),
            ("exposure_s", 1.0 / 3.0, "0.3333333333333333"),
            ("exposure_s", 0.005, "0.005"),
            ("iso", 1600.0, "1600"),
        ] {
            let mut out = String::new();
            assert!(write_kept(number, field_keyed(key).unwrap(), &mut out));
            assert_eq!(out, expect);
        }
        let mut out = String::new();
        assert!(!write_kept(
            f64::INFINITY,
            field_keyed("iso").unwrap(),
            &mut out
        ));
        assert!(out.is_empty());
    }
}
