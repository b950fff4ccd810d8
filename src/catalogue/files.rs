//! A catalogue among other files: its name for SQLite, the files beside it, and how it is recognised. Opens none.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::within::linked_file;

/// The first bytes of a database. Source: SQLite documentation, Database File Format, 1.3.
pub const DATABASE_BEGINS: &[u8; 16] = b"SQLite format 3\0";

/// The suffix of SQLite's log beside a database, and that of the lock that an ingest holds there.
pub(super) const LOG: &str = "-wal";
pub(super) const JOURNAL: &str = "-journal";
/// The ending of the lock that a writer holds.
pub const LOCK: &str = ".lock";

/// Suffixes of all files beside a database: the log, its index, a journal and the lock.
pub const BESIDE_DATABASES: [&str; 4] = [LOG, "-shm", JOURNAL, LOCK];

/// The file beside a catalogue with this suffix: beside the file itself, as SQLite does it, and not beside a link to
/// it.
pub(super) fn beside(named: &Path, ending: &str) -> PathBuf {
    let mut name = linked_file(named).into_os_string();
    name.push(ending);
    PathBuf::from(name)
}

/// The path in a form that SQLite takes as the name of a file and nothing else: `:memory:` and names that begin with
/// `file:` have a special meaning, and data written there may be lost with the program.
pub(super) fn as_file(path: &Path) -> PathBuf {
    if path.is_relative() {
        Path::new(".").join(path)
    } else {
        path.to_path_buf()
    }
}
