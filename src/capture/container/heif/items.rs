//! The items of a HEIF `meta` box: their types and positions, and the size of the primary one.

use crate::capture::container::bmff::Boxed;
use crate::capture::container::bmff::box_at;
use crate::capture::container::bmff::children;
use crate::capture::gathered::Gathered;
use crate::capture::source::Source;
use crate::terms::records::Extent;

/// The most items kept: a picture of 48 megapixels in tiles has under 100.
const MOST_ITEMS: u64 = 1024;
/// The most pieces of one item kept.
const MOST_PIECES: u64 = 16;

/// One item.
#[derive(Clone, Debug)]
pub struct Item {
    /// Its number.
    pub id: u64,
    /// Its type: `Exif`, `hvc1`, `grid`, …
    pub kind: [u8; 4],
    /// Its pieces in the file.
    pub pieces: Vec<Extent>,
}

/// The contents of a `meta` box.
#[derive(Debug, Default)]
pub struct Meta {
    /// The primary item's number.
    pub primary: u64,
    /// The items that have a type.
    pub items: Vec<Item>,
    properties: Option<Boxed>,
    associations: Option<Boxed>,
}

impl Meta {
    /// Reads a `meta` box: a full box, so four bytes come before its children; older writers left them out.
    pub fn read(source: &mut Source, body: u64, end: u64, out: &mut Gathered) -> Self {
        let mut meta = Self::default();
        let plain = source.hop::<8>(body).is_ok_and(|raw| &raw[4..] == b"hdlr");
        let parts = children(source, if plain { body } else { body + 4 }, end);
        let part = |kind: &[u8; 4]| parts.iter().copied().find(|b| &b.kind == kind);
        if let Some(pitm) = part(b"pitm") {
            let mut at = Cursor::at(source, pitm.body, pitm.end.min(end));
            let version = at.take(1).unwrap_or(0);
            at.take(3);
            meta.primary = at.take(if version == 0 { 2 } else { 4 }).unwrap_or(0);
        }
        if let Some(iinf) = part(b"iinf") {
            meta.types(source, iinf, end);
        }
        if let Some(iloc) = part(b"iloc") {
            let idat = part(b"idat").map(|b| b.body);
            if meta.places(source, iloc, end, idat).is_none() {
                out.warn(|| "the item positions (iloc) end too early".to_owned());
            }
        }
        if let Some(iprp) = part(b"iprp") {
            for child in children(source, iprp.body, iprp.end.min(end)) {
                match &child.kind {
                    b"ipco" => meta.properties = Some(child),
                    b"ipma" => meta.associations = Some(child),
                    _ => {}
                }
            }
        }
        meta
    }

    fn types(&mut self, source: &mut Source, iinf: Boxed, end: u64) {
        let end = iinf.end.min(end);
        let mut at = Cursor::at(source, iinf.body, end);
        let version = at.take(1).unwrap_or(0);
        at.take(3);
        let count = at.take(if version == 0 { 2 } else { 4 }).unwrap_or(0);
        let mut next = at.position;
        for _ in 0..count.min(MOST_ITEMS) {
            let Ok(Some(infe)) = box_at(source, next, end) else {
                break;
            };
            next = infe.end;
            let mut at = Cursor::at(source, infe.body, infe.end.min(end));
            let version = at.take(1).unwrap_or(0);
            at.take(3);
            if version < 2 {
                continue;
            }
            let id = at.take(if version == 2 { 2 } else { 4 });
            at.take(2);
            let kind = at.take(4);
            if let (Some(id), Some(kind)) = (id, kind) {
                let [_, _, _, _, kind @ ..] = kind.to_be_bytes();
                self.items.push(Item {
                    id,
                    kind,
                    pieces: Vec::new(),
                });
            }
        }
    }

