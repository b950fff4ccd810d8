//! Maker notes: values that only the maker's own directory has. Each maker has a file; an unknown note is ignored.
//!
//! Used are the zone that the clock is set to, the shutter count, the temperature and, if the Exif has none, the body's
//! serial number and the lens's name. Names from tables of lens numbers are not used, nor anything encrypted with a
//! key. A value counts only if its own layout confirms it: a length, a type, text that is text.

mod canon;
mod carried;
mod fujifilm;
mod nikon;
pub mod note;
mod olympus;
mod panasonic;
mod pentax;
mod phase_one;
mod sigma;
mod sony;
pub mod values;

pub use canon::read_directory as read_canon_directory;

use crate::capture::gathered::Gathered;
use crate::capture::maker::note::Note;
use crate::capture::source::Source;
use crate::capture::wanted;

/// One maker's way of writing notes: what recognises it by the note's first bytes and by `Make`, in capitals; its reader.
type Maker = (
    fn(&[u8], &[u8]) -> bool,
    fn(&mut Source, &Note, &mut Gathered),
);

/// Every maker whose notes are read, in the order they are tried.
const MAKERS: &[Maker] = &[
    (|head, _| head.starts_with(b"Nikon\0\x02"), nikon::read),
    (
        |head, _| head.starts_with(b"OLYMP") || head.starts_with(b"OM SYSTEM\0"),
        olympus::read,
    ),
    (|head, _| head.starts_with(b"FUJIFILM"), fujifilm::read),
    (
        |head, _| head.starts_with(b"Panasonic\0\0\0"),
        panasonic::read,
    ),
    (
        |head, _| head.starts_with(b"AOC\0") || head.starts_with(b"PENTAX \0"),
        pentax::read,
    ),
    (|head, _| head.starts_with(b"SIGMA\0\0\0"), sigma::read),
    (|head, _| head.starts_with(b"IIII"), phase_one::read),
    (|head, _| head.starts_with(b"Adobe\0"), carried::read),
    (|_, make| make.starts_with(b"CANON"), canon::read),
    (|_, make| make.starts_with(b"SONY"), sony::read),
];

/// Reads a maker note, if it is of a known maker.
pub fn read(source: &mut Source, note: Note, out: &mut Gathered) {
    let mut head = [0; 16];
    if note.len < 16 || note.at.saturating_add(note.len) < note.at {
        return;
    }
    match source.bytes(note.at, head.len()) {
        Ok(raw) => head.copy_from_slice(raw),
        Err(_) => return,
    }
    let mut make = [0; 8];
    let said = out.block.value(wanted::MAKE).unwrap_or(&[]);
    for (to, from) in make.iter_mut().zip(said.trim_ascii_start()) {
        *to = from.to_ascii_uppercase();
    }
    if let Some((_, read)) = MAKERS.iter().find(|(is_by, _)| is_by(&head, &make)) {
        read(source, &note, out);
    }
}

/// A shutter count, if it is one: neither zero nor all ones.
fn counted(count: Option<i64>) -> Option<u64> {
    let count = u64::try_from(count?).ok()?;
    (count > 0 && count < u64::from(u32::MAX)).then_some(count)
}
