//! The sky over a site at one instant, as a picture shows it: directions among the stars -> east, north, up, refraction
//! included. Knows no objects.

use sofars::vm::pm;
use sofars::vm::pmp;
use sofars::vm::s2c;
use sofars::vm::sxp;

use super::direction::Direction;
use super::direction::Matrix;
use super::direction::Vector;
use super::direction::turned;
use super::observer::View;
use super::rate::rate;
use super::seen::arrival_kms;
use super::seen::ground_kms;
use super::seen::ground_moved;
use super::seen::refraction;
use super::seen::zenith_attracted;
use crate::sky::profile::zhr;
use crate::sky::radiant::radiant;
use crate::sky::shower::Shower;
use crate::sky::showers::active;
use crate::terms::angle::Angle;
use crate::terms::shower::ShowerCode;

/// The height over which the pressure of air falls to a 2.718th, in metres.
///
/// Source: 8,400 m, common practice for dry air near 10 °C, no source.
const SCALE_HEIGHT_M: f64 = 8_400.0;
/// Pressure at sea level in units of what the refraction formula is made for.
///
/// Source: 1013 hPa (standard atmosphere) against 1010 hPa (Saemundsson 1986), both from memory.
const SEA_LEVEL: f64 = 1013.0 / 1010.0;

/// A site's sky at one instant.
#[derive(Clone, Copy, Debug)]
pub struct Horizon {
    view: View,
    air: f64,
    ground_kms: f64,
    solar_lon_deg: f64,
    moon: Direction,
}

/// Where a shower's meteors come from, over a site.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RadiantDirection {
    /// Which shower.
    pub shower: ShowerCode,
    /// The drifted radiant among the stars, as a star there is seen: east, north, up, refraction included.
    pub among_stars: Vector,
    /// Where trails point back to: zenith attraction and the ground's motion, no refraction, since it lifts trails as well.
    pub trails_from: Vector,
    /// Speed at the top of the atmosphere in km/s.
    pub arrival_kms: f64,
    /// Meteors an hour under a good sky.
    pub rate: f64,
    /// Half the size of the area that its meteors come from, in degrees: along the ecliptic, and across it.
    pub half_size_deg: (f64, f64),
    /// The direction of the ecliptic there.
    pub along_ecliptic: Vector,
}

/// Half the size of a radiant's area as photographs show it, in degrees.
///
/// Source: our choice; radiants scatter by about 0.7°.
const RADIANT_DEG: (f64, f64) = (1.5, 1.5);
/// The same of the Taurids, along the ecliptic and across it.
///
/// Source: IMO25 (see [`super::showers`]), text of Table 1: an oval of 20° by 10°.
const TAURIDS_DEG: (f64, f64) = (10.0, 5.0);
/// The same of the antihelion source.
///
/// Source: IMO25 (see [`super::showers`]), text of Table 1: an oval of 30° by 15°.
const ANTIHELION_DEG: (f64, f64) = (15.0, 7.5);
/// Obliquity of the ecliptic at J2000.0 in degrees.
///
/// Source: IAU 2006 (from memory), 84381.406 arcseconds.
const OBLIQUITY_DEG: f64 = 23.439_279;

impl Horizon {
    pub(super) fn new(
        view: View,
        elev_m: f64,
        cos_lat: f64,
        solar_lon_deg: f64,
        moon: Direction,
    ) -> Self {
        Self {
            view,
            air: SEA_LEVEL * (-elev_m / SCALE_HEIGHT_M).exp(),
            ground_kms: ground_kms(cos_lat, elev_m),
            solar_lon_deg,
            moon,
        }
    }

    /// The middle of the Moon as seen: parallax and refraction included.
    ///
    /// Good to: 20 arcseconds, and the air. Checked by: `tests/data/reference/sunmoon.csv`
    pub fn moon(&self) -> Vector {
        self.lifted([self.moon.east, self.moon.north, self.moon.up])
    }

    /// The radiants of the showers active then.
    ///
    /// Good to: radiants as published, see [`radiant`].
    pub fn radiants(&self) -> Vec<RadiantDirection> {
        let here = |shower: &Shower| {
            let there = radiant(shower, self.solar_lon_deg);
            let icrs = s2c(there.ra.rad(), there.dec.rad());
            let pulled = zenith_attracted(self.view.star(icrs), shower.vg_kms);
            let from = ground_moved(pulled, arrival_kms(shower.vg_kms), self.ground_kms);
            let (sin, cos) = OBLIQUITY_DEG.to_radians().sin_cos();
            // The pole of the ecliptic is (0, -sin, cos); across it and the radiant lies the ecliptic.
            let along = [-sin * icrs[2] - cos * icrs[1], cos * icrs[0], sin * icrs[0]];
            RadiantDirection {
                shower: shower.code,
                among_stars: self.seen(icrs),
                trails_from: [from.east, from.north, from.up],
                arrival_kms: arrival_kms(shower.vg_kms),
                rate: rate(zhr(shower, self.solar_lon_deg), pulled.sin_altitude()),
                half_size_deg: match shower.code.as_str() {
                    "ANT" => ANTIHELION_DEG,
                    "NTA" | "STA" => TAURIDS_DEG,
                    _ => RADIANT_DEG,
                },
                along_ecliptic: turned(&self.view.axes(), along),
            }
        };
        active(self.solar_lon_deg).map(here).collect()
    }

