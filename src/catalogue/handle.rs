//! An open catalogue: a connection, and the file it is to.

use std::fs::File;
use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;

/// An open catalogue.
#[derive(Debug)]
pub struct Catalogue {
    pub(super) db: Connection,
    pub(super) path: PathBuf,
    /// Held while this catalogue may be written; dropping it lets the next writer in.
    #[allow(dead_code)] // held, not read
    pub(super) writer: Option<File>,
}

impl Catalogue {
    /// The file it lies in.
    pub fn path(&self) -> &Path {
        &self.path
    }
}
