//! Whether a GPS time stamp and the body's clock bear each other out. Never prefers the coarser of the two.
//!
//! A body may write the time of its receiver's last fix, which can be old. A stamp is therefore believed only where
//! the clock agrees with it; then the clock's own reading is used, which is finer and has no age. Otherwise the stamp
//! is a hint for the audit.

use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// So far apart may stamp and clock be and still bear each other out, in seconds.
///
/// Source: our choice: EXIF stamps are whole seconds, and receivers fix their position once a second.
pub const GPS_AGREES_S: f64 = 2.0;

/// One-sigma error of a clock that a stamp bears out, in seconds: an even spread over the bound's width.
///
/// Source: standard deviation of an even spread, 4 s over the root of 12.
pub const GPS_ERROR_S: f64 = 1.155;

/// The satellites count weeks in ten bits; a receiver that was not told which turn it is dates itself so many seconds
/// back, once or twice over, with the time of day right. The count began anew in August 1999 and April 2019.
///
/// Source: IS-GPS-200, 20.3.3.3.1.1 (week number), from memory.
const WEEK_TURN_S: f64 = 1_024.0 * 7.0 * 86_400.0;

/// A difference so near to whole turns is one of turns, in seconds: two days, beyond any zone.
const NEAR_TURN_S: f64 = 2.0 * 86_400.0;

/// How far the clock is ahead of a stamp in seconds, whatever turn of the count of weeks the receiver took it for.
pub fn ahead_s(by_clock: Utc, stamp: Utc) -> f64 {
    without_turns(by_clock.seconds_since(stamp))
}

fn without_turns(ahead_s: f64) -> f64 {
    let turns = (ahead_s / WEEK_TURN_S).round().clamp(0.0, 2.0);
    let rest_s = ahead_s - turns * WEEK_TURN_S;
    if rest_s.abs() <= NEAR_TURN_S {
        rest_s
    } else {
        ahead_s
    }
}

/// Whether the stamp bears the clock out.
pub fn agrees(by_clock: Utc, stamp: Utc) -> bool {
    ahead_s(by_clock, stamp).abs() <= GPS_AGREES_S
}

/// The offset from UTC that a clock without zone must be set to for the stamp to bear it out, in seconds east.
///
/// Refuses: a difference that is no quarter of an hour, or outside -12:00 to +14:00 (the offsets in use, IANA time
/// zone database).
pub fn offset_by_stamp(reading: WallTime, stamp: Utc) -> Option<i32> {
    const QUARTER_MS: i64 = 900_000;
    let plain_ms = reading.reading_ms() - stamp.unix_ms();
    #[allow(clippy::cast_possible_truncation)]
    // the difference of two instants of this program's years
    let east_ms = (without_turns(plain_ms as f64 / 1000.0) * 1000.0).round() as i64;
    let quarters = (east_ms + QUARTER_MS / 2).div_euclid(QUARTER_MS);
    let off_s = (east_ms - quarters * QUARTER_MS) as f64 / 1000.0;
    ((-48..=56).contains(&quarters) && off_s.abs() <= GPS_AGREES_S)
        .then(|| i32::try_from(quarters * 900).ok())
        .flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_receiver_that_took_the_weeks_for_an_earlier_turn_is_right_about_the_time() {
        let at = |text| Utc::parse(text).unwrap();
        let clock = at("2023-12-14T00:12:08Z");
        // 1,024 weeks before 2023-12-14 is 2004-04-29, 2,048 weeks 1984-09-13.
        assert!(agrees(clock, at("2004-04-29T00:12:07Z")));
        assert!(agrees(clock, at("1984-09-13T00:12:07Z")));
        assert!(!agrees(clock, at("2004-04-29T00:12:00Z")));
        assert!(!agrees(clock, at("2043-07-31T00:12:07Z")), "never ahead");
        let zone = offset_by_stamp(
            WallTime::parse("2023-12-14T01:12:08").unwrap(),
            at("2004-04-29T00:12:07Z"),
        );
        assert_eq!(zone, Some(3600));
        let ten_years = ahead_s(clock, at("2013-12-14T00:12:08Z"));
        assert!((ten_years - 3_652.0 * 86_400.0).abs() < 1.0, "{ten_years}");
    }

    #[test]
    fn a_stamp_tells_the_offset_only_where_the_clock_agrees() {
        let offset = |reading: &str| {
            offset_by_stamp(
                WallTime::parse(reading).unwrap(),
                Utc::parse("2023-12-14T00:12:07Z").unwrap(),
            )
        };
        assert_eq!(offset("2023-12-14T01:12:08.5"), Some(3600));
        assert_eq!(offset("2023-12-14T05:57:07"), Some(20_700));
        assert_eq!(offset("2023-12-13T16:12:06"), Some(-28_800));
        assert_eq!(offset("2023-12-14T01:12:10"), None, "three seconds off");
        assert_eq!(offset("2023-12-14T15:12:07"), None, "no such zone");
    }
}
