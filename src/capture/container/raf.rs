//! Fujifilm RAF: a header with the positions of a whole JPEG, whose Exif is the file's, and of the sensor's picture.
//!
//! Layout from public format notes: everything in the header is big-endian.

use crate::capture::container::Container;
use crate::capture::container::jpeg;
use crate::capture::gathered::Gathered;
use crate::capture::source::Source;
use crate::terms::records::Extent;

/// Fujifilm RAF.
pub const CONTAINER: Container = (|head| head.starts_with(b"FUJIFILMCCD-RAW"), read);

/// Where the header has offset and length of the JPEG; those of the sensor's records and of its picture follow.
const TABLE: u64 = 0x54;
/// The record of the picture's height and width without its border.
const CROPPED: u16 = 0x0111;
/// The most records stepped over.
const MOST_RECORDS: u32 = 64;

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    let Ok(raw) = source.array::<24>(TABLE) else {
        out.promise("the header", TABLE + 24, length);
        return "raf";
    };
    let mut extents = raw.chunks_exact(8).map(|pair| {
        let long = |at: usize| {
            pair[at..]
                .first_chunk()
                .map_or(0, |b| u32::from_be_bytes(*b))
        };
        Extent {
            offset: u64::from(long(0)),
            length: u64::from(long(4)),
        }
    });
    let mut next = || extents.next().filter(|e| e.offset > 0 && e.length > 0);
    let (preview, records, sensor) = (next(), next(), next());
    if let Some(preview) = preview {
        jpeg::embedded(source, preview, out);
    } else {
        out.warn(|| "the header does not give a JPEG".to_owned());
    }
    for (what, part) in [
        ("the sensor's records", records),
        ("the sensor's picture", sensor),
    ] {
        if let Some(part) = part {
            out.promise(what, part.offset.saturating_add(part.length), length);
        }
    }
    out.size = records.and_then(|place| cropped(source, place));
    "raf"
}

/// The size in the sensor's records: a count, then records of number, length, bytes.
fn cropped(source: &mut Source, place: Extent) -> Option<(u64, u64)> {
    let end = place.offset.saturating_add(place.length);
    let count = u32::from_be_bytes(source.array(place.offset).ok()?);
    let mut at = place.offset + 4;
    for _ in 0..count.min(MOST_RECORDS) {
        let [t0, t1, l0, l1] = source.array::<4>(at).ok()?;
        let len = u64::from(u16::from_be_bytes([l0, l1]));
        if at.saturating_add(4 + len) > end {
            return None;
        }
        if u16::from_be_bytes([t0, t1]) == CROPPED && len == 4 {
            let [h0, h1, w0, w1] = source.array::<4>(at + 4).ok()?;
            let edge = |bytes| u64::from(u16::from_be_bytes(bytes));
            return Some((edge([w0, w1]), edge([h0, h1])));
        }
        at += 4 + len;
    }
    None
}
