//! The records passed between rooms. Fields, no behaviour.

use crate::terms::basis::ClockTag;
use crate::terms::basis::Health;
use crate::terms::basis::Kind;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::basis::Twilight;
use crate::terms::finding::Finding;
use crate::terms::picture::Look;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;
use crate::terms::turn::Turn;

/// The metadata that the camera wrote into one file, word for word where that matters.
///
/// Every value is `None` if the file does not have it, or has an impossible one (then there is a finding).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CaptureRecord {
    /// The camera clock when the shutter opened.
    pub clock_local: Option<WallTime>,
    /// Which tag the reading came from.
    pub clock_source: Option<ClockTag>,
    /// The offset from UTC that the body wrote beside the reading, in seconds, east positive.
    pub utc_offset_s: Option<i32>,
    /// The body's own zone setting from its maker note, daylight saving included, in seconds, east positive.
    pub body_zone_s: Option<i32>,
    /// The GPS time stamp.
    pub gps_utc: Option<Utc>,
    /// GPS latitude, north positive.
    pub gps_lat_deg: Option<f64>,
    /// GPS longitude, east positive.
    pub gps_lon_deg: Option<f64>,
    /// GPS altitude in metres, below sea level negative.
    pub gps_elev_m: Option<f64>,
    /// Maker of the body.
    pub make: Option<String>,
    /// Model of the body.
    pub model: Option<String>,
    /// Serial number of the body.
    pub serial: Option<String>,
    /// Name of the lens.
    pub lens: Option<String>,
    /// Exposure time in seconds.
    pub exposure_s: Option<f64>,
    /// Aperture, as the f-number.
    pub f_number: Option<f64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// Focal length in millimetres.
    pub focal_mm: Option<f64>,
    /// 35 mm equivalent focal length in millimetres.
    pub focal35_mm: Option<f64>,
    /// Width of the main image in pixels, as stored.
    pub width_px: Option<u32>,
    /// Height of the main image in pixels, as stored.
    pub height_px: Option<u32>,
    /// EXIF orientation, 1 to 8.
    pub orientation: Option<u8>,
    /// The body's own temperature reading in °C.
    pub temperature_c: Option<f64>,
    /// The body's image counter.
    pub shutter_count: Option<u64>,
}

/// The position of an embedded JPEG in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extent {
    /// First byte, counted from the start of the file.
    pub offset: u64,
    /// Length in bytes.
    pub length: u64,
}

/// The result of reading one file.
#[derive(Clone, Debug, PartialEq)]
pub struct FileReading {
    /// The container, in the words of the query field `format`: `nef`, `jpeg`, `heif`, …
    pub format: &'static str,
    /// The metadata that the camera wrote.
    pub record: CaptureRecord,
    /// The state of the file.
    pub health: Health,
    /// Hash over the file's length and samples of its bytes. `None` if it cannot distinguish files (empty, all one
    /// byte, not readable).
    pub fingerprint: Option<[u8; 16]>,
    /// The smallest embedded JPEG.
    pub thumbnail: Option<Extent>,
    /// The largest embedded JPEG.
    pub preview: Option<Extent>,
    /// Findings about it.
    pub findings: Vec<Finding>,
    /// Bytes read from the disk for it.
    pub bytes_read: u64,
}

/// The data of a frame that decides its time and place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FrameFacts {
    /// The catalogue's number.
    pub frame_id: i64,
    /// The body's number, if known.
    pub camera_id: Option<i64>,
    /// The camera clock.
    pub clock_local: Option<WallTime>,
    /// The offset from UTC that the body wrote, seconds east.
    pub utc_offset_s: Option<i32>,
    /// The body's own zone setting from its maker note, seconds east.
    pub body_zone_s: Option<i32>,
    /// The GPS time stamp.
    pub gps_utc: Option<Utc>,
    /// GPS latitude, north positive.
    pub gps_lat_deg: Option<f64>,
    /// GPS longitude, east positive.
    pub gps_lon_deg: Option<f64>,
    /// GPS altitude in metres.
    pub gps_elev_m: Option<f64>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// The site the photographer stated for it.
    pub stated_site: Option<i64>,
    /// The dump of its first file.
    pub dump_id: i64,
}

