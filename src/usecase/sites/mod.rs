//! The site book and recorded tracks.
//!
//! - `book`: adds sites, and states where frames were taken
//! - `change`: changes or removes a site
//! - `tracks`: states a recorded track, and removes it

pub mod book;
pub mod change;
pub mod tracks;
