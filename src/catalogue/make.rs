//! Makes a new catalogue: whole in memory first, then a file of one piece. Knows nothing of catalogues that exist.

use std::fs::File;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;

use rusqlite::Connection;

use crate::catalogue::files::beside;
use crate::catalogue::migrations::APPLICATION_ID;
use crate::catalogue::migrations::newest;
use crate::catalogue::words;

/// Every table, index and view as the migrations leave them in an empty catalogue. Made from them and held to them by
/// `tests/house/new_catalogue.rs`: to go their way step by step takes a new catalogue three times as long.
pub const WHOLE: &str = include_str!("whole.sql");

/// Larger pages than SQLite's own hold the same rows in less space.
pub(super) const PAGE_BYTES: u32 = 8_192;

/// Where a SQLite file says that readers and writers of it keep a write-ahead log, and the word for it (the file format
/// of sqlite.org, offsets 18 and 19).
const VERSIONS: std::ops::Range<usize> = 18..20;
const WITH_LOG: u8 = 2;

/// Puts an empty catalogue where nothing is. The caller keeps others from doing the same.
///
/// Errors: whatever hinders; then nothing is there.
pub fn make(path: &Path) -> Result<(), Box<dyn std::error::Error + Send + Sync>> {
    let image = image()?;
    let part = beside(path, ".new");
    let put = || -> std::io::Result<()> {
        // What a killed run left behind is written over.
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

/// Brings the folder that a file is in to the disk: the file's name is there once the folder is.
pub(super) fn bring_folder_to_disk(path: &Path) {
    #[cfg(unix)]
    if let Some(folder) = path.parent()
        && let Ok(folder) = File::open(if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            folder
        })
    {
        // Some file systems cannot be asked for it.
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
