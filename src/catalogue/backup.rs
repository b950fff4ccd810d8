//! A copy of the whole catalogue in another file, checked before it is called one; and when the last was made.

use std::path::Path;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::OptionalExtension;
use rusqlite::Transaction;
use rusqlite::TransactionBehavior;
use rusqlite::backup::Backup;
use rusqlite::backup::StepResult;

use crate::catalogue::failure::failed;
use crate::catalogue::files::as_file;
use crate::catalogue::generation;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::integrity::complaints;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// Pages that are copied at a stretch: 32 MB.
const PAGES_AT_ONCE: i32 = 4_096;

const NOTE: &str = "INSERT INTO catalogue_backup (only_row, made_ms) VALUES (1, ?)
    ON CONFLICT (only_row) DO UPDATE SET made_ms = excluded.made_ms";

/// What a copy holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Copied {
    /// Bytes of the file.
    pub bytes: u64,
    /// Frames.
    pub frames: u64,
    /// Statements.
    pub statements: u64,
}

impl Catalogue {
    /// Copies one state of it, with what is still in its log, into an empty file, and checks the copy: its pages, keys and
    /// counts, and that each table has as many rows as here. Others may read and write meanwhile.
    ///
    /// Takes: the instant, which is noted in the copy as that of its backup; `watch`, which hears of pages done and to do.
    /// Refuses: a copy that is not whole. What is then in the file is worth nothing.
    pub fn copy_to(
        &self,
        to: &Path,
        now: Utc,
        watch: &mut dyn FnMut(u64, u64),
    ) -> Result<Copied, Failure> {
        let source = |e| failed(&self.path, e);
        // One state of the catalogue for the copy and for the counts that it is held to.
        let snapshot =
            Transaction::new_unchecked(&self.db, TransactionBehavior::Deferred).map_err(source)?;
        let tables = tables(&snapshot).map_err(source)?;
        let counts = rows_of(&snapshot, &tables).map_err(source)?;
        let copy = put(&snapshot, to, now, watch).map_err(|error| not_written(to, error))?;
        drop(snapshot);
        let unread = |error| not_written(to, error);
        if let Some(complaint) = complaints(&copy).map_err(unread)?.into_iter().next() {
            return Err(damaged(to, &complaint));
        }
        let of_copy = rows_of(&copy, &tables).map_err(unread)?;
        let differs = (tables.iter().zip(&counts).zip(&of_copy))
            .find(|((table, rows), copied)| rows != copied && *table != "catalogue_backup");
        if let Some(((table, rows), copied)) = differs {
            return Err(damaged(
                to,
                &format!("table {table} has {copied} rows, and {rows} in the catalogue"),
            ));
        }
        let rows_in = |name: &str| {
            let at = tables.iter().position(|table| table == name);
            at.and_then(|at| of_copy.get(at)).copied().unwrap_or(0)
        };
        let pages = |pragma| copy.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
        let bytes = pages("page_count").map_err(unread)? * pages("page_size").map_err(unread)?;
        copy.close().map_err(|(_, error)| not_written(to, error))?;
        Ok(Copied {
            bytes: bytes.unsigned_abs(),
            frames: rows_in("written_frame"),
            statements: rows_in("stated_log"),
        })
    }

    /// Notes when it was copied. Waits for a writer's transaction, not for its whole run.
    pub fn note_backup(&mut self, now: Utc) -> Result<(), Failure> {
        let Self { db, path, .. } = self;
        let mut note = || -> rusqlite::Result<()> {
            let tx = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
            tx.execute(NOTE, [now.unix_ms()])?;
            generation::renew(&tx)?;
            tx.commit()
        };
        note().map_err(|e| failed(path, e))
    }

    /// When it was last copied; `None` where that was never noted.
    pub fn last_backup(&self) -> Result<Option<Utc>, Failure> {
        let made_ms: Option<i64> = self.one_if_any("SELECT made_ms FROM catalogue_backup", [])?;
        Ok(made_ms.and_then(Utc::from_unix_ms))
    }

    /// When something was first taken into it: a dump, or a statement.
    pub fn begun(&self) -> Result<Option<Utc>, Failure> {
        let first_ms: Option<Option<i64>> = self.one_if_any(
            "SELECT min(at) FROM (SELECT min(first_seen_ms) AS at FROM written_dump
                                  UNION ALL SELECT min(stated_ms) FROM stated_log)",
            [],
        )?;
        Ok(first_ms.flatten().and_then(Utc::from_unix_ms))
    }
}

/// Copies a database into an empty file, and notes in it that it is a backup.
fn put(
    from: &Connection,
    to: &Path,
    now: Utc,
    watch: &mut dyn FnMut(u64, u64),
) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut copy = Connection::open_with_flags(as_file(to), flags)?;
    // What becomes of the file when this is broken off does not matter.
    copy.pragma_update_and_check(None, "journal_mode", "OFF", |_| Ok(()))?;
    {
        let backup = Backup::new(from, &mut copy)?;
        while backup.step(PAGES_AT_ONCE)? != StepResult::Done {
            let progress = backup.progress();
            let pages = |count: i32| u64::try_from(count).unwrap_or(0);
            watch(
                pages(progress.pagecount - progress.remaining),
                pages(progress.pagecount),
            );
        }
    }
    // A file without a log beside it can also be read where nothing can be written.
    copy.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(()))?;
    copy.pragma_update_and_check(None, "journal_mode", "MEMORY", |_| Ok(()))?;
    copy.execute(NOTE, [now.unix_ms()])?;
    Ok(copy)
}

fn tables(db: &Connection) -> rusqlite::Result<Vec<String>> {
    db.prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'")?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// How many rows each table has.
fn rows_of(db: &Connection, tables: &[String]) -> rusqlite::Result<Vec<u64>> {
    tables
        .iter()
        .map(|table| {
            let count = db
                .query_row(&format!("SELECT count(*) FROM \"{table}\""), [], |row| {
                    row.get::<_, i64>(0)
                })
                .optional()?;
            Ok(count.unwrap_or(0).unsigned_abs())
        })
        .collect()
}

fn damaged(to: &Path, complaint: &str) -> Failure {
    Failure::catalogue(format!("the copy is not whole: {complaint}"))
    .at_file(to)
    .hint("no backup was made, and older ones are as they were; framefall audit shows whether the catalogue is damaged")
}

fn not_written(to: &Path, error: rusqlite::Error) -> Failure {
    Failure::output("the backup could not be written")
        .at_file(to)
        .hint("check the disk there, and whether it has room for the whole catalogue; older backups are as they were")
        .because(error)
}
