//! Panasonic and Leica RW2: TIFF with a magic number of its own, low tags of the maker in IFD0, and a whole JPEG whose
//! Exif fills the gaps of the short Exif directory.
//!
//! Layout from public format notes.

use crate::capture::container::Container;
use crate::capture::container::jpeg;
use crate::capture::gathered::Gathered;
use crate::capture::gathered::Role;
use crate::capture::ifd;
use crate::capture::ifd::listing::Listing;
use crate::capture::ifd::place::Place;
use crate::capture::ifd::place::header;
use crate::capture::source::Source;
use crate::capture::wanted;

/// Panasonic and Leica RW2.
pub const CONTAINER: Container = (|head| head.starts_with(b"IIU\0"), read);

/// Width and height of the sensor.
const SENSOR: [u16; 2] = [0x0002, 0x0003];
/// Edges of the picture on the sensor: top, left, bottom, right.
const BORDERS: [u16; 4] = [0x0004, 0x0005, 0x0006, 0x0007];
/// Sensitivity.
const ISO: u16 = 0x0017;
/// How the picture is packed. From 4 to 7, sixteen bytes hold at most fourteen pixels; 8 has no fixed length. Common
/// practice, no source.
const PACKING: u16 = 0x002D;
/// A whole JPEG.
const JPEG: u16 = 0x002E;
/// Where the sensor's picture begins, in the first bodies. The length beside it is the unpacked one and does not help.
const STRIP_OFFSET: u16 = 0x0111;
/// Where it begins, in later bodies.
const RAW_OFFSET: u16 = 0x0118;

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    let place = Place::in_file(0, length);
    let Some(header) = header(source, 0) else {
        out.warn(|| "the header does not give the first directory".to_owned());
        return "rw2";
    };
    ifd::walk(source, place, header, Role::Chain(0), out);
    let tags = [
        BORDERS[0],
        BORDERS[1],
        BORDERS[2],
        BORDERS[3],
        SENSOR[0],
        SENSOR[1],
        ISO,
        PACKING,
        JPEG,
        STRIP_OFFSET,
        RAW_OFFSET,
    ];
    let Some(list) = Listing::read(source, place, header.order, header.first, &tags) else {
        return "rw2";
    };
    let number = |source: &mut Source, tag| {
        list.integer(source, tag, 0)
            .and_then(|n| u64::try_from(n).ok())
    };
    if let Some(iso) = number(source, ISO)
        && let Ok(iso) = u32::try_from(iso)
    {
        out.block.put_number(wanted::ISO, f64::from(iso));
    }
    if let Some(jpeg) = list.extent(JPEG) {
        jpeg::embedded(source, jpeg, out);
    }
    let [top, left, bottom, right] = BORDERS.map(|tag| number(source, tag));
    let edge = |from: Option<u64>, to: Option<u64>| to?.checked_sub(from?);
    out.size = edge(left, right).zip(edge(top, bottom));
    // All ones if the later tag has it.
    let start = number(source, STRIP_OFFSET)
        .filter(|at| *at < u64::from(u32::MAX))
        .or_else(|| number(source, RAW_OFFSET));
    if let Some(start) = start {
        let least = match (
            number(source, PACKING),
            SENSOR.map(|tag| number(source, tag)),
        ) {
            (Some(4..=7), [Some(width), Some(height)]) => {
                width.saturating_mul(height).saturating_mul(16) / 14
            }
            _ => 1,
        };
        out.promise("the sensor's picture", start.saturating_add(least), length);
    }
    "rw2"
}
