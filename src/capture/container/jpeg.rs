//! JPEG: the Exif segments, the frame header, and whether the end marker is there. Decodes nothing.
//!
//! Source: ITU-T T.81 annex B (markers and segments); CIPA DC-008 4.7.2 (the Exif segment).

use crate::capture::container::Container;
use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::ifd;
use crate::capture::ifd::listing::Listing;
use crate::capture::ifd::place::Place;
use crate::capture::ifd::place::header;
use crate::capture::source::Lack;
use crate::capture::source::Source;
use crate::terms::records::Extent;

/// JPEG.
pub const CONTAINER: Container = (|head| head.starts_with(&[0xFF, 0xD8, 0xFF]), read);

/// The most segments stepped over.
const MOST_SEGMENTS: usize = 512;

/// The result of reading the segments before the picture.
enum Headers {
    /// The picture's data begins here.
    Scan(u64),
    /// The file ends before it.
    Ended(u64),
    /// Not reached: the headers go on too long, or the disk gave an error.
    NotReached,
}

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    match headers(source, 0, length, out) {
        Headers::Scan(at) => {
            if let Some(lost) = end_is_missing(source, at) {
                out.truncated = Some(lost);
            }
        }
        Headers::Ended(at) => {
            out.truncated = Some(format!(
                "the file ends at byte {length}, before its picture begins (segment at {at})"
            ));
        }
        Headers::NotReached => {}
    }
    if out.size.is_none() {
        size_without_frame(out);
    }
    "jpeg"
}

/// Reads a whole JPEG embedded in a raw file: its Exif, its own thumbnail, its position.
///
/// Its tags fill gaps in those gathered before; the size of its picture is not that of the raw picture.
pub fn embedded(source: &mut Source, place: Extent, out: &mut Gathered) {
    let length = source.length();
    let end = place.offset.saturating_add(place.length);
    out.promise("the embedded JPEG", end, length);
    if source.array::<3>(place.offset) != Ok([0xFF, 0xD8, 0xFF]) {
        return;
    }
    out.jpeg(place, length);
    let size = out.size;
    headers(source, place.offset, end.min(length), out);
    out.size = size;
}

/// Reads the segments of a JPEG that starts at `start` of its source and ends before `end`.
///
/// The Exif blocks are walked; the size of the first frame header and the first embedded thumbnail are kept.
fn headers(source: &mut Source, start: u64, end: u64, out: &mut Gathered) -> Headers {
    let mut at = start + 2;
    for _ in 0..MOST_SEGMENTS {
        let marker = match marker_at(source, &mut at, end) {
            Ok(marker) => marker,
            Err(Lack::PastEnd) => return Headers::Ended(at),
            Err(_) => return Headers::NotReached,
        };
        match marker {
            // Start of scan, or the end of a picture without one.
            0xDA => return Headers::Scan(at),
            0xD9 => return Headers::Ended(at),
            // Markers without a segment.
            0x01 | 0xD0..=0xD8 => continue,
            _ => {}
        }
        let size = match source.hop::<2>(at) {
            Ok(raw) => u64::from(u16::from_be_bytes(raw)),
            Err(Lack::PastEnd) => return Headers::Ended(at),
            Err(_) => return Headers::NotReached,
        };
        if size < 2 {
            out.warn(|| format!("a JPEG segment at {at} has a length of {size} bytes"));
            return Headers::NotReached;
        }
        match marker {
            0xE1 => exif_segment(source, at, (at + size).min(end), out),
            0xE2 => further_pictures(source, at, (at + size).min(end), out),
            // Frame headers: all of C0 to CF except the tables DHT, JPG and DAC.
            0xC0..=0xCF if !matches!(marker, 0xC4 | 0xC8 | 0xCC) && out.size.is_none() => {
                if let Ok([_, _, _, h1, h2, w1, w2]) = source.hop::<7>(at) {
                    let width = u16::from_be_bytes([w1, w2]);
                    let height = u16::from_be_bytes([h1, h2]);
                    out.size = Some((u64::from(width), u64::from(height)));
                }
            }
            _ => {}
        }
        at += size;
    }
    Headers::NotReached
}

/// Finds the next marker, over any fill bytes, and moves past it.
fn marker_at(source: &mut Source, at: &mut u64, end: u64) -> Result<u8, Lack> {
    let mut fill = 0;
    loop {
        if *at + 2 > end {
            return Err(Lack::PastEnd);
        }
        let [first, second] = source.hop::<2>(*at)?;
        fill += 1;
        if fill > 4096 {
            return Err(Lack::OverBudget);
        }
        // Any number of FF may precede a marker. Stray bytes there are not valid JPEG, but cameras have written them.
        if first == 0xFF && second != 0xFF && second != 0 {
            *at += 2;
            return Ok(second);
        }
        *at += 1;
    }
}

fn exif_segment(source: &mut Source, at: u64, end: u64, out: &mut Gathered) {
    // The sixth byte is a NUL by the standard; some writers put other bytes there.
    if let Ok([b'E', b'x', b'i', b'f', 0, _]) = source.hop::<6>(at + 2) {
        let place = Place::in_file(at + 8, end);
        ifd::walk_carried(source, place, "the Exif segment", out);
    }
}

