//! The great circle of a trail, from its two ends in a picture, and how well it is known. Knows no radiant.

use crate::pointing::camera::Camera;
use crate::pointing::vector::Vector;
use crate::pointing::vector::angle_rad;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;
use crate::pointing::vector::unit;

/// Half the step in pixels over which the scale of the picture is taken.
const STEP_PX: f64 = 0.5;

/// The ends of a trail as directions over the horizon, with the error of each across the trail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trail {
    /// One end: east, north, up.
    pub from: Vector,
    /// The other.
    pub to: Vector,
    /// One sigma of the first end across the trail.
    pub from_error_rad: f64,
    /// The same of the other.
    pub to_error_rad: f64,
}

impl Trail {
    /// The trail between two pixels of a camera over the horizon.
    ///
    /// Takes: the error of an end in any direction, one sigma in pixels; what takes a direction as seen to the geometric one.
    /// Gives: nothing where the lens draws nothing there, or where the ends are one.
    pub fn between(
        camera: &Camera,
        (from_px, to_px): ((f64, f64), (f64, f64)),
        error_px: f64,
        geometric: &mut dyn FnMut(Vector) -> Vector,
    ) -> Option<Self> {
        let mut at = |pixel: (f64, f64)| camera.unproject(pixel).map(&mut *geometric);
        let (from, to) = (at(from_px)?, at(to_px)?);
        let pole = cross(from, to);
        if dot(pole, pole) < 1e-18 {
            return None;
        }
        let pole = unit(pole);
        // The scale across the trail is another in each direction of the picture: both slopes are taken.
        let mut across = |(x, y): (f64, f64)| {
            let slope =
                |a: Vector, b: Vector| dot(pole, plus(a, scaled(b, -1.0))) / (2.0 * STEP_PX);
            let right = slope(at((x + STEP_PX, y))?, at((x - STEP_PX, y))?);
            let down = slope(at((x, y + STEP_PX))?, at((x, y - STEP_PX))?);
            Some(error_px * right.hypot(down))
        };
        Some(Self {
            from,
            to,
            from_error_rad: across(from_px)?,
            to_error_rad: across(to_px)?,
        })
    }

    /// Its length.
    pub fn length_rad(&self) -> f64 {
        angle_rad(self.from, self.to)
    }

    /// The pole of its great circle.
    pub fn pole(&self) -> Vector {
        unit(cross(self.from, self.to))
    }

    /// How far a direction is from its great circle: positive on the side of the pole.
    pub fn miss_rad(&self, direction: Vector) -> f64 {
        dot(self.pole(), direction).clamp(-1.0, 1.0).asin()
    }

    /// One sigma of [`Trail::miss_rad`] from the errors of the ends: small errors turn the great circle about each of them.
    ///
    /// Source: derived here; for equal errors and short trails the same as sigma sqrt(1/2 + 2 (sin D / sin L)²), with D from the
    /// middle of the trail. Checked by: the drawing of lots in this file's tests.
    pub fn miss_error_rad(&self, direction: Vector) -> f64 {
        let (from, to) = (
            angle_rad(self.from, direction),
            angle_rad(self.to, direction),
        );
        (self.from_error_rad * to.sin()).hypot(self.to_error_rad * from.sin())
            / self.length_rad().sin()
    }

    /// The middle of the trail.
    pub fn middle(&self) -> Vector {
        unit(plus(self.from, self.to))
    }

    /// The same trail, the other end first.
    pub const fn reversed(&self) -> Self {
        Self {
            from: self.to,
            to: self.from,
            from_error_rad: self.to_error_rad,
            to_error_rad: self.from_error_rad,
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::pointing::camera::Attitude;
    use crate::pointing::camera::attitude_rows;
    use crate::pointing::law::Law;
    use crate::pointing::lens::Lens;
    use crate::terms::angle::Angle;

    /// A lens of 630 pixels over 1620 by 1080, azimuth 95°, altitude 40°, roll 1.5°.
    pub fn camera() -> Camera {
        let mut lens = Lens::plain(Law::Rectilinear, 630.0, (1620.0, 1080.0));
        (lens.k1, lens.k2) = (-0.03, 0.008);
        let attitude = Attitude {
            alt: Angle::from_deg(40.0),
            az: Angle::from_deg(95.0),
            roll: Angle::from_deg(1.5),
        };
        Camera {
            lens,
            rows: attitude_rows(attitude),
        }
    }

    pub fn over(alt_deg: f64, az_deg: f64) -> Vector {
        let (sin_alt, cos_alt) = alt_deg.to_radians().sin_cos();
        let (sin_az, cos_az) = az_deg.to_radians().sin_cos();
        [cos_alt * sin_az, cos_alt * cos_az, sin_alt]
    }

    pub fn trail(from: (f64, f64), to: (f64, f64)) -> Trail {
        Trail::between(&camera(), (from, to), 1.0, &mut |seen| seen).unwrap()
    }

    /// The error of the formula against a thousand trails whose ends are off by a pixel in both directions.
    #[test]
    fn the_error_of_the_miss_distance_is_that_of_drawn_lots() {
        let radiant = over(81.4952, 130.9987);
        let (from, to) = ((1180.0, 640.0), (1232.78, 758.66));
        let exact = trail(from, to);
        // Published worked example: 0.546° by lots, 0.546° by the formula.
        let formula = exact.miss_error_rad(radiant).to_degrees();
        assert!((formula - 0.546).abs() < 0.01, "{formula}");
        let mut state = 9_u64;
        let mut normal = || {
            let mut sum = -6.0;
            for _ in 0..12 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                sum += (state >> 11) as f64 / (1_u64 << 53) as f64;
            }
            sum
        };
        let mut square = 0.0;
        for _ in 0..4_000 {
            let mut off = |(x, y): (f64, f64)| (x + normal(), y + normal());
            let miss = trail(off(from), off(to)).miss_rad(radiant);
            square += (miss - exact.miss_rad(radiant)).powi(2);
        }
        let lots = (square / 4_000.0).sqrt().to_degrees();
        assert!((lots / formula - 1.0).abs() < 0.04, "{lots} {formula}");
    }

    #[test]
    fn ends_that_are_one_make_no_trail() {
        let pixel = (500.0, 500.0);
        assert_eq!(
            Trail::between(&camera(), (pixel, pixel), 1.0, &mut |seen| seen),
            None
        );
    }

    #[test]
    fn a_trail_reversed_misses_by_as_much() {
        let one = trail((300.0, 300.0), (420.0, 330.0));
        let radiant = over(81.5, 131.0);
        let other = one.reversed();
        assert!((one.miss_rad(radiant) + other.miss_rad(radiant)).abs() < 1e-12);
        assert!((one.miss_error_rad(radiant) - other.miss_error_rad(radiant)).abs() < 1e-12);
    }
}
