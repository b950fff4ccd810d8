//! The parts of a scenario: bodies, lenses, sites, runs. Types only; the scenario itself is in `scenario`.

use super::tiff::ByteOrder;

/// One camera body.
pub struct Body {
    /// Model, as the camera writes it.
    pub model: &'static str,
    /// Serial number.
    pub serial: &'static str,
    /// Firmware, as the camera writes it.
    pub software: &'static str,
    /// First four letters of its file names (DCF: four letters, four digits).
    pub stem: &'static str,
    /// Byte order of its files.
    pub order: ByteOrder,
    /// Writes position, offset from UTC and hundredths of a second.
    pub knows_place: bool,
    /// Bits a sensor sample is stored with: 12, packed, or 16.
    pub raw_bits: u16,
    /// Noise against body A.
    pub grain: f64,
}

/// One lens.
pub struct Lens {
    /// Name, as the camera writes it.
    pub name: &'static str,
    /// Focal length.
    pub focal_mm: u16,
    /// Widest aperture.
    pub widest: (u32, u32),
}

/// One place.
pub struct Site {
    /// Name.
    pub name: &'static str,
    /// IANA time zone.
    pub zone: &'static str,
    /// Offset from UTC in that night, east positive.
    pub offset_s: i32,
    /// Latitude, north positive.
    pub lat_deg: f64,
    /// Longitude, east positive.
    pub lon_deg: f64,
    /// Elevation above sea level.
    pub elev_m: f64,
    /// What the land looks like.
    pub terrain: Terrain,
    /// Where the nearest town glows.
    pub town_az_deg: f64,
    /// How bright, in the units of `night`.
    pub town_light: f64,
}

/// The landscape below the sky.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Terrain {
    /// Bare ridges.
    Desert,
    /// A flat stony plain with low bushes.
    Plain,
    /// Snow with spruces.
    Snow,
}

/// One shower, as far as streaks need it.
pub struct Shower {
    /// IAU code.
    pub code: &'static str,
    /// Right ascension and declination of the radiant.
    pub radiant_deg: (f64, f64),
    /// Colour of its streaks.
    pub hue: [f64; 3],
}

/// The camera's settings from one frame of a run on.
pub struct Setting {
    /// First frame with it, from 0.
    pub from: usize,
    /// Exposure time as a fraction.
    pub exposure_s: (u32, u32),
    /// Aperture as a fraction.
    pub f_number: (u32, u32),
    /// Sensitivity.
    pub iso: u16,
}

impl Setting {
    /// Light gathered, against 20 s at f/1.8 and ISO 3200.
    pub fn gain(&self) -> f64 {
        let ratio = |(n, d): (u32, u32)| f64::from(n) / f64::from(d);
        let here = ratio(self.exposure_s) * f64::from(self.iso) / ratio(self.f_number).powi(2);
        here / (20.0 * 3200.0 / 1.8_f64.powi(2))
    }
}

/// Where the camera points: the middle of the picture.
pub struct Aim {
    /// Azimuth, from north through east.
    pub az_deg: f64,
    /// Altitude.
    pub alt_deg: f64,
}

/// A pause within a run: the battery was changed.
pub struct Gap {
    /// The frame that comes after it, from 0.
    pub before: usize,
    /// From the start of the frame before to the start of the frame after.
    pub length_ms: i64,
}

/// What a run is for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The sky.
    Light,
    /// Cap on.
    Dark,
    /// Focus and framing.
    Trial,
}

impl Kind {
    /// The word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Dark => "dark",
            Self::Trial => "trial",
        }
    }
}

/// The files of one press of the shutter.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Files {
    /// The raw file.
    Raw,
    /// The JPEG.
    Jpeg,
}

/// An intended defect of one frame.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Oddity {
    /// The file ends in the middle of its sensor data.
    CutShort,
    /// The body's clock was not set yet: all zeros.
    BlankClock,
}

/// The card dumps.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Dump {
    /// Body A, Geminids.
    GeminidsA,
    /// Body B, Geminids.
    GeminidsB,
    /// Body A, eta-Aquariids.
    EtaAquariids,
    /// Body B, Quadrantids.
    Quadrantids,
}

impl Dump {
    /// Every one.
    pub const ALL: [Self; 4] = [
        Self::GeminidsA,
        Self::GeminidsB,
        Self::EtaAquariids,
        Self::Quadrantids,
    ];

    /// Name of its folder.
    pub fn label(self) -> &'static str {
        match self {
            Self::GeminidsA => "geminids-body-a",
            Self::GeminidsB => "geminids-body-b",
            Self::EtaAquariids => "eta-aquariids",
            Self::Quadrantids => "quadrantids",
        }
    }
}

/// Frames of one body at one site with one aim and one rhythm.
pub struct Run {
    /// Their dump.
    pub dump: Dump,
    /// First DCF folder: number and name.
    pub folder: (u16, &'static str),
    /// First file number, 1 to 9999; after 9999 come 1 and the next folder.
    pub number: u16,
    /// The body.
    pub body: Body,
    /// The lens.
    pub lens: Lens,
    /// The place.
    pub site: Site,
    /// The evening's date at the site.
    pub night: &'static str,
    /// The true start of the first frame.
    pub start_utc: &'static str,
    /// How far the body's clock was ahead.
    pub clock_error_s: i32,
    /// From start to start.
    pub cadence_ms: i64,
    /// How many frames.
    pub frames: usize,
    /// The pause, if there was one.
    pub gap: Option<Gap>,
    /// Their purpose.
    pub kind: Kind,
    /// The files of each frame.
    pub files: Files,
    /// How many of the first frames have a JPEG beside the raw file.
    pub pairs: usize,
    /// Settings, first frame first.
    pub settings: &'static [Setting],
    /// Where the camera points.
    pub aim: Aim,
    /// The night's shower.
    pub shower: Shower,
    /// Frames with a meteor, from 0.
    pub meteors: &'static [usize],
    /// Frames with a defect, from 0.
    pub odd: &'static [(usize, Oddity)],
}
