//! What the photographer says on looking at frames: looked at, chosen, a note.

pub mod mark;
