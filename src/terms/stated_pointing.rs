//! Where a camera pointed, as the photographer states it from a solution of another program. Fields, no formulas.

use crate::terms::time::WallTime;
use crate::terms::words::words;

words! {
    /// What carried the camera from frame to frame.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum Mount {
        /// It stood still: the sky turned over it.
        Tripod = "tripod",
        /// It followed the stars.
        Tracked = "tracked",
    }
}

/// Digits after the point of pixels, and of directions and distortion: what a file of statements keeps of them.
const PX_DIGITS: i32 = 6;
const DIRECTION_DIGITS: i32 = 12;

/// A camera among the stars, in pixels of the full picture as stored, and the frame that was solved.
#[derive(Clone, Debug, PartialEq)]
pub struct StatedPointing {
    /// What carried it to the other frames.
    pub mount: Mount,
    /// The camera clock at mid-exposure of the frame that was solved.
    pub solved_local: Option<WallTime>,
    /// The law of the lens, as `pointing::law` names it.
    pub law: String,
    /// Focal length.
    pub f_px: f64,
    /// Distortion.
    pub k1: f64,
    /// Its next power.
    pub k2: f64,
    /// Where the optical axis meets the picture.
    pub centre_px: (f64, f64),
    /// Pixels in a row, and rows.
    pub size_px: (f64, f64),
    /// ICRS direction of the picture's right.
    pub right: [f64; 3],
    /// ICRS direction of forward.
    pub forward: [f64; 3],
    /// What the lens leaves of the solution, root mean square in pixels.
    pub residual_px: f64,
}

impl StatedPointing {
    /// The same to the digits that are exchanged, so that every catalogue has the same.
    #[must_use]
    pub fn rounded(self) -> Self {
        let to = |value: f64, digits: i32| {
            let scale = 10_f64.powi(digits);
            (value * scale).round() / scale
        };
        let px = |value: f64| to(value, PX_DIGITS);
        let direction = |all: [f64; 3]| all.map(|part| to(part, DIRECTION_DIGITS));
        Self {
            f_px: px(self.f_px),
            k1: to(self.k1, DIRECTION_DIGITS),
            k2: to(self.k2, DIRECTION_DIGITS),
            centre_px: (px(self.centre_px.0), px(self.centre_px.1)),
            size_px: (px(self.size_px.0), px(self.size_px.1)),
            right: direction(self.right),
            forward: direction(self.forward),
            residual_px: px(self.residual_px),
            ..self
        }
    }

    /// In words: where the optical axis points, through which lens.
    pub fn words(&self) -> String {
        let [x, y, z] = self.forward;
        let ra_deg = y.atan2(x).to_degrees().rem_euclid(360.0);
        let dec_deg = z.atan2(x.hypot(y)).to_degrees();
        format!(
            "right ascension {ra_deg:.3}°, declination {dec_deg:.3}°, {} lens of {:.0} px, {}",
            self.law,
            self.f_px,
            self.mount.word()
        )
    }
}
