//! A clock reading, with an offset or a zone -> one instant, or why not.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::AmbiguousOffset;
use jiff::tz::Offset;

use crate::clock::order::Known;
use crate::clock::zone::Zone;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// What a reading means in a zone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Resolved {
    /// One instant.
    Once(Utc),
    /// The clocks were put back: the reading happened twice.
    Twice {
        /// The first time it happened.
        earlier: Utc,
        /// The second time.
        later: Utc,
    },
    /// The clocks were put forward past it, or it is outside the supported years.
    Never,
}

/// Resolves a reading by an offset from UTC, in seconds east.
pub fn resolve_by_offset(reading: WallTime, offset_s: i32) -> Option<Utc> {
    let offset = Offset::from_seconds(offset_s).ok()?;
    utc(offset.to_timestamp(reading.civil()).ok()?)
}

/// Resolves a reading by the rules of a zone.
///
/// Gives: two instants if the clocks were put back, none if they were put forward. Does not choose between them.
/// Source: IANA time zone database, as bundled with the program.
pub fn resolve_by_zone(reading: WallTime, zone: &Zone) -> Resolved {
    let civil: DateTime = reading.civil();
    let ambiguous = zone.zone().to_ambiguous_timestamp(civil);
    let at = |offset: Offset| offset.to_timestamp(civil).ok().and_then(utc);
    match ambiguous.offset() {
        AmbiguousOffset::Unambiguous { offset } => {
            at(offset).map_or(Resolved::Never, Resolved::Once)
        }
        AmbiguousOffset::Gap { .. } => Resolved::Never,
        AmbiguousOffset::Fold { before, after } => match (at(before), at(after)) {
            (Some(earlier), Some(later)) => Resolved::Twice { earlier, later },
            _ => Resolved::Never,
        },
    }
}

/// The instant of a reading without ambiguity: the earlier of two, and a skipped one as if the clocks had not been put
/// forward yet. For readings whose true time is known anyway.
pub fn resolve_compatible(reading: WallTime, zone: &Zone) -> Option<Utc> {
    utc(zone
        .zone()
        .to_ambiguous_timestamp(reading.civil())
        .compatible()
        .ok()?)
}

/// What is known of a reading's offset from UTC by a zone's rules.
pub fn known(reading: WallTime, zone: &Zone) -> Known {
    let east_s = |offset: Offset| offset.seconds();
    match zone.zone().to_ambiguous_timestamp(reading.civil()).offset() {
        AmbiguousOffset::Unambiguous { offset } => Known::Sure(east_s(offset)),
        AmbiguousOffset::Gap { before, after } | AmbiguousOffset::Fold { before, after } => {
            Known::Either {
                before_s: east_s(before),
                after_s: east_s(after),
            }
        }
    }
}

/// How far east of UTC a zone's clocks were at an instant, in seconds.
pub fn offset_at(at: Utc, zone: &Zone) -> Option<i32> {
    let stamp = Timestamp::from_millisecond(at.unix_ms()).ok()?;
    Some(zone.zone().to_offset(stamp).seconds())
}

fn utc(stamp: Timestamp) -> Option<Utc> {
    // Rounded, not cut: a fraction of .9996 belongs to the next millisecond.
    let nanos = stamp.as_nanosecond();
    let ms = (nanos + 500_000).div_euclid(1_000_000);
    Utc::from_unix_ms(i64::try_from(ms).ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(text: &str) -> WallTime {
        WallTime::parse(text).unwrap()
    }

    fn instant(text: &str) -> Utc {
        Utc::parse(text).unwrap()
    }

    #[test]
    fn an_offset_is_taken_off() {
        assert_eq!(
            resolve_by_offset(reading("2023-12-14T01:12:07.25"), 3600),
            Some(instant("2023-12-14T00:12:07.250Z"))
        );
        assert_eq!(
            resolve_by_offset(reading("2023-12-13T20:00:00"), -10_800),
            Some(instant("2023-12-13T23:00:00Z"))
        );
    }

    // Directive 2000/84/EC: summer time ends at 01:00 GMT on the last Sunday of October and begins at
    // 01:00 GMT on the last Sunday of March.
    #[test]
    fn the_european_hour_that_happens_twice_and_the_one_that_never_does() {
        let rome = Zone::named("Europe/Rome").unwrap();
        assert_eq!(
            resolve_by_zone(reading("2026-10-25T02:30:00"), &rome),
            Resolved::Twice {
                earlier: instant("2026-10-25T00:30:00Z"),
                later: instant("2026-10-25T01:30:00Z"),
            }
        );
        assert_eq!(
            resolve_by_zone(reading("2026-03-29T02:30:00"), &rome),
            Resolved::Never
        );
        assert_eq!(
            resolve_by_zone(reading("2023-12-14T01:12:07"), &rome),
            Resolved::Once(instant("2023-12-14T00:12:07Z"))
        );
    }

    // 15 U.S.C. § 260a: summer time from the second Sunday of March to the first of November, at 2 o'clock.
    // Nepal keeps UTC+5:45 (from memory).
    #[test]
    fn other_zones_keep_their_own_rules() {
        let denver = Zone::named("America/Denver").unwrap();
        assert_eq!(
            resolve_by_zone(reading("2023-03-12T02:15:00"), &denver),
            Resolved::Never
        );
        let kathmandu = Zone::named("Asia/Kathmandu").unwrap();
        assert_eq!(
            resolve_by_zone(reading("2023-12-14T05:45:00"), &kathmandu),
            Resolved::Once(instant("2023-12-14T00:00:00Z"))
        );
    }
}
