//! Olympus and OM: directories within the note for equipment, settings and focus; three headers over the years.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::ifd::place::Inside;
use crate::capture::maker::note::Note;
use crate::capture::numbers::Order;
use crate::capture::source::Source;
use crate::capture::wanted;
use crate::terms::records::Extent;

/// Text, of the oldest bodies.
const OLD_SERIAL: [u16; 2] = [0x0404, 0x101A];
const EQUIPMENT: u16 = 0x2010;
const CAMERA_SETTINGS: u16 = 0x2020;
const FOCUS: u16 = 0x2050;

/// Of the equipment: text.
const SERIAL: u16 = 0x0101;
/// Of the equipment: text.
const INTERNAL_SERIAL: u16 = 0x0102;
/// Of the equipment: text.
const LENS_MODEL: u16 = 0x0203;
/// Of the settings: where the preview lies in the note, and its length.
const PREVIEW: [u16; 2] = [0x0101, 0x0102];
/// Of the settings: the instant of the picture as text, in UTC.
const DATE_TIME_UTC: u16 = 0x0908;
/// Of the focus: shorts, the first in °C. A single short has a scale that depends on the model, except in two models.
const SENSOR_TEMPERATURE: u16 = 0x1500;

/// Reads a note.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let Ok(head) = source.array::<16>(note.at) else {
        return;
    };
    let own = note.within(note.at);
    // Where the directory begins, the base of its offsets, and where its byte order is stored.
    let (place, skip, order) = if head.starts_with(b"OLYMPUS\0") {
        (own, 12, &head[8..10])
    } else if head.starts_with(b"OM SYSTEM\0") {
        (own, 16, &head[12..14])
    } else {
        (note.within(note.place.base), 8, &b""[..])
    };
    let order = match order {
        b"II" => Order::Little,
        b"MM" => Order::Big,
        _ => note.order,
    };
    let tags = [
        OLD_SERIAL[0],
        OLD_SERIAL[1],
        EQUIPMENT,
        CAMERA_SETTINGS,
        FOCUS,
    ];
    let at = note.at.saturating_add(skip);
    let Some(list) = Listing::read(source, place, order, at, &tags) else {
        return;
    };
    let part = |source: &mut Source, tag: u16, tags: &[u16]| {
        let at = list.points_at(source, tag)?;
        Listing::read(source, place, order, at, tags)
    };
    out.maker.serial = OLD_SERIAL.iter().find_map(|tag| list.text(source, *tag));
    let tags = [SERIAL, INTERNAL_SERIAL, LENS_MODEL];
    if let Some(equipment) = part(source, EQUIPMENT, &tags) {
        out.maker.serial = equipment.text(source, SERIAL).or(out.maker.serial.take());
        out.maker.internal_serial = equipment.text(source, INTERNAL_SERIAL);
        out.maker.lens = equipment.text(source, LENS_MODEL);
    }
    let tags = [PREVIEW[0], PREVIEW[1], DATE_TIME_UTC];
    if let Some(settings) = part(source, CAMERA_SETTINGS, &tags) {
        out.maker.utc = settings.text(source, DATE_TIME_UTC);
        let [offset, length] = PREVIEW.map(|tag| {
            settings
                .integer(source, tag, 0)
                .and_then(|n| u64::try_from(n).ok())
                .filter(|n| *n > 0)
        });
        if let (Some(offset), Some(length)) = (offset, length)
            && note.place.inside == Inside::File
        {
            let offset = place.base.saturating_add(offset);
            if source.array::<2>(offset) == Ok([0xFF, 0xD8]) {
                let whole = source.length();
                out.jpeg(Extent { offset, length }, whole);
            }
        }
    }
    if let Some(focus) = part(source, FOCUS, &[SENSOR_TEMPERATURE]) {
        let plain = focus.count(SENSOR_TEMPERATURE) > 1 || is_plain(out);
        out.maker.temperature_c = focus
            .integer(source, SENSOR_TEMPERATURE, 0)
            .filter(|n| plain && *n != i64::from(i16::MIN))
            .and_then(|n| i32::try_from(n).ok())
            .map(f64::from);
    }
}

/// The two models whose single short is in °C.
fn is_plain(out: &Gathered) -> bool {
    let raw = out.block.value(wanted::MODEL).unwrap_or(&[]);
    let name = raw.split(|b| *b == 0).next().unwrap_or(&[]).trim_ascii();
    name == b"E-1" || name == b"E-M5"
}
