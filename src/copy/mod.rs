//! Copies a card to its targets: each file is read once, hashed, written beside its place, brought to the disk, read back
//! past the cache, compared, and only then put in its place. The only room that may create files of a dump. Knows no SQL.
//!
//! - `engine`: the order of steps for the files of a card; `order`: what it is told, and what it tells
//! - `source`: reads a file of the card; `target`: writes one and reads it back
//! - `part`: the door: temporary files, and how one takes its place
//! - `read_back`: reads a file past the cache and hashes it, in `pieces` of which some are under way at a time
//! - `names`: what a target's file system can hold, asked before the first byte

pub mod engine;
pub mod names;
pub mod order;
mod part;
mod pieces;
pub mod read_back;
mod source;
mod target;

pub use part::prepare;
pub use part::remove_stale_parts;
