//! The night of a frame: the evening's calendar date, local noon to the next local noon. Does not know the Sun.

use jiff::ToSpan;
use jiff::civil::Date;
use jiff::civil::DateTime;

use crate::clock::zone::Zone;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// The night of an instant, in a zone: `2023-12-13` from noon of the 13th to noon of the 14th.
pub fn night_by_zone(at: Utc, zone: &Zone) -> Option<String> {
    let stamp = jiff::Timestamp::from_millisecond(at.unix_ms()).ok()?;
    evening(zone.zone().to_datetime(stamp))
}

/// The night of a reading, taken as local time.
pub fn night_by_reading(reading: WallTime) -> Option<String> {
    evening(reading.civil())
}

fn evening(local: DateTime) -> Option<String> {
    let date: Date = if local.hour() < 12 {
        local.date().checked_sub(1.day()).ok()?
    } else {
        local.date()
    };
    Some(format!(
        "{:04}-{:02}-{:02}",
        date.year(),
        date.month(),
        date.day()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_runs_from_noon_to_noon_across_month_and_year() {
        let rome = Zone::named("Europe/Rome").unwrap();
        let night = |utc: &str| night_by_zone(Utc::parse(utc).unwrap(), &rome).unwrap();
        assert_eq!(night("2023-12-14T00:12:07Z"), "2023-12-13");
        assert_eq!(night("2024-01-01T10:59:59.999Z"), "2023-12-31");
        assert_eq!(night("2024-01-01T11:00:00Z"), "2024-01-01");
        assert_eq!(
            night_by_reading(WallTime::parse("2024-03-01T03:00:00").unwrap()).unwrap(),
            "2024-02-29"
        );
    }
}
