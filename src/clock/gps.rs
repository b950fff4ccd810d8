//! Whether a GPS time stamp and the body's clock confirm each other, and the zone setting that stamps show. Always uses
//! the finer of the two.
//!
//! A body may write the time of its receiver's last fix, which can be old. A stamp is therefore believed only if the
//! clock agrees with it; then the clock's own reading is used, which is finer and has no age. Otherwise the stamp is a
//! hint for the audit.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::clock::drift::QUARTER_MS;
use crate::terms::clock::StampedSetting;
use crate::terms::day::DAY_S;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Stamp and clock may differ by this much and still confirm each other, in seconds.
///
/// Source: our choice: EXIF stamps are whole seconds, and receivers fix their position once a second.
pub const GPS_AGREES_S: f64 = 2.0;

/// One-sigma error of a clock that a stamp confirms, in seconds: a uniform distribution over the width of the bound.
///
/// Source: standard deviation of a uniform distribution, 4 s over the root of 12.
pub const GPS_ERROR_S: f64 = 1.155;

/// The satellites count weeks in ten bits; a receiver that does not know the current cycle gives a date this many
/// seconds early, or twice that, with the correct time of day. The count restarted in August 1999 and April 2019.
///
/// Source: IS-GPS-200, 20.3.3.3.1.1 (week number), from memory.
const WEEK_TURN_S: f64 = 1_024.0 * 7.0 * DAY_S as f64;

/// A difference this near to whole cycles is one of cycles, in seconds: two days, more than any zone.
const NEAR_TURN_S: f64 = 2.0 * DAY_S as f64;

/// A stamp before this instant may be 1,024 weeks early; a later one would be of a year in which this program has long
/// been replaced.
///
/// Source: our choice: 1,024 weeks before the end of 2035.
const TURNS_BEFORE: &str = "2016-05-17T00:00:00Z";

/// One in this many of an evening's stamps must show a zone setting; old stamps that agree by chance do not reach that.
///
/// Source: our choice: a stamp of any age is within 2 s of a whole quarter of an hour once in 225 times.
const ONE_IN: usize = 4;

/// The zone settings that the GPS time stamps of a body show through one evening.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StampedEvening {
    shown: Vec<(WallTime, i32)>,
    several: bool,
}

impl StampedEvening {
    /// Judges the frames of one body that have stamps, in the order of their readings.
    ///
    /// Receivers repeat their last stamp while they have no reception, so only the first of frames with the same stamp
    /// counts.
    pub fn of(stamped: &[(WallTime, Utc)]) -> Self {
        let mut seen = BTreeSet::new();
        let fresh: Vec<(WallTime, Option<i32>)> = stamped
            .iter()
            .filter(|(_, stamp)| seen.insert(*stamp))
            .map(|(reading, stamp)| (*reading, offset_by_stamp(*reading, *stamp)))
            .collect();
        let mut counts: BTreeMap<i32, usize> = BTreeMap::new();
        for offset_s in fresh.iter().filter_map(|(_, offset_s)| *offset_s) {
            *counts.entry(offset_s).or_default() += 1;
        }
        let stamps = fresh.len();
        let several = stamps > 1;
        let holds = |offset_s: &i32| {
            let count = counts.get(offset_s).copied().unwrap_or(0);
            !several || (count > 1 && count * ONE_IN >= stamps)
        };
        Self {
            shown: fresh
                .into_iter()
                .filter_map(|(reading, offset_s)| Some((reading, offset_s.filter(holds)?)))
                .collect(),
            several,
        }
    }

    /// The setting at a reading: that of the nearest frame whose stamp shows one.
    pub fn at(&self, reading: WallTime) -> Option<StampedSetting> {
        let after = self.shown.partition_point(|(at, _)| *at < reading);
        let away = |at: &usize| {
            self.shown.get(*at).map_or(i64::MAX, |(shown, _)| {
                (shown.reading_ms() - reading.reading_ms()).abs()
            })
        };
        let nearest = [after.saturating_sub(1), after]
            .into_iter()
            .min_by_key(away)?;
        let (_, offset_s) = self.shown.get(nearest)?;
        Some(StampedSetting {
            offset_s: *offset_s,
            several: self.several,
        })
    }
}

