//! Local time of a zone at an instant, by the built-in time zone database or a fixed offset. Does not turn clock readings
//! into instants.

use jiff::Timestamp;
use jiff::tz::Offset;
use jiff::tz::TimeZone;
use jiff::tz::TimeZoneDatabase;

use crate::terms::digits::date_and_time;
use crate::terms::digits::put;

/// 2100-01-01T00:00Z.
const YEAR_2100_MS: i64 = 4_102_444_800_000;

/// Offsets from UTC by zone and instant. Each zone is looked up once; between two changes of its clocks nothing is computed.
#[derive(Debug, Default)]
pub struct LocalClock {
    zones: Vec<ZoneSpan>,
    last: usize,
}

/// A zone, and a span of time in which its offset stays.
#[derive(Debug)]
struct ZoneSpan {
    name: String,
    zone: Option<TimeZone>,
    from_ms: i64,
    until_ms: i64,
    offset_s: i32,
}

impl LocalClock {
    /// The offset of a zone at an instant, in seconds east; `None` for a zone that is not known.
    ///
    /// Takes: an IANA name or a fixed offset (`+05:45`), as the site book has it; milliseconds since 1970-01-01T00:00Z.
    pub fn offset_s(&mut self, zone: &str, at_ms: i64) -> Option<i32> {
        if self
            .zones
            .get(self.last)
            .is_none_or(|span| span.name != zone)
        {
            let known = self.zones.iter().position(|span| span.name == zone);
            self.last = known.unwrap_or_else(|| {
                self.zones.push(ZoneSpan {
                    name: zone.to_owned(),
                    zone: zone_named(zone),
                    from_ms: 0,
                    until_ms: 0,
                    offset_s: 0,
                });
                self.zones.len() - 1
            });
        }
        let span = self.zones.get_mut(self.last)?;
        let zone = span.zone.as_ref()?;
        if !(span.from_ms..span.until_ms).contains(&at_ms) {
            let at = Timestamp::from_millisecond(at_ms).ok()?;
            let next = Timestamp::from_millisecond(at_ms.checked_add(1)?).ok()?;
            let change = |change: Option<jiff::tz::TimeZoneTransition<'_>>| {
                change.map(|change| change.timestamp().as_millisecond())
            };
            span.from_ms = change(zone.preceding(next).next()).unwrap_or(i64::MIN);
            span.until_ms = change(zone.following(at).next()).unwrap_or(i64::MAX);
            span.offset_s = zone.to_offset(at).seconds();
        }
        Some(span.offset_s)
    }

    /// The instant as text in the zone: `2023-12-14T01:12:07.250+01:00`; `None` for a zone that is not known.
    pub fn text(&mut self, zone: &str, at_ms: i64) -> Option<String> {
        let mut text = String::new();
        let offset_s = self.offset_s(zone, at_ms)?;
        push_local(at_ms, offset_s, &mut text).then_some(text)
    }
}

/// The offsets of a zone in seconds east, each with the instant at which it begins, up to the year 2100; from the zone's
/// first clocks, so that every earlier instant has the first one. Empty for a zone that is not known.
///
/// Takes: an IANA name or a fixed offset. Gives: milliseconds since 1970-01-01T00:00Z, in their order.
pub fn offsets_of(zone: &str) -> Vec<(i64, i32)> {
    let Some(zone) = zone_named(zone) else {
        return Vec::new();
    };
    let first = (
        Timestamp::MIN.as_millisecond(),
        zone.to_offset(Timestamp::MIN).seconds(),
    );
    let changes = zone.following(Timestamp::MIN).map(|change| {
        (
            change.timestamp().as_millisecond(),
            change.offset().seconds(),
        )
    });
    let mut offsets: Vec<(i64, i32)> = std::iter::once(first)
        .chain(changes.take_while(|(from_ms, _)| *from_ms < YEAR_2100_MS))
        .collect();
    offsets.dedup_by_key(|(_, offset_s)| *offset_s);
    offsets
}

fn zone_named(name: &str) -> Option<TimeZone> {
    let Some(digits) = name.strip_prefix(['+', '-']) else {
        return TimeZoneDatabase::bundled().get(name).ok();
    };
    let (hours, minutes) = digits.split_once(':')?;
    let offset_s = hours.parse::<i32>().ok()? * 3_600 + minutes.parse::<i32>().ok()? * 60;
    let east = if name.starts_with('-') {
        -offset_s
    } else {
        offset_s
    };
    Some(TimeZone::fixed(Offset::from_seconds(east).ok()?))
}

