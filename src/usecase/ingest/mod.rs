//! Dump -> catalogue, with many readers and one writer.
//!
//! - `roots`: which folders to walk, and which dump the files in them belong to
//! - `walker`: walks the folders
//! - `read_dumps`: the order of steps of an ingest
//! - `writer`: commits what the readers found, in batches
//! - `messages`: what the threads send each other
//! - `ingest_file`: one file read -> a new frame, a further file of a known one, or a copy
//! - `looks`: decodes the embedded pictures that kinds of frame depend on

pub mod ingest_file;
pub mod looks;
pub mod messages;
pub mod read_dumps;
pub mod roots;
mod walker;
mod writer;
