//! Derived rows into the catalogue: time and place, sky, sessions. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::Row;
use rusqlite::params;

use crate::catalogue::failure::failed;
use crate::catalogue::findings::follows_from_row;
use crate::catalogue::numbers::await_grouping;
use crate::catalogue::numbers::leave_session;
use crate::catalogue::open::Catalogue;
use crate::catalogue::read::frame_facts;
use crate::catalogue::read::instant;
use crate::catalogue::read::parsed;
use crate::catalogue::read::reading;
use crate::catalogue::rows::put_findings;
use crate::catalogue::scale::Numbered;
use crate::catalogue::scale::day_of;
use crate::catalogue::scale::direction;
use crate::catalogue::scale::millionths;
use crate::catalogue::scale::tenths;
use crate::catalogue::scale::tenths_round;
use crate::catalogue::scale::thousandths;
use crate::catalogue::sites;
use crate::catalogue::stated_places;
use crate::catalogue::store::Batch;
use crate::terms::basis::Kind;
use crate::terms::basis::PlaceBasis;
use crate::terms::failure::Failure;
use crate::terms::picture::Look;
use crate::terms::records::FrameFacts;
use crate::terms::records::FrameSky;
use crate::terms::records::PlacedFrame;
use crate::terms::records::RadiantSky;
use crate::terms::records::SessionFrame;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::time::Utc;

/// A night of one body, whose sessions are to be found anew.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BodyNight {
    /// The evening's date.
    pub night: String,
    /// The body; `None` for frames whose body is not known.
    pub camera_id: Option<i64>,
}

/// A frame of a night, and whose it is.
#[derive(Clone, Debug, PartialEq)]
pub struct NightFrame {
    /// The frame as the grouping of sessions sees it.
    pub frame: SessionFrame,
    /// The body; `None` where it is not known.
    pub camera_id: Option<i64>,
    /// Whether its reading happened twice or never, or came after such a change.
    pub doubtful_hour: bool,
}

/// Whether a frame has derived rows already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Derived {
    /// It is new: nothing to take away.
    FirstTime,
    /// Its old rows are taken away first.
    Again,
}

/// What was derived of a frame before it is derived again.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SkyBefore {
    /// When its shutter opened.
    pub start_utc: Option<Utc>,
    /// Its main shower, with altitude and azimuth of the radiant in degrees.
    pub radiant: Option<(ShowerCode, f64, f64)>,
}

impl Catalogue {
    /// The nights that a killed run left ungrouped.
    pub fn pending_nights(&self) -> Result<Vec<BodyNight>, Failure> {
        let read = || -> rusqlite::Result<Vec<BodyNight>> {
            self.db
                .prepare("SELECT night, nullif(camera_id, 0) FROM derived_pending ORDER BY night, camera_id")?
                .query_map([], |row| Ok(BodyNight { night: row.get(0)?, camera_id: row.get(1)? }))?
                .collect()
        };
        read().map_err(|e| failed(&self.path, e))
    }
}

