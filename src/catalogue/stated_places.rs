//! The stated places of frames: stored as runs of frames, since whole cards are stated at once.
//!
//! A run begins and ends with a frame, and includes every frame between.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;

/// The site stated for a frame as SQL, over `written_frame AS frame`.
pub(super) const SITE_OF_FRAME: &str = "
    (SELECT CASE WHEN place.last_frame >= frame.frame_id THEN place.site_id END FROM stated_place AS place
     WHERE place.first_frame <= frame.frame_id ORDER BY place.first_frame DESC LIMIT 1)";

/// Consecutive frames stated to be at one site.
#[derive(Clone, Copy)]
struct Run {
    first: i64,
    last: i64,
    site_id: i64,
}

columns!(Run: first last site_id);

/// The site stated for a frame.
pub(super) fn site_of(db: &Connection, frame_id: i64) -> rusqlite::Result<Option<i64>> {
    let run = run_before(db, frame_id)?;
    Ok(run
        .filter(|run| run.last >= frame_id)
        .map(|run| run.site_id))
}

/// States a frame's place, replacing any earlier statement.
pub(super) fn state_place(db: &Connection, frame_id: i64, site_id: i64) -> rusqlite::Result<()> {
    if site_of(db, frame_id)? == Some(site_id) {
        return Ok(());
    }
    remove_place(db, frame_id)?;
    // The run that ends with the previous frame is extended.
    if let Some(run) = run_before(db, frame_id)?
        && run.site_id == site_id
        && neighbour(db, LAST_BEFORE, frame_id)? == Some(run.last)
    {
        db.prepare_cached("UPDATE stated_place SET last_frame = ? WHERE first_frame = ?")?
            .execute([frame_id, run.first])?;
        return Ok(());
    }
    insert(
        db,
        Run {
            first: frame_id,
            last: frame_id,
            site_id,
        },
    )
}

/// Removes the stated place of a frame.
pub(super) fn remove_place(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    let Some(run) = run_before(db, frame_id)?.filter(|run| run.last >= frame_id) else {
        return Ok(());
    };
    db.prepare_cached("DELETE FROM stated_place WHERE first_frame = ?")?
        .execute([run.first])?;
    if run.first < frame_id
        && let Some(last) = neighbour(db, LAST_BEFORE, frame_id)?
    {
        insert(db, Run { last, ..run })?;
    }
    if run.last > frame_id
        && let Some(first) = neighbour(db, FIRST_AFTER, frame_id)?
    {
        insert(db, Run { first, ..run })?;
    }
    Ok(())
}

const LAST_BEFORE: &str = "SELECT max(frame_id) FROM written_frame WHERE frame_id < ?";
const FIRST_AFTER: &str = "SELECT min(frame_id) FROM written_frame WHERE frame_id > ?";

/// The next or previous frame by number.
fn neighbour(db: &Connection, sql: &str, frame_id: i64) -> rusqlite::Result<Option<i64>> {
    db.prepare_cached(sql)?
        .query_row([frame_id], |row| row.get(0))
}

/// The last run that begins with or before a frame.
fn run_before(db: &Connection, frame_id: i64) -> rusqlite::Result<Option<Run>> {
    db.prepare_cached(
        "SELECT first_frame, last_frame, site_id FROM stated_place
         WHERE first_frame <= ? ORDER BY first_frame DESC LIMIT 1",
    )?
    .query_row([frame_id], read)
    .optional()
}

fn insert(db: &Connection, run: Run) -> rusqlite::Result<()> {
    db.prepare_cached(
        "INSERT INTO stated_place (first_frame, last_frame, site_id) VALUES (?, ?, ?)",
    )?
    .execute(params![run.first, run.last, run.site_id])?;
    Ok(())
}

#[cfg(test)]
#[path = "stated_places_tests.rs"]
mod tests;
