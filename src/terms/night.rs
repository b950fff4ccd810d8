//! A night as shown in reports: its frames as read from the catalogue, and the sky over them. Fields, no behaviour.

use std::path::PathBuf;

use crate::terms::basis::Kind;
use crate::terms::basis::Twilight;
use crate::terms::records::Extent;
use crate::terms::records::RadiantSky;
use crate::terms::shower::ShowerCode;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::turn::Turn;

/// What was found in a frame's picture, as far as a report draws it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Examined {
    /// Share of the sky that shows its usual stars, 0 to 1.
    pub clear: Option<f64>,
    /// Brightness of the sky in stops against the median of its segment.
    pub sky_stops: Option<f64>,
    /// Width of star images at half maximum in the middle, in pixels of the full picture.
    pub star_width_px: Option<f64>,
    /// The same in the corners.
    pub corner_width_px: Option<f64>,
    /// Altitude, azimuth and roll of the middle of the picture in degrees.
    pub pointed_deg: Option<(f64, f64, f64)>,
}

/// One frame of a night, with everything a report shows about it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NightFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// The session it belongs to.
    pub session_id: Option<i64>,
    /// The body's name, if known.
    pub camera: Option<String>,
    /// The lens's name.
    pub lens: Option<String>,
    /// The site's number, if known.
    pub site_id: Option<i64>,
    /// Label of its first file's dump.
    pub dump: String,
    /// Folder of that file below the dump's root.
    pub folder: String,
    /// Name of that file.
    pub file: String,
    /// Its path on the disk.
    pub path: PathBuf,
    /// When the shutter opened.
    pub start_utc: Option<Utc>,
    /// The middle of the exposure.
    pub mid_utc: Option<Utc>,
    /// The camera clock when the shutter opened.
    pub clock_local: Option<WallTime>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// Aperture.
    pub f_number: Option<f64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// Focal length in millimetres, as written or stated.
    pub focal_mm: Option<f64>,
    /// 35 mm equivalent focal length in millimetres.
    pub focal35_mm: Option<f64>,
    /// Width of the main image in pixels.
    pub width_px: Option<u32>,
    /// Height of the main image in pixels.
    pub height_px: Option<u32>,
    /// EXIF orientation, 1 to 8.
    pub orientation: Option<u8>,
    /// The body's own temperature reading in °C.
    pub temperature_c: Option<f64>,
    /// Its kind, if known.
    pub kind: Option<Kind>,
    /// The state of its first file, as the catalogue's word.
    pub health: String,
    /// How UTC was reached, as the catalogue's word.
    pub time_basis: String,
    /// How the place was reached, as the catalogue's word.
    pub place_basis: String,
    /// One-sigma error of the start in seconds.
    pub time_error_s: Option<f64>,
    /// Geometric altitude of the Sun's centre.
    pub sun_alt_deg: Option<f64>,
    /// The class of that altitude.
    pub twilight: Option<Twilight>,
    /// Geometric altitude of the Moon's centre.
    pub moon_alt_deg: Option<f64>,
    /// Lit fraction of the Moon.
    pub moon_lit: Option<f64>,
    /// Solar longitude.
    pub solar_lon_deg: Option<f64>,
    /// The strongest shower.
    pub shower: Option<ShowerCode>,
    /// Every active shower's radiant.
    pub radiants: Vec<RadiantSky>,
    /// How far the sky turned since its session's middle light.
    pub turn: Option<Turn>,
    /// The smallest embedded JPEG of its first file.
    pub thumbnail: Option<Extent>,
    /// The largest embedded JPEG of its first file, or all of it if it is one.
    pub preview: Option<Extent>,
    /// What was found in its picture.
    pub examined: Examined,
}

/// A stretch of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Its beginning.
    pub from: Utc,
    /// Its end.
    pub to: Utc,
}

impl Stretch {
    /// Its length in seconds.
    pub fn length_s(self) -> f64 {
        self.to.seconds_since(self.from)
    }

    /// The intersection with another stretch.
    pub fn shared(self, other: Self) -> Option<Self> {
        let both = Self {
            from: self.from.max(other.from),
            to: self.to.min(other.to),
        };
        (both.from < both.to).then_some(both)
    }
}

