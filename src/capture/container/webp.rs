//! WebP: the `EXIF` chunk and the picture's size. Decodes nothing.
//!
//! Source: RFC 9649 (container and bit streams).

use crate::capture::container::Container;
use crate::capture::gathered::Gathered;
use crate::capture::ifd;
use crate::capture::ifd::place::Place;
use crate::capture::source::Source;

/// WebP.
pub const CONTAINER: Container = (
    |head| head.starts_with(b"RIFF") && head.get(8..12) == Some(b"WEBP"),
    read,
);

/// The most chunks stepped over.
const MOST_CHUNKS: usize = 256;

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    let Ok(raw) = source.array::<4>(4) else {
        return "webp";
    };
    let end = u64::from(u32::from_le_bytes(raw)) + 8;
    out.promise("the RIFF container", end, length);
    let mut at = 12;
    for _ in 0..MOST_CHUNKS {
        if at + 8 > end.min(length) {
            break;
        }
        let Ok([c0, c1, c2, c3, s0, s1, s2, s3]) = source.hop::<8>(at) else {
            break;
        };
        let size = u64::from(u32::from_le_bytes([s0, s1, s2, s3]));
        let body = at + 8;
        match &[c0, c1, c2, c3] {
            b"VP8X" => out.size = canvas(source, body),
            b"VP8 " if out.size.is_none() => out.size = lossy(source, body),
            b"VP8L" if out.size.is_none() => out.size = lossless(source, body),
            b"EXIF" => {
                let place = Place::in_file(body, (body + size).min(length));
                ifd::walk_carried(source, place, "the EXIF chunk", out);
            }
            _ => {}
        }
        out.promise("a chunk", body + size, length);
        at = body + size + size % 2;
    }
    "webp"
}

fn canvas(source: &mut Source, body: u64) -> Option<(u64, u64)> {
    let [_, _, _, _, w0, w1, w2, h0, h1, h2] = source.hop::<10>(body).ok()?;
    let edge =
        |bytes: [u8; 3]| u64::from(u32::from_le_bytes([bytes[0], bytes[1], bytes[2], 0])) + 1;
    Some((edge([w0, w1, w2]), edge([h0, h1, h2])))
}

fn lossy(source: &mut Source, body: u64) -> Option<(u64, u64)> {
    let [_, _, _, 0x9D, 0x01, 0x2A, w0, w1, h0, h1] = source.hop::<10>(body).ok()? else {
        return None;
    };
    let edge = |low, high| u64::from(u16::from_le_bytes([low, high]) & 0x3FFF);
    Some((edge(w0, w1), edge(h0, h1)))
}

fn lossless(source: &mut Source, body: u64) -> Option<(u64, u64)> {
    let [0x2F, b0, b1, b2, b3] = source.hop::<5>(body).ok()? else {
        return None;
    };
    let bits = u64::from(u32::from_le_bytes([b0, b1, b2, b3]));
    Some(((bits & 0x3FFF) + 1, ((bits >> 14) & 0x3FFF) + 1))
}
