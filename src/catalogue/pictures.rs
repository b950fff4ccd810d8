//! What was measured in pictures, which way frames looked, where radiants are in them: in and out. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::Columns;
use crate::catalogue::columns::FromColumns;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::found_trails::forget_trails;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::numbers::mark_for_regrouping;
use crate::catalogue::picture_spots::put_spots;
use crate::catalogue::picture_spots::region_of;
use crate::catalogue::picture_spots::region_text;
use crate::catalogue::run_sql::forget;
use crate::terms::failure::Failure;
use crate::terms::field_sql::FOCAL_COLUMN;
use crate::terms::field_sql::MID_COLUMN;
use crate::terms::pointing::DerivedPointing;
use crate::terms::pointing::FittedTo;
use crate::terms::pointing::FrameToExamine;
use crate::terms::pointing::MeasuredPicture;
use crate::terms::pointing::MeasuredPointing;
use crate::terms::pointing::SessionPointing;
use crate::terms::pointing::SessionWidth;

/// The columns of a measured pointing, in the order in which they are read and written.
const POINTING: &str =
    "fitted_to, law, f_px, k1, k2, cx_px, cy_px, width_px, height_px, right_x, right_y, right_z,
    forward_x, forward_y, forward_z, matched, residual_px, log_odds, region";

impl Catalogue {
    /// Whether a frame's picture was examined by this edition of the measures.
    pub fn is_examined(&self, frame_id: i64, edition: u32) -> Result<bool, Failure> {
        self.exists(
            "SELECT 1 FROM measured_picture WHERE frame_id = ? AND edition >= ?",
            params![frame_id, edition],
        )
    }

    /// What examining a frame needs to know of it; `None` where it has gone.
    pub fn frame_to_examine(&self, frame_id: i64) -> Result<Option<FrameToExamine>, Failure> {
        self.one_if_any(
            &format!(
                "SELECT frame.frame_id, dump.root_shown, dump.root_bytes, folder.path, folder.path_bytes, file.name, file.name_bytes,
                        -- A JPEG is its own picture, whatever is embedded in it.
                        iif(file.format_no = 0, 0, file.preview_offset),
                        iif(file.format_no = 0, file.bytes, file.preview_bytes),
                        time.session_id, {FOCAL_COLUMN}, frame.focal_mm, frame.focal35_mm, frame.width_px, frame.height_px,
                        {MID_COLUMN}, frame.clock_s + ifnull(CAST('0.' || frame.clock_fraction AS REAL), 0), frame.exposure_s,
                        frame.iso, ifnull(time.lat_deg, site.lat_deg), ifnull(time.lon_deg, site.lon_deg),
                        ifnull(time.elev_m, site.elev_m)
                 FROM written_frame AS frame
                 JOIN written_file AS file ON file.file_id = frame.first_file_id
                 JOIN written_folder AS folder ON folder.folder_id = file.folder_id
                 JOIN written_dump AS dump ON dump.dump_id = folder.dump_id
                 LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id
                 LEFT JOIN stated_site AS site ON site.site_id = time.site_id
                 WHERE frame.frame_id = ?"
            ),
            [frame_id],
        )
    }
}

impl Catalogue {
    /// Which way a frame looks, as it was measured.
    pub fn measured_pointing(&self, frame_id: i64) -> Result<Option<MeasuredPointing>, Failure> {
        self.step(|db| measured_of(db, frame_id))
    }

    /// Whether it was measured which way a frame looks.
    pub fn has_measured_pointing(&self, frame_id: i64) -> Result<bool, Failure> {
        self.exists(
            "SELECT 1 FROM measured_pointing WHERE frame_id = ?",
            [frame_id],
        )
    }

    /// Whether it was measured of any frame.
    pub fn any_measured_pointing(&self) -> Result<bool, Failure> {
        self.exists("SELECT 1 FROM measured_pointing LIMIT 1", [])
    }

