//! How a statement identifies its frames: the second that the clock showed and the fingerprint of a file, packed.
//!
//! A frame is identified by each of its files, so a raw file, its JPEG and every copy lead to it, under whatever name.
//! The fraction of the second is not compared: a raw file and its JPEG may write it differently, and the fingerprint
//! includes it. Files without a fingerprint (empty, or of one repeated byte) are identified by name and size instead.
//!
//! A whole card is one statement, so a mark is small: the seconds since the previous frame, and four bytes of the
//! fingerprint, which only have to distinguish files of one second. Frames without a clock reading have all 16.

use std::hash::Hash;

/// One frame's mark.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FrameMark {
    /// The camera clock, in seconds from its 1970-01-01T00:00:00.
    pub clock_s: Option<i64>,
    /// What identifies the file among those of the same second.
    pub file: FileMark,
}

/// What identifies a file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FileMark {
    /// The first bytes of its fingerprint.
    Print(Vec<u8>),
    /// Its name and its size, if it has no fingerprint.
    Named(String, u64),
}

/// Bytes of the fingerprint in a mark with a clock reading.
const PRINT_BYTES: usize = 4;

/// Tags of marks, in the two lowest bits of the first number of each.
const DATED_PRINT: u64 = 0;
const DATED_NAME: u64 = 1;
const UNDATED_PRINT: u64 = 2;
const UNDATED_NAME: u64 = 3;

impl FileMark {
    /// The mark of a file.
    pub fn new(fingerprint: Option<&[u8]>, name: &str, bytes: u64) -> Self {
        fingerprint.map_or_else(
            || Self::Named(name.to_owned(), bytes),
            |print| Self::Print(print.to_vec()),
        )
    }

    /// Whether it matches a file: fingerprints agree in the bytes that both have.
    pub fn fits(&self, fingerprint: Option<&[u8]>, name: &str, bytes: u64) -> bool {
        match (self, fingerprint) {
            (Self::Print(mark), Some(print)) => {
                let both = mark.len().min(print.len());
                mark[..both] == print[..both]
            }
            (Self::Named(named, of), None) => named == name && *of == bytes,
            _ => false,
        }
    }
}

/// Packs marks in the order of their clocks.
pub fn pack(mut marks: Vec<FrameMark>) -> Vec<u8> {
    marks.sort();
    let mut packed = Vec::with_capacity(marks.len() * 5);
    let first = marks.iter().find_map(|mark| mark.clock_s).unwrap_or(0);
    let mut before = first;
    for mark in &marks {
        let step = mark.clock_s.map(|at| {
            let step = at - before;
            before = at;
            u64::try_from(step).unwrap_or(0)
        });
        match (&mark.file, step) {
            (FileMark::Print(print), Some(step)) => {
                push_number(&mut packed, step << 2 | DATED_PRINT);
                let mut four = [0; PRINT_BYTES];
                let known = print.len().min(PRINT_BYTES);
                four[..known].copy_from_slice(&print[..known]);
                packed.extend_from_slice(&four);
            }
            (FileMark::Print(print), None) => {
                push_number(&mut packed, UNDATED_PRINT);
                push_bytes(&mut packed, print);
            }
            (FileMark::Named(name, bytes), step) => {
                let tag = step.map_or(UNDATED_NAME, |step| step << 2 | DATED_NAME);
                push_number(&mut packed, tag);
                push_number(&mut packed, *bytes);
                push_bytes(&mut packed, name.as_bytes());
            }
        }
    }
    packed
}

