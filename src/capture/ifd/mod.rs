//! Walks the directories of a TIFF block anywhere in a file: sparsely, with bounds, without recursion.
//!
//! Classic TIFF and `BigTIFF`, either byte order, any magic number that a container accepts. Reads structure only, and
//! does not interpret values. Source: TIFF 6.0 §2; `BigTIFF` from memory of its design page.

mod directories;
mod entry;
mod fetch;
pub mod listing;
mod pictures;
pub mod place;

use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::ifd::directories::MOST_DIRECTORIES;
use crate::capture::ifd::directories::Walk;
use crate::capture::ifd::entry::Shape;
use crate::capture::ifd::place::Header;
use crate::capture::ifd::place::Place;
use crate::capture::ifd::place::header;
use crate::capture::maker;
use crate::capture::maker::note::Note;
use crate::capture::source::Source;

/// Walks a block whose first directory has the given role: gathers its wanted tags and its entries about pictures.
pub fn walk(source: &mut Source, place: Place, header: Header, root: Role, out: &mut Gathered) {
    let mut walk = Walk {
        source,
        place,
        shape: Shape::of(header),
        out,
        seen: Vec::with_capacity(MOST_DIRECTORIES),
        soon: Vec::with_capacity(4),
        later: Vec::with_capacity(8),
        note: None,
    };
    walk.soon.push((root, header.first));
    // IFD0, Exif and GPS first, with their values: if the budget runs out, only sizes of pictures are lost.
    while let Some((role, offset)) = walk.soon.pop() {
        walk.directory(role, offset);
    }
    walk.fetch();
    let mut next = 0;
    while let Some(&(role, offset)) = walk.later.get(next) {
        walk.directory(role, offset);
        next += 1;
    }
    if let Some(entry) = walk.note {
        let note = Note {
            at: entry.at,
            len: entry.len,
            place,
            order: header.order,
        };
        maker::read(source, note, out);
    }
}

/// Walks a block embedded in a container, with or without the six bytes `Exif` and two NULs before it.
///
/// Records a warning that names `what` if there is no TIFF header.
pub fn walk_carried(source: &mut Source, mut place: Place, what: &str, out: &mut Gathered) {
    if source.array::<6>(place.base).ok() == Some(*b"Exif\0\0") {
        place.base += 6;
    }
    let Some(header) = header(source, place.base) else {
        out.warn(|| format!("{what} at {} holds no TIFF block", place.base));
        return;
    };
    let before = out.directories.len();
    walk(source, place, header, Role::Chain(0), out);
    for i in before..out.directories.len() {
        if let Some(jpeg) = out.directories[i].jpeg
            && !source.is_held_otherwise(jpeg.offset, &[0xFF, 0xD8])
        {
            out.jpeg(jpeg, place.end);
        }
    }
}
