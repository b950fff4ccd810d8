//! Clocks that must be wrong: each check looks at what is known, says what it saw, and which command would put it
//! right. Knows no SQL; the Sun's altitude at another instant is asked of the caller.
//!
//! - `night`: long exposures at high sensitivity, dated in daylight or on into it
//! - `shift`: the whole-hour, twelve-hour or one-day step that makes them fit the night
//! - `bodies`: two bodies at one site in one night that cannot both be right
//! - `numbers`: file numbers that rise while the clock steps back or leaps
//! - `first_day`: 1 January of a clock that was never set
//! - `offset`: the written offset and the site's zone in contradiction
//! - `stamp`: GPS time and clock apart

pub mod bodies;
pub mod first_day;
pub mod night;
pub mod numbers;
pub mod offset;
pub mod shift;
pub mod stamp;

use crate::terms::command_line::CommandLine;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// A clock that must be wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// A code of the table of findings.
    pub code: &'static str,
    /// The frame it shows at.
    pub frame_id: i64,
    /// The evidence.
    pub saw: String,
    /// What would put it right.
    pub cure: String,
}

/// The command that would state a fix, as far as the reading.
pub fn fix_of(camera: &str, reading: WallTime) -> CommandLine {
    CommandLine::new("clock fix")
        .argument(camera)
        .option("--read", reading.to_string().replace('T', " "))
}

/// The command that would state a fix.
pub fn fix_command(camera: &str, reading: WallTime, true_utc: Utc) -> String {
    fix_of(camera, reading)
        .option("--true", true_utc.to_string())
        .to_string()
}
