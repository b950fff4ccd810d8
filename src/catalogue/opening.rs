//! Where the first frames under the radiants of showers lie in time: the days on which these were active over any frame.
//! Reads no frame.
//!
//! All frames of a shower have to be found and sorted before the first of them is known. A walk through the starts of
//! its first days comes upon it sooner, and costs little where it does not.

use std::collections::BTreeSet;

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::select::Ask;
use crate::catalogue::stretch::Stretch;
use crate::terms::failure::Failure;
use crate::terms::predicate::Days;
use crate::terms::predicate::Lead;
use crate::terms::shower::ShowerCode;
use crate::terms::time::Utc;

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// One day in so many of a shower's is looked through, at most.
const ONE_IN: usize = 8;

/// No more days are looked through when so many frames start on them: where none of these is wanted, some five milliseconds
/// are lost.
const MANY_FRAMES: i64 = 8_192;

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
    pub(super) fn opening(&self, ask: &Ask<'_>) -> Result<Vec<Stretch>, Failure> {
        let none = BTreeSet::new();
        let (showers, unplaced) = match &ask.predicate.lead {
            Lead::Radiant(shower) => (BTreeSet::from([*shower]), &none),
            Lead::Among(among) => (among.showers.clone(), &among.unplaced),
            Lead::Table(_) | Lead::None => return Ok(Vec::new()),
        };
        if !ask.order.is_empty() || ask.predicate.days == Days::Nights {
            return Ok(Vec::new());
        }
        let read = || -> rusqlite::Result<Vec<Stretch>> {
            let mut days = self.days_under(&showers, unplaced)?;
            if let Days::Between(first, last) = ask.predicate.days {
                days.retain(|day| (first..=last).contains(day));
            }
            let looked_through = days.len().div_ceil(ONE_IN);
            let (mut frames, mut opening) = (0, Vec::new());
            for day in days.into_iter().take(looked_through) {
                let stretch = Stretch {
                    from: day.saturating_mul(DAY_MS),
                    until: day.saturating_add(1).saturating_mul(DAY_MS),
                };
                opening.push(stretch);
                frames += self.begun_in(stretch)?;
                if frames >= MANY_FRAMES {
                    break;
                }
            }
            Ok(opening)
        };
        read().map_err(|e| failed(&self.path, e))
    }

    /// How many frames start in a stretch of time.
    fn begun_in(&self, stretch: Stretch) -> rusqlite::Result<i64> {
        self.db
            .prepare_cached(
                "SELECT count(*) FROM derived_time WHERE start_ms >= ? AND start_ms < ?",
            )?
            .query_row([stretch.from, stretch.until], |row| row.get(0))
    }

    /// The days on which one of these showers was active over any frame, in order. None where
    /// one of `unplaced` is the main one over a frame without a place: the day of such a frame is noted nowhere.
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
            // A code is three letters among codes of three letters with spaces between: it is found nowhere else.
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
