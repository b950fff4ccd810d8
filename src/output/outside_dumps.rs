//! Refuses to write inside dumps. Checks names and folders, writes nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::handle::Catalogue;
use crate::catalogue::within::holder_of;
use crate::output::temp_file::failed;
use crate::output::temp_file::folder_of;
use crate::terms::failure::Failure;

/// Refuses a target inside a dump: writing to a card may overwrite a picture that could still be rescued.
///
/// Takes: a file or folder that may not exist yet. A file that is a link would be replaced itself, so the folder of the
/// link counts.
pub fn refuse_in_dump(catalogue: &Catalogue, to: &Path) -> Result<(), Failure> {
    let place = if to.is_dir() { to } else { folder_of(to) };
    refuse_within(&catalogue.dump_roots()?, place).map_err(|failure| failure.at_file(to))
}

/// The same, for dumps with these roots.
pub(super) fn refuse_within(dumps: &[PathBuf], place: &Path) -> Result<(), Failure> {
    match holder_of(place, dumps) {
        None => Ok(()),
        Some(_) => Err(failed(
            "the target is inside a card dump; framefall never writes there",
            place,
        )
        .hint("name a place outside every dump")),
    }
}
