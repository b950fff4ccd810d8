//! Which way a camera looked, as it is kept: what was measured in a picture, and what follows from it. Fields, no formulas.

use std::path::PathBuf;

use crate::terms::records::Extent;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::terms::words::words;

/// How well pointing is known, or why not: everywhere in the picture; near the matched stars only; too few star images; no match
/// with the stars of the sky; no picture to examine. Or it is stated.
pub const POINTING_WORDS: &[&str] = &[
    "good",
    "weak",
    "too-few-stars",
    "no-match",
    "no-picture",
    "stated",
];

/// From so many matched stars on a pointing is known everywhere in the picture, if it leaves little.
pub const GOOD_FROM: usize = 20;

words! {
    /// What pointing was fitted to.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum FittedTo {
        /// Stars as seen over the site at mid-exposure, refraction included.
        Horizon = "horizon",
        /// Their catalogued places: time or place was not known, or did not fit.
        Stars = "stars",
    }
}

/// A camera among the stars, in pixels of the full picture as stored.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPointing {
    /// What it was fitted to.
    pub fitted_to: FittedTo,
    /// The law of the lens, as `pointing::law` names it.
    pub law: String,
    /// Focal length.
    pub f_px: f64,
    /// Distortion.
    pub k1: f64,
    /// Its next power.
    pub k2: f64,
    /// Where the optical axis meets the picture.
    pub cx_px: f64,
    /// The same, downwards.
    pub cy_px: f64,
    /// Pixels in a row.
    pub width_px: f64,
    /// Rows.
    pub height_px: f64,
    /// ICRS direction of the picture's right.
    pub right: [f64; 3],
    /// ICRS direction of forward.
    pub forward: [f64; 3],
    /// Stars that it was fitted to.
    pub matched: u32,
    /// Root mean square of what is left, in pixels of the full picture.
    pub residual_px: f64,
    /// Natural logarithm of the odds against chance.
    pub log_odds: f64,
    /// The corners of the hull of these stars: outside it places are extrapolated. Empty where it is not known.
    pub region: Vec<(f64, f64)>,
}

impl MeasuredPointing {
    /// Whether it is known everywhere in the picture, as far as is known, or between its few stars only.
    pub const fn holds_everywhere(&self) -> bool {
        self.matched == 0 || self.matched as usize >= GOOD_FROM || self.region.is_empty()
    }
}

/// What was measured in one frame's picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MeasuredPicture {
    /// Edition of the measures.
    pub edition: u32,
    /// Why there was no picture to examine.
    pub why_not: Option<String>,
    /// Star images found.
    pub stars: Option<u32>,
    /// Median level of the sky, 0 to 1, as the camera encoded it.
    pub sky_level: Option<f64>,
    /// Width of star images at half maximum in the middle, in pixels of the full picture.
    pub star_width_px: Option<f64>,
    /// The same in the corners.
    pub corner_width_px: Option<f64>,
    /// How well the pointing is known, or why not.
    pub pointing_word: Option<&'static str>,
    /// The pointing, where it is known.
    pub pointing: Option<MeasuredPointing>,
    /// The largest burnt-out spot.
    pub glare: Option<MeasuredGlare>,
    /// Places of bright images that no star explains, brightest first.
    pub lone_px: Vec<(f64, f64)>,
}

/// A burnt-out spot of a picture, in pixels of the full picture as stored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredGlare {
    /// Its middle.
    pub x_px: f64,
    /// The same, downwards.
    pub y_px: f64,
    /// The radius of a disc of its area.
    pub radius_px: f64,
}

/// Which way a frame looked over the horizon, and where radiants are in it.
#[derive(Clone, Debug, PartialEq)]
pub struct DerivedPointing {
    /// Altitude of the middle of the picture as seen.
    pub alt_deg: f64,
    /// Its azimuth, from north through east.
    pub az_deg: f64,
    /// How far the camera was turned clockwise, -180 to 180.
    pub roll_deg: f64,
    /// Where the active radiants are.
    pub radiants: Vec<RadiantPlace>,
}

/// Where a radiant is in a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RadiantPlace {
    /// Which shower's.
    pub shower: ShowerCode,
    /// The pixel of the full picture, as stored, of the radiant among the stars, where the lens can draw it.
    pub pixel: Option<(f64, f64)>,
    /// The same of the place that trails point back to.
    pub trails_from: Option<(f64, f64)>,
    /// Whether the first is within the picture.
    pub in_picture: bool,
}

/// A frame to be examined: where its picture is, and what helps to find out which way it looks.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameToExamine {
    /// The catalogue's number.
    pub frame_id: i64,
    /// Its first file.
    pub path: PathBuf,
    /// The largest JPEG in it, or all of it where it is one.
    pub preview: Option<Extent>,
    /// Its session.
    pub session_id: Option<i64>,
    /// Focal length in millimetres, as written or stated.
    pub focal_mm: Option<f64>,
    /// Focal length as written.
    pub focal_written_mm: Option<f64>,
    /// 35 mm equivalent focal length, as written.
    pub focal35_mm: Option<f64>,
    /// Width of the main image in pixels, as stored.
    pub width_px: Option<u32>,
    /// Its height.
    pub height_px: Option<u32>,
    /// The middle of the exposure.
    pub mid_utc: Option<Utc>,
    /// The reading of the camera's clock, in seconds of no zone: for the time between frames.
    pub clock_s: Option<f64>,
    /// Exposure time.
    pub exposure_s: Option<f64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// Where it was taken.
    pub place: Option<Place>,
}

/// Where a frame of a session pointed, for a tripod that was moved.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionPointing {
    /// The catalogue's number.
    pub frame_id: i64,
    /// Its session.
    pub session_id: i64,
    /// Its file's name.
    pub file: String,
    /// Latitude of the place, in degrees.
    pub lat_deg: f64,
    /// Altitude, azimuth and roll over the horizon, in degrees.
    pub over_deg: (f64, f64, f64),
    /// ICRS directions of right and forward.
    pub among_stars: ([f64; 3], [f64; 3]),
}

/// The width of star images in a frame of a session.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionWidth {
    /// The catalogue's number.
    pub frame_id: i64,
    /// Its session.
    pub session_id: i64,
    /// Focal length, aperture and exposure: widths are compared only where these are alike.
    pub settings: String,
    /// Width at half maximum in the middle, in pixels of the full picture.
    pub star_width_px: f64,
}
