//! Files and frames into the catalogue, one batch a transaction. Computes no value, decides no pairing.

use std::ffi::OsStr;
use std::path::Path;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Transaction;
use rusqlite::TransactionBehavior;
use rusqlite::params;

use crate::catalogue::derive::drop_frame;
use crate::catalogue::failure::failed;
use crate::catalogue::names::kept_name;
use crate::catalogue::open::Catalogue;
use crate::catalogue::read;
use crate::catalogue::rows::INSERT_FILE;
use crate::catalogue::rows::INSERT_FRAME;
use crate::catalogue::rows::UPDATE_FILE;
use crate::catalogue::rows::UPDATE_FRAME;
use crate::catalogue::rows::contents_key;
use crate::catalogue::rows::put_file;
use crate::catalogue::rows::put_frame;
use crate::catalogue::rows::signed;
use crate::terms::basis::Health;
use crate::terms::failure::Failure;
use crate::terms::records::CaptureRecord;
use crate::terms::records::FileReading;
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
    next_frame: i64,
    next_file: i64,
    /// The bodies asked for in this batch: most batches are of one or two.
    pub(super) bodies: Vec<([Option<String>; 3], i64)>,
}

impl Catalogue {
    /// Begins a batch.
    pub fn batch(&mut self) -> Result<Batch<'_>, Failure> {
        let Self { db, path, .. } = self;
        let begin = |db| -> rusqlite::Result<(Transaction<'_>, i64, i64)> {
            let tx = Transaction::new(db, TransactionBehavior::Immediate)?;
            let next = |table: &str| {
                tx.query_row(
                    &format!("SELECT ifnull(max({table}_id), 0) + 1 FROM written_{table}"),
                    [],
                    |row| row.get(0),
                )
            };
            let (frame, file) = (next("frame")?, next("file")?);
            Ok((tx, frame, file))
        };
        let (tx, next_frame, next_file) = begin(db).map_err(|e| failed(path, e))?;
        Ok(Batch {
            tx,
            path,
            next_frame,
            next_file,
            bodies: Vec::new(),
        })
    }
}

impl Batch<'_> {
    /// Makes the batch last.
    pub fn commit(self) -> Result<(), Failure> {
        let Self { tx, path, .. } = self;
        tx.commit().map_err(|e| failed(path, e))
    }

    /// Runs one step against the database, turning its error into words.
    pub(super) fn step<T>(
        &self,
        run: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, Failure> {
        run(&self.tx).map_err(|e| failed(self.path, e))
    }

    /// A file with these contents, if the catalogue has one: the first, or a copy of it.
    pub fn file_with_contents(
        &self,
        reading: &FileReading,
        bytes: u64,
    ) -> Result<Option<FileRow>, Failure> {
        let Some(key) = contents_key(reading) else {
            return Ok(None);
        };
        self.step(|db| {
            db.prepare_cached(
                "SELECT file_id, frame_id, copy_of, 1 FROM written_file
                 WHERE contents = ? AND bytes = ? LIMIT 1",
            )?
            .query_row(params![&key[..], signed(bytes)], file_row)
            .optional()
        })
    }

    /// The file of that name in that folder, if the catalogue has it.
    pub fn file_named(&self, folder_id: i64, name: &OsStr) -> Result<Option<FileRow>, Failure> {
        self.step(|db| {
            db.prepare_cached(
                "SELECT file_id, frame_id, copy_of,
                        (SELECT count(*) FROM written_file AS other WHERE other.frame_id = file.frame_id)
                 FROM written_file AS file WHERE folder_id = ? AND name = ?",
            )?
            .query_row(params![folder_id, kept_name(name).text], file_row)
            .optional()
        })
    }

    /// Frames of that stem whose clock shows the same second: candidates for one press of the shutter.
    pub fn frames_at_press(&self, stem: &str, clock: WallTime) -> Result<Vec<PressRow>, Failure> {
        self.step(|db| read::frames_at_press(db, stem, clock))
    }

    /// What the camera wrote into a frame.
    pub fn frame_record(&self, frame_id: i64) -> Result<CaptureRecord, Failure> {
        self.step(|db| read::frame_record(db, frame_id))
    }

    /// Puts a new frame in with its first file, and gives both numbers.
    pub fn add_frame(
        &mut self,
        camera_id: Option<i64>,
        stem: &str,
        file: NewFile<'_>,
    ) -> Result<(i64, i64), Failure> {
        let (frame_id, file_id) = (self.next_frame, self.next_file);
        self.next_frame += 1;
        self.step(|db| {
            put_frame(
                db,
                INSERT_FRAME,
                frame_id,
                camera_id,
                file_id,
                stem,
                &file.reading.record,
            )
        })?;
        self.add_file(frame_id, None, file)?;
        Ok((frame_id, file_id))
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
        &self,
        frame_id: i64,
        camera_id: Option<i64>,
        first_file_id: i64,
        stem: &str,
        record: &CaptureRecord,
    ) -> Result<(), Failure> {
        self.step(|db| {
            put_frame(
                db,
                UPDATE_FRAME,
                frame_id,
                camera_id,
                first_file_id,
                stem,
                record,
            )
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
        self.step(|db| {
            db.prepare_cached("DELETE FROM written_file WHERE file_id = ?")?
                .execute([file.file_id])?;
            if file.files_of_frame == 1 {
                return drop_frame(db, file.frame_id);
            }
            db.prepare_cached(
                "UPDATE written_frame SET first_file_id =
                   (SELECT file_id FROM written_file WHERE frame_id = ?1
                    ORDER BY health <> 'sound', format = 'jpeg', file_id LIMIT 1)
                 WHERE frame_id = ?1 AND first_file_id = ?2",
            )?
            .execute([file.frame_id, file.file_id])?;
            Ok(())
        })
    }

    /// Notes the place the photographer states for a frame, unless one is stated already.
    pub fn state_place(&self, frame_id: i64, site_id: i64) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached(
                "INSERT INTO stated_place (frame_id, site_id) VALUES (?, ?) ON CONFLICT (frame_id) DO NOTHING",
            )?
            .execute([frame_id, site_id])?;
            Ok(())
        })
    }

    /// Notes the place the photographer states for a frame now, in the place of an earlier statement.
    pub fn restate_place(&self, frame_id: i64, site_id: i64) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached(
                "INSERT INTO stated_place (frame_id, site_id) VALUES (?, ?)
                 ON CONFLICT (frame_id) DO UPDATE SET site_id = excluded.site_id",
            )?
            .execute([frame_id, site_id])?;
            Ok(())
        })
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
