//! The corridor: the only code that sees two rooms. The order of steps; no formula, no SQL, no printing.
//!
//! - `ingest`: dump -> catalogue, with many readers and one writer
//! - `walker`: the one walker of an ingest
//! - `writer`: the one writer of an ingest; `in_order`: what several threads sent, in the order of the work
//! - `stretches`: rows made by several threads of one state of the catalogue
//! - `recognise`: a folder new to the catalogue that is a known dump moved; `likeness`: whether a folder holds a dump's files
//! - `decide`: which dumps have moved, over evidence that `recognise` gathers; `recognised`: what that came to
//! - `seek`: known dumps looked for by a few pictures of a folder; `standing`: whether a dump is where the catalogue has it
//! - `roots`: which folders to walk, and whose the files in them are
//! - `take_in`: one file read -> a new frame, a further file of a known one, or a copy
//! - `derive`: time, place, sky of a body's evenings into the catalogue; `pending`: of all frames that lack them
//! - `placer`: evenings placed by what is stated
//! - `nights`: runs over a noon at which the Sun is down, moved to the night where they began
//! - `regroup`: the sessions of touched nights; `looks`: the pictures their kinds hang on; `at_once`: work shared by the processors
//! - `listings`: sessions, sites, findings as small sheets; `shower_sheet`: showers
//! - `said`: readings and instants as people type them
//! - `site_change`: changing a site, and taking one away
//! - `tracks`: stating a recorded track, and taking it back
//! - `audit`: clocks that must be wrong
//! - `away`: a dump that is not there, in words
//! - `bodies`: which body the photographer means
//! - `clocks`: stating what a body's clock showed, and removing a statement
//! - `clock_limits`, `clock_refusals`: the readings a statement is limited to; statements that contradict each other
//! - `clock_sheet`: what is stated of clocks, as a small sheet
//! - `sites`: the site book, and stating where frames were taken
//! - `dumps`: dumps as a small sheet; moving and renaming them
//! - `rederive`: all that follows from a changed statement, built anew
//! - `rebuild`: every derived row made again, in batches
//! - `maker`: who makes derived rows, and which rows are stale
//! - `night`: night -> report; `tallies`: what the sky did over its sessions
//! - `season`: years -> the archive's page
//! - `passing`: what passes between the threads of an ingest
//! - `marks`: what the photographer says of a session's frames
//! - `answers`: counts by a key, how a query is answered, queries by name
//! - `export`: lists, their manifest and a tree of links, in their places whole or not at all
//! - `handoff`: query -> list for the stacking step, checked against the disk, and its manifest
//! - `dataset`: query -> tables for engines that read columns (feature `parquet`)
//! - `frames`: query -> rows; when there are none, says why

pub mod answers;
mod at_once;
pub mod audit;
pub mod away;
pub mod bodies;
pub mod clock_limits;
mod clock_refusals;
pub mod clock_sheet;
pub mod clocks;
#[cfg(feature = "parquet")]
pub mod dataset;
mod decide;
pub mod derive;
pub mod dumps;
pub mod export;
pub mod frames;
pub mod handoff;
mod in_order;
pub mod ingest;
pub mod likeness;
pub mod listings;
pub mod looks;
pub mod maker;
pub mod marks;
pub mod night;
mod nights;
pub mod passing;
pub mod pending;
mod placer;
pub mod rebuild;
pub mod recognise;
pub mod recognised;
pub mod rederive;
pub mod regroup;
pub mod roots;
mod said;
pub mod season;
mod seek;
mod shortage;
pub mod shower_sheet;
pub mod site_change;
pub mod sites;
pub mod standing;
pub mod statements;
pub mod stretches;
pub mod take_in;
pub mod tallies;
pub mod tracks;
mod walker;
mod writer;
