//! Whether the catalogue's own file is damaged: its pages, its keys, its counts. Repairs nothing.

use std::path::Path;

use rusqlite::Connection;
use rusqlite::config::DbConfig;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;

/// After an unclean shutdown, a file of at most this size is checked as a whole, in some 100 ms; of a larger one only
/// the statements, which cannot be recovered from the cards.
const LOOKED_THROUGH_BYTES: i64 = 64 << 20;

/// Invariants of every catalogue beyond those that SQLite checks itself: a query that counts violations, and the
/// meaning of a violation.
const COUNTS: &[(&str, &str)] = &[
    (
        "SELECT count(*) FROM written_frame AS frame LEFT JOIN written_file AS file ON file.file_id = frame.first_file_id
         WHERE file.frame_id IS NOT frame.frame_id",
        "frames have a first file that is missing or belongs to another frame",
    ),
    (
        "SELECT abs((SELECT count(*) FROM written_frame) - (SELECT count(*) FROM derived_time))
         * (NOT EXISTS (SELECT 1 FROM pending_frame))",
        "frames without a derived time, or derived times without a frame",
    ),
    (
        "SELECT count(*) FROM derived_session AS session LEFT JOIN
             (SELECT session_id, count(*) AS frames FROM derived_time GROUP BY session_id) AS counted USING (session_id)
         WHERE session.frames <> ifnull(counted.frames, 0) AND NOT EXISTS (SELECT 1 FROM pending_night)
           AND NOT EXISTS (SELECT 1 FROM pending_frame)",
        "sessions have a wrong count of frames",
    ),
    (
        // A row of it is a number and no more; SQLite ignores columns beyond those of the table.
        "SELECT count(*) FROM dbstat WHERE name = 'pending_frame' AND pagetype = 'leaf' AND payload > 2 * ncell",
        "pages of frames to be derived hold rows of another table",
    ),
    (
        // The table is SQLite's own, and its checks leave out the contents.
        "SELECT (SELECT count(*) FROM sqlite_sequence WHERE typeof(name) <> 'text' OR typeof(seq) <> 'integer')
              + (SELECT ifnull(max(session_id), 0) > ifnull((SELECT seq FROM sqlite_sequence WHERE name = 'derived_session'), 0)
                 FROM derived_session)
              + (SELECT ifnull(max(fix_id), 0) > ifnull((SELECT seq FROM sqlite_sequence WHERE name = 'stated_clock_fix'), 0)
                 FROM stated_clock_fix)",
        "numbers given to sessions and statements differ from those recorded",
    ),
];

impl Catalogue {
    /// Damage of the catalogue's own file: damaged pages, rows that refer to missing rows, counts that contradict each
    /// other. Reads all of it.
    pub fn own_damage(&self) -> Result<Vec<AuditRow>, Failure> {
        let complaints = complaints(&self.db).or_else(|error| match error.sqlite_error_code() {
            Some(rusqlite::ErrorCode::DatabaseCorrupt | rusqlite::ErrorCode::NotADatabase) => {
                Ok(vec![error.to_string()])
            }
            _ => Err(failed(&self.path, error)),
        })?;
        let row = |saw| {
            let did = "left the catalogue unchanged, and checked nothing else in it";
            AuditRow::of_catalogue(&self.path, Finding::new("catalogue-damaged", saw, did))
        };
        Ok(complaints.into_iter().map(row).collect())
    }
}

pub(super) fn complaints(db: &Connection) -> rusqlite::Result<Vec<String>> {
    let words = |row: &rusqlite::Row<'_>| row.get::<_, String>(0);
    let mut found: Vec<String> = db
        // The first ten messages are enough.
        .prepare("PRAGMA integrity_check(10)")?
        .query_map([], words)?
        .collect::<Result<_, _>>()?;
    found.retain(|line| line != "ok");
    // Derived rows whose referenced rows were deleted at an SQL prompt are stale, not damaged.
    let loose = "SELECT 'rows of ' || \"table\" || ' that point at rows of ' || parent || ' that are not there: ' || count(*)
                 FROM pragma_foreign_key_check
                 WHERE \"table\" NOT LIKE 'derived\\_%' ESCAPE '\\'
                    OR NOT EXISTS (SELECT 1 FROM pending_frame UNION ALL SELECT 1 FROM pending_night)
                 GROUP BY \"table\", parent";
    found.extend(
        db.prepare(loose)?
            .query_map([], words)?
            .collect::<Result<Vec<_>, _>>()?,
    );
    found.extend(indexes_in_part(db)?);
    for (sql, means) in COUNTS {
        let count: i64 = db.query_row(sql, [], |row| row.get(0))?;
        if count > 0 {
            found.push(format!("{count} {means}"));
        }
    }
    Ok(found)
}

/// Partial indexes without as many entries as the table has rows for them: SQLite counts only full indexes.
fn indexes_in_part(db: &Connection) -> rusqlite::Result<Vec<String>> {
    let parts: Vec<(String, String, String)> = db
        .prepare(
            "SELECT name, tbl_name, substr(sql, instr(sql, ' WHERE ')) FROM sqlite_schema
             WHERE type = 'index' AND sql LIKE '% WHERE %'",
        )?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
        .collect::<Result<_, _>>()?;
    let mut found = Vec::new();
    for (index, table, condition) in parts {
        let same = format!(
            "VALUES ((SELECT count(*) FROM \"{table}\" INDEXED BY \"{index}\" {condition})
                   = (SELECT count(*) FROM \"{table}\" NOT INDEXED {condition}))"
        );
        if !db.query_row(&same, [], |row| row.get::<_, bool>(0))? {
            found.push(format!("wrong number of entries in index {index}"));
        }
    }
    Ok(found)
}

/// A short check of a catalogue that its last user did not close: a run was killed, or the power failed. Its log is not
/// written back to the file before that.
pub(super) fn check_after_unclean_end(db: &Connection, path: &Path) -> Result<(), Failure> {
    let carry_over = |allowed: bool| {
        db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, !allowed)
            .map_err(|e| failed(path, e))
    };
    carry_over(false)?;
    match first_complaint(db).map_err(|e| failed(path, e))? {
        None => carry_over(true).map(|_| ()),
        Some(complaint) => Err(Failure::catalogue(format!(
            "the catalogue was not closed properly, and is damaged: {complaint}"
        ))
        .at_file(path)
        .hint(
            "it was not changed. Restore it from a backup, without any file ending in -wal or \
             -shm beside it; or ingest the dumps into a new one, named with --catalogue",
        )),
    }
}

fn first_complaint(db: &Connection) -> rusqlite::Result<Option<String>> {
    let number = |pragma| db.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
    let bytes = number("page_count")? * number("page_size")?;
    let words = |row: &rusqlite::Row<'_>| row.get::<_, String>(0);
    let said: Vec<String> = if bytes <= LOOKED_THROUGH_BYTES {
        db.prepare("PRAGMA quick_check(1)")?
            .query_map([], words)?
            .collect::<Result<_, _>>()?
    } else {
        db.prepare(
            "SELECT quick_check FROM sqlite_schema AS stated, pragma_quick_check(stated.name)
             WHERE stated.type = 'table' AND stated.name LIKE 'stated\\_%' ESCAPE '\\'",
        )?
        .query_map([], words)?
        .collect::<Result<_, _>>()?
    };
    Ok(said.into_iter().find(|line| line != "ok"))
}
