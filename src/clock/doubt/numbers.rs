//! File numbers that rise while the clock steps back or leaps.

use crate::terms::clock::BodyFrame;
use crate::terms::clock::RunFrame;
use crate::terms::day::DAY_MS;

/// Numbers this close are consecutive in one run of the body.
pub(super) const NEXT_WITHIN: u64 = 3;

/// A smaller step back is a burst's rounding, in milliseconds.
///
/// Source: our choice: clocks write whole seconds.
const STEP_BACK_MS: i64 = 2_000;

/// A body may have been unused for a while; one that leaps farther was reset, in milliseconds: three hundred days.
///
/// Source: common practice, no source.
pub(super) const LEAP_MS: i64 = 300 * DAY_MS;

/// A step of a clock between two consecutive files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The frame at which it shows.
    pub frame_id: i64,
    /// The step in words, without the body's name.
    pub words: String,
}

/// The step from a file to the next, both of one body and one folder. A step that is explained by the end of summer
/// time or by a statement does not count: the instants continue.
pub fn step(before: &BodyFrame, file: &BodyFrame) -> Option<Step> {
    if before.folder_id != file.folder_id {
        return None;
    }
    let ((prefix_a, a), (prefix_b, b)) = (number(&before.file_name)?, number(&file.file_name)?);
    if prefix_a != prefix_b || b <= a || b - a > NEXT_WITHIN {
        return None;
    }
    step_between(
        &before.frame,
        &file.frame,
        stem(&before.file_name),
        stem(&file.file_name),
    )
}

/// The step from a frame to the next, given the names of their files.
pub(super) fn step_between(
    was: &RunFrame,
    is: &RunFrame,
    was_name: &str,
    is_name: &str,
) -> Option<Step> {
    let step_ms = match (was.start_utc, is.start_utc) {
        (Some(was), Some(is)) => is.unix_ms() - was.unix_ms(),
        _ => is.reading.reading_ms() - was.reading.reading_ms(),
    };
    let what = if step_ms <= -STEP_BACK_MS {
        "steps back"
    } else if step_ms >= LEAP_MS {
        "leaps"
    } else {
        return None;
    };
    Some(Step {
        frame_id: is.frame_id,
        words: format!(
            "{what} from {} to {}, from {was_name} to {is_name}",
            was.reading, is.reading
        ),
    })
}

fn stem(file_name: &str) -> &str {
    file_name
        .rsplit_once('.')
        .map_or(file_name, |(stem, _)| stem)
}

/// A file name without its extension: the letters, and the number at its end.
pub(super) fn number(file_name: &str) -> Option<(String, u64)> {
    let stem = stem(file_name);
    let digits = stem.bytes().rev().take_while(u8::is_ascii_digit).count();
    let at = stem.len() - digits;
    Some((stem.get(..at)?.to_owned(), stem.get(at..)?.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::time::Utc;
    use crate::terms::time::WallTime;

    fn file(stem: &str, reading: &str, utc: Option<&str>) -> BodyFrame {
        BodyFrame {
            frame: RunFrame {
                start_utc: utc.and_then(Utc::parse),
                ..RunFrame::read_at(1, WallTime::parse(reading).unwrap())
            },
            folder_id: 1,
            file_name: format!("{stem}.DNG"),
            site_id: None,
            place: None,
        }
    }

    #[test]
    fn a_step_that_is_accounted_for_is_none() {
        let at = |stem, reading, utc| file(stem, reading, Some(utc));
        // Summer time ended in Los Angeles on 2023-11-05 at 2:00 (IANA time zone database).
        let first = at("NITE0100", "2023-11-05T01:59:30", "2023-11-05T08:59:30Z");
        let put_back = at("NITE0101", "2023-11-05T01:00:00", "2023-11-05T09:00:00Z");
        assert_eq!(step(&first, &put_back), None);
        let not_told = at("NITE0101", "2023-11-05T01:00:00", "2023-11-05T08:00:00Z");
        assert!(step(&first, &not_told).is_some());
    }

    #[test]
    fn steps_back_and_leaps_are_found_and_nights_apart_are_not() {
        let first = file("NITE0100", "2023-12-13T22:00:00", None);
        let found = |stem: &str, reading: &str| {
            step(&first, &file(stem, reading, None)).map(|step| step.words)
        };
        assert!(
            found("NITE0101", "2023-12-13T21:00:22")
                .unwrap()
                .contains("steps back")
        );
        assert!(
            found("NITE0101", "2025-12-13T21:00:22")
                .unwrap()
                .contains("leaps")
        );
        assert_eq!(found("NITE0101", "2023-12-13T22:00:22"), None);
        assert_eq!(
            found("NITE0101", "2024-01-03T20:00:00"),
            None,
            "three weeks unused"
        );
        assert_eq!(
            found("NITE0200", "2023-12-12T20:00:00"),
            None,
            "not the next one"
        );
        assert_eq!(
            found("TEST0101", "2023-12-12T20:00:00"),
            None,
            "another name"
        );
        assert_eq!(
            found("NITE0099", "2023-12-12T20:00:00"),
            None,
            "the number falls"
        );
    }
}
