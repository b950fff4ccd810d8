//! Session numbers that people have seen, and their frames. They outlive every derived row. Computes no value.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use rusqlite::Connection;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::scale::date_of;
use crate::terms::failure::Failure;
use crate::terms::frame_set::FrameSet;

impl Catalogue {
    /// The frames with a session number, as last shown to people; none if nobody was shown it.
    pub fn frames_given(&self, session_id: i64) -> Result<Vec<i64>, Failure> {
        let frames = self.row_if_any(
            "SELECT frames FROM given_session WHERE session_id = ? AND frames IS NOT NULL",
            [session_id],
            |row| row.get::<_, String>(0),
        )?;
        Ok(frames.map_or_else(Vec::new, |text| FrameSet::parse(&text).frames()))
    }
}

impl Batch<'_> {
    /// The number that exactly these frames have or had as a session, unless a session outside these nights has it now.
    pub fn previous_session_id(
        &self,
        members: &str,
        nights: &BTreeSet<&BodyNight>,
    ) -> Result<Option<i64>, Failure> {
        let found = self.row_if_any(
            "SELECT given.session_id, session.night_day, session.camera_id
             FROM given_session AS given LEFT JOIN derived_session AS session USING (session_id)
             WHERE given.members = ?",
            [members],
            |row| {
                let night = row.get::<_, Option<i64>>(1)?.and_then(date_of);
                let camera_id = row.get(2)?;
                Ok((
                    row.get(0)?,
                    night.map(|night| BodyNight { night, camera_id }),
                ))
            },
        )?;
        Ok(found.and_then(|(number, holder)| match holder {
            Some(holder) if !nights.contains(&holder) => None,
            _ => Some(number),
        }))
    }

    /// The session numbers of these frames, as last shown to people, frame by frame.
    pub fn session_ids_given(&self, frames: &BTreeSet<i64>) -> Result<BTreeMap<i64, i64>, Failure> {
        let (Some(first), Some(last)) = (frames.first(), frames.last()) else {
            return Ok(BTreeMap::new());
        };
        self.step(|db| {
            // A set's key begins with its first and its last number.
            let mut read = db.prepare_cached(
                "SELECT session_id, frames FROM given_session
                 WHERE frames IS NOT NULL AND CAST(members AS INTEGER) <= ?2
                   AND CAST(substr(members, instr(members, '-') + 1) AS INTEGER) >= ?1",
            )?;
            let mut rows = read.query([first, last])?;
            let mut given = BTreeMap::new();
            while let Some(row) = rows.next()? {
                let session_id = row.get(0)?;
                let known = FrameSet::parse(row.get_ref(1)?.as_str()?)
                    .frames()
                    .into_iter()
                    .filter(|frame| frames.contains(frame));
                given.extend(known.map(|frame| (frame, session_id)));
            }
            Ok(given)
        })
    }
}

/// The number for a new session: above all that were ever given.
pub(super) fn next_session_id(db: &Connection) -> rusqlite::Result<i64> {
    db.prepare_cached(
        "SELECT max(ifnull((SELECT max(session_id) FROM given_session), 0),
                    ifnull((SELECT max(session_id) FROM derived_session), 0),
                    ifnull((SELECT seq FROM sqlite_sequence WHERE name = 'derived_session'), 0)) + 1",
    )?
    .query_row([], |row| row.get(0))
}

/// Records the frames with a number, if not already recorded. No other set contains one of them from now on.
///
/// Takes: the numbers that sessions of these frames had before.
pub(super) fn note_given(
    db: &Connection,
    members: &str,
    session_id: i64,
    frames: &FrameSet,
    before: &BTreeSet<i64>,
) -> rusqlite::Result<()> {
    let known = db
        .prepare_cached(
            "SELECT 1 FROM given_session WHERE members = ? AND session_id = ? AND frames IS NOT NULL",
        )?
        .exists(params![members, session_id])?;
    if known {
        return Ok(());
    }
    let mut past = Vec::new();
    for number in before.iter().chain(std::iter::once(&session_id)) {
        let mut read = db.prepare_cached(
            "SELECT members, frames FROM given_session WHERE session_id = ? AND frames IS NOT NULL AND members <> ?",
        )?;
        let mut rows = read.query(params![number, members])?;
        while let Some(row) = rows.next()? {
            if *number == session_id || FrameSet::parse(row.get_ref(1)?.as_str()?).meets(frames) {
                past.push(row.get::<_, String>(0)?);
            }
        }
    }
    for set in past {
        db.prepare_cached("UPDATE given_session SET frames = NULL WHERE members = ?")?
            .execute([set])?;
    }
    db.prepare_cached(
        "INSERT INTO given_session (members, session_id, frames) VALUES (?1, ?2, ?3)
         ON CONFLICT (members) DO UPDATE SET session_id = ?2, frames = ?3",
    )?
    .execute(params![members, session_id, frames.to_string()])?;
    Ok(())
}
