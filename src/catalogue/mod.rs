//! The SQLite catalogue, and only here. Knows no EXIF, no formulas, no query grammar: it is given checked queries.
//!
//! - `open`: opens; `acceptable`: which files it accepts
//! - `lock`: one writer at a time
//! - `upgrade`: applies `migrations/`, after a copy
//! - `generation`: which state is the latest; `logs`: whether a log beside it belongs to it
//! - `integrity`: whether its own file is damaged
//! - `backup`: a whole copy of it, checked
//! - `removal`: takes a dump out
//! - `within`: whether a path is inside a dump
//! - `make`: makes a new one; `whole.sql`: the result of the migrations
//! - `protected`: opens it where nothing can be written
//! - `files`: the files beside it, and how it is recognised
//! - `failure`: SQLite's errors in the photographer's words
//! - `store`: adds files and frames, one batch per transaction
//! - `dumps`: dumps as a whole: locations and contents
//! - `ensure`: dumps, folders and bodies: looked up or created
//! - `clocks`, `clocked`: clock statements, and the data for judging clocks
//! - `tracks`: recorded tracks
//! - `numbers`: stores sessions; `given`: the numbers that people have seen
//! - `makers`: the makers of derived rows; `pending`: which rows must be recomputed
//! - `derive`, `evenings`: the data for deriving; `placed`, `sky_rows`: time, place and sky of frames as rows
//! - `looks`: brightness samples of pictures
//! - `read`: reads records for use cases
//! - `select`: what can be requested; `selects`: the SELECTs for it
//! - `planner`: decides how a query is answered; `rewrite`: which conditions an index serves; `plan`: the decision as
//!   data; `plan_sql`: the same as SQL
//! - `row_reader`: how columns are read; `shared`: rows that many frames share, looked up once; `put`: values into
//!   cells
//! - `fetch`: runs it and returns rows
//! - `handoff`: frames in the order in which they are exported; `places`: where files are
//! - `snapshot`: one state of it for readers, on several connections
//! - `content`: hashes of whole files; `proofs`: what is proved of dumps by reading files back
//! - `calibration`: the data for matching darks, flats and bias frames to lights
//! - `count`: counts by night, session, site and the like
//! - `explain`: how a query is answered
//! - `saved`: queries by name
//! - `sessions`: reads sessions
//! - `sites`, `site_frames`: the site book, and the frames affected by a change of it
//! - `stated_places`: the stated places of frames
//! - `night`: reads a night, frame by frame
//! - `nights`: the stored nights of a site's frames
//! - `season`: reads years of nights
//! - `marks`: the photographer's marks of frames
//! - `names`: file names as text and as bytes
//! - `rows`: records into rows, column by column
//! - `run_sql`: runs statements, errors as failures
//! - `scale`: angles, moments and words as the whole numbers that are stored
//! - `opening`: where the first frames under a radiant are
//! - `findings`: findings of derived rows, stored or computed from the row
//! - `audit`: what is odd, missing or changed

mod acceptable;
pub mod audit;
pub mod audit_row;
pub mod backup;
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
pub mod facts_in_force;
pub mod failure;
pub mod fetch;
pub mod file_rows;
pub mod files;
mod findings;
pub mod fix_frames;
pub mod found_trails;
pub mod functions;
mod generation;
pub mod given;
pub mod handle;
pub mod handoff;
mod integrity;
mod lock;
mod logs;
pub mod look_frames;
pub mod look_log;
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
pub mod picture_spots;
pub mod pictures;
pub mod placed;
pub mod places;
pub mod plan;
mod plan_sql;
mod planner;
pub mod proofs;
mod protected;
pub mod purpose;
mod put;
pub mod read;
mod removal;
mod rewrite;
mod row_reader;
mod rows;
mod run_sql;
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
pub mod stated_looks;
mod stated_places;
pub mod stated_pointing;
pub mod stated_trails;
pub mod statements;
pub mod store;
mod take_over;
pub mod tracks;
mod upgrade;
pub mod within;
pub mod words;
