//! Positions in the sky of a site, to a third of a degree, which is enough to paint them. No refraction, no drift.
//!
//! Own formulas on purpose: the pictures must not be drawn with the sky they help to check.

use std::f64::consts::TAU;

/// A direction with length 1: north, east and up over a site; or towards RA 0°, RA 90° and the pole.
pub type Arrow = [f64; 3];

/// The turn of the sky over one site at one instant.
#[derive(Clone, Copy)]
pub struct Watch {
    days: f64,
    sidereal: (f64, f64),
    latitude: (f64, f64),
}

impl Watch {
    /// Takes: milliseconds since 1970 (UTC), latitude (north +) and longitude (east +) in degrees.
    ///
    /// Source: mean sidereal time of 1982, linear terms (from memory).
    pub fn new(unix_ms: i64, lat_deg: f64, lon_deg: f64) -> Self {
        let days = unix_ms as f64 / 86_400_000.0 + 2_440_587.5 - 2_451_545.0;
        let turn = 280.460_618_37 + 360.985_647_366_29 * days + lon_deg;
        Self {
            days,
            sidereal: turn.rem_euclid(360.0).to_radians().sin_cos(),
            latitude: lat_deg.to_radians().sin_cos(),
        }
    }

    /// A direction among the stars as a direction over the site.
    pub fn over_site(&self, star: Arrow) -> Arrow {
        let (sin_t, cos_t) = self.sidereal;
        let (sin_l, cos_l) = self.latitude;
        let towards_meridian = star[0] * cos_t + star[1] * sin_t;
        let westward = star[0] * sin_t - star[1] * cos_t;
        [
            star[2] * cos_l - towards_meridian * sin_l,
            -westward,
            star[2] * sin_l + towards_meridian * cos_l,
        ]
    }

    /// The pole of the Sun's path, as a direction over the site.
    pub fn ecliptic_pole(&self) -> Arrow {
        self.over_site(from_ecliptic(0.0, 90.0))
    }

    /// The Sun, as a direction over the site.
    ///
    /// Source: the almanacs' short formula, good to 0.01° (from memory).
    pub fn sun(&self) -> Arrow {
        let g = (357.528 + 0.985_600_3 * self.days).to_radians();
        let lon = 280.460 + 0.985_647_4 * self.days + 1.915 * g.sin() + 0.020 * (2.0 * g).sin();
        self.over_site(from_ecliptic(lon, 0.0))
    }

    /// The Moon, as a direction over the site; the site's own shift (up to 1°) is left out.
    ///
    /// Source: the almanacs' short series, good to 0.3° (from memory).
    pub fn moon(&self) -> Arrow {
        let t = self.days / 36_525.0;
        let wave = |size: f64, at: f64, speed: f64| size * (at + speed * t).to_radians().sin();
        let lon = 218.32
            + 481_267.881 * t
            + wave(6.29, 135.0, 477_198.87)
            + wave(-1.27, 259.3, -413_335.36)
            + wave(0.66, 235.7, 890_534.22)
            + wave(0.21, 269.9, 954_397.74)
            + wave(-0.19, 357.5, 35_999.05)
            + wave(-0.11, 186.5, 966_404.03);
        let lat = wave(5.13, 93.3, 483_202.02)
            + wave(0.28, 228.2, 960_400.89)
            + wave(-0.28, 318.3, 6_003.15)
            + wave(-0.17, 217.6, -407_332.21);
        self.over_site(from_ecliptic(lon, lat))
    }
}

/// A direction from right ascension and declination in degrees; or from azimuth (from north through east)
/// and altitude.
pub fn arrow(around_deg: f64, up_deg: f64) -> Arrow {
    let (sin_a, cos_a) = around_deg.to_radians().sin_cos();
    let (sin_u, cos_u) = up_deg.to_radians().sin_cos();
    [cos_u * cos_a, cos_u * sin_a, sin_u]
}

/// Altitude of a direction over a site, in degrees.
pub fn altitude_deg(over_site: Arrow) -> f64 {
    over_site[2].clamp(-1.0, 1.0).asin().to_degrees()
}

/// Azimuth of a direction over a site, from north through east, 0° to 360°.
pub fn azimuth_deg(over_site: Arrow) -> f64 {
    over_site[1]
        .atan2(over_site[0])
        .rem_euclid(TAU)
        .to_degrees()
}

/// The product that is the cosine of the angle between two directions.
pub fn dot(a: Arrow, b: Arrow) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The direction square to both.
pub fn cross(a: Arrow, b: Arrow) -> Arrow {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// The same direction with length 1.
pub fn to_length_one(a: Arrow) -> Arrow {
    let length = dot(a, a).sqrt().max(1e-12);
    a.map(|part| part / length)
}

/// The angle between two directions in degrees.
pub fn apart_deg(a: Arrow, b: Arrow) -> f64 {
    dot(a, b).clamp(-1.0, 1.0).acos().to_degrees()
}

/// The direction reached from `from` by going `deg` along the great circle that leads away from `origin`.
pub fn onward(origin: Arrow, from: Arrow, deg: f64) -> Arrow {
    let axis = to_length_one(cross(origin, from));
    let ahead = cross(axis, from);
    let (sin, cos) = deg.to_radians().sin_cos();
    [0, 1, 2].map(|k| from[k] * cos + ahead[k] * sin)
}

fn from_ecliptic(lon_deg: f64, lat_deg: f64) -> Arrow {
    let [x, y, z] = arrow(lon_deg, lat_deg);
    let (sin, cos) = 23.4393_f64.to_radians().sin_cos();
    [x, y * cos - z * sin, y * sin + z * cos]
}
