//! Opens a catalogue where nothing can be written: on a write-protected disk, in another user's folder, on a full disk.
//! Changes nothing, not even beside it.

use std::fmt::Write as _;
use std::path::Path;

use rusqlite::Connection;
use rusqlite::ErrorCode;
use rusqlite::OpenFlags;

use crate::catalogue::failure::failed;
use crate::catalogue::files::LOG;
use crate::catalogue::files::as_file;
use crate::catalogue::files::beside;
use crate::terms::failure::Failure;

/// Why nothing could be written when a catalogue was opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WriteBlocked {
    /// It is not allowed: the disk is write-protected, or the folder belongs to another user.
    Forbidden,
    /// The disk is full or faulty.
    DiskError,
}

/// Whether opening failed because nothing can be written there.
pub fn write_blocked(failure: &Failure) -> Option<WriteBlocked> {
    let source = failure.source.as_deref()?;
    match source
        .downcast_ref::<rusqlite::Error>()?
        .sqlite_error_code()?
    {
        ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied => {
            Some(WriteBlocked::Forbidden)
        }
        ErrorCode::DiskFull | ErrorCode::SystemIoFailure => Some(WriteBlocked::DiskError),
        _ => None,
    }
}

/// Opens a catalogue read-only, without the files that SQLite otherwise creates beside it.
///
/// Refuses: one with changes in its write-ahead log, which would not be seen. Without such a log nobody had it open a
/// moment ago; a process that writes while it is read this way may spoil the answer, not the file.
pub fn open_protected(path: &Path) -> Result<Connection, Failure> {
    let log = beside(path, LOG);
    if log.metadata().is_ok_and(|about| about.len() > 0) {
        return Err(Failure::catalogue(
            "the catalogue has changes that are still in its log, and nothing can be written there",
        )
        .at_file(&log)
        .hint(
            "free some space or allow writing there; or copy the catalogue and this log together \
             to another disk and name the copy with --catalogue",
        ));
    }
    open_unchanging(path).map_err(|e| failed(path, e))
}

/// Opens the file by itself, whatever is beside it.
pub(super) fn open_unchanging(path: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_URI
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Connection::open_with_flags(immutable(&as_file(path)), flags)
}

/// The failure of a command that would have to change a catalogue.
pub fn may_not_be_written(
    path: &Path,
    cause: impl Into<Box<dyn std::error::Error + Send + Sync>>,
) -> Failure {
    Failure::catalogue("the catalogue cannot be written to")
        .at_file(path)
        .hint(
            "remove the disk's write protection, or check the permissions of the file and its \
             folder; or copy it to another disk and name the copy with --catalogue",
        )
        .because(cause)
}

/// The URI with which SQLite opens a file as immutable, as described on SQLite's page on URIs.
fn immutable(path: &Path) -> String {
    let mut uri = String::from("file:");
    if cfg!(windows) && path.is_absolute() {
        uri.push('/');
    }
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'\\' if cfg!(windows) => uri.push('/'),
            b'/' | b'.' | b'-' | b'_' | b'~' => uri.push(char::from(*byte)),
            b':' if cfg!(windows) => uri.push(':'),
            byte if byte.is_ascii_alphanumeric() => uri.push(char::from(*byte)),
            byte => {
                let _ = write!(uri, "%{byte:02X}");
            }
        }
    }
    uri.push_str("?immutable=1");
    uri
}
