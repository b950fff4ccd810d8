//! The data for deriving: facts of frames, sites, the frames of a night. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::body_night::NightFrame;
use crate::catalogue::columns::Columns;
use crate::catalogue::columns::FromColumns;
use crate::catalogue::columns::columns;
use crate::catalogue::looks::forget_look;
use crate::catalogue::looks::look_of;
use crate::catalogue::numbers::mark_for_regrouping;
use crate::catalogue::pictures::forget_picture;
use crate::catalogue::placed::forget_findings;
use crate::catalogue::run_sql::forget;
use crate::catalogue::sky_rows::forget_sky;
use crate::catalogue::stated_places;
use crate::terms::failure::Failure;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;
use crate::terms::time::day_of_date;

impl Batch<'_> {
    /// Records that a night's sessions must be grouped again, in case this run is killed before that.
    pub fn mark_pending(&self, night: &BodyNight) -> Result<(), Failure> {
        self.change(
            "INSERT OR IGNORE INTO pending_night (night_day, camera_id) VALUES (?, ?)",
            params![day_of_date(&night.night), night.camera_id],
        )
    }

    /// Every body's frames in one night.
    pub fn night_frames(&self, night: &str) -> Result<Vec<NightFrame>, Failure> {
        self.all(
            "SELECT time.frame_id, time.start_ms, frame.clock_s, frame.clock_fraction, frame.exposure_s,
                    ifnull(told.focal_mm, frame.focal_mm), time.site_id, folder.path || '/' || file.name, time.session_id,
                    frame.iso, said.kind, substr(measured.looks, (time.frame_id % 32) * 6 + 1, 6), frame.f_number, lens.name,
                    -- A JPEG without another in it is its own small picture, if it is small enough.
                    ifnull(file.thumbnail_bytes, CASE file.format_no WHEN 0 THEN file.bytes END), frame.camera_id
             -- CROSS keeps the order: from the night outward, whatever the planner thinks of the tables' sizes.
             FROM derived_time AS time
             CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
             CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id
             CROSS JOIN written_folder AS folder ON folder.folder_id = file.folder_id
             LEFT JOIN stated_kind AS said ON said.frame_id = time.frame_id
             LEFT JOIN stated_focal AS told ON told.frame_id = time.frame_id
             LEFT JOIN written_lens AS lens ON lens.lens_id = frame.lens_id
             LEFT JOIN measured_look AS measured ON measured.block = time.frame_id / 32
             WHERE time.night_day = ?",
            [day_of_date(night)],
        )
    }
}

columns!(NightFrame: frame camera_id);
columns!(SessionFrame: frame_id start_utc clock_local exposure_s focal_mm site_id path session_before iso stated_kind look
    f_number lens picture_bytes);

impl FromColumns for Option<Look> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        Ok(columns.next::<Option<[u8; 6]>>()?.and_then(look_of))
    }
}

/// Removes a frame with everything derived from it and stated about it.
///
/// Gives: the maker of its rows.
pub(super) fn drop_frame(db: &Connection, frame_id: i64) -> rusqlite::Result<Option<i64>> {
    forget_sky(db, frame_id)?;
    forget_findings(db, frame_id)?;
    stated_places::remove_place(db, frame_id)?;
    mark_for_regrouping(db, frame_id)?;
    forget_look(db, frame_id)?;
    forget_picture(db, frame_id)?;
    let maker_id = db
        .prepare_cached("DELETE FROM derived_time WHERE frame_id = ? RETURNING maker_id")?
        .query_row([frame_id], |row| row.get(0))
        .optional()?
        .flatten();
    forget(
        db,
        &[
            "DELETE FROM stated_kind WHERE frame_id = ?",
            "DELETE FROM stated_focal WHERE frame_id = ?",
            "DELETE FROM stated_look WHERE frame_id = ?",
            "DELETE FROM stated_trail WHERE frame_id = ?",
            "DELETE FROM stated_fix_frame WHERE frame_id = ?",
            "DELETE FROM stated_pointing_frame WHERE frame_id = ?",
            "DELETE FROM pending_frame WHERE frame_id = ?",
            "DELETE FROM written_frame WHERE frame_id = ?",
        ],
        frame_id,
    )?;
    Ok(maker_id)
}
