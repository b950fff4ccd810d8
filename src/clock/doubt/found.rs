//! A clock that must be wrong, and the command that corrects it.

use crate::terms::command_line::CommandLine;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Which frames a command is limited to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// Those of a session.
    Session(i64),
    /// Those with readings from the first to before the second.
    Readings(WallTime, WallTime),
}

/// A clock that must be wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// A code of the table of findings.
    pub code: &'static str,
    /// The frame at which it shows.
    pub frame_id: i64,
    /// The evidence.
    pub saw: String,
    /// What to do about it.
    pub cure: String,
}

/// The beginning of a command that states a fix, up to the reading.
pub fn fix_of(camera: &str, reading: WallTime) -> CommandLine {
    CommandLine::new("clock fix")
        .argument(camera)
        .option("--read", in_one_word(reading))
}

/// The command that states a fix, limited to the frames in doubt.
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

/// A reading as it is typed on the command line.
fn in_one_word(reading: WallTime) -> String {
    reading.to_string().replace('T', " ")
}