    /// The axes of the horizon (east, north, up) among the stars, without aberration: what turns with the Earth.
    pub fn axes(&self) -> Matrix {
        self.view.axes()
    }

    /// The celestial pole among the stars: what the sky turns about.
    pub fn pole(&self) -> Vector {
        self.view.pole()
    }

    /// Geometric direction of an ICRS unit vector: east, north, up.
    ///
    /// Good to: 0.001 arcseconds, as [`super::look::Looker::altaz`].
    pub fn geometric(&self, icrs: Vector) -> Vector {
        let there = self.view.star(icrs);
        [there.east, there.north, there.up]
    }

    /// The same as seen: lifted by the air over a site of this elevation, at 10 °C.
    ///
    /// Good to: 0.1 arcminutes above 15°; a night 20 °C colder bends 7 % more.
    /// Source: [`refraction`], in proportion to the pressure (barometric formula, common practice).
    /// Checked by: `tests/reference/pointing.rs`
    pub fn seen(&self, icrs: Vector) -> Vector {
        self.lifted(self.geometric(icrs))
    }

    /// The ICRS direction that is seen in a direction over the horizon: [`Horizon::seen`] turned round.
    ///
    /// Good to: 0.001 arcseconds above 2°; the air below bends as it likes.
    pub fn icrs_seen_at(&self, seen: Vector) -> Vector {
        // What bends the sky is small and smooth: each step leaves a hundredth of it.
        let axes = self.view.axes();
        let back = |a: Vector| -> Vector {
            std::array::from_fn(|k| axes[0][k] * a[0] + axes[1][k] * a[1] + axes[2][k] * a[2])
        };
        let mut icrs = back(seen);
        for _ in 0..8 {
            let off = back(pmp(&seen, &self.seen(icrs)));
            let next: Vector = std::array::from_fn(|k| icrs[k] + off[k]);
            icrs = sxp(1.0 / pm(next), &next);
        }
        icrs
    }

    /// The geometric direction of what is seen in a direction (east, north, up): [`Horizon::lifted`] turned round.
    pub fn geometric_of_seen(&self, seen: Vector) -> Vector {
        let mut geometric = seen;
        for _ in 0..8 {
            let off = pmp(&seen, &self.lifted(geometric));
            let next: Vector = std::array::from_fn(|k| geometric[k] + off[k]);
            geometric = sxp(1.0 / pm(next), &next);
        }
        geometric
    }

    /// A geometric direction (east, north, up) lifted by the air.
    pub fn lifted(&self, [east, north, up]: Vector) -> Vector {
        let there = Direction { east, north, up };
        let alt = there.altitude();
        let lifted = Angle::from_rad(alt.rad() + self.air * refraction(alt).rad());
        let seen = Direction::from_alt_az(lifted, there.azimuth());
        [seen.east, seen.north, seen.up]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::look::Looker;
    use crate::terms::site::Place;
    use crate::terms::time::Utc;

    #[test]
    fn what_is_seen_comes_back() {
        let at = Utc::parse("2023-12-14T09:12:14.5Z").unwrap();
        let place = Place::new(38.93, -116.01, 1905.0).unwrap();
        let horizon = Looker::new().horizon(at, place).unwrap();
        for alt_deg in [2.0, 5.0, 30.0, 89.9] {
            for az_deg in [10.0, 200.0] {
                let seen =
                    Direction::from_alt_az(Angle::from_deg(alt_deg), Angle::from_deg(az_deg));
                let seen = [seen.east, seen.north, seen.up];
                let again = horizon.seen(horizon.icrs_seen_at(seen));
                assert!(pm(pmp(&seen, &again)) < 5e-9, "{alt_deg} {az_deg}");
                let again = horizon.lifted(horizon.geometric_of_seen(seen));
                assert!(pm(pmp(&seen, &again)) < 5e-9, "{alt_deg} {az_deg}");
            }
        }
        // The pole stands as high as the latitude, but for precession and nutation of the date, which it follows.
        let pole = horizon.pole();
        let axes = horizon.axes();
        let up: f64 = (0..3).map(|k| axes[2][k] * pole[k]).sum();
        assert!((up.asin().to_degrees() - 38.93).abs() < 1e-9);
    }
}
