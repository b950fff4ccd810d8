//! Reads sessions from the catalogue.

use rusqlite::Row;

use crate::catalogue::columns::columns;
use crate::catalogue::columns::instant_text;
use crate::catalogue::columns::parsed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::scale::date_of;
use crate::terms::failure::Failure;
use crate::terms::field_sql::KIND_COLUMN;
use crate::terms::shower::ShowerCode;

/// A session as listed.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionRow {
    /// Its number.
    pub session_id: i64,
    /// The evening's date.
    pub night: String,
    /// The site's name, if known.
    pub site: Option<String>,
    /// The body, if known.
    pub camera: Option<String>,
    /// The focal length in millimetres.
    pub focal_mm: Option<f64>,
    /// Start of the first frame.
    pub start_utc: Option<String>,
    /// End of the last frame.
    pub end_utc: Option<String>,
    /// The camera clock at the first frame.
    pub clock_local: Option<String>,
    /// The camera clock at the last frame.
    pub end_clock_local: Option<String>,
    /// The time zone of the site.
    pub zone: Option<String>,
    /// Median time from start to start.
    pub cadence_s: Option<f64>,
    /// How many frames.
    pub frames: i64,
    /// How many frames are missing by the cadence.
    pub missing: i64,
    /// The shower with the greatest rates over its first, middle and last frame.
    pub shower: Option<String>,
}

/// One shower over a session.
#[derive(Clone, Debug, PartialEq)]
pub struct RadiantSpan {
    /// Which.
    pub shower: ShowerCode,
    /// Altitude over the first frame.
    pub first_alt_deg: f64,
    /// The highest altitude.
    pub highest_alt_deg: f64,
    /// When it was highest.
    pub highest_utc: String,
    /// Altitude over the last frame.
    pub last_alt_deg: f64,
    /// Rate over the frame at which it was highest.
    pub best_rate: f64,
}

/// How many frames of a session share a kind and settings.
#[derive(Clone, Debug, PartialEq)]
pub struct SettingsCount {
    /// The kind of the frames, if known.
    pub kind: Option<String>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// Aperture.
    pub f_number: Option<f64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// How many.
    pub frames: i64,
}

columns!(SettingsCount: kind exposure_s f_number iso frames);

/// The frames of session `?1`, over `derived_time AS time`: an index finds them in their night.
pub(super) const OF_SESSION: &str = "time.night_day = (SELECT night_day FROM derived_session WHERE session_id = ?1) AND time.session_id = ?1";

const SELECT: &str = "
    SELECT session.session_id, session.night_day, site.name, camera.name, session.focal_mm, session.start_ms,
           session.end_ms, session.start_local, session.end_local, session.cadence_s, session.frames, session.missing,
           (SELECT shower.code FROM derived_time AS time CROSS JOIN derived_sky AS sky ON sky.frame_id = time.frame_id
            CROSS JOIN derived_radiant AS radiant ON radiant.shower_id = sky.shower_id AND radiant.frame_id = time.frame_id
            CROSS JOIN derived_shower AS shower ON shower.shower_id = sky.shower_id
            WHERE time.night_day = session.night_day AND time.session_id = session.session_id
              AND time.seq IN (1, (session.frames + 1) / 2, session.frames)
            ORDER BY radiant.rate_milli DESC LIMIT 1), site.zone
    FROM derived_session AS session
    LEFT JOIN stated_site AS site ON site.site_id = session.site_id
    LEFT JOIN written_camera AS camera ON camera.camera_id = session.camera_id";

impl Catalogue {
    /// Every session, by night and start.
    pub fn sessions(&self) -> Result<Vec<SessionRow>, Failure> {
        self.rows(
            &format!(
                "{SELECT} ORDER BY session.night_day, ifnull(session.start_ms, 1000 * unixepoch(session.start_local, 'subsec')), session.session_id"
            ),
            [],
            session_row,
        )
    }