impl Batch<'_> {
    /// The number under which this program and this edition of the shower table sign their rows.
    pub fn ensure_maker(&self, program: &str, shower_table: &str) -> Result<i64, Failure> {
        self.step(|db| {
            db.prepare_cached(
                "INSERT INTO derived_maker (program, shower_table) VALUES (?, ?)
                 ON CONFLICT DO UPDATE SET program = program RETURNING maker_id",
            )?
            .query_row([program, shower_table], |row| row.get(0))
        })
    }

    /// What deciding a frame's time and place needs to know of it.
    pub fn frame_facts(&self, frame_id: i64) -> Result<FrameFacts, Failure> {
        self.step(|db| frame_facts(db, frame_id))
    }

    /// Every site of the book.
    pub fn sites(&self) -> Result<Vec<Site>, Failure> {
        self.step(sites::all)
    }

    /// Puts a site into the book and gives its number.
    pub fn add_site(&self, site: &Site) -> Result<i64, Failure> {
        self.step(|db| sites::insert(db, site))
    }

    /// When a frame was taken and where its main radiant stood, as derived before.
    pub fn sky_before(&self, frame_id: i64) -> Result<SkyBefore, Failure> {
        self.step(|db| {
            db.prepare_cached(
                "SELECT time.start_ms, shower.code, radiant.alt_deg, radiant.az_deg
                 FROM derived_time AS time
                 LEFT JOIN derived_sky AS sky ON sky.frame_id = time.frame_id
                 LEFT JOIN derived_shower AS shower ON shower.shower_id = sky.shower_id
                 LEFT JOIN derived_radiant AS radiant
                   ON radiant.shower_id = sky.shower_id AND radiant.frame_id = time.frame_id
                 WHERE time.frame_id = ?",
            )?
            .query_row([frame_id], |row| {
                let shower = parsed(row, 1, ShowerCode::parse)?;
                let (alt, az): (Option<f64>, Option<f64>) = (row.get(2)?, row.get(3)?);
                Ok(SkyBefore {
                    start_utc: instant(row, 0)?,
                    radiant: shower
                        .zip(alt)
                        .zip(az)
                        .map(|((shower, alt), az)| (shower, alt, az)),
                })
            })
            .optional()
            .map(Option::unwrap_or_default)
        })
    }

    /// Puts a frame's time, place and sky in.
    pub fn put_derived(
        &self,
        frame_id: i64,
        derived: Derived,
        maker_id: i64,
        placed: &PlacedFrame,
        sky: Option<&FrameSky>,
    ) -> Result<(), Failure> {
        self.step(|db| {
            if derived == Derived::Again {
                forget(db, frame_id, sky)?;
            }
            put_time(db, frame_id, derived, maker_id, placed)?;
            put_findings(
                db,
                "INSERT INTO derived_finding (frame_id, code, saw, did) VALUES (?, ?, ?, ?)",
                frame_id,
                placed.findings.iter().filter(|f| !follows_from_row(f)),
            )?;
            Ok(())
        })?;
        let Some(sky) = sky else { return Ok(()) };
        let mut showers = String::with_capacity(sky.radiants.len() * 4);
        for radiant in &sky.radiants {
            if !showers.is_empty() {
                showers.push(' ');
            }
            showers.push_str(radiant.shower.as_str());
        }
        let active_id = self.ensure_active(&showers)?;
        if let (Some(start), Some(active_id)) = (placed.start_utc, active_id) {
            self.note_day(start, active_id)?;
        }
        let strongest = sky.strongest.map(|s| self.ensure_shower(s)).transpose()?;
        let radiants = sky
            .radiants
            .iter()
            .map(|radiant| Ok((self.ensure_shower(radiant.shower)?, radiant)))
            .collect::<Result<Vec<_>, Failure>>()?;
        self.step(|db| put_sky(db, frame_id, sky, strongest, active_id))?;
        self.step(|db| put_radiants(db, frame_id, &radiants))
    }

    /// Notes that a night's sessions are to be found anew, in case this run is killed before they are.
    pub fn mark_pending(&self, night: &BodyNight) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached(
                "INSERT OR IGNORE INTO derived_pending (night, camera_id) VALUES (?, ?)",
            )?
            .execute(params![night.night, night.camera_id.unwrap_or(0)])?;
            Ok(())
        })
    }

    /// Every body's frames in one night.
    pub fn night_frames(&self, night: &str) -> Result<Vec<NightFrame>, Failure> {
        self.step(|db| {
            db.prepare_cached(
                "SELECT time.frame_id, time.start_ms, frame.clock_s, frame.clock_fraction, frame.exposure_s,
                        frame.focal_mm, time.site_id, folder.path || '/' || file.name, time.session_id,
                        frame.camera_id, frame.iso, said.kind, look.median, look.spread, look.glint, told.focal_mm,
                        EXISTS (SELECT 1 FROM derived_finding AS finding WHERE finding.frame_id = time.frame_id
                                AND (finding.code = 'clock-twice' OR finding.code = 'clock-never'
                                     OR finding.code = 'clock-ran-on')),
                        file.thumbnail_bytes
                 -- CROSS keeps the order: from the night outward, whatever the planner thinks of the tables' sizes.
                 FROM derived_time AS time
                 CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 CROSS JOIN written_file AS file ON file.file_id = frame.first_file_id
                 CROSS JOIN written_folder AS folder ON folder.folder_id = file.folder_id
                 LEFT JOIN stated_kind AS said ON said.frame_id = time.frame_id
                 LEFT JOIN stated_focal AS told ON told.frame_id = time.frame_id
                 LEFT JOIN derived_look AS look ON look.frame_id = time.frame_id
                 WHERE time.night_day = ?",
            )?
            .query_map([day_of(night)], |row| {
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
                    look: look(row, 12)?,
                    thumbnail_bytes: row
                        .get::<_, Option<i64>>(17)?
                        .and_then(|n| u64::try_from(n).ok()),
                };
                Ok(NightFrame {
                    frame,
                    camera_id: row.get(9)?,
                    doubtful_hour: row.get(16)?,
                })
            })?
            .collect()
        })
    }
}

fn look(row: &Row<'_>, column: usize) -> rusqlite::Result<Option<Look>> {
    let Some(median) = row.get(column)? else {
        return Ok(None);
    };
    Ok(Some(Look {
        median,
        spread: row.get(column + 1)?,
        glint: row.get(column + 2)?,
    }))
}

