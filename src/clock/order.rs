//! Readings that happened twice or never, settled by the order of a body's frames in one night, where that order
//! leaves no choice. Sees readings, no frames.
//!
//! A clock that runs on smoothly was neither put forward nor back: all its readings of that run have one offset. A
//! clock that steps back within the hour that happened twice was put back there.

/// A longer step may hide a change of the clock, in milliseconds.
///
/// Source: common practice, no source: the pause that ends a session.
const LONGEST_STEP_MS: i64 = 1_800_000;

/// Clocks are put back by an hour at most, in milliseconds.
///
/// Source: IANA time zone database, changes of summer time in force (from memory).
const LONGEST_STEP_BACK_MS: i64 = 3_600_000;

/// What is known of one reading's offset from UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// The zone's rules leave no choice.
    Sure(i32),
    /// The reading happened twice or never: by the offset before the change, or by the one after it.
    Either {
        /// Seconds east before the change.
        before_s: i32,
        /// Seconds east after it.
        after_s: i32,
    },
}

/// One reading, in the order of the frames' names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// Milliseconds of the reading, as [`crate::terms::time::WallTime::reading_ms`] counts them.
    pub reading_ms: i64,
    /// What is known of its offset.
    pub known: Known,
}

/// Settles a night's readings.
///
/// Takes: readings of one body in one zone, in the order they were taken.
/// Gives: for each the offset from UTC to use, in seconds east; `None` where the order leaves it open.
pub fn settle(shown: &[Shown]) -> Vec<Option<i32>> {
    let mut runs: Vec<std::ops::Range<usize>> = Vec::new();
    for i in 0..shown.len() {
        let runs_on = i > 0
            && (0..=LONGEST_STEP_MS).contains(&(shown[i].reading_ms - shown[i - 1].reading_ms));
        match runs.last_mut() {
            Some(run) if runs_on => run.end = i + 1,
            _ => runs.push(i..i + 1),
        }
    }
    let mut settled = Vec::with_capacity(shown.len());
    for run in &runs {
        let doubtful = shown[run.clone()]
            .iter()
            .any(|one| matches!(one.known, Known::Either { .. }));
        let first_sure = shown[run.clone()].iter().find_map(|one| match one.known {
            Known::Sure(offset_s) => Some(offset_s),
            Known::Either { .. } => None,
        });
        let steps_back = |at: usize| {
            at > 0
                && at < shown.len()
                && (1..=LONGEST_STEP_BACK_MS)
                    .contains(&(shown[at - 1].reading_ms - shown[at].reading_ms))
                && is_either(shown[at - 1])
                && is_either(shown[at])
        };
        let (put_back_after, put_back_before) = (steps_back(run.end), steps_back(run.start));
        for one in &shown[run.clone()] {
            settled.push(match (one.known, first_sure) {
                (Known::Sure(own_s), _) if !doubtful => Some(own_s),
                (_, Some(sure_s)) => Some(sure_s),
                (Known::Either { before_s, after_s }, None) => {
                    match (put_back_after, put_back_before) {
                        (true, false) => Some(before_s),
                        (false, true) => Some(after_s),
                        _ => None,
                    }
                }
                (Known::Sure(own_s), None) => Some(own_s),
            });
        }
    }
    settled
}

fn is_either(one: Shown) -> bool {
    matches!(one.known, Known::Either { .. })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::resolve::known;
    use crate::clock::zone::Zone;
    use crate::terms::time::WallTime;

    /// The offsets in hours of a night's readings in Rome: summer time ended on 2024-10-27 at 3:00, and began on
    /// 2024-03-31 at 2:00 (Directive 2000/84/EC).
    fn hours(readings: &[&str]) -> Vec<Option<i32>> {
        let rome = Zone::named("Europe/Rome").unwrap();
        let shown: Vec<Shown> = readings
            .iter()
            .map(|text| {
                let reading = WallTime::parse(text).unwrap();
                Shown {
                    reading_ms: reading.reading_ms(),
                    known: known(reading, &rome),
                }
            })
            .collect();
        settle(&shown)
            .into_iter()
            .map(|offset| offset.map(|s| s / 3600))
            .collect()
    }

    #[test]
    fn a_clock_that_steps_back_was_put_back_there() {
        let night = [
            "2024-10-27T02:10:00",
            "2024-10-27T02:50:00",
            "2024-10-27T02:05:00",
            "2024-10-27T02:40:00",
        ];
        // Forty minutes between frames is no smooth run: only the step back itself is certain.
        assert_eq!(hours(&night), [None, Some(2), Some(1), None]);
        let close = [
            "2024-10-27T02:30:00",
            "2024-10-27T02:50:00",
            "2024-10-27T02:05:00",
            "2024-10-27T02:20:00",
        ];
        assert_eq!(hours(&close), [Some(2), Some(2), Some(1), Some(1)]);
    }

    #[test]
    fn a_smooth_run_keeps_the_offset_of_its_certain_frames() {
        let through = [
            "2024-10-27T01:50:00",
            "2024-10-27T02:15:00",
            "2024-10-27T02:45:00",
            "2024-10-27T03:10:00",
        ];
        assert_eq!(hours(&through), [Some(2); 4], "nobody put it back");
        assert_eq!(hours(&through[2..]), [Some(1), Some(1)]);
        let forward = [
            "2024-03-31T01:50:00",
            "2024-03-31T02:10:00",
            "2024-03-31T02:40:00",
            "2024-03-31T03:05:00",
        ];
        assert_eq!(hours(&forward), [Some(1); 4], "nobody put it forward");
    }

    #[test]
    fn what_the_order_leaves_open_stays_open() {
        assert_eq!(
            hours(&["2024-10-27T02:10:00", "2024-10-27T02:20:00"]),
            [None, None]
        );
        assert_eq!(
            hours(&["2024-10-26T23:00:00", "2024-10-27T02:20:00"]),
            [Some(2), None]
        );
        assert_eq!(
            hours(&["2024-10-27T00:00:00", "2024-10-27T05:00:00"]),
            [Some(2), Some(1)]
        );
        assert_eq!(hours(&[]), []);
    }
}
