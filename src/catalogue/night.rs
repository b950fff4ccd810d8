//! Reads a night from the catalogue, frame by frame, for the report. Computes no value.

use std::collections::HashMap;

use rusqlite::types::Value;

use crate::catalogue::audit_row::AuditRow;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::parsed;
use crate::catalogue::columns::read;
use crate::catalogue::dumps::DumpPlace;
use crate::catalogue::findings::FOLLOWING;
use crate::catalogue::findings::audit_columns;
use crate::catalogue::findings::audit_row;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::sessions::OF_SESSION;
use crate::terms::failure::Failure;
use crate::terms::field_sql::HEALTH_COLUMN;
use crate::terms::field_sql::KIND_COLUMN;
use crate::terms::field_sql::PLACE_BASIS_COLUMN;
use crate::terms::field_sql::TIME_BASIS_COLUMN;
use crate::terms::field_sql::TURN_BASIS_COLUMN;
use crate::terms::night::Examined;
use crate::terms::night::NightFrame;
use crate::terms::records::InPicture;
use crate::terms::records::RadiantSky;
use crate::terms::shower::ShowerCode;
use crate::terms::time::day_of_date;

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
                "SELECT frame.frame_id, time.session_id, camera.name, lens.name, time.site_id, dump.label, folder.path, file.name,
                        dump.root_shown, dump.root_bytes, folder.path, folder.path_bytes, file.name, file.name_bytes,
                        time.start_ms, frame.clock_s, frame.clock_fraction, frame.exposure_s, frame.f_number, frame.iso,
                        ifnull(told.focal_mm, frame.focal_mm), frame.focal35_mm, frame.width_px, frame.height_px,
                        frame.orientation, frame.temperature_c, {KIND_COLUMN}, {HEALTH_COLUMN}, {TIME_BASIS_COLUMN},
                        {PLACE_BASIS_COLUMN}, time.time_error_s, sky.sun_alt_deg, sky.twilight, sky.moon_alt_deg, sky.moon_lit,
                        sky.solar_lon_deg, shower.code, file.thumbnail_offset, file.thumbnail_bytes,
                        iif(file.format_no = 0, 0, file.preview_offset), iif(file.format_no = 0, file.bytes, file.preview_bytes),
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
                .query_map([value], read)?
                .collect::<rusqlite::Result<_>>()?;
            for frame in &mut frames {
                let half_s = frame.exposure_s.unwrap_or(0.0) / 2.0;
                frame.mid_utc = frame.start_utc.and_then(|at| at.plus_s(half_s));
            }
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
        let dumps: Vec<i64> = self.all(&sql, [scope.value()])?;
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
        self.all(
            "SELECT date(day * 86400, 'unixepoch') FROM (
             SELECT max(night_day) AS day FROM derived_session WHERE night_day <= ?1
             UNION SELECT min(night_day) FROM derived_session WHERE night_day > ?1) WHERE day IS NOT NULL",
            [day_of_date(night)],
        )
    }
}

columns!(NightFrame: frame_id session_id camera lens site_id dump folder file path start_utc clock_local exposure_s f_number iso
    focal_mm focal35_mm width_px height_px orientation temperature_c kind health time_basis place_basis time_error_s sun_alt_deg
    twilight moon_alt_deg moon_lit solar_lon_deg shower thumbnail preview examined turn; mid_utc: None, radiants: Vec::new());
columns!(Examined: clear sky_stops star_width_px corner_width_px pointed_deg);
