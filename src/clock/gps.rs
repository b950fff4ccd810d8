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

/// Whether the stamp bears the clock out.
pub fn agrees(by_clock: Utc, stamp: Utc) -> bool {
    by_clock.seconds_since(stamp).abs() <= GPS_AGREES_S
}

/// The offset from UTC that a clock without zone must be set to for the stamp to bear it out, in seconds east.
///
/// Refuses: a difference that is no quarter of an hour, or outside -12:00 to +14:00 (the offsets in use, IANA time
/// zone database).
pub fn offset_by_stamp(reading: WallTime, stamp: Utc) -> Option<i32> {
    const QUARTER_MS: i64 = 900_000;
    let east_ms = reading.reading_ms() - stamp.unix_ms();
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
