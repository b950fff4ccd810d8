//! Files in the catalogue, as an ingest needs them. Fields only.

use std::ffi::OsStr;

use crate::terms::basis::Health;
use crate::terms::records::FileReading;
use crate::terms::time::WallTime;

/// A file of the catalogue, with the data that ingesting another one needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileRow {
    /// Its number.
    pub file_id: i64,
    /// The frame it belongs to.
    pub frame_id: i64,
    /// The file whose contents it repeats.
    pub copy_of: Option<i64>,
    /// How many files its frame has.
    pub files_of_frame: i64,
}

/// A frame that may be of the same press of the shutter as a new file.
#[derive(Clone, Debug, PartialEq)]
pub struct PressRow {
    /// Its number.
    pub frame_id: i64,
    /// Its first file.
    pub first_file_id: i64,
    /// The body, if known.
    pub camera_id: Option<i64>,
    /// Maker, model and serial number of the body.
    pub body: [Option<String>; 3],
    /// The clock reading.
    pub clock_local: Option<WallTime>,
    /// Its files.
    pub files: Vec<PressFile>,
}

/// One file of a [`PressRow`].
#[derive(Clone, Debug, PartialEq)]
pub struct PressFile {
    /// The container.
    pub format: String,
    /// Its state.
    pub health: Health,
    /// The folder, below its dump's root.
    pub folder: String,
}

/// A file to be added.
#[derive(Clone, Copy, Debug)]
pub struct NewFile<'a> {
    /// The folder's number.
    pub folder_id: i64,
    /// Its name.
    pub name: &'a OsStr,
    /// Its size.
    pub bytes: u64,
    /// The file system's time stamp.
    pub modified_ns: i64,
    /// The result of reading it.
    pub reading: &'a FileReading,
}
