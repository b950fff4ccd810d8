//! Canon CR3: boxes that contain whole TIFF blocks, one for each directory; the previews; box sizes. Decodes nothing.
//!
//! Source: ISO/IEC 14496-12 §4.2, §8.7 (boxes, sample tables); Canon's own boxes from public format notes.

use crate::capture::container::Container;
use crate::capture::container::bmff;
use crate::capture::container::bmff::Boxed;
use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::ifd;
use crate::capture::ifd::place::Place;
use crate::capture::ifd::place::header;
use crate::capture::maker;
use crate::capture::source::HOP;
use crate::capture::source::Source;
use crate::terms::records::Extent;

/// Canon CR3.
pub const CONTAINER: Container = (|head| bmff::has_brand(head, &[*b"crx "]), read);

/// Canon's box with the TIFF blocks and the thumbnail.
const METADATA: [u8; 16] = [
    0x85, 0xC0, 0xB6, 0x87, 0x82, 0x0F, 0x11, 0xE0, 0x81, 0x11, 0xF4, 0xCE, 0x46, 0x2B, 0x6A, 0x48,
];
/// Canon's box with the preview.
const PREVIEW: [u8; 16] = [
    0xEA, 0xF4, 0x2B, 0x5E, 0x1C, 0x98, 0x4B, 0x88, 0xB9, 0xFB, 0xB7, 0xDC, 0x40, 0x6E, 0x4D, 0x16,
];
/// The tracks after the metadata box are read in one go if they have at most this many bytes.
const TRACKS: u64 = 4096;

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let outer = bmff::outer(source, out);
    match outer.iter().find(|b| &b.kind == b"moov") {
        Some(moov) => movie(source, *moov, out),
        None => out.warn(|| "there is no moov box".to_owned()),
    }
    for held in outer {
        if let Some(body) = of_canon(source, held, PREVIEW) {
            // Eight bytes of counts come before the box within.
            if let Ok(Some(inner)) = bmff::box_at(source, body + 8, held.end)
                && &inner.kind == b"PRVW"
            {
                picture(source, inner, 12, out);
            }
        }
    }
    if out.size.is_none() {
        out.size = out.exif_size.filter(|(w, h)| *w > 0 && *h > 0);
    }
    "cr3"
}

/// The body of a box whose kind is these 16 bytes.
fn of_canon(source: &mut Source, held: Boxed, kind: [u8; 16]) -> Option<u64> {
    let is = &held.kind == b"uuid" && source.hop::<16>(held.body) == Ok(kind);
    is.then_some(held.body + 16)
}

fn movie(source: &mut Source, moov: Boxed, out: &mut Gathered) {
    let end = moov.end.min(source.length());
    if let Ok(Some(first)) = bmff::box_at(source, moov.body, end)
        && let Some(rest) = end.checked_sub(first.end).filter(|rest| *rest <= TRACKS)
    {
        // A read that fails is repeated box by box.
        let _ = source.grained(first.end, usize::try_from(rest).unwrap_or(0), HOP);
    }
    let mut first_track = None;
    for part in bmff::children(source, moov.body, end) {
        if let Some(body) = of_canon(source, part, METADATA) {
            for block in bmff::children(source, body, part.end.min(end)) {
                match &block.kind {
                    b"CMT1" => tiff(source, block, Role::Chain(0), out),
                    b"CMT2" => tiff(source, block, Role::Exif, out),
                    b"CMT3" => maker_note(source, block, out),
                    b"CMT4" => tiff(source, block, Role::Gps, out),
                    b"THMB" => picture(source, block, 8, out),
                    _ => {}
                }
            }
        } else if &part.kind == b"trak" && first_track.is_none() {
            first_track = Some(part);
        }
    }
    if let Some(track) = first_track {
        full_jpeg(source, track, out);
    }
}

const fn whole(block: Boxed) -> Place {
    Place::in_file(block.body, block.end)
}

/// A box that is a TIFF block; `role` is the role of its first directory.
fn tiff(source: &mut Source, block: Boxed, role: Role, out: &mut Gathered) {
    match header(source, block.body) {
        Some(header) => ifd::walk(source, whole(block), header, role, out),
        None => out.warn(|| {
            let name = block.kind.escape_ascii();
            format!("the box '{name}' at {} holds no TIFF block", block.body)
        }),
    }
}

fn maker_note(source: &mut Source, block: Boxed, out: &mut Gathered) {
    if let Some(header) = header(source, block.body) {
        let at = block.body.saturating_add(header.first);
        maker::read_canon_directory(source, whole(block), header.order, at, out);
    }
}

/// A box that holds one JPEG: its length is at `said`, the picture 16 bytes into the body.
fn picture(source: &mut Source, held: Boxed, said: u64, out: &mut Gathered) {
    if let Ok(raw) = source.hop::<4>(held.body + said) {
        let jpeg = Extent {
            offset: held.body + 16,
            length: u64::from(u32::from_be_bytes(raw)),
        };
        if !source.is_held_otherwise(jpeg.offset, &[0xFF, 0xD8]) {
            out.jpeg(jpeg, source.length());
        }
    }
}

/// The first track is a JPEG of full size: one sample. Its size is used if Exif has none.
fn full_jpeg(source: &mut Source, track: Boxed, out: &mut Gathered) {
    let length = source.length();
    let mut table = track;
    for kind in [b"mdia", b"minf", b"stbl"] {
        let Some(found) = bmff::child(source, table, *kind) else {
            return;
        };
        table = found;
    }
    let long = |source: &mut Source, at: u64| source.hop(at).map(u32::from_be_bytes);
    let sizes = bmff::child(source, table, *b"stsz");
    let places = bmff::child(source, table, *b"co64");
    if let (Some(sizes), Some(places)) = (sizes, places)
        && let Ok(offset) = source.hop(places.body + 8).map(u64::from_be_bytes)
        && let Ok(fixed) = long(source, sizes.body + 4)
        && let Ok(own) = long(source, sizes.body + 12)
    {
        // One size for all samples, or a list of them.
        let size = if fixed > 0 { fixed } else { own };
        let jpeg = Extent {
            offset,
            length: u64::from(size),
        };
        let end = jpeg.offset.saturating_add(jpeg.length);
        out.promise("the full-size JPEG", end, length);
        if !source.is_held_otherwise(jpeg.offset, &[0xFF, 0xD8]) {
            out.jpeg(jpeg, length);
        }
    }
    if out.exif_size.is_none()
        && let Some(described) = bmff::child(source, table, *b"stsd")
        && let Ok([w0, w1, h0, h1]) = source.hop::<4>(described.body + 8 + 32)
    {
        let edge = |bytes| u64::from(u16::from_be_bytes(bytes));
        out.size = Some((edge([w0, w1]), edge([h0, h1])));
    }
}
