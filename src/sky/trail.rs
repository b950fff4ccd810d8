//! The effect of the rotating sky on a picture from a fixed tripod: star trails, rotation from frame to frame, the
//! longest exposure by the 500 rule. Knows no frames and no objects.

use crate::terms::angle::Angle;
use crate::terms::time::Utc;

/// The sky's rotation in degrees a second of UT1.
///
/// Source: IERS Conventions 2010, eq. 5.15 (from memory): 1.00273781191135448 turns a day; 15.0410672 degrees an hour.
const TURN_DEG_S: f64 = 360.0 * 1.002_737_811_911_354_5 / 86_400.0;
/// The 500 of the 500 rule, in millimetres times seconds.
///
/// Source: common practice, no source.
const RULE_500: f64 = 500.0;
/// Diagonal of a frame of 36 by 24 mm, in millimetres.
///
/// Source: arithmetic; 35 mm equivalents refer to it (CIPA DC-008, `FocalLengthIn35mmFilm`).
const FULL_DIAGONAL_MM: f64 = 43.266_615_305_567_87;

/// Longest exposure by the 500 rule in seconds. The crop factor is 1 if unknown.
///
/// Refuses: a focal length or a crop factor that is not positive. Source: common practice, no source. 20 mm on a full
/// frame: 25 s. Checked by: `tests/data/reference/geometry.csv`
pub fn rule_500_s(focal_mm: f64, crop: f64) -> Option<f64> {
    (focal_mm > 0.0 && crop > 0.0).then(|| RULE_500 / (focal_mm * crop))
}

/// A sensor, as far as a frame's metadata describe it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensor {
    /// The ratio of the diagonal of 36 by 24 mm to its own.
    pub crop: f64,
    /// From pixel to pixel, in micrometres.
    pub pitch_um: f64,
}

impl Sensor {
    /// Computed from the focal length and its 35 mm equivalent, and the pixels of the main image.
    ///
    /// Good to: the rounding of the equivalent, which cameras write in whole millimetres (2 % at 24 mm). Refuses:
    /// values that are not positive.
    pub fn told_by(focal_mm: f64, focal35_mm: f64, width_px: u32, height_px: u32) -> Option<Self> {
        let crop = focal35_mm / focal_mm;
        let pixels = f64::from(width_px).hypot(f64::from(height_px));
        (focal_mm > 0.0 && focal35_mm > 0.0 && pixels > 0.0).then(|| Self {
            crop,
            pitch_um: FULL_DIAGONAL_MM / crop / pixels * 1000.0,
        })
    }

    /// Half the diagonal in millimetres: the distance of the corner from the middle.
    pub fn corner_mm(self) -> f64 {
        FULL_DIAGONAL_MM / self.crop / 2.0
    }
}

/// Length in pixels of the trail that a star leaves in the middle of a picture.
///
/// Source: turn of the sky along the circle of declination, small angles; common practice.
/// Checked by: `tests/data/reference/geometry.csv`
pub fn trail_px(focal_mm: f64, exposure_s: f64, dec: Angle, pitch_um: f64) -> f64 {
    let along_rad = (TURN_DEG_S * exposure_s).to_radians() * dec.rad().cos();
    focal_mm * 1000.0 * along_rad / pitch_um
}

/// How many times longer a trail can be in the corner of a rectilinear lens than in its middle, in the radial
/// direction.
///
/// Source: r = f tan(theta), its slope 1/cos²(theta); common practice. The factor of a fisheye is smaller.
pub fn corner_factor(focal_mm: f64, corner_mm: f64) -> f64 {
    1.0 + (corner_mm / focal_mm).powi(2)
}

/// The angle by which the sky has turned about the pole from one instant to another: positive for a later one.
/// Westward, so counter-clockwise towards the north pole, clockwise towards the south pole.
///
/// Good to: 0.003° in a night (precession, aberration). A frame of a fixed tripod must be turned back about the pole by
/// this angle to match the frame of the first instant. Source: `TURN_DEG_S`. Checked by:
/// `tests/data/reference/geometry.csv`
pub fn turn(from: Utc, to: Utc) -> Angle {
    Angle::from_deg(TURN_DEG_S * to.seconds_since(from))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sensor_is_told_by_its_equivalent_focal_length() {
        // 36 by 24 mm with 6048 by 4032 pixels: 5.95 micrometres.
        let full = Sensor::told_by(20.0, 20.0, 6048, 4032).unwrap();
        assert!((full.crop - 1.0).abs() < 1e-12);
        assert!((full.pitch_um - 5.952).abs() < 0.001);
        assert_eq!(Sensor::told_by(0.0, 20.0, 6048, 4032), None);
        assert_eq!(rule_500_s(0.0, 1.0), None);
        // tan²(57.1°) of a 14 mm lens on a full frame: 3.4 times as long in the corner.
        assert!((corner_factor(14.0, full.corner_mm()) - 3.39).abs() < 0.01);
    }
}
