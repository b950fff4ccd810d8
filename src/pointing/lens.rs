//! A lens before a sensor: from a direction in the camera to a pixel, and back. Knows no sky.
//!
//! Directions in the camera: x right, y down, z forward. Pixels count from the centre of the top left one, right and down, in
//! the picture as stored.
//!
//! Source: even powers of radial distortion, D. C. Brown 1966, Photogrammetric Engineering 32, 444 (from memory), normalised to
//! the half diagonal of the picture.

use crate::pointing::law::Law;
use crate::pointing::vector::Vector;

/// How far beyond the corner, in half diagonals, stars are looked for.
const BEYOND: f64 = 1.12;
/// The least slope of the distortion: beyond, it folds back and draws stars a second time.
const LEAST_SLOPE: f64 = 0.3;

/// A lens, and the picture it draws on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    /// How it draws.
    pub law: Law,
    /// Focal length in pixels.
    pub f_px: f64,
    /// Distortion: k1 + k2 is the relative displacement in the corner, negative for a barrel.
    pub k1: f64,
    /// Its next power.
    pub k2: f64,
    /// Where the optical axis meets the picture.
    pub cx: f64,
    /// The same, downwards.
    pub cy: f64,
    /// Pixels in a row.
    pub width: f64,
    /// Rows.
    pub height: f64,
}

/// Where a direction is drawn, with all that its change depends on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Drawn {
    pub x: f64,
    pub y: f64,
    /// Undistorted and distorted distance from the axis in pixels.
    pub r: f64,
    pub distorted: f64,
    /// Change of the distorted distance with the undistorted one, and with the angle.
    pub slope: f64,
    pub per_theta: f64,
    /// Sine and cosine of the angle off the axis, and the direction about it.
    pub sin: f64,
    pub cos: f64,
    pub about: (f64, f64),
}

impl Lens {
    /// A lens without distortion, its axis in the middle of the picture.
    pub fn plain(law: Law, f_px: f64, (width, height): (f64, f64)) -> Self {
        Self {
            law,
            f_px,
            k1: 0.0,
            k2: 0.0,
            cx: (width - 1.0) / 2.0,
            cy: (height - 1.0) / 2.0,
            width,
            height,
        }
    }

    /// Half the diagonal of the picture, in pixels.
    pub fn half_diagonal_px(&self) -> f64 {
        self.width.hypot(self.height) / 2.0
    }

    /// The angle from corner to corner through the middle, in radians; a full turn at most.
    pub fn diagonal_rad(&self) -> f64 {
        self.law
            .theta(self.half_diagonal_px() / self.f_px)
            .map_or(6.0, |theta| 2.0 * theta)
    }

    pub(super) fn draw(&self, [c1, c2, c3]: Vector) -> Option<Drawn> {
        let sin = c1.hypot(c2);
        let (radius, growth) = self.law.radius(sin.atan2(c3))?;
        let r = self.f_px * radius;
        let square = (r / self.half_diagonal_px()).powi(2);
        let stretch = 1.0 + square * (self.k1 + square * self.k2);
        let slope = 1.0 + square * (3.0 * self.k1 + square * 5.0 * self.k2);
        if slope < LEAST_SLOPE || !self.grows_to(square) {
            return None;
        }
        let about = if sin > 1e-12 {
            (c1 / sin, c2 / sin)
        } else {
            (1.0, 0.0)
        };
        let r_drawn = r * stretch;
        Some(Drawn {
            x: self.cx + r_drawn * about.0,
            y: self.cy + r_drawn * about.1,
            r,
            distorted: r_drawn,
            slope,
            per_theta: slope * self.f_px * growth,
            sin,
            cos: c3,
            about,
        })
    }

    /// Whether the slope stays positive on the way to a distance: it is lowest at the vertex of a parabola.
    fn grows_to(&self, square: f64) -> bool {
        let vertex = -3.0 * self.k1 / (10.0 * self.k2);
        if !(self.k2 > 0.0 && vertex > 0.0 && vertex < square) {
            return true;
        }
        1.0 + vertex * (3.0 * self.k1 + vertex * 5.0 * self.k2) > LEAST_SLOPE
    }

    /// The pixel of a direction in the camera, in or near the picture or far outside.
    ///
    /// Gives: nothing where the projection does not reach: behind a rectilinear lens, or where the distortion folds back.
    pub fn project(&self, direction: Vector) -> Option<(f64, f64)> {
        self.draw(direction).map(|drawn| (drawn.x, drawn.y))
    }

