//! Where the first frames under the radiants of showers are in time: the days on which these were active over any
//! frame. Reads no frame.
//!
//! All frames of a shower have to be found and sorted before the first of them is known. A walk through the starts of
//! its first days finds it sooner, and costs little if it does not. A day without any such frame is skipped by a lookup
//! in the range of its frame numbers, which costs less than a walk.

use std::collections::BTreeSet;

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::plan::Stretch;
use crate::catalogue::planner::opening;
use crate::catalogue::select::Ask;
use crate::terms::day::DAY_MS;
use crate::terms::failure::Failure;
use crate::terms::shower::ShowerCode;
use crate::terms::time::Utc;

/// A day on which the first rows of an answer are searched for.
pub(super) struct Day {
    /// Its time.
    pub stretch: Stretch,
    /// The least and the greatest number of the frames that start in it. `None` if a lookup between them would cost
    /// more than a walk through the starts.
    pub numbers: Option<(i64, i64)>,
}

/// At most one day in this many of a shower's days is searched.
const ONE_IN: usize = 8;

/// The cost of a frame by its start, in rows among a shower's radiants: each of its tables is looked up separately.
const BY_START: i64 = 5;

/// The search stops after this many rows: if none of them match, some four milliseconds are lost.
const MANY_ROWS: i64 = 40_960;

impl Batch<'_> {
    /// Records that a set of showers is active over a frame that starts then.
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
    /// The days, in order, on which the first rows of an answer are searched for. No matching frame starts between or
    /// before them. Empty if the query leads elsewhere, or another order is requested.
    pub(super) fn opening(&self, ask: &Ask<'_>) -> Result<Vec<Day>, Failure> {
        let Some(opening) = opening(ask) else {
            return Ok(Vec::new());
        };
        self.step(|_| {
            let (first, last) = opening.days;
            let mut days = self.days_under(&opening.showers, &opening.unplaced)?;
            days.retain(|day| (first..=last).contains(day));
            let looked_through = days.len().div_ceil(ONE_IN);
            let (mut rows, mut looked) = (0, Vec::new());
            for day in days.into_iter().take(looked_through) {
                let stretch = Stretch {
                    from: day.saturating_mul(DAY_MS),
                    until: day.saturating_add(1).saturating_mul(DAY_MS),
                };
                let (frames, first, last) = self.begun_in(stretch)?;
                let (between, by_start) = (last - first + 1, frames.saturating_mul(BY_START));
                looked.push(Day {
                    stretch,
                    numbers: (between <= by_start).then_some((first, last)),
                });
                rows += between.min(by_start);
                if rows >= MANY_ROWS {
                    break;
                }
            }
            Ok(looked)
        })
    }

    /// How many frames start in a stretch of time, and the least and the greatest of their numbers.
    fn begun_in(&self, stretch: Stretch) -> rusqlite::Result<(i64, i64, i64)> {
        self.db
            .prepare_cached(
                "SELECT count(*), ifnull(min(frame_id), 0), ifnull(max(frame_id), 0) FROM derived_time
                 WHERE start_ms >= ? AND start_ms < ?",
            )?
            .query_row([stretch.from, stretch.until], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?))
            })
    }

    /// The days on which one of these showers was active over any frame, in order. Empty if one of `unplaced` is the
    /// main one over a frame without a place, because the day of such a frame is not recorded.
    fn days_under(
        &self,
        showers: &BTreeSet<ShowerCode>,
        unplaced: &BTreeSet<ShowerCode>,
    ) -> rusqlite::Result<BTreeSet<i64>> {
        for shower in unplaced {
            let found: bool = self
                .db
                .prepare_cached(
                    "SELECT EXISTS (SELECT 1 FROM derived_sky WHERE active_id IS NULL AND main_shower_id =
                         (SELECT shower_id FROM derived_shower WHERE code = ?))",
                )?
                .query_row([shower.as_str()], |row| row.get(0))?;
            if found {
                return Ok(BTreeSet::new());
            }
        }
        let mut days = BTreeSet::new();
        for shower in showers {
            // A code is three letters among codes of three letters separated by spaces: it matches nothing else.
            let mut read = self.db.prepare_cached(
                "SELECT DISTINCT day FROM derived_day JOIN derived_active USING (active_id)
                 WHERE instr(showers, ?) > 0",
            )?;
            for day in read.query_map([shower.as_str()], |row| row.get(0))? {
                days.insert(day?);
            }
        }
        Ok(days)
    }
}
