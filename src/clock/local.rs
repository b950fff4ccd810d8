//! The local time of a zone through a night, and its noons. Does not know the Sun.

use crate::clock::resolve::Resolved;
use crate::clock::resolve::resolve_by_zone;
use crate::clock::zone::Zone;
use crate::terms::day::DAY_S;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Noon of a date and of the next date in a zone. A day with a change of the clocks has 23 or 25 hours.
pub fn noons(night: &str, zone: &Zone) -> Option<(Utc, Utc)> {
    let noon = WallTime::parse(&format!("{night}T12:00:00"))?;
    let from = instant(noon, zone)?;
    // The next date's noon: a day later by the calendar, whatever the clocks do in between.
    let next = noon.civil().checked_add(jiff::Span::new().days(1)).ok()?;
    let next = WallTime::from_parts(next.year(), next.month(), next.day(), 12, 0, 0, "")?;
    Some((from, instant(next, zone)?))
}

/// Noon of a date and of the next date by the mean Sun at a longitude, if no zone is known.
pub fn mean_noons(night: &str, lon_deg: f64) -> Option<(Utc, Utc)> {
    let noon =
        Utc::parse(&format!("{night}T12:00:00Z"))?.plus_s(-lon_deg * DAY_S as f64 / 360.0)?;
    Some((noon, noon.plus_s(DAY_S as f64)?))
}

fn instant(reading: WallTime, zone: &Zone) -> Option<Utc> {
    match resolve_by_zone(reading, zone) {
        Resolved::Once(at) | Resolved::Twice { earlier: at, .. } => Some(at),
        Resolved::Never => None,
    }
}

/// A zone's offsets from UTC between two instants, in seconds east: the first applies from the beginning, each other
/// from its own instant.
pub fn offsets(from: Utc, to: Utc, zone: &Zone) -> Vec<(Utc, i32)> {
    /// Clocks are changed at full quarters of an hour.
    const STEP_S: f64 = 900.0;
    let mut found: Vec<(Utc, i32)> = Vec::new();
    let mut at = Some(from);
    while let Some(now) = at.filter(|now| *now <= to) {
        if let Some(offset) = offset_s(now, zone)
            && found.last().is_none_or(|(_, before)| *before != offset)
        {
            found.push((now, offset));
        }
        at = now.plus_s(STEP_S);
    }
    found
}

fn offset_s(at: Utc, zone: &Zone) -> Option<i32> {
    let stamp = jiff::Timestamp::from_millisecond(at.unix_ms()).ok()?;
    Some(zone.zone().to_offset(stamp).seconds())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_in_which_the_clocks_are_put_back_has_25_hours() {
        let rome = Zone::named("Europe/Rome").unwrap();
        let (from, to) = noons("2024-10-26", &rome).unwrap();
        assert_eq!(from.to_string(), "2024-10-26T10:00:00.000Z");
        assert!((to.seconds_since(from) - 25.0 * 3600.0).abs() < 1e-9);
        let offsets = offsets(from, to, &rome);
        assert_eq!(offsets.len(), 2);
        assert_eq!(offsets[0].1, 7200);
        assert_eq!(offsets[1].0.to_string(), "2024-10-27T01:00:00.000Z");
        let (noon, _) = mean_noons("2023-12-31", 15.0).unwrap();
        assert_eq!(noon.to_string(), "2023-12-31T11:00:00.000Z");
        assert_eq!(noons("2023-02-31", &rome), None);
    }
}
