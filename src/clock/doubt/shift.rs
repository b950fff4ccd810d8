//! The whole-hour, twelve-hour or one-day step that makes a session fit the night.

use crate::terms::clock::ClockedFrame;
use crate::terms::time::Utc;

/// Frames at night settings need the Sun at least so far below the horizon to fit the night.
///
/// Source: end of nautical twilight, the almanacs' definition (from memory).
const NIGHT_SUN_DEG: f64 = -12.0;

/// Whole hours that zones and summer time can be mistaken by.
///
/// Source: offsets in use lie between -12:00 and +14:00 (IANA time zone database).
const MOST_HOURS: i64 = 14;

/// A mistake of so few hours is summer time or a neighbour's zone, likelier than morning for evening.
///
/// Source: common practice, no source.
const FEW_HOURS: i64 = 3;

/// The step, in hours, that puts every one of these frames into the night; positive: later than dated.
///
/// Takes: frames at night settings, the Sun's altitude at an instant over their place.
/// Gives: the least whole hours where they are few, else twelve hours where they do, else the least; a whole day only
/// for a session that no hours fit.
pub fn fitting_hours(
    frames: &[&ClockedFrame],
    sun_alt_deg: &mut dyn FnMut(Utc) -> Option<f64>,
) -> Option<i64> {
    let mut fits = |hours: i64| fits(frames, hours, sun_alt_deg);
    let least = (1..=MOST_HOURS)
        .flat_map(|h| [h, -h])
        .find(|hours| fits(*hours));
    let noon_for_midnight = if is_morning(frames) { 12 } else { -12 };
    match least {
        Some(hours) if hours.abs() <= FEW_HOURS => Some(hours),
        _ if fits(noon_for_midnight) => Some(noon_for_midnight),
        Some(hours) => Some(hours),
        None => [24, -24].into_iter().find(|hours| fits(*hours)),
    }
}

/// Whether a step puts every one of these frames into the night.
pub fn fits(
    frames: &[&ClockedFrame],
    hours: i64,
    sun_alt_deg: &mut dyn FnMut(Utc) -> Option<f64>,
) -> bool {
    let starts = ends_and_middle(frames);
    !starts.is_empty()
        && starts.iter().all(|at| {
            at.plus_s(hours as f64 * 3600.0)
                .and_then(&mut *sun_alt_deg)
                .is_some_and(|alt| alt < NIGHT_SUN_DEG)
        })
}

/// The step that puts a session's frames onto another's stretch of time, in whole hours or a day.
pub fn overlapping_hours(frames: &[&ClockedFrame], from: Utc, until: Utc) -> Option<i64> {
    let starts: Vec<Utc> = frames.iter().filter_map(|f| f.start_utc).collect();
    let within = |hours: i64| {
        starts
            .iter()
            .filter_map(|at| at.plus_s(hours as f64 * 3600.0))
            .filter(|at| (from..=until).contains(at))
            .count()
    };
    (1..=MOST_HOURS)
        .flat_map(|h| [h, -h])
        .chain([24, -24])
        .map(|hours| (within(hours), hours))
        .filter(|(count, _)| *count * 2 > starts.len())
        // The most frames; of equals the fewest hours.
        .max_by_key(|(count, hours)| (*count, -hours.abs()))
        .map(|(_, hours)| hours)
}

/// A step in words.
pub fn hours_in_words(hours: i64) -> String {
    let way = if hours < 0 { "earlier" } else { "later" };
    match hours.abs() {
        24 => format!("one day {way}"),
        1 => format!("1 hour {way}"),
        many => format!("{many} hours {way}"),
    }
}

fn is_morning(frames: &[&ClockedFrame]) -> bool {
    frames
        .iter()
        .find_map(|f| f.reading)
        .is_none_or(|reading| reading.civil().hour() < 12)
}

fn ends_and_middle(frames: &[&ClockedFrame]) -> Vec<Utc> {
    let starts: Vec<Utc> = frames.iter().filter_map(|f| f.start_utc).collect();
    [0, starts.len() / 2, starts.len().saturating_sub(1)]
        .into_iter()
        .filter_map(|i| starts.get(i).copied())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::WallTime;

    fn frames(utc: &[&str], reading: &str) -> Vec<ClockedFrame> {
        utc.iter()
            .map(|at| ClockedFrame {
                start_utc: Utc::parse(at),
                reading: WallTime::parse(reading),
                ..ClockedFrame::default()
            })
            .collect()
    }

    /// A Sun that is 30° up at 12h UTC and 30° down at 0h, a straight line between.
    fn sun(at: Utc) -> f64 {
        let hours = at.unix_ms().rem_euclid(86_400_000) as f64 / 3_600_000.0;
        30.0 - (hours - 12.0).abs() * 5.0
    }

    #[test]
    fn the_likeliest_step_is_told() {
        let fit = |utc: &[&str], reading: &str| {
            let frames = frames(utc, reading);
            fitting_hours(&frames.iter().collect::<Vec<_>>(), &mut |at| Some(sun(at)))
        };
        // Night by this Sun is from 20:24 to 3:36.
        assert_eq!(
            fit(
                &["2023-12-13T20:00:00Z", "2023-12-13T22:00:00Z"],
                "2023-12-13T20:00:00"
            ),
            Some(1)
        );
        assert_eq!(
            fit(
                &["2023-12-13T10:00:00Z", "2023-12-13T13:00:00Z"],
                "2023-12-13T10:00:00"
            ),
            Some(12)
        );
        assert_eq!(
            fit(
                &["2023-12-13T12:30:00Z", "2023-12-13T13:00:00Z"],
                "2023-12-13T12:30:00"
            ),
            Some(-12)
        );
        assert_eq!(
            fit(&["2023-12-13T01:00:00Z", "2023-12-13T12:00:00Z"], "x"),
            None
        );
        assert_eq!(fit(&[], ""), None);
    }

    #[test]
    fn another_body_shows_the_step() {
        let b = frames(&["2023-12-14T17:00:00Z", "2023-12-14T18:00:00Z"], "x");
        let b: Vec<&ClockedFrame> = b.iter().collect();
        let at = |text: &str| Utc::parse(text).unwrap();
        assert_eq!(
            overlapping_hours(&b, at("2023-12-14T05:00:00Z"), at("2023-12-14T06:30:00Z")),
            Some(-12)
        );
        assert_eq!(
            overlapping_hours(&b, at("2023-12-12T05:00:00Z"), at("2023-12-12T06:30:00Z")),
            None
        );
        assert_eq!(hours_in_words(-24), "one day earlier");
    }
}