/// Where and when one frame was taken, and on what evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedFrame {
    /// When the shutter opened.
    pub start_utc: Option<Utc>,
    /// The middle of the exposure; the start if the exposure is unknown.
    pub mid_utc: Option<Utc>,
    /// When the shutter closed; the start if the exposure is unknown.
    pub end_utc: Option<Utc>,
    /// How UTC was reached.
    pub time_basis: TimeBasis,
    /// One-sigma error of the start in seconds, if known.
    pub time_error_s: Option<f64>,
    /// The site in the site book.
    pub site_id: Option<i64>,
    /// The place used for the sky.
    pub place: Option<Place>,
    /// How the place was reached.
    pub place_basis: PlaceBasis,
    /// The evening's date, `2023-12-13`: local noon to the next local noon.
    pub night: Option<String>,
    /// Findings on the way.
    pub findings: Vec<Finding>,
}

/// The sky over one frame, at the middle of its exposure.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameSky {
    /// Geometric altitude of the Sun's centre, no refraction. Needs a place.
    pub sun_alt_deg: Option<f64>,
    /// The class of that altitude.
    pub twilight: Option<Twilight>,
    /// Geometric altitude of the Moon's centre as seen from the site (parallax included), no refraction.
    pub moon_alt_deg: Option<f64>,
    /// Azimuth of the Moon, from north through east.
    pub moon_az_deg: Option<f64>,
    /// Lit fraction of the Moon, 0 to 1.
    pub moon_lit: f64,
    /// Local apparent sidereal time, 0 to 360.
    pub lst_deg: Option<f64>,
    /// Solar longitude, geometric, equinox J2000.0, 0 to 360.
    pub solar_lon_deg: f64,
    /// The shower with the greatest rate at that place and time; `None` without a place, and if no active radiant is
    /// up.
    pub strongest: Option<ShowerCode>,
    /// The shower with the greatest ZHR by its activity profile at that solar longitude, whether its radiant is up or
    /// not.
    pub main_shower: Option<ShowerCode>,
    /// Every shower active at that solar longitude, in the order of their codes. Empty without a place.
    pub radiants: Vec<RadiantSky>,
}

/// One shower's radiant over one frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RadiantSky {
    /// Which shower.
    pub shower: ShowerCode,
    /// Geometric altitude of the drifted radiant: no refraction, no zenith attraction.
    pub alt_deg: f64,
    /// Azimuth of the same, from north through east.
    pub az_deg: f64,
    /// Altitude that trails in the picture point back to: zenith attraction, the ground's motion, refraction.
    pub seen_alt_deg: f64,
    /// Azimuth of the same.
    pub seen_az_deg: f64,
    /// Distance from the Moon (as seen from the site) to the drifted radiant.
    pub moon_sep_deg: f64,
    /// Meteors an hour under a 6.5-magnitude sky: ZHR by the profile times the sine of the radiant's
    /// apparent altitude (zenith attraction, no refraction); 0 below the horizon.
    pub rate: f64,
    /// The same under the sky of the frame: the site's own sky, with twilight and moonlight; 0 in daylight.
    pub seen_rate: f64,
    /// Where it is in the picture.
    pub picture: InPicture,
}

/// Where a radiant is in a picture, in pixels of the full picture as stored; nothing where the pointing is not known, or the lens
/// cannot draw it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct InPicture {
    /// Whether it is within the picture.
    pub inside: Option<bool>,
    /// The drifted radiant, to the right.
    pub x_px: Option<f64>,
    /// The same, downwards.
    pub y_px: Option<f64>,
    /// The place that trails point back to, to the right.
    pub seen_x_px: Option<f64>,
    /// The same, downwards.
    pub seen_y_px: Option<f64>,
}

impl RadiantSky {
    /// The value of a field of a radiant, by its key: a number, or a word.
    pub fn cell(&self, key: &str) -> Cell {
        let inside = |inside| Cell::Text(if inside { "yes" } else { "no" }.to_owned());
        match key {
            "in_picture" => self.picture.inside.map_or(Cell::Unknown, inside),
            _ => self.value(key).map_or(Cell::Unknown, Cell::Number),
        }
    }

    /// The same for numbers.
    pub fn value(&self, key: &str) -> Option<f64> {
        Some(match key {
            "x_px" => return self.picture.x_px,
            "y_px" => return self.picture.y_px,
            "seen_x_px" => return self.picture.seen_x_px,
            "seen_y_px" => return self.picture.seen_y_px,
            "alt_deg" => self.alt_deg,
            "az_deg" => self.az_deg,
            "seen_alt_deg" => self.seen_alt_deg,
            "seen_az_deg" => self.seen_az_deg,
            "moon_sep_deg" => self.moon_sep_deg,
            "rate" => self.rate,
            "seen_rate" => self.seen_rate,
            _ => return None,
        })
    }
}

