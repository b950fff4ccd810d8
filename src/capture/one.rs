//! Reads one file that the photographer names. Walks nothing.

use std::io;
use std::path::Path;

use crate::capture::class::classify;
use crate::capture::read::FileReader;
use crate::terms::records::FileReading;

/// Reads one file as an ingest would.
///
/// Gives: `None` for a file that is not a picture. Refuses: a path that does not exist or is not a file; a shortage of
/// files or memory on this computer.
pub fn read_one(path: &Path) -> io::Result<Option<FileReading>> {
    let there = std::fs::metadata(path)?;
    if !there.is_file() {
        return Err(io::Error::new(
            io::ErrorKind::InvalidInput,
            "this is not a file",
        ));
    }
    let class = classify(path.file_name().unwrap_or_default());
    FileReader::new().read(path, there.len(), class)
}
