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

/// Refuses a catalogue that lies, or would lie, in a folder that is to be taken in as a dump.
pub(super) fn refuse_catalogue_within(dumps: &[PathBuf], catalogue: &Path) -> Result<(), Failure> {
    // The folders that lead to it may not be there yet.
    let there = folder_of(catalogue).ancestors().find_map(|folder| {
        let folder = Some(folder).filter(|folder| !folder.as_os_str().is_empty());
        folder.unwrap_or(Path::new(".")).canonicalize().ok()
    });
    refuse_within(dumps, &there.unwrap_or_default()).map_err(|failure| Failure {
        message: "the catalogue lies in this card dump, and those are never written to".to_owned(),
        ..failure.at_file(catalogue).hint(
            "name a place outside every dump with --catalogue, or dumps that it does not lie in",
        )
    })
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
