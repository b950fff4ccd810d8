//! Pentax: two headers, one with offsets of its own. The shutter count is masked with the date and time.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::maker::counted;
use crate::capture::maker::note::Note;
use crate::capture::numbers::Order;
use crate::capture::source::Source;

/// Four bytes: year, month, day.
const DATE: u16 = 0x0006;
/// Three bytes: hours, minutes, seconds.
const TIME: u16 = 0x0007;
/// A signed byte in °C: the body's chassis.
const TEMPERATURE: u16 = 0x0047;
/// Four bytes, masked.
const SHUTTER_COUNT: u16 = 0x005D;
/// Longs; the fifth is the internal serial number.
const CAMERA_INFO: u16 = 0x0215;
/// Text.
const SERIAL: u16 = 0x0229;

/// Reads a note.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let Ok(head) = source.array::<10>(note.at) else {
        return;
    };
    let (place, skip, order) = if head.starts_with(b"AOC\0") {
        (note.within(note.place.base), 6, [head[4], head[5]])
    } else {
        (note.within(note.at), 10, [head[8], head[9]])
    };
    // The header is unreliable: DNG files of the same bodies have MM and are little-endian.
    let orders = match &order {
        b"II" => [Order::Little, Order::Big],
        b"MM" => [Order::Big, Order::Little],
        _ => [note.order, note.order],
    };
    let tags = [DATE, TIME, TEMPERATURE, SHUTTER_COUNT, CAMERA_INFO, SERIAL];
    let at = note.at.saturating_add(skip);
    let list = orders
        .iter()
        .find_map(|order| Listing::read(source, place, *order, at, &tags));
    let Some(list) = list else {
        return;
    };
    let said = &mut out.maker;
    said.serial = list.text(source, SERIAL);
    said.internal_serial = list
        .integer(source, CAMERA_INFO, 4)
        .filter(|n| *n > 0)
        .map(|n| n.to_string());
    if let Some([degrees]) = list.raw(source, TEMPERATURE, 1) {
        said.temperature_c = Some(f64::from(degrees.cast_signed()));
    }
    let mut word = |tag| {
        let raw = list.raw(source, tag, 4)?;
        let mut word = [0; 4];
        word[..raw.len()].copy_from_slice(raw);
        (raw.len() > 2).then_some(u32::from_be_bytes(word))
    };
    if let (Some(date), Some(time), Some(masked)) = (word(DATE), word(TIME), word(SHUTTER_COUNT)) {
        said.shutter_count = counted(Some(i64::from(masked ^ date ^ !time)));
    }
}
