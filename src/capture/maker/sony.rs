//! Sony: one directory, with or without a header. Its numbers are obscured by a fixed table without a key. Of those
//! only the air temperature at the sensor is used, which is at the same place in all bodies that write it.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::maker::note::Note;
use crate::capture::source::Source;

/// Text.
const SERIAL: u16 = 0x2031;
/// Obscured bytes: the third is 255 if the fifth is a temperature, in °C and signed.
const HIDDEN: u16 = 0x9402;

/// Reads a note.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let headed = source
        .array::<5>(note.at)
        .is_ok_and(|head| &head == b"SONY ");
    let at = note.at.saturating_add(if headed { 12 } else { 0 });
    let tags = [SERIAL, HIDDEN];
    let Some(list) = Listing::read(source, note.within(note.place.base), note.order, at, &tags)
    else {
        return;
    };
    out.maker.serial = list.text(source, SERIAL);
    if let Some(extent) = list.extent(HIDDEN)
        && extent.length > 4
        && let Ok(raw) = source.hop::<5>(extent.offset)
        && shown(raw[2]) == 255
    {
        out.maker.temperature_c = Some(f64::from(shown(raw[4]).cast_signed()));
    }
}

/// A decoded byte: below 249 they are third powers modulo 249, the others are unchanged.
fn shown(hidden: u8) -> u8 {
    let power = |n: u8| {
        let n = u32::from(n);
        n * n * n % 249
    };
    (0..249)
        .find(|n| power(*n) == u32::from(hidden))
        .unwrap_or(hidden)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_is_hidden_and_shown_as_one_other() {
        let mut seen: Vec<u8> = (0..=255).map(shown).collect();
        assert_eq!(shown(8), 2);
        assert_eq!(shown(255), 255);
        seen.sort_unstable();
        assert_eq!(seen, (0..=255).collect::<Vec<u8>>());
    }
}
