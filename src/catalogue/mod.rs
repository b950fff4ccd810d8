//! The SQLite catalogue, and only here. Knows no EXIF, no formulas, no query grammar: it is given
//! checked queries.
//!
//! - `open`: opens; `acceptable`: what a file must be for it
//! - `lock`: one writer at a time
//! - `upgrade`: applies `migrations/`, after a copy
//! - `generation`: which state is the latest; `logs`: whether a log beside it belongs to it
//! - `integrity`: whether its own file is damaged
//! - `within`: whether a place is inside a dump
//! - `make`: makes a new one; `whole.sql`: what the migrations come to
//! - `protected`: opens it where nothing can be written
//! - `files`: what lies beside it, and how it is told from other files
//! - `failure`: SQLite's errors in the photographer's words
//! - `store`: files and frames in, one batch a transaction
//! - `dumps`: dumps as a whole: where they lie, what they hold
//! - `ensure`: dumps, folders and bodies: found, or made
//! - `clocks`, `clocked`: what is stated of clocks, and what judging them asks
//! - `tracks`: recorded tracks
//! - `numbers`: sessions in; `given`: the numbers that were handed out to people
//! - `makers`: who made derived rows; `pending`: which of them are to be made again
//! - `derive`, `evenings`: what deriving asks; `placed`, `sky_rows`: what it came to, time, place and sky of frames, into their rows
//! - `looks`: what pictures show, as it was measured
//! - `read`: records out, for the steps of use cases
//! - `select`: what can be asked for; `selects`: the SELECTs for it
//! - `planner`: decides how it is answered; `plan`: what was decided, as data; `plan_sql`: the same as SQL
//! - `row_reader`: how its columns are read; `shared`: rows that many frames share, looked up once; `put`: values into cells
//! - `fetch`: runs it, rows out
//! - `handoff`: frames in the order they are handed on; `places`: where files lie
//! - `snapshot`: one state of it for whoever reads, on several connections
//! - `content`: hashes of whole files
//! - `calibration`: what matching darks, flats and bias frames to lights needs
//! - `count`: counts by night, session, site and the like
//! - `explain`: how a question is answered
//! - `saved`: queries by name
//! - `sessions`: sessions out
//! - `sites`, `site_frames`: the site book, and the frames that a change of it concerns
//! - `stated_places`: where the photographer says that frames were taken
//! - `night`: a night out, frame by frame
//! - `nights`: the nights that frames of a site are kept in
//! - `season`: years of nights out
//! - `marks`: what the photographer says of frames; how bright pictures are
//! - `names`: file names as text and as bytes
//! - `rows`: records into rows, column by column
//! - `scale`: angles, moments and words as the whole numbers that are kept
//! - `opening`: where the first frames under a radiant lie
//! - `findings`: what is odd about derived rows, kept or told by the row
//! - `audit`: what is odd, missing or changed

mod acceptable;
pub mod audit;
pub mod audit_row;
pub mod batch;
pub mod body_night;
pub mod calibration;
pub mod clocked;
pub mod clocks;
mod columns;
pub mod content;
pub mod count;
pub mod derive;
pub mod dumps;
pub mod ensure;
pub mod evenings;
pub mod explain;
pub mod failure;
pub mod fetch;
pub mod file_rows;
pub mod files;
mod findings;
mod generation;
pub mod given;
pub mod handle;
pub mod handoff;
mod integrity;
mod lock;
mod logs;
pub mod looks;
pub mod make;
pub mod makers;
pub mod marks;
pub mod migrations;
pub mod names;
pub mod night;
pub mod nights;
pub mod numbers;
pub mod open;
mod opening;
pub mod pending;
pub mod placed;
pub mod places;
pub mod plan;
mod plan_sql;
mod planner;
mod protected;
pub mod purpose;
mod put;
pub mod read;
mod row_reader;
mod rows;
pub mod saved;
mod scale;
pub mod season;
pub mod select;
mod selects;
pub mod sessions;
mod shared;
pub mod site_frames;
pub mod sites;
mod sky_rows;
pub mod snapshot;
pub mod stated_frames;
mod stated_places;
pub mod statements;
pub mod store;
mod take_over;
pub mod tracks;
mod upgrade;
pub mod within;
pub mod words;
