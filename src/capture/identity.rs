//! Recognises copies of a file: by its length, samples of its bytes, and its time and exposure.
//!
//! Never trusts a path, a name or a file date. A fingerprint never proves two files equal; it selects those to compare.

use crate::capture::block::Block;
use crate::capture::source::HEAD;
use crate::capture::source::MIDDLE;
use crate::capture::source::Source;
use crate::capture::source::TAIL;
use crate::capture::wanted::IDENTITY;

/// Part of every hash; another recipe needs another text.
const RECIPE: &[u8] = b"framefall fingerprint 1";

/// The fingerprint of a file: 16 bytes of BLAKE3 over its length, its first 16 KiB, 2 KiB from its middle, its last 2
/// KiB, and the bytes of its time and exposure tags wherever they are.
///
/// `None` if it could not distinguish files: every sample is one and the same byte, or nothing could be read. Reads at
/// most 4 KiB more than was read before.
pub fn fingerprint(source: &mut Source, block: &Block) -> Option<[u8; 16]> {
    let length = source.length();
    let first = *source.head().first()?;
    let mut hasher = blake3::Hasher::new();
    let mut blank = true;
    // The long samples first: the hash is fast only on whole, aligned KiB.
    let mut take = |bytes: &[u8]| {
        blank &= is_all(bytes, first);
        hasher.update(bytes);
    };
    take(source.head());
    if length > HEAD as u64 {
        take(source.sample(length / 2, MIDDLE));
        take(source.tail());
    }
    let mut rest = Vec::with_capacity(256);
    rest.extend_from_slice(&length.to_le_bytes());
    for tag in IDENTITY {
        let value = block.value(*tag).unwrap_or(&[]);
        rest.extend_from_slice(&u64::try_from(value.len()).unwrap_or(0).to_le_bytes());
        rest.extend_from_slice(value);
    }
    rest.extend_from_slice(RECIPE);
    hasher.update(&rest);
    if blank || source.fault().is_some() {
        return None;
    }
    let mut out = [0; 16];
    out.copy_from_slice(&hasher.finalize().as_bytes()[..16]);
    Some(out)
}

/// If every sample of the file is one and the same byte: that byte.
pub fn repeated_byte(source: &mut Source) -> Option<u8> {
    let length = source.length();
    let first = *source.head().first()?;
    let blank = is_all(source.head(), first)
        && (length <= HEAD as u64
            || (is_all(source.sample(length / 2, MIDDLE), first) && is_all(source.tail(), first)));
    blank.then_some(first)
}

/// Whether every byte is this one. For real pictures this returns after a few bytes.
fn is_all(bytes: &[u8], one: u8) -> bool {
    bytes.iter().all(|b| *b == one)
}

const _: () = assert!(HEAD > TAIL + MIDDLE, "the head is the larger sample");

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::block::Found;
    use crate::capture::numbers::{Order, kind};
    use crate::capture::wanted;

    fn of(bytes: Vec<u8>, block: &Block) -> Option<[u8; 16]> {
        let mut source = Source::idle();
        source.open_bytes(bytes);
        fingerprint(&mut source, block)
    }

    fn noise(len: usize) -> Vec<u8> {
        let mut state = 1_u32;
        (0..len)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                state.to_be_bytes()[0]
            })
            .collect()
    }

    #[test]
    fn a_byte_in_any_sample_or_in_the_length_tells_files_apart() {
        let block = Block::default();
        let one = noise(100_000);
        let print = of(one.clone(), &block).unwrap();
        assert_eq!(of(one.clone(), &block), Some(print));
        for at in [0, 16_383, 50_000, 52_047, 97_952, 99_999] {
            let mut other = one.clone();
            other[at] ^= 1;
            assert_ne!(of(other, &block), Some(print), "byte {at}");
        }
        assert_ne!(of(noise(100_001), &block), Some(print));
    }

    #[test]
    fn a_far_capture_time_tells_files_apart() {
        let mut early = Block::default();
        let mut late = Block::default();
        for (block, time) in [
            (&mut early, b"2023:12:14 01:12:07\0"),
            (&mut late, b"2023:12:14 01:12:27\0"),
        ] {
            block.put(
                wanted::DATE_TIME_ORIGINAL,
                Found::AtHome,
                Order::Big,
                kind::ASCII,
                time,
            );
        }
        assert_ne!(of(noise(50_000), &early), of(noise(50_000), &late));
    }

    #[test]
    fn blank_and_empty_files_have_none() {
        let block = Block::default();
        assert_eq!(of(vec![0; 70_000], &block), None);
        assert_eq!(of(vec![0xFF; 70], &block), None);
        assert_eq!(of(Vec::new(), &block), None);
    }
}
