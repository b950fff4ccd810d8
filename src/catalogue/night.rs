//! Reads a night from the catalogue, frame by frame, for the report. Computes no value.

use std::collections::HashMap;

use rusqlite::Row;
use rusqlite::types::Value;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::columns::instant;
use crate::catalogue::columns::parsed;
use crate::catalogue::columns::reading;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::findings::FOLLOWING;
use crate::catalogue::findings::audit_columns;
use crate::catalogue::findings::audit_row;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::on_disk;
use crate::catalogue::run_sql::RunSql;
use crate::catalogue::sessions::OF_SESSION;
use crate::terms::basis::Kind;
use crate::terms::basis::Twilight;
use crate::terms::failure::Failure;
use crate::terms::field_sql::HEALTH_COLUMN;
use crate::terms::field_sql::KIND_COLUMN;
use crate::terms::field_sql::PLACE_BASIS_COLUMN;
use crate::terms::field_sql::TIME_BASIS_COLUMN;
use crate::terms::field_sql::TURN_BASIS_COLUMN;
use crate::terms::night::Examined;
use crate::terms::night::NightFrame;
use crate::terms::records::Extent;
use crate::terms::records::InPicture;
use crate::terms::records::RadiantSky;
use crate::terms::shower::ShowerCode;
use crate::terms::time::day_of_date;
use crate::terms::turn::Turn;
use crate::terms::turn::TurnBasis;

/// Which frames to read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NightScope {
    /// Every frame of the night of this date.
    Night(String),
    /// The frames of one session.
    Session(i64),
}

impl NightScope {
    pub(super) const fn condition(&self) -> &'static str {
        match self {
            Self::Night(_) => "time.night_day = ?1",
            Self::Session(_) => OF_SESSION,
        }
    }

    pub(super) fn value(&self) -> Value {
        match self {
            // A text that is not a date matches no night.
            Self::Night(night) => day_of_date(night).map_or(Value::Null, Value::Integer),
            Self::Session(id) => Value::Integer(*id),
        }
    }
}

impl Catalogue {
    /// The frames of a night or a session, by start (by camera clock if UTC is unknown), each with its radiants.
    pub fn night_frames(&self, scope: &NightScope) -> Result<Vec<NightFrame>, Failure> {
        self.frames_where(scope.condition(), &scope.value())
    }

    /// One frame in the same way; `None` if there is no frame of that number.
    pub fn night_frame(&self, frame_id: i64) -> Result<Option<NightFrame>, Failure> {
        let frames = self.frames_where("time.frame_id = ?1", &Value::Integer(frame_id))?;
        Ok(frames.into_iter().next())
    }

    fn frames_where(
        &self,
        condition: &'static str,
        value: &Value,
    ) -> Result<Vec<NightFrame>, Failure> {
        self.step(|db| {
            let sql = format!(
                "SELECT frame.frame_id, time.session_id, camera.name, lens.name, time.site_id, dump.label, folder.path,
                        file.name, dump.root_shown, dump.root_bytes, folder.path_bytes, file.name_bytes,
                        time.start_ms, frame.clock_s, frame.clock_fraction, frame.exposure_s, frame.f_number, frame.iso,
                        ifnull(told.focal_mm, frame.focal_mm), frame.focal35_mm, frame.width_px, frame.height_px,
                        frame.temperature_c, {KIND_COLUMN}, {HEALTH_COLUMN}, {TIME_BASIS_COLUMN}, {PLACE_BASIS_COLUMN},
                        time.time_error_s, sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit,
                        sky.solar_lon_deg, shower.code, file.thumbnail_offset, file.thumbnail_bytes,
                        iif(file.format_no = 0, 0, file.preview_offset), iif(file.format_no = 0, file.bytes, file.preview_bytes),
                        frame.orientation,
                        search.clear, search.sky_stops, seen.star_width_px, seen.corner_width_px,
                        point.alt_deg, point.az_deg, point.roll_deg, time.turn_deg, {TURN_BASIS_COLUMN}
                 FROM derived_time AS time
                 CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id
                 CROSS JOIN written_folder AS folder ON folder.folder_id = file.folder_id
                 CROSS JOIN written_dump AS dump ON dump.dump_id = folder.dump_id
                 LEFT JOIN written_camera AS camera ON camera.camera_id = frame.camera_id
                 LEFT JOIN written_lens AS lens ON lens.lens_id = frame.lens_id
                 LEFT JOIN stated_focal AS told ON told.frame_id = frame.frame_id
                 LEFT JOIN derived_sky AS sky ON sky.frame_id = frame.frame_id
                 LEFT JOIN derived_shower AS shower ON shower.shower_id = sky.shower_id
                 LEFT JOIN measured_search AS search ON search.frame_id = frame.frame_id
                 LEFT JOIN measured_picture AS seen ON seen.frame_id = frame.frame_id
                 LEFT JOIN derived_pointing AS point ON point.frame_id = frame.frame_id
                 WHERE {condition} ORDER BY ifnull(time.start_ms, frame.clock_s * 1000), frame.clock_fraction, frame.frame_id"
            );
            let mut frames: Vec<NightFrame> = db
                .prepare(&sql)?
                .query_map([value], night_frame)?
                .collect::<rusqlite::Result<_>>()?;
            self.add_radiants(condition, value, &mut frames)?;
            Ok(frames)
        })
    }

