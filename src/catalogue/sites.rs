//! The site book in the catalogue.

use rusqlite::Row;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::words::fill_zone;
use crate::terms::failure::Failure;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SiteOrigin;
use crate::terms::site::SkyBrightness;

const COLUMNS: &str =
    "site_id, name, lat_deg, lon_deg, elev_m, zone, origin, sqm_mag, limiting_mag, of_track";

impl Catalogue {
    /// Every site of the book, by number.
    pub fn sites(&self) -> Result<Vec<Site>, Failure> {
        let sql = format!("SELECT {COLUMNS} FROM stated_site ORDER BY site_id");
        self.rows(&sql, [], site)
    }

    /// The site of that name, ignoring case.
    pub fn site_named(&self, name: &str) -> Result<Option<Site>, Failure> {
        let sql = format!("SELECT {COLUMNS} FROM stated_site WHERE name = ?1");
        self.row_if_any(&sql, [name], site)
    }

    /// Adds a site to the book and returns its number.
    pub fn add_site(&self, site: &Site) -> Result<i64, Failure> {
        if let Some(zone) = &site.zone {
            self.step(|db| fill_zone(db, zone))?;
        }
        self.insert(
            "INSERT INTO stated_site (name, lat_deg, lon_deg, elev_m, zone, origin, sqm_mag, limiting_mag, of_track)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                &site.name,
                site.place.lat_deg(),
                site.place.lon_deg(),
                site.place.elev_m(),
                &site.zone,
                kept_origin(site),
                sqm(site),
                limiting(site),
                site.origin == SiteOrigin::Track,
            ),
        )
    }
}

fn site(row: &Row<'_>) -> rusqlite::Result<Site> {
    let place = Place::new(row.get(2)?, row.get(3)?, row.get(4)?)
        .ok_or(rusqlite::Error::IntegralValueOutOfRange(2, 0))?;
    Ok(Site {
        id: row.get(0)?,
        name: row.get(1)?,
        place,
        zone: row.get(5)?,
        origin: match (row.get_ref(6)?.as_str()?, row.get(9)?) {
            ("exif", true) => SiteOrigin::Track,
            ("exif", false) => SiteOrigin::Exif,
            _ => SiteOrigin::Stated,
        },
        brightness: match (row.get(7)?, row.get(8)?) {
            (Some(sqm), _) => Some(SkyBrightness::Sqm(sqm)),
            (None, Some(magnitude)) => Some(SkyBrightness::LimitingMagnitude(magnitude)),
            (None, None) => None,
        },
    })
}

/// The stored word for a site's origin; whether a position was from a track is stored beside it.
pub(super) fn kept_origin(site: &Site) -> &'static str {
    match site.origin {
        SiteOrigin::Stated => "stated",
        SiteOrigin::Exif | SiteOrigin::Track => "exif",
    }
}

pub(super) fn sqm(site: &Site) -> Option<f64> {
    match site.brightness {
        Some(SkyBrightness::Sqm(sqm)) => Some(sqm),
        _ => None,
    }
}

pub(super) fn limiting(site: &Site) -> Option<f64> {
    match site.brightness {
        Some(SkyBrightness::LimitingMagnitude(magnitude)) => Some(magnitude),
        _ => None,
    }
}
