//! PNG: the `eXIf` chunk, the older text chunks that carry Exif as hexadecimal digits, the size, the end chunk.
//!
//! Source: PNG specification, third edition (W3C 2025), §5, §11; the text form is common practice, no source.

use crate::capture::container::Container;
use crate::capture::gathered::Gathered;
use crate::capture::ifd;
use crate::capture::ifd::place::Place;
use crate::capture::source::Source;

/// PNG.
pub const CONTAINER: Container = (|head| head.starts_with(b"\x89PNG\r\n\x1A\n"), read);

/// The most chunks stepped over: the data of a large picture may be in thousands of small ones, with Exif after them.
const MOST_CHUNKS: usize = 400;
/// The most that a compressed text may unpack to.
const MOST_UNPACKED: usize = 256 * 1024;
/// The most texts that are unpacked: a small one can unpack to a large one.
const MOST_TEXTS: usize = 2;
/// The largest text chunk that is read.
const MOST_TEXT: u64 = 96 * 1024;

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    let mut at = 8;
    let mut ended = false;
    let mut texts = 0;
    for _ in 0..MOST_CHUNKS {
        let Ok([s0, s1, s2, s3, kind @ ..]) = source.hop::<8>(at) else {
            break;
        };
        let size = u64::from(u32::from_be_bytes([s0, s1, s2, s3]));
        let body = at + 8;
        // The body, and four bytes of checksum.
        let next = body + size + 4;
        out.promise("a chunk", next, length);
        match &kind {
            b"IHDR" => {
                if let Ok([w0, w1, w2, w3, h0, h1, h2, h3]) = source.hop::<8>(body) {
                    let edge = |bytes| u64::from(u32::from_be_bytes(bytes));
                    out.size = Some((edge([w0, w1, w2, w3]), edge([h0, h1, h2, h3])));
                }
            }
            b"eXIf" => {
                let place = Place::in_file(body, (body + size).min(length));
                ifd::walk_carried(source, place, "the eXIf chunk", out);
            }
            b"tEXt" | b"zTXt"
                if size <= MOST_TEXT && texts < MOST_TEXTS && is_exif_text(source, body) =>
            {
                texts += 1;
                text(source, kind, body, size, out);
            }
            b"IEND" => {
                ended = true;
                break;
            }
            _ => {}
        }
        if next > length {
            break;
        }
        at = next;
    }
    if !ended && out.truncated.is_none() && !source.tail().windows(4).any(|w| w == b"IEND") {
        out.truncated = Some(format!(
            "no end chunk before the file's end at byte {length}"
        ));
    }
    "png"
}

/// Bytes of the keyword of a text that contains Exif.
const KEYWORD: usize = 22;

/// Whether a text's keyword is `Raw profile type exif` or `APP1`.
fn is_exif_text(source: &mut Source, body: u64) -> bool {
    source.hop::<KEYWORD>(body).is_ok_and(|start| {
        start.starts_with(b"Raw profile type ")
            && (start.ends_with(b"exif\0") || start.ends_with(b"APP1\0"))
    })
}

/// After the keyword: a name, the count of bytes, and the bytes in hexadecimal, in lines.
fn text(source: &mut Source, kind: [u8; 4], body: u64, size: u64, out: &mut Gathered) {
    let Ok(len) = usize::try_from(size) else {
        return;
    };
    let Ok(raw) = source.bytes(body, len) else {
        out.warn(|| format!("the text chunk at {body} could not be read"));
        return;
    };
    let packed = &raw[KEYWORD.min(raw.len())..];
    let bytes = if &kind == b"zTXt" {
        // One byte for the method, which is always 0: zlib.
        let stream = packed.get(1..).unwrap_or(&[]);
        miniz_oxide::inflate::decompress_to_vec_zlib_with_limit(stream, MOST_UNPACKED)
            .ok()
            .and_then(|text| digits(&text))
    } else {
        digits(packed)
    };
    let Some(bytes) = bytes else {
        out.warn(|| format!("the Exif text at {body} could not be unpacked"));
        return;
    };
    let mut unpacked = Source::memory(bytes);
    let place = Place::unpacked(&unpacked);
    ifd::walk_carried(&mut unpacked, place, "the Exif text", out);
}

/// The bytes after the two header lines, from hexadecimal.
fn digits(text: &[u8]) -> Option<Vec<u8>> {
    let mut lines = text
        .split(|b| *b == b'\n')
        .filter(|line| !line.trim_ascii().is_empty());
    lines.next()?;
    let said: usize = std::str::from_utf8(lines.next()?.trim_ascii())
        .ok()?
        .parse()
        .ok()?;
    let mut bytes = Vec::with_capacity(said.min(MOST_UNPACKED));
    let mut high = None;
    for digit in lines.flatten().filter(|b| !b.is_ascii_whitespace()) {
        let value = u8::try_from(char::from(*digit).to_digit(16)?).ok()?;
        match high.take() {
            None => high = Some(value),
            Some(high) => bytes.push(high << 4 | value),
        }
    }
    Some(bytes)
}
