//! Where cameras pointed as the photographer stated it. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Row;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::parsed;
use crate::catalogue::columns::reading;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::field_sql::MID_COLUMN;
use crate::terms::site::Place;
use crate::terms::stated_pointing::Mount;
use crate::terms::stated_pointing::StatedPointing;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

const COLUMNS: &str =
    "mount, solved_local, law, f_px, k1, k2, cx_px, cy_px, width_px, height_px, right_x, right_y, right_z,
     forward_x, forward_y, forward_z, residual_px";

impl Catalogue {
    /// Where the camera of a frame pointed, as stated.
    pub fn stated_pointing(&self, frame_id: i64) -> Result<Option<StatedPointing>, Failure> {
        self.step(|db| of_frame(db, frame_id))
    }

    /// The camera clock at mid-exposure of a frame.
    pub fn mid_reading(&self, frame_id: i64) -> Result<Option<WallTime>, Failure> {
        self.step(|db| mid_reading(db, frame_id))
    }
}

impl Batch<'_> {
    /// Whether anything is known of where the camera of a frame pointed, or was derived from it.
    pub fn has_pointing(&self, frame_id: i64) -> Result<bool, Failure> {
        self.one(
            "SELECT EXISTS (SELECT 1 FROM measured_pointing WHERE frame_id = ?1)
             OR EXISTS (SELECT 1 FROM stated_pointing_frame WHERE frame_id = ?1)
             OR EXISTS (SELECT 1 FROM derived_pointing WHERE frame_id = ?1)",
            [frame_id],
        )
    }

    /// Whether it is known of any frame where its camera pointed.
    pub fn any_pointing(&self) -> Result<bool, Failure> {
        self.one(
            "SELECT EXISTS (SELECT 1 FROM measured_pointing) OR EXISTS (SELECT 1 FROM stated_pointing_frame)",
            [],
        )
    }

    /// The middle of a frame's exposure and where it was taken, as derived.
    pub fn time_and_place(&self, frame_id: i64) -> Result<Option<(Utc, Place)>, Failure> {
        self.step(|db| {
            db.prepare_cached(&format!(
                "SELECT {MID_COLUMN}, ifnull(time.lat_deg, site.lat_deg), ifnull(time.lon_deg, site.lon_deg),
                        ifnull(time.elev_m, site.elev_m)
                 FROM derived_time AS time JOIN written_frame AS frame USING (frame_id)
                 LEFT JOIN stated_site AS site USING (site_id)
                 WHERE time.frame_id = ?"
            ))?
            .query_row([frame_id], |row| {
                let at: Option<i64> = row.get(0)?;
                let (lat, lon): (Option<f64>, Option<f64>) = (row.get(1)?, row.get(2)?);
                let elev: Option<f64> = row.get(3)?;
                let place = lat
                    .zip(lon)
                    .and_then(|(lat, lon)| Place::new(lat, lon, elev.unwrap_or(0.0)));
                Ok(at.and_then(Utc::from_unix_ms).zip(place))
            })
            .optional()
            .map(Option::flatten)
        })
    }

    /// Records where the camera of frames pointed; `None` removes it.
    pub fn put_stated_pointing(
        &self,
        frames: &[i64],
        pointing: Option<&StatedPointing>,
    ) -> Result<(), Failure> {
        self.step(|db| {
            let pointing_id = match pointing {
                Some(pointing) if !frames.is_empty() => Some(insert(db, pointing)?),
                _ => None,
            };
            for frame_id in frames {
                match pointing_id {
                    Some(pointing_id) => db
                        .prepare_cached(
                            "INSERT OR REPLACE INTO stated_pointing_frame (frame_id, pointing_id) VALUES (?, ?)",
                        )?
                        .execute([*frame_id, pointing_id])?,
                    None => db.prepare_cached("DELETE FROM stated_pointing_frame WHERE frame_id = ?")?
                        .execute([frame_id])?,
                };
            }
            // A solution of no frames is none.
            db.prepare_cached(
                "DELETE FROM stated_pointing WHERE NOT EXISTS
                     (SELECT 1 FROM stated_pointing_frame AS of WHERE of.pointing_id = stated_pointing.pointing_id)",
            )?
            .execute([])?;
            Ok(())
        })
    }
}

fn insert(db: &Connection, one: &StatedPointing) -> rusqlite::Result<i64> {
    db.prepare_cached(&format!(
        "INSERT INTO stated_pointing ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
    ))?
    .insert(params![
        one.mount.word(),
        one.solved_local.map(|at| at.to_string()),
        one.law,
        one.f_px,
        one.k1,
        one.k2,
        one.centre_px.0,
        one.centre_px.1,
        one.size_px.0,
        one.size_px.1,
        one.right[0],
        one.right[1],
        one.right[2],
        one.forward[0],
        one.forward[1],
        one.forward[2],
        one.residual_px,
    ])
}

pub(super) fn of_frame(db: &Connection, frame_id: i64) -> rusqlite::Result<Option<StatedPointing>> {
    db.prepare_cached(&format!(
        "SELECT {COLUMNS} FROM stated_pointing WHERE pointing_id =
             (SELECT of.pointing_id FROM stated_pointing_frame AS of WHERE of.frame_id = ?)"
    ))?
    .query_row([frame_id], stated)
    .optional()
}

fn mid_reading(db: &Connection, frame_id: i64) -> rusqlite::Result<Option<WallTime>> {
    let read = db
        .prepare_cached(
            "SELECT clock_s, clock_fraction, CAST(round(ifnull(exposure_s, 0) * 500) AS INTEGER)
             FROM written_frame WHERE frame_id = ?",
        )?
        .query_row([frame_id], |row| Ok((reading(row, 0)?, row.get(2)?)))
        .optional()?;
    let (begun, half_ms): (Option<WallTime>, i64) = read.unwrap_or_default();
    Ok(begun.and_then(|at| at.plus_ms(half_ms)))
}

fn stated(row: &Row<'_>) -> rusqlite::Result<StatedPointing> {
    Ok(StatedPointing {
        mount: parsed(row, 0, Mount::from_word)?.unwrap_or(Mount::Tripod),
        solved_local: parsed(row, 1, WallTime::parse)?,
        law: row.get(2)?,
        f_px: row.get(3)?,
        k1: row.get(4)?,
        k2: row.get(5)?,
        centre_px: (row.get(6)?, row.get(7)?),
        size_px: (row.get(8)?, row.get(9)?),
        right: [row.get(10)?, row.get(11)?, row.get(12)?],
        forward: [row.get(13)?, row.get(14)?, row.get(15)?],
        residual_px: row.get(16)?,
    })
}
