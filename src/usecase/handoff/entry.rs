//! The parts of a plan: frames, lists, frames left out. Fields, and their words.

use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::time::Utc;

/// A frame of a list.
#[allow(clippy::struct_excessive_bools)] // facts that do not exclude each other
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// The frame's number.
    pub frame_id: i64,
    /// The number of the file to be exported.
    pub file_id: i64,
    /// The middle of the exposure.
    pub mid_utc: Option<Utc>,
    /// Whether it is a light frame.
    pub is_light: bool,
    /// Whether the file shown for it is raw.
    pub is_raw: bool,
    /// Whether that file was damaged when it was read.
    pub is_damaged: bool,
    /// Whether it has more files than the one shown for it; later, whether another is exported.
    pub other_file: bool,
}

/// Why a frame cannot be exported.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// The dump of this number is offline.
    Away(i64),
    /// What was found about the file.
    Odd(Finding),
    /// The damage found when the file was read.
    Damaged(Finding),
}

/// Why nothing can be written.
pub(super) fn refused(message: impl Into<String>) -> Failure {
    Failure::words(message)
}