    /// Reads the positions of the items. `None` if the box ends before its own count.
    fn places(
        &mut self,
        source: &mut Source,
        iloc: Boxed,
        end: u64,
        idat: Option<u64>,
    ) -> Option<()> {
        let mut at = Cursor::at(source, iloc.body, iloc.end.min(end));
        let version = at.take(1)?;
        at.take(3)?;
        let sizes = at.take(2)?;
        let nibble = |shift: u32| (sizes >> shift) & 0xF;
        let (offset_size, length_size, base_size) = (nibble(12), nibble(8), nibble(4));
        let index_size = if version == 0 { 0 } else { nibble(0) };
        let wide = if version < 2 { 2 } else { 4 };
        let count = at.take(wide)?;
        for _ in 0..count.min(MOST_ITEMS) {
            let id = at.take(wide)?;
            let method = if version == 0 { 0 } else { at.take(2)? & 0xF };
            at.take(2)?;
            let base = at.take(base_size)?;
            let mut pieces = at.take(2)?;
            // Pieces that take no bytes of the box are not bounded by it.
            if index_size + offset_size + length_size == 0 {
                pieces = pieces.min(MOST_PIECES);
            }
            let item = self.items.iter_mut().find(|item| item.id == id);
            let origin = match method {
                0 => Some(0),
                1 => idat,
                // Pieces in other items: never used for Exif.
                _ => None,
            };
            let mut kept = Vec::new();
            for n in 0..pieces {
                at.take(index_size)?;
                let offset = at.take(offset_size)?;
                let length = at.take(length_size)?;
                if n < MOST_PIECES
                    && let Some(origin) = origin
                    && let Some(offset) = base
                        .checked_add(offset)
                        .and_then(|sum| sum.checked_add(origin))
                {
                    kept.push(Extent { offset, length });
                }
            }
            if let Some(item) = item {
                item.pieces = kept;
            }
        }
        Some(())
    }

    /// The size of the primary item, from its `ispe` property. For a picture in tiles that is the whole grid.
    pub fn primary_size(&self, source: &mut Source) -> Option<(u64, u64)> {
        let properties = self.properties?;
        let list = children(source, properties.body, properties.end);
        for index in self.primary_properties(source)? {
            let Some(property) = index.checked_sub(1).and_then(|i| list.get(i)) else {
                continue;
            };
            if &property.kind == b"ispe" {
                let mut at = Cursor::at(source, property.body + 4, property.end);
                return at.take(4).zip(at.take(4));
            }
        }
        None
    }

    /// The numbers, from 1, of the primary item's properties.
    fn primary_properties(&self, source: &mut Source) -> Option<Vec<usize>> {
        let ipma = self.associations?;
        let mut at = Cursor::at(source, ipma.body, ipma.end);
        let version = at.take(1)?;
        let flags = at.take(3)?;
        let count = at.take(4)?;
        for _ in 0..count.min(MOST_ITEMS) {
            let id = at.take(if version == 0 { 2 } else { 4 })?;
            let mut found = Vec::new();
            for _ in 0..at.take(1)? {
                let index = if flags & 1 == 1 {
                    at.take(2)? & 0x7FFF
                } else {
                    at.take(1)? & 0x7F
                };
                found.push(usize::try_from(index).ok()?);
            }
            if id == self.primary {
                return Some(found);
            }
        }
        None
    }
}

/// Steps through a box's body, big-endian numbers of any width.
struct Cursor<'a> {
    source: &'a mut Source,
    position: u64,
    end: u64,
}

impl<'a> Cursor<'a> {
    const fn at(source: &'a mut Source, position: u64, end: u64) -> Self {
        Self {
            source,
            position,
            end,
        }
    }

    /// The next number of this many bytes (0 to 8); `None` past the end.
    fn take(&mut self, width: u64) -> Option<u64> {
        let next = self.position.checked_add(width)?;
        if next > self.end {
            return None;
        }
        let raw = self
            .source
            .bytes(self.position, usize::try_from(width).ok()?)
            .ok()?;
        let value = raw.iter().fold(0, |sum, b| sum << 8 | u64::from(*b));
        self.position = next;
        Some(value)
    }
}
