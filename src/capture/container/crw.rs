//! Canon CRW: heaps within a heap, each with its directory at its end, the outermost at the end of the file.
//!
//! Layout from public format notes. It has no TIFF block: the values of its records are stored under the corresponding
//! tags.

use crate::capture::container::Container;
use crate::capture::gathered::Gathered;
use crate::capture::numbers::Order;
use crate::capture::source::Source;
use crate::capture::wanted;
use crate::capture::words;
use crate::terms::records::Extent;
use crate::terms::time::Utc;

/// Canon CRW.
pub const CONTAINER: Container = (
    |head| head.get(6..14).is_some_and(|m| m == b"HEAPCCDR"),
    read,
);

/// The most records of one directory. Real ones have under 50.
const MOST_RECORDS: u16 = 256;
/// The most directories followed.
const MOST_HEAPS: usize = 12;

/// A heap: where it begins, and where it ends.
#[derive(Clone, Copy)]
struct Heap {
    start: u64,
    end: u64,
}

/// The directory entry of one record.
struct Found {
    kind: u16,
    place: Extent,
}

fn read(source: &mut Source, _extension: &str, out: &mut Gathered) -> &'static str {
    let length = source.length();
    let order = match source.array::<2>(0) {
        Ok([b'M', b'M']) => Order::Big,
        _ => Order::Little,
    };
    let Ok(start) = source.array(2).map(|raw| u64::from(order.u32(raw))) else {
        return "crw";
    };
    let mut crw = Crw {
        source,
        order,
        out,
        focal: None,
        parts: None,
        number: None,
    };
    let mut heaps = vec![Heap { start, end: length }];
    let mut next = 0;
    while let Some(heap) = heaps.get(next).copied() {
        let records = crw.directory(heap);
        if next == 0 && records.is_none() {
            crw.out.truncated = Some(format!(
                "no directory at the end of the file at byte {length}"
            ));
        }
        for found in records.unwrap_or_default() {
            let end = found.place.offset.saturating_add(found.place.length);
            crw.out.promise("a record", end, length);
            // Two kinds of records are heaps themselves.
            if matches!(found.kind & 0x3800, 0x2800 | 0x3000) {
                if heaps.len() < MOST_HEAPS && end <= length {
                    heaps.push(Heap {
                        start: found.place.offset,
                        end,
                    });
                }
            } else {
                crw.record(&found);
            }
        }
        next += 1;
    }
    let model = crw.out.block.value(wanted::MODEL).unwrap_or(&[]);
    if let Some(number) = crw.number
        && model.windows(3).any(|part| part == b"EOS")
    {
        crw.out.maker.serial = Some(number.to_string());
    }
    if let Some(focal) = crw.focal {
        let mm = f64::from(focal) / f64::from(crw.parts.unwrap_or(1));
        crw.out.block.put_number(wanted::FOCAL_LENGTH, mm);
    }
    "crw"
}

struct Crw<'a> {
    source: &'a mut Source,
    order: Order,
    out: &'a mut Gathered,
    /// The focal length, in parts of a millimetre.
    focal: Option<i16>,
    /// Units per millimetre.
    parts: Option<i16>,
    /// The body's number, for an EOS; compact cameras store something else here.
    number: Option<u32>,
}

