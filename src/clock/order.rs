//! Readings that happened twice or never, resolved by the order of a body's frames in one night, if that order leaves
//! only one possibility. Sees readings, not frames.
//!
//! A clock that runs smoothly was not changed: all its readings of that run have one offset. Smooth means steady
//! against the run's own cadence; a pause ends the run, since the clock may have been changed during it. A clock that
//! steps back within the hour that happened twice was put back there.

/// A longer step may conceal a change of the clock, in milliseconds, whatever the cadence.
///
/// Source: common practice, no source: the pause that ends a session.
const LONGEST_STEP_MS: i64 = 1_800_000;

/// A step that exceeds the cadence by more than the cadence itself and by more than this is a pause, in milliseconds.
///
/// Source: our choice: one missing frame, or half a minute for changing a setting.
const LEAST_PAUSE_MS: i64 = 30_000;

/// This many steps on either side give the cadence at a step.
const CADENCE_STEPS: usize = 8;

/// Clocks are put back by an hour at most, in milliseconds.
///
/// Source: IANA time zone database, changes of summer time in force (from memory).
const LONGEST_STEP_BACK_MS: i64 = 3_600_000;

/// What is known of one reading's offset from UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// The zone's rules leave only one possibility.
    Sure(i32),
    /// The reading happened twice or never: it has the offset before the change, or the one after it.
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

/// Resolves a night's readings.
///
/// Takes: readings of one body in one zone, in the order they were taken. Gives: for each the offset from UTC to use,
/// in seconds east; `None` if the order leaves it open.
pub fn assign_offsets(shown: &[Shown]) -> Vec<Option<i32>> {
    let mut runs: Vec<std::ops::Range<usize>> = Vec::new();
    for i in 0..shown.len() {
        let runs_on =
            i > 0 && step_ms(shown, i).is_some_and(|step| step <= longest_step_ms(shown, i));
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

/// The step from the previous reading to this one, in milliseconds; `None` if it cannot belong to a smooth run.
fn step_ms(shown: &[Shown], to: usize) -> Option<i64> {
    let step_ms = shown[to].reading_ms - shown[to - 1].reading_ms;
    (0..=LONGEST_STEP_MS).contains(&step_ms).then_some(step_ms)
}

/// The longest step to a reading that is not a pause, by the cadence of the steps around it, in milliseconds. The
/// cadence is their upper quartile, because some bodies alternate short and long exposures.
fn longest_step_ms(shown: &[Shown], to: usize) -> i64 {
    let first = to.saturating_sub(CADENCE_STEPS).max(1);
    let last = (to + CADENCE_STEPS).min(shown.len() - 1);
    let mut around: Vec<i64> = (first..=last)
        .filter(|at| *at != to)
        .filter_map(|at| step_ms(shown, at))
        .collect();
    around.sort_unstable();
    around
        .get(around.len() * 3 / 4)
        .map_or(LONGEST_STEP_MS, |cadence_ms| {
            (2 * cadence_ms).max(cadence_ms + LEAST_PAUSE_MS)
        })
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
        assign_offsets(&shown)
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
        // Forty minutes between frames is not a smooth run: only the step back itself is certain.
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

    /// A reading every half minute from one to the other, both included.
    fn every_half_minute(from: &str, to: &str) -> Vec<String> {
        let (mut at, to) = (WallTime::parse(from).unwrap(), WallTime::parse(to).unwrap());
        let mut readings = Vec::new();
        while at <= to {
            readings.push(at.to_string());
            at = at.plus_ms(30_000).unwrap();
        }
        readings
    }

    #[test]
    fn after_a_pause_the_zone_is_believed_where_it_is_clear() {
        let before = every_half_minute("2024-10-27T01:55:00", "2024-10-27T02:40:00");
        let after = every_half_minute("2024-10-27T02:58:00", "2024-10-27T03:30:00");
        let night: Vec<&str> = before.iter().chain(&after).map(String::as_str).collect();
        let offsets = hours(&night);
        assert!(offsets[..before.len()].iter().all(|h| *h == Some(2)));
        assert!(
            offsets[before.len()..].iter().all(|h| *h == Some(1)),
            "the clock was put back in the pause: {offsets:?}"
        );
        // A run within the ambiguous hour remains ambiguous; without a pause nobody put the clock back.
        let doubtful = every_half_minute("2024-10-27T02:05:00", "2024-10-27T02:40:00");
        let clear = every_half_minute("2024-10-27T03:02:00", "2024-10-27T03:30:00");
        let night: Vec<&str> = doubtful.iter().chain(&clear).map(String::as_str).collect();
        let offsets = hours(&night);
        assert!(offsets[..doubtful.len()].iter().all(Option::is_none));
        assert!(offsets[doubtful.len()..].iter().all(|h| *h == Some(1)));
        let through = every_half_minute("2024-10-27T01:55:00", "2024-10-27T03:30:00");
        let night: Vec<&str> = through.iter().map(String::as_str).collect();
        assert!(hours(&night).iter().all(|h| *h == Some(2)));
        // Alternating short and long exposures are also a cadence.
        let turns: Vec<&str> = night
            .iter()
            .enumerate()
            .filter(|(i, _)| i % 3 != 2)
            .map(|(_, reading)| *reading)
            .collect();
        assert!(hours(&turns).iter().all(|h| *h == Some(2)));
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
