//! Phase One: a block of its own layout that serves as the maker note: entries of tag, format, length, value.

use crate::capture::gathered::Gathered;
use crate::capture::maker::counted;
use crate::capture::maker::note::Note;
use crate::capture::source::Source;
use crate::capture::words;

/// The most entries read. Real blocks have under 100.
const MOST_ENTRIES: u32 = 256;
/// The longest text accepted.
const LONGEST_TEXT: u32 = 128;

/// Text.
const SERIAL: u32 = 0x0102;
/// A long.
const IMAGE_NUMBER: u32 = 0x0113;
/// A floating-point number of four bytes in °C.
const SENSOR_TEMPERATURE: u32 = 0x0210;
/// Text.
const LENS_MODEL: u32 = 0x0412;

/// Reads a note in little-endian order, the only one met.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let end = note.at.saturating_add(note.len).min(note.place.end);
    let word = |source: &mut Source, at: u64| source.array(at).map(u32::from_le_bytes);
    let Ok(first) = word(source, note.at.saturating_add(8)) else {
        return;
    };
    let table = note.at.saturating_add(u64::from(first));
    let Ok(count @ 1..=MOST_ENTRIES) = word(source, table) else {
        return;
    };
    for i in 0..u64::from(count) {
        let at = table.saturating_add(8 + 16 * i);
        if at.saturating_add(16) > end {
            return;
        }
        let [tag, _, length, value] = [0, 4, 8, 12].map(|step| word(source, at + step).ok());
        let (Some(tag), Some(length), Some(value)) = (tag, length, value) else {
            return;
        };
        match tag {
            SERIAL => out.maker.serial = text(source, note, end, length, value),
            LENS_MODEL => out.maker.lens = text(source, note, end, length, value),
            IMAGE_NUMBER => out.maker.shutter_count = counted(Some(i64::from(value))),
            SENSOR_TEMPERATURE => out.maker.temperature_c = Some(f64::from(f32::from_bits(value))),
            _ => {}
        }
    }
}

fn text(source: &mut Source, note: &Note, end: u64, length: u32, offset: u32) -> Option<String> {
    let at = note.at.checked_add(u64::from(offset))?;
    if length > LONGEST_TEXT || at.checked_add(u64::from(length))? > end {
        return None;
    }
    let raw = source.bytes(at, usize::try_from(length).ok()?).ok()?;
    if words::is_text(raw) {
        words::clean(raw)
    } else {
        None
    }
}
