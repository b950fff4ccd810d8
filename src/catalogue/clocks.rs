//! Clock statements in the catalogue: fixes and zones of a body, and the frames they concern.

use std::collections::HashMap;

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::instant;
use crate::catalogue::columns::parsed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::scale::date_of;
use crate::terms::clock::Before;
use crate::terms::clock::ClockFix;
use crate::terms::clock::ZoneStated;
use crate::terms::failure::Failure;
use crate::terms::statement::Body;
use crate::terms::time::WallTime;

/// A body, with the data for naming it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Camera {
    /// Its number.
    pub camera_id: i64,
    /// Maker.
    pub make: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// The name shown.
    pub name: String,
}

columns!(Camera: camera_id make model serial name);

impl From<&Camera> for Body {
    fn from(camera: &Camera) -> Self {
        Self {
            make: camera.make.clone(),
            model: camera.model.clone(),
            serial: camera.serial.clone(),
        }
    }
}

/// How far from a fix an offset that the body wrote still shows the zone setting, in milliseconds: half a day.
///
/// Source: our choice: the night that the fix belongs to.
const OFFSET_NEAR_MS: i64 = 43_200_000;

/// What a body took.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BodyNights {
    /// Its frames.
    pub frames: i64,
    /// The first of its nights.
    pub first: Option<String>,
    /// The last of its nights.
    pub last: Option<String>,
    /// How many nights these are.
    pub nights: i64,
}

impl Catalogue {
    /// Every body, by name.
    pub fn cameras(&self) -> Result<Vec<Camera>, Failure> {
        self.all(
            "SELECT camera_id, make, model, serial, name FROM written_camera ORDER BY name, camera_id",
            [],
        )
    }

    /// The fixes of a body, by reading.
    pub fn clock_fixes(&self, camera_id: i64) -> Result<Vec<ClockFix>, Failure> {
        self.step(|db| fixes(db, camera_id))
    }

    /// The zones stated for a body, by their first reading.
    pub fn clock_zones(&self, camera_id: i64) -> Result<Vec<ZoneStated>, Failure> {
        self.rows(
            "SELECT zone_id, zone, from_local, until_local FROM stated_clock_zone
             WHERE camera_id = ? ORDER BY ifnull(from_local, ''), zone_id",
            [camera_id],
            |row| {
                Ok(ZoneStated {
                    id: row.get(0)?,
                    zone: row.get(1)?,
                    from: parsed(row, 2, WallTime::parse)?,
                    until: parsed(row, 3, WallTime::parse)?,
                })
            },
        )
    }

    /// How many frames of a body have a reading in a stretch: after `from` if given, before `until` if given.
    pub fn count_readings(
        &self,
        camera_id: i64,
        from: Option<WallTime>,
        until: Option<WallTime>,
    ) -> Result<i64, Failure> {
        self.one(
            &format!("SELECT count(*) {BETWEEN}"),
            between(camera_id, from, until),
        )
    }

    /// What each body took, by its number: frames, the first and the last of its nights, and how many these are.
    pub fn body_nights(&self) -> Result<HashMap<i64, BodyNights>, Failure> {
        self.rows(
            "SELECT frame.camera_id, count(*), min(time.night_day), max(time.night_day),
                    count(DISTINCT time.night_day)
             FROM written_frame AS frame LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id
             WHERE frame.camera_id IS NOT NULL GROUP BY frame.camera_id",
            [],
            |row| {
                let night = |at| -> rusqlite::Result<Option<String>> {
                    Ok(row.get::<_, Option<i64>>(at)?.and_then(date_of))
                };
                let took = BodyNights {
                    frames: row.get(1)?,
                    first: night(2)?,
                    last: night(3)?,
                    nights: row.get(4)?,
                };
                Ok((row.get(0)?, took))
            },
        )
    }