    /// The same, only within the picture and a margin in pixels; not where the lens is not known.
    pub fn project_within(&self, direction: Vector, margin: f64) -> Option<(f64, f64)> {
        let drawn = self.draw(direction)?;
        (drawn.r <= BEYOND * self.half_diagonal_px() && self.contains((drawn.x, drawn.y), margin))
            .then_some((drawn.x, drawn.y))
    }

    /// Whether a pixel is in the picture, or within a margin around it.
    pub fn contains(&self, (x, y): (f64, f64), margin: f64) -> bool {
        x >= -0.5 - margin
            && y >= -0.5 - margin
            && x <= self.width - 0.5 + margin
            && y <= self.height - 0.5 + margin
    }

    /// The direction in the camera of a pixel, as a unit vector.
    ///
    /// Gives: nothing where the lens draws nothing there.
    pub fn unproject(&self, (x, y): (f64, f64)) -> Option<Vector> {
        let (dx, dy) = (x - self.cx, y - self.cy);
        let drawn = dx.hypot(dy);
        if drawn < 1e-9 {
            return Some([0.0, 0.0, 1.0]);
        }
        let half = self.half_diagonal_px();
        let mut r = drawn;
        if self.k1 != 0.0 || self.k2 != 0.0 {
            for _ in 0..20 {
                let square = (r / half).powi(2);
                let slope = 1.0 + square * (3.0 * self.k1 + square * 5.0 * self.k2);
                if slope < LEAST_SLOPE {
                    return None;
                }
                let step = (r * (1.0 + square * (self.k1 + square * self.k2)) - drawn) / slope;
                r -= step;
                if step.abs() < 1e-10 * half {
                    break;
                }
            }
            if !self.grows_to((r / half).powi(2)) || r < 0.0 {
                return None;
            }
        }
        let (sin, cos) = self.law.theta(r / self.f_px)?.sin_cos();
        Some([sin * dx / drawn, sin * dy / drawn, cos])
    }

    /// The same lens over the same picture at another size.
    ///
    /// Takes: how many pixels of the new picture one pixel becomes; how many columns and rows are added before the first.
    pub fn resized(&self, by: f64, left: f64, top: f64, width: f64, height: f64) -> Self {
        // Distortion is normalised to the half diagonal: cut-off bars change it.
        let normal = (width.hypot(height) / 2.0 / (self.half_diagonal_px() * by)).powi(2);
        Self {
            law: self.law,
            f_px: self.f_px * by,
            k1: self.k1 * normal,
            k2: self.k2 * normal * normal,
            cx: (self.cx + 0.5) * by - 0.5 + left,
            cy: (self.cy + 0.5) * by - 0.5 + top,
            width,
            height,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_pixel_comes_back(x in -100.0..1700.0_f64, y in -100.0..1200.0_f64, law in 0..4_usize, k1 in -0.1..0.1_f64, k2 in -0.03..0.03_f64) {
            let mut lens = Lens::plain(Law::ALL[law], 800.0, (1620.0, 1080.0));
            (lens.k1, lens.k2) = (k1, k2);
            if let Some(direction) = lens.unproject((x, y)) {
                let (u, v) = lens.project(direction).unwrap();
                prop_assert!((u - x).abs() < 1e-6 && (v - y).abs() < 1e-6, "{u} {v}");
            }
        }
    }

    #[test]
    fn distortion_draws_no_star_twice() {
        let mut lens = Lens::plain(Law::Rectilinear, 2250.0, (1620.0, 1080.0));
        lens.k1 = -0.12;
        // 60° off the axis, far outside: the polynomial alone would draw it within the picture.
        assert_eq!(lens.project([0.866, 0.0, 0.5]), None);
        assert!(lens.project([0.1, 0.0, 0.995]).is_some());
    }

    #[test]
    fn a_larger_picture_shows_the_same_direction() {
        let mut lens = Lens::plain(Law::Equisolid, 700.0, (1620.0, 1080.0));
        (lens.k1, lens.cx) = (0.03, 812.0);
        let full = lens.resized(3.7, 0.0, 0.0, 1620.0 * 3.7, 1080.0 * 3.7);
        let direction = lens.unproject((200.0, 900.0)).unwrap();
        let (x, y) = full.project(direction).unwrap();
        assert!((x - (200.5 * 3.7 - 0.5)).abs() < 1e-6 && (y - (900.5 * 3.7 - 0.5)).abs() < 1e-6);
    }
}
