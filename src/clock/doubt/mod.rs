//! Clocks that must be wrong: each check looks at what is known, says what it found, and which command would put it
//! right. Knows no SQL; the Sun's altitude at another instant is asked of the caller.
//!
//! - `run`: the frames of a body that follow each other, which are judged together
//! - `light`: long exposures at high sensitivity, dated in daylight or on into it
//! - `numbers`: file numbers that rise while the clock steps back or leaps
//! - `shift`, `sun`, `rank`: the errors a clock may have, and which of them fits best
//! - `remedy`: the errors that fit in words, with the command for the likeliest
//! - `order`, `contradiction`: runs that cannot both be dated rightly, and which of them is wrong
//! - `judge`: one body's runs through all of these
//! - `first_day`: 1 January of a clock that was never set
//! - `offset`: the written offset and the site's zone in contradiction
//! - `stamp`: GPS time and clock apart

pub mod contradiction;
pub mod first_day;
pub mod judge;
pub mod light;
pub mod numbers;
pub mod offset;
pub mod order;
pub mod rank;
pub mod remedy;
pub mod run;
pub mod shift;
pub mod stamp;
pub mod sun;

use crate::clock::doubt::remedy::Limit;
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
        .option("--read", in_one_word(reading))
}

/// The command that would state a fix, limited to the frames in doubt.
pub fn fix_command(camera: &str, reading: WallTime, true_utc: Utc, limit: Limit) -> String {
    let fix = fix_of(camera, reading).option("--true", true_utc.to_string());
    match limit {
        Limit::Session(session) => fix.option("--session", session.to_string()),
        Limit::Readings(from, until) => fix
            .option("--from", in_one_word(from))
            .option("--until", in_one_word(until)),
    }
    .to_string()
}

/// A reading as it is typed.
fn in_one_word(reading: WallTime) -> String {
    reading.to_string().replace('T', " ")
}