/// Sun and Moon over a place at one instant. Geometric altitudes, no refraction; the Moon with its parallax.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunMoon {
    /// When.
    pub at: Utc,
    /// Altitude of the Sun's centre.
    pub sun_alt_deg: f64,
    /// Altitude of the Moon's centre.
    pub moon_alt_deg: f64,
    /// Azimuth of the Moon, from north through east.
    pub moon_az_deg: f64,
    /// Lit fraction of the Moon, 0 to 1.
    pub moon_lit: f64,
}

/// A point of a radiant's path over the sky. Geometric.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrackPoint {
    /// When.
    pub at: Utc,
    /// Altitude.
    pub alt_deg: f64,
    /// Azimuth, from north through east.
    pub az_deg: f64,
}

/// When a shower is at its maximum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PeakTime {
    /// When, by the printed solar longitude.
    pub at: Utc,
    /// Its uncertainty in hours: half a unit of the last digit of the printed longitude.
    pub error_h: f64,
}

/// A shower over a night.
#[derive(Clone, Debug, PartialEq)]
pub struct RadiantTrack {
    /// Which.
    pub shower: ShowerCode,
    /// Its name.
    pub name: String,
    /// The radiant's path, from noon to noon, at equal steps.
    pub points: Vec<TrackPoint>,
    /// Where and when it is highest between noon and noon.
    pub culmination: TrackPoint,
    /// The shower's maximum nearest to the night, if one is published.
    pub peak: Option<PeakTime>,
    /// ZHR at the maximum; `None` for a shower that varies from year to year.
    pub zhr: Option<f64>,
    /// Population index.
    pub r: f64,
}

/// The sky over one place in one night, from noon to noon.
#[derive(Clone, Debug, PartialEq)]
pub struct NightSky {
    /// Noon to noon.
    pub whole: Stretch,
    /// Sun and Moon at equal steps.
    pub points: Vec<SunMoon>,
    /// When the Sun is below the horizon.
    pub sun_down: Vec<Stretch>,
    /// When it is below -6°, -12° and -18°, in this order.
    pub sun_below: [Vec<Stretch>; 3],
    /// When the Moon is above the horizon.
    pub moon_up: Vec<Stretch>,
    /// When the Sun is below -18° and the Moon down.
    pub dark: Vec<Stretch>,
    /// Each shower active in the night, the strongest first.
    pub tracks: Vec<RadiantTrack>,
}

/// A gap in a session: a time without the frames that the cadence predicts.
#[derive(Clone, Debug, PartialEq)]
pub struct SessionGap {
    /// Position in the session of the frame before it, from 0.
    pub after: usize,
    /// From that frame's start to the next one's, in seconds.
    pub step_s: f64,
    /// How much longer that is than the cadence, in seconds.
    pub length_s: f64,
    /// Frames missing by the cadence.
    pub missing: u32,
    /// Its most likely cause.
    pub cause: GapCause,
}

/// The most likely cause of a gap, by the files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GapCause {
    /// File numbers continue: no picture was taken.
    NotFired,
    /// This many file numbers are missing: pictures were taken that the dumps do not have.
    FramesMissing(u32),
    /// The frames before and after are on different dumps.
    CardChange,
    /// File numbers restart: another card, or the counter was reset.
    CounterReset,
    /// The body was working on another session.
    BusyElsewhere(i64),
    /// The files give no cause.
    Unknown,
}

/// Settings that changed inside a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SettingsChange {
    /// Position in the session of the first frame with the new settings, from 0.
    pub at: usize,
    /// What changed, as `exposure 20 s to 10 s`.
    pub words: String,
}

/// A night's lights under one shower, for the season report.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonRow {
    /// The evening's date.
    pub night: String,
    /// The strongest shower over these lights; `None` if the sky is unknown.
    pub shower: Option<ShowerCode>,
    /// The sites, by name.
    pub sites: String,
    /// How many lights.
    pub lights: i64,
    /// Hours their shutter was open.
    pub open_h: f64,
    /// The greatest geometric altitude of that shower's radiant over them.
    pub best_alt_deg: Option<f64>,
    /// Mean lit fraction of the Moon over them.
    pub moon_lit: Option<f64>,
    /// Share of them with the Moon above the horizon.
    pub moon_up: Option<f64>,
}
