//! A named zone of the bundled IANA database, or a fixed offset: the same answer on every computer.

use jiff::Timestamp;
use jiff::tz::Offset;
use jiff::tz::TimeZone;
use jiff::tz::TimeZoneDatabase;

use crate::terms::time::Utc;

/// A time zone.
#[derive(Clone, Debug)]
pub struct Zone {
    zone: TimeZone,
    name: String,
}

impl Zone {
    /// Looks up a zone by its IANA name, in any case: `Europe/Rome`; or by a fixed offset from UTC: `+01:00`.
    pub fn named(name: &str) -> Option<Self> {
        let name = name.trim();
        if let Some(offset_s) = fixed_offset(name) {
            return Some(Self {
                zone: TimeZone::fixed(Offset::from_seconds(offset_s).ok()?),
                name: offset_name(offset_s),
            });
        }
        let zone = database().get(name).ok()?;
        let name = zone.iana_name().unwrap_or("UTC").to_owned();
        Some(Self { zone, name })
    }

    /// The zone's name as the database writes it, or the offset.
    pub fn name(&self) -> &str {
        &self.name
    }

    pub(super) fn zone(&self) -> &TimeZone {
        &self.zone
    }

    /// The names most similar to `wanted`, best first, at most three.
    pub fn nearest_names(wanted: &str) -> Vec<String> {
        let wanted = wanted.to_lowercase();
        let place = wanted.rsplit('/').next().unwrap_or(&wanted).to_owned();
        let mut scored: Vec<(f64, String)> = database()
            .available()
            .map(|name| {
                let lower = name.to_string().to_lowercase();
                let tail = lower.rsplit('/').next().unwrap_or(&lower);
                let score =
                    strsim::jaro_winkler(&wanted, &lower).max(strsim::jaro_winkler(&place, tail));
                (score, name.to_string())
            })
            .filter(|(score, _)| *score > 0.85)
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        scored.into_iter().take(3).map(|(_, name)| name).collect()
    }
}

/// Every zone of the database.
pub(super) fn every_zone() -> Vec<TimeZone> {
    database()
        .available()
        .filter_map(|name| database().get(name.as_str()).ok())
        .collect()
}

/// Reads `+01:00`, `-3`, `UTC+5:45`: hours and minutes east of UTC, from -12:00 to +14:00 (the offsets in use).
fn fixed_offset(text: &str) -> Option<i32> {
    let text = text
        .strip_prefix("UTC")
        .or_else(|| text.strip_prefix("utc"))
        .unwrap_or(text);
    let (sign, rest) = match text.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let (hours, minutes) = rest.split_once(':').unwrap_or((rest, "00"));
    let digits = |part: &str, lengths: std::ops::RangeInclusive<usize>| {
        (lengths.contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit()))
            .then(|| part.parse::<i32>().ok())
            .flatten()
    };
    let minutes = digits(hours, 1..=2)? * 60 + digits(minutes, 2..=2).filter(|m| *m < 60)?;
    let signed = sign * minutes;
    (-12 * 60..=14 * 60)
        .contains(&signed)
        .then_some(signed * 60)
}

/// An offset from UTC as text: `+05:45`.
pub fn offset_name(offset_s: i32) -> String {
    let minutes = offset_s.unsigned_abs() / 60;
    let sign = if offset_s < 0 { '-' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

/// Whether the clocks of some zone were advanced by this many seconds between two instants; put back if it is negative.
pub fn some_zone_changed_by(seconds: i64, from: Utc, to: Utc) -> bool {
    let stamp = |at: Utc| Timestamp::from_millisecond(at.unix_ms()).ok();
    let (Some(from), Some(to)) = (stamp(from), stamp(to)) else {
        return false;
    };
    let database = database();
    database
        .available()
        .filter_map(|name| database.get(name.as_str()).ok())
        .any(|zone| {
            let put_on = zone.to_offset(to).seconds() - zone.to_offset(from).seconds();
            i64::from(put_on) == seconds && seconds != 0
        })
}

/// The database in the program, never the computer's own.
fn database() -> TimeZoneDatabase {
    TimeZoneDatabase::bundled()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_are_found_by_name_and_missed_with_a_suggestion() {
        assert_eq!(Zone::named("europe/rome").unwrap().name(), "Europe/Rome");
        assert!(Zone::named("Europe/Atlantis").is_none());
        assert_eq!(Zone::nearest_names("Europe/Romee")[0], "Europe/Rome");
        assert_eq!(Zone::nearest_names("santiago")[0], "America/Santiago");
    }

    #[test]
    fn fixed_offsets_are_zones_too() {
        for (text, name) in [
            ("+01:00", "+01:00"),
            ("-3", "-03:00"),
            ("UTC+5:45", "+05:45"),
            ("UTC", "UTC"),
        ] {
            assert_eq!(Zone::named(text).unwrap().name(), name);
        }
        for text in ["+15:00", "-13", "+1:7", "+", "+é", "1:00"] {
            assert!(Zone::named(text).is_none(), "{text}");
        }
    }
}
