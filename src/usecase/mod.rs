//! The use cases: the order of steps of everything that framefall does. No formula, no SQL, no printing.
//!
//! - `ingest`: dump -> catalogue
//! - `dumps`: where dumps are; how one that moved is recognised
//! - `copy`: card -> proved copies; what is proved of a dump; reading an archive back
//! - `derive`: time, place, sky, sessions, from what is written and stated
//! - `statements`: the log of what the photographer stated
//! - `clocks`, `sites`, `marks`: stating it
//! - `looking`: what is said on looking at frames
//! - `examine`: what is in pictures: stars, which way the camera looked
//! - `audit`: clocks that must be wrong
//! - `backup`: a checked copy of the catalogue
//! - `audit_summary`: what the findings ask for
//! - `listings`: queries, counts, sheets
//! - `report`: the page of a night, the page of an archive
//! - `handoff`: query -> list for the stacking step, checked against the disk, and its manifest
//! - `export`: lists, their manifest and a tree of links, written whole or not at all
//! - `dataset`: query -> Parquet tables (feature `parquet`)
//! - `parallel`, `stretches`, `in_order`: work shared by the processor's cores, results in order
//! - `typed`: readings and instants as people type them
//! - `shortage`: an error of the machine's limits, in words

pub mod audit;
pub mod audit_summary;
pub mod backup;
pub mod clocks;
pub mod copy;
#[cfg(feature = "parquet")]
pub mod dataset;
pub mod derive;
pub mod dumps;
pub mod examine;
pub mod export;
pub mod handoff;
mod in_order;
pub mod ingest;
pub mod listings;
pub mod looking;
pub mod marks;
mod parallel;
pub mod report;
mod shortage;
pub mod sites;
pub mod statements;
pub mod stretches;
mod typed;
