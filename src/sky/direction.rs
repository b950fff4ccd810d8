//! A direction over a horizon, and the vector arithmetic of this module. Knows no time, no site, no object.

use sofars::vm::pdp;
use sofars::vm::sepp;

use crate::terms::angle::Angle;

/// Three components: x, y, z of a celestial frame, or east, north, up.
pub type Vector = [f64; 3];
/// Three rows.
pub type Matrix = [Vector; 3];

/// A direction over a horizon, as a unit vector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Direction {
    pub(super) east: f64,
    pub(super) north: f64,
    pub(super) up: f64,
}

impl Direction {
    /// Builds a direction from altitude and azimuth (from north through east).
    pub fn from_alt_az(alt: Angle, az: Angle) -> Self {
        let (sin_alt, cos_alt) = alt.rad().sin_cos();
        let (sin_az, cos_az) = az.rad().sin_cos();
        Self {
            east: cos_alt * sin_az,
            north: cos_alt * cos_az,
            up: sin_alt,
        }
    }

    /// The direction of a vector east, north, up of any length but 0.
    pub(super) fn along([east, north, up]: Vector) -> Self {
        let scale = 1.0 / (east * east + north * north + up * up).sqrt();
        Self {
            east: east * scale,
            north: north * scale,
            up: up * scale,
        }
    }

    /// Altitude over the mathematical horizon, -90° to 90°. Exact to rounding, even at the zenith.
    pub fn altitude(self) -> Angle {
        Angle::from_rad(self.up.atan2(self.horizontal()))
    }

    /// Azimuth from north through east, 0° to 360°. Undefined at the zenith itself.
    pub fn azimuth(self) -> Angle {
        Angle::from_rad(self.east.atan2(self.north)).full_circle()
    }

    /// Sine of the altitude.
    pub fn sin_altitude(self) -> f64 {
        self.up
    }

    /// The angle between two directions, 0° to 180°. Exact to rounding, even for small and for straight angles.
    ///
    /// Source: SOFA, `sepp`.
    pub fn angle_to(self, other: Self) -> Angle {
        let parts = |of: Self| [of.east, of.north, of.up];
        Angle::from_rad(sepp(&parts(self), &parts(other)))
    }

    /// Sine of the distance from the zenith.
    pub(super) fn horizontal(self) -> f64 {
        (self.east * self.east + self.north * self.north).sqrt()
    }
}

/// The point at `share` of the way from `a` (0) to `b` (1).
pub(super) fn between(a: Vector, b: Vector, share: f64) -> Vector {
    [
        a[0] + (b[0] - a[0]) * share,
        a[1] + (b[1] - a[1]) * share,
        a[2] + (b[2] - a[2]) * share,
    ]
}

pub(super) fn turned(by: &Matrix, a: Vector) -> Vector {
    by.map(|row| pdp(&row, &a))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn altitude_and_azimuth_come_back() {
        for alt in [-90.0, -30.0, 0.0, 45.0, 89.999_999] {
            for az in [0.0, 89.0, 180.0, 359.5] {
                let there = Direction::from_alt_az(Angle::from_deg(alt), Angle::from_deg(az));
                assert!((there.altitude().deg() - alt).abs() < 1e-12);
                if alt.abs() < 90.0 {
                    assert!((there.azimuth().deg() - az).abs() < 1e-6);
                }
            }
        }
    }
}
