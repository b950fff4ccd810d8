//! The parts of a plan: frames, lists, frames left out. Fields, and their words.

use crate::sky::trail::turn;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::time::Utc;
use crate::terms::turn::SessionTurn;
use crate::terms::turn::Turn;
use crate::terms::turn::TurnBasis;

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
    /// The turn of the sky since its session's middle light, where the clock alone does not tell it.
    pub turn: Option<SessionTurn>,
    /// Whether it is a light frame.
    pub is_light: bool,
    /// Whether the file shown for it is raw.
    pub is_raw: bool,
    /// Whether that file was damaged when it was read.
    pub is_damaged: bool,
    /// Whether it has more files than the one shown for it; later, whether another is exported.
    pub other_file: bool,
}

impl Entry {
    /// The turn of the sky since the reference frame: within a session by stars or mount where both are known so, else by the clock.
    /// Nothing where a mount followed the stars in one of the two only, or there is no clock.
    pub(super) fn turn_since(&self, reference: &Self) -> Option<Turn> {
        if let (Some(own), Some(other)) = (self.turn, reference.turn)
            && own.session == other.session
        {
            return Some(own.turn.since(other.turn));
        }
        let follows = |one: &Self| {
            one.turn
                .is_some_and(|kept| kept.turn.basis == TurnBasis::Mount)
        };
        match (follows(self), follows(reference)) {
            (true, true) => Some(Turn::NONE),
            (false, false) => Some(Turn {
                deg: turn(reference.mid_utc?, self.mid_utc?).deg(),
                basis: TurnBasis::Clock,
            }),
            _ => None,
        }
    }
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
