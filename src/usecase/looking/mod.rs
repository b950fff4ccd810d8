//! What the photographer says on looking at frames: looked at, chosen, a note; trails in them.

pub mod mark;
pub mod trail_list;
pub mod trail_paths;
pub mod trails;
