//! The light before the lens, as a picture and its settings tell it.

use crate::session::tone::linear;
use crate::terms::picture::Look;
use crate::terms::records::SessionFrame;

/// Exposure times sensitivity over the square of the f-number: how much of the light before the lens is recorded.
pub fn exposure_value(frame: &SessionFrame) -> Option<f64> {
    let f_number = frame.f_number.unwrap_or(2.8);
    Some(frame.exposure_s? * frame.iso? / (f_number * f_number))
}

/// The light before the lens, for comparison within a night: linear light over the exposure value.
pub fn scene_light(frame: &SessionFrame, look: Look) -> Option<f64> {
    Some(linear(look.level).max(1e-4) / exposure_value(frame)?.max(1e-9))
}

/// The darkest natural sky as [`scene_light`].
///
/// Source: 22 magnitudes a square arcsecond (common practice, no source) by the photons of a star of magnitude 0, 1e6 a
/// second and cm² (from memory), half of them recorded by a sensor of 1,400 electrons a µm² at ISO 100.
const DARKEST_SKY: f64 = 1.75e-6;

/// Stops by which a scene is brighter than the darkest natural sky.
pub fn above_darkest_sky(frame: &SessionFrame, look: Look) -> Option<f64> {
    Some((scene_light(frame, look)? / DARKEST_SKY).log2())
}
