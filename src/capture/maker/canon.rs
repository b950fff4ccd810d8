//! Canon: one directory without a header. Arrays in it begin with their own length in bytes, which is checked.
//!
//! Layout from public format notes; checked against Canon files of 14 models.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::listing::Listing;
use crate::capture::ifd::place::Place;
use crate::capture::maker::counted;
use crate::capture::maker::note::Note;
use crate::capture::numbers::Order;
use crate::capture::source::Source;
use crate::capture::wanted;

/// Shorts.
const SETTINGS: u16 = 0x0001;
/// Shorts; the thirteenth is the body's temperature, 128 above °C.
const SHOT_INFO: u16 = 0x0004;
/// A long.
const SERIAL: u16 = 0x000C;
/// Longs: its length, minutes east of UTC, a city, minutes of daylight saving.
const TIME_INFO: u16 = 0x0035;
/// Of the first EOS-1D bodies: the count of the shutter, behind its length.
const FILE_INFO: u16 = 0x0093;
/// Text.
const LENS_MODEL: u16 = 0x0095;
/// Text; on some bodies a structure, which is then no text.
const INTERNAL_SERIAL: u16 = 0x0096;

/// Reads a note whose offsets count from the main block's header: the header it had when the camera wrote it. If an
/// editor has moved the note, its last eight bytes show by how much.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let place = note.within(note.place.base);
    let stays = |source: &mut Source, place| {
        let list = Listing::read(source, place, note.order, note.at, &[SETTINGS]);
        list.is_some_and(|list| says_its_length(&list, source, SETTINGS))
    };
    if stays(source, place) {
        return read_directory(source, place, note.order, note.at, out);
    }
    if let Some(last) = place.end.checked_sub(8)
        && let Ok([a, b, c, d, was @ ..]) = source.array::<8>(last)
        && matches!(&[a, b, c, d], b"II\x2A\0" | b"MM\0\x2A")
        && let Some(base) = note.at.checked_sub(u64::from(note.order.u32(was)))
        && stays(source, note.within(base))
    {
        return read_directory(source, note.within(base), note.order, note.at, out);
    }
    // Its offsets are useless; the number is in the directory itself.
    if let Some(list) = Listing::read(source, place, note.order, note.at, &[SERIAL]) {
        out.maker.serial = serial(&list, source);
    }
}

/// Whether an array of shorts begins with its length in bytes.
fn says_its_length(list: &Listing, source: &mut Source, tag: u16) -> bool {
    let length = i64::try_from(list.count(tag) * 2).ok();
    length.is_some_and(|bytes| bytes > 0) && list.integer(source, tag, 0) == length
}

fn serial(list: &Listing, source: &mut Source) -> Option<String> {
    let number = list.integer(source, SERIAL, 0).filter(|n| *n > 0)?;
    Some(number.to_string())
}

/// Reads the directory itself.
pub fn read_directory(
    source: &mut Source,
    place: Place,
    order: Order,
    at: u64,
    out: &mut Gathered,
) {
    const TAGS: &[u16] = &[
        SHOT_INFO,
        SERIAL,
        TIME_INFO,
        FILE_INFO,
        LENS_MODEL,
        INTERNAL_SERIAL,
    ];
    let Some(list) = Listing::read(source, place, order, at, TAGS) else {
        return;
    };
    let model = Model::of(out);
    let said = &mut out.maker;
    said.serial = serial(&list, source);
    said.internal_serial = list.text(source, INTERNAL_SERIAL);
    said.lens = list.text(source, LENS_MODEL);
    if list.integer(source, TIME_INFO, 0) == Some(16)
        && let Some(minutes) = list.integer(source, TIME_INFO, 1)
        && let Some(saving) = list.integer(source, TIME_INFO, 3)
    {
        // Signed numbers under the type of unsigned ones.
        let minutes = u32::try_from(minutes).map_or(minutes, |n| i64::from(n.cast_signed()));
        said.zone_min = minutes.checked_add(saving);
    }
    if matches!(model, Model::Eos | Model::EosOneMarkTwo)
        && says_its_length(&list, source, SHOT_INFO)
        && let Some(above) = list.integer(source, SHOT_INFO, 12)
        && above != 0
    {
        said.temperature_c = i32::try_from(above - 128).ok().map(f64::from);
    }
    if let Some(extent) = list.extent(FILE_INFO)
        && extent.length >= 6
        && let Ok(raw) = source.array::<6>(extent.offset)
    {
        let words = [order.u16([raw[2], raw[3]]), order.u16([raw[4], raw[5]])].map(i64::from);
        let count = match model {
            Model::EosOne | Model::EosOneMarkTwo => Some(words[0] << 16 | words[1]),
            Model::Eos | Model::Other => None,
        };
        said.shutter_count = counted(count);
    }
}

/// Models differ in these values; the body's name decides.
#[derive(Clone, Copy)]
enum Model {
    /// EOS-1D and EOS-1Ds: no temperature; a count.
    EosOne,
    /// Their successors of the second mark: both.
    EosOneMarkTwo,
    /// The other EOS bodies: a temperature.
    Eos,
    /// Compact cameras: neither.
    Other,
}

impl Model {
    fn of(out: &Gathered) -> Self {
        let raw = out.block.value(wanted::MODEL).unwrap_or(&[]);
        let name = raw.split(|b| *b == 0).next().unwrap_or(&[]).trim_ascii();
        let has = |part: &[u8]| name.windows(part.len()).any(|w| w == part);
        if name.ends_with(b"EOS-1D") || name.ends_with(b"EOS-1DS") {
            Self::EosOne
        } else if has(b"1D Mark II") || has(b"1Ds Mark II") {
            // 'Mark III' begins like 'Mark II'.
            if has(b"Mark III") {
                Self::Eos
            } else {
                Self::EosOneMarkTwo
            }
        } else if has(b"EOS") {
            Self::Eos
        } else {
            Self::Other
        }
    }
}
