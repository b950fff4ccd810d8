//! Where the links of a tree lie, for stacking programs that take folders. Pure arithmetic on names: knows no disk, no SQL.
//!
//! - `names`: names of files and folders that every file system takes
//! - `layout`: frames -> their places in the tree, by session and kind, in order

pub mod layout;
pub mod names;
