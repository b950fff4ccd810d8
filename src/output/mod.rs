//! Files, folders and trees that appear whole or not at all, outside every dump. Knows nothing of what they hold.
//!
//! - `atomic_file`, `atomic_folder`: files and folders
//! - `tree`, `tree_link`: folder trees of links
//! - `outside_dumps`: keeps what is written out of the dumps
//! - `temp_file`: how they grow and take their places; `stale_temp_files`: what killed runs left behind
//! - `write_error`: what is said when the disk does not take an answer

pub mod atomic_file;
#[cfg(feature = "parquet")]
pub mod atomic_folder;
pub mod outside_dumps;
mod stale_temp_files;
pub mod temp_file;
pub mod tree;
pub mod tree_link;
pub mod write_error;
