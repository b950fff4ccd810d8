//! File numbers that rise while the clock steps back or leaps.

use crate::clock::doubt::Doubt;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Numbers so close follow each other in one run of the body.
const NEXT_WITHIN: u64 = 3;

/// A step back of less is a burst's rounding, in milliseconds.
///
/// Source: our choice: clocks write whole seconds.
const STEP_BACK_MS: i64 = 2_000;

/// A body that lay unused is no wonder; one that leaps farther was set anew, in milliseconds: three hundred days.
///
/// Source: common practice, no source.
const LEAP_MS: i64 = 300 * 86_400_000;

/// One file of a body, in the order of folders and names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Numbered {
    /// The frame.
    pub frame_id: i64,
    /// Its folder, and the file's name without extension.
    pub folder: String,
    /// That name.
    pub stem: String,
    /// What the clock showed.
    pub reading: WallTime,
    /// The instant that came to, with all that is known of the clock.
    pub start_utc: Option<Utc>,
}

/// Checks a file against the one before it, both of one body and one dump. A step that is accounted for, by the end of
/// summer time or by a statement, is none: the instants run on.
pub fn check(camera: &str, before: &Numbered, file: &Numbered) -> Option<Doubt> {
    if before.folder != file.folder {
        return None;
    }
    let ((prefix_a, a), (prefix_b, b)) = (number(&before.stem)?, number(&file.stem)?);
    if prefix_a != prefix_b || b <= a || b - a > NEXT_WITHIN {
        return None;
    }
    let step_ms = match (before.start_utc, file.start_utc) {
        (Some(before), Some(at)) => at.unix_ms() - before.unix_ms(),
        _ => file.reading.reading_ms() - before.reading.reading_ms(),
    };
    let what = if step_ms <= -STEP_BACK_MS {
        "steps back"
    } else if step_ms >= LEAP_MS {
        "leaps"
    } else {
        return None;
    };
    Some(Doubt {
        code: "clock-steps",
        frame_id: file.frame_id,
        saw: format!(
            "from {} to {} the clock of {camera} {what}, from {} to {}",
            before.stem, file.stem, before.reading, file.reading
        ),
        cure: "if the clock was set anew there, state a fix on either side, the later with --reset-before: \
               framefall clock fix --help"
            .to_owned(),
    })
}

/// A name's letters, and the number at its end.
fn number(stem: &str) -> Option<(&str, u64)> {
    let digits = stem.bytes().rev().take_while(u8::is_ascii_digit).count();
    let at = stem.len() - digits;
    Some((stem.get(..at)?, stem.get(at..)?.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(stem: &str, reading: &str) -> Numbered {
        Numbered {
            frame_id: 1,
            folder: "DCIM/100NITES".into(),
            stem: stem.into(),
            reading: WallTime::parse(reading).unwrap(),
            start_utc: None,
        }
    }

    #[test]
    fn a_step_that_is_accounted_for_is_none() {
        let at = |stem, reading, utc| Numbered {
            start_utc: Utc::parse(utc),
            ..file(stem, reading)
        };
        // Summer time ended in Los Angeles on 2023-11-05 at 2:00 (IANA time zone database).
        let first = at("NITE0100", "2023-11-05T01:59:30", "2023-11-05T08:59:30Z");
        let put_back = at("NITE0101", "2023-11-05T01:00:00", "2023-11-05T09:00:00Z");
        assert_eq!(check("B", &first, &put_back), None);
        let not_told = at("NITE0101", "2023-11-05T01:00:00", "2023-11-05T08:00:00Z");
        assert!(check("B", &first, &not_told).is_some());
    }

    #[test]
    fn steps_back_and_leaps_are_told_and_nights_apart_are_not() {
        let first = file("NITE0100", "2023-12-13T22:00:00");
        let told = |stem: &str, reading: &str| {
            check("B", &first, &file(stem, reading)).map(|doubt| doubt.saw)
        };
        assert!(
            told("NITE0101", "2023-12-13T21:00:22")
                .unwrap()
                .contains("steps back")
        );
        assert!(
            told("NITE0101", "2025-12-13T21:00:22")
                .unwrap()
                .contains("leaps")
        );
        assert_eq!(told("NITE0101", "2023-12-13T22:00:22"), None);
        assert_eq!(
            told("NITE0101", "2024-01-03T20:00:00"),
            None,
            "three weeks unused"
        );
        assert_eq!(
            told("NITE0200", "2023-12-12T20:00:00"),
            None,
            "not the next one"
        );
        assert_eq!(
            told("TEST0101", "2023-12-12T20:00:00"),
            None,
            "another name"
        );
        assert_eq!(
            told("NITE0099", "2023-12-12T20:00:00"),
            None,
            "the number falls"
        );
    }
}
