//! From UTC to the two time scales of astronomy: UT1 for the Earth's rotation, TT for everything that moves. Never uses
//! a place or an object, nor the current time.

use sofars::cal::cal2jd;
use sofars::cal::jd2cal;
use sofars::consts::DAYSEC;
use sofars::consts::DJ00;
use sofars::consts::DJM0;
use sofars::consts::TTMTAI;
use sofars::ts::dat;

use crate::terms::day::DAY_MS;
use crate::terms::time::Utc;

/// The first year for which the model is valid.
///
/// Source: ours. UTC begins in 1960; in the ten years before, TT - UT1 stays within 4 s of the 32.184 s used here (2
/// arcseconds of the Moon's motion; from memory); earlier it does not.
pub const FIRST_YEAR: i32 = 1950;
/// The last year for which the model is valid.
///
/// Source: the series of the Earth's motion ends with 2100 January 1.5 (SOFA, `epv00`).
pub const LAST_YEAR: i32 = 2099;

/// Milliseconds from 1970-01-01T00:00 to 2000-01-01T12:00, which is 10,957.5 days.
///
/// Source: arithmetic of the Gregorian calendar.
pub(super) const J2000_UNIX_MS: i64 = 946_728_000_000;
/// Julian date of 1970-01-01T00:00.
///
/// Source: arithmetic of the Gregorian calendar (2,451,545 - 10,957.5).
const UNIX_JD: f64 = 2_440_587.5;

/// A moment as UT1 and as TT, each in days since J2000.0 of its own scale.
///
/// UT1 - UTC is taken as 0: it is never known at the time of shooting, and moves the sky by 13.5 arcseconds at most.
/// Good to: 0.2 microseconds, the rounding of the day count (0.000003 arcseconds of the sky's turn).
/// Source: IERS Conventions 2010, ch. 5 (from memory), for the two scales; ITU-R TF.460 (from memory) for |UT1 - UTC| < 0.9 s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instant {
    ut1_d: f64,
    tt_d: f64,
}

impl Instant {
    /// Builds a moment from UTC.
    ///
    /// Refuses: years outside 1950 to 2099.
    /// Source: leap seconds up to 2017-01-01 (TAI - UTC = 37 s) and the earlier drift of UTC: SOFA, `dat`;
    /// TT - TAI = 32.184 s: IAU 1991 Recommendation IV (from memory).
    pub fn from_utc(at: Utc) -> Option<Self> {
        let day = at.unix_ms().div_euclid(DAY_MS);
        let day_ms = at.unix_ms().rem_euclid(DAY_MS);
        let (year, month, date, _) = jd2cal(UNIX_JD, day as f64).ok()?;
        Self::build(
            (year, month, date),
            (at.unix_ms() - J2000_UNIX_MS) as f64 / DAY_MS as f64,
            day_ms as f64 / DAY_MS as f64,
        )
    }

    /// Builds a moment from the parts of a UTC date, leap seconds included: 2016-12-31T23:59:60.5 is one.
    ///
    /// UT1 continues to count through a leap second, and steps back by a second at its end, because UT1 - UTC is taken
    /// as 0. Refuses: years outside 1950 to 2099, invalid dates and times of day, a second 60 on a day that has none.
    pub fn from_parts(
        (year, month, date): (i32, i32, i32),
        (hour, minute): (u8, u8),
        second: f64,
    ) -> Option<Self> {
        let (_, mjd) = cal2jd(year, month, date).ok()?;
        let leap = (hour, minute) == (23, 59)
            && second >= 60.0
            && leap_second_ends((year, month, date), mjd)?;
        let limit = if leap { 61.0 } else { 60.0 };
        if hour > 23 || minute > 59 || !(0.0..limit).contains(&second) {
            return None;
        }
        let of_day = (f64::from(u32::from(hour) * 3600 + u32::from(minute) * 60) + second) / DAYSEC;
        Self::build((year, month, date), (DJM0 - DJ00) + mjd + of_day, of_day)
    }

    /// Days of UT1 since 2000-01-01T12:00 UT1.
    pub const fn ut1_d(self) -> f64 {
        self.ut1_d
    }

    /// Days of TT since 2000-01-01T12:00 TT.
    pub const fn tt_d(self) -> f64 {
        self.tt_d
    }

