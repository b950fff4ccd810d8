//! From the geometric radiant to the point that trails in the picture point back to: the Earth's pull, the ground's own
//! motion, refraction. The only place where they are combined. Knows no time and no shower.

use super::direction::Direction;
use crate::terms::angle::Angle;

/// Square of the Earth's escape speed at the ground, in km²/s².
///
/// Source: R. Arlt, IMO Visual Commission, in a note to observers: vinf = sqrt(vg² + 125). At 100 km of height it
/// would be 123.2: 0.11° less at 10 km/s, 0.03° for the Geminids.
const ESCAPE_SQUARED: f64 = 125.0;
/// Radius of the equator in kilometres.
///
/// Source: WGS 84 (from memory).
const EQUATOR_KM: f64 = 6378.137;
/// The Earth's rotation in radians a second.
///
/// Source: WGS 84, 7.292115e-5 (from memory).
const TURN_RAD_S: f64 = 7.292_115e-5;
/// Below this apparent altitude in degrees the refraction formula has no meaning.
///
/// Source: common practice, no source; the formula's own pole is at -5.11°.
const LOWEST_REFRACTED_DEG: f64 = -1.0;

/// Speed at the top of the atmosphere in km/s, the Earth's pull included, from the geocentric speed.
///
/// Source: conservation of energy; `ESCAPE_SQUARED`.
pub fn arrival_kms(vg_kms: f64) -> f64 {
    (vg_kms * vg_kms + ESCAPE_SQUARED).sqrt()
}

/// Moves a geocentric radiant towards the zenith, to its apparent position. The azimuth does not change.
///
/// Closed form: z' = z/2 + asin(vg/vinf sin(z/2)), z geocentric and z' apparent distance from the zenith. (The classic
/// tangent form needs z' on its right-hand side; with z there it overcorrects by degrees.) Source: two-body motion; the
/// same as R. Arlt's dz = 2 atan((vg-vinf)/(vg+vinf) tan(z'/2)), IMO Visual Commission. Checked by:
/// `tests/data/reference/geometry.csv`, checked in turn by numerical integration
pub fn zenith_attracted(geocentric: Direction, vg_kms: f64) -> Direction {
    let slowness = vg_kms / arrival_kms(vg_kms);
    // Sine and cosine of half the distance from the zenith; the smaller of the two from the horizontal part, which
    // keeps its digits near zenith and nadir.
    let sin_z = geocentric.horizontal();
    let (sin_half, cos_half) = if geocentric.up >= 0.0 {
        let cos_half = f64::midpoint(1.0, geocentric.up).sqrt();
        (sin_z / (2.0 * cos_half), cos_half)
    } else {
        let sin_half = f64::midpoint(1.0, -geocentric.up).sqrt();
        (sin_half, sin_z / (2.0 * sin_half))
    };
    let sin_other = slowness * sin_half;
    let cos_other = (1.0 - sin_other * sin_other).sqrt();
    let horizontal = sin_half * cos_other + cos_half * sin_other;
    if sin_z == 0.0 {
        // At the zenith nothing changes; from the exact nadir any azimuth will do.
        return Direction {
            east: 0.0,
            north: horizontal,
            up: cos_half * cos_other - sin_half * sin_other,
        };
    }
    let stretch = horizontal / sin_z;
    Direction {
        east: geocentric.east * stretch,
        north: geocentric.north * stretch,
        up: cos_half * cos_other - sin_half * sin_other,
    }
}

/// Speed in km/s at which the ground carries an observer to the east.
///
/// Good to: 0.3 % (the Earth taken as a sphere), which is 0.004° of the radiant of the slowest shower.
/// Source: circumference and turn of the Earth, `EQUATOR_KM`, `TURN_RAD_S`.
pub fn ground_kms(cos_lat: f64, elev_m: f64) -> f64 {
    TURN_RAD_S * (EQUATOR_KM + elev_m / 1000.0) * cos_lat
}

/// Shifts an apparent radiant towards the east point, because the ground moves there: 0.4° for fast showers, 1.3° for
/// slow ones.
///
/// Takes: the zenith-attracted radiant, the speed at the top of the atmosphere, the speed of the ground. Source:
/// addition of velocities. Checked by: `tests/data/reference/radiants.csv`
pub fn ground_moved(attracted: Direction, arrival_kms: f64, ground_kms: f64) -> Direction {
    Direction::along([
        attracted.east * arrival_kms + ground_kms,
        attracted.north * arrival_kms,
        attracted.up * arrival_kms,
    ])
}

/// Refraction at an unrefracted altitude, for 1010 hPa and 10 °C: 29' at the horizon, 1' at 45°, never negative.
///
/// Gives 0 below -1°, where nothing is seen. Good to: 0.1' above 15°, some minutes at the horizon; air at 2,500 m
/// refracts a quarter less. Source: Saemundsson 1986, as in Meeus, Astronomical Algorithms, 2nd ed. 1998, eq. 16.4
/// (from memory). Checked by: `tests/data/reference/geometry.csv`, `tests/data/published/meeus-1998.toml`
pub fn refraction(alt: Angle) -> Angle {
    let alt_deg = alt.deg();
    if alt_deg < LOWEST_REFRACTED_DEG {
        return Angle::from_deg(0.0);
    }
    let minutes = 1.02 / (alt_deg + 10.3 / (alt_deg + 5.11)).to_radians().tan();
    Angle::from_deg(minutes.max(0.0) / 60.0)
}

/// Altitude and azimuth that trails in the picture point back to.
///
/// Takes: the zenith-attracted radiant, the speed at the top of the atmosphere, the speed of the ground. Source:
/// [`ground_moved`], then [`refraction`].
pub fn seen(attracted: Direction, arrival_kms: f64, ground_kms: f64) -> (Angle, Angle) {
    let apparent = ground_moved(attracted, arrival_kms, ground_kms);
    let alt = apparent.altitude();
    (
        Angle::from_rad(alt.rad() + refraction(alt).rad()),
        apparent.azimuth(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pull_is_exact_at_zenith_and_nadir() {
        for alt in [90.0, 89.999_999, 0.0, -89.999_999, -90.0] {
            let from = Direction::from_alt_az(Angle::from_deg(alt), Angle::from_deg(123.0));
            let to = zenith_attracted(from, 30.0);
            let z = (90.0 - alt).to_radians();
            let expect = z / 2.0 + (30.0 / arrival_kms(30.0) * (z / 2.0).sin()).asin();
            let got = std::f64::consts::FRAC_PI_2 - to.altitude().rad();
            assert!((got - expect).abs() < 1e-12, "{alt}: {got} {expect}");
            if alt.abs() < 89.9 {
                assert!((to.azimuth().deg() - 123.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn refraction_ends_below_the_horizon_and_at_the_zenith() {
        assert!(refraction(Angle::from_deg(-1.01)).deg() < f64::MIN_POSITIVE);
        assert!(refraction(Angle::from_deg(-5.11)).deg() < f64::MIN_POSITIVE);
        assert!(refraction(Angle::from_deg(90.0)).deg() < f64::MIN_POSITIVE);
    }
}
