//! Skies that follow an earlier edition of the shower table: whether there are any, which, and new ones in their place.
//! Computes no value.

use std::path::Path;

use rusqlite::Connection;
use rusqlite::OpenFlags;
use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::files::LOG;
use crate::catalogue::files::as_file;
use crate::catalogue::files::beside;
use crate::catalogue::protected::open_unchanging;
use crate::catalogue::read::instant;
use crate::catalogue::sky_rows::SkyKeys;
use crate::catalogue::sky_rows::forget_sky;
use crate::catalogue::store::Batch;
use crate::terms::failure::Failure;
use crate::terms::records::FrameSky;
use crate::terms::site::Place;
use crate::terms::time::Utc;

/// A frame whose sky follows an earlier edition, with what its sky depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutdatedFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// When the shutter opened.
    pub start_utc: Option<Utc>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// The place used.
    pub place: Option<Place>,
    /// The site, whose sky it is.
    pub site_id: Option<i64>,
}

/// The rows of `derived_maker` of other editions than `?1`.
const OTHER_MAKERS: &str = "SELECT maker_id FROM derived_maker WHERE shower_table <> ?1";

/// The edition of the shower table that some skies of a catalogue follow, where that is another than `edition`. `None` also
/// where there is no catalogue, or it cannot be read: whoever opens it says so. Costs a millisecond however large it is.
pub fn other_edition(path: &Path, edition: &str) -> Option<String> {
    // A pipe would be waited for without end.
    path.is_file().then_some(())?;
    // Without a log the file alone is read: a reader of both would leave files beside it, and where it lies may be a dump.
    let has_log = beside(path, LOG).metadata().is_ok_and(|log| log.len() > 0);
    let opened = if has_log {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        Connection::open_with_flags(as_file(path), flags)
    } else {
        open_unchanging(path)
    };
    opened
        .and_then(|db| {
            db.query_row(
                "SELECT shower_table FROM derived_maker WHERE shower_table <> ? LIMIT 1",
                [edition],
                |row| row.get(0),
            )
        })
        .ok()
}

impl Batch<'_> {
    /// How many frames follow other editions.
    pub fn count_outdated(&self, edition: &str) -> Result<u64, Failure> {
        self.step(|db| {
            db.query_row(
                &format!("SELECT count(*) FROM derived_time WHERE maker_id IN ({OTHER_MAKERS})"),
                [edition],
                |row| row.get::<_, i64>(0),
            )
            .map(i64::unsigned_abs)
        })
    }

    /// The next frames that follow other editions, by their numbers, beyond `after`.
    pub fn outdated_frames(
        &self,
        edition: &str,
        after: i64,
        most: u32,
    ) -> Result<Vec<OutdatedFrame>, Failure> {
        self.step(|db| {
            db.prepare_cached(&format!(
                "SELECT time.frame_id, time.start_ms, frame.exposure_s, ifnull(time.lat_deg, site.lat_deg),
                        ifnull(time.lon_deg, site.lon_deg), ifnull(time.elev_m, site.elev_m), time.site_id
                 FROM derived_time AS time
                 CROSS JOIN written_frame AS frame ON frame.frame_id = time.frame_id
                 LEFT JOIN stated_site AS site ON site.site_id = time.site_id
                 WHERE time.frame_id > ?2 AND time.maker_id IN ({OTHER_MAKERS})
                 ORDER BY time.frame_id LIMIT ?3"
            ))?
            .query_map(params![edition, after, most], |row| {
                let [lat, lon, elev_m] = [3, 4, 5].map(|at| row.get::<_, Option<f64>>(at));
                let place = match (lat?, lon?, elev_m?) {
                    (Some(lat), Some(lon), Some(elev_m)) => Place::new(lat, lon, elev_m),
                    _ => None,
                };
                Ok(OutdatedFrame {
                    frame_id: row.get(0)?,
                    start_utc: instant(row, 1)?,
                    exposure_s: row.get(2)?,
                    place,
                    site_id: row.get(6)?,
                })
            })?
            .collect()
        })
    }

    /// Puts a sky in the place of one that follows another edition; time, place and session stay.
    pub fn renew_sky(
        &self,
        frame: &OutdatedFrame,
        sky: Option<&FrameSky>,
        maker_id: i64,
    ) -> Result<(), Failure> {
        let frame_id = frame.frame_id;
        let before = self.step(|db| {
            db.prepare_cached("UPDATE derived_time SET maker_id = ?2 WHERE frame_id = ?1")?
                .execute([frame_id, maker_id])?;
            db.prepare_cached(
                "SELECT shower_id, main_shower_id, active_id FROM derived_sky WHERE frame_id = ?",
            )?
            .query_row([frame_id], |row| {
                Ok(SkyKeys {
                    shower_id: row.get(0)?,
                    main_shower_id: row.get(1)?,
                    active_id: row.get(2)?,
                })
            })
            .optional()
        })?;
        match sky {
            Some(sky) => self.put_sky(frame_id, frame.start_utc, before, sky),
            None => self.step(|db| forget_sky(db, frame_id)),
        }
    }

    /// Forgets the makers of other editions, once no frame follows them.
    pub fn forget_other_makers(&self, edition: &str) -> Result<(), Failure> {
        self.step(|db| {
            db.execute(
                "DELETE FROM derived_maker WHERE shower_table <> ?1
                 AND maker_id NOT IN (SELECT maker_id FROM derived_time)",
                [edition],
            )?;
            Ok(())
        })
    }
}
