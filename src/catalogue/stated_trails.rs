//! The trails that the photographer stated. Computes no value.

use rusqlite::Connection;
use rusqlite::Row;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::parsed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::night::NightScope;
use crate::terms::failure::Failure;
use crate::terms::trail::Judgement;
use crate::terms::trail::MeteorShower;
use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;

/// A stated trail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StatedTrail {
    /// Its number in this catalogue.
    pub trail_id: i64,
    /// The frame it is in.
    pub frame_id: i64,
    /// Its ends.
    pub ends: TrailEnds,
    /// What it is.
    pub judged: Judgement,
}

pub(super) const TRAILS: &str =
    "SELECT trail_id, frame_id, from_x, from_y, to_x, to_y, judged, shower FROM stated_trail";

impl Catalogue {
    /// The trails in a frame, in the order in which they were stated.
    pub fn trails_of(&self, frame_id: i64) -> Result<Vec<StatedTrail>, Failure> {
        self.step(|db| trails(db, "frame_id = ?", frame_id))
    }

    /// The trails in frames of a night or a session, in the order in which they were stated.
    pub fn night_trails(&self, scope: &NightScope) -> Result<Vec<StatedTrail>, Failure> {
        self.rows(
            &format!(
                "{TRAILS} WHERE frame_id IN (SELECT time.frame_id FROM derived_time AS time WHERE {}) ORDER BY trail_id",
                scope.condition()
            ),
            [scope.value()],
            stated,
        )
    }

    /// The trail of that number.
    pub fn trail(&self, trail_id: i64) -> Result<Option<StatedTrail>, Failure> {
        self.step(|db| Ok(trails(db, "trail_id = ?", trail_id)?.pop()))
    }

    /// Width and height of a frame's full picture as stored, in pixels, where known.
    pub fn picture_size(&self, frame_id: i64) -> Result<Option<(f64, f64)>, Failure> {
        let sql = "SELECT width_px, height_px FROM written_frame WHERE frame_id = ?";
        let size: Option<Option<(f64, f64)>> = self.one_if_any(sql, [frame_id])?;
        Ok(size.flatten())
    }
}

impl Batch<'_> {
    /// What a trail with these ends is stated to be.
    pub fn trail_judged(
        &self,
        frame_id: i64,
        ends: TrailEnds,
    ) -> Result<Option<StatedTrail>, Failure> {
        self.step(|db| {
            let of_frame = trails(db, "frame_id = ?", frame_id)?;
            Ok(of_frame.into_iter().find(|trail| trail.ends == ends))
        })
    }

    /// Records what a trail is; `None` removes it.
    pub fn put_trail(
        &self,
        frame_id: i64,
        ends: TrailEnds,
        judged: Option<Judgement>,
    ) -> Result<(), Failure> {
        let ((from_x, from_y), (to_x, to_y)) = (ends.from.parts(), ends.to.parts());
        self.step(|db| {
            let Some(judged) = judged else {
                db.prepare_cached(
                    "DELETE FROM stated_trail
                     WHERE frame_id = ? AND from_x = ? AND from_y = ? AND to_x = ? AND to_y = ?",
                )?
                .execute([frame_id, from_x, from_y, to_x, to_y])?;
                return Ok(());
            };
            let shower = judged.shower.as_ref().map(MeteorShower::word);
            let row = params![
                frame_id,
                from_x,
                from_y,
                to_x,
                to_y,
                judged.is.word(),
                shower
            ];
            // Not an upsert: SQLite would use up a number for each.
            let changed = db
                .prepare_cached(
                    "UPDATE stated_trail SET judged = ?6, shower = ?7
                     WHERE frame_id = ?1 AND from_x = ?2 AND from_y = ?3 AND to_x = ?4 AND to_y = ?5",
                )?
                .execute(row)?;
            if changed == 0 {
                db.prepare_cached(
                    "INSERT INTO stated_trail (frame_id, from_x, from_y, to_x, to_y, judged, shower)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                )?
                .execute(row)?;
            }
            Ok(())
        })
    }
}

fn trails(db: &Connection, condition: &str, value: i64) -> rusqlite::Result<Vec<StatedTrail>> {
    db.prepare_cached(&format!("{TRAILS} WHERE {condition} ORDER BY trail_id"))?
        .query_map([value], stated)?
        .collect()
}

pub(super) fn stated(row: &Row<'_>) -> rusqlite::Result<StatedTrail> {
    Ok(StatedTrail {
        trail_id: row.get(0)?,
        frame_id: row.get(1)?,
        ends: TrailEnds {
            from: PicturePoint::from_parts(row.get(2)?, row.get(3)?),
            to: PicturePoint::from_parts(row.get(4)?, row.get(5)?),
        },
        judged: Judgement {
            is: parsed(row, 6, TrailIs::from_word)?.unwrap_or(TrailIs::Other),
            shower: parsed(row, 7, MeteorShower::from_word)?,
        },
    })
}
