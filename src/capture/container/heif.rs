//! HEIF, HEIC, HIF and AVIF: the Exif item wherever `iloc` puts it, the size of the primary item, box sizes.
//!
//! Source: ISO/IEC 14496-12 §8.11 (meta, iloc, iinf), ISO/IEC 23008-12 §6.5.3 (ispe) and Annex A (the Exif item).

mod items;

use crate::capture::container::Container;
use crate::capture::container::bmff;
use crate::capture::container::bmff::Boxed;
use crate::capture::container::bmff::has_brand;
use crate::capture::container::heif::items::Item;
use crate::capture::container::heif::items::Meta;
use crate::capture::gathered::Gathered;
use crate::capture::ifd;
use crate::capture::ifd::place::Place;
use crate::capture::source::Source;
use crate::terms::records::Extent;

/// HEIF with any codec except AV1.
pub const CONTAINER: Container = (
    |head| {
        has_brand(
            head,
            &[
                *b"heic", *b"heix", *b"heim", *b"heis", *b"hevc", *b"hevx", *b"mif1", *b"mif2",
                *b"msf1",
            ],
        ) && !is_avif(head)
    },
    read_heif,
);

/// HEIF with the AV1 codec.
pub const AVIF: Container = (is_avif, read_avif);

/// The longest Exif block that is joined from several pieces.
const MOST_JOINED: usize = 64 * 1024;

fn is_avif(head: &[u8]) -> bool {
    has_brand(head, &[*b"avif", *b"avis"])
}

fn read_heif(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    read(source, out);
    "heif"
}

fn read_avif(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    read(source, out);
    "avif"
}

fn read(source: &mut Source, out: &mut Gathered) {
    let meta = bmff::outer(source, out)
        .into_iter()
        .find(|outer| &outer.kind == b"meta");
    match meta {
        Some(found) => items(source, found, out),
        None => out.warn(|| "there is no meta box".to_owned()),
    }
}

fn items(source: &mut Source, found: Boxed, out: &mut Gathered) {
    let length = source.length();
    let end = found.end.min(length);
    let meta = Meta::read(source, found.body, end, out);
    out.size = meta.primary_size(source);
    for item in &meta.items {
        for piece in &item.pieces {
            let end = piece.offset.saturating_add(piece.length);
            out.promise("an item", end, length);
        }
    }
    if let Some(exif) = meta.items.iter().find(|item| &item.kind == b"Exif") {
        exif_item(source, exif, out);
    }
    for item in meta.items.iter().filter(|item| &item.kind == b"jpeg") {
        if let [piece] = item.pieces[..]
            && item.id != meta.primary
        {
            out.jpeg(piece, length);
        }
    }
}

/// An Exif item: four bytes with the distance from there to the TIFF header, then the block.
fn exif_item(source: &mut Source, item: &Item, out: &mut Gathered) {
    match item.pieces[..] {
        [] => out.warn(|| "the Exif item has no position".to_owned()),
        [Extent { offset, length }] => {
            let end = offset.saturating_add(length).min(source.length());
            exif_block(source, Place::in_file(offset, end), out);
        }
        _ => {
            let mut joined = Vec::new();
            for piece in &item.pieces {
                let room = MOST_JOINED.saturating_sub(joined.len());
                let len = usize::try_from(piece.length).map_or(room, |len| len.min(room));
                match source.bytes(piece.offset, len) {
                    Ok(bytes) => joined.extend_from_slice(bytes),
                    Err(lack) => {
                        out.warn(|| format!("the Exif item: {}", lack.words()));
                        break;
                    }
                }
            }
            let mut unpacked = Source::memory(joined);
            let place = Place::unpacked(&unpacked);
            exif_block(&mut unpacked, place, out);
        }
    }
}

fn exif_block(source: &mut Source, mut place: Place, out: &mut Gathered) {
    let Ok(raw) = source.array::<4>(place.base) else {
        out.warn(|| format!("the Exif item at {} could not be read", place.base));
        return;
    };
    let skip = u64::from(u32::from_be_bytes(raw));
    let header = place.base.saturating_add(4).saturating_add(skip);
    // The header would be outside the item: some writers put the block first and mean 0.
    place.base = if header < place.end {
        header
    } else {
        place.base + 4
    };
    ifd::walk_carried(source, place, "the Exif item", out);
}
