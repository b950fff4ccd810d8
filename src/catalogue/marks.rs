//! The photographer's marks of frames; and where their pictures are, for brightness samples. Computes no value.

use std::path::PathBuf;

use rusqlite::Row;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::scale::date_of;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::night::NightFrame;
use crate::terms::records::Extent;

impl Batch<'_> {
    /// Records the kind of a frame; `None` removes it. `true` where that is new.
    pub fn put_kind(&self, frame_id: i64, kind: Option<Kind>) -> Result<bool, Failure> {
        let rows = match kind {
            Some(kind) => self.execute(
                "INSERT INTO stated_kind (frame_id, kind) VALUES (?1, ?2)
                 ON CONFLICT (frame_id) DO UPDATE SET kind = ?2 WHERE kind <> ?2",
                params![frame_id, kind.word()],
            ),
            None => self.execute("DELETE FROM stated_kind WHERE frame_id = ?", [frame_id]),
        };
        Ok(rows? > 0)
    }

    /// Records the focal length of a frame's lens in millimetres; `None` removes it. `true` where that is new.
    pub fn put_focal(&self, frame_id: i64, focal_mm: Option<f64>) -> Result<bool, Failure> {
        let rows = match focal_mm {
            Some(focal_mm) => self.execute(
                "INSERT INTO stated_focal (frame_id, focal_mm) VALUES (?1, ?2)
                 ON CONFLICT (frame_id) DO UPDATE SET focal_mm = ?2 WHERE focal_mm <> ?2",
                params![frame_id, focal_mm],
            ),
            None => self.execute("DELETE FROM stated_focal WHERE frame_id = ?", [frame_id]),
        };
        Ok(rows? > 0)
    }

    /// The night that a frame was derived into, and its body.
    pub fn night_of_frame(&self, frame_id: i64) -> Result<Option<BodyNight>, Failure> {
        self.row_if_any(
            "SELECT night_day, camera_id
             FROM derived_time JOIN written_frame USING (frame_id) WHERE frame_id = ? AND night_day IS NOT NULL",
            [frame_id],
            body_night,
        )
    }

    /// The night of a session and its body.
    pub fn night_of(&self, session_id: i64) -> Result<Option<BodyNight>, Failure> {
        self.row_if_any(
            "SELECT night_day, camera_id FROM derived_session WHERE session_id = ?",
            [session_id],
            body_night,
        )
    }
}

impl Catalogue {
    /// A frame, with the data for sampling its picture.
    pub fn picture_of(&self, frame_id: i64) -> Result<Option<NightFrame>, Failure> {
        let found: Option<(PathBuf, Option<Extent>)> = self.one_if_any(
            "SELECT dump.root_shown, dump.root_bytes, folder.path, folder.path_bytes, file.name, file.name_bytes,
                    iif(file.thumbnail_bytes IS NULL AND file.format_no = 0, 0, file.thumbnail_offset),
                    iif(file.thumbnail_bytes IS NULL AND file.format_no = 0, file.bytes, file.thumbnail_bytes)
             FROM written_frame AS frame
             JOIN written_file AS file ON file.file_id = frame.first_file_id
             JOIN written_folder AS folder ON folder.folder_id = file.folder_id
             JOIN written_dump AS dump ON dump.dump_id = folder.dump_id
             WHERE frame.frame_id = ?",
            [frame_id],
        )?;
        Ok(found.map(|(path, thumbnail)| NightFrame {
            frame_id,
            path,
            thumbnail,
            ..NightFrame::default()
        }))
    }
}

/// A night and its body, from the first two columns.
pub(super) fn body_night(row: &Row<'_>) -> rusqlite::Result<BodyNight> {
    Ok(BodyNight {
        night: date_of(row.get(0)?).unwrap_or_default(),
        camera_id: row.get(1)?,
    })
}
