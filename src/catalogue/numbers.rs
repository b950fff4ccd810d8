//! Stores sessions and their numbers.

use std::collections::BTreeSet;

use rusqlite::CachedStatement;
use rusqlite::Connection;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::ensure::found_or_made;
use crate::catalogue::given::next_session_id;
use crate::catalogue::given::note_given;
use crate::catalogue::scale::Numbered;
use crate::catalogue::scale::date_of;
use crate::catalogue::scale::tenths;
use crate::terms::failure::Failure;
use crate::terms::frame_set::FrameSet;
use crate::terms::records::Session;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::time::day_of_date;
use crate::terms::turn::TurnBasis;

impl Batch<'_> {
    /// Stores a session of one body's night, and records the number of these frames.
    ///
    /// Takes: the key of its members, and the numbers that their sessions had before.
    pub fn put_session(
        &self,
        night: &BodyNight,
        session: &Session,
        members: &str,
        before: &BTreeSet<i64>,
    ) -> Result<(), Failure> {
        self.step(|db| {
            let id = put_session(db, night, session)?;
            let mut positions = SessionPositions::new(db)?;
            // Consecutive frames usually share their evidence text, so the last id is cached.
            let mut same: (Option<&str>, Option<i64>) = (None, None);
            for (seq, frame) in (1_i64..).zip(&session.members) {
                let words = frame.kind_evidence.as_deref();
                if words != same.0 {
                    same = (words, ensure_evidence(db, words)?);
                }
                let position = SessionPosition {
                    session_id: Some(id),
                    seq: Some(seq),
                    kind_no: frame.kind.and_then(Numbered::number),
                    evidence_id: same.1,
                    turn: frame.turn.map(|turn| tenths(turn.deg)),
                    turn_basis: (frame.turn.map(|turn| turn.basis))
                        .filter(|basis| *basis != TurnBasis::Clock),
                };
                positions.put(frame.frame_id, position)?;
            }
            let frames = FrameSet::of(session.members.iter().map(|m| m.frame_id));
            note_given(db, members, id, &frames, before)
        })
    }

    /// The session that a frame is in, and its night.
    pub fn session_and_night(
        &self,
        frame_id: i64,
    ) -> Result<(Option<i64>, Option<String>), Failure> {
        self.row(
            "SELECT session_id, night_day FROM derived_time WHERE frame_id = ?",
            [frame_id],
            |row| {
                let day: Option<i64> = row.get(1)?;
                Ok((row.get(0)?, day.and_then(date_of)))
            },
        )
    }

    /// Deletes the sessions of a night that no longer have frames; the night no longer needs grouping.
    pub fn end_grouping(&self, night: &BodyNight) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached(
                "DELETE FROM derived_session WHERE night_day = ?1 AND camera_id IS ?2
                   AND NOT EXISTS (SELECT 1 FROM derived_time AS time
                                   WHERE time.night_day = derived_session.night_day
                                     AND time.session_id = derived_session.session_id)",
            )?
            .execute(params![day_of_date(&night.night), night.camera_id])?;
            db.prepare_cached("DELETE FROM pending_night WHERE night_day = ? AND camera_id IS ?")?
                .execute(params![day_of_date(&night.night), night.camera_id])?;
            Ok(())
        })
    }
}

/// Records that the sessions of a frame's present night and body must be grouped again.
pub(super) fn mark_for_regrouping(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    db.prepare_cached(
        "INSERT OR IGNORE INTO pending_night (night_day, camera_id)
         SELECT time.night_day, frame.camera_id FROM derived_time AS time
         JOIN written_frame AS frame USING (frame_id) WHERE frame_id = ? AND time.night_day IS NOT NULL",
    )?
    .execute([frame_id])?;
    Ok(())
}

/// Removes a frame without a night from its session, because no night will be grouped that would do it.
pub(super) fn leave_session(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    db.prepare_cached(
        "UPDATE derived_time SET session_id = NULL, seq = NULL, kind_no = NULL, evidence_id = NULL, turn = NULL,
             turn_basis = NULL
         WHERE frame_id = ?",
    )?
    .execute([frame_id])?;
    Ok(())
}

