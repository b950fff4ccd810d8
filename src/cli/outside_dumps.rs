//! Keeps what is written out of the dumps. Looks at names and folders, writes nothing.

use std::path::Path;
use std::path::PathBuf;

use crate::catalogue::open::Catalogue;
use crate::cli::parts::failed;
use crate::cli::parts::folder_of;
use crate::cli::parts::is_the_same;
use crate::pipeline::handoff;
use crate::terms::failure::Failure;

/// Refuses a place in a dump: what is written to a card may take the room of a picture that could still be rescued.
///
/// Takes: a file or folder that may not be there yet. One whose folder is not there either is let through: nothing can be
/// written to it.
pub(super) fn refuse_in_dump(catalogue: &Catalogue, to: &Path) -> Result<(), Failure> {
    let place = match (to.canonicalize(), to.file_name()) {
        // A link to elsewhere gives way to what takes its name: what counts is where the name lies.
        (Ok(place), _) if to.is_dir() => place,
        (_, Some(name)) => match folder_of(to).canonicalize() {
            Ok(folder) => folder.join(name),
            Err(_) => return Ok(()),
        },
        _ => return Ok(()),
    };
    refuse_within(&handoff::dump_roots(catalogue)?, &place)
}

/// The same of a place whose true path is known.
pub(super) fn refuse_within(dumps: &[PathBuf], place: &Path) -> Result<(), Failure> {
    for dump in dumps {
        let dump = dump.canonicalize().unwrap_or_else(|_| dump.clone());
        // A folder can be reached by two paths that no link tells of.
        if place.starts_with(&dump) || place.ancestors().any(|around| is_the_same(around, &dump)) {
            return Err(failed(
                "this lies in a card dump, and those are never written to",
                place,
            )
            .hint("name a place outside every dump"));
        }
    }
    Ok(())
}
