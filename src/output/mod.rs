//! Files, folders and trees that appear complete or not at all, outside every dump. Knows nothing of their contents.
//!
//! - `atomic_file`, `atomic_folder`: files and folders
//! - `tree`, `tree_link`: folder trees of links
//! - `outside_dumps`: refuses to write inside dumps
//! - `temp_file`: temporary files and folders and their renames; `stale_temp_files`: those of killed runs
//! - `write_error`: messages if an answer cannot be written

pub mod atomic_file;
#[cfg(feature = "parquet")]
pub mod atomic_folder;
pub mod outside_dumps;
mod stale_temp_files;
pub mod temp_file;
pub mod tree;
pub mod tree_link;
pub mod write_error;
