//! The catalogued stars over a place at an instant, as seen: for pictures that are drawn.

use crate::pointing::stars::stars;
use crate::sky::look::Looker;
use crate::terms::site::Place;
use crate::terms::time::Utc;

/// Julian years of 2000.0 after 1970, and milliseconds of one.
const EPOCH: (f64, f64) = (30.0, 365.25 * 86_400_000.0);

/// A star over a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StarOver {
    /// Its direction as seen, refraction included, as a unit vector.
    pub north_east_up: [f64; 3],
    /// Its light in units of a star of magnitude 0.
    pub light: f64,
}

/// Every catalogued star over a place: milliseconds since 1970; latitude and longitude in degrees, elevation in metres. Nothing where
/// the time or the place is outside the models.
pub fn stars_over(unix_ms: i64, (lat_deg, lon_deg, elev_m): (f64, f64, f64)) -> Vec<StarOver> {
    let at = Utc::from_unix_ms(unix_ms);
    let place = Place::new(lat_deg, lon_deg, elev_m);
    let horizon = at
        .zip(place)
        .and_then(|(at, place)| Looker::new().horizon(at, place));
    let Some(horizon) = horizon else {
        return Vec::new();
    };
    let years = unix_ms as f64 / EPOCH.1 - EPOCH.0;
    stars()
        .iter()
        .map(|star| {
            let [east, north, up] = horizon.seen(star.direction(years));
            StarOver {
                north_east_up: [north, east, up],
                light: star.light,
            }
        })
        .collect()
}
