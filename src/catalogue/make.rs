//! Makes a new catalogue: completely in memory first, then written as one file. Knows nothing of existing catalogues.

use std::fs::File;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;

use rusqlite::Connection;

use crate::catalogue::files::beside;
use crate::catalogue::migrations::APPLICATION_ID;
use crate::catalogue::migrations::newest;
use crate::catalogue::words;

/// Every table, index and view as the migrations leave them in an empty catalogue. Generated from them and checked by
/// `tests/house/new_catalogue.rs`: replaying all migrations makes a new catalogue three times slower.
pub const WHOLE: &str = include_str!("whole.sql");

/// Larger pages than SQLite's default hold the same rows in less space.
pub(super) const PAGE_BYTES: u32 = 8_192;

/// Where a SQLite file records that its readers and writers use a write-ahead log, and the value (the file format of
/// sqlite.org, offsets 18 and 19).
const VERSIONS: std::ops::Range<usize> = 18..20;
const WITH_LOG: u8 = 2;

/// Creates an empty catalogue where no file exists. The caller holds the write lock.
///
/// Errors: any obstacle; then no file exists.
pub fn make(path: &Path) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
    let image = image()?;
    let part = beside(path, ".new");
    let put = || -> std::io::Result<()> {
        // A temporary file of a killed run is overwritten.
        let mut file = OpenOptions::new()
            .create(true)
            .truncate(true)
            .write(true)
            .open(&part)?;
        file.write_all(&image)?;
        file.sync_all()?;
        std::fs::rename(&part, path)
    };
    if let Err(error) = put() {
        let _ = std::fs::remove_file(&part);
        return Err(error.into());
    }
    bring_folder_to_disk(path);
    Ok(())
}

/// Syncs a file's folder to the disk, which makes the file's name permanent.
pub(super) fn bring_folder_to_disk(path: &Path) {
    #[cfg(unix)]
    if let Some(folder) = path.parent()
        && let Ok(folder) = File::open(if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            folder
        })
    {
        // Some file systems do not support that.
        let _ = folder.sync_all();
    }
    #[cfg(not(unix))]
    let _ = path;
}

/// The bytes of an empty catalogue.
fn image() -> rusqlite::Result<Vec<u8>> {
    let mut db = Connection::open_in_memory()?;
    db.pragma_update(None, "page_size", PAGE_BYTES)?;
    db.execute_batch("BEGIN")?;
    db.execute_batch(WHOLE)?;
    words::fill(&db)?;
    db.pragma_update(None, "user_version", newest())?;
    db.pragma_update(None, "application_id", APPLICATION_ID)?;
    db.execute_batch("COMMIT")?;
    let mut image = db.serialize("main")?.to_vec();
    if let Some(versions) = image.get_mut(VERSIONS) {
        versions.fill(WITH_LOG);
    }
    Ok(image)
}
