//! The photographer's marks of frames; and where their pictures are, for brightness samples. Computes no value.

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::on_disk;
use crate::catalogue::run_sql::RunSql;
use crate::catalogue::scale::date_of;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::night::NightFrame;
use crate::terms::records::Extent;

/// A mark of a frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mark {
    /// Its kind.
    Kind(Kind),
    /// Remove the stated kind.
    KindRemoved,
    /// The focal length of its lens in millimetres.
    Focal(f64),
    /// Remove the stated focal length.
    FocalRemoved,
}

impl Batch<'_> {
    /// Records a mark of a frame; `true` where it was not recorded before.
    pub fn mark(&self, frame_id: i64, mark: Mark) -> Result<bool, Failure> {
        self.step(|db| {
            let rows = match mark {
                Mark::Kind(kind) => db
                    .prepare_cached(
                        "INSERT INTO stated_kind (frame_id, kind) VALUES (?1, ?2)
                         ON CONFLICT (frame_id) DO UPDATE SET kind = ?2 WHERE kind <> ?2",
                    )?
                    .execute(params![frame_id, kind.word()])?,
                Mark::KindRemoved => db
                    .prepare_cached("DELETE FROM stated_kind WHERE frame_id = ?")?
                    .execute([frame_id])?,
                Mark::Focal(focal_mm) => db
                    .prepare_cached(
                        "INSERT INTO stated_focal (frame_id, focal_mm) VALUES (?1, ?2)
                         ON CONFLICT (frame_id) DO UPDATE SET focal_mm = ?2 WHERE focal_mm <> ?2",
                    )?
                    .execute(params![frame_id, focal_mm])?,
                Mark::FocalRemoved => db
                    .prepare_cached("DELETE FROM stated_focal WHERE frame_id = ?")?
                    .execute([frame_id])?,
            };
            Ok(rows > 0)
        })
    }

    /// The night that a frame was derived into, and its body.
    pub fn night_of_frame(&self, frame_id: i64) -> Result<Option<BodyNight>, Failure> {
        self.row_if_any(
            "SELECT night_day, camera_id
             FROM derived_time JOIN written_frame USING (frame_id) WHERE frame_id = ? AND night_day IS NOT NULL",
            [frame_id],
            |row| {
                Ok(BodyNight {
                    night: date_of(row.get(0)?).unwrap_or_default(),
                    camera_id: row.get(1)?,
                })
            },
        )
    }

    /// The night of a session and its body.
    pub fn night_of(&self, session_id: i64) -> Result<Option<BodyNight>, Failure> {
        self.row_if_any(
            "SELECT night_day, camera_id FROM derived_session WHERE session_id = ?",
            [session_id],
            |row| {
                Ok(BodyNight {
                    night: date_of(row.get(0)?).unwrap_or_default(),
                    camera_id: row.get(1)?,
                })
            },
        )
    }
}

impl Catalogue {
    /// A frame, with the data for sampling its picture.
    pub fn picture_of(&self, frame_id: i64) -> Result<Option<NightFrame>, Failure> {
        self.row_if_any(
            "SELECT dump.root_shown, dump.root_bytes, folder.path, folder.path_bytes, file.name, file.name_bytes,
                    iif(file.thumbnail_bytes IS NULL AND file.format_no = 0, 0, file.thumbnail_offset),
                    iif(file.thumbnail_bytes IS NULL AND file.format_no = 0, file.bytes, file.thumbnail_bytes)
             FROM written_frame AS frame
             JOIN written_file AS file ON file.file_id = frame.first_file_id
             JOIN written_folder AS folder ON folder.folder_id = file.folder_id
             JOIN written_dump AS dump ON dump.dump_id = folder.dump_id
             WHERE frame.frame_id = ?",
            [frame_id],
            |row| {
                let part = |at: usize| -> rusqlite::Result<Option<u64>> {
                    Ok(row
                        .get::<_, Option<i64>>(at)?
                        .and_then(|n| u64::try_from(n).ok()))
                };
                Ok(NightFrame {
                    frame_id,
                    path: on_disk(
                        (row.get(0)?, row.get(1)?),
                        (row.get(2)?, row.get(3)?),
                        (row.get(4)?, row.get(5)?),
                    ),
                    thumbnail: part(6)?
                        .zip(part(7)?)
                        .map(|(offset, length)| Extent { offset, length }),
                    ..NightFrame::default()
                })
            },
        )
    }
}