/// Unpacks marks; `None` if the bytes are not marks.
pub fn unpack(first_s: Option<i64>, mut packed: &[u8]) -> Option<Vec<FrameMark>> {
    let mut at = first_s.unwrap_or(0);
    let mut marks = Vec::new();
    while !packed.is_empty() {
        let head = take_number(&mut packed)?;
        let tag = head & 3;
        let clock_s = if tag == DATED_PRINT || tag == DATED_NAME {
            at = at.checked_add(i64::try_from(head >> 2).ok()?)?;
            Some(at)
        } else {
            None
        };
        let file = match tag {
            DATED_PRINT => {
                let (print, rest) = packed.split_at_checked(PRINT_BYTES)?;
                packed = rest;
                FileMark::Print(print.to_vec())
            }
            UNDATED_PRINT => FileMark::Print(take_bytes(&mut packed)?.to_vec()),
            _ => {
                let bytes = take_number(&mut packed)?;
                let name = std::str::from_utf8(take_bytes(&mut packed)?).ok()?;
                FileMark::Named(name.to_owned(), bytes)
            }
        };
        marks.push(FrameMark { clock_s, file });
    }
    Some(marks)
}

/// Seven bits per byte, the lowest first; the highest bit means that more follow.
fn push_number(out: &mut Vec<u8>, mut number: u64) {
    while number > 0x7F {
        out.push(number.to_le_bytes()[0] | 0x80);
        number >>= 7;
    }
    out.push(number.to_le_bytes()[0]);
}

fn push_bytes(out: &mut Vec<u8>, bytes: &[u8]) {
    push_number(out, bytes.len() as u64);
    out.extend_from_slice(bytes);
}

fn take_number(packed: &mut &[u8]) -> Option<u64> {
    let mut number = 0_u64;
    for shift in (0..64).step_by(7) {
        let (byte, rest) = packed.split_first()?;
        *packed = rest;
        number |= u64::from(byte & 0x7F).checked_shl(shift)?;
        if byte & 0x80 == 0 {
            return Some(number);
        }
    }
    None
}

fn take_bytes<'p>(packed: &mut &'p [u8]) -> Option<&'p [u8]> {
    let length = usize::try_from(take_number(packed)?).ok()?;
    let (bytes, rest) = packed.split_at_checked(length)?;
    *packed = rest;
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(clock_s: Option<i64>, print: &[u8]) -> FrameMark {
        FrameMark {
            clock_s,
            file: FileMark::Print(print.to_vec()),
        }
    }

    #[test]
    fn a_frame_of_a_card_takes_five_bytes() {
        let start = 1_700_000_000;
        let marks: Vec<FrameMark> = (0..1_000)
            .map(|i| mark(Some(start + i * 20), &[7; 16]))
            .collect();
        let packed = pack(marks);
        assert_eq!(packed.len(), 5_000);
        let back = unpack(Some(start), &packed).unwrap();
        assert_eq!(back.len(), 1_000);
        assert_eq!(back[999], mark(Some(start + 19_980), &[7; 4]));
    }

    #[test]
    fn every_form_comes_back_and_cut_bytes_are_refused() {
        let named = |clock_s, name: &str| FrameMark {
            clock_s,
            file: FileMark::Named(name.to_owned(), 4_711),
        };
        let marks = vec![
            mark(None, &[1; 6]),
            mark(None, &[2; 16]),
            named(None, "blank.jpg"),
            mark(Some(-5), &[3; 4]),
            named(Some(70_000), "ü.nef"),
        ];
        let packed = pack(marks.clone());
        assert_eq!(unpack(Some(-5), &packed), Some(marks));
        assert!((1..packed.len()).any(|end| unpack(Some(-5), &packed[..end]).is_none()));
        assert_eq!(unpack(None, &[0xFF; 30]), None);
        assert_eq!(unpack(None, &[2, 0xFF, 0xFF, 0xFF, 0xFF, 0x0F]), None);
    }

    #[test]
    fn a_mark_fits_files_by_the_bytes_that_both_have() {
        let four = FileMark::Print(vec![9; 4]);
        assert!(four.fits(Some(&[9; 16]), "a", 1) && four.fits(Some(&[9; 6]), "b", 2));
        assert!(!four.fits(Some(&[8; 16]), "a", 1) && !four.fits(None, "a", 1));
        let named = FileMark::Named("a".into(), 1);
        assert!(named.fits(None, "a", 1) && !named.fits(None, "a", 2) && !named.fits(None, "b", 1));
        assert!(!named.fits(Some(&[1; 16]), "a", 1));
    }
}