/// Takes away what was derived of a frame and will not be written over: radiants of showers that are not active over
/// it now, findings, and the sky where there is none now. Its row of time stays until it is written anew: it knows the
/// frame's session, by which a session keeps its number.
fn forget(db: &Connection, frame_id: i64, now: Option<&FrameSky>) -> rusqlite::Result<()> {
    let before: Option<String> = db
        .prepare_cached("SELECT showers FROM derived_sky JOIN derived_active USING (active_id) WHERE frame_id = ?")?
        .query_row([frame_id], |row| row.get(0))
        .optional()?;
    let stays =
        |code: &str| now.is_some_and(|sky| sky.radiants.iter().any(|r| r.shower.as_str() == code));
    for code in before.iter().flat_map(|codes| codes.split(' ')) {
        if !stays(code) {
            db.prepare_cached(
                "DELETE FROM derived_radiant
                 WHERE shower_id = (SELECT shower_id FROM derived_shower WHERE code = ?) AND frame_id = ?",
            )?
            .execute(params![code, frame_id])?;
        }
    }
    if now.is_none() {
        db.prepare_cached("DELETE FROM derived_sky WHERE frame_id = ?")?
            .execute([frame_id])?;
    }
    db.prepare_cached("DELETE FROM derived_finding WHERE frame_id = ?")?
        .execute([frame_id])?;
    Ok(())
}

/// Takes a frame away with all that was derived from it and stated of it.
pub(super) fn drop_frame(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    forget(db, frame_id, None)?;
    stated_places::unsay(db, frame_id)?;
    await_grouping(db, frame_id)?;
    for sql in [
        "DELETE FROM derived_time WHERE frame_id = ?",
        "DELETE FROM stated_kind WHERE frame_id = ?",
        "DELETE FROM stated_focal WHERE frame_id = ?",
        "DELETE FROM derived_look WHERE frame_id = ?",
        "DELETE FROM written_frame WHERE frame_id = ?",
    ] {
        db.prepare_cached(sql)?.execute([frame_id])?;
    }
    Ok(())
}

const INSERT_TIME: &str = "
    INSERT INTO derived_time (frame_id, start_ms, time_basis_no, time_error_ms, site_id, lat_deg, lon_deg, elev_m,
                              place_basis_no, night_day, maker_id)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)";

/// Leaves session and position as they are: by them a session keeps its number when its nights are grouped anew.
const UPDATE_TIME: &str = "
    UPDATE derived_time SET start_ms = ?2, time_basis_no = ?3, time_error_ms = ?4, site_id = ?5, lat_deg = ?6,
        lon_deg = ?7, elev_m = ?8, place_basis_no = ?9, night_day = ?10, maker_id = ?11
    WHERE frame_id = ?1";

fn put_time(
    db: &Connection,
    frame_id: i64,
    derived: Derived,
    maker_id: i64,
    placed: &PlacedFrame,
) -> rusqlite::Result<()> {
    // A site's own position stands with the site.
    let place = placed
        .place
        .filter(|_| placed.place_basis != PlaceBasis::Site);
    db.prepare_cached(match derived {
        Derived::FirstTime => INSERT_TIME,
        Derived::Again => UPDATE_TIME,
    })?
    .execute(params![
        frame_id,
        placed.start_utc.map(Utc::unix_ms),
        placed.time_basis.number(),
        placed.time_error_s.map(thousandths),
        placed.site_id,
        place.map(Place::lat_deg),
        place.map(Place::lon_deg),
        place.map(Place::elev_m),
        placed.place_basis.number(),
        placed.night.as_deref().and_then(day_of),
        maker_id,
    ])?;
    if derived == Derived::Again && placed.night.is_none() {
        leave_session(db, frame_id)?;
    }
    Ok(())
}

fn put_sky(
    db: &Connection,
    frame_id: i64,
    sky: &FrameSky,
    strongest: Option<i64>,
    active_id: Option<i64>,
) -> rusqlite::Result<()> {
    db.prepare_cached(
        "INSERT OR REPLACE INTO derived_sky (frame_id, sun_alt, moon_alt, moon_az, moon_lit_ppm, lst, solar_lon, shower_id, active_id)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )?
    .execute(params![
        frame_id,
        sky.sun_alt_deg.map(tenths),
        sky.moon_alt_deg.map(tenths),
        sky.moon_az_deg.map(tenths_round),
        millionths(sky.moon_lit),
        sky.lst_deg.map(tenths_round),
        tenths_round(sky.solar_lon_deg),
        strongest,
        active_id,
    ])?;
    Ok(())
}

/// Radiants, each with its shower's number.
fn put_radiants(
    db: &Connection,
    frame_id: i64,
    radiants: &[(i64, &RadiantSky)],
) -> rusqlite::Result<()> {
    let mut insert = db.prepare_cached(
        "INSERT OR REPLACE INTO derived_radiant (shower_id, frame_id, stood, seen, moon_sep, rate_milli)
         VALUES (?, ?, ?, ?, ?, ?)",
    )?;
    for (shower_id, r) in radiants {
        insert.execute(params![
            shower_id,
            frame_id,
            direction(r.alt_deg, r.az_deg),
            direction(r.seen_alt_deg, r.seen_az_deg),
            tenths(r.moon_sep_deg),
            thousandths(r.rate),
        ])?;
    }
    Ok(())
}
