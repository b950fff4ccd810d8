//! Fujifilm: a directory at an offset given in the header, always in little-endian order.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::maker::counted;
use crate::capture::maker::note::Note;
use crate::capture::numbers::Order;
use crate::capture::source::Source;

/// Text.
const INTERNAL_SERIAL: u16 = 0x0010;
/// A short; its highest bit is not part of the count.
const IMAGE_COUNT: u16 = 0x1438;

/// Reads a note.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let place = note.within(note.at);
    let Ok(raw) = source.array::<4>(note.at.saturating_add(8)) else {
        return;
    };
    let at = note.at.saturating_add(u64::from(u32::from_le_bytes(raw)));
    let tags = [INTERNAL_SERIAL, IMAGE_COUNT];
    let Some(list) = Listing::read(source, place, Order::Little, at, &tags) else {
        return;
    };
    out.maker.internal_serial = list.text(source, INTERNAL_SERIAL);
    let count = list.integer(source, IMAGE_COUNT, 0);
    out.maker.shutter_count = counted(count.map(|n| n & 0x7FFF));
}
