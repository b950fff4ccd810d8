//! Where and when the frames of a body's night were taken: what the camera wrote and what the photographer stated ->
//! placements. Pure: no SQL, no files, no sky.
//!
//! - `place`: the frames of an evening, as a whole
//! - `time`: the evidence for a frame's time, in order of preference
//! - `hours`: readings that happened twice or never, resolved by the order of the frames
//! - `book`: the site book, with the zone of each site

pub mod book;
mod hours;
pub mod place;
pub mod time;
