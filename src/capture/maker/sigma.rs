//! Sigma: a directory after ten bytes, with values as text.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::maker::note::Note;
use crate::capture::source::Source;

/// Text.
const SERIAL: u16 = 0x0002;
/// Text: a whole number in °C. Later bodies store something else there.
const SENSOR_TEMPERATURE: u16 = 0x0039;

/// Reads a note.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let Ok(head) = source.array::<10>(note.at) else {
        return;
    };
    let tags = [SERIAL, SENSOR_TEMPERATURE];
    let at = note.at.saturating_add(10);
    if let Some(list) = Listing::read(source, note.within(note.place.base), note.order, at, &tags) {
        out.maker.serial = list.text(source, SERIAL);
        // Later bodies have 3 or more in the header.
        let later = head[8] == 0 && head[9] >= 3;
        out.maker.temperature_c = list
            .text(source, SENSOR_TEMPERATURE)
            .filter(|_| !later)
            .and_then(|text| text.parse().ok());
    }
}
