//! Opens the catalogue for one of four purposes. Repairs nothing silently.

use std::fs::File;
use std::path::Path;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;

use crate::catalogue::acceptable::number;
use crate::catalogue::acceptable::ours;
use crate::catalogue::acceptable::refuse_in_own_dump;
use crate::catalogue::acceptable::refuse_version;
use crate::catalogue::acceptable::refuse_what_is_no_file;
use crate::catalogue::failure::failed;
use crate::catalogue::files::as_file;
use crate::catalogue::functions::give_functions;
use crate::catalogue::generation;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::integrity::check_after_unclean_end;
use crate::catalogue::lock;
use crate::catalogue::lock::PATIENCE;
use crate::catalogue::logs::LastEnd;
use crate::catalogue::logs::look_beside;
use crate::catalogue::make::PAGE_BYTES;
use crate::catalogue::make::make;
use crate::catalogue::migrations::newest;
use crate::catalogue::protected::WriteBlocked;
use crate::catalogue::protected::may_not_be_written;
use crate::catalogue::protected::open_protected;
use crate::catalogue::protected::write_blocked;
use crate::catalogue::purpose::Kept;
use crate::catalogue::purpose::OnDisk;
use crate::catalogue::purpose::Purpose;
use crate::catalogue::upgrade::copy_into;
use crate::catalogue::within::linked_file;
use crate::catalogue::words;
use crate::terms::failure::Failure;

/// Ingests of fewer frames leave the file as it grew.
const PACKED_FROM: u64 = 10_000;

impl Catalogue {
    /// Opens a catalogue and upgrades it to this program's version.
    ///
    /// Refuses: a missing file (unless it may be created), a file that is not a catalogue of ours (which is left
    /// untouched), a catalogue of a newer version, one that another framefall is writing, one inside one of its own
    /// dumps, one with the log of another beside it. If nothing can be written there, it is opened read-only.
    pub fn open(path: &Path, purpose: Purpose) -> Result<Self, Failure> {
        Self::open_and_tell(path, purpose, &mut |_| {})
    }

    /// The same; `tell` receives the messages of an upgrade, line by line.
    pub fn open_and_tell(
        path: &Path,
        purpose: Purpose,
        tell: &mut dyn FnMut(&str),
    ) -> Result<Self, Failure> {
        refuse_what_is_no_file(path, purpose)?;
        if purpose == Purpose::ChangeOrMake {
            make_folder(path)?;
        }
        let writer =
            if purpose == Purpose::ChangeOrMake && linked_file(path).symlink_metadata().is_err() {
                Some(make_first(path)?)
            } else {
                None
            };
        refuse_in_own_dump(path, purpose)?;
        let last_end = look_beside(path)?;
        let (db, version, kept) = open_writable_or_read_only(path, purpose)?;
        refuse_version(path, version, kept, purpose)?;
        if purpose == Purpose::Try {
            return Self::in_a_copy(path, &db, version);
        }
        let must_write = purpose != Purpose::Read || version < newest();
        let writer = match writer {
            None if must_write => Some(lock::acquire(path)?),
            held => held,
        };
        let ours = |e| failed(path, e);
        if last_end == LastEnd::WithLog && (must_write || !lock::is_held(path)) {
            check_after_unclean_end(&db, path)?;
        }
        let mut catalogue = Self {
            db,
            path: path.to_path_buf(),
            writer,
        };
        catalogue.configure(kept).map_err(ours)?;
        if must_write {
            // The previous holder of the lock may have upgraded it.
            let version = number(&catalogue.db, "user_version").map_err(ours)?;
            if version < newest() {
                catalogue.upgrade(version, tell)?;
            }
            words::fill(&catalogue.db).map_err(ours)?;
            // Pages needed for the rollback of a statement stay in memory. Otherwise a single statement that changes
            // eight of them makes SQLite write those of all following statements of its transaction to a temporary
            // file.
            let store = catalogue.db.pragma_update(None, "temp_store", "MEMORY");
            store.map_err(ours)?;
        }
        catalogue.bind().map_err(ours)?;
        Ok(catalogue)
    }

