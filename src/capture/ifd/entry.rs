//! Single entries of a TIFF directory, in the classic and the big layout. Knows no tags.

use crate::capture::ifd::place::Header;
use crate::capture::ifd::place::Place;
use crate::capture::numbers::Order;
use crate::capture::numbers::sizes;
use crate::capture::numbers::whole;
use crate::capture::source::Lack;
use crate::capture::source::Source;

/// One entry of a directory, its value found but not read.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// The tag's number.
    pub id: u16,
    /// The type of its values.
    pub kind: u16,
    /// How many there are.
    pub count: u64,
    /// Where they start in the source.
    pub at: u64,
    /// How many bytes they take.
    pub len: u64,
}

/// The layout of a block's directories.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// The order of bytes.
    pub order: Order,
    /// Bytes of the count at a directory's start.
    pub counter: u64,
    /// Bytes of one entry.
    pub entry: u64,
    /// Bytes of an offset, and of a value stored in the entry itself.
    pub wide: u64,
}

impl Shape {
    /// The layout that a header announces.
    pub const fn of(header: Header) -> Self {
        let order = header.order;
        if header.magic == 43 {
            Self {
                order,
                counter: 8,
                entry: 20,
                wide: 8,
            }
        } else {
            Self {
                order,
                counter: 2,
                entry: 12,
                wide: 4,
            }
        }
    }

    /// The count of entries.
    pub fn count(self, source: &mut Source, at: u64) -> Result<u64, Lack> {
        if self.counter == 8 {
            return source.array(at).map(|raw| self.order.u64(raw));
        }
        source.array(at).map(|raw| u64::from(self.order.u16(raw)))
    }

    /// An offset.
    pub fn pointer(self, source: &mut Source, at: u64) -> Result<u64, Lack> {
        if self.wide == 8 {
            return source.array(at).map(|raw| self.order.u64(raw));
        }
        source.array(at).map(|raw| u64::from(self.order.u32(raw)))
    }

    /// Reads an entry. `None` if its type is undefined or its size overflows.
    pub fn entry_at(
        self,
        source: &mut Source,
        place: Place,
        at: u64,
    ) -> Result<Option<Entry>, Lack> {
        let order = self.order;
        let (raw, count, offset) = if self.wide == 8 {
            let raw: [u8; 20] = source.array(at)?;
            let long = |i: usize| raw[i..].first_chunk().map_or(0, |b| order.u64(*b));
            ([raw[0], raw[1], raw[2], raw[3]], long(4), long(12))
        } else {
            let raw: [u8; 12] = source.array(at)?;
            let long = |i: usize| raw[i..].first_chunk().map_or(0, |b| order.u32(*b));
            (
                [raw[0], raw[1], raw[2], raw[3]],
                u64::from(long(4)),
                u64::from(long(8)),
            )
        };
        let id = order.u16([raw[0], raw[1]]);
        let kind = order.u16([raw[2], raw[3]]);
        let Some(len) = sizes(kind).and_then(|(size, _)| count.checked_mul(size)) else {
            return Ok(None);
        };
        let value = if len <= self.wide {
            Some(at + self.entry - self.wide)
        } else {
            place.base.checked_add(offset)
        };
        Ok(value.map(|at| Entry {
            id,
            kind,
            count,
            at,
            len,
        }))
    }

    /// One whole number of an entry's value; `None` past its count, past the block, or if it has no whole numbers.
    pub fn number(
        self,
        source: &mut Source,
        place: Place,
        entry: Entry,
        index: u64,
    ) -> Option<u64> {
        if index >= entry.count {
            return None;
        }
        let (size, _) = sizes(entry.kind)?;
        let at = entry.at.checked_add(index.checked_mul(size)?)?;
        if at.checked_add(size)? > place.end {
            return None;
        }
        let raw = source.bytes(at, usize::try_from(size).ok()?).ok()?;
        whole(self.order, entry.kind, raw)
    }
}
