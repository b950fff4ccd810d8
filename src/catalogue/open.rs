//! Opens the catalogue, keeps a second writer out, applies the migrations. Repairs nothing silently.

use std::fs::File;
use std::fs::OpenOptions;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::TransactionBehavior;
use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;

use crate::catalogue::failure::failed;
use crate::catalogue::files::LOCK;
use crate::catalogue::files::as_file;
use crate::catalogue::files::beside;
use crate::catalogue::make::PAGE_BYTES;
use crate::catalogue::make::make;
use crate::catalogue::protected::Hindered;
use crate::catalogue::protected::hindered;
use crate::catalogue::protected::may_not_be_written;
use crate::catalogue::protected::open_protected;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// The migrations, in order; the catalogue's version is their count. A published one is never edited.
pub const MIGRATIONS: &[(&str, &str)] = &[
    (
        "0001_written",
        include_str!("../../migrations/0001_written.sql"),
    ),
    (
        "0002_stated",
        include_str!("../../migrations/0002_stated.sql"),
    ),
    (
        "0003_derived",
        include_str!("../../migrations/0003_derived.sql"),
    ),
    (
        "0004_clocks",
        include_str!("../../migrations/0004_clocks.sql"),
    ),
    (
        "0005_marks",
        include_str!("../../migrations/0005_marks.sql"),
    ),
    (
        "0006_archive",
        include_str!("../../migrations/0006_archive.sql"),
    ),
    (
        "0007_content",
        include_str!("../../migrations/0007_content.sql"),
    ),
    (
        "0008_calibration",
        include_str!("../../migrations/0008_calibration.sql"),
    ),
    (
        "0009_places",
        include_str!("../../migrations/0009_places.sql"),
    ),
    (
        "0010_scale",
        include_str!("../../migrations/0010_scale.sql"),
    ),
    ("0011_told", include_str!("../../migrations/0011_told.sql")),
    ("0012_days", include_str!("../../migrations/0012_days.sql")),
    (
        "0013_smaller",
        include_str!("../../migrations/0013_smaller.sql"),
    ),
    (
        "0014_epochs",
        include_str!("../../migrations/0014_epochs.sql"),
    ),
];

/// Marks a SQLite file as ours (`PRAGMA application_id`): the bytes `FFAL`.
pub const APPLICATION_ID: i32 = 0x4646_414c;

/// The version that the migrations lead to.
pub(super) fn newest() -> i64 {
    i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX)
}

/// How long a command waits for another one to let go of the file.
const PATIENCE: Duration = Duration::from_secs(5);

/// An open catalogue.
#[derive(Debug)]
pub struct Catalogue {
    pub(super) db: Connection,
    pub(super) path: PathBuf,
    /// Held while this catalogue may be written; dropping it lets the next writer in.
    _writer: Option<File>,
}

/// What a command means to do with the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Only look. The file must exist.
    Read,
    /// Change it. The file must exist.
    Change,
    /// Change it; make it when there is none.
    ChangeOrMake,
}

/// What SQLite keeps beside the file while it is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kept {
    /// A write-ahead log.
    WithLog,
    /// Nothing: it lies where nothing can be written.
    Alone,
}

