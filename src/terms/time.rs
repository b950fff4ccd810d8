//! A clock reading and an instant: two concepts, two types, and no conversion between them here.
//!
//! [`WallTime`] is a reading of a camera's clock. [`Utc`] is an instant that is the same everywhere. The conversion
//! needs evidence; `clock/` does it.

use std::fmt;
use std::ops::RangeInclusive;

use jiff::Timestamp;
use jiff::civil;

use crate::terms::day::DAY_S;
use crate::terms::digits::date_and_time;
use crate::terms::digits::put;

/// The days from 1970-01-01 to a date such as `2023-12-13`.
pub fn day_of_date(date: &str) -> Option<i64> {
    WallTime::parse(&format!("{date}T00:00:00")).map(|at| at.seconds().div_euclid(DAY_S))
}

/// An instant in UTC, to the millisecond (0.015 arcseconds of the sky's turn). Leap seconds cannot be written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Utc {
    unix_ms: i64,
}

impl Utc {
    /// Builds an instant from milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
    ///
    /// Refuses: instants outside the years -9999 to 9999, which cannot be printed.
    pub fn from_unix_ms(unix_ms: i64) -> Option<Self> {
        Timestamp::from_millisecond(unix_ms).ok()?;
        Some(Self { unix_ms })
    }

    /// Milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
    pub const fn unix_ms(self) -> i64 {
        self.unix_ms
    }

    /// The instant `seconds` later (earlier when negative), rounded to the millisecond.
    ///
    /// Refuses: a result outside the years that can be printed, or seconds that are not a number.
    pub fn plus_s(self, seconds: f64) -> Option<Self> {
        if !seconds.is_finite() || seconds.abs() > 1e15 {
            return None;
        }
        #[allow(clippy::cast_possible_truncation)] // bounded just above
        let ms = (seconds * 1000.0).round() as i64;
        Self::from_unix_ms(self.unix_ms.checked_add(ms)?)
    }

    /// Seconds from `earlier` to this instant; negative when `earlier` is later.
    pub fn seconds_since(self, earlier: Self) -> f64 {
        (self.unix_ms - earlier.unix_ms) as f64 / 1000.0
    }

    /// Parses an ISO 8601 instant with its offset: `2023-12-14T00:12:07Z`, `…+01:00`.
    pub fn parse(text: &str) -> Option<Self> {
        let stamp: Timestamp = text.trim().parse().ok()?;
        Self::from_unix_ms(stamp.as_millisecond())
    }
}

impl Utc {
    /// Appends it to a text, in its displayed form: lists have millions of them.
    pub fn push_to(self, out: &mut String) {
        match self.digits() {
            Some(text) => out.push_str(std::str::from_utf8(&text).unwrap_or_default()),
            None => out.push_str(&self.to_string()),
        }
    }

    /// `2023-12-14T00:12:07.250Z`; `None` for years without four digits.
    fn digits(self) -> Option<[u8; 24]> {
        let mut text = *b"0000-00-00T00:00:00.000Z";
        text[..19].copy_from_slice(&date_and_time(self.unix_ms.div_euclid(1_000))?);
        put(&mut text[20..23], self.unix_ms.rem_euclid(1_000));
        Some(text)
    }
}

impl fmt::Display for Utc {
    /// `2023-12-14T00:12:07.250Z`: always this width for the years 0 to 9999, so that it sorts as text.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(text) = self.digits() {
            return f.write_str(std::str::from_utf8(&text).unwrap_or_default());
        }
        let Ok(stamp) = Timestamp::from_millisecond(self.unix_ms) else {
            return f.write_str("(no date)");
        };
        write!(f, "{stamp:.3}")
    }
}

/// A reading of a camera's clock: a date and a time of day without a zone, with the fraction it wrote.
///
/// Two readings are compared by value; the count of written digits only affects printing.
#[derive(Clone, Copy, Debug)]
pub struct WallTime {
    seconds: i64,
    nanos: u32,
    digits: u8,
}

