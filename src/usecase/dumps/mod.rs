//! Dumps: where each one is, how one that moved is recognised, and how one is renamed.
//!
//! - `presence`: whether a dump is where the catalogue has it
//! - `away`: describes a dump that is offline
//! - `sample_match`: compares a sample of a dump's files with a folder
//! - `relocate`: looks for known dumps by a few pictures of a folder
//! - `decide`: which dumps have moved: a pure decision over evidence
//! - `recognise`: gathers that evidence
//! - `recognised`: what the decision changed
//! - `remove`: takes a dump out of the catalogue
//! - `manage`: lists, moves and renames dumps

pub mod away;
mod decide;
pub mod manage;
pub mod presence;
pub mod recognise;
pub mod recognised;
mod relocate;
pub mod remove;
pub mod sample_match;