    fn add_radiants(
        &self,
        condition: &'static str,
        value: &Value,
        frames: &mut [NightFrame],
    ) -> rusqlite::Result<()> {
        let at: HashMap<i64, usize> = frames
            .iter()
            .enumerate()
            .map(|(at, frame)| (frame.frame_id, at))
            .collect();
        let sql = format!(
            "WITH members AS MATERIALIZED (SELECT frame_id FROM derived_time AS time WHERE {condition}),
                  codes AS (SELECT DISTINCT code.value AS shower
                            FROM members JOIN derived_sky AS sky USING (frame_id) JOIN derived_active AS active USING (active_id),
                                 json_each('[\"' || replace(active.showers, ' ', '\",\"') || '\"]') AS code)
             SELECT radiant.frame_id, codes.shower, alt_deg, az_deg, seen_alt_deg, seen_az_deg, moon_sep_deg, rate, seen_rate
             FROM codes CROSS JOIN derived_shower AS shower ON shower.code = codes.shower CROSS JOIN members
             JOIN derived_radiant AS radiant
               ON radiant.shower_id = shower.shower_id AND radiant.frame_id = members.frame_id
             ORDER BY codes.shower"
        );
        let mut statement = self.db.prepare(&sql)?;
        let mut rows = statement.query([value])?;
        while let Some(row) = rows.next()? {
            let Some(shower) = parsed(row, 1, ShowerCode::parse)? else {
                continue;
            };
            let frame_id: i64 = row.get(0)?;
            if let Some(frame) = at.get(&frame_id).and_then(|at| frames.get_mut(*at)) {
                frame.radiants.push(RadiantSky {
                    shower,
                    alt_deg: row.get(2)?,
                    az_deg: row.get(3)?,
                    seen_alt_deg: row.get(4)?,
                    seen_az_deg: row.get(5)?,
                    moon_sep_deg: row.get(6)?,
                    rate: row.get(7)?,
                    seen_rate: row.get(8)?,
                    picture: InPicture::default(),
                });
            }
        }
        Ok(())
    }

    /// The dumps of the first files of the frames of a night or a session.
    pub fn night_dumps(&self, scope: &NightScope) -> Result<Vec<DumpPlace>, Failure> {
        let sql = format!(
            "WITH folders AS MATERIALIZED (
               SELECT DISTINCT file.folder_id
               FROM derived_time AS time CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
               CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id WHERE {})
             SELECT DISTINCT folder.dump_id
             FROM folders CROSS JOIN written_folder AS folder USING (folder_id) ORDER BY folder.dump_id",
            scope.condition()
        );
        let dumps: Vec<i64> = self.values(&sql, [scope.value()])?;
        dumps.into_iter().map(|id| self.dump_place(id)).collect()
    }

    /// The findings about the files in the folders of the frames of a night or a session.
    pub fn night_findings(&self, scope: &NightScope) -> Result<Vec<AuditRow>, Failure> {
        self.step(|db| {
            let sql = format!(
                "WITH folders AS MATERIALIZED (
                   SELECT DISTINCT file.folder_id
                   FROM derived_time AS time CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                   CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id WHERE {}),
                 files AS MATERIALIZED (
                   SELECT file.file_id, file.frame_id FROM folders CROSS JOIN written_file AS file USING (folder_id)),
                 frames AS MATERIALIZED (
                   SELECT frame.frame_id, frame.first_file_id, frame.clock_s, frame.clock_fraction
                   FROM files CROSS JOIN written_frame AS frame ON frame.first_file_id = files.file_id
                     AND frame.frame_id = files.frame_id)
                 SELECT {}
                 FROM (SELECT f.file_id, f.code, f.saw, f.did, NULL AS clock_s, NULL AS clock_fraction
                       FROM files CROSS JOIN written_finding AS f USING (file_id)
                       UNION ALL
                       SELECT frame.first_file_id, d.code, d.saw, d.did, NULL, NULL
                       FROM frames AS frame CROSS JOIN derived_finding AS d ON d.frame_id = frame.frame_id
                       UNION ALL {FOLLOWING}) AS finding
                 JOIN written_file AS file USING (file_id)
                 JOIN written_folder AS folder USING (folder_id)
                 JOIN written_dump AS dump USING (dump_id)
                 LEFT JOIN derived_time AS time ON time.frame_id = file.frame_id
                 ORDER BY finding.code, dump.label, folder.path, file.name, finding.saw",
                scope.condition(),
                audit_columns()
            );
            db.prepare(&sql)?
                .query_map([scope.value()], audit_row)?
                .collect()
        })
    }

    /// The nights of the catalogue that are nearest to a date, at most three: before it, on it, after it.
    pub fn nights_near(&self, night: &str) -> Result<Vec<String>, Failure> {
        self.values(
            "SELECT date(day * 86400, 'unixepoch') FROM (
             SELECT max(night_day) AS day FROM derived_session WHERE night_day <= ?1
             UNION SELECT min(night_day) FROM derived_session WHERE night_day > ?1) WHERE day IS NOT NULL",
            [day_of_date(night)],
        )
    }
}

