//! Panasonic: a directory after twelve bytes.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::maker::note::Note;
use crate::capture::source::Source;

/// Text.
const INTERNAL_SERIAL: u16 = 0x0025;
/// Text.
const LENS_TYPE: u16 = 0x0051;

/// Reads a note.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let tags = [INTERNAL_SERIAL, LENS_TYPE];
    let at = note.at.saturating_add(12);
    if let Some(list) = Listing::read(source, note.within(note.place.base), note.order, at, &tags) {
        out.maker.internal_serial = list.text(source, INTERNAL_SERIAL);
        out.maker.lens = list.text(source, LENS_TYPE);
    }
}
