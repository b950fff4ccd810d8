//! Olympus and OM ORF: TIFF with a magic number of its own. The maker note points to its preview.
//!
//! Layout from public format notes.

use crate::capture::container::Container;
use crate::capture::family;
use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::ifd;
use crate::capture::ifd::place::Place;
use crate::capture::ifd::place::header;
use crate::capture::source::Source;

/// Olympus and OM ORF.
pub const CONTAINER: Container = (
    |head| {
        [b"IIRO", b"IIRS", b"MMOR"]
            .iter()
            .any(|magic| head.starts_with(*magic))
    },
    read,
);

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let place = Place::in_file(0, source.length());
    match header(source, 0) {
        Some(header) => ifd::walk(source, place, header, Role::Chain(0), out),
        None => out.warn(|| "the header does not give the first directory".to_owned()),
    }
    family::pictures("orf", source, out);
    "orf"
}
