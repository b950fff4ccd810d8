//! Files and frames into the catalogue, one batch a transaction. Computes no value, decides no pairing.

use std::cell::Cell;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::Path;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Transaction;
use rusqlite::TransactionBehavior;
use rusqlite::params;

use crate::catalogue::derive::drop_frame;
use crate::catalogue::failure::failed;
use crate::catalogue::generation;
use crate::catalogue::numbers::await_grouping;
use crate::catalogue::open::Catalogue;
use crate::catalogue::read;
use crate::catalogue::rows::FrameLinks;
use crate::catalogue::rows::INSERT_FILE;
use crate::catalogue::rows::INSERT_FRAME;
use crate::catalogue::rows::UPDATE_FILE;
use crate::catalogue::rows::UPDATE_FRAME;
use crate::catalogue::rows::kept_fingerprint;
use crate::catalogue::rows::put_file;
use crate::catalogue::rows::put_frame;
use crate::catalogue::rows::signed;
use crate::catalogue::stated_places;
use crate::terms::basis::Health;
use crate::terms::failure::Failure;
use crate::terms::records::CaptureRecord;
use crate::terms::records::FileReading;
use crate::terms::shower::ShowerCode;
use crate::terms::time::WallTime;

/// A file of the catalogue, as far as taking in another one asks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileRow {
    /// Its number.
    pub file_id: i64,
    /// The frame it belongs to.
    pub frame_id: i64,
    /// The file whose contents it repeats.
    pub copy_of: Option<i64>,
    /// How many files its frame has.
    pub files_of_frame: i64,
}

/// A frame that may be of the same press of the shutter as a new file.
#[derive(Clone, Debug, PartialEq)]
pub struct PressRow {
    /// Its number.
    pub frame_id: i64,
    /// Its first file.
    pub first_file_id: i64,
    /// The body, when known.
    pub camera_id: Option<i64>,
    /// Maker, model and serial number of the body.
    pub body: [Option<String>; 3],
    /// The clock reading.
    pub clock_local: Option<WallTime>,
    /// Its files.
    pub files: Vec<PressFile>,
}

/// One file of a [`PressRow`].
#[derive(Clone, Debug, PartialEq)]
pub struct PressFile {
    /// The container.
    pub format: String,
    /// Its state.
    pub health: Health,
    /// The folder, below its dump's root.
    pub folder: String,
}

/// A file to take in.
#[derive(Clone, Copy, Debug)]
pub struct NewFile<'a> {
    /// The folder's number.
    pub folder_id: i64,
    /// Its name.
    pub name: &'a OsStr,
    /// Its size.
    pub bytes: u64,
    /// The file system's time stamp.
    pub modified_ns: i64,
    /// What reading it gave.
    pub reading: &'a FileReading,
}

/// One transaction of an ingest. Dropped without [`Batch::commit`] it leaves no trace.
#[derive(Debug)]
pub struct Batch<'c> {
    pub(super) tx: Transaction<'c>,
    pub(super) path: &'c Path,
    /// How many rows this connection had changed before it.
    changes_before: u64,
    next_file: i64,
    /// The bodies asked for in this batch: most batches are of one or two.
    pub(super) bodies: Vec<([Option<String>; 3], i64)>,
    /// The lenses asked for in this batch.
    pub(super) lenses: Vec<(String, i64)>,
    /// The showers asked for in this batch.
    pub(super) showers: RefCell<Vec<(ShowerCode, i64)>>,
    /// The set of active showers asked for last.
    pub(super) latest_active: RefCell<Option<(String, i64)>>,
    /// The day and the set of showers noted last.
    pub(super) latest_day: Cell<Option<(i64, i64)>>,
    /// By how many frames the counts of makers have changed.
    pub(super) made: RefCell<BTreeMap<i64, i64>>,
    /// Whether there were frames without derived rows when it began.
    pub(super) any_pending: bool,
}

