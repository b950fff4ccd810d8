//! Minolta MRW: blocks with a name and a length, one of which is a TIFF block; after them the sensor's picture.
//!
//! Layout from public format notes: lengths are big-endian.

use crate::capture::container::Container;
use crate::capture::gathered::Gathered;
use crate::capture::ifd;
use crate::capture::ifd::place::Place;
use crate::capture::source::Source;

/// Minolta MRW.
pub const CONTAINER: Container = (|head| head.starts_with(b"\0MRM"), read);

/// The most blocks stepped over.
const MOST_BLOCKS: usize = 16;
/// The value in `PRD` for pictures in which each number has two bytes of its own.
const PADDED: u8 = 82;

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    let Ok(raw) = source.array::<4>(4) else {
        return "mrw";
    };
    let data = 8 + u64::from(u32::from_be_bytes(raw));
    out.promise("the block of blocks", data, length);
    let mut at = 8;
    for _ in 0..MOST_BLOCKS {
        if at + 8 > data.min(length) {
            break;
        }
        let Ok([n0, n1, n2, n3, s0, s1, s2, s3]) = source.array::<8>(at) else {
            break;
        };
        let body = at + 8;
        let end = body + u64::from(u32::from_be_bytes([s0, s1, s2, s3]));
        match &[n0, n1, n2, n3] {
            b"\0PRD" => dimensions(source, body, data, out),
            b"\0TTW" => {
                let place = Place::in_file(body, end.min(length));
                ifd::walk_carried(source, place, "the block TTW", out);
            }
            _ => {}
        }
        at = end;
    }
    "mrw"
}

/// Eight bytes of a version, then height and width of the sensor, height and width of the picture, bits per number,
/// significant bits, packing.
fn dimensions(source: &mut Source, body: u64, data: u64, out: &mut Gathered) {
    let Ok(raw) = source.array::<19>(body) else {
        return;
    };
    let edge = |at: usize| u64::from(u16::from_be_bytes([raw[at], raw[at + 1]]));
    out.size = Some((edge(14), edge(12)));
    let bits = if raw[18] == PADDED {
        16
    } else {
        u64::from(raw[16])
    };
    let picture = edge(8) * edge(10) * bits / 8;
    out.promise("the sensor's picture", data + picture, source.length());
}
