//! The maker note that a DNG converter copied from the original raw file.
//!
//! Layout: DNG 1.6, `DNGPrivateData`; the record `MakN` from memory of its public description: the order of bytes, the
//! offset the note had in the raw file, the note.

use crate::capture::gathered::Gathered;
use crate::capture::ifd::place::Place;
use crate::capture::maker;
use crate::capture::maker::note::Note;
use crate::capture::numbers::Order;
use crate::capture::source::Source;

/// The most records stepped over.
const MOST_RECORDS: usize = 8;

/// Finds the note in the private data, and reads it if its offsets can still be followed.
pub fn read(source: &mut Source, note: &Note, out: &mut Gathered) {
    let end = note.at.saturating_add(note.len).min(note.place.end);
    let mut at = note.at.saturating_add(6);
    for _ in 0..MOST_RECORDS {
        let Ok([k0, k1, k2, k3, s0, s1, s2, s3]) = source.array::<8>(at) else {
            return;
        };
        let body = at + 8;
        let size = u64::from(u32::from_be_bytes([s0, s1, s2, s3]));
        if body.saturating_add(size) > end {
            return;
        }
        if [k0, k1, k2, k3] == *b"MakN" && size > 6 {
            let Ok([o0, o1, was @ ..]) = source.array::<6>(body) else {
                return;
            };
            let order = match [o0, o1] {
                [b'I', b'I'] => Order::Little,
                _ => Order::Big,
            };
            let moved = body + 6;
            let was = u64::from(u32::from_be_bytes(was));
            let place = Place {
                // Offsets that can no longer be followed point past the end; only values stored in the entries are
                // read.
                base: moved.checked_sub(was).unwrap_or(end),
                end,
                inside: note.place.inside,
            };
            let inner = Note {
                at: moved,
                len: size - 6,
                place,
                order,
            };
            let carried_again = source.array::<6>(moved) == Ok(*b"Adobe\0");
            if !carried_again {
                maker::read(source, inner, out);
            }
            return;
        }
        at = body + size + size % 2;
    }
}
