//! Changes of the site book, and the frames that a change affects.

use std::collections::BTreeSet;

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::sites;
use crate::catalogue::words::fill_zone;
use crate::catalogue::words::remove_unused_zones;
use crate::terms::failure::Failure;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SiteOrigin;

/// How many frames of a session, or without one, a site affects.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AtSite {
    /// The session.
    pub session_id: Option<i64>,
    /// Its frames there.
    pub frames: i64,
}

columns!(AtSite: session_id frames);

/// Frames at a site, by statement or as derived.
const AT_SITE: &str = "SELECT frame.frame_id FROM stated_place AS place
    CROSS JOIN written_frame AS frame ON frame.frame_id BETWEEN place.first_frame AND place.last_frame
    WHERE place.site_id = ?1
    UNION SELECT frame_id FROM derived_time WHERE site_id = ?1";

impl Catalogue {
    /// The frames that get their place or name from a site, session by session. Frames that were stated to be there but
    /// have a position of their own elsewhere are not among them.
    pub fn sessions_at_site(&self, site_id: i64) -> Result<Vec<AtSite>, Failure> {
        self.all(
            "SELECT session_id, count(*) FROM derived_time WHERE site_id = ?1 GROUP BY 1 ORDER BY 1",
            [site_id],
        )
    }
}

impl Batch<'_> {
    /// The numbers of the frames at a site, in order.
    pub fn frames_at_site(&self, site_id: i64) -> Result<Vec<i64>, Failure> {
        self.all(&format!("{AT_SITE} ORDER BY frame_id"), [site_id])
    }

    /// The numbers of the frames that get their place or name from a site.
    pub fn frames_using_site(&self, site_id: i64) -> Result<BTreeSet<i64>, Failure> {
        self.all(
            "SELECT frame_id FROM derived_time WHERE site_id = ?1",
            [site_id],
        )
    }

    /// The numbers of frames with a position of their own within these distances in degrees of latitude and metres of a
    /// place, except those at a site, in order.
    pub fn frames_near(
        &self,
        place: Place,
        within_deg: f64,
        within_m: f64,
        but_at: Option<i64>,
    ) -> Result<Vec<i64>, Failure> {
        let near = |lat: f64, lon: f64| {
            Place::new(lat, lon, 0.0).is_none_or(|there| there.distance_m(place) <= within_m)
        };
        self.step(|db| {
            let mut read = db.prepare(
                "SELECT frame_id, lat_deg, lon_deg FROM derived_time
                 WHERE place_basis_no IN (0, 1) AND abs(lat_deg - ?1) <= ?2 AND (?3 IS NULL OR site_id IS NOT ?3)
                 ORDER BY frame_id",
            )?;
            let mut rows = read.query(params![place.lat_deg(), within_deg, but_at])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                if near(row.get(1)?, row.get(2)?) {
                    found.push(row.get(0)?);
                }
            }
            Ok(found)
        })
    }

    /// Updates a site.
    pub fn change_site(&self, site: &Site) -> Result<(), Failure> {
        self.step(|db| {
            if let Some(zone) = &site.zone {
                fill_zone(db, zone)?;
            }
            db.prepare_cached(
                "UPDATE stated_site SET name = ?2, lat_deg = ?3, lon_deg = ?4, elev_m = ?5, zone = ?6, origin = ?7,
                        sqm_mag = ?8, limiting_mag = ?9, of_track = ?10 WHERE site_id = ?1",
            )?
            .execute(params![
                site.id,
                site.name,
                site.place.lat_deg(),
                site.place.lon_deg(),
                site.place.elev_m(),
                site.zone,
                sites::kept_origin(site),
                sites::sqm(site),
                sites::limiting(site),
                site.origin == SiteOrigin::Track,
            ])?;
            remove_unused_zones(db)
        })
    }

    /// Removes a site from the book, with every statement that a frame was taken there. Values derived from it must be
    /// recomputed.
    pub fn drop_site(&self, site_id: i64) -> Result<(), Failure> {
        self.step(|db| {
            for sql in [
                "DELETE FROM stated_place WHERE site_id = ?",
                "DELETE FROM pending_statement WHERE site_id = ?",
                "UPDATE derived_time SET site_id = NULL WHERE site_id = ?",
                "UPDATE derived_session SET site_id = NULL WHERE site_id = ?",
                "DELETE FROM stated_site WHERE site_id = ?",
            ] {
                db.prepare_cached(sql)?.execute([site_id])?;
            }
            remove_unused_zones(db)
        })
    }
}
