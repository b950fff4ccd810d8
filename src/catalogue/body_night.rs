//! A night of one body, and its frames. Fields only.

use crate::terms::records::SessionFrame;

/// A night of one body, whose sessions must be grouped again.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BodyNight {
    /// The evening's date.
    pub night: String,
    /// The body; `None` for frames whose body is unknown.
    pub camera_id: Option<i64>,
}

/// A frame of a night, and its body.
#[derive(Clone, Debug, PartialEq)]
pub struct NightFrame {
    /// The frame's data for the grouping of sessions.
    pub frame: SessionFrame,
    /// The body; `None` if unknown.
    pub camera_id: Option<i64>,
}

/// Whether a frame has derived rows already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Derived {
    /// It is new: there are no rows to remove.
    FirstTime,
    /// Its previous rows are updated or removed.
    Again,
}
