//! The data of a frame that matching calibration frames to lights needs. Fields, no judgement.

use crate::terms::time::Utc;

/// What distinguishes a body from others.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum ToldBy {
    /// Its serial number.
    #[default]
    Serial,
    /// Its model only: frames of two such bodies look alike.
    Model,
}

/// The settings of a frame, its time, and the body's temperature. `None` if unknown.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FrameSettings {
    /// The catalogue's number of the frame.
    pub frame_id: i64,
    /// The body's number.
    pub camera_id: Option<i64>,
    /// What distinguishes it from other bodies.
    pub body: ToldBy,
    /// The number of its session.
    pub session: Option<i64>,
    /// When the shutter opened.
    pub start_utc: Option<Utc>,
    /// The camera clock at that moment: seconds from its 1970-01-01T00:00:00.
    pub clock_s: Option<i64>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// Focal length in millimetres, as written or stated.
    pub focal_mm: Option<f64>,
    /// Aperture, as the f-number.
    pub f_number: Option<f64>,
    /// The lens's number.
    pub lens_id: Option<i64>,
    /// Width and height of the main image in pixels, as stored.
    pub size_px: Option<(i64, i64)>,
    /// The body's own temperature reading in °C.
    pub temperature_c: Option<f64>,
}