/// The data of a frame that grouping into sessions needs. All frames of one list are of one body and one night.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SessionFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// When the shutter opened, if UTC is known.
    pub start_utc: Option<Utc>,
    /// The camera clock at that moment.
    pub clock_local: Option<WallTime>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// Focal length in millimetres.
    pub focal_mm: Option<f64>,
    /// The lens's name.
    pub lens: Option<String>,
    /// The site's number, if known.
    pub site_id: Option<i64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// Aperture, as the f-number.
    pub f_number: Option<f64>,
    /// The stated kind.
    pub stated_kind: Option<Kind>,
    /// The brightness sample of its small picture, if taken.
    pub look: Option<Look>,
    /// Length in bytes of the smallest JPEG in its first file, or of the whole file if it is a JPEG.
    pub picture_bytes: Option<u64>,
    /// Folder and file name within the dump, which may name its kind.
    pub path: String,
    /// The session the frame belonged to before, if any.
    pub session_before: Option<i64>,
}

/// The data of a dated frame of one site that finding its night needs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SiteFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// The body, if known.
    pub camera_id: Option<i64>,
    /// Focal length in millimetres.
    pub focal_mm: Option<f64>,
    /// The lens's name.
    pub lens: Option<String>,
    /// When the shutter opened, in milliseconds since 1970, UTC.
    pub start_ms: i64,
    /// Its stored night, in days since 1970.
    pub night_day: Option<i64>,
    /// The night of its own noon: by the site's clocks, from the noon before its start to the next.
    pub own_day: i64,
}

/// A run of frames: one camera, one site, one night, one lens at one focal length.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Session {
    /// The number of an earlier session that this one continues, if any.
    pub continues: Option<i64>,
    /// The site, if known.
    pub site_id: Option<i64>,
    /// The focal length of the framing.
    pub focal_mm: Option<f64>,
    /// Start of the first frame; `None` if UTC is unknown for a frame of the night.
    pub start_utc: Option<Utc>,
    /// End of the last frame's exposure.
    pub end_utc: Option<Utc>,
    /// The camera clock at the first frame.
    pub start_local: Option<WallTime>,
    /// The camera clock at the last frame.
    pub end_local: Option<WallTime>,
    /// Usual time from one light's start to the next; of all frames if there are no lights.
    pub cadence_s: Option<f64>,
    /// Lights missing by the cadence.
    pub missing: u32,
    /// The frames, in the order of their starts.
    pub members: Vec<SessionMember>,
}

/// A frame's part in its session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SessionMember {
    /// The catalogue's number.
    pub frame_id: i64,
    /// Its kind, if known.
    pub kind: Option<Kind>,
    /// The reason for its kind.
    pub kind_evidence: Option<String>,
    /// How far the sky has turned about the pole since the session's reference frame.
    pub turn: Option<Turn>,
}

/// One value of a row, as read from the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Unknown.
    Unknown,
    /// Text.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
}

/// One file of a frame, as read from the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameFile {
    /// Absolute path; lossy if the name is not UTF-8.
    pub path: String,
    /// The container.
    pub format: String,
    /// Size in bytes.
    pub bytes: i64,
    /// The state of the file.
    pub health: String,
    /// Whether it repeats the contents of an earlier file of the frame.
    pub further_copy: bool,
}

/// A frame in the answer to a query: the requested values, in the requested order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FrameRow {
    /// One cell for each requested column.
    pub cells: Vec<Cell>,
    /// The path of the frame's first file, byte for byte as on the disk. Empty if not requested.
    pub path_bytes: Vec<u8>,
    /// Every file of the frame, the first file first. Empty if not requested.
    pub files: Vec<FrameFile>,
    /// Every radiant over the frame, by code. Empty if not requested.
    pub radiants: Vec<RadiantSky>,
    /// Which of the cells are the same as in the previous row in this buffer.
    pub since: Since,
}

/// Which cells of a row are the same as in the previous one, if one buffer is reused for many rows: neighbours usually
/// share their settings.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Since {
    /// The number of the row among those in this buffer, from 1. 0 if nothing is known about its cells: set it to 0
    /// after changing some of them.
    pub number: u64,
    /// For each cell, whether it is the same as in the row with the previous number. Missing entries mean that it is
    /// not.
    pub same: Vec<bool>,
}