/// Whether a stamp that contradicts the clock may be 1,024 weeks early or twice that, and so does not give the true
/// time.
pub fn may_be_turns_early(by_clock: Utc, stamp: Utc) -> bool {
    ahead_s(by_clock, stamp).abs() > NEAR_TURN_S
        && Utc::parse(TURNS_BEFORE).is_some_and(|turns| stamp < turns)
}

/// How far the clock is ahead of a stamp in seconds, whatever cycle of the week count the receiver assumed.
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

/// Whether the stamp confirms the clock.
pub fn agrees(by_clock: Utc, stamp: Utc) -> bool {
    ahead_s(by_clock, stamp).abs() <= GPS_AGREES_S
}

/// The zone setting at which the stamp confirms a clock without zone, in seconds east of UTC.
///
/// Refuses: a difference that is not a whole quarter of an hour, or outside -12:00 to +14:00 (the offsets in use, IANA
/// time zone database).
pub fn offset_by_stamp(reading: WallTime, stamp: Utc) -> Option<i32> {
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
    #[test]
    fn an_evenings_stamps_show_the_setting_together() {
        let reading = |s: i64| {
            WallTime::parse("2023-12-13T22:00:00")
                .unwrap()
                .plus_ms(s * 1000)
                .unwrap()
        };
        let stamp = |s: i64| {
            Utc::parse("2023-12-14T06:00:00Z")
                .unwrap()
                .plus_s(s as f64)
                .unwrap()
        };
        let at = |stamped: &[(i64, i64)], s| {
            let stamped: Vec<_> = stamped
                .iter()
                .map(|(r, u)| (reading(*r), stamp(*u)))
                .collect();
            let setting = StampedEvening::of(&stamped).at(reading(s));
            setting.map(|one| (one.offset_s / 3600, one.several))
        };
        assert_eq!(at(&[], 0), None);
        assert_eq!(at(&[(0, 0)], 500), Some((-8, false)));
        assert_eq!(at(&[(0, 0), (30, 31), (60, 60)], 500), Some((-8, true)));
        // A repeated stamp grows old; a quarter of an hour later it would show another setting.
        let repeated: Vec<(i64, i64)> = (0..240).map(|i| (i * 15, 0)).collect();
        assert_eq!(at(&repeated, 900), Some((-8, false)));
        // Stamps of any age agree with something now and then.
        let old: Vec<(i64, i64)> = (0..400)
            .map(|i| (i * 15, i * 15 - (i * 389) % 3_600))
            .collect();
        assert_eq!(at(&old, 900), None);
        // The clock was put back by an hour.
        let put_back = [(0, 0), (60, 60), (120, 120), (-3_000, 600), (-2_940, 660)];
        let mut put_back = put_back.to_vec();
        put_back.sort_unstable();
        assert_eq!(at(&put_back, 60), Some((-8, true)));
        assert_eq!(at(&put_back, -3_000), Some((-9, true)));
    }

    #[test]
    fn a_stamp_of_an_earlier_turn_does_not_tell_the_true_time() {
        let at = |text| Utc::parse(text).unwrap();
        let early = may_be_turns_early;
        // The clock was reset to 1 January; the stamp is 1,024 weeks before 2023-12-14.
        assert!(early(
            at("2016-01-01T00:00:00Z"),
            at("2004-04-29T00:12:07Z")
        ));
        assert!(early(
            at("2023-12-20T00:00:00Z"),
            at("2004-04-29T00:12:07Z")
        ));
        assert!(
            !early(at("2023-12-14T05:00:00Z"), at("2004-04-29T00:12:07Z")),
            "five hours"
        );
        assert!(!early(
            at("2016-01-01T00:00:00Z"),
            at("2023-12-14T00:12:07Z")
        ));
    }
}
