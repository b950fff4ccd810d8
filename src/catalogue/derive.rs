//! The data for deriving: facts of frames, sites, the frames of a night. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::body_night::NightFrame;
use crate::catalogue::columns::instant;
use crate::catalogue::columns::parsed;
use crate::catalogue::columns::reading;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::looks::forget_look;
use crate::catalogue::looks::look_of;
use crate::catalogue::numbers::mark_for_regrouping;
use crate::catalogue::pending::pending_nights;
use crate::catalogue::pictures::forget_picture;
use crate::catalogue::placed::forget_findings;
use crate::catalogue::run_sql::RunSql;
use crate::catalogue::sites;
use crate::catalogue::sky_rows::forget_sky;
use crate::catalogue::stated_places;
use crate::terms::basis::Kind;
use crate::terms::failure::Failure;
use crate::terms::records::SessionFrame;
use crate::terms::site::Site;
use crate::terms::time::day_of_date;

impl Catalogue {
    /// The nights that a killed run left ungrouped.
    pub fn pending_nights(&self) -> Result<Vec<BodyNight>, Failure> {
        self.step(pending_nights)
    }
}

impl Batch<'_> {
    /// Every site of the book.
    pub fn sites(&self) -> Result<Vec<Site>, Failure> {
        self.step(sites::all)
    }

    /// Adds a site to the book and returns its number.
    pub fn add_site(&self, site: &Site) -> Result<i64, Failure> {
        self.step(|db| sites::insert(db, site))
    }

    /// Records that a night's sessions must be grouped again, in case this run is killed before that.
    pub fn mark_pending(&self, night: &BodyNight) -> Result<(), Failure> {
        self.execute(
            "INSERT OR IGNORE INTO pending_night (night_day, camera_id) VALUES (?, ?)",
            params![day_of_date(&night.night), night.camera_id],
        )?;
        Ok(())
    }

    /// Every body's frames in one night.
    pub fn night_frames(&self, night: &str) -> Result<Vec<NightFrame>, Failure> {
        self.rows(
            "SELECT time.frame_id, time.start_ms, frame.clock_s, frame.clock_fraction, frame.exposure_s,
                    frame.focal_mm, time.site_id, folder.path || '/' || file.name, time.session_id,
                    frame.camera_id, frame.iso, said.kind,
                    substr(measured.looks, (time.frame_id % 32) * 6 + 1, 6), frame.f_number, lens.name, told.focal_mm,
                    -- A JPEG without another in it is its own small picture, if it is small enough.
                    ifnull(file.thumbnail_bytes, CASE file.format_no WHEN 0 THEN file.bytes END)
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
            |row| {
                let frame = SessionFrame {
                    frame_id: row.get(0)?,
                    start_utc: instant(row, 1)?,
                    clock_local: reading(row, 2)?,
                    exposure_s: row.get(4)?,
                    focal_mm: row.get::<_, Option<f64>>(15)?.or(row.get(5)?),
                    site_id: row.get(6)?,
                    path: row.get(7)?,
                    session_before: row.get(8)?,
                    iso: row.get(10)?,
                    stated_kind: parsed(row, 11, Kind::from_word)?,
                    look: row.get::<_, Option<_>>(12)?.and_then(look_of),
                    f_number: row.get(13)?,
                    lens: row.get(14)?,
                    picture_bytes: row
                        .get::<_, Option<i64>>(16)?
                        .and_then(|n| u64::try_from(n).ok()),
                };
                Ok(NightFrame {
                    frame,
                    camera_id: row.get(9)?,
                })
            },
        )
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
    for sql in [
        "DELETE FROM stated_kind WHERE frame_id = ?",
        "DELETE FROM stated_focal WHERE frame_id = ?",
        "DELETE FROM stated_look WHERE frame_id = ?",
        "DELETE FROM stated_trail WHERE frame_id = ?",
        "DELETE FROM stated_fix_frame WHERE frame_id = ?",
        "DELETE FROM stated_pointing_frame WHERE frame_id = ?",
        "DELETE FROM pending_frame WHERE frame_id = ?",
        "DELETE FROM written_frame WHERE frame_id = ?",
    ] {
        db.prepare_cached(sql)?.execute([frame_id])?;
    }
    Ok(maker_id)
}
