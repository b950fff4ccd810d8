//! Stores time, place and sky of frames as rows. In a frame that has rows already, unchanged values are not written:
//! the costly parts of a row are its index entries and the rows that its keys refer to. Computes no value.

use rusqlite::Connection;
use rusqlite::OptionalExtension;
use rusqlite::ToSql;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::Derived;
use crate::catalogue::columns::Columns;
use crate::catalogue::columns::FromColumns;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::read;
use crate::catalogue::findings::follows_from_row;
use crate::catalogue::numbers::leave_session;
use crate::catalogue::rows::put_findings;
use crate::catalogue::run_sql::forget;
use crate::catalogue::scale::Numbered;
use crate::catalogue::scale::date_of;
use crate::catalogue::scale::thousandths;
use crate::catalogue::sky_rows::SkyKeys;
use crate::catalogue::sky_rows::forget_radiants;
use crate::catalogue::sky_rows::forget_sky;
use crate::catalogue::sky_rows::move_radiants;
use crate::catalogue::sky_rows::put_angles;
use crate::catalogue::sky_rows::put_radiants;
use crate::catalogue::sky_rows::put_sky_row;
use crate::terms::basis::PlaceBasis;
use crate::terms::failure::Failure;
use crate::terms::records::FrameSky;
use crate::terms::records::PlacedFrame;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::terms::time::day_of_date;

/// The previously derived data of a frame that is derived again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SkyBefore {
    /// Whether it had a row of time and place.
    pub derived: bool,
    /// When its shutter opened.
    pub start_utc: Option<Utc>,
    /// Its night.
    pub night: Option<String>,
    /// Whether its place was known.
    pub placed: bool,
    /// Whether its place or its site was not what it is now.
    pub place_differs: bool,
    /// Its main shower, with altitude and azimuth of the radiant in degrees.
    pub radiant: Option<(ShowerCode, f64, f64)>,
    /// The rate of that shower under the frame's own sky.
    pub seen_rate: Option<f64>,
}

/// A row of time and place, as stored.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct TimeRow {
    start_ms: Option<i64>,
    time_basis_no: Option<i64>,
    time_error_ms: Option<i64>,
    lat_deg: Option<f64>,
    lon_deg: Option<f64>,
    elev_m: Option<f64>,
    place_basis_no: Option<i64>,
    keys: TimeKeys,
}

/// The columns that have an index of their own, or refer to another row.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct TimeKeys {
    site_id: Option<i64>,
    night_day: Option<i64>,
    maker_id: Option<i64>,
}

/// The stored data of a frame that is derived again.
struct Kept {
    time: TimeRow,
    sky: Option<SkyKeys>,
    has_findings: bool,
    radiant: Option<(ShowerCode, f64, f64)>,
    seen_rate: Option<f64>,
}

