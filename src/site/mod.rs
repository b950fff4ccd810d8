//! Where the tripod was. Knows no sky and no SQL.
//!
//! - `parse`: coordinates as people write them
//! - `assign`: which place a frame gets, and on what evidence
//! - `track`: a position on a recorded track at an instant
//! - `zone_lookup`: a zone's name from coordinates, offline

pub mod assign;
pub mod parse;
pub mod track;
pub mod zone_lookup;
