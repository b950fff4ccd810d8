//! Sigma X3F: sections listed at the end of the file: a JPEG with Exif of its own, properties by name, the picture.
//!
//! Layout from public format notes: everything is little-endian.

use crate::capture::container::Container;
use crate::capture::container::jpeg;
use crate::capture::gathered::Gathered;
use crate::capture::source::Lack;
use crate::capture::source::Source;
use crate::capture::wanted;
use crate::terms::records::Extent;
use crate::terms::time::Utc;

/// Sigma X3F.
pub const CONTAINER: Container = (|head| head.starts_with(b"FOVb"), read);

/// The most sections listed.
const MOST_SECTIONS: u32 = 32;
/// The most embedded JPEG files looked into.
const MOST_PICTURES: usize = 4;
/// The most properties of one section.
const MOST_PROPERTIES: u64 = 256;
/// The most bytes of properties read.
const MOST_TEXT: u64 = 16 * 1024;
/// Bytes of an image section before its picture.
const IMAGE_HEADER: u64 = 28;
/// The format of an image section that is a whole JPEG.
const JPEG: u32 = 18;

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    let sections = sections(source);
    if sections.is_none() {
        out.truncated = Some(format!(
            "no directory at the end of the file at byte {length}"
        ));
    }
    let mut pictures = 0;
    for (kind, place) in sections.iter().flatten() {
        out.promise(
            format_args!("the section '{}'", kind.escape_ascii()),
            place.offset.saturating_add(place.length),
            length,
        );
        if let b"IMAG" | b"IMA2" = kind
            && let Ok(format) = long(source, place.offset.saturating_add(12))
            && format == JPEG
            && pictures < MOST_PICTURES
            && let Some(size) = place.length.checked_sub(IMAGE_HEADER)
        {
            let picture = Extent {
                offset: place.offset + IMAGE_HEADER,
                length: size,
            };
            pictures += 1;
            jpeg::embedded(source, picture, out);
        }
    }
    if let Some((_, place)) = sections.iter().flatten().find(|(kind, _)| kind == b"PROP") {
        properties(source, *place, out);
    }
    // The header's own columns and rows.
    if let (Ok(columns), Ok(rows)) = (long(source, 28), long(source, 32)) {
        out.size = Some((u64::from(columns), u64::from(rows)));
    }
    "x3f"
}

fn long(source: &mut Source, at: u64) -> Result<u32, Lack> {
    source.array(at).map(u32::from_le_bytes)
}

/// The directory: `SECd`, a version, a count, then offset, length and kind of each section.
fn sections(source: &mut Source) -> Option<Vec<([u8; 4], Extent)>> {
    let last = source.length().checked_sub(4)?;
    let at = u64::from(long(source, last).ok()?);
    if source.array::<4>(at).ok()? != *b"SECd" {
        return None;
    }
    let count = long(source, at + 8).ok()?.min(MOST_SECTIONS);
    let mut found = Vec::new();
    for i in 0..u64::from(count) {
        let entry = at + 12 + 12 * i;
        let place = Extent {
            offset: u64::from(long(source, entry).ok()?),
            length: u64::from(long(source, entry + 4).ok()?),
        };
        found.push((source.array(entry + 8).ok()?, place));
    }
    Some(found)
}

/// Pairs of name and value in UTF-16, used where no Exif has the same value; the body's number and the sensor's
/// temperature are nowhere else.
fn properties(source: &mut Source, place: Extent, out: &mut Gathered) {
    let end = place.offset.saturating_add(place.length);
    let Ok(count) = long(source, place.offset.saturating_add(8)) else {
        return;
    };
    let pairs = place.offset + 24;
    let count = u64::from(count).min(MOST_PROPERTIES);
    let text = pairs + 8 * count;
    let len = end.saturating_sub(pairs).min(MOST_TEXT);
    let Ok(raw) = source.bytes(pairs, usize::try_from(len).unwrap_or(0)) else {
        return;
    };
    let raw = raw.to_vec();
    let word = |at: usize| -> Option<u32> {
        raw.get(at..at + 4)?
            .first_chunk()
            .map(|b| u32::from_le_bytes(*b))
    };
    let start = usize::try_from(text - pairs).unwrap_or(usize::MAX);
    let string = |characters: u32| -> Option<String> {
        let at = start.checked_add(usize::try_from(characters).ok()?.checked_mul(2)?)?;
        let units = raw
            .get(at..)?
            .chunks_exact(2)
            .map(|pair| u16::from_le_bytes([pair[0], pair[1]]))
            .take_while(|unit| *unit != 0);
        char::decode_utf16(units)
            .take(256)
            .collect::<Result<_, _>>()
            .ok()
    };
    for i in 0..usize::try_from(count).unwrap_or(0) {
        let (Some(name), Some(value)) = (word(8 * i), word(8 * i + 4)) else {
            return;
        };
        if let (Some(name), Some(value)) = (string(name), string(value)) {
            property(&name, value.trim(), out);
        }
    }
}

fn property(name: &str, value: &str, out: &mut Gathered) {
    let number = || value.parse::<f64>().ok().filter(|n| n.is_finite());
    let (tag, parts) = match name {
        "CAMMANUF" => return out.block.put_text(wanted::MAKE, value),
        "CAMMODEL" => return out.block.put_text(wanted::MODEL, value),
        "TIME" => {
            // Seconds since 1970 on the body's clock, which has no zone: only the digits are used.
            let seconds = value.parse::<u32>().ok().filter(|s| *s > 0);
            if let Some(reading) = seconds.and_then(|s| Utc::from_unix_ms(i64::from(s) * 1000)) {
                let text = reading.to_string();
                let text = text.split('.').next().unwrap_or_default();
                out.block.put_text(wanted::DATE_TIME_ORIGINAL, text);
            }
            return;
        }
        "CAMSERIAL" => {
            if out.maker.serial.is_none() && !value.is_empty() {
                out.maker.serial = Some(value.to_owned());
            }
            return;
        }
        "IMAGERTEMP" => {
            out.maker.temperature_c = out.maker.temperature_c.or_else(number);
            return;
        }
        // In millionths of a second.
        "EXPTIME" => (wanted::EXPOSURE_TIME, 1e6),
        "APERTURE" => (wanted::F_NUMBER, 1.0),
        "ISO" => (wanted::ISO, 1.0),
        "FLENGTH" => (wanted::FOCAL_LENGTH, 1.0),
        "FLEQ35MM" => (wanted::FOCAL_LENGTH_35, 1.0),
        _ => return,
    };
    if let Some(number) = number() {
        out.block.put_number(tag, number / parts);
    }
}