impl Batch<'_> {
    /// Stores a frame's time, place and sky, and returns the previous data.
    pub fn put_derived(
        &self,
        frame_id: i64,
        derived: Derived,
        maker_id: i64,
        placed: &PlacedFrame,
        sky: Option<&FrameSky>,
    ) -> Result<SkyBefore, Failure> {
        let mut kept = match derived {
            Derived::FirstTime => None,
            Derived::Again => self.step(|db| kept(db, frame_id))?,
        };
        if self.take_pending(frame_id, derived)?
            && let Some(kept) = &mut kept
        {
            kept.sky = None;
            kept.has_findings = false;
        }
        let row = time_row(placed, Some(maker_id));
        self.count_made(
            kept.as_ref().and_then(|kept| kept.time.keys.maker_id),
            Some(maker_id),
        );
        self.step(|db| {
            match &kept {
                None => put_time(db, INSERT_TIME, frame_id, &row)?,
                Some(kept) if kept.time == row => {}
                Some(kept) if kept.time.keys == row.keys => {
                    put_time(db, UPDATE_MOMENT, frame_id, &row)?;
                }
                Some(_) => put_time(db, UPDATE_TIME, frame_id, &row)?,
            }
            if derived == Derived::Again && row.keys.night_day.is_none() {
                leave_session(db, frame_id)?;
            }
            if kept.as_ref().is_some_and(|kept| kept.has_findings) {
                forget_findings(db, frame_id)?;
            }
            put_findings(
                db,
                "INSERT INTO derived_finding (frame_id, code, saw, did) VALUES (?, ?, ?, ?)",
                frame_id,
                placed.findings.iter().filter(|f| !follows_from_row(f)),
            )
        })?;
        let sky_before = kept.as_ref().and_then(|kept| kept.sky);
        match sky {
            Some(sky) => self.put_sky(frame_id, placed.start_utc, sky_before, sky)?,
            None if sky_before.is_some() => self.step(|db| forget_sky(db, frame_id))?,
            None => {}
        }
        Ok(kept.map_or_else(SkyBefore::default, |kept| SkyBefore {
            derived: true,
            start_utc: kept.time.start_ms.and_then(Utc::from_unix_ms),
            night: kept.time.night(),
            placed: kept.time.place_basis_no != PlaceBasis::None.number(),
            place_differs: kept.time.place() != row.place(),
            radiant: kept.radiant,
            seen_rate: kept.seen_rate,
        }))
    }

    pub(super) fn put_sky(
        &self,
        frame_id: i64,
        start_utc: Option<Utc>,
        before: Option<SkyKeys>,
        sky: &FrameSky,
    ) -> Result<(), Failure> {
        let mut showers = String::with_capacity(sky.radiants.len() * 4);
        for radiant in &sky.radiants {
            if !showers.is_empty() {
                showers.push(' ');
            }
            showers.push_str(radiant.shower.as_str());
        }
        let active_id = self.ensure_active(&showers)?;
        if let (Some(start), Some(active_id)) = (start_utc, active_id) {
            self.note_day(start, active_id)?;
        }
        let now = SkyKeys {
            shower_id: sky.strongest.map(|s| self.ensure_shower(s)).transpose()?,
            main_shower_id: sky.main_shower.map(|s| self.ensure_shower(s)).transpose()?,
            active_id,
        };
        let radiants = sky
            .radiants
            .iter()
            .map(|radiant| Ok((self.ensure_shower(radiant.shower)?, radiant)))
            .collect::<Result<Vec<_>, Failure>>()?;
        self.step(|db| {
            let same_showers = before.is_some_and(|before| before.active_id == now.active_id);
            if before.is_some() && !same_showers {
                forget_radiants(db, frame_id)?;
            }
            if before == Some(now) {
                put_angles(db, frame_id, sky)?;
            } else {
                put_sky_row(db, frame_id, sky, now)?;
            }
            if same_showers {
                move_radiants(db, frame_id, &radiants)
            } else {
                put_radiants(db, frame_id, &radiants)
            }
        })
    }
}

fn kept(db: &Connection, frame_id: i64) -> rusqlite::Result<Option<Kept>> {
    db.prepare_cached(
        "SELECT time.start_ms, time.time_basis_no, time.time_error_ms, time.lat_deg, time.lon_deg, time.elev_m,
                time.place_basis_no, time.site_id, time.night_day, time.maker_id, sky.frame_id IS NOT NULL, sky.shower_id,
                sky.main_shower_id, sky.active_id, EXISTS (SELECT 1 FROM derived_finding AS finding WHERE finding.frame_id = time.frame_id),
                shower.code, radiant.alt_deg, radiant.az_deg, radiant.seen_rate
         FROM derived_time AS time
         LEFT JOIN derived_sky AS sky ON sky.frame_id = time.frame_id
         LEFT JOIN derived_shower AS shower ON shower.shower_id = sky.main_shower_id
         LEFT JOIN derived_radiant AS radiant
           ON radiant.shower_id = sky.main_shower_id AND radiant.frame_id = time.frame_id
         WHERE time.frame_id = ?",
    )?
    .query_row([frame_id], read)
    .optional()
}

columns!(Kept: time sky has_findings radiant seen_rate);
columns!(TimeRow: start_ms time_basis_no time_error_ms lat_deg lon_deg elev_m place_basis_no keys);
columns!(TimeKeys: site_id night_day maker_id);

