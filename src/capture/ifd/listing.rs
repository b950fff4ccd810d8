//! Reads one directory flat: the requested entries, nothing followed. For directories with a maker's own tags.

use crate::capture::ifd::entry::Entry;
use crate::capture::ifd::entry::Shape;
use crate::capture::ifd::place::Header;
use crate::capture::ifd::place::Place;
use crate::capture::numbers::Order;
use crate::capture::numbers::integer;
use crate::capture::numbers::sizes;
use crate::capture::source::Source;
use crate::capture::words;
use crate::terms::records::Extent;

/// The most entries read. The longest maker's directories have about 150.
const MOST_ENTRIES: u64 = 512;
/// The longest text accepted.
const LONGEST_TEXT: u64 = 256;

/// The requested entries.
#[derive(Debug)]
pub struct Listing {
    shape: Shape,
    place: Place,
    /// Where the directory begins; cameras put values after it.
    at: u64,
    entries: Vec<Entry>,
}

impl Listing {
    /// Reads the directory that starts at byte `at` of the source, in the classic layout.
    ///
    /// Takes: the block it belongs to, whose base its offsets count from; the tags to keep. Gives: `None` if there is
    /// no directory there: no entries, too many, or an entry of an undefined type. A directory cut off by the block's
    /// end gives the entries before it.
    pub fn read(
        source: &mut Source,
        place: Place,
        order: Order,
        at: u64,
        tags: &[u16],
    ) -> Option<Self> {
        let shape = Shape::of(Header {
            order,
            magic: 42,
            first: 0,
        });
        let said = shape.count(source, at).ok()?;
        let first = at.checked_add(shape.counter)?;
        let fits = place.end.checked_sub(first)? / shape.entry;
        if said == 0 || said > MOST_ENTRIES || fits == 0 {
            return None;
        }
        let count = said.min(fits);
        let raw = source
            .bytes(first, usize::try_from(count * shape.entry).ok()?)
            .ok()?;
        let mut wanted = Vec::with_capacity(tags.len());
        for (entry, i) in raw.chunks_exact(12).zip(0_u64..) {
            let pair = |i: usize| order.u16([entry[i], entry[i + 1]]);
            // Some makers end their directories with entries of zeros.
            if sizes(pair(2)).is_none() && entry.iter().any(|b| *b != 0) {
                return None;
            }
            if tags.contains(&pair(0)) {
                wanted.push(first + i * shape.entry);
            }
        }
        let mut entries = Vec::with_capacity(wanted.len());
        for at in wanted {
            if let Ok(Some(entry)) = shape.entry_at(source, place, at) {
                entries.push(entry);
            }
        }
        Some(Self {
            shape,
            place,
            at,
            entries,
        })
    }

    /// The first entry of a tag, if its value is between the directory and the block's end. In a block that an editor
    /// moved without adjusting the offsets, most values are not.
    fn entry(&self, tag: u16) -> Option<Entry> {
        self.entries
            .iter()
            .copied()
            .find(|e| e.id == tag)
            .filter(|e| {
                let end = e.at.checked_add(e.len);
                e.at >= self.at && end.is_some_and(|end| end <= self.place.end)
            })
    }

    /// Where a tag's value is. For an entry of one long that points elsewhere, that place.
    pub fn extent(&self, tag: u16) -> Option<Extent> {
        self.entry(tag).map(|e| Extent {
            offset: e.at,
            length: e.len,
        })
    }

    /// The bytes of a tag's value, if they are at most this many.
    pub fn raw<'s>(&self, source: &'s mut Source, tag: u16, most: u64) -> Option<&'s [u8]> {
        let entry = self.entry(tag).filter(|e| e.len <= most)?;
        source
            .bytes(entry.at, usize::try_from(entry.len).ok()?)
            .ok()
    }

    /// A text without its padding. `None` if it is blank or contains bytes that are not text.
    pub fn text(&self, source: &mut Source, tag: u16) -> Option<String> {
        let raw = self.raw(source, tag, LONGEST_TEXT)?;
        if words::is_text(raw) {
            words::clean(raw)
        } else {
            None
        }
    }

    /// One whole number of a tag's value, signed if its type is.
    pub fn integer(&self, source: &mut Source, tag: u16, index: u64) -> Option<i64> {
        let entry = self.entry(tag).filter(|e| index < e.count)?;
        let (size, _) = sizes(entry.kind)?;
        let at = entry.at.checked_add(index.checked_mul(size)?)?;
        let raw = source.bytes(at, usize::try_from(size).ok()?).ok()?;
        integer(self.shape.order, entry.kind, raw)
    }

    /// How many values a tag has; 0 if it is missing.
    pub fn count(&self, tag: u16) -> u64 {
        self.entry(tag).map_or(0, |e| e.count)
    }

    /// Where the directory that a tag points at is: the tag's own bytes, or the offset in it.
    pub fn points_at(&self, source: &mut Source, tag: u16) -> Option<u64> {
        let entry = self.entry(tag)?;
        if entry.count > 1 {
            return Some(entry.at);
        }
        let offset = u64::try_from(self.integer(source, tag, 0)?).ok()?;
        self.place.base.checked_add(offset)
    }
}
