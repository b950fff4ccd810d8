//! Reports: of a night and of an archive.
//!
//! - `night`: night -> report
//! - `season`: years -> the archive's page
//! - `tallies`: what the sky did during its sessions

pub mod night;
pub mod season;
pub mod tallies;
