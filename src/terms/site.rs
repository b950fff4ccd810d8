//! A place on Earth, and a named one. Range-checked on the way in; never guesses.

use crate::terms::words::words;

/// A point on Earth: geodetic latitude (north +), longitude (east +), both on WGS 84, and elevation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    lat_deg: f64,
    lon_deg: f64,
    elev_m: f64,
}

impl Place {
    /// Builds a place.
    ///
    /// Refuses: a latitude outside -90..=90, a longitude outside -180..=180, an elevation outside -500..=60,000 m
    /// (lower than any shore, higher than any aeroplane or balloon with a camera), NaN.
    pub fn new(lat_deg: f64, lon_deg: f64, elev_m: f64) -> Option<Self> {
        let fits = (-90.0..=90.0).contains(&lat_deg)
            && (-180.0..=180.0).contains(&lon_deg)
            && (-500.0..=60_000.0).contains(&elev_m);
        fits.then_some(Self {
            lat_deg,
            lon_deg,
            elev_m,
        })
    }

    /// Geodetic latitude in degrees, north positive.
    pub const fn lat_deg(self) -> f64 {
        self.lat_deg
    }

    /// Longitude in degrees, east positive.
    pub const fn lon_deg(self) -> f64 {
        self.lon_deg
    }

    /// Elevation in metres.
    pub const fn elev_m(self) -> f64 {
        self.elev_m
    }

    /// Distance along the ground in metres, on a sphere of the Earth's mean radius: to decide whether a position is at
    /// a site.
    ///
    /// Good to: 0.6 % of the distance (the sphere against WGS 84). Source: haversine formula, common practice; mean
    /// radius 6,371,008.8 m (IUGG, from memory).
    pub fn distance_m(self, other: Self) -> f64 {
        let (p1, p2) = (self.lat_deg.to_radians(), other.lat_deg.to_radians());
        let dp = (p2 - p1) / 2.0;
        let dl = (other.lon_deg - self.lon_deg).to_radians() / 2.0;
        let h = dp.sin().powi(2) + p1.cos() * p2.cos() * dl.sin().powi(2);
        2.0 * 6_371_008.8 * h.sqrt().min(1.0).asin()
    }
}

/// A named place for tripods, with its time zone.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// The catalogue's number for it; 0 before it is stored.
    pub id: i64,
    /// The name the photographer uses.
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// Its IANA time zone (`Europe/Rome`), if known.
    pub zone: Option<String>,
    /// How it came into the site book.
    pub origin: SiteOrigin,
    /// How dark its sky is on a moonless night, if stated.
    pub brightness: Option<SkyBrightness>,
}

/// How dark a moonless night's sky is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SkyBrightness {
    /// Surface brightness at the zenith, magnitudes a square arcsecond; a larger number is a darker sky.
    Sqm(f64),
    /// Magnitude of the faintest visible star.
    LimitingMagnitude(f64),
}

words! {
    /// How a site came into the site book.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum SiteOrigin {
        /// The photographer stated it.
        Stated = "stated",
        /// It was created for the GPS position of a frame.
        Exif = "exif",
        /// It was created for a position on a recorded track.
        Track = "track",
    }
}

/// A frame's own position.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GpsPosition {
    /// Latitude, north positive.
    pub lat_deg: Option<f64>,
    /// Longitude, east positive.
    pub lon_deg: Option<f64>,
    /// Altitude in metres.
    pub elev_m: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_that_are_not_on_earth_are_refused() {
        assert!(Place::new(-31.45, -70.72, 2400.0).is_some());
        assert!(Place::new(90.1, 0.0, 0.0).is_none());
        assert!(Place::new(0.0, 180.5, 0.0).is_none());
        assert!(Place::new(f64::NAN, 0.0, 0.0).is_none());
        assert!(Place::new(0.0, 0.0, f64::INFINITY).is_none());
    }

    #[test]
    fn a_degree_of_latitude_is_about_111_km() {
        let a = Place::new(45.0, 10.0, 0.0).unwrap();
        let b = Place::new(46.0, 10.0, 0.0).unwrap();
        assert!((a.distance_m(b) - 111_195.0).abs() < 1.0);
        let west = Place::new(0.0, 179.99, 0.0).unwrap();
        let east = Place::new(0.0, -179.99, 0.0).unwrap();
        assert!(west.distance_m(east) < 2_300.0, "the date line is no wall");
    }
}
