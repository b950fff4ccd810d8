//! What a plan is made of: frames, lists, what is left out. Fields, and what is said of them.

use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::finding::Finding;
use crate::terms::time::Utc;

/// A frame of a list.
#[allow(clippy::struct_excessive_bools)] // facts that do not exclude each other
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// The frame's number.
    pub frame_id: i64,
    /// The number of the file that is handed on.
    pub file_id: i64,
    /// The middle of the exposure.
    pub mid_utc: Option<Utc>,
    /// Whether it is a light frame.
    pub is_light: bool,
    /// Whether the file shown for it is raw.
    pub is_raw: bool,
    /// Whether that file was damaged when it was read.
    pub is_damaged: bool,
    /// Whether it has more files than the one shown for it; and then, whether another is handed on.
    pub other_file: bool,
}

/// Why a frame cannot be handed on.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// The dump of this number is not there.
    Away(i64),
    /// What was seen of the file.
    Odd(Finding),
    /// What was found wrong with the file when it was read.
    Damaged(Finding),
}

/// Why nothing can be written.
pub(super) fn refused(message: impl Into<String>) -> Failure {
    Failure::new(FailureKind::Words, message)
}