fn night_frame(row: &Row<'_>) -> rusqlite::Result<NightFrame> {
    let (folder, file): (String, String) = (row.get(6)?, row.get(7)?);
    let path = on_disk(
        (row.get(8)?, row.get(9)?),
        (folder.clone(), row.get(10)?),
        (file.clone(), row.get(11)?),
    );
    let whole = |column: usize| -> rusqlite::Result<Option<u32>> {
        Ok(row
            .get::<_, Option<i64>>(column)?
            .and_then(|n| u32::try_from(n).ok()))
    };
    let start_utc = instant(row, 12)?;
    let exposure_s: Option<f64> = row.get(15)?;
    Ok(NightFrame {
        frame_id: row.get(0)?,
        session_id: row.get(1)?,
        camera: row.get(2)?,
        lens: row.get(3)?,
        site_id: row.get(4)?,
        dump: row.get(5)?,
        folder,
        file,
        path,
        start_utc,
        mid_utc: start_utc.and_then(|at| at.plus_s(exposure_s.unwrap_or(0.0) / 2.0)),
        clock_local: reading(row, 13)?,
        exposure_s,
        f_number: row.get(16)?,
        iso: row.get(17)?,
        focal_mm: row.get(18)?,
        focal35_mm: row.get(19)?,
        width_px: whole(20)?,
        height_px: whole(21)?,
        orientation: row.get(38)?,
        temperature_c: row.get(22)?,
        kind: parsed(row, 23, Kind::from_word)?,
        health: row.get(24)?,
        time_basis: row.get(25)?,
        place_basis: row.get(26)?,
        time_error_s: row.get(27)?,
        sun_alt_deg: row.get(28)?,
        twilight: parsed(row, 29, Twilight::from_word)?,
        moon_alt_deg: row.get(30)?,
        moon_lit: row.get(31)?,
        solar_lon_deg: row.get(32)?,
        shower: parsed(row, 33, ShowerCode::parse)?,
        radiants: Vec::new(),
        turn: parsed(row, 47, TurnBasis::from_word)?
            .zip(row.get(46)?)
            .map(|(basis, deg)| Turn { deg, basis }),
        thumbnail: extent(row, 34)?,
        preview: extent(row, 36)?,
        examined: Examined {
            clear: row.get(39)?,
            sky_stops: row.get(40)?,
            star_width_px: row.get(41)?,
            corner_width_px: row.get(42)?,
            pointed_deg: match (row.get(43)?, row.get(44)?, row.get(45)?) {
                (Some(alt), Some(az), Some(roll)) => Some((alt, az, roll)),
                _ => None,
            },
        },
    })
}

/// An extent from two columns side by side.
fn extent(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Extent>> {
    let part = |at: usize| -> rusqlite::Result<Option<u64>> {
        Ok(row
            .get::<_, Option<i64>>(at)?
            .and_then(|n| u64::try_from(n).ok()))
    };
    Ok(part(column)?
        .zip(part(column + 1)?)
        .map(|(offset, length)| Extent { offset, length }))
}
