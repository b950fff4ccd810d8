//! Which derived rows must be recomputed: those that are missing, by another maker, or left by a run that was stopped.
//! Computes no value.

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::body_night::Derived;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::marks::body_night;
use crate::catalogue::placed::forget_findings;
use crate::catalogue::scale::date_of;
use crate::catalogue::sessions::OF_SESSION;
use crate::catalogue::sky_rows::forget_every_radiant;
use crate::terms::failure::Failure;
use crate::terms::maker::Maker;
use crate::terms::time::day_of_date;

/// Missing derived rows, as far as is known without reading the frames.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Missing {
    /// Frames lack rows.
    pub frames: bool,
    /// Nights need grouping.
    pub nights: bool,
    /// A rebuild was stopped.
    pub rebuild: bool,
}

/// Frames after `?1` that a rebuild of every frame has to derive: those that it has not reached yet (after `?2`), and
/// those whose rows have become stale meanwhile, unlike those of the formulas `?3` and the shower table `?4`.
const TO_REBUILD: &str = "
    FROM written_frame AS frame LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id
    WHERE frame.frame_id > ?1 AND (frame.frame_id > ?2
      OR time.maker_id IS NULL
      OR time.maker_id NOT IN (SELECT maker_id FROM derived_maker WHERE formulas = ?3 AND shower_table = ?4)
      OR EXISTS (SELECT 1 FROM pending_frame AS pending WHERE pending.frame_id = frame.frame_id))";

impl Catalogue {
    /// Whether derived rows are missing.
    pub fn missing(&self) -> Result<Missing, Failure> {
        let is = |table: &str| -> Result<bool, Failure> {
            let sql = format!("SELECT EXISTS (SELECT 1 FROM {table})");
            Ok(self.one_if_any(&sql, [])?.unwrap_or(false))
        };
        Ok(Missing {
            frames: is("pending_frame")?,
            nights: is("pending_night")?,
            rebuild: is("pending_rebuild")?,
        })
    }

    /// How many frames lack rows, and the first of them.
    pub fn pending_frames(&self) -> Result<(u64, Option<i64>), Failure> {
        let count: Option<i64> = self.one_if_any("SELECT count(*) FROM pending_frame", [])?;
        let first: Option<Option<i64>> =
            self.one_if_any("SELECT min(frame_id) FROM pending_frame", [])?;
        Ok((count.unwrap_or(0).unsigned_abs(), first.flatten()))
    }

    /// The last frame that a stopped rebuild of all frames had reached.
    pub fn rebuilt_up_to(&self) -> Result<Option<i64>, Failure> {
        self.one_if_any("SELECT after_frame FROM pending_rebuild", [])
    }

    /// The first frame that a stopped rebuild of all frames had not reached.
    pub fn first_not_rebuilt(&self) -> Result<Option<i64>, Failure> {
        let sql = "SELECT frame_id FROM written_frame WHERE frame_id > (SELECT after_frame FROM pending_rebuild)
                   ORDER BY frame_id LIMIT 1";
        self.one_if_any(sql, [])
    }

    /// How many frames remain for a rebuild of all frames that was stopped after a frame.
    pub fn count_to_rebuild(&self, done: i64, current: &Maker) -> Result<u64, Failure> {
        let sql = format!("SELECT count(*) {TO_REBUILD}");
        let values = params![0, done, current.formulas, current.shower_table];
        let count: Option<i64> = self.one_if_any(&sql, values)?;
        Ok(count.unwrap_or(0).unsigned_abs())
    }

    /// The frames of a session: by their rows, and by the numbers last shown to people.
    pub fn frames_of_session(&self, session_id: i64) -> Result<Vec<i64>, Failure> {
        let sql = format!("SELECT frame_id FROM derived_time AS time WHERE {OF_SESSION}");
        let mut frames: Vec<i64> = self.all(&sql, [session_id])?;
        // A frame whose row has another session has left this one.
        let kept = self.frames_given(session_id)?;
        for frame_id in kept {
            let elsewhere: Option<Option<i64>> = self.one_if_any(
                "SELECT time.session_id FROM written_frame AS frame
                 LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id WHERE frame.frame_id = ?",
                [frame_id],
            )?;
            if elsewhere.is_some_and(|number| number.is_none_or(|number| number == session_id)) {
                frames.push(frame_id);
            }
        }
        frames.sort_unstable();
        frames.dedup();
        Ok(frames)
    }

    /// The frames of a night by their rows.
    pub fn frames_of_night(&self, night: &str) -> Result<Vec<i64>, Failure> {
        self.all(
            "SELECT frame_id FROM derived_time WHERE night_day = ? ORDER BY frame_id",
            [day_of_date(night)],
        )
    }

