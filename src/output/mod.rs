//! Files, folders and trees that appear whole or not at all, outside every dump. Knows nothing of what they hold.
//!
//! - `whole`, `whole_folder`: files and folders
//! - `tree`, `tree_link`: folder trees of links
//! - `outside_dumps`: keeps what is written out of the dumps
//! - `parts`: how they grow and take their places; `leftovers`: what killed runs left behind
//! - `unwritten`: what is said when the disk does not take an answer

mod leftovers;
pub mod outside_dumps;
pub mod parts;
pub mod tree;
pub mod tree_link;
pub mod unwritten;
pub mod whole;
#[cfg(feature = "parquet")]
pub mod whole_folder;
