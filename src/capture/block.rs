//! Keeps the wanted tags of a file and writes them as one small TIFF block. Does not judge values.
//!
//! Blocks of either byte order, of several directories or from several places of a file end up in one big-endian block,
//! with every tag in the directory it belongs to. So the EXIF crate always gets the same well-formed input.

use crate::capture::numbers::Order;
use crate::capture::numbers::kind;
use crate::capture::numbers::sizes;
use crate::capture::wanted::Lane;
use crate::capture::wanted::Wanted;

/// The longest value kept of one tag.
pub const LONGEST_VALUE: u64 = 4096;

/// Whether a tag was in the directory it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// In its own directory.
    AtHome,
    /// In another: kept only until a better one comes.
    Elsewhere,
}

#[derive(Clone, Copy, Debug)]
struct Kept {
    tag: Wanted,
    kind: u16,
    count: u32,
    at: usize,
    len: usize,
    found: Found,
}

/// The wanted tags of one file.
#[derive(Debug, Default)]
pub struct Block {
    kept: Vec<Kept>,
    values: Vec<u8>,
}

impl Block {
    /// Clears everything; the buffers are kept.
    pub fn clear(&mut self) {
        self.kept.clear();
        self.values.clear();
    }

    /// Whether the tag is present, in its own directory.
    pub fn has(&self, tag: Wanted) -> bool {
        self.kept
            .iter()
            .any(|k| k.tag == tag && k.found == Found::AtHome)
    }

    /// Keeps a value. The first one of a tag wins, unless a later one is in the tag's own directory and it was not.
    pub fn put(&mut self, tag: Wanted, found: Found, order: Order, kind: u16, raw: &[u8]) {
        let Some((size, piece)) = sizes(kind) else {
            return;
        };
        // The EXIF crate knows one type of text and takes its bytes as they are.
        let kind = if kind == kind::UTF8 {
            kind::ASCII
        } else {
            kind
        };
        // A text of NULs is a field that nobody filled in; it must not hide one that somebody did.
        if kind == kind::ASCII && raw.iter().all(|b| *b == 0) {
            return;
        }
        let old = self.kept.iter().position(|k| k.tag == tag);
        if let Some(old) = old {
            if self.kept[old].found == Found::AtHome || found == Found::Elsewhere {
                return;
            }
            self.kept.remove(old);
        }
        let Ok(count) = u32::try_from(raw.len() as u64 / size) else {
            return;
        };
        let at = self.values.len();
        self.values.extend_from_slice(raw);
        if order == Order::Little && piece > 1 {
            for bytes in self.values[at..].chunks_exact_mut(piece) {
                bytes.reverse();
            }
        }
        self.kept.push(Kept {
            tag,
            kind,
            count,
            at,
            len: raw.len(),
            found,
        });
    }

    /// Keeps a text that a container stores outside any TIFF block.
    pub fn put_text(&mut self, tag: Wanted, text: &str) {
        self.put(tag, Found::AtHome, Order::Big, kind::ASCII, text.as_bytes());
    }

    /// Keeps a number that a container stores outside any TIFF block.
    pub fn put_number(&mut self, tag: Wanted, number: f64) {
        let raw = number.to_be_bytes();
        self.put(tag, Found::AtHome, Order::Big, kind::DOUBLE, &raw);
    }

    /// The bytes of a tag's value, big-endian.
    pub fn value(&self, tag: Wanted) -> Option<&[u8]> {
        let kept = self.kept.iter().find(|k| k.tag == tag)?;
        self.values.get(kept.at..kept.at + kept.len)
    }

    /// Bytes held by its buffers.
    pub const fn held_memory(&self) -> usize {
        self.values.capacity() + self.kept.capacity() * size_of::<Kept>()
    }

    /// Whether nothing was kept.
    pub fn is_empty(&self) -> bool {
        self.kept.is_empty()
    }

