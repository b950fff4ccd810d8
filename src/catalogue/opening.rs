//! Where the first frames under a shower's radiant lie in time: the days on which it was active over any frame. Reads no
//! frame.
//!
//! All of a shower's frames have to be found and sorted before the first of them is known. A walk through the starts of
//! its first days comes upon it sooner, and costs little where it does not.

use rusqlite::params;

use crate::catalogue::failure::failed;
use crate::catalogue::open::Catalogue;
use crate::catalogue::select::Ask;
use crate::catalogue::store::Batch;
use crate::terms::failure::Failure;
use crate::terms::predicate::Lead;
use crate::terms::time::Utc;

/// A stretch of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stretch {
    /// Its first moment, in milliseconds since 1970.
    pub from: i64,
    /// The first moment after it.
    pub until: i64,
}

/// Milliseconds of a day.
const DAY_MS: i64 = 86_400_000;

/// One day in so many of a shower's is walked through, at most: a frame by its start costs some three times what it costs
/// among its shower's.
const ONE_IN: usize = 8;

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
    /// The stretches of time, in order, in which the first rows of a question are looked for. Between and before them
    /// none starts. None where the question leads elsewhere, or asks for another order.
    pub(super) fn opening(&self, ask: &Ask<'_>) -> Result<Vec<Stretch>, Failure> {
        let Lead::Radiant(shower) = ask.predicate.lead else {
            return Ok(Vec::new());
        };
        if !ask.order.is_empty() {
            return Ok(Vec::new());
        }
        let read = || -> rusqlite::Result<Vec<i64>> {
            // A code is three letters among codes of three letters with spaces between: it is found nowhere else.
            self.db
                .prepare_cached(
                    "SELECT DISTINCT day FROM derived_day JOIN derived_active USING (active_id)
                     WHERE instr(showers, ?) > 0 ORDER BY day",
                )?
                .query_map([shower.as_str()], |row| row.get(0))?
                .collect()
        };
        let mut days = read().map_err(|e| failed(&self.path, e))?;
        days.truncate(days.len().div_ceil(ONE_IN));
        Ok(days
            .into_iter()
            .map(|day| Stretch {
                from: day.saturating_mul(DAY_MS),
                until: day.saturating_add(1).saturating_mul(DAY_MS),
            })
            .collect())
    }
}
