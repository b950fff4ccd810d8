//! A frame on its way to the stacking step: the one file that stands for it, and what the step needs to place it.

use std::path::PathBuf;

use crate::terms::basis::Kind;
use crate::terms::time::Utc;

/// One frame that is handed on, by one of its files.
#[derive(Clone, Debug, PartialEq)]
pub struct HandedFrame {
    /// The catalogue's number of the frame.
    pub frame_id: i64,
    /// The catalogue's number of the file.
    pub file_id: i64,
    /// The file's absolute path, byte for byte as the disk has it.
    pub path: PathBuf,
    /// The label of the dump it lies in.
    pub dump: String,
    /// Its size when it was read, in bytes.
    pub bytes: u64,
    /// The file system's time stamp when it was read, nanoseconds since 1970.
    pub modified_ns: i64,
    /// The body's number, when known.
    pub camera_id: Option<i64>,
    /// The number of its session.
    pub session: Option<i64>,
    /// Its position in the session, from 1.
    pub seq: Option<i64>,
    /// The evening's date, `2023-12-13`.
    pub night: Option<String>,
    /// What it is for.
    pub kind: Option<Kind>,
    /// When the shutter opened.
    pub start_utc: Option<Utc>,
    /// Exposure in seconds.
    pub exposure_s: Option<f64>,
    /// Sensitivity.
    pub iso: Option<f64>,
    /// The body's own temperature reading in °C.
    pub temperature_c: Option<f64>,
}