impl WallTime {
    /// Builds a reading from its parts; the fraction is the digits after the point, as written (`"054"` is 0.054 s).
    ///
    /// Refuses: a date or time of day that does not exist (month 13, second 60, year 0), a fraction that is not all
    /// digits. Digits past the ninth are dropped.
    pub fn from_parts(
        year: i16,
        month: i8,
        day: i8,
        hour: i8,
        minute: i8,
        second: i8,
        fraction: &str,
    ) -> Option<Self> {
        if year < 1 {
            return None;
        }
        let (nanos, digits) = kept_fraction(fraction)?;
        let civil = civil::DateTime::new(year, month, day, hour, minute, second, 0).ok()?;
        Some(Self {
            seconds: civil_seconds(civil)?,
            nanos,
            digits,
        })
    }

    /// Parses `2023-12-14T01:12:07.25`, or the same with a space for the `T`.
    pub fn parse(text: &str) -> Option<Self> {
        let (whole, fraction) = text.trim().split_once('.').unwrap_or((text.trim(), ""));
        let bytes = whole.as_bytes();
        if bytes.len() != 19
            || !whole.is_ascii()
            || bytes[4] != b'-'
            || bytes[7] != b'-'
            || !matches!(bytes[10], b'T' | b' ')
            || bytes[13] != b':'
            || bytes[16] != b':'
        {
            return None;
        }
        let part = |from: usize, to: usize| {
            let digits = whole.get(from..to)?;
            digits
                .bytes()
                .all(|b| b.is_ascii_digit())
                .then(|| digits.parse::<i16>().ok())?
        };
        let short = |from: usize, to: usize| i8::try_from(part(from, to)?).ok();
        Self::from_parts(
            part(0, 4)?,
            short(5, 7)?,
            short(8, 10)?,
            short(11, 13)?,
            short(14, 16)?,
            short(17, 19)?,
            fraction,
        )
    }

    /// The calendar date and time of day, with the fraction.
    pub fn civil(self) -> civil::DateTime {
        let base = civil::DateTime::new(1970, 1, 1, 0, 0, 0, 0).unwrap_or_default();
        base.checked_add(jiff::SignedDuration::new(
            self.seconds,
            self.nanos.cast_signed(),
        ))
        .unwrap_or_default()
    }

    /// Milliseconds from the reading 1970-01-01T00:00:00 to this one. For differences between readings of one clock.
    pub fn reading_ms(self) -> i64 {
        self.seconds * 1000 + i64::from((self.nanos + 500_000) / 1_000_000)
    }

    /// Microseconds from the reading 1970-01-01T00:00:00 to this one; digits of the fraction past the sixth are dropped.
    pub fn reading_us(self) -> i64 {
        self.seconds * 1_000_000 + i64::from(self.nanos / 1_000)
    }

    /// The reading `ms` milliseconds later (earlier if negative), with at least as many digits as it needs.
    ///
    /// Refuses: a result outside the supported years.
    pub fn plus_ms(self, ms: i64) -> Option<Self> {
        let nanos = i64::from(self.nanos) + ms.rem_euclid(1000) * 1_000_000;
        let seconds = self
            .seconds
            .checked_add(ms.div_euclid(1000))?
            .checked_add(nanos.div_euclid(1_000_000_000))?;
        if !FIRST_TO_LAST.contains(&seconds) {
            return None;
        }
        let digits = if ms % 1000 == 0 { 0 } else { 3 };
        Some(Self {
            seconds,
            nanos: u32::try_from(nanos.rem_euclid(1_000_000_000)).ok()?,
            digits: self.digits.max(digits),
        })
    }

    /// Builds a reading from whole seconds since the reading 1970-01-01T00:00:00 and the digits of the fraction.
    ///
    /// Refuses: years before 1 and after 9999, a fraction that is not all digits.
    pub fn from_seconds(seconds: i64, fraction: &str) -> Option<Self> {
        if !FIRST_TO_LAST.contains(&seconds) {
            return None;
        }
        let (nanos, digits) = kept_fraction(fraction)?;
        Some(Self {
            seconds,
            nanos,
            digits,
        })
    }

    /// Whole seconds from the reading 1970-01-01T00:00:00 to this one, its fraction left out.
    pub const fn seconds(self) -> i64 {
        self.seconds
    }

