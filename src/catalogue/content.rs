//! Hashes of whole files, stored and read. Computes none.

use rusqlite::OptionalExtension;
use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::failure::failed;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::rows::signed;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// The hash of a whole file, and the state of the file to which it applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ContentTaken {
    /// The file's number.
    pub file_id: i64,
    /// Its size.
    pub bytes: u64,
    /// Its time stamp, nanoseconds since 1970.
    pub modified_ns: i64,
    /// The BLAKE3 hash of all its bytes.
    pub blake3: [u8; 32],
}

impl Catalogue {
    /// Whether the hash of any file is stored.
    pub fn knows_contents(&self) -> Result<bool, Failure> {
        self.db
            .query_row(
                "SELECT EXISTS (SELECT 1 FROM measured_content)",
                [],
                |row| row.get(0),
            )
            .map_err(|e| failed(&self.path, e))
    }

    /// The hash of a file's contents, if it was computed while the file had the recorded size and time.
    pub fn content_of(&self, file_id: i64) -> Result<Option<[u8; 32]>, Failure> {
        let read = || {
            self.db
                .prepare_cached(
                    "SELECT content.blake3 FROM measured_content AS content JOIN written_file AS file USING (file_id)
                     WHERE content.file_id = ? AND content.bytes = file.bytes
                       AND content.modified_ns = file.modified_ns",
                )?
                .query_row([file_id], |row| row.get(0))
                .optional()
        };
        read().map_err(|e| failed(&self.path, e))
    }
}

impl Batch<'_> {
    /// Stores the hash of a file's contents, replacing an earlier one. A file that no longer exists is skipped.
    pub fn put_content(&self, taken: &ContentTaken, now: Utc) -> Result<(), Failure> {
        self.step(|db| {
            db.prepare_cached(
                "INSERT INTO measured_content (file_id, bytes, modified_ns, blake3, taken_ms)
                 SELECT file_id, ?2, ?3, ?4, ?5 FROM written_file WHERE file_id = ?1
                 ON CONFLICT (file_id) DO UPDATE SET bytes = ?2, modified_ns = ?3, blake3 = ?4, taken_ms = ?5",
            )?
            .execute(params![
                taken.file_id,
                signed(taken.bytes),
                taken.modified_ns,
                taken.blake3,
                now.unix_ms(),
            ])?;
            Ok(())
        })
    }
}
