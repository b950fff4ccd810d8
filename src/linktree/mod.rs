//! The paths of links in a tree, for stacking programs that open folders. Pure arithmetic on names: knows no disk, no
//! SQL.
//!
//! - `names`: names of files and folders that every file system accepts
//! - `layout`: frames -> their paths in the tree, by session and kind, in order

pub mod layout;
pub mod names;
