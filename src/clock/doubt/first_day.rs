//! 1 January on a clock that was never set: a body that has lost its battery restarts at its default year.

use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::found::fix_of;
use crate::terms::clock::FirstDay;
use crate::terms::day::DAY_MS;
use crate::terms::plural::counted;

/// Other frames of the body this far away show that the date is wrong, in milliseconds: 30 days.
///
/// Source: common practice, no source.
const FAR_MS: i64 = 30 * DAY_MS;

/// If nothing else is known of the body, readings within the first hour count as those of a restarted clock, in
/// milliseconds.
///
/// Source: common practice, no source.
const FIRST_HOUR_MS: i64 = 3_600_000;

/// Checks one 1 January of a body.
pub fn check(camera: &str, day: &FirstDay) -> Option<Doubt> {
    let civil = day.reading.civil();
    if (civil.month(), civil.day()) != (1, 1) {
        return None;
    }
    let midnight_ms = i64::from(civil.hour()) * 3_600_000
        + i64::from(civil.minute()) * 60_000
        + i64::from(civil.second()) * 1_000;
    let why = match day.nearest_other {
        Some(other) => {
            let away_ms = (other.reading_ms() - day.reading.reading_ms()).abs();
            if away_ms < FAR_MS {
                return None;
            }
            format!("its nearest other frame shows {other}")
        }
        None if midnight_ms < FIRST_HOUR_MS => "the body has no other frame".to_owned(),
        None => return None,
    };
    let date = civil.date().to_string();
    Some(Doubt {
        code: "clock-default",
        frame_id: day.frame_id,
        saw: format!(
            "{} from {} on, on the first day of a year; {why}",
            counted(day.frames.unsigned_abs(), "frame"),
            day.reading
        ),
        cure: format!(
            "if the clock of {camera} had lost its time, state the true time of one frame: {}",
            fix_of(camera, day.reading)
                .blank_option("--true")
                .option("--from", &date)
                .option("--until", &date)
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::WallTime;

    #[test]
    fn a_default_date_is_told_and_a_new_years_night_is_not() {
        let told = |reading: &str, other: Option<&str>| {
            check(
                "B",
                &FirstDay {
                    frame_id: 1,
                    reading: WallTime::parse(reading).unwrap(),
                    frames: 20,
                    nearest_other: other.and_then(WallTime::parse),
                },
            )
            .is_some()
        };
        assert!(told("2015-01-01T00:03:07", Some("2023-12-13T22:00:00")));
        assert!(told("2015-01-01T00:03:07", None));
        assert!(!told("2024-01-01T01:30:00", Some("2023-12-31T23:59:00")));
        assert!(!told("2024-01-01T02:30:00", None));
        assert!(!told("2015-01-02T00:03:07", Some("2023-12-13T22:00:00")));
    }
}