impl Catalogue {
    /// Opens a catalogue and brings it to this program's version.
    ///
    /// Refuses: a missing file (unless it may be made), a file that is no catalogue of ours (which is left
    /// untouched), a catalogue of a newer version, one that another framefall is writing. One that lies where nothing can
    /// be written is opened for looking alone.
    pub fn open(path: &Path, purpose: Purpose) -> Result<Self, Failure> {
        if !path.exists() && purpose != Purpose::ChangeOrMake {
            return Err(
                Failure::new(FailureKind::Catalogue, "there is no catalogue here yet")
                    .at_file(path)
                    .hint("framefall ingest DUMP makes one; or name another with --catalogue"),
            );
        }
        if path.is_dir() {
            return Err(Failure::new(
                FailureKind::Catalogue,
                "the catalogue must be a file, and this is a folder",
            )
            .at_file(path)
            .hint("name a file in it: --catalogue FOLDER/catalogue.sqlite"));
        }
        // A pipe would be waited for without end.
        if path.exists() && !path.is_file() {
            return Err(Failure::new(
                FailureKind::Catalogue,
                "the catalogue must be a file, and this is a device or a pipe",
            )
            .at_file(path)
            .hint("name another place with --catalogue"));
        }
        if purpose == Purpose::ChangeOrMake
            && let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty())
        {
            std::fs::create_dir_all(folder).map_err(|e| {
                Failure::new(
                    FailureKind::Catalogue,
                    "the catalogue's folder cannot be made",
                )
                .at_file(folder)
                .hint("check the permissions, or name another place with --catalogue")
                .because(e)
            })?;
        }
        let writer = if purpose == Purpose::ChangeOrMake && path.symlink_metadata().is_err() {
            Some(make_first(path)?)
        } else {
            None
        };
        let mut flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        if purpose == Purpose::ChangeOrMake {
            flags |= OpenFlags::SQLITE_OPEN_CREATE;
        }
        let (db, version, kept) = open_somehow(path, flags, purpose)?;
        let newest = newest();
        if version == 0 && purpose == Purpose::Read {
            return Err(Failure::new(
                FailureKind::Catalogue,
                "this file is empty: there is no catalogue in it yet",
            )
            .at_file(path)
            .hint("framefall ingest DUMP makes one; or name another with --catalogue"));
        }
        if version > newest {
            return Err(Failure::new(
                FailureKind::Catalogue,
                format!("the catalogue is of version {version}, newer than this framefall knows ({newest})"),
            )
            .at_file(path)
            .hint("use the newer framefall that made it"));
        }
        if kept == Kept::Alone && version < newest {
            return Err(Failure::new(
                FailureKind::Catalogue,
                "the catalogue is of an earlier version, and where it lies it cannot be brought up to this one",
            )
            .at_file(path)
            .hint("copy it to a disk that may be written, and name the copy with --catalogue"));
        }
        let must_write = purpose != Purpose::Read || version < newest;
        let writer = match writer {
            None if must_write => Some(keep_others_out(path)?),
            held => held,
        };
        let mut catalogue = Self {
            db,
            path: path.to_path_buf(),
            _writer: writer,
        };
        catalogue.settle(kept).map_err(|e| failed(path, e))?;
        if version < newest {
            catalogue.migrate(version)?;
        }
        catalogue.bind().map_err(|e| failed(path, e))?;
        Ok(catalogue)
    }

    /// The file it lies in.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Lets SQLite look at a sample of the tables whose sizes have changed, so that queries begin where the fewest rows
    /// are. Costs a few milliseconds however large the catalogue is.
    pub fn gather_statistics(&self) -> Result<(), Failure> {
        self.db
            .execute_batch("PRAGMA analysis_limit = 200; PRAGMA optimize = 0x10002")
            .map_err(|e| failed(&self.path, e))
    }

    /// A second connection to the same file, only for looking.
    pub fn reader(&self) -> Result<Self, Failure> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(as_file(&self.path), flags)
            .map_err(|e| failed(&self.path, e))?;
        db.busy_timeout(PATIENCE)
            .map_err(|e| failed(&self.path, e))?;
        rusqlite::vtab::array::load_module(&db).map_err(|e| failed(&self.path, e))?;
        Ok(Self {
            db,
            path: self.path.clone(),
            _writer: None,
        })
    }

    fn settle(&mut self, kept: Kept) -> rusqlite::Result<()> {
        if kept == Kept::WithLog {
            // Of an empty file only.
            self.db.pragma_update(None, "page_size", PAGE_BYTES)?;
            self.db
                .pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
            // With a write-ahead log this keeps the file whole through a crash; only the last batch may be lost.
            self.db.pragma_update(None, "synchronous", "NORMAL")?;
            // Pages are carried over into the file every 16 MB of log: a page that several batches touch is written once.
            self.db.pragma_update(None, "wal_autocheckpoint", 2_000)?;
        }
        self.db.pragma_update(None, "cache_size", -16_384)?;
        // A statement keeps its plan whatever values are bound: otherwise each new value has it planned anew.
        self.db
            .set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
        self.db.set_prepared_statement_cache_capacity(64);
        // Lists of numbers as tables of one column: many rows are asked for by one statement.
        rusqlite::vtab::array::load_module(&self.db)?;
        self.db.set_limit(Limit::SQLITE_LIMIT_EXPR_DEPTH, 1_000)?;
        Ok(())
    }

    /// What holds from now on, and what a migration must be free of: keys point at rows that are there, and no other database
    /// is attached.
    fn bind(&self) -> rusqlite::Result<()> {
        self.db.pragma_update(None, "foreign_keys", true)?;
        self.db.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0)?;
        Ok(())
    }

    fn migrate(&mut self, from: i64) -> Result<(), Failure> {
        // A table that is made anew takes the place of an old one, whose going must take nothing along: as in
        // sqlite.org/lang_altertable.html, section 7.
        self.db
            .pragma_update(None, "foreign_keys", false)
            .map_err(|e| failed(&self.path, e))?;
        for (version, (_, sql)) in (1_i64..)
            .zip(MIGRATIONS)
            .filter(|(version, _)| *version > from)
        {
            let mut step = || -> rusqlite::Result<()> {
                let tx = self
                    .db
                    .transaction_with_behavior(TransactionBehavior::Immediate)?;
                tx.execute_batch(sql)?;
                tx.pragma_update(None, "user_version", version)?;
                tx.pragma_update(None, "application_id", APPLICATION_ID)?;
                tx.commit()
            };
            step().map_err(|e| failed(&self.path, e))?;
        }
        // What was known of the sizes of tables went with those that were made anew.
        if from > 0 {
            self.gather_statistics()?;
            self.give_room_back();
        }
        Ok(())
    }

    /// Lets the file be as small as what it holds, where much of it is empty since tables were made anew. That needs as much
    /// room again for a while; where there is none, or another reads, it stays as it is: new rows will fill it.
    fn give_room_back(&self) {
        let pages = |pragma: &str| {
            self.db
                .pragma_query_value(None, pragma, |row| row.get::<_, i64>(0))
                .unwrap_or(0)
        };
        if pages("freelist_count").saturating_mul(10) > pages("page_count") {
            let _ = self.db.execute_batch("VACUUM");
        }
    }
}