    /// Widths of star images in frames of sessions, session by session, in order of time.
    pub fn session_widths(&self, each: impl FnMut(SessionWidth)) -> Result<(), Failure> {
        self.each(
            "SELECT frame.frame_id, time.session_id,
                    format('%s mm, f/%s, %s s', frame.focal_mm, frame.f_number, frame.exposure_s), seen.star_width_px
             FROM measured_picture AS seen
             JOIN derived_time AS time USING (frame_id)
             JOIN written_frame AS frame USING (frame_id)
             WHERE seen.star_width_px IS NOT NULL AND time.session_id IS NOT NULL
             ORDER BY time.session_id, time.start_ms, frame.frame_id",
            [],
            each,
        )
    }

    /// Where frames of sessions pointed, of those that are known everywhere in the picture: session by session, in order of time.
    pub fn session_pointings(&self, each: impl FnMut(SessionPointing)) -> Result<(), Failure> {
        self.each(
            "SELECT frame.frame_id, time.session_id, file.name, ifnull(time.lat_deg, site.lat_deg),
                    point.alt_deg, point.az_deg, point.roll_deg,
                    stars.right_x, stars.right_y, stars.right_z, stars.forward_x, stars.forward_y, stars.forward_z
             FROM derived_pointing AS point
             JOIN measured_pointing AS stars USING (frame_id)
             JOIN measured_picture AS seen USING (frame_id)
             JOIN derived_time AS time USING (frame_id)
             JOIN written_frame AS frame USING (frame_id)
             JOIN written_file AS file ON file.file_id = frame.first_file_id
             LEFT JOIN stated_site AS site ON site.site_id = time.site_id
             WHERE seen.pointing = 'good' AND time.session_id IS NOT NULL
                 AND ifnull(time.lat_deg, site.lat_deg) IS NOT NULL
             ORDER BY time.session_id, time.start_ms",
            [],
            each,
        )
    }
}

impl Batch<'_> {
    /// Puts in what was measured in a frame's picture, in place of what was measured before.
    pub fn put_picture(&self, frame_id: i64, measured: &MeasuredPicture) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached(
                "INSERT OR REPLACE INTO measured_picture
                     (frame_id, edition, why_not, stars, sky_level, star_width_px, corner_width_px, pointing)
                 VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            )?
            .execute(params![
                frame_id,
                measured.edition,
                measured.why_not,
                measured.stars,
                measured.sky_level,
                measured.star_width_px,
                measured.corner_width_px,
                measured.pointing_word,
            ])?;
            put_spots(db, frame_id, measured)?;
            if measured.pointing.is_some() || measured_of(db, frame_id)?.is_some() {
                // The turn of the sky in its session follows from it.
                mark_for_regrouping(db, frame_id)?;
            }
            match &measured.pointing {
                Some(pointing) => put_measured(db, frame_id, pointing),
                None => db.prepare_cached("DELETE FROM measured_pointing WHERE frame_id = ?")?
                    .execute([frame_id])
                    .map(|_| ()),
            }
        })
    }

    /// Puts in which way a frame looked over the horizon, and which showers the meteors in it can belong to; `None` takes away what
    /// was there.
    pub fn put_pointing(
        &self,
        frame_id: i64,
        derived: Option<&DerivedPointing>,
        trails: &[(i64, String)],
    ) -> Result<(), Failure> {
        let mut radiants = Vec::new();
        for radiant in derived.iter().flat_map(|derived| &derived.radiants) {
            radiants.push((self.ensure_shower(radiant.shower)?, radiant));
        }
        self.step(|db| {
            let pending = db
                .prepare_cached("SELECT 1 FROM pending_frame WHERE frame_id = ?")?
                .exists([frame_id])?;
            forget_derived(db, frame_id)?;
            if let Some(derived) = derived {
                db.prepare_cached(
                    "INSERT INTO derived_pointing (frame_id, alt_deg, az_deg, roll_deg) VALUES (?, ?, ?, ?)",
                )?
                .execute(params![frame_id, derived.alt_deg, derived.az_deg, derived.roll_deg])?;
            }
            for (trail_id, shower) in trails {
                db.prepare_cached(
                    "INSERT INTO derived_trail (trail_id, frame_id, shower) VALUES (?, ?, ?)",
                )?
                .execute(params![trail_id, frame_id, shower])?;
            }
            for (shower_id, radiant) in &radiants {
                db.prepare_cached(
                    "INSERT INTO derived_in_picture (shower_id, frame_id, x_px, y_px, seen_x_px, seen_y_px, in_picture)
                     VALUES (?, ?, ?, ?, ?, ?, ?)",
                )?
                .execute(params![
                    shower_id,
                    frame_id,
                    radiant.pixel.map(|(x, _)| x),
                    radiant.pixel.map(|(_, y)| y),
                    radiant.trails_from.map(|(x, _)| x),
                    radiant.trails_from.map(|(_, y)| y),
                    radiant.in_picture,
                ])?;
            }
            if !pending {
                // Deleted rows were written again, or follow from nothing any more.
                db.prepare_cached("DELETE FROM pending_frame WHERE frame_id = ?")?
                    .execute([frame_id])?;
            }
            Ok(())
        })
    }
}

