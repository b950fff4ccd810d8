//! Messages about a shortage of this computer: what ran out, and what to do. Reads no file.

use std::io;
use std::path::Path;

use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// Why work on a file or folder ended, for a reason that has nothing to do with the card.
pub(crate) fn ran_short(path: &Path, error: io::Error) -> Failure {
    let (message, hint) = if error.kind() == io::ErrorKind::OutOfMemory {
        (
            "this computer is out of memory",
            "close other programs, then run the same command again",
        )
    } else {
        (
            "too many files are open on this computer",
            "close other programs or raise the limit (ulimit -n 1024), then run the same command again",
        )
    };
    Failure::new(FailureKind::Computer, message)
        .at_file(path)
        .hint(format!(
            "{hint}; nothing is wrong with the card, and what was read before is in the catalogue"
        ))
        .because(error)
}
