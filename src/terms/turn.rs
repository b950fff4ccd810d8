//! How far the sky turned about the pole before a camera, and by what that is known.

use crate::terms::words::words;

words! {
    /// By what a turn is known: the word used in the catalogue, in queries and in exports.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum TurnBasis {
        /// The time between the frames: the camera is taken to have stood still.
        Clock = "clock",
        /// The stars in the pictures.
        Stars = "stars",
        /// A mount that followed the stars, as these show or as is stated: nothing turns.
        Mount = "mount",
    }
}

/// How far the sky turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// The angle about the pole in degrees, positive for a later frame.
    pub deg: f64,
    /// By what it is known.
    pub basis: TurnBasis,
}

impl Turn {
    /// Before a mount that follows the stars.
    pub const NONE: Self = Self {
        deg: 0.0,
        basis: TurnBasis::Mount,
    };

    /// The turn of this frame since another one, where both are known since the same third one.
    #[must_use]
    pub fn since(self, other: Self) -> Self {
        let either = |basis| self.basis == basis || other.basis == basis;
        let mut basis = [TurnBasis::Clock, TurnBasis::Stars].into_iter();
        Self {
            deg: self.deg - other.deg,
            basis: basis.find(|one| either(*one)).unwrap_or(self.basis),
        }
    }
}

/// The turn of a frame since its session's middle light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SessionTurn {
    /// The session's number.
    pub session: i64,
    /// The turn.
    pub turn: Turn,
}
