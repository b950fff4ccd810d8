//! Adds files and frames to the catalogue, one batch per transaction. Computes no value, decides no pairing.

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::derive::drop_frame;
use crate::catalogue::file_rows::FileRow;
use crate::catalogue::file_rows::NewFile;
use crate::catalogue::file_rows::PressRow;
use crate::catalogue::numbers::mark_for_regrouping;
use crate::catalogue::read;
use crate::catalogue::rows::FrameLinks;
use crate::catalogue::rows::INSERT_FILE;
use crate::catalogue::rows::INSERT_FRAME;
use crate::catalogue::rows::UPDATE_FILE;
use crate::catalogue::rows::UPDATE_FRAME;
use crate::catalogue::rows::put_file;
use crate::catalogue::rows::put_frame;
use crate::catalogue::rows::signed;
use crate::catalogue::stated_places;
use crate::terms::failure::Failure;
use crate::terms::records::CaptureRecord;
use crate::terms::records::FileReading;
use crate::terms::time::WallTime;

impl Batch<'_> {
    /// Whether any frame's clock shows this second.
    pub fn has_frame_at(&self, clock: WallTime) -> Result<bool, Failure> {
        self.one(
            "SELECT EXISTS (SELECT 1 FROM written_frame WHERE clock_s = ?)",
            [clock.seconds()],
        )
    }

    /// A file with these contents, if the catalogue has one: the first, or a copy of it.
    pub fn file_with_contents(
        &self,
        reading: &FileReading,
        bytes: u64,
    ) -> Result<Option<FileRow>, Failure> {
        let Some(print) = reading.fingerprint else {
            return Ok(None);
        };
        let bytes = signed(bytes);
        match reading.record.clock_local {
            Some(clock) => self.one_if_any(
                "SELECT file.file_id, file.frame_id, file.copy_of, 1
                 FROM written_frame AS frame CROSS JOIN written_file AS file
                   ON file.file_id = frame.frame_id AND file.frame_id = frame.frame_id
                 WHERE frame.clock_s = ?1 AND file.fingerprint IN (?2, substr(?2, 1, 6)) AND file.bytes = ?3
                 UNION ALL
                 SELECT file.file_id, file.frame_id, file.copy_of, 1
                 FROM written_frame AS frame CROSS JOIN written_file AS file
                   ON file.frame_id = frame.frame_id AND file.frame_id <> file.file_id
                 WHERE frame.clock_s = ?1 AND file.fingerprint IN (?2, substr(?2, 1, 6)) AND file.bytes = ?3
                 LIMIT 1",
                params![clock.seconds(), print, bytes],
            ),
            None => self.one_if_any(
                "SELECT file_id, frame_id, copy_of, 1 FROM written_file
                 WHERE fingerprint IN (?1, substr(?1, 1, 6)) AND undated = 1 AND bytes = ?2 LIMIT 1",
                params![print, bytes],
            ),
        }
    }

    /// Stores the full fingerprint of a file for which an earlier catalogue stored six bytes.
    pub fn complete_fingerprint(&self, file_id: i64, print: [u8; 16]) -> Result<(), Failure> {
        self.change(
            "UPDATE written_file SET fingerprint = ?2
             WHERE file_id = ?1 AND fingerprint = substr(?2, 1, 6)",
            params![file_id, print],
        )
    }

    /// A file that the catalogue knew before, if it still has it in that folder.
    pub fn known_file(&self, file_id: i64, folder_id: i64) -> Result<Option<FileRow>, Failure> {
        self.one_if_any(
            "SELECT file_id, frame_id, copy_of,
                    (SELECT count(*) FROM written_file AS begun
                     WHERE begun.file_id = file.frame_id AND begun.frame_id = file.frame_id)
                    + (SELECT count(*) FROM written_file AS other
                       WHERE other.frame_id = file.frame_id AND other.frame_id <> other.file_id)
             FROM written_file AS file WHERE file_id = ? AND folder_id = ?",
            [file_id, folder_id],
        )
    }

    /// Frames whose clock shows the same second, and whose first file's name matches: candidates for one press of the
    /// shutter.
    pub fn frames_at_press(
        &self,
        clock: WallTime,
        name_will_do: impl Fn(&str) -> bool,
    ) -> Result<Vec<PressRow>, Failure> {
        self.step(|db| read::frames_at_press(db, clock, name_will_do))
    }

    /// The metadata that the camera wrote for a frame.
    pub fn frame_record(&self, frame_id: i64) -> Result<CaptureRecord, Failure> {
        self.step(|db| read::frame_record(db, frame_id))
    }

    /// Adds a new frame with its first file; both have the returned number.
    pub fn add_frame(&mut self, camera_id: Option<i64>, file: NewFile<'_>) -> Result<i64, Failure> {
        let given = self.number_given(&file)?;
        let frame_id = given.unwrap_or(self.next_file);
        let links = FrameLinks {
            camera: camera_id,
            lens: self.ensure_lens(&file.reading.record)?,
            first_file: frame_id,
        };
        self.next_file = self.next_file.max(frame_id + 1);
        self.step(|db| {
            put_frame(db, INSERT_FRAME, frame_id, links, &file.reading.record)?;
            if given.is_some() {
                // Its number may be within a run of frames that were assigned to a site while it was not here.
                stated_places::remove_place(db, frame_id)?;
            }
            put_file(db, INSERT_FILE, frame_id, frame_id, None, file)
        })?;
        Ok(frame_id)
    }

    /// Adds a new file of an existing frame, and returns its number.
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

    /// Updates a frame: a better first file was found, or a second file filled gaps.
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
            // It may belong to another body now, and leave a session of the previous one.
            mark_for_regrouping(db, frame_id)?;
            put_frame(db, UPDATE_FRAME, frame_id, links, record)
        })
    }

    /// Updates a file that has changed on the disk since it was read.
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

    /// Makes files that were copies of this one's former contents independent.
    pub fn orphan_copies(&self, file_id: i64) -> Result<(), Failure> {
        self.change(
            "UPDATE written_file SET copy_of = NULL WHERE copy_of = ?",
            [file_id],
        )
    }

    /// Removes a file from its frame. The best other file of the frame becomes its first; if it was the only one, the
    /// frame is removed.
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
                    ORDER BY health_no <> 0, format_no = 0, file_id LIMIT 1)
                 WHERE frame_id = ?1 AND first_file_id = ?2",
            )?
            .execute([file.frame_id, file.file_id])?;
            Ok(None)
        })?;
        self.count_made(maker_id, None);
        Ok(())
    }

    /// Records the stated place of a frame, unless there is one already; returns whether there was none.
    pub fn state_place(&self, frame_id: i64, site_id: i64) -> Result<bool, Failure> {
        self.step(|db| match stated_places::site_of(db, frame_id)? {
            Some(_) => Ok(false),
            None => stated_places::state_place(db, frame_id, site_id).map(|()| true),
        })
    }

    /// Removes the stated place of a frame.
    pub fn forget_place(&self, frame_id: i64) -> Result<(), Failure> {
        self.step(|db| stated_places::remove_place(db, frame_id))
    }

    /// Records the stated place of a frame, replacing an earlier statement.
    pub fn restate_place(&self, frame_id: i64, site_id: i64) -> Result<(), Failure> {
        self.step(|db| stated_places::state_place(db, frame_id, site_id))
    }
}

columns!(FileRow: file_id frame_id copy_of files_of_frame);