    /// Writes the block. Source of the layout: TIFF 6.0 §2; the two pointers: CIPA DC-008 4.6.3.
    pub fn write(&mut self) -> Vec<u8> {
        self.kept.sort_unstable_by_key(|k| (k.tag.lane, k.tag.id));
        let exif = self.count(Lane::Exif);
        let gps = self.count(Lane::Gps);
        let primary = self.count(Lane::Primary) + u32::from(exif > 0) + u32::from(gps > 0);
        let length = |entries: u32| 2 + 12 * entries + 4;
        let exif_at = 8 + length(primary);
        let gps_at = exif_at + if exif > 0 { length(exif) } else { 0 };
        let values_at = gps_at + if gps > 0 { length(gps) } else { 0 };
        let mut out = Vec::with_capacity(values_at as usize + self.values.len() + 16);
        let mut far = Vec::with_capacity(self.values.len() + 16);
        out.extend_from_slice(b"MM\0\x2A\0\0\0\x08");
        for (lane, entries) in [
            (Lane::Primary, primary),
            (Lane::Exif, exif),
            (Lane::Gps, gps),
        ] {
            if entries == 0 && lane != Lane::Primary {
                continue;
            }
            out.extend_from_slice(&u16::try_from(entries).unwrap_or(u16::MAX).to_be_bytes());
            let pointers = [(0x8769, exif_at, exif), (0x8825, gps_at, gps)];
            let mut pointers = pointers
                .iter()
                .filter(|(_, _, n)| lane == Lane::Primary && *n > 0)
                .peekable();
            for kept in self.kept.iter().filter(|k| k.tag.lane == lane) {
                // Entries go in the order of their numbers, the pointers among them.
                while let Some((id, at, _)) = pointers.next_if(|(id, _, _)| *id < kept.tag.id) {
                    entry(&mut out, *id, kind::LONG, 1, at.to_be_bytes());
                }
                let raw = &self.values[kept.at..kept.at + kept.len];
                let word = if raw.len() <= 4 {
                    let mut word = [0; 4];
                    word[..raw.len()].copy_from_slice(raw);
                    word
                } else {
                    let at = values_at + u32::try_from(far.len()).unwrap_or(u32::MAX);
                    far.extend_from_slice(raw);
                    if !far.len().is_multiple_of(2) {
                        far.push(0);
                    }
                    at.to_be_bytes()
                };
                entry(&mut out, kept.tag.id, kept.kind, kept.count, word);
            }
            for (id, at, _) in pointers {
                entry(&mut out, *id, kind::LONG, 1, at.to_be_bytes());
            }
            out.extend_from_slice(&[0; 4]);
        }
        out.extend_from_slice(&far);
        out
    }

    fn count(&self, lane: Lane) -> u32 {
        let entries = self.kept.iter().filter(|k| k.tag.lane == lane).count();
        u32::try_from(entries).unwrap_or(u32::MAX)
    }
}

fn entry(out: &mut Vec<u8>, id: u16, kind: u16, count: u32, word: [u8; 4]) {
    out.extend_from_slice(&id.to_be_bytes());
    out.extend_from_slice(&kind.to_be_bytes());
    out.extend_from_slice(&count.to_be_bytes());
    out.extend_from_slice(&word);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::wanted;

    #[test]
    fn a_tag_at_home_takes_the_place_of_one_elsewhere() {
        let mut block = Block::default();
        block.put(
            wanted::MAKE,
            Found::Elsewhere,
            Order::Big,
            kind::ASCII,
            b"A\0",
        );
        block.put(wanted::MAKE, Found::AtHome, Order::Big, kind::ASCII, b"B\0");
        block.put(wanted::MAKE, Found::AtHome, Order::Big, kind::ASCII, b"C\0");
        assert_eq!(block.value(wanted::MAKE), Some(&b"B\0"[..]));
    }

    #[test]
    fn both_byte_orders_write_the_same_block() {
        let mut little = Block::default();
        let mut big = Block::default();
        little.put(
            wanted::ISO,
            Found::AtHome,
            Order::Little,
            kind::SHORT,
            &[0x40, 0x06],
        );
        big.put(
            wanted::ISO,
            Found::AtHome,
            Order::Big,
            kind::SHORT,
            &[0x06, 0x40],
        );
        for block in [&mut little, &mut big] {
            block.put(
                wanted::MODEL,
                Found::AtHome,
                Order::Big,
                kind::ASCII,
                b"Body 7\0",
            );
        }
        assert_eq!(little.write(), big.write());
    }
}