/// Takes the writer's lock on a catalogue that is not there yet, and makes it.
fn make_first(path: &Path) -> Result<File, Failure> {
    let writer = keep_others_out(path)?;
    if path.symlink_metadata().is_err() {
        // What hinders this will hinder SQLite, whose words for it are known; what hinders only this (a file system that
        // cannot rename), will not: then SQLite makes the file, and the migrations fill it.
        let _ = make(path);
    }
    Ok(writer)
}

/// Opens the file, for looking alone where nothing can be written; and its version.
fn open_somehow(
    path: &Path,
    flags: OpenFlags,
    purpose: Purpose,
) -> Result<(Connection, i64, Kept), Failure> {
    let usual = || {
        let db = Connection::open_with_flags(as_file(path), flags).map_err(|e| failed(path, e))?;
        db.busy_timeout(PATIENCE).map_err(|e| failed(path, e))?;
        let version = ours(&db, path)?;
        Ok((db, version, Kept::WithLog))
    };
    usual().or_else(|failure: Failure| match (hindered(&failure), purpose) {
        (Some(_), Purpose::Read) => {
            let db = open_protected(path)?;
            let version = ours(&db, path)?;
            Ok((db, version, Kept::Alone))
        }
        (Some(Hindered::Forbidden), _) => Err(match failure.source {
            Some(source) => may_not_be_written(path, source),
            None => failure,
        }),
        _ => Err(failure),
    })
}

/// Makes sure that a file is ours or empty, and gives its version.
fn ours(db: &Connection, path: &Path) -> Result<i64, Failure> {
    let ask = |pragma: &str| {
        db.pragma_query_value(None, pragma, |row| row.get::<_, i64>(0))
            .map_err(|e| failed(path, e))
    };
    let (id, version) = (ask("application_id")?, ask("user_version")?);
    let tables: i64 = db
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .map_err(|e| failed(path, e))?;
    if id == i64::from(APPLICATION_ID) || (id == 0 && version == 0 && tables == 0) {
        return Ok(version);
    }
    Err(Failure::new(
        FailureKind::Catalogue,
        "this is a SQLite file, but not a framefall catalogue",
    )
    .at_file(path)
    .hint("name another file with --catalogue; this one was left as it is"))
}

/// Takes the writer's lock, a file beside the catalogue.
fn keep_others_out(path: &Path) -> Result<File, Failure> {
    let lock_path = beside(path, LOCK);
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&lock_path)
        .map_err(|e| may_not_be_written(path, e))?;
    match file.try_lock() {
        Err(std::fs::TryLockError::WouldBlock) => Err(Failure::new(
            FailureKind::Catalogue,
            "another framefall is writing to the catalogue",
        )
        .at_file(path)
        .hint("wait until it has finished, then run the command again")),
        // An error means a file system without locks (some network drives): SQLite's own still keep the file whole.
        Ok(()) | Err(std::fs::TryLockError::Error(_)) => Ok(file),
    }
}
