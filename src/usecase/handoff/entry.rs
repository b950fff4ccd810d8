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

#[cfg(test)]
mod tests {
    use super::*;

    /// A frame of a session, a minute of time and so many degrees after the middle light.
    fn entry(session: i64, turn: Option<(f64, TurnBasis)>) -> Entry {
        Entry {
            frame_id: 1,
            file_id: 1,
            mid_utc: Utc::parse(&format!("2023-12-14T09:{session:02}:00Z")),
            turn: turn.map(|(deg, basis)| SessionTurn {
                session,
                turn: Turn { deg, basis },
            }),
            is_light: true,
            is_raw: true,
            is_damaged: false,
            other_file: false,
        }
    }

    #[test]
    fn a_turn_since_a_frame_is_that_of_stars_or_mount_where_both_have_it() {
        let since = |one: &Entry, other: &Entry| {
            let turn = one.turn_since(other);
            turn.map(|turn| ((turn.deg * 1000.0).round() / 1000.0, turn.basis))
        };
        let stars = |session, deg| entry(session, Some((deg, TurnBasis::Stars)));
        let mount = |session| entry(session, Some((0.0, TurnBasis::Mount)));
        // Within a session, whatever the clock says.
        assert_eq!(
            since(&stars(4, 7.5), &stars(4, -2.0)),
            Some((9.5, TurnBasis::Stars))
        );
        assert_eq!(since(&mount(4), &mount(4)), Some((0.0, TurnBasis::Mount)));
        assert_eq!(
            since(&stars(4, 7.5), &mount(4)),
            Some((7.5, TurnBasis::Stars))
        );
        // From session to session by the clock, two minutes here, but for a mount.
        let two_minutes = Some((0.501, TurnBasis::Clock));
        assert_eq!(since(&stars(6, 7.5), &stars(4, 0.0)), two_minutes);
        assert_eq!(since(&entry(6, None), &stars(4, 0.0)), two_minutes);
        assert_eq!(since(&mount(6), &mount(4)), Some((0.0, TurnBasis::Mount)));
        assert_eq!(since(&mount(6), &stars(4, 0.0)), None);
    }
}
