//! Keeps what is written out of the dumps. Looks at names and folders, writes nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::within::holder_of;
use crate::output::temp_file::failed;
use crate::output::temp_file::folder_of;
use crate::terms::failure::Failure;

/// Refuses a place in a dump: what is written to a card may take the room of a picture that could still be rescued.
///
/// Takes: a file or folder that may not be there yet. A file that is a link gives way to what takes its name, so the
/// folder counts that the name is in.
pub fn refuse_in_dump(catalogue: &Catalogue, to: &Path) -> Result<(), Failure> {
    let place = if to.is_dir() { to } else { folder_of(to) };
    refuse_within(&catalogue.dump_roots()?, place).map_err(|failure| failure.at_file(to))
}

/// The same, for dumps with these roots.
pub(super) fn refuse_within(dumps: &[PathBuf], place: &Path) -> Result<(), Failure> {
    match holder_of(place, dumps) {
        None => Ok(()),
        Some(_) => Err(failed(
            "this lies in a card dump, and those are never written to",
            place,
        )
        .hint("name a place outside every dump")),
    }
}
