//! The position of a maker note.

use crate::capture::ifd::place::Place;
use crate::capture::numbers::Order;

/// The position of a maker note.
#[derive(Clone, Copy, Debug)]
pub struct Note {
    /// Its first byte, in the source.
    pub at: u64,
    /// Its length in bytes, as stored.
    pub len: u64,
    /// The block it is part of: some makers count offsets from that block's header.
    pub place: Place,
    /// The order of bytes of that block.
    pub order: Order,
}

impl Note {
    /// The note as a block of its own, whose offsets count from `base`.
    pub fn within(&self, base: u64) -> Place {
        Place {
            base,
            end: self.at.saturating_add(self.len).min(self.place.end),
            inside: self.place.inside,
        }
    }
}