    /// The first reading of a body in an open stretch, and the offset from UTC that the body wrote beside it or was set to, in
    /// seconds east.
    pub fn first_reading(
        &self,
        camera_id: i64,
        from: Option<WallTime>,
        until: Option<WallTime>,
    ) -> Result<Option<(WallTime, Option<i32>)>, Failure> {
        let first: Option<(Option<WallTime>, Option<i32>)> = self.one_if_any(
            &format!(
                "SELECT clock_s, clock_fraction, ifnull(utc_offset_s, body_zone_s) {BETWEEN}
                     ORDER BY clock_s, clock_fraction LIMIT 1"
            ),
            between(camera_id, from, until),
        )?;
        Ok(first.and_then(|(reading, offset_s)| Some((reading?, offset_s))))
    }

    /// The zone of the site of the body's frame nearest to a reading.
    pub fn site_zone_near(
        &self,
        camera_id: i64,
        reading: WallTime,
    ) -> Result<Option<String>, Failure> {
        self.one_if_any(
            // The nearest before and the nearest after, each found by its index.
             "SELECT zone FROM (
                SELECT * FROM (SELECT site.zone, frame.clock_s, frame.frame_id FROM written_frame AS frame
                  CROSS JOIN derived_time AS time ON time.frame_id = frame.frame_id
                  CROSS JOIN stated_site AS site ON site.site_id = time.site_id
                  WHERE frame.clock_s <= ?2 AND frame.camera_id = ?1 AND site.zone IS NOT NULL
                  ORDER BY frame.clock_s DESC LIMIT 1)
                UNION ALL
                SELECT * FROM (SELECT site.zone, frame.clock_s, frame.frame_id FROM written_frame AS frame
                  CROSS JOIN derived_time AS time ON time.frame_id = frame.frame_id
                  CROSS JOIN stated_site AS site ON site.site_id = time.site_id
                  WHERE frame.clock_s > ?2 AND frame.camera_id = ?1 AND site.zone IS NOT NULL
                  ORDER BY frame.clock_s LIMIT 1))
              ORDER BY abs(clock_s - ?2), frame_id LIMIT 1",
            params![camera_id, reading.seconds()],
        )
    }
}

/// Frames of a body whose reading is in an open stretch. Digits of a fraction are compared as text with bounds that do
/// not end in zero; the whole seconds alone let an index find the stretch.
const BETWEEN: &str = "FROM written_frame WHERE camera_id = ?1 AND clock_s BETWEEN ?2 AND ?4
     AND (clock_s, ifnull(clock_fraction, '')) >= (?2, ?3) AND (clock_s, ifnull(clock_fraction, '')) < (?4, ?5)";

/// The values of [`BETWEEN`].
fn between(
    camera_id: i64,
    from: Option<WallTime>,
    until: Option<WallTime>,
) -> impl rusqlite::Params {
    let digits = |reading: Option<WallTime>| {
        let fraction = reading.and_then(WallTime::fraction).unwrap_or_default();
        fraction.trim_end_matches('0').to_owned()
    };
    (
        camera_id,
        from.map_or(i64::MIN, WallTime::seconds),
        digits(from),
        until.map_or(i64::MAX, WallTime::seconds),
        digits(until),
    )
}

