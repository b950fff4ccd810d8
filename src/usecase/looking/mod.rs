//! What the photographer says on looking at frames: looked at, chosen, a note; trails in them; taken back; the page to look.

pub mod mark;
pub mod over_picture;
pub mod scene;
pub mod stars_over;
pub mod trail_list;
pub mod trail_paths;
pub mod trails;
pub mod undo;
