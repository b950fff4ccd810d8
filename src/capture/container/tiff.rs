//! TIFF and every raw format that is TIFF with the magic number 42 (or 43, `BigTIFF`).

use crate::capture::container::Container;
use crate::capture::family;
use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::ifd;
use crate::capture::ifd::place::Place;
use crate::capture::ifd::place::header;
use crate::capture::source::Source;

/// TIFF and related formats.
pub const CONTAINER: Container = (recognises, read);

fn recognises(head: &[u8]) -> bool {
    [b"II\x2A\0", b"MM\0\x2A", b"II\x2B\0", b"MM\0\x2B"]
        .iter()
        .any(|magic| head.starts_with(*magic))
}

fn read(source: &mut Source, extension: &str, out: &mut Gathered) -> &'static str {
    let place = Place::in_file(0, source.length());
    if let Some(header) = header(source, 0) {
        ifd::walk(source, place, header, Role::Chain(0), out);
    } else {
        out.warn(|| "the TIFF header does not give the first directory".to_owned());
    }
    let format = family::format(source.head(), extension, out);
    family::pictures(format, source, out);
    format
}