/// Whether there is a sky row, and its references.
impl FromColumns for Option<SkyKeys> {
    fn read(columns: &mut Columns<'_>) -> rusqlite::Result<Self> {
        let is_there: bool = columns.next()?;
        let [shower_id, main_shower_id, active_id] = columns.next()?;
        Ok(is_there.then_some(SkyKeys {
            shower_id,
            main_shower_id,
            active_id,
        }))
    }
}

impl TimeRow {
    /// Whether a frame with this row would be placed differently. Its maker and its night do not count: rows of another
    /// maker are stale, and a night may have begun before its own noon.
    pub(super) fn differs(&self, placed: &PlacedFrame) -> bool {
        let now = time_row(placed, None);
        let keys = TimeKeys {
            site_id: now.keys.site_id,
            ..self.keys
        };
        *self != TimeRow { keys, ..now }
    }

    /// Its site, and its own place.
    fn place(&self) -> (Option<i64>, [Option<f64>; 3]) {
        let own = [self.lat_deg, self.lon_deg, self.elev_m];
        (self.keys.site_id, own)
    }

    /// The stored night of the frame.
    pub(super) fn night(&self) -> Option<String> {
        date_of(self.keys.night_day?)
    }
}

fn time_row(placed: &PlacedFrame, maker_id: Option<i64>) -> TimeRow {
    // A site's own position is stored with the site.
    let place = placed
        .place
        .filter(|_| placed.place_basis != PlaceBasis::Site);
    TimeRow {
        start_ms: placed.start_utc.map(Utc::unix_ms),
        time_basis_no: placed.time_basis.number(),
        time_error_ms: placed.time_error_s.map(thousandths),
        lat_deg: place.map(Place::lat_deg),
        lon_deg: place.map(Place::lon_deg),
        elev_m: place.map(Place::elev_m),
        place_basis_no: placed.place_basis.number(),
        keys: TimeKeys {
            site_id: placed.site_id,
            night_day: placed.night.as_deref().and_then(day_of_date),
            maker_id,
        },
    }
}

const INSERT_TIME: &str = "
    INSERT INTO derived_time (frame_id, start_ms, time_basis_no, time_error_ms, lat_deg, lon_deg, elev_m, place_basis_no,
                              site_id, night_day, maker_id)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)";

/// Leaves session and position unchanged: from them a session gets its number back when its nights are grouped again.
const UPDATE_TIME: &str = "
    UPDATE derived_time SET start_ms = ?2, time_basis_no = ?3, time_error_ms = ?4, lat_deg = ?5, lon_deg = ?6, elev_m = ?7,
        place_basis_no = ?8, site_id = ?9, night_day = ?10, maker_id = ?11
    WHERE frame_id = ?1";

/// The same for a frame that stays in its night and at its site.
const UPDATE_MOMENT: &str = "
    UPDATE derived_time SET start_ms = ?2, time_basis_no = ?3, time_error_ms = ?4, lat_deg = ?5, lon_deg = ?6, elev_m = ?7,
        place_basis_no = ?8
    WHERE frame_id = ?1";

/// Runs one of these statements with as many of the values as it takes.
fn put_time(db: &Connection, sql: &str, frame_id: i64, row: &TimeRow) -> rusqlite::Result<()> {
    let values: [&dyn ToSql; 11] = [
        &frame_id,
        &row.start_ms,
        &row.time_basis_no,
        &row.time_error_ms,
        &row.lat_deg,
        &row.lon_deg,
        &row.elev_m,
        &row.place_basis_no,
        &row.keys.site_id,
        &row.keys.night_day,
        &row.keys.maker_id,
    ];
    let mut statement = db.prepare_cached(sql)?;
    let taken = statement.parameter_count();
    statement.execute(&values[..taken])?;
    Ok(())
}

/// Deletes the findings of a frame.
pub(super) fn forget_findings(db: &Connection, frame_id: i64) -> rusqlite::Result<()> {
    forget(
        db,
        &["DELETE FROM derived_finding WHERE frame_id = ?"],
        frame_id,
    )
}
