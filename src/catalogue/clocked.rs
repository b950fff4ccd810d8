//! The data for judging bodies' clocks: sessions of a night, files in order, days. Judges nothing.

use std::collections::BTreeSet;

use rusqlite::Row;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::columns::Columns;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::instant;
use crate::catalogue::columns::reading;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::scale::date_of;
use crate::terms::clock::BodyFrame;
use crate::terms::clock::ClockedFrame;
use crate::terms::clock::ClockedSession;
use crate::terms::clock::FirstDay;
use crate::terms::clock::RunFrame;
use crate::terms::day::DAY_S;
use crate::terms::failure::Failure;
use crate::terms::field_sql::PATH_COLUMN;
use crate::terms::time::WallTime;
use crate::terms::time::day_of_date;

/// A session and the number of its body.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionAt {
    /// The session.
    pub session: ClockedSession,
    /// Its body's number.
    pub camera_id: Option<i64>,
}

const SESSION_FRAMES: &str = "
    SELECT time.session_id, frame.camera_id, ifnull(camera.serial, camera.name), site.name, site.zone,
           frame.frame_id, frame.clock_s, frame.clock_fraction, time.start_ms,
           frame.gps_ms, ifnull(frame.utc_offset_s, frame.body_zone_s)
    FROM derived_time AS time JOIN written_frame AS frame ON frame.frame_id = time.frame_id
    LEFT JOIN written_camera AS camera ON camera.camera_id = frame.camera_id
    LEFT JOIN stated_site AS site ON site.site_id = time.site_id
    WHERE time.night_day = ?1 AND time.session_id IS NOT NULL
    ORDER BY time.session_id, time.seq";

impl Catalogue {
    /// Every night with frames, in order.
    pub fn nights(&self) -> Result<BTreeSet<String>, Failure> {
        let days: BTreeSet<i64> = self.all(
            "SELECT DISTINCT night_day FROM derived_time WHERE night_day IS NOT NULL",
            [],
        )?;
        Ok(days.into_iter().filter_map(date_of).collect())
    }

    /// The sessions of a night, of every body.
    pub fn clocked_sessions(&self, night: &str) -> Result<Vec<SessionAt>, Failure> {
        self.step(|db| {
            let mut statement = db.prepare_cached(SESSION_FRAMES)?;
            let mut rows = statement.query([day_of_date(night)])?;
            let mut sessions: Vec<SessionAt> = Vec::new();
            while let Some(row) = rows.next()? {
                let id: i64 = row.get(0)?;
                if sessions.last().is_none_or(|s| s.session.session_id != id) {
                    let site: Option<String> = row.get(3)?;
                    let zone = row.get(4)?;
                    sessions.push(SessionAt {
                        session: ClockedSession {
                            session_id: id,
                            camera: row.get(2)?,
                            site: site.map(|name| (name, zone)),
                            night: night.to_owned(),
                            frames: Vec::new(),
                        },
                        camera_id: row.get(1)?,
                    });
                }
                if let Some(session) = sessions.last_mut() {
                    let frame = Columns::from(row, 5).next()?;
                    session.session.frames.push(frame);
                }
            }
            Ok(sessions)
        })
    }

    /// The frames of a body that have a reading, in the order of the dumps, folders and names of their first files.
    pub fn body_frames(
        &self,
        camera_id: i64,
        mut each: impl FnMut(BodyFrame),
    ) -> Result<(), Failure> {
        self.step(|db| {
            let mut statement = db.prepare_cached(
                "SELECT frame.frame_id, frame.clock_s, frame.clock_fraction, time.start_ms, frame.exposure_s, frame.iso,
                     sky.sun_alt_deg, ifnull(time.kind_no IN (1, 2, 3), 0), time.session_id, time.night_day,
                     ifnull(time.lat_deg, site.lat_deg), ifnull(time.lon_deg, site.lon_deg),
                     ifnull(time.elev_m, site.elev_m), time.site_id, file.folder_id, file.name
                 FROM written_frame AS frame JOIN written_file AS file ON file.file_id = frame.first_file_id
                 LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id
                 LEFT JOIN derived_sky AS sky ON sky.frame_id = frame.frame_id
                 LEFT JOIN stated_site AS site ON site.site_id = time.site_id
                 JOIN written_folder AS folder USING (folder_id)
                 WHERE frame.camera_id = ? AND frame.clock_s IS NOT NULL
                 ORDER BY folder.dump_id, folder.path, file.name",
            )?;
            let mut rows = statement.query([camera_id])?;
            while let Some(row) = rows.next()? {
                if let Some(frame) = run_frame(row)? {
                    each(BodyFrame {
                        frame,
                        place: Columns::from(row, 10).next()?,
                        site_id: row.get(13)?,
                        folder_id: row.get(14)?,
                        file_name: row.get(15)?,
                    });
                }
            }
            Ok(())
        })
    }

