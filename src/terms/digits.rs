//! Dates and times of day as digits, byte by byte: lists have millions of them. Knows no zone and no clock.

use crate::terms::day::DAY_S;

/// The days of 400 years, after which the calendar repeats.
const DAYS_OF_ERA: i64 = 146_097;

/// Year, month and day for a number of days after 1970-01-01, in the proleptic Gregorian calendar.
///
/// Counted from March, so that the leap day is the last. Years are bounded by the days of an `i64`.
pub const fn date_of_day(day: i64) -> (i64, i64, i64) {
    // From 0000-03-01.
    let day = day.saturating_add(719_468);
    let era = day.div_euclid(DAYS_OF_ERA);
    let of_era = day.rem_euclid(DAYS_OF_ERA);
    let years = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * years + years / 4 - years / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = era * 400 + years + if month <= 2 { 1 } else { 0 };
    (year, month, day)
}

/// `2023-12-14T01:12:07` for a number of seconds after 1970-01-01T00:00:00.
///
/// Refuses: years before 0 and after 9999, which do not have four digits.
pub fn date_and_time(seconds: i64) -> Option<[u8; 19]> {
    let (year, month, day) = date_of_day(seconds.div_euclid(DAY_S));
    if !(0..=9_999).contains(&year) {
        return None;
    }
    let second = seconds.rem_euclid(DAY_S);
    let mut text = *b"0000-00-00T00:00:00";
    put(&mut text[..4], year);
    put(&mut text[5..7], month);
    put(&mut text[8..10], day);
    put(&mut text[11..13], second / 3_600);
    put(&mut text[14..16], second / 60 % 60);
    put(&mut text[17..], second % 60);
    Some(text)
}

/// Writes a number into a slice of digits, with leading zeros. Digits that do not fit are cut off at the front.
pub fn put(room: &mut [u8], number: i64) {
    let mut rest = number.unsigned_abs();
    for digit in room.iter_mut().rev() {
        *digit = b'0' + u8::try_from(rest % 10).unwrap_or(0);
        rest /= 10;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil;

    proptest::proptest! {
        #[test]
        fn dates_are_those_of_the_calendar(seconds in -62_167_219_200_i64..=253_402_300_799) {
            let base = civil::DateTime::new(1970, 1, 1, 0, 0, 0, 0).unwrap();
            let civil = base.checked_add(jiff::SignedDuration::from_secs(seconds)).unwrap();
            let text = date_and_time(seconds).unwrap();
            proptest::prop_assert_eq!(std::str::from_utf8(&text).unwrap(), civil.to_string());
        }
    }

    #[test]
    fn every_day_of_eight_centuries_follows_the_one_before() {
        let mut before = date_of_day(-146_098);
        for day in -146_097..=146_097 {
            let (year, month, of_month) = date_of_day(day);
            let next = civil::date(
                i16::try_from(before.0).unwrap(),
                i8::try_from(before.1).unwrap(),
                i8::try_from(before.2).unwrap(),
            )
            .tomorrow()
            .unwrap();
            assert_eq!(
                (year, month, of_month),
                (next.year().into(), next.month().into(), next.day().into())
            );
            before = (year, month, of_month);
        }
    }

    #[test]
    fn years_without_four_digits_are_refused() {
        assert_eq!(date_and_time(253_402_300_800), None);
        assert_eq!(date_and_time(-62_167_219_201), None);
        assert_eq!(date_and_time(i64::MIN), None);
        assert_eq!(date_and_time(i64::MAX), None);
    }
}
