//! A catalogue among other files: how SQLite is told its name, what lies beside it, by what it is told from others. Opens none.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::within::linked_file;

/// The first bytes of a database. Source: SQLite documentation, Database File Format, 1.3.
pub const DATABASE_BEGINS: &[u8; 16] = b"SQLite format 3\0";

/// The ending of the log that SQLite keeps beside a database, and of the lock that an ingest holds there.
pub(super) const LOG: &str = "-wal";
pub(super) const JOURNAL: &str = "-journal";
pub(super) const LOCK: &str = ".lock";

/// Endings of all that lies beside a database: the log, its index, a journal and the lock.
pub const BESIDE_DATABASES: [&str; 4] = [LOG, "-shm", JOURNAL, LOCK];

/// The file beside a catalogue with this ending: beside the file itself, as SQLite has it, and not beside a link to it.
pub(super) fn beside(named: &Path, ending: &str) -> PathBuf {
    let mut name = linked_file(named).into_os_string();
    name.push(ending);
    PathBuf::from(name)
}

/// The path as SQLite takes it for the name of a file and nothing else: `:memory:` and what begins with `file:` have a
/// meaning of their own to it, and what is written there may be gone with the program.
pub(super) fn as_file(path: &Path) -> PathBuf {
    if path.is_relative() {
        Path::new(".").join(path)
    } else {
        path.to_path_buf()
    }
}