impl Batch<'_> {
    /// The bodies for which fixes are stated.
    pub fn fixed_bodies(&self) -> Result<Vec<i64>, Failure> {
        self.all(
            "SELECT DISTINCT camera_id FROM stated_clock_fix ORDER BY camera_id",
            [],
        )
    }

    /// Adds a fix and returns its number.
    pub fn state_fix(&self, camera_id: i64, fix: &ClockFix) -> Result<i64, Failure> {
        self.insert(
            "INSERT INTO stated_clock_fix (camera_id, reading, true_ms, reset_before, from_local, until_local, frames)
             VALUES (?, ?, ?, ?, ?, ?, ?)",
            params![
                camera_id,
                fix.reading.to_string(),
                fix.true_utc.unix_ms(),
                i64::from(fix.before == Before::Reset),
                text(fix.from),
                text(fix.until),
                fix.frames,
            ],
        )
    }

    /// Adds a zone and returns its number.
    pub fn state_zone(&self, camera_id: i64, zone: &ZoneStated) -> Result<i64, Failure> {
        self.insert(
            "INSERT INTO stated_clock_zone (camera_id, zone, from_local, until_local) VALUES (?, ?, ?, ?)",
            params![camera_id, zone.zone, text(zone.from), text(zone.until)],
        )
    }

    /// Removes a fix; returns whether there was one.
    pub fn drop_fix(&self, fix_id: i64) -> Result<bool, Failure> {
        self.execute("DELETE FROM stated_fix_frame WHERE fix_id = ?", [fix_id])?;
        Ok(self.execute("DELETE FROM stated_clock_fix WHERE fix_id = ?", [fix_id])? > 0)
    }

    /// Removes a zone; returns whether there was one.
    pub fn drop_zone(&self, zone_id: i64) -> Result<bool, Failure> {
        Ok(self.execute("DELETE FROM stated_clock_zone WHERE zone_id = ?", [zone_id])? > 0)
    }

    /// The numbers of a body's frames whose reading is `from` or later and before `until`, in order.
    pub fn frames_between(
        &self,
        camera_id: i64,
        from: Option<WallTime>,
        until: Option<WallTime>,
    ) -> Result<Vec<i64>, Failure> {
        self.all(
            &format!("SELECT frame_id {BETWEEN} ORDER BY frame_id"),
            between(camera_id, from, until),
        )
    }
}

fn text(reading: Option<WallTime>) -> Option<String> {
    reading.map(|r| r.to_string())
}

fn fixes(db: &Connection, camera_id: i64) -> rusqlite::Result<Vec<ClockFix>> {
    let mut fixes: Vec<ClockFix> = db
        .prepare_cached(
            "SELECT fix_id, reading, true_ms, reset_before, from_local, until_local, frames FROM stated_clock_fix
             WHERE camera_id = ? ORDER BY reading, fix_id",
        )?
        .query_map([camera_id], |row| {
            let bad = || rusqlite::Error::IntegralValueOutOfRange(1, 0);
            Ok(ClockFix {
                id: row.get(0)?,
                reading: parsed(row, 1, WallTime::parse)?.ok_or_else(bad)?,
                true_utc: instant(row, 2)?.ok_or_else(bad)?,
                written_offset_s: None,
                before: if row.get::<_, i64>(3)? == 1 {
                    Before::Reset
                } else {
                    Before::RanOn
                },
                from: parsed(row, 4, WallTime::parse)?,
                until: parsed(row, 5, WallTime::parse)?,
                frames: row.get(6)?,
            })
        })?
        .collect::<rusqlite::Result<_>>()?;
    for fix in &mut fixes {
        fix.written_offset_s = offset_written_near(db, camera_id, fix.reading)?;
    }
    fixes.sort_by_key(|fix| fix.reading);
    Ok(fixes)
}

/// The offset that the body wrote beside the reading nearest to this one.
fn offset_written_near(
    db: &Connection,
    camera_id: i64,
    reading: WallTime,
) -> rusqlite::Result<Option<i32>> {
    let (Some(from), Some(until)) = (
        reading.plus_ms(-OFFSET_NEAR_MS),
        reading.plus_ms(OFFSET_NEAR_MS),
    ) else {
        return Ok(None);
    };
    db.prepare_cached(
        "SELECT utc_offset_s, body_zone_s FROM written_frame
         WHERE camera_id = ?1 AND clock_s BETWEEN ?2 AND ?3 AND (utc_offset_s IS NOT NULL OR body_zone_s IS NOT NULL)
         ORDER BY abs(clock_s + ifnull('0.' || clock_fraction, 0) - ?4), clock_s, utc_offset_s, body_zone_s LIMIT 1",
    )?
    .query_row(
        params![camera_id, from.seconds(), until.seconds(), seconds_of(reading)],
        |row| {
            let offset: Option<i32> = row.get(0)?;
            Ok(offset.or(row.get(1)?))
        },
    )
    .optional()
    .map(Option::flatten)
}

/// A reading in seconds, fraction included.
#[allow(clippy::cast_precision_loss)] // milliseconds of ten thousand years are exact
fn seconds_of(reading: WallTime) -> f64 {
    reading.reading_ms() as f64 / 1000.0
}
