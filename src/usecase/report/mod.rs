//! Reports: of a night and of an archive.
//!
//! - `night`: night -> report
//! - `shown`: which pictures of a session are shown
//! - `pictures`: pictures read, radiants in them, outlines on the sky
//! - `meteors`: judged meteors, candidates, charts
//! - `turn`: how far the sky turned, by the stars of pictures
//! - `season`: years -> the archive's page
//! - `tallies`: what the sky did during its sessions

mod meteors;
pub mod night;
mod pictures;
pub mod season;
pub mod shown;
pub mod tallies;
