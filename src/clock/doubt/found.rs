//! A clock that must be wrong, and the command that corrects it.

use crate::terms::command_line::CommandLine;
use crate::terms::name_span::NameSpan;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// Which frames a command is limited to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Limit {
    /// Those with readings from the first to before the second.
    Readings(WallTime, WallTime),
    /// Those of sessions; on the dump of that label only, with such file names only, if given.
    Sessions {
        /// The numbers of the sessions.
        sessions: Vec<i64>,
        /// The label of the dump.
        dump: Option<String>,
        /// The names of the files.
        files: Option<NameSpan>,
    },
}

impl Limit {
    /// All frames of a session.
    pub fn session(session_id: i64) -> Self {
        Self::Sessions {
            sessions: vec![session_id],
            dump: None,
            files: None,
        }
    }
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
        Limit::Sessions {
            sessions,
            dump,
            files,
        } => {
            let mut fix = fix;
            for session in sessions {
                fix = fix.option("--session", session.to_string());
            }
            if let Some(dump) = dump {
                fix = fix.option("--dump", dump);
            }
            if let Some(files) = files {
                fix = fix.option("--files", files.to_string());
            }
            fix
        }
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