    /// The digits of the second's fraction as the clock wrote them; `None` for a clock that writes whole seconds.
    pub fn fraction(self) -> Option<String> {
        let mut digits = format!("{:09}", self.nanos);
        digits.truncate(usize::from(self.digits));
        (!digits.is_empty()).then_some(digits)
    }

    /// How many digits of the second's fraction the clock wrote; 0 for a clock that writes whole seconds.
    pub const fn fraction_digits(self) -> u8 {
        self.digits
    }
}

impl PartialEq for WallTime {
    fn eq(&self, other: &Self) -> bool {
        (self.seconds, self.nanos) == (other.seconds, other.nanos)
    }
}
impl Eq for WallTime {}
impl PartialOrd for WallTime {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for WallTime {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        (self.seconds, self.nanos).cmp(&(other.seconds, other.nanos))
    }
}

impl fmt::Display for WallTime {
    /// `2023-12-14T01:12:07.25`, with as many digits of the fraction as the clock wrote.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // A reading is in the years 1 to 9999.
        let text = date_and_time(self.seconds).unwrap_or(*b"0000-00-00T00:00:00");
        f.write_str(std::str::from_utf8(&text).unwrap_or_default())?;
        if self.digits > 0 {
            let mut all = *b".000000000";
            put(&mut all[1..], self.nanos.into());
            let written = &all[..=usize::from(self.digits).min(9)];
            f.write_str(std::str::from_utf8(written).unwrap_or_default())?;
        }
        Ok(())
    }
}

/// The seconds of the years 1 to 9999.
const FIRST_TO_LAST: RangeInclusive<i64> = -62_135_596_800..=253_402_300_799;

/// The digits of a fraction as nanoseconds, and how many there are; those past the ninth are dropped. `None` if they
/// are not all digits.
fn kept_fraction(fraction: &str) -> Option<(u32, u8)> {
    if !fraction.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let kept = &fraction[..fraction.len().min(9)];
    let mut nanos = 0_u32;
    for digit in kept.bytes().chain(std::iter::repeat(b'0')).take(9) {
        nanos = nanos * 10 + u32::from(digit - b'0');
    }
    Some((nanos, u8::try_from(kept.len()).ok()?))
}

fn civil_seconds(civil: civil::DateTime) -> Option<i64> {
    let base = civil::DateTime::new(1970, 1, 1, 0, 0, 0, 0).ok()?;
    Some(civil.duration_since(base).as_secs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instant_prints_at_one_width() {
        let at = Utc::parse("2023-12-14T01:12:07.25+01:00").unwrap();
        assert_eq!(at.to_string(), "2023-12-14T00:12:07.250Z");
        assert_eq!(
            at.plus_s(-7.25).unwrap().to_string(),
            "2023-12-14T00:12:00.000Z"
        );
        assert_eq!(Utc::parse("2023-12-14T01:12:07"), None);
        assert_eq!(
            Utc::from_unix_ms(-1).unwrap().to_string(),
            "1969-12-31T23:59:59.999Z"
        );
    }

    #[test]
    fn a_reading_keeps_the_digits_it_was_written_with() {
        for text in [
            "2023-12-14T01:12:07",
            "2023-12-14T01:12:07.25",
            "1969-12-31T23:59:59.054",
            "2024-02-29T00:00:00.00",
        ] {
            assert_eq!(WallTime::parse(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn readings_that_no_calendar_holds_are_refused() {
        for text in [
            "0000-00-00T00:00:00",
            "2023-02-29T00:00:00",
            "2023-13-01T00:00:00",
            "2023-12-14T24:00:00",
            "2023-12-14T23:59:60",
            "2023-12-14T01:12:07.2x",
            "2023-12-1401:12:07",
            "2023-12-14T01:12",
            "+023-12-14T01:12:07.2",
            "2023-12-14T01:12:+7",
        ] {
            assert_eq!(WallTime::parse(text), None, "{text}");
        }
    }

    #[test]
    fn readings_compare_by_what_they_say() {
        let a = WallTime::parse("2023-12-14T01:12:07.5").unwrap();
        let b = WallTime::parse("2023-12-14T01:12:07.50").unwrap();
        assert_eq!(a, b);
        assert_eq!(a.reading_ms() % 1000, 500);
    }
}
