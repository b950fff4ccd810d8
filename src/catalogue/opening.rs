//! Where the first frames under the radiants of showers lie in time: the days on which these were active over any frame.
//! Reads no frame.
//!
//! All frames of a shower have to be found and sorted before the first of them is known. A walk through the starts of
//! its first days comes upon it sooner, and costs little where it does not. Days without any such frame are passed over by a
//! look among the numbers of their frames, which costs less than a walk.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::catalogue::stretch::Run;
use crate::catalogue::stretch::Stretch;
use crate::terms::failure::Failure;
use crate::terms::predicate::Days;
use crate::terms::predicate::Lead;
use crate::terms::shower::ShowerCode;
use crate::terms::time::Utc;

/// A day on which the first rows of a question are looked for.
pub(super) struct Day {
    /// When it is.
    pub stretch: Stretch,
    /// The numbers of the frames that start in it, as runs from a first to a last one, both included. Empty where a look among
    /// them would cost more than a walk through the starts.
    pub runs: Vec<Run>,
}

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// One day in so many of a shower's is looked through, at most.
const ONE_IN: usize = 8;

/// What a frame by its start costs, in rows among a shower's radiants: each of its tables is looked up on its own.
const BY_START: i64 = 5;

/// No more days are looked through when they cost so many rows: where none of these is wanted, some four milliseconds are
/// lost.
const MANY_ROWS: i64 = 40_960;

/// A night's card is taken in at once: its frames have numbers that follow each other. A gap of so many is looked across, and
/// of more runs than so many no one is looked through by itself.
const LONGEST_GAP: i64 = 64;
const MOST_RUNS: usize = 16;

impl Batch<'_> {
    /// Notes that a set of showers is active over a frame that starts then.
    pub(super) fn note_day(&self, start: Utc, active_id: i64) -> Result<(), Failure> {
        let noted = (start.unix_ms().div_euclid(DAY_MS), active_id);
        if self.latest_day.get() == Some(noted) {
            return Ok(());
        }
        self.step(|db| {
            db.prepare_cached("INSERT OR IGNORE INTO derived_day (day, active_id) VALUES (?, ?)")?
                .execute(params![noted.0, noted.1])
        })?;
        self.latest_day.set(Some(noted));
        Ok(())
    }
}

impl Catalogue {
    /// The days, in order, on which the first rows of a question are looked for. Between and before them none starts. None
    /// where the question leads elsewhere, or asks for another order.
    pub(super) fn opening(&self, ask: &Ask<'_>) -> Result<Vec<Day>, Failure> {
        let none = BTreeSet::new();
        let (showers, unplaced) = match &ask.predicate.lead {
            Lead::Radiant(shower) => (BTreeSet::from([*shower]), &none),
            Lead::Among(among) => (among.showers.clone(), &among.unplaced),
            Lead::Table(_) | Lead::None => return Ok(Vec::new()),
        };
        if !ask.order.is_empty() || ask.predicate.days == Days::Nights {
            return Ok(Vec::new());
        }
        let read = || -> rusqlite::Result<Vec<Day>> {
            let mut days = self.days_under(&showers, unplaced)?;
            if let Days::Between(first, last) = ask.predicate.days {
                days.retain(|day, _| (first..=last).contains(day));
            }
            let looked_through = days.len().div_ceil(ONE_IN);
            let (mut cost, mut opening) = (0, Vec::new());
            for (day, active) in days.into_iter().take(looked_through) {
                let stretch = Stretch {
                    from: day.saturating_mul(DAY_MS),
                    until: day.saturating_add(1).saturating_mul(DAY_MS),
                };
                let (runs, rows) = least(self.begun_in(stretch)?, active);
                opening.push(Day { stretch, runs });
                cost += rows;
                if cost >= MANY_ROWS {
                    break;
                }
            }
            Ok(opening)
        };
        read().map_err(|e| failed(&self.path, e))
    }

    /// The numbers of the frames that start in a stretch of time.
    fn begun_in(&self, stretch: Stretch) -> rusqlite::Result<Vec<i64>> {
        self.db
            .prepare_cached(
                "SELECT frame_id FROM derived_time WHERE start_ms >= ? AND start_ms < ?",
            )?
            .query_map([stretch.from, stretch.until], |row| row.get(0))?
            .collect()
    }

    /// The days on which one of these showers was active over any frame, in order, each with how many of them were. None where
    /// one of `unplaced` is the main one over a frame without a place: the day of such a frame is noted nowhere.
    fn days_under(
        &self,
        showers: &BTreeSet<ShowerCode>,
        unplaced: &BTreeSet<ShowerCode>,
    ) -> rusqlite::Result<BTreeMap<i64, i64>> {
        for shower in unplaced {
            let found: bool = self
                .db
                .prepare_cached(
                    "SELECT EXISTS (SELECT 1 FROM derived_sky WHERE active_id IS NULL AND main_shower_id =
                         (SELECT shower_id FROM derived_shower WHERE code = ?))",
                )?
                .query_row([shower.as_str()], |row| row.get(0))?;
            if found {
                return Ok(BTreeMap::new());
            }
        }
        let mut days = BTreeMap::new();
        for shower in showers {
            // A code is three letters among codes of three letters with spaces between: it is found nowhere else.
            let mut read = self.db.prepare_cached(
                "SELECT DISTINCT day FROM derived_day JOIN derived_active USING (active_id)
                 WHERE instr(showers, ?) > 0",
            )?;
            for day in read.query_map([shower.as_str()], |row| row.get(0))? {
                *days.entry(day?).or_default() += 1;
            }
        }
        Ok(days)
    }
}

/// The numbers of a day's frames as runs, with so many showers active, and the rows that a look among them costs; no runs
/// where a walk costs less.
fn least(mut numbers: Vec<i64>, active: i64) -> (Vec<Run>, i64) {
    let frames = i64::try_from(numbers.len()).unwrap_or(i64::MAX);
    let by_start = frames.saturating_mul(BY_START);
    numbers.sort_unstable();
    let runs: Vec<Run> = numbers
        .chunk_by(|one, next| next - one <= LONGEST_GAP)
        .filter_map(|run| Some((*run.first()?, *run.last()?)))
        .collect();
    let looked_at: i64 = runs.iter().map(|(first, last)| last - first + 1).sum();
    let look = looked_at.saturating_mul(active);
    if runs.len() <= MOST_RUNS && look <= by_start {
        (runs, look)
    } else {
        (Vec::new(), by_start)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_follow_each_other_are_runs() {
        let two = (1..=100).chain(9_001..=9_050).rev().collect();
        assert_eq!(least(two, 1), (vec![(1, 100), (9_001, 9_050)], 150));
        let gaps = vec![1, 1 + LONGEST_GAP, 2 + 2 * LONGEST_GAP];
        assert_eq!(least(gaps.clone(), 1), (vec![], 3 * BY_START));
        let filled = (2..60).chain(gaps).collect();
        assert_eq!(least(filled, 2), (vec![(1, 65), (130, 130)], 132));
        assert_eq!(least(vec![], 1), (vec![], 0));
    }

    #[test]
    fn frames_far_apart_and_under_many_showers_are_walked_through() {
        let apart: Vec<i64> = (0..100).map(|n| n * 1_000).collect();
        assert_eq!(least(apart, 1), (vec![], 100 * BY_START));
        let together: Vec<i64> = (0..100).collect();
        assert_eq!(least(together.clone(), BY_START), (vec![(0, 99)], 500));
        assert_eq!(least(together, BY_START + 1), (vec![], 500));
    }
}
