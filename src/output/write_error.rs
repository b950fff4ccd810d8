//! Messages if an answer cannot be written: what happened, to what, what to do. Writes nothing.

use std::io::Error;
use std::io::ErrorKind;
use std::path::Path;

use crate::output::stale_temp_files::PART_BEGINS;
use crate::terms::failure::At;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// An error of writing `what` (`list`, `report`, `tree`) to a place.
pub fn not_written(what: &str, to: &Path, error: Error) -> Failure {
    let plain = Failure::output(format!("the {what} could not be written"));
    by_kind(plain.at_file(to), error)
}

/// The same for an answer to standard output.
pub fn stdout_failure(error: Error) -> Failure {
    let mut told = by_kind(Failure::output("the answer could not be written"), error);
    if told.hint.is_some() {
        told.hint =
            Some("send it elsewhere; the command's changes of the catalogue are kept".into());
    }
    told
}

/// A failure of making `what`, with this message if the disk is the cause and there is no hint yet.
pub fn with_disk_hint(what: &str, to: Option<&Path>, mut failure: Failure) -> Failure {
    if failure.kind != FailureKind::Output || failure.hint.is_some() || failure.at != At::Nowhere {
        return failure;
    }
    let Some(source) = failure.source.take() else {
        return failure;
    };
    match (source.downcast::<Error>(), to) {
        (Ok(error), Some(to)) => not_written(what, to, *error),
        (Ok(error), None) => stdout_failure(*error),
        (Err(other), _) => failure.because(other),
    }
}

/// The error without the path of a temporary file, which means nothing to the user.
fn without_temp_path(error: Error) -> Error {
    match error.to_string().split_once(" at path ") {
        Some((why, path)) if path.contains(PART_BEGINS) => Error::new(error.kind(), why),
        _ => error,
    }
}

fn by_kind(plain: Failure, error: Error) -> Failure {
    let error = without_temp_path(error);
    let (why, cure) = match error.kind() {
        ErrorKind::StorageFull => (
            "the disk is full",
            "free some space, or write to another disk; existing files are unchanged",
        ),
        ErrorKind::QuotaExceeded => (
            "your share of the disk is used up",
            "free some space, or write to another disk; existing files are unchanged",
        ),
        ErrorKind::FileTooLarge => (
            "a file cannot become that large here",
            "write to another disk, or raise the limit (ulimit -f); existing files are unchanged",
        ),
        ErrorKind::ReadOnlyFilesystem => (
            "the disk is write-protected",
            "write to another disk, or remove the protection",
        ),
        ErrorKind::PermissionDenied => (
            "permission was denied",
            "check the permissions of the folder, or name another",
        ),
        ErrorKind::NotFound | ErrorKind::NotADirectory => (
            "there is no such folder",
            "create the folder first, or name another",
        ),
        ErrorKind::InvalidFilename => ("the name is too long", "name a shorter one"),
        ErrorKind::BrokenPipe => return plain.because(error),
        _ => return plain.hint("check the disk").because(error),
    };
    let message = format!("{}: {why}", plain.message);
    Failure { message, ..plain }.hint(cure).because(error)
}
