//! One site under the rotating sky: directions among the stars -> east, north, up. Knows no objects, no calendar.

use sofars::astro::ab;
use sofars::astro::ldsun;
use sofars::consts::CMPS;
use sofars::consts::DAU;
use sofars::consts::DAYSEC;
use sofars::consts::DJ00;
use sofars::consts::WGS84;
use sofars::coords::gd2gc;
use sofars::erst::era00;
use sofars::vm::pdp;
use sofars::vm::pm;
use sofars::vm::pmp;
use sofars::vm::rxr;
use sofars::vm::sxp;
use sofars::vm::trxp;
use std::f64::consts::TAU;

use super::direction::Direction;
use super::direction::Matrix;
use super::direction::Vector;
use super::direction::turned;
use super::instant::Instant;
use super::node::Moment;
use crate::terms::angle::Angle;
use crate::terms::site::Place;

/// Turns of the Earth in a day of UT1.
///
/// Source: IERS Conventions 2010, eq. 5.15 (from memory); the same figure is in SOFA, `era00` and `pvtob`.
const TURNS_A_DAY: f64 = 1.002_737_811_911_354_5;

/// A site, with the values that the sky depends on.
#[derive(Clone, Copy, Debug)]
pub struct Observer {
    lon_rad: f64,
    sin_lat: f64,
    cos_lat: f64,
    from_axis_m: f64,
    from_equator_m: f64,
}

impl Observer {
    /// Builds an observer.
    ///
    /// Source: WGS 84 ellipsoid by SOFA, `gd2gc`.
    /// Checked by: `tests/data/published/meeus-1998.toml`
    pub fn at(place: Place) -> Option<Self> {
        let lat = place.lat_deg().to_radians();
        let [from_axis_m, _, from_equator_m] = gd2gc(WGS84, 0.0, lat, place.elev_m()).ok()?;
        Some(Self {
            lon_rad: place.lon_deg().to_radians(),
            sin_lat: lat.sin(),
            cos_lat: lat.cos(),
            from_axis_m,
            from_equator_m,
        })
    }

    /// Distance from the Earth's axis in metres.
    pub const fn from_axis_m(&self) -> f64 {
        self.from_axis_m
    }

    /// Distance from the plane of the equator in metres, north positive.
    pub const fn from_equator_m(&self) -> f64 {
        self.from_equator_m
    }

    /// Cosine of the geodetic latitude.
    pub const fn cos_lat(&self) -> f64 {
        self.cos_lat
    }
}

/// A site's view at one instant.
#[derive(Clone, Copy, Debug)]
pub(super) struct View {
    to_horizon: Matrix,
    earth_c: Vector,
    lorentz: f64,
    from_sun: Vector,
    sun_au: f64,
    ground_c: f64,
    site_au: Vector,
    sidereal_rad: f64,
    pole: Vector,
}

impl View {
    /// Rotates the sky of an instant to a site.
    ///
    /// Source: IERS Conventions 2010, ch. 5, CIO-based (from memory): GCRS -> CIRS -> Earth rotation angle -> geodetic
    /// horizon; polar motion and UT1 - UTC taken as 0.
    pub(super) fn new(at: Instant, sky: &Moment, observer: &Observer) -> Self {
        let rotation = era00(DJ00, at.ut1_d());
        let turn = rotation + observer.lon_rad;
        let (sin_turn, cos_turn) = turn.sin_cos();
        let (sin_lat, cos_lat) = (observer.sin_lat, observer.cos_lat);
        let from_cirs = [
            [-sin_turn, cos_turn, 0.0],
            [-sin_lat * cos_turn, -sin_lat * sin_turn, cos_lat],
            [cos_lat * cos_turn, cos_lat * sin_turn, sin_lat],
        ];
        let mut to_horizon = Matrix::default();
        rxr(&from_cirs, &sky.bpn, &mut to_horizon);
        let site_au = [
            0.0,
            (cos_lat * observer.from_equator_m - sin_lat * observer.from_axis_m) / DAU,
            (sin_lat * observer.from_equator_m + cos_lat * observer.from_axis_m) / DAU,
        ];
        // The Sun as seen from the site: close to the Sun's disc, its 8.8 arcseconds of parallax change the deflection
        // of light.
        let mut site_gcrs = Vector::default();
        trxp(&to_horizon, &site_au, &mut site_gcrs);
        let from_sun = pmp(&site_gcrs, &sky.sun_now);
        let sun_au = pm(from_sun);
        Self {
            to_horizon,
            earth_c: sky.earth_c,
            lorentz: (1.0 - pdp(&sky.earth_c, &sky.earth_c)).sqrt(),
            from_sun: sxp(1.0 / sun_au, &from_sun),
            sun_au,
            ground_c: observer.from_axis_m * TURNS_A_DAY * TAU / DAYSEC / CMPS,
            site_au,
            sidereal_rad: turn - sky.origins_rad,
            pole: sky.bpn[2],
        }
    }

    /// Geometric direction of a star at infinity, from its ICRS unit vector.
    ///
    /// Deflection by the Sun, annual and diurnal aberration included; no refraction.
    /// Good to: 0.001 arcseconds against the full star transform with UT1 - UTC = 0.
    /// Source: SOFA, `ldsun`, `ab`, and the diurnal aberration of `atioq`.
    /// Checked by: `tests/data/reference/altaz.csv`
    pub(super) fn star(&self, icrs: Vector) -> Direction {
        let bent = ldsun(icrs, self.from_sun, self.sun_au);
        let shifted = ab(&bent, &self.earth_c, self.sun_au, self.lorentz);
        let [east, north, up] = turned(&self.to_horizon, shifted);
        let shrink = 1.0 - self.ground_c * east;
        Direction {
            east: shrink * (east + self.ground_c),
            north: shrink * north,
            up: shrink * up,
        }
    }

    /// The direction of the celestial pole of the date, GCRS.
    pub(super) const fn pole(&self) -> Vector {
        self.pole
    }

    /// East, north, up as rows of GCRS directions.
    pub(super) fn axes(&self) -> Matrix {
        self.to_horizon
    }

    /// Geometric direction of a near body as seen from the site, from its apparent geocentric position in au: parallax
    /// included.
    pub(super) fn body(&self, gcrs_au: Vector) -> Direction {
        let [east, north, up] = turned(&self.to_horizon, gcrs_au);
        Direction::along([
            east - self.site_au[0],
            north - self.site_au[1],
            up - self.site_au[2],
        ])
    }

    /// Local apparent sidereal time, 0° to 360°.
    ///
    /// Source: Earth rotation angle minus the equation of the origins (SOFA, `gst06`), plus east longitude.
    /// Checked by: `tests/data/reference/altaz.csv`
    pub(super) fn sidereal(&self) -> Angle {
        Angle::from_rad(self.sidereal_rad).full_circle()
    }
}