    fn build((year, month, date): (i32, i32, i32), ut1_d: f64, of_day: f64) -> Option<Self> {
        if !(FIRST_YEAR..=LAST_YEAR).contains(&year) {
            return None;
        }
        let tai_minus_utc_s = dat(year, month, date, of_day.min(1.0)).ok()?;
        Some(Self {
            ut1_d,
            tt_d: ut1_d + (tai_minus_utc_s + TTMTAI) / DAYSEC,
        })
    }
}

/// Whether the day ends in a leap second: the offset is a whole second higher on the next day.
fn leap_second_ends((year, month, date): (i32, i32, i32), mjd: f64) -> Option<bool> {
    let (next_year, next_month, next_date, _) = jd2cal(DJM0, mjd + 1.0).ok()?;
    let here = dat(year, month, date, 0.0).ok()?;
    let next = dat(next_year, next_month, next_date, 0.0).ok()?;
    Some(next - here > 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_and_milliseconds_agree() {
        for (text, date, time, second) in [
            ("2000-01-01T12:00:00Z", (2000, 1, 1), (12, 0), 0.0),
            ("1950-01-01T00:00:00Z", (1950, 1, 1), (0, 0), 0.0),
            ("1968-07-04T05:06:07.25Z", (1968, 7, 4), (5, 6), 7.25),
            ("2016-12-31T23:59:59.5Z", (2016, 12, 31), (23, 59), 59.5),
            ("2099-12-31T23:59:59.999Z", (2099, 12, 31), (23, 59), 59.999),
        ] {
            let from_utc = Instant::from_utc(Utc::parse(text).unwrap()).unwrap();
            let from_parts = Instant::from_parts(date, time, second).unwrap();
            assert!(
                (from_utc.ut1_d() - from_parts.ut1_d()).abs() < 1e-11,
                "{text}"
            );
            assert!(
                (from_utc.tt_d() - from_parts.tt_d()).abs() < 1e-11,
                "{text}"
            );
        }
    }

    /// TT - UTC is 64.184 s at J2000 and 69.184 s since 2017 (leap-second table of the IERS, from memory).
    #[test]
    fn leap_seconds_are_counted() {
        for (text, expect) in [
            ("2000-01-01T12:00:00Z", 64.184),
            ("2024-08-12T00:00:00Z", 69.184),
        ] {
            let at = Instant::from_utc(Utc::parse(text).unwrap()).unwrap();
            assert!(((at.tt_d() - at.ut1_d()) * DAYSEC - expect).abs() < 1e-6);
        }
    }

    #[test]
    fn a_leap_second_is_taken_where_there_was_one() {
        let leap = Instant::from_parts((2016, 12, 31), (23, 59), 60.5).unwrap();
        let after = Instant::from_parts((2017, 1, 1), (0, 0), 0.0).unwrap();
        assert!(((after.tt_d() - leap.tt_d()) * DAYSEC - 0.5).abs() < 1e-5);
        assert!(((after.ut1_d() - leap.ut1_d()) * DAYSEC + 0.5).abs() < 1e-5);
        assert_eq!(Instant::from_parts((2017, 12, 31), (23, 59), 60.0), None);
        assert_eq!(Instant::from_parts((2016, 12, 31), (23, 58), 60.0), None);
        assert_eq!(Instant::from_parts((2016, 12, 31), (23, 59), 61.0), None);
    }

    #[test]
    fn what_the_model_cannot_tell_is_refused() {
        for text in [
            "1949-12-31T23:59:59.999Z",
            "2100-01-01T00:00:00Z",
            "0001-01-01T00:00:00Z",
        ] {
            assert_eq!(Instant::from_utc(Utc::parse(text).unwrap()), None, "{text}");
        }
        assert_eq!(Instant::from_parts((2023, 2, 29), (0, 0), 0.0), None);
        assert_eq!(Instant::from_parts((2023, 13, 1), (0, 0), 0.0), None);
        assert_eq!(Instant::from_parts((2023, 1, 1), (24, 0), 0.0), None);
        assert_eq!(Instant::from_parts((2023, 1, 1), (0, 60), 0.0), None);
        assert_eq!(Instant::from_parts((2023, 1, 1), (0, 0), f64::NAN), None);
        assert_eq!(Instant::from_parts((i32::MAX, 1, 1), (0, 0), 0.0), None);
        assert_eq!(Instant::from_parts((i32::MIN, 1, 1), (0, 0), 0.0), None);
    }
}