    /// A private copy of a catalogue that can be changed: in memory as far as it fits SQLite's cache, otherwise in a
    /// temporary file without a name.
    fn in_a_copy(path: &Path, from: &Connection, version: i64) -> Result<Self, Failure> {
        let ours = |e| failed(path, e);
        let mut db = Connection::open("").map_err(ours)?;
        copy_into(from, &mut db).map_err(ours)?;
        let mut catalogue = Self {
            db,
            path: path.to_path_buf(),
            writer: None,
        };
        catalogue.configure(Kept::Alone).map_err(ours)?;
        if version < newest() {
            catalogue.migrate(version)?;
        }
        catalogue.bind().map_err(ours)?;
        Ok(catalogue)
    }

    /// Sets when changes must be on the disk. The default is at each commit.
    pub fn set_on_disk(&self, when: OnDisk) -> Result<(), Failure> {
        // With a write-ahead log, both keep the file intact through a power failure.
        let level = match when {
            OnDisk::AtCommit => "FULL",
            OnDisk::Later => "NORMAL",
        };
        self.db
            .pragma_update(None, "synchronous", level)
            .map_err(|e| failed(&self.path, e))
    }

    /// Syncs all changes of this connection to the disk, and every later one at its commit.
    pub fn bring_to_disk(&mut self) -> Result<(), Failure> {
        self.set_on_disk(OnDisk::AtCommit)?;
        if self.db.total_changes() == 0 {
            return Ok(());
        }
        // The log is synced with the next commit.
        let mut commit = || -> rusqlite::Result<()> {
            let tx = self.db.transaction()?;
            generation::renew(&tx)?;
            tx.commit()
        };
        commit().map_err(|e| failed(&self.path, e))
    }

    /// Lets SQLite sample the tables whose sizes have changed, so that queries begin where the fewest rows are. Takes a
    /// few milliseconds, however large the catalogue is.
    pub fn gather_statistics(&self) -> Result<(), Failure> {
        self.db
            .execute_batch("PRAGMA analysis_limit = 200; PRAGMA optimize = 0x10002")
            .map_err(|e| failed(&self.path, e))
    }

    /// Ends an ingest of so many new frames: gathers statistics, and packs the file if they are at least half of all. Rows that
    /// come one by one leave a tenth of the pages of indexes empty; packing takes some 6 µs a frame and the space of the file
    /// again for a while. If there is none, or another process reads, the file stays as it is.
    pub fn settle(&self, new_frames: u64) -> Result<(), Failure> {
        if new_frames >= PACKED_FROM {
            let all: i64 = self
                .db
                .query_row(
                    "SELECT ifnull(sum(frames), 0) FROM derived_maker",
                    [],
                    |row| row.get(0),
                )
                .map_err(|e| failed(&self.path, e))?;
            if new_frames.saturating_mul(2) >= all.unsigned_abs() {
                // It copies the file into one of its own, which counts as attached.
                let attached = |files| self.db.set_limit(Limit::SQLITE_LIMIT_ATTACHED, files);
                if attached(1).is_ok() {
                    let _ = self.db.execute_batch("VACUUM");
                }
                attached(0).map_err(|e| failed(&self.path, e))?;
            }
        }
        self.gather_statistics()
    }