/// A frame's position in its session.
#[derive(Clone, Copy, PartialEq, Eq)]
struct SessionPosition {
    session_id: Option<i64>,
    seq: Option<i64>,
    kind_no: Option<i64>,
    evidence_id: Option<i64>,
    turn: Option<i64>,
    /// None for the clock.
    turn_basis: Option<TurnBasis>,
}

columns!(SessionPosition: session_id seq kind_no evidence_id turn turn_basis);

/// Stores the positions of frames in their sessions.
struct SessionPositions<'db> {
    before: CachedStatement<'db>,
    told: CachedStatement<'db>,
    moved: CachedStatement<'db>,
}

impl<'db> SessionPositions<'db> {
    fn new(db: &'db Connection) -> rusqlite::Result<Self> {
        Ok(Self {
            before: db.prepare_cached(
                "SELECT session_id, seq, kind_no, evidence_id, turn, turn_basis FROM derived_time WHERE frame_id = ?",
            )?,
            // Columns of indexes are not among these: SQLite rewrites the entry for every such column in an UPDATE.
            told: db.prepare_cached(
                "UPDATE derived_time SET evidence_id = ?2, turn = ?3, turn_basis = ?4 WHERE frame_id = ?1",
            )?,
            moved: db.prepare_cached(
                "UPDATE derived_time SET evidence_id = ?2, turn = ?3, turn_basis = ?4, session_id = ?5, seq = ?6, kind_no = ?7
                 WHERE frame_id = ?1",
            )?,
        })
    }

    /// Writes the values that have changed.
    fn put(&mut self, frame_id: i64, now: SessionPosition) -> rusqlite::Result<()> {
        let before: SessionPosition = self.before.query_row([frame_id], read)?;
        let (evidence, turn, basis) = (now.evidence_id, now.turn, now.turn_basis);
        let word = basis.map(TurnBasis::word);
        let in_place = SessionPosition {
            evidence_id: evidence,
            turn,
            turn_basis: basis,
            ..before
        };
        if before == now {
            return Ok(());
        }
        if in_place == now {
            self.told.execute(params![frame_id, evidence, turn, word])?;
        } else {
            let (session, seq, kind) = (now.session_id, now.seq, now.kind_no);
            self.moved
                .execute(params![frame_id, evidence, turn, word, session, seq, kind])?;
        }
        Ok(())
    }
}

/// The number of a text that explains a frame's kind: few texts are shared by many frames.
fn ensure_evidence(db: &Connection, words: Option<&str>) -> rusqlite::Result<Option<i64>> {
    let Some(words) = words else {
        return Ok(None);
    };
    found_or_made(
        db,
        "SELECT evidence_id FROM derived_evidence WHERE words = ?",
        "INSERT INTO derived_evidence (words) VALUES (?)",
        &[&words],
    )
    .map(Some)
}

fn put_session(db: &Connection, night: &BodyNight, session: &Session) -> rusqlite::Result<i64> {
    let utc = |at: Option<Utc>| at.map(Utc::unix_ms);
    let reading = |at: Option<WallTime>| at.map(|r| r.to_string());
    let session_id = match session.continues {
        Some(number) => number,
        None => next_session_id(db)?,
    };
    db.prepare_cached(
        "INSERT INTO derived_session (session_id, camera_id, site_id, night_day, focal_mm, start_ms, end_ms, start_local,
                                      end_local, cadence_s, frames, missing)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
         ON CONFLICT (session_id) DO UPDATE SET
            camera_id = excluded.camera_id, site_id = excluded.site_id, night_day = excluded.night_day,
            focal_mm = excluded.focal_mm, start_ms = excluded.start_ms, end_ms = excluded.end_ms,
            start_local = excluded.start_local, end_local = excluded.end_local, cadence_s = excluded.cadence_s,
            frames = excluded.frames, missing = excluded.missing
         RETURNING session_id",
    )?
    .query_row(
        params![
            session_id,
            night.camera_id,
            session.site_id,
            day_of_date(&night.night),
            session.focal_mm,
            utc(session.start_utc),
            utc(session.end_utc),
            reading(session.start_local),
            reading(session.end_local),
            session.cadence_s,
            i64::try_from(session.members.len()).unwrap_or(i64::MAX),
            session.missing,
        ],
        |row| row.get(0),
    )
}
