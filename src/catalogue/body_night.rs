//! A night of one body, and its frames. Fields only.

use crate::terms::records::SessionFrame;

/// A night of one body, whose sessions are to be found anew.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BodyNight {
    /// The evening's date.
    pub night: String,
    /// The body; `None` for frames whose body is not known.
    pub camera_id: Option<i64>,
}

/// A frame of a night, and whose it is.
#[derive(Clone, Debug, PartialEq)]
pub struct NightFrame {
    /// The frame as the grouping of sessions sees it.
    pub frame: SessionFrame,
    /// The body; `None` where it is not known.
    pub camera_id: Option<i64>,
}

/// Whether a frame has derived rows already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Derived {
    /// It is new: nothing to take away.
    FirstTime,
    /// Its rows of before are written over, or taken away.
    Again,
}
