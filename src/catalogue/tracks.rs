//! Recorded tracks in the catalogue, and the points near an instant. Interpolates nothing.

use rusqlite::Row;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::instant;
use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;
use crate::terms::track::TrackPoint;

/// A track, without its points.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrackRow {
    /// Its number.
    pub track_id: i64,
    /// The file's name.
    pub name: String,
    /// The first point's instant.
    pub first: Utc,
    /// The last point's.
    pub last: Utc,
    /// How many points.
    pub points: i64,
}

impl Catalogue {
    /// Every track, by its first instant.
    pub fn tracks(&self) -> Result<Vec<TrackRow>, Failure> {
        let tracks: Vec<Option<TrackRow>> = self.rows(
            "SELECT track_id, name, first_ms, last_ms, points FROM stated_track ORDER BY first_ms, name",
            [],
            |row| {
                let (Some(first), Some(last)) = (instant(row, 2)?, instant(row, 3)?) else {
                    return Ok(None);
                };
                Ok(Some(TrackRow {
                    track_id: row.get(0)?,
                    name: row.get(1)?,
                    first,
                    last,
                    points: row.get(4)?,
                }))
            },
        )?;
        Ok(tracks.into_iter().flatten().collect())
    }

    /// The points of a track, in order.
    pub fn points_of(&self, track_id: i64) -> Result<Vec<TrackPoint>, Failure> {
        self.step(|db| {
            db.prepare_cached(
                "SELECT at_ms, segment, lat_deg, lon_deg, elev_m FROM stated_track_point
                 WHERE track_id = ? ORDER BY at_ms",
            )?
            .query_map([track_id], point)?
            .filter_map(Result::transpose)
            .collect()
        })
    }
}

impl Batch<'_> {
    /// Adds a track and returns its number. The points' instants must rise.
    pub fn state_track(&self, name: &str, points: &[TrackPoint]) -> Result<i64, Failure> {
        self.step(|db| {
            let instant = |point: Option<&TrackPoint>| point.map(|p| p.at.unix_ms());
            let track_id = db
                .prepare_cached(
                    "INSERT INTO stated_track (name, first_ms, last_ms, points) VALUES (?, ?, ?, ?)",
                )?
                .insert(params![
                    name,
                    instant(points.first()),
                    instant(points.last()),
                    i64::try_from(points.len()).unwrap_or(i64::MAX),
                ])?;
            let mut insert = db.prepare_cached(
                "INSERT INTO stated_track_point (track_id, at_ms, segment, lat_deg, lon_deg, elev_m)
                 VALUES (?, ?, ?, ?, ?, ?)",
            )?;
            for p in points {
                insert.execute(params![track_id, p.at.unix_ms(), p.segment, p.lat_deg, p.lon_deg, p.elev_m])?;
            }
            Ok(track_id)
        })
    }

    /// Removes a track; returns whether there was one.
    pub fn drop_track(&self, track_id: i64) -> Result<bool, Failure> {
        Ok(self.execute("DELETE FROM stated_track WHERE track_id = ?", [track_id])? > 0)
    }

    /// The points of a track from one instant to another, with the one before and the one after, in order.
    pub fn track_points(
        &self,
        track_id: i64,
        (from, until): (Utc, Utc),
    ) -> Result<Vec<TrackPoint>, Failure> {
        self.step(|db| {
            db.prepare_cached(
                "SELECT at_ms, segment, lat_deg, lon_deg, elev_m FROM stated_track_point
                 WHERE track_id = ?1
                   AND at_ms >= ifnull((SELECT max(at_ms) FROM stated_track_point WHERE track_id = ?1 AND at_ms <= ?2), ?2)
                   AND at_ms <= ifnull((SELECT min(at_ms) FROM stated_track_point WHERE track_id = ?1 AND at_ms >= ?3), ?3)
                 ORDER BY at_ms",
            )?
            .query_map(
                params![track_id, from.unix_ms(), until.unix_ms()],
                point,
            )?
            .filter_map(Result::transpose)
            .collect()
        })
    }

    /// The numbers of frames without a GPS position of their own that were taken in a stretch of time, in order.
    /// Assumes that an exposure lasts a day at most, so that an index finds the stretch.
    pub fn frames_without_gps(&self, from: Utc, until: Utc) -> Result<Vec<i64>, Failure> {
        self.all(
            "SELECT frame_id FROM derived_time JOIN written_frame AS frame USING (frame_id)
             WHERE start_ms BETWEEN ?1 - 86400000 AND ?2
               AND start_ms + ifnull(frame.exposure_s, 0) * 1000 >= ?1
               AND place_basis_no <> (SELECT place_basis_no FROM word_place_basis WHERE place_basis = 'exif') ORDER BY frame_id",
            [from.unix_ms(), until.unix_ms()],
        )
    }
}

fn point(row: &Row<'_>) -> rusqlite::Result<Option<TrackPoint>> {
    let at = instant(row, 0)?;
    let (segment, lat_deg, lon_deg, elev_m) = (row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?);
    Ok(at.map(|at| TrackPoint {
        at,
        segment,
        lat_deg,
        lon_deg,
        elev_m,
    }))
}
