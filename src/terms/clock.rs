//! The photographer's statements about a body's clock. Fields, no arithmetic.

use crate::terms::day::DAY_S;
use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// When this body's clock read `reading`, the true time was `true_utc`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockFix {
    /// The catalogue's number; 0 before it is stored.
    pub id: i64,
    /// What the clock showed.
    pub reading: WallTime,
    /// The true instant at that moment.
    pub true_utc: Utc,
    /// The offset from UTC that the body wrote beside its readings at about that time, in seconds east, if any.
    pub written_offset_s: Option<i32>,
    /// Whether the clock ran on since the previous fix.
    pub before: Before,
    /// The first reading it is limited to.
    pub from: Option<WallTime>,
    /// The first reading after those it is limited to.
    pub until: Option<WallTime>,
    /// The frames among those readings to which it is limited; `None`: all.
    pub frames: Option<FrameSet>,
}

/// Identifies a set of frames in every catalogue, by a hash of their marks.
pub type FrameSet = [u8; 16];

/// The readings and frames to which a fix is limited: only fixes with the same limits apply together.
pub type FixLimits = (Option<WallTime>, Option<WallTime>, Option<FrameSet>);

/// Identifies a fix of a body.
pub type FixKey = (WallTime, FixLimits);

impl ClockFix {
    /// What identifies it among the fixes of its body.
    pub const fn key(&self) -> FixKey {
        (self.reading, self.limits())
    }

    /// Its limits.
    pub const fn limits(&self) -> FixLimits {
        (self.from, self.until, self.frames)
    }

    /// The first and last limit, if both are stated: only fixes of the same window apply inside it.
    pub fn window(&self) -> Option<(WallTime, WallTime)> {
        self.from.zip(self.until)
    }

    /// Whether the fix was stated to begin an epoch of its own, so that its whole difference counts as the clock's error.
    pub fn begins_epoch(&self) -> bool {
        self.before == Before::Reset || self.from.is_some() || self.until.is_some()
    }
}

/// What happened to a clock since the previous fix.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Before {
    /// It ran on: the difference between the two fixes is drift.
    RanOn,
    /// It was reset: a new epoch begins between them.
    Reset,
}

/// A zone setting shown by GPS time stamps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StampedSetting {
    /// Seconds east of UTC.
    pub offset_s: i32,
    /// Whether more than one stamp shows it.
    pub several: bool,
}

/// The zone a body's clock was set to, for a stretch of its readings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ZoneStated {
    /// The catalogue's number; 0 before it is stored.
    pub id: i64,
    /// IANA name, or a fixed offset such as `+01:00`.
    pub zone: String,
    /// The first reading it applies to; `None`: from the beginning.
    pub from: Option<WallTime>,
    /// The first reading it no longer applies to; `None`: without end.
    pub until: Option<WallTime>,
}

/// Frames that are placed together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Evening {
    /// The frames of one body whose readings are of one evening.
    OfBody {
        /// The body; `None` for frames whose body is unknown.
        camera_id: Option<i64>,
        /// The day, counted from 1970; the readings are from its noon to the next.
        day: i64,
    },
    /// A frame without a reading.
    OfFrame(i64),
}

/// The evening of a reading, noon to noon, as a day counted from 1970.
pub fn evening_day(reading: WallTime) -> i64 {
    (reading.seconds() - DAY_S / 2).div_euclid(DAY_S)
}

/// The first second of an evening, and the first after it, in the seconds of readings.
pub fn evening_seconds(day: i64) -> (i64, i64) {
    let noon = day * DAY_S + DAY_S / 2;
    (noon, noon + DAY_S)
}

/// The data of a frame that judging its body's clock needs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClockedFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// What the clock showed.
    pub reading: Option<WallTime>,
    /// When the shutter opened, as derived.
    pub start_utc: Option<Utc>,
    /// The offset that the body wrote, seconds east.
    pub written_offset_s: Option<i32>,
    /// The GPS time stamp.
    pub gps_utc: Option<Utc>,
}

/// The data of a session that judging its body's clock needs.
#[derive(Clone, Debug, PartialEq)]
pub struct ClockedSession {
    /// Its number.
    pub session_id: i64,
    /// The name of the body on the command line; `None` if its files name none.
    pub camera: Option<String>,
    /// The site's name and zone, if known.
    pub site: Option<(String, Option<String>)>,
    /// The evening's date.
    pub night: String,
    /// Its frames, in order.
    pub frames: Vec<ClockedFrame>,
}

/// A frame of a body with its file, for finding the body's runs.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyFrame {
    /// The frame.
    pub frame: RunFrame,
    /// The number of the folder that holds its first file.
    pub folder_id: i64,
    /// That file's name.
    pub file_name: String,
    /// The number of the site it is placed at.
    pub site_id: Option<i64>,
    /// Where it was taken.
    pub place: Option<Place>,
}

/// A frame of a session, with its first file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionFile {
    /// Its number.
    pub frame_id: i64,
    /// The number of its body.
    pub camera_id: Option<i64>,
    /// What the clock showed.
    pub reading: WallTime,
    /// The label of the dump.
    pub dump: String,
    /// The name of the file.
    pub file_name: String,
}

/// A frame of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunFrame {
    /// The catalogue's number.
    pub frame_id: i64,
    /// What the clock showed.
    pub reading: WallTime,
    /// When the shutter opened, as derived.
    pub start_utc: Option<Utc>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// Geometric altitude of the Sun, as derived.
    pub sun_alt_deg: Option<f64>,
    /// Whether the lens was capped or not pointed at the sky.
    pub no_sky: bool,
    /// Its session.
    pub session_id: Option<i64>,
    /// Its night, as a day counted from 1970.
    pub night_day: Option<i64>,
}

/// A body's readings on one 1 January.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FirstDay {
    /// The first frame of that day.
    pub frame_id: i64,
    /// Its clock reading.
    pub reading: WallTime,
    /// How many frames there are on that day.
    pub frames: i64,
    /// The body's nearest reading on another day, if there is one.
    pub nearest_other: Option<WallTime>,
}

#[cfg(test)]
impl RunFrame {
    /// A frame of which nothing but the reading of its clock is known.
    pub(crate) fn read_at(frame_id: i64, reading: WallTime) -> Self {
        Self {
            frame_id,
            reading,
            start_utc: None,
            exposure_s: None,
            iso: None,
            sun_alt_deg: None,
            no_sky: false,
            session_id: None,
            night_day: None,
        }
    }
}
