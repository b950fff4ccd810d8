//! Nikon: a whole TIFF block of its own after ten bytes. Older notes without that block contain nothing wanted.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::ifd::place::header;
use crate::capture::maker::counted;
use crate::capture::maker::note::Note;
use crate::capture::source::Source;

/// Text.
const SERIAL: u16 = 0x001D;
/// Minutes east of UTC as a short, then one byte that is 1 under daylight saving.
const WORLD_TIME: u16 = 0x0024;
/// Text of older bodies: `NO= ` and the number.
const OLD_SERIAL: u16 = 0x00A0;
/// A long.
const SHUTTER_COUNT: u16 = 0x00A7;

/// Where the block begins in the note.
const HEADER: u64 = 10;

/// Reads a note.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    const TAGS: &[u16] = &[SERIAL, WORLD_TIME, OLD_SERIAL, SHUTTER_COUNT];
    let place = note.within(note.at.saturating_add(HEADER));
    let Some(header) = header(source, place.base) else {
        return;
    };
    let at = place.base.saturating_add(header.first);
    let Some(list) = Listing::read(source, place, header.order, at, TAGS) else {
        return;
    };
    let said = &mut out.maker;
    said.serial = list
        .text(source, SERIAL)
        .or_else(|| list.text(source, OLD_SERIAL));
    if let Some([m0, m1, saving @ 0..=1, ..]) = list.raw(source, WORLD_TIME, 16) {
        let minutes = header.order.u16([*m0, *m1]).cast_signed();
        said.zone_min = Some(i64::from(minutes) + 60 * i64::from(*saving));
    }
    said.shutter_count = counted(list.integer(source, SHUTTER_COUNT, 0));
}