impl Crw<'_> {
    /// Reads the directory of a heap; its offset from the heap's start is in the heap's last four bytes.
    fn directory(&mut self, heap: Heap) -> Option<Vec<Found>> {
        let last = heap.end.checked_sub(4)?;
        let offset = self.order.u32(self.source.array(last).ok()?);
        let at = heap.start.checked_add(u64::from(offset))?;
        if at.checked_add(2)? > last {
            return None;
        }
        let count = self.order.u16(self.source.array(at).ok()?);
        let table = 10 * u64::from(count);
        if count == 0 || count > MOST_RECORDS || at + 2 + table > last {
            return None;
        }
        let raw = self
            .source
            .bytes(at + 2, usize::try_from(table).ok()?)
            .ok()?;
        let found = raw.chunks_exact(10).zip(0_u64..).map(|(entry, i)| {
            let long = |at: usize| {
                entry[at..]
                    .first_chunk()
                    .map_or(0, |b| u64::from(self.order.u32(*b)))
            };
            let kind = self.order.u16([entry[0], entry[1]]);
            let place = if kind & 0x4000 == 0 {
                Extent {
                    offset: heap.start.saturating_add(long(6)),
                    length: long(2),
                }
            } else {
                // The value is in the entry.
                Extent {
                    offset: at + 2 + 10 * i + 2,
                    length: 8,
                }
            };
            Found {
                kind: kind & 0x3FFF,
                place,
            }
        });
        Some(found.collect())
    }

    fn record(&mut self, found: &Found) {
        let place = found.place;
        match found.kind {
            // A whole JPEG, and the thumbnail.
            0x2007 | 0x2008 if !self.source.is_held_otherwise(place.offset, &[0xFF, 0xD8]) => {
                self.out.jpeg(place, self.source.length());
            }
            0x080A => self.names(place),
            0x180B => {
                self.number = self.long(place, 0).filter(|n| *n > 0);
            }
            0x180E => self.time(place),
            0x1810 => self.picture(place),
            0x102A => self.shot(place),
            0x1029 => {
                self.focal = self.short(place, 1).filter(|n| *n > 0);
            }
            0x102D => {
                self.parts = self.short(place, 25).filter(|n| *n > 0);
            }
            _ => {}
        }
    }

    fn long(&mut self, place: Extent, index: u64) -> Option<u32> {
        let at = place.offset.checked_add(4 * index)?;
        if 4 * index + 4 > place.length {
            return None;
        }
        self.source.array(at).ok().map(|raw| self.order.u32(raw))
    }

    fn short(&mut self, place: Extent, index: u64) -> Option<i16> {
        let at = place.offset.checked_add(2 * index)?;
        if 2 * index + 2 > place.length {
            return None;
        }
        let raw = self.source.array(at).ok()?;
        Some(self.order.u16(raw).cast_signed())
    }

    /// Maker and model, each ended by a NUL.
    fn names(&mut self, place: Extent) {
        let len = usize::try_from(place.length.min(256)).unwrap_or(0);
        let Ok(raw) = self.source.bytes(place.offset, len) else {
            return;
        };
        let mut names = raw.split(|b| *b == 0).map(words::clean);
        let (make, model) = (names.next().flatten(), names.next().flatten());
        for (tag, name) in [(wanted::MAKE, make), (wanted::MODEL, model)] {
            if let Some(name) = name {
                self.out.block.put_text(tag, &name);
            }
        }
    }

    /// Seconds since 1970 on the body's clock, which has no zone.
    fn time(&mut self, place: Extent) {
        let Some(seconds) = self.long(place, 0).filter(|s| *s > 0) else {
            return;
        };
        // The reading as if it were UTC: only its digits are used.
        if let Some(reading) = Utc::from_unix_ms(i64::from(seconds) * 1000) {
            let text = reading.to_string();
            let text = text.split('.').next().unwrap_or_default();
            self.out.block.put_text(wanted::DATE_TIME_ORIGINAL, text);
        }
    }

    /// Width, height, and the rotation of the picture in degrees.
    fn picture(&mut self, place: Extent) {
        if let (Some(width), Some(height)) = (self.long(place, 0), self.long(place, 1)) {
            self.out.size = Some((u64::from(width), u64::from(height)));
        }
        let turned = match self.long(place, 3) {
            Some(0) => 1.0,
            Some(90) => 6.0,
            Some(180) => 3.0,
            Some(270) => 8.0,
            _ => return,
        };
        self.out.block.put_number(wanted::ORIENTATION, turned);
    }

    /// Aperture and exposure time as APEX numbers, in steps of a third or a half.
    fn shot(&mut self, place: Extent) {
        let said = self.short(place, 0).map(i64::from);
        if said.and_then(|n| u64::try_from(n).ok()) != Some(place.length) {
            return;
        }
        if let Some(av) = self.short(place, 21).filter(|n| *n > 0) {
            let block = &mut self.out.block;
            block.put_number(wanted::F_NUMBER, (apex(av) / 2.0).exp2());
        }
        if let Some(tv) = self.short(place, 22).filter(|n| *n != 0) {
            let block = &mut self.out.block;
            block.put_number(wanted::EXPOSURE_TIME, (-apex(tv)).exp2());
        }
    }
}

/// Parts of 32, in which 12 and 20 mean a third and two thirds.
fn apex(parts: i16) -> f64 {
    let whole = f64::from(parts.unsigned_abs() / 32);
    let part = match parts.unsigned_abs() % 32 {
        12 => 1.0 / 3.0,
        20 => 2.0 / 3.0,
        other => f64::from(other) / 32.0,
    };
    let size = whole + part;
    if parts < 0 { -size } else { size }
}