/// Forgets what was measured in a frame's picture and what followed from it: its number may become another frame's.
pub(super) fn forget_picture(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    forget_derived(db, frame_id)?;
    forget_trails(db, frame_id)?;
    forget(
        db,
        &[
            "DELETE FROM measured_glare WHERE frame_id = ?",
            "DELETE FROM measured_lone_image WHERE frame_id = ?",
            "DELETE FROM measured_pointing WHERE frame_id = ?",
            "DELETE FROM measured_picture WHERE frame_id = ?",
        ],
        frame_id,
    )
}

fn forget_derived(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    forget(
        db,
        &[
            "DELETE FROM derived_trail WHERE frame_id = ?",
            "DELETE FROM derived_pointing WHERE frame_id = ?",
            "DELETE FROM derived_in_picture WHERE frame_id = ?",
        ],
        frame_id,
    )
}

fn put_measured(db: &Connection, frame_id: i64, one: &MeasuredPointing) -> rusqlite::Result<()> {
    db.prepare_cached(&format!(
        "INSERT OR REPLACE INTO measured_pointing ({POINTING}, frame_id)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
    ))?
    .execute(params![
        one.fitted_to.word(),
        one.law,
        one.f_px,
        one.k1,
        one.k2,
        one.cx_px,
        one.cy_px,
        one.width_px,
        one.height_px,
        one.right[0],
        one.right[1],
        one.right[2],
        one.forward[0],
        one.forward[1],
        one.forward[2],
        one.matched,
        one.residual_px,
        one.log_odds,
        region_text(&one.region),
        frame_id,
    ])?;
    Ok(())
}

fn measured_of(db: &Connection, frame_id: i64) -> rusqlite::Result<Option<MeasuredPointing>> {
    db.prepare_cached(&format!(
        "SELECT {POINTING} FROM measured_pointing WHERE frame_id = ?"
    ))?
    .query_row([frame_id], read)
    .optional()
}

columns!(MeasuredPointing: fitted_to law f_px k1 k2 cx_px cy_px width_px height_px right forward matched residual_px log_odds
    region);

impl FromColumns for FittedTo {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        Ok(columns.word(Self::from_word)?.unwrap_or(Self::Stars))
    }
}

impl FromColumns for Vec<(f64, f64)> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        Ok(columns.word(region_of)?.unwrap_or_default())
    }
}

columns!(FrameToExamine: frame_id path preview session_id focal_mm focal_written_mm focal35_mm width_px height_px mid_utc clock_s
    exposure_s iso place);
columns!(SessionWidth: frame_id session_id settings star_width_px);
columns!(SessionPointing: frame_id session_id file lat_deg over_deg among_stars);