    /// The frames of other bodies at a site that were taken between two instants, by body and time.
    pub fn frames_beside(
        &self,
        camera_id: i64,
        site_id: i64,
        between_ms: (i64, i64),
        mut each: impl FnMut(i64, RunFrame),
    ) -> Result<(), Failure> {
        self.step(|db| {
            let mut statement = db.prepare_cached(
                "SELECT frame.frame_id, frame.clock_s, frame.clock_fraction, time.start_ms, frame.exposure_s, frame.iso,
                     sky.sun_alt_deg, ifnull(time.kind_no IN (1, 2, 3), 0), time.session_id, time.night_day,
                     frame.camera_id
                 FROM derived_time AS time JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 LEFT JOIN derived_sky AS sky ON sky.frame_id = frame.frame_id
                 WHERE time.start_ms BETWEEN ?1 AND ?2 AND time.site_id = ?3 AND frame.camera_id <> ?4
                     AND frame.clock_s IS NOT NULL
                 ORDER BY frame.camera_id, time.start_ms, frame.frame_id",
            )?;
            let mut rows = statement.query([between_ms.0, between_ms.1, site_id, camera_id])?;
            while let Some(row) = rows.next()? {
                if let Some(frame) = run_frame(row)? {
                    each(row.get(10)?, frame);
                }
            }
            Ok(())
        })
    }

    /// Every 1 January on which a body has frames.
    pub fn january_firsts(&self, camera_id: i64) -> Result<Vec<FirstDay>, Failure> {
        let days: Vec<(i64, Option<WallTime>, i64)> = self.all(
            "SELECT frame_id, min(clock_s), clock_fraction, count(*) FROM written_frame
             WHERE camera_id = ? AND strftime('%m-%d', clock_s, 'unixepoch') = '01-01' GROUP BY clock_s / 86400",
            [camera_id],
        )?;
        let mut found = Vec::new();
        for (frame_id, first, frames) in days {
            let Some(first) = first else { continue };
            let day = first.seconds().div_euclid(DAY_S) * DAY_S;
            let other: Option<Option<WallTime>> = self.one_if_any(
                "SELECT clock_s, clock_fraction FROM written_frame
                 WHERE camera_id = ?1 AND clock_s NOT BETWEEN ?2 AND ?2 + 86399
                 ORDER BY abs(clock_s - ?3) LIMIT 1",
                [camera_id, day, first.seconds()],
            )?;
            found.push(FirstDay {
                frame_id,
                reading: first,
                frames,
                nearest_other: other.flatten(),
            });
        }
        Ok(found)
    }

    /// A finding about a frame, as listed.
    pub fn audit_row(
        &self,
        frame_id: i64,
        code: &str,
        saw: String,
        did: String,
    ) -> Result<AuditRow, Failure> {
        let sql = format!(
            "SELECT dump.label, folder.path, file.name, {PATH_COLUMN}, time.session_id
             FROM written_frame AS frame JOIN written_file AS file ON file.file_id = frame.first_file_id
             JOIN written_folder AS folder USING (folder_id) JOIN written_dump AS dump USING (dump_id)
             LEFT JOIN derived_time AS time ON time.frame_id = frame.frame_id
             WHERE frame.frame_id = ?"
        );
        self.row(&sql, [frame_id], |row| {
            Ok(AuditRow {
                code: code.to_owned(),
                dump: row.get(0)?,
                folder: row.get(1)?,
                file: row.get(2)?,
                path: row.get(3)?,
                saw,
                did,
                session: row.get(4)?,
                ..AuditRow::default()
            })
        })
    }
}

columns!(ClockedFrame: frame_id reading start_utc gps_utc written_offset_s);

/// The frame in the first columns; `None` for a reading that is not a valid date and time.
fn run_frame(row: &Row<'_>) -> rusqlite::Result<Option<RunFrame>> {
    let Some(reading) = reading(row, 1)? else {
        return Ok(None);
    };
    Ok(Some(RunFrame {
        frame_id: row.get(0)?,
        reading,
        start_utc: instant(row, 3)?,
        exposure_s: row.get(4)?,
        iso: row.get(5)?,
        sun_alt_deg: row.get(6)?,
        no_sky: row.get(7)?,
        session_id: row.get(8)?,
        night_day: row.get(9)?,
    }))
}
