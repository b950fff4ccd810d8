//! Hashes of whole files, in and out, and what came of reading them again. Computes none.

use std::collections::HashMap;

use rusqlite::params;

use crate::catalogue::batch::Batch;
use crate::catalogue::columns::columns;
use crate::catalogue::columns::words;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::rows::signed;
use crate::terms::content::Compared;
use crate::terms::content::ReadWay;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// The hash of a whole file, and the state of the file it speaks for.
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

/// What was measured on a file of a dump.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ContentRow {
    /// The dump.
    pub dump_id: i64,
    /// The file below its root, as text ([`crate::catalogue::names::kept_folder`]).
    pub path: String,
    /// Its size when the hashes were taken.
    pub bytes: u64,
    /// Its time stamp then, nanoseconds since 1970.
    pub modified_ns: i64,
    /// The BLAKE3 hash of all its bytes.
    pub blake3: [u8; 32],
    /// The SHA-256 hash, where it was taken.
    pub sha256: Option<[u8; 32]>,
    /// When the hashes were taken.
    pub taken: Option<Utc>,
    /// When it was last read whole and compared with them.
    pub checked: Option<Utc>,
    /// How it was read then.
    pub way: Option<ReadWay>,
    /// What came of that.
    pub result: Option<Compared>,
    /// The device it was on.
    pub device_id: Option<i64>,
}

columns!(ContentRow: dump_id path bytes modified_ns blake3 sha256 taken checked way result device_id);
words! { ReadWay: ReadWay::from_word, Compared: Compared::from_word }

impl ContentRow {
    /// Whether it was read back from its device and was what it should be.
    pub fn is_verified(&self) -> bool {
        self.result == Some(Compared::Same) && self.way.is_some_and(ReadWay::is_from_device)
    }
}

/// The columns of a [`ContentRow`], of `measured_content AS content`.
pub(super) const CONTENT: &str = "content.dump_id, content.path, content.bytes, content.modified_ns, content.blake3, content.sha256,
    content.taken_ms, content.checked_ms, content.way, content.result, content.device_id";

/// The path of a file below its dump's root, of `written_folder AS folder` and `written_file AS file`.
pub(super) const BELOW: &str = "iif(folder.path = '', '', folder.path || '/') || file.name";

impl Catalogue {
    /// Whether the hash of any file is known.
    pub fn knows_contents(&self) -> Result<bool, Failure> {
        self.one("SELECT EXISTS (SELECT 1 FROM measured_content)", [])
    }

    /// The hash of a file's contents, if one was taken while the file had the size and time that the catalogue knows.
    pub fn content_of(&self, file_id: i64) -> Result<Option<[u8; 32]>, Failure> {
        self.one_if_any(
            &format!(
                "SELECT content.blake3
                 FROM written_file AS file CROSS JOIN written_folder AS folder ON folder.folder_id = file.folder_id
                 CROSS JOIN measured_content AS content ON content.dump_id = folder.dump_id AND content.path = {BELOW}
                 WHERE file.file_id = ? AND content.bytes = file.bytes AND content.modified_ns = file.modified_ns"
            ),
            [file_id],
        )
    }

    /// What was measured on the files of a dump, by path.
    pub fn contents_of_dump(&self, dump_id: i64) -> Result<Vec<ContentRow>, Failure> {
        self.all(
            &format!(
                "SELECT {CONTENT} FROM measured_content AS content WHERE dump_id = ? ORDER BY path"
            ),
            [dump_id],
        )
    }

    /// Every file, of whatever dump, whose hash was this one. Looks through all that is known: no index is worth its space for
    /// what is asked so rarely.
    pub fn contents_with(&self, blake3: &[u8; 32]) -> Result<Vec<ContentRow>, Failure> {
        self.all(
            &format!(
                "SELECT {CONTENT} FROM measured_content AS content WHERE blake3 = ?1 ORDER BY dump_id, path"
            ),
            [blake3],
        )
    }

    /// The same for every hash of a dump at once, by hash.
    pub fn contents_shared_with(
        &self,
        dump_id: i64,
    ) -> Result<HashMap<[u8; 32], Vec<ContentRow>>, Failure> {
        let sql = format!(
            "SELECT {CONTENT} FROM measured_content AS content
             WHERE blake3 IN (SELECT blake3 FROM measured_content WHERE dump_id = ?) ORDER BY dump_id, path"
        );
        let mut shared: HashMap<[u8; 32], Vec<ContentRow>> = HashMap::new();
        self.each(&sql, [dump_id], |row: ContentRow| {
            shared.entry(row.blake3).or_default().push(row);
        })?;
        Ok(shared)
    }
}

impl Batch<'_> {
    /// Keeps the hash of a file's contents, in the place of one that was taken before. A file that has gone meanwhile is
    /// passed over.
    pub fn put_content(&self, taken: &ContentTaken, now: Utc) -> Result<(), Failure> {
        self.change(
            &format!(
                "INSERT OR REPLACE INTO measured_content (dump_id, path, bytes, modified_ns, blake3, taken_ms)
                 SELECT folder.dump_id, {BELOW}, ?2, ?3, ?4, ?5
                 FROM written_file AS file JOIN written_folder AS folder USING (folder_id) WHERE file.file_id = ?1"
            ),
            params![
                taken.file_id,
                signed(taken.bytes),
                taken.modified_ns,
                taken.blake3,
                now.unix_ms(),
            ],
        )
    }

    /// Keeps what was measured on a file, in the place of what was kept before.
    pub fn put_measured(&self, row: &ContentRow) -> Result<(), Failure> {
        self.change(
            "INSERT OR REPLACE INTO measured_content (dump_id, path, bytes, modified_ns, blake3, sha256, taken_ms,
             checked_ms, way, result, device_id) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            params![
                row.dump_id,
                row.path,
                signed(row.bytes),
                row.modified_ns,
                row.blake3,
                row.sha256,
                row.taken.map(Utc::unix_ms),
                row.checked.map(Utc::unix_ms),
                row.way.map(ReadWay::word),
                row.result.map(Compared::word),
                row.device_id,
            ],
        )
    }
}