    /// One session.
    pub fn session(&self, session_id: i64) -> Result<Option<SessionRow>, Failure> {
        self.row_if_any(
            &format!("{SELECT} WHERE session.session_id = ?"),
            [session_id],
            session_row,
        )
    }

    /// Every shower over a session that comes above the horizon, the highest first.
    pub fn radiants_of(&self, session_id: i64) -> Result<Vec<RadiantSpan>, Failure> {
        self.step(|db| {
            let spans = db
                .prepare(
                    &format!("WITH members AS (SELECT frame_id, seq, start_ms FROM derived_time AS time WHERE {OF_SESSION}),
                          codes AS (SELECT DISTINCT code.value AS shower
                                    FROM members JOIN derived_sky AS sky USING (frame_id)
                                    JOIN derived_active AS active USING (active_id),
                                         json_each('[\"' || replace(active.showers, ' ', '\",\"') || '\"]') AS code),
                          over AS (SELECT codes.shower, radiant.alt_deg, radiant.rate, members.seq, members.start_ms
                                   FROM codes CROSS JOIN members CROSS JOIN derived_shower AS shower ON shower.code = codes.shower
                                   JOIN derived_radiant AS radiant
                                     ON radiant.shower_id = shower.shower_id AND radiant.frame_id = members.frame_id)
                     SELECT DISTINCT shower,
                            first_value(alt_deg) OVER (PARTITION BY shower ORDER BY seq),
                            first_value(alt_deg) OVER highest,
                            strftime('%Y-%m-%dT%H:%M:%fZ', first_value(start_ms) OVER highest / 1000.0, 'unixepoch'),
                            first_value(alt_deg) OVER (PARTITION BY shower ORDER BY seq DESC),
                            first_value(rate) OVER highest
                     FROM over WINDOW highest AS (PARTITION BY shower ORDER BY alt_deg DESC, seq)"),
                )?
                .query_map([session_id], |row| {
                    let Some(shower) = parsed(row, 0, ShowerCode::parse)? else {
                        return Ok(None);
                    };
                    Ok(Some(RadiantSpan {
                        shower,
                        first_alt_deg: row.get(1)?,
                        highest_alt_deg: row.get(2)?,
                        highest_utc: row.get(3)?,
                        last_alt_deg: row.get(4)?,
                        best_rate: row.get(5)?,
                    }))
                })?
                .collect::<rusqlite::Result<Vec<_>>>()?;
            let mut spans: Vec<RadiantSpan> = spans.into_iter().flatten().collect();
            spans.retain(|span| span.highest_alt_deg > 0.0);
            spans.sort_by(|a, b| {
                b.best_rate
                    .total_cmp(&a.best_rate)
                    .then(a.shower.cmp(&b.shower))
            });
            Ok(spans)
        })
    }

    /// How many frames of a session share a kind and settings, the most first.
    pub fn settings_of(&self, session_id: i64) -> Result<Vec<SettingsCount>, Failure> {
        self.all(
            &format!("SELECT {KIND_COLUMN}, frame.exposure_s, frame.f_number, frame.iso, count(*) AS frames
             FROM derived_time AS time JOIN written_frame AS frame USING (frame_id)
             WHERE {OF_SESSION} GROUP BY 1, 2, 3, 4 ORDER BY frames DESC, 1, 2, 3, 4"),
            [session_id],
        )
    }
}

fn session_row(row: &Row<'_>) -> rusqlite::Result<SessionRow> {
    Ok(SessionRow {
        session_id: row.get(0)?,
        night: date_of(row.get(1)?).unwrap_or_default(),
        site: row.get(2)?,
        camera: row.get(3)?,
        focal_mm: row.get(4)?,
        start_utc: instant_text(row, 5)?,
        end_utc: instant_text(row, 6)?,
        clock_local: row.get(7)?,
        end_clock_local: row.get(8)?,
        cadence_s: row.get(9)?,
        frames: row.get(10)?,
        missing: row.get(11)?,
        shower: row.get(12)?,
        zone: row.get(13)?,
    })
}