    /// A second, read-only connection to the same file.
    pub fn reader(&self) -> Result<Self, Failure> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(as_file(&self.path), flags)
            .map_err(|e| failed(&self.path, e))?;
        db.busy_timeout(PATIENCE)
            .map_err(|e| failed(&self.path, e))?;
        give_functions(&db).map_err(|e| failed(&self.path, e))?;
        Ok(Self {
            db,
            path: self.path.clone(),
            writer: None,
        })
    }

    fn configure(&mut self, kept: Kept) -> rusqlite::Result<()> {
        if kept == Kept::WithLog {
            // Only for an empty file.
            self.db.pragma_update(None, "page_size", PAGE_BYTES)?;
            self.db
                .pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
            // Other users of the file are no obstacle: a log that cannot be written back yet is itself on the disk.
            self.db.pragma_update(None, "synchronous", "FULL")?;
            // Pages are written back to the file every 16 MB of log, so that a page changed by several batches is
            // written once.
            self.db.pragma_update(None, "wal_autocheckpoint", 2_000)?;
        }
        self.db.pragma_update(None, "cache_size", -16_384)?;
        // A statement keeps its plan whatever values are bound; otherwise it would be planned again for each new value.
        self.db
            .set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
        self.db.set_prepared_statement_cache_capacity(64);
        give_functions(&self.db)?;
        self.db.set_limit(Limit::SQLITE_LIMIT_EXPR_DEPTH, 1_000)?;
        Ok(())
    }

    /// The settings that apply from now on, and that a migration must run without: foreign keys are enforced, and no
    /// other database may be attached.
    fn bind(&self) -> rusqlite::Result<()> {
        self.db.pragma_update(None, "foreign_keys", true)?;
        self.db.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0)?;
        // The triggers record changes of derived rows by other programs; this program tracks its own changes itself.
        self.db
            .set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false)?;
        Ok(())
    }
}

fn make_folder(path: &Path) -> Result<(), Failure> {
    let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) else {
        return Ok(());
    };
    std::fs::create_dir_all(folder).map_err(|e| {
        Failure::catalogue("the catalogue's folder cannot be created")
            .at_file(folder)
            .hint("check the permissions, or name another place with --catalogue")
            .because(e)
    })
}

/// Acquires the write lock on a catalogue that does not exist yet, and creates it.
fn make_first(path: &Path) -> Result<File, Failure> {
    let writer = lock::acquire(path)?;
    if path.symlink_metadata().is_err() {
        // Ignore errors here: if the folder is unusable, SQLite reports it; if only the rename failed, SQLite creates
        // the file and the migrations fill it.
        let _ = make(path);
    }
    Ok(writer)
}

/// Opens the file, read-only if nothing can be written there; returns its version too.
fn open_writable_or_read_only(
    path: &Path,
    purpose: Purpose,
) -> Result<(Connection, i64, Kept), Failure> {
    let mut flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    if purpose == Purpose::ChangeOrMake {
        flags |= OpenFlags::SQLITE_OPEN_CREATE;
    }
    let usual = || {
        let db = Connection::open_with_flags(as_file(path), flags).map_err(|e| failed(path, e))?;
        db.busy_timeout(PATIENCE).map_err(|e| failed(path, e))?;
        let version = ours(&db, path)?;
        Ok((db, version, Kept::WithLog))
    };
    let looks = matches!(purpose, Purpose::Read | Purpose::Try);
    usual().or_else(|failure: Failure| match write_blocked(&failure) {
        Some(_) if looks => {
            let db = open_protected(path)?;
            let version = ours(&db, path)?;
            Ok((db, version, Kept::Alone))
        }
        Some(WriteBlocked::Forbidden) => Err(match failure.source {
            Some(source) => may_not_be_written(path, source),
            None => failure,
        }),
        _ => Err(failure),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half of it emptied by hand: packing is seen by the empty pages that go.
    #[test]
    fn the_file_is_packed_after_an_ingest_that_doubles_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("catalogue.sqlite");
        let catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
        catalogue
            .db
            .execute_batch(
                "INSERT INTO derived_maker (program, shower_table, frames) VALUES ('a', 'b', 20001);
                 WITH n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 3000)
                 INSERT INTO derived_evidence (words) SELECT hex(randomblob(40)) FROM n;
                 DELETE FROM derived_evidence WHERE evidence_id > 10;",
            )
            .unwrap();
        let pages = |pragma: &str| {
            let value = catalogue
                .db
                .pragma_query_value(None, pragma, |row| row.get::<_, i64>(0));
            value.unwrap()
        };
        let grown = pages("page_count");
        for too_few in [0, 9_999, 10_000] {
            catalogue.settle(too_few).unwrap();
            assert!(pages("page_count") >= grown, "{too_few}");
        }
        catalogue.settle(10_001).unwrap();
        assert_eq!(pages("freelist_count"), 0);
        assert!(pages("page_count") < grown, "{grown}");
    }
}