/// A list of JPEG files that follow this one: those that are smaller versions of it are previews.
///
/// Source: CIPA DC-007 5.2 (the MP index).
fn further_pictures(source: &mut Source, at: u64, end: u64, out: &mut Gathered) {
    const LIST: u16 = 0xB002;
    const ENTRY: usize = 16;
    if source
        .hop::<6>(at + 2)
        .is_ok_and(|raw| !raw.starts_with(b"MPF\0"))
    {
        return;
    }
    let place = Place::in_file(at + 6, end);
    let Some(header) = header(source, place.base) else {
        return;
    };
    let directory = place.base.saturating_add(header.first);
    let Some(list) = Listing::read(source, place, header.order, directory, &[LIST]) else {
        return;
    };
    let Some(raw) = list.raw(source, LIST, 4096).map(<[u8]>::to_vec) else {
        return;
    };
    for entry in raw.chunks_exact(ENTRY) {
        let long = |at: usize| {
            let bytes = entry[at..].first_chunk().copied().unwrap_or_default();
            u64::from(header.order.u32(bytes))
        };
        let is_smaller_version = long(0) & 0x00FF_0000 == 0x0001_0000;
        if is_smaller_version && long(8) > 0 {
            let jpeg = Extent {
                offset: place.base + long(8),
                length: long(4),
            };
            if !source.is_held_otherwise(jpeg.offset, &[0xFF, 0xD8]) {
                out.jpeg(jpeg, source.length());
            }
        }
    }
}

/// A JPEG without a frame header has no picture to measure; the size of the main image in its Exif is used instead.
fn size_without_frame(out: &mut Gathered) {
    let said = out.exif_size.filter(|(w, h)| *w > 0 && *h > 0);
    let ifd0 = out
        .directories
        .iter()
        .find(|d| d.role == Role::Chain(0) && !d.is_reduced())
        .and_then(crate::capture::gathered::Directory::size);
    out.size = ifd0.or(said);
}

/// Checks the end marker. If the picture's data runs to the end of the file instead, returns what was found there.
///
/// After the end marker a file may contain anything: padding, a video clip, a maker's trailer, earlier contents of the
/// card. In a picture's data `FF` is followed by 00 or a restart marker only, and comes every few hundred bytes. So the
/// byte pairs near the end that begin with `FF` show whether the file ends in such data: all of them must belong to it,
/// or to the few segments that may come between the scans of one picture.
fn end_is_missing(source: &mut Source, scan: u64) -> Option<String> {
    /// How far back the last pair is searched for.
    const FAR: u64 = 8 * 1024;
    let length = source.length();
    let tail = source.tail();
    let before = usize::try_from(scan.saturating_sub(length - tail.len() as u64)).unwrap_or(0);
    // In a tiny picture the tail includes the headers, with markers of their own.
    let tail = tail.get(before..).unwrap_or(&[]);
    if has_end(tail) {
        return None;
    }
    if !tail.is_empty() && tail.iter().all(|b| *b == 0) {
        return padding_hides_no_end(source);
    }
    let in_data = if let Some(of_data) = all_of_data(tail) {
        of_data
    } else {
        let from = scan.max(length.saturating_sub(FAR));
        let len = usize::try_from(length.saturating_sub(from)).unwrap_or(0);
        match source.bytes(from, len).ok().map(all_of_data) {
            Some(Some(of_data)) => of_data,
            // The whole of the picture's data was seen, without an end.
            Some(None) => from == scan,
            None => false,
        }
    };
    if !in_data || ends_in_head(source, scan) {
        return None;
    }
    Some(format!(
        "the picture's data runs to the end of the file at byte {length}; there is no end marker"
    ))
}

/// Whether `FF` followed by this byte belongs in a picture's data: a stuffed FF, a restart marker, or, between two
/// scans, tables, the line count, the restart interval, the start of the next scan (ITU-T T.81 B.2.1).
const fn is_of_data(pair: u8) -> bool {
    matches!(pair, 0x00 | 0xC4 | 0xD0..=0xD7 | 0xDA..=0xDD)
}

/// A small picture may end in the head already, whatever follows it.
fn ends_in_head(source: &Source, scan: u64) -> bool {
    usize::try_from(scan)
        .ok()
        .and_then(|scan| source.head().get(scan..))
        .is_some_and(has_end)
}

/// Whether every `FF` that is followed by a byte belongs in a picture's data. `None` if there is no `FF`.
fn all_of_data(bytes: &[u8]) -> Option<bool> {
    let mut pairs = bytes
        .windows(2)
        .filter(|pair| pair[0] == 0xFF && pair[1] != 0xFF)
        .peekable();
    pairs.peek()?;
    Some(pairs.all(|pair| is_of_data(pair[1])))
}

fn has_end(bytes: &[u8]) -> bool {
    bytes.windows(2).any(|pair| pair == [0xFF, 0xD9])
}

/// The file ends in zeros: halves the distance to the last byte that is not zero, and looks there.
fn padding_hides_no_end(source: &mut Source) -> Option<String> {
    const WINDOW: u64 = 64;
    let length = source.length();
    let (mut low, mut high) = (0, length / WINDOW);
    while low < high {
        let middle = low.midpoint(high);
        let at = middle * WINDOW;
        let len = usize::try_from(WINDOW.min(length - at)).unwrap_or(0);
        match source.grained(at, len, WINDOW) {
            Ok(bytes) if bytes.iter().all(|b| *b == 0) => high = middle,
            Ok(_) => low = middle + 1,
            Err(_) => return None,
        }
    }
    // `low` is the first window of the padding; the marker may cross its border.
    let from = (low * WINDOW).saturating_sub(2 * WINDOW);
    let len = usize::try_from((low * WINDOW + WINDOW).min(length) - from).unwrap_or(0);
    match source.grained(from, len, WINDOW) {
        Ok(bytes) if !has_end(bytes) => Some(format!(
            "only zeros from about byte {} on; there is no end marker before them",
            low * WINDOW
        )),
        _ => None,
    }
}
