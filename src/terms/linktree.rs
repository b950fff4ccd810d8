//! A folder tree of links to frames. Fields, no layout, no disk.

use std::path::PathBuf;

use crate::terms::words::words;

words! {
    /// How a file of the tree represents the frame's own.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum LinkAs {
        /// A symbolic link: a name that points at the file.
        Symbolic = "symbolic",
        /// A hard link: a second name of the file itself.
        Hard = "hard",
        /// A new file that shares the contents on the disk until one of the two is changed.
        Reflink = "reflink",
        /// A new file with the same contents.
        Copy = "copy",
    }
}

/// One link of a tree.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TreeLink {
    /// The catalogue's number of its source file.
    pub file_id: i64,
    /// Its path below the tree's root, with `/` between names.
    pub below: String,
    /// The source file.
    pub source: PathBuf,
    /// The source file's size when it was read, in bytes.
    pub bytes: u64,
    /// The source file's time stamp when it was read, nanoseconds since 1970.
    pub modified_ns: i64,
}
