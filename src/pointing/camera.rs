//! A camera: a lens, and which way it looks. Its directions are among the stars (ICRS) or over a horizon (east, north, up).

use crate::pointing::lens::Lens;
use crate::pointing::vector::Matrix;
use crate::pointing::vector::Vector;
use crate::pointing::vector::cross;
use crate::pointing::vector::dot;
use crate::pointing::vector::rotation_of_pairs;
use crate::pointing::vector::turned;
use crate::pointing::vector::turned_back;
use crate::pointing::vector::turned_further;
use crate::terms::angle::Angle;

/// How far from the axis a camera is carried over, in half diagonals.
const ASIDE: f64 = 0.4;

/// No turn.
const STILL: Matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// A lens and the directions in the sky of what it calls right, down and forward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// The lens.
    pub lens: Lens,
    /// Right, down, forward as unit vectors.
    pub rows: Matrix,
}

/// Which way a camera looks over the horizon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Attitude {
    /// Altitude of the middle of the picture, as seen.
    pub alt: Angle,
    /// Azimuth of it, from north through east.
    pub az: Angle,
    /// How far the camera is turned clockwise as the photographer sees it, -180° to 180°.
    pub roll: Angle,
}

/// Right, down and forward (east, north, up) of a camera that looks some way.
pub fn attitude_rows(attitude: Attitude) -> Matrix {
    let (sin_az, cos_az) = attitude.az.rad().sin_cos();
    let (sin_alt, cos_alt) = attitude.alt.rad().sin_cos();
    let (sin_roll, cos_roll) = attitude.roll.rad().sin_cos();
    let forward = [cos_alt * sin_az, cos_alt * cos_az, sin_alt];
    let level = [cos_az, -sin_az, 0.0];
    let down = cross(forward, level);
    let mix = |a: f64, b: f64| {
        [
            a * level[0] + b * down[0],
            a * level[1] + b * down[1],
            a * level[2] + b * down[2],
        ]
    };
    [mix(cos_roll, sin_roll), mix(-sin_roll, cos_roll), forward]
}

/// Which way a camera looks by its right, down and forward (east, north, up).
pub fn attitude_of(rows: &Matrix) -> Attitude {
    let forward = rows[2];
    let flat = forward[0].hypot(forward[1]);
    let az = if flat > 1e-9 {
        forward[0].atan2(forward[1])
    } else {
        0.0
    };
    let level = [az.cos(), -az.sin(), 0.0];
    let down = cross(forward, level);
    Attitude {
        alt: Angle::from_rad(forward[2].atan2(flat)),
        az: Angle::from_rad(az).full_circle(),
        roll: Angle::from_rad(dot(rows[0], down).atan2(dot(rows[0], level))),
    }
}

impl Camera {
    /// Which way the optical axis looks, for a camera over the horizon. At the zenith azimuth and roll are only known together.
    pub fn attitude(&self) -> Attitude {
        attitude_of(&self.rows)
    }

    /// Which way a pixel looks, for a camera over the horizon, and how the picture is turned there. Gives nothing where the lens
    /// draws nothing there.
    pub fn looking_at(&self, pixel: (f64, f64)) -> Option<Attitude> {
        let forward = self.unproject(pixel)?;
        // The camera turned the shortest way until its axis is there keeps what is right and down in the picture.
        let axis = cross(self.rows[2], forward);
        let length = dot(axis, axis).sqrt();
        let angle = length.atan2(dot(self.rows[2], forward));
        let by = if length > 0.0 { angle / length } else { 0.0 };
        let turn = turned_further(&STILL, [axis[0] * by, axis[1] * by, axis[2] * by]);
        let turned = Self {
            lens: self.lens,
            rows: self.rows.map(|row| turned(&turn, row)),
        };
        Some(turned.attitude())
    }

    /// The same camera in another frame of directions, which may bend the sky a little: aberration, refraction. It is carried
    /// over by two directions in the picture, so that its middle and its turn come out right.
    ///
    /// Gives: nothing where the lens draws nothing there.
    pub fn carried(&self, over: &mut dyn FnMut(Vector) -> Vector) -> Option<Self> {
        let aside = self.lens.half_diagonal_px() * ASIDE;
        let left = self.unproject((self.lens.cx - aside, self.lens.cy))?;
        let right = self.unproject((self.lens.cx + aside, self.lens.cy))?;
        let turn = rotation_of_pairs((left, right), (over(left), over(right)));
        Some(Self {
            lens: self.lens,
            rows: self.rows.map(|row| turned(&turn, row)),
        })
    }

    /// The pixel of a direction in the sky.
    ///
    /// Gives: nothing where the projection does not reach.
    pub fn project(&self, direction: Vector) -> Option<(f64, f64)> {
        self.lens.project(turned(&self.rows, direction))
    }

    /// The same, only within the picture and a margin in pixels.
    pub fn project_within(&self, direction: Vector, margin: f64) -> Option<(f64, f64)> {
        self.lens
            .project_within(turned(&self.rows, direction), margin)
    }

    /// The direction in the sky of a pixel.
    pub fn unproject(&self, pixel: (f64, f64)) -> Option<Vector> {
        Some(turned_back(&self.rows, self.lens.unproject(pixel)?))
    }

    /// Which way a direction lies from the optical axis in the picture: right and down, a unit vector. It is known for
    /// directions that have no pixel too.
    pub fn bearing(&self, direction: Vector) -> (f64, f64) {
        let [c1, c2, _] = turned(&self.rows, direction);
        let length = c1.hypot(c2);
        if length > 0.0 {
            (c1 / length, c2 / length)
        } else {
            (1.0, 0.0)
        }
    }
}