/// Appends an instant to a text as local time at an offset from UTC: `2023-12-14T01:12:07.250+01:00`.
/// `false`, and nothing written, for years without four digits.
pub fn push_local(at_ms: i64, offset_s: i32, out: &mut String) -> bool {
    let Some(seconds) = at_ms.div_euclid(1_000).checked_add(offset_s.into()) else {
        return false;
    };
    let Some(date_and_time) = date_and_time(seconds) else {
        return false;
    };
    let mut text = *b"0000-00-00T00:00:00.000+00:00:00";
    text[..19].copy_from_slice(&date_and_time);
    put(&mut text[20..23], at_ms.rem_euclid(1_000));
    if offset_s < 0 {
        text[23] = b'-';
    }
    let offset = i64::from(offset_s.unsigned_abs());
    put(&mut text[24..26], offset / 3_600);
    put(&mut text[27..29], offset / 60 % 60);
    put(&mut text[30..], offset % 60);
    // Before zones had whole minutes, seconds are written too.
    let length = if offset % 60 == 0 { 29 } else { 32 };
    out.push_str(std::str::from_utf8(&text[..length]).unwrap_or_default());
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::Utc;

    /// Changes of the clocks by the IANA time zone database, 2025b (from memory).
    #[test]
    fn local_time_is_that_of_the_zone_whatever_was_asked_before() {
        let mut clock = LocalClock::default();
        for (zone, utc, local) in [
            (
                "Europe/Rome",
                "2023-12-13T23:12:07.250Z",
                "2023-12-14T00:12:07.250+01:00",
            ),
            (
                "Europe/Rome",
                "2024-10-27T00:59:59.999Z",
                "2024-10-27T02:59:59.999+02:00",
            ),
            (
                "Europe/Rome",
                "2024-10-27T01:00:00Z",
                "2024-10-27T02:00:00.000+01:00",
            ),
            (
                "Europe/Rome",
                "2024-03-31T00:59:59Z",
                "2024-03-31T01:59:59.000+01:00",
            ),
            (
                "America/Santiago",
                "2024-01-05T04:00:00Z",
                "2024-01-05T01:00:00.000-03:00",
            ),
            (
                "Europe/Rome",
                "2024-03-31T01:00:00Z",
                "2024-03-31T03:00:00.000+02:00",
            ),
            (
                "Asia/Kathmandu",
                "2023-12-31T18:15:00Z",
                "2024-01-01T00:00:00.000+05:45",
            ),
            (
                "-03:30",
                "2023-12-31T18:15:00Z",
                "2023-12-31T14:45:00.000-03:30",
            ),
            (
                "UTC",
                "2023-12-31T18:15:00Z",
                "2023-12-31T18:15:00.000+00:00",
            ),
        ] {
            let at = Utc::parse(utc).unwrap();
            assert_eq!(clock.text(zone, at.unix_ms()).as_deref(), Some(local));
            assert_eq!(Utc::parse(local), Some(at));
        }
        assert_eq!(clock.text("Europe/Atlantis", 0), None);
    }

    #[test]
    fn a_list_of_offsets_has_every_change_and_one_row_for_a_fixed_zone() {
        let rome = offsets_of("Europe/Rome");
        let winter = Utc::parse("2024-10-27T01:00:00Z").unwrap().unix_ms();
        assert!(rome.contains(&(winter, 3_600)));
        assert!(rome.is_sorted_by(|a, b| a.0 < b.0 && a.1 != b.1));
        assert_eq!(offsets_of("-03:30").len(), 1);
        assert!(offsets_of("Europe/Atlantis").is_empty());
    }

    proptest::proptest! {
        #[test]
        fn spans_that_are_remembered_change_nothing(instants in proptest::collection::vec(0_i64..4_000_000_000_000, 1..40)) {
            let rome = TimeZoneDatabase::bundled().get("Europe/Rome").unwrap();
            let mut clock = LocalClock::default();
            for at_ms in instants {
                let expect = rome.to_offset(Timestamp::from_millisecond(at_ms).unwrap()).seconds();
                proptest::prop_assert_eq!(clock.offset_s("Europe/Rome", at_ms), Some(expect));
            }
        }
    }
}
