//! SQLite's errors in the photographer's words.

use std::path::Path;

use rusqlite::ErrorCode;

use crate::terms::failure::Failure;

/// SQLite's error if the shared-memory file beside the database cannot grow: on a full disk.
const NO_ROOM_BESIDE: i32 = rusqlite::ffi::SQLITE_IOERR_SHMSIZE;

const DISK_FULL: (&str, &str) = (
    "the disk is full",
    "free some space and run the command again; everything committed before is intact",
);

/// Turns an error of SQLite on a catalogue file into a failure.
pub fn failed(path: &Path, error: rusqlite::Error) -> Failure {
    let (message, hint) = match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => (
            "another program is writing to the catalogue",
            "wait until it has finished, then run the command again",
        ),
        Some(ErrorCode::NotADatabase) => (
            "this file is not a framefall catalogue",
            "name another file with --catalogue; this one was not changed",
        ),
        _ if error
            .sqlite_error()
            .is_some_and(|e| e.extended_code == NO_ROOM_BESIDE) =>
        {
            DISK_FULL
        }
        Some(ErrorCode::DiskFull) => DISK_FULL,
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => (
            "the catalogue cannot be written to",
            "check the permissions of the file and its folder",
        ),
        Some(ErrorCode::CannotOpen) => (
            "the catalogue cannot be opened",
            "check that the folder exists and can be written to",
        ),
        Some(ErrorCode::DatabaseCorrupt) => (
            "the catalogue is damaged",
            "restore it from a backup, or ingest the dumps into a new one",
        ),
        Some(ErrorCode::SystemIoFailure) => (
            "the disk gave an error on the catalogue",
            "check the disk, and whether files may become that large there (ulimit -f); \
             everything committed before should be intact",
        ),
        _ => (
            "an unexpected error of the catalogue",
            "please report this with the command you ran",
        ),
    };
    Failure::catalogue(message)
        .at_file(path)
        .hint(hint)
        .because(error)
}
