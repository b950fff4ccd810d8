//! The sky over a site at one instant, as a picture shows it: directions among the stars -> east, north, up, refraction
//! included. Knows no objects.

use sofars::vm::s2c;

use super::direction::Direction;
use super::direction::Matrix;
use super::direction::Vector;
use super::observer::View;
use super::seen::arrival_kms;
use super::seen::ground_kms;
use super::seen::ground_moved;
use super::seen::refraction;
use super::seen::zenith_attracted;
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
}

impl Horizon {
    pub(super) fn new(view: View, elev_m: f64, cos_lat: f64, solar_lon_deg: f64) -> Self {
        Self {
            view,
            air: SEA_LEVEL * (-elev_m / SCALE_HEIGHT_M).exp(),
            ground_kms: ground_kms(cos_lat, elev_m),
            solar_lon_deg,
        }
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
            RadiantDirection {
                shower: shower.code,
                among_stars: self.seen(icrs),
                trails_from: [from.east, from.north, from.up],
            }
        };
        active(self.solar_lon_deg).map(here).collect()
    }

    /// The axes of the horizon (east, north, up) among the stars, without aberration: what turns with the Earth.
    pub fn axes(&self) -> Matrix {
        self.view.axes()
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

    /// A geometric direction (east, north, up) lifted by the air.
    pub fn lifted(&self, [east, north, up]: Vector) -> Vector {
        let there = Direction { east, north, up };
        let alt = there.altitude();
        let lifted = Angle::from_rad(alt.rad() + self.air * refraction(alt).rad());
        let seen = Direction::from_alt_az(lifted, there.azimuth());
        [seen.east, seen.north, seen.up]
    }
}
