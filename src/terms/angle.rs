//! An angle whose unit is named on the way in and out. Never parses or prints.

use std::f64::consts::TAU;

/// An angle. Its internal unit is private.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Angle {
    rad: f64,
}

impl Angle {
    /// Builds an angle from degrees.
    pub const fn from_deg(deg: f64) -> Self {
        Self {
            rad: deg.to_radians(),
        }
    }

    /// Builds an angle from radians.
    pub const fn from_rad(rad: f64) -> Self {
        Self { rad }
    }

    /// Returns the angle in degrees, not folded into any range.
    pub const fn deg(self) -> f64 {
        self.rad.to_degrees()
    }

    /// Returns the angle in radians, not folded into any range.
    pub const fn rad(self) -> f64 {
        self.rad
    }

    /// Folds the angle into 0° (included) to 360° (excluded): azimuths, right ascensions, longitudes.
    pub fn full_circle(self) -> Self {
        let folded = self.rad.rem_euclid(TAU);
        // rem_euclid of a tiny negative number rounds to the divisor itself.
        Self::from_rad(if folded >= TAU { 0.0 } else { folded })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folds_into_a_full_circle() {
        assert!((Angle::from_deg(-90.0).full_circle().deg() - 270.0).abs() < 1e-12);
        assert!((Angle::from_deg(725.0).full_circle().deg() - 5.0).abs() < 1e-12);
        assert!(Angle::from_rad(-1e-30).full_circle().rad() < TAU);
    }
}
