//! One value as text: for the screen, and for CSV and JSON. Knows no columns' order and no format.

use std::fmt::Write;

use crate::terms::exposure::part_of_second;
use crate::terms::field::Field;
use crate::terms::field::SHOWN_AS_KEPT;
use crate::terms::field_kind::FieldKind;
use crate::terms::field_kind::Unit;
use crate::terms::printable::printable;
use crate::terms::records::Cell;

/// Shown on the screen for an unknown value.
pub(super) const UNKNOWN: &str = "–";

/// A value for the screen: rounded, instants to the second, control characters made visible.
pub(super) fn shown(cell: &Cell, field: &Field) -> String {
    match cell {
        Cell::Unknown => UNKNOWN.to_owned(),
        Cell::Whole(number) => number.to_string(),
        Cell::Number(number) if !number.is_finite() => UNKNOWN.to_owned(),
        Cell::Number(number) => shown_number(*number, field),
        Cell::Text(text) => match (field.kind, text.get(..19), text.ends_with('Z')) {
            (FieldKind::Instant, Some(seconds), true) => format!("{}Z", printable(seconds)),
            (FieldKind::Local, Some(seconds), _) => {
                let offset = text.get(23..).unwrap_or_default();
                printable(&format!("{} {offset}", seconds.replace('T', " "))).into_owned()
            }
            _ => printable(text).into_owned(),
        },
    }
}

fn shown_number(number: f64, field: &Field) -> String {
    if field.decimals_shown != SHOWN_AS_KEPT {
        return without_minus(format!("{number:.*}", usize::from(field.decimals_shown)));
    }
    if matches!(field.kind, FieldKind::Number(Unit::Seconds))
        && let Some(parts) = part_of_second(number)
    {
        return format!("1/{parts}");
    }
    without_minus(six_digits(number))
}

/// Six significant digits, no zeros at the end: 2.8 where single precision stored 2.799999952.
fn six_digits(number: f64) -> String {
    let mut before_point = 0_i32;
    let mut size = number.abs();
    while size >= 1.0 && before_point < 6 {
        size /= 10.0;
        before_point += 1;
    }
    let small = if number.abs() < 1.0 && number != 0.0 {
        // Zeros after the point do not count.
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

/// Minus zero is zero.
fn without_minus(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// Writes a number for CSV and JSON, rounded to `decimals_kept`: a whole one without a point. Returns `false` and
/// writes nothing if it is not finite.
pub(super) fn write_kept(number: f64, field: &Field, out: &mut String) -> bool {
    if !number.is_finite() {
        return false;
    }
    let mut number = number;
    match field.decimals_kept {
        Some(decimals) => {
            let shift = shift(usize::from(decimals));
            let moved = number * shift;
            if moved.abs() < LONGEST_WHOLE {
                write_shifted(nearest(moved), usize::from(decimals), out);
                return true;
            }
            if moved.is_finite() {
                number = moved.round() / shift;
            }
        }
        // Apertures, exposures and the like have few decimals: if these give the number back, they are the shortest
        // text.
        None => {
            for decimals in 0..=FEW_DECIMALS {
                let shift = shift(decimals);
                let moved = number * shift;
                if moved.abs() >= LONGEST_WHOLE {
                    break;
                }
                let whole = nearest(moved);
                #[allow(clippy::float_cmp)] // exact comparison intended
                if whole as f64 / shift == number {
                    write_shifted(whole, decimals, out);
                    return true;
                }
            }
        }
    }
    // Adding zero turns minus zero into zero.
    let _ = write!(out, "{}", number + 0.0);
    true
}

/// Below this, the shortest text of a double has at most fifteen digits.
const LONGEST_WHOLE: f64 = 1e15;

/// How many decimals are tried before the shortest text is computed.
const FEW_DECIMALS: usize = 3;

/// Ten to the power of `decimals`.
fn shift(decimals: usize) -> f64 {
    const SHIFTS: [f64; 8] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7];
    let known = SHIFTS.get(decimals).copied();
    known.unwrap_or_else(|| 10_f64.powi(i32::try_from(decimals).unwrap_or(i32::MAX)))
}

/// The nearest whole number, halves away from zero, of one below [`LONGEST_WHOLE`].
#[allow(clippy::cast_possible_truncation)] // bounded by the caller
fn nearest(number: f64) -> i64 {
    let whole = number as i64;
    // Exact: both are below the size from which doubles have no fractions.
    let rest = number - whole as f64;
    whole + i64::from(rest >= 0.5) - i64::from(rest <= -0.5)
}

/// Writes a whole number with the point moved `decimals` places to the left, without trailing zeros.
pub(super) fn write_shifted(whole: i64, decimals: usize, out: &mut String) {
    let mut rest = whole.unsigned_abs();
    let mut decimals = decimals;
    while decimals > 0 && rest.is_multiple_of(10) {
        rest /= 10;
        decimals -= 1;
    }
    if whole < 0 {
        out.push('-');
    }
    let mut room = itoa::Buffer::new();
    let digits = room.format(rest);
    let (before, behind) = digits.split_at(digits.len().saturating_sub(decimals));
    out.push_str(if before.is_empty() { "0" } else { before });
    if decimals > 0 {
        out.push('.');
        for _ in behind.len()..decimals {
            out.push('0');
        }
        out.push_str(behind);
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
            let whole = whole / 10_i64.pow(fewer);
            let mut out = String::new();
            write_shifted(whole, usize::from(decimals), &mut out);
            let shortest = (whole as f64 / 10_f64.powi(i32::from(decimals)) + 0.0).to_string();
            proptest::prop_assert_eq!(out, shortest);
        }
    }

    proptest::proptest! {
        #[test]
        fn a_number_as_it_is_kept_is_its_shortest_text(
            any in proptest::num::f64::ANY,
            whole in -99_999_999_i64..99_999_999,
            decimals in 0_i32..7,
        ) {
            for number in [any, whole as f64 / 10_f64.powi(decimals), f64::from(whole as f32 / 7.0)] {
                let mut out = String::new();
                let written = write_kept(number, field_keyed("exposure_s").unwrap(), &mut out);
                proptest::prop_assert_eq!(written, number.is_finite());
                if written {
                    proptest::prop_assert_eq!(out, (number + 0.0).to_string());
                }
            }
        }

        #[test]
        fn the_nearest_whole_number_is_that_of_the_library(number in -1e15_f64..1e15, half in -1_000_000_i64..1_000_000) {
            for number in [number, number / 1e9, half as f64 + 0.5, (half as f64 + 0.5).next_down(), (half as f64 + 0.5).next_up()] {
                #[allow(clippy::float_cmp)]
                {
                    proptest::prop_assert!(nearest(number) as f64 == number.round());
                }
            }
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