impl Catalogue {
    /// Begins a batch.
    pub fn batch(&mut self) -> Result<Batch<'_>, Failure> {
        let Self { db, path, .. } = self;
        let begin = |db| -> rusqlite::Result<(Transaction<'_>, i64, bool)> {
            let tx = Transaction::new(db, TransactionBehavior::Immediate)?;
            let (next, any_pending) = tx.query_row(
                "SELECT max(ifnull((SELECT max(file_id) FROM written_file), 0),
                            ifnull((SELECT max(frame_id) FROM written_frame), 0)) + 1,
                        EXISTS (SELECT 1 FROM pending_frame)",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?;
            Ok((tx, next, any_pending))
        };
        let (tx, next_file, any_pending) = begin(db).map_err(|e| failed(path, e))?;
        Ok(Batch {
            changes_before: tx.total_changes(),
            tx,
            path,
            next_file,
            bodies: Vec::new(),
            lenses: Vec::new(),
            showers: RefCell::new(Vec::new()),
            latest_active: RefCell::new(None),
            latest_day: Cell::new(None),
            made: RefCell::default(),
            any_pending,
        })
    }
}

impl Batch<'_> {
    /// Makes the batch last.
    pub fn commit(self) -> Result<(), Failure> {
        self.put_made()?;
        let Self {
            tx,
            path,
            changes_before,
            ..
        } = self;
        let end = || {
            if tx.total_changes() != changes_before {
                generation::renew(&tx)?;
            }
            tx.commit()
        };
        end().map_err(|e| failed(path, e))
    }

    /// Runs one step against the database, turning its error into words.
    pub(super) fn step<T>(
        &self,
        run: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, Failure> {
        run(&self.tx).map_err(|e| failed(self.path, e))
    }

    /// Whether any frame's clock shows this second.
    pub fn has_frame_at(&self, clock: WallTime) -> Result<bool, Failure> {
        self.step(|db| {
            db.prepare_cached("SELECT EXISTS (SELECT 1 FROM written_frame WHERE clock_s = ?)")?
                .query_row([clock.seconds()], |row| row.get(0))
        })
    }

    /// A file with these contents, if the catalogue has one: the first, or a copy of it.
    pub fn file_with_contents(
        &self,
        reading: &FileReading,
        bytes: u64,
    ) -> Result<Option<FileRow>, Failure> {
        let Some(print) = reading.fingerprint.map(kept_fingerprint) else {
            return Ok(None);
        };
        let bytes = signed(bytes);
        self.step(|db| match reading.record.clock_local {
            Some(clock) => db
                .prepare_cached(
                    "SELECT file.file_id, file.frame_id, file.copy_of, 1
                     FROM written_frame AS frame CROSS JOIN written_file AS file
                       ON file.file_id = frame.frame_id AND file.frame_id = frame.frame_id
                     WHERE frame.clock_s = ?1 AND file.fingerprint = ?2 AND file.bytes = ?3
                     UNION ALL
                     SELECT file.file_id, file.frame_id, file.copy_of, 1
                     FROM written_frame AS frame CROSS JOIN written_file AS file
                       ON file.frame_id = frame.frame_id AND file.frame_id <> file.file_id
                     WHERE frame.clock_s = ?1 AND file.fingerprint = ?2 AND file.bytes = ?3
                     LIMIT 1",
                )?
                .query_row(params![clock.seconds(), print, bytes], file_row)
                .optional(),
            None => db
                .prepare_cached(
                    "SELECT file_id, frame_id, copy_of, 1 FROM written_file
                     WHERE fingerprint = ? AND undated = 1 AND bytes = ? LIMIT 1",
                )?
                .query_row(params![print, bytes], file_row)
                .optional(),
        })
    }

    /// A file that the catalogue knew before, if it still has it in that folder.
    pub fn known_file(&self, file_id: i64, folder_id: i64) -> Result<Option<FileRow>, Failure> {
        self.step(|db| {
            db.prepare_cached(
                "SELECT file_id, frame_id, copy_of,
                        (SELECT count(*) FROM written_file AS begun
                         WHERE begun.file_id = file.frame_id AND begun.frame_id = file.frame_id)
                        + (SELECT count(*) FROM written_file AS other
                           WHERE other.frame_id = file.frame_id AND other.frame_id <> other.file_id)
                 FROM written_file AS file WHERE file_id = ? AND folder_id = ?",
            )?
            .query_row([file_id, folder_id], file_row)
            .optional()
        })
    }

    /// Frames whose clock shows the same second, and whose first file's name will do: candidates for one press of the
    /// shutter.
    pub fn frames_at_press(
        &self,
        clock: WallTime,
        name_will_do: impl Fn(&str) -> bool,
    ) -> Result<Vec<PressRow>, Failure> {
        self.step(|db| read::frames_at_press(db, clock, name_will_do))
    }

    /// What the camera wrote into a frame.
    pub fn frame_record(&self, frame_id: i64) -> Result<CaptureRecord, Failure> {
        self.step(|db| read::frame_record(db, frame_id))
    }

    /// Puts a new frame in with its first file; both have the number it gives.
    pub fn add_frame(&mut self, camera_id: Option<i64>, file: NewFile<'_>) -> Result<i64, Failure> {
        let frame_id = self.next_file;
        let links = FrameLinks {
            camera: camera_id,
            lens: self.ensure_lens(&file.reading.record)?,
            first_file: frame_id,
        };
        self.step(|db| put_frame(db, INSERT_FRAME, frame_id, links, &file.reading.record))?;
        self.add_file(frame_id, None, file)
    }

    /// Puts a new file of a known frame in, and gives its number.
    pub fn add_file(
        &mut self,
        frame_id: i64,
        copy_of: Option<i64>,
        file: NewFile<'_>,
    ) -> Result<i64, Failure> {
        let file_id = self.next_file;
        self.next_file += 1;
        self.step(|db| put_file(db, INSERT_FILE, file_id, frame_id, copy_of, file))?;
        Ok(file_id)
    }

    /// Writes a frame anew: a better first file was found, or a second file filled gaps.
    pub fn rewrite_frame(
        &mut self,
        frame_id: i64,
        camera_id: Option<i64>,
        first_file_id: i64,
        record: &CaptureRecord,
    ) -> Result<(), Failure> {
        let links = FrameLinks {
            camera: camera_id,
            lens: self.ensure_lens(record)?,
            first_file: first_file_id,
        };
        self.step(|db| {
            // It may be another body's now, and leave a session of the one before.
            await_grouping(db, frame_id)?;
            put_frame(db, UPDATE_FRAME, frame_id, links, record)
        })
    }

    /// Writes a file anew that has changed on the disk since it was read.
    pub fn rewrite_file(
        &self,
        known: &FileRow,
        copy_of: Option<i64>,
        file: NewFile<'_>,
    ) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached("DELETE FROM written_finding WHERE file_id = ?")?
                .execute([known.file_id])?;
            put_file(
                db,
                UPDATE_FILE,
                known.file_id,
                known.frame_id,
                copy_of,
                file,
            )
        })
    }

    /// Files that were copies of this one's former contents stand on their own from now on.
    pub fn orphan_copies(&self, file_id: i64) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached("UPDATE written_file SET copy_of = NULL WHERE copy_of = ?")?
                .execute([file_id])?;
            Ok(())
        })
    }

    /// Takes a file away from its frame. Another file of the frame, the best there is, becomes its first; a frame
    /// whose only file it was goes with it.
    pub fn detach_file(&self, file: &FileRow) -> Result<(), Failure> {
        let maker_id = self.step(|db| {
            db.prepare_cached("DELETE FROM written_file WHERE file_id = ?")?
                .execute([file.file_id])?;
            if file.files_of_frame == 1 {
                return drop_frame(db, file.frame_id);
            }
            db.prepare_cached(
                "UPDATE written_frame SET first_file_id =
                   (SELECT file_id FROM written_file
                    WHERE (file_id = ?1 AND frame_id = ?1) OR (frame_id = ?1 AND frame_id <> file_id)
                    ORDER BY health <> 'sound', format = 'jpeg', file_id LIMIT 1)
                 WHERE frame_id = ?1 AND first_file_id = ?2",
            )?
            .execute([file.frame_id, file.file_id])?;
            Ok(None)
        })?;
        self.count_made(maker_id, None);
        Ok(())
    }

    /// Notes the place the photographer states for a frame, unless one is stated already.
    pub fn state_place(&self, frame_id: i64, site_id: i64) -> Result<(), Failure> {
        self.step(|db| match stated_places::site_of(db, frame_id)? {
            Some(_) => Ok(()),
            None => stated_places::say(db, frame_id, site_id),
        })
    }

    /// Notes the place the photographer states for a frame now, in the place of an earlier statement.
    pub fn restate_place(&self, frame_id: i64, site_id: i64) -> Result<(), Failure> {
        self.step(|db| stated_places::say(db, frame_id, site_id))
    }
}

fn file_row(row: &rusqlite::Row<'_>) -> rusqlite::Result<FileRow> {
    Ok(FileRow {
        file_id: row.get(0)?,
        frame_id: row.get(1)?,
        copy_of: row.get(2)?,
        files_of_frame: row.get(3)?,
    })
}