    /// The frames without a row of time and place.
    pub fn frames_without_time(&self) -> Result<Vec<i64>, Failure> {
        self.all(
            "SELECT frame_id FROM pending_frame AS pending
             WHERE NOT EXISTS (SELECT 1 FROM derived_time AS time WHERE time.frame_id = pending.frame_id)
             ORDER BY frame_id",
            [],
        )
    }

    /// Pairs of nights between which frames have moved: the night of the frame's previous session, and its own.
    pub fn nights_of_moved_frames(&self) -> Result<Vec<(String, String)>, Failure> {
        let pairs: Vec<(i64, i64)> = self.all(
            "SELECT DISTINCT session.night_day, time.night_day FROM derived_time AS time
             CROSS JOIN derived_session AS session ON session.session_id = time.session_id
             WHERE session.night_day <> time.night_day",
            [],
        )?;
        let dates = |(from, to)| Some((date_of(from)?, date_of(to)?));
        Ok(pairs.into_iter().filter_map(dates).collect())
    }

    /// The nights that need grouping, in order.
    pub fn pending_nights(&self) -> Result<Vec<BodyNight>, Failure> {
        self.rows(
            "SELECT night_day, camera_id FROM pending_night ORDER BY night_day, camera_id",
            [],
            body_night,
        )
    }
}

impl Batch<'_> {
    /// The next frames after a given one that a rebuild of all frames has to derive, in order.
    pub fn next_to_rebuild(
        &self,
        after: i64,
        done: i64,
        current: &Maker,
        most: i64,
    ) -> Result<Vec<i64>, Failure> {
        self.all(
            &format!("SELECT frame.frame_id {TO_REBUILD} ORDER BY frame.frame_id LIMIT ?5"),
            params![after, done, current.formulas, current.shower_table, most],
        )
    }

    /// The next frames after a given one that lack rows, in order.
    pub fn next_pending(&self, after: i64, most: i64) -> Result<Vec<i64>, Failure> {
        self.all(
            "SELECT frame_id FROM pending_frame WHERE frame_id > ? ORDER BY frame_id LIMIT ?",
            [after, most],
        )
    }

    /// Removes the record of a frame that no longer exists.
    pub fn drop_pending(&self, frame_id: i64) -> Result<(), Failure> {
        self.change("DELETE FROM pending_frame WHERE frame_id = ?", [frame_id])
    }

    /// Records the last frame that a rebuild of all frames has reached.
    pub fn note_rebuilt(&self, up_to: i64) -> Result<(), Failure> {
        self.change(
            "INSERT INTO pending_rebuild (only_row, after_frame) VALUES (1, ?1)
             ON CONFLICT DO UPDATE SET after_frame = max(after_frame, ?1)",
            [up_to],
        )
    }

    /// Ends a rebuild of all frames: corrects the makers' counts from the rows, and deletes makers that no row uses.
    pub fn end_rebuild(&self) -> Result<(), Failure> {
        self.step(|db| {
            db.execute_batch(
                "DELETE FROM pending_rebuild;
                 DELETE FROM pending_frame WHERE frame_id NOT IN (SELECT frame_id FROM written_frame);
                 UPDATE derived_maker SET frames = 0;
                 UPDATE derived_maker SET frames = counted.frames
                 FROM (SELECT maker_id, count(*) AS frames FROM derived_time GROUP BY maker_id) AS counted
                 WHERE counted.maker_id = derived_maker.maker_id;
                 DELETE FROM derived_maker WHERE frames = 0;
                 DELETE FROM derived_day WHERE NOT EXISTS (
                   SELECT 1 FROM derived_time AS time JOIN derived_sky AS sky ON sky.frame_id = time.frame_id
                   WHERE time.start_ms BETWEEN derived_day.day * 86400000 AND derived_day.day * 86400000 + 86399999
                     AND sky.active_id = derived_day.active_id);",
            )
        })
    }

    /// Removes a frame from those that lack rows. If it had rows, the remaining ones are deleted except for time and
    /// place. Returns whether it was among them.
    pub(super) fn take_pending(&self, frame_id: i64, derived: Derived) -> Result<bool, Failure> {
        if !self.any_pending {
            return Ok(false);
        }
        self.step(|db| {
            let taken = db
                .prepare_cached("DELETE FROM pending_frame WHERE frame_id = ?")?
                .execute([frame_id])?;
            if taken > 0 && derived == Derived::Again {
                forget_every_radiant(db, frame_id)?;
                forget_findings(db, frame_id)?;
            }
            Ok(taken > 0)
        })
    }
}
