//! What the photographer states of a body's clock. Fields, no arithmetic.

use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// When this body's clock read `reading`, the true time was `true_utc`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockFix {
    /// The catalogue's number; 0 before it is stored.
    pub id: i64,
    /// What the clock showed.
    pub reading: WallTime,
    /// The instant it was then.
    pub true_utc: Utc,
    /// What the body wrote beside its readings about then as their offset from UTC, seconds east, when it wrote one.
    pub written_offset_s: Option<i32>,
    /// Whether the clock ran on since the fix before this one.
    pub before: Before,
}

/// What happened to a clock since the fix before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Before {
    /// It ran on: the difference between the two fixes is drift.
    RanOn,
    /// It was set anew: a break.
    Reset,
}

/// The zone a body's clock was set to, for a stretch of its readings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ZoneStated {
    /// The catalogue's number; 0 before it is stored.
    pub id: i64,
    /// IANA name, or a fixed offset such as `+01:00`.
    pub zone: String,
    /// The first reading it holds for; `None`: from the first there is.
    pub from: Option<WallTime>,
    /// The first reading it holds for no more; `None`: for ever.
    pub until: Option<WallTime>,
}
