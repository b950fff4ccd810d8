//! An open catalogue: a connection and its file.

use std::fs::File;
use std::path::Path;
use std::path::PathBuf;

use rusqlite::Connection;

/// An open catalogue.
#[derive(Debug)]
pub struct Catalogue {
    pub(super) db: Connection,
    pub(super) path: PathBuf,
    /// Held while this catalogue may be written; dropping it admits the next writer.
    #[allow(dead_code)] // held, not read
    pub(super) writer: Option<File>,
}

impl Catalogue {
    /// Its file.
    pub fn path(&self) -> &Path {
        &self.path
    }
}
