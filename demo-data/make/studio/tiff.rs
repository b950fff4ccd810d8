//! Writes the TIFF structure that raw files and EXIF blocks are made of, in either byte order.
//!
//! Knows no tag's meaning. Sensor data goes last, so that a file cut short loses its picture and nothing else.

use std::collections::BTreeMap;

/// Which byte of a number comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ByteOrder {
    /// `II`: least significant first.
    Little,
    /// `MM`: most significant first.
    Big,
}

/// The value of one entry.
pub enum Value {
    /// BYTE.
    Bytes(Vec<u8>),
    /// ASCII; the closing NUL is added.
    Text(String),
    /// SHORT.
    Shorts(Vec<u16>),
    /// LONG.
    Longs(Vec<u32>),
    /// RATIONAL.
    Ratios(Vec<(u32, u32)>),
    /// SRATIONAL.
    SignedRatios(Vec<(i32, i32)>),
    /// UNDEFINED.
    Opaque(Vec<u8>),
    /// LONG: offsets of further directories.
    Children(Vec<Directory>),
    /// LONG: offset of an embedded picture.
    Picture(Vec<u8>),
    /// LONG: offset of the sensor's strip.
    Sensor(Vec<u8>),
}

/// One image file directory. Entries are written in the order of their tags, as TIFF 6.0 demands.
#[derive(Default)]
pub struct Directory {
    entries: BTreeMap<u16, Value>,
}

impl Directory {
    /// Puts one entry in.
    pub fn set(&mut self, tag: u16, value: Value) {
        self.entries.insert(tag, value);
    }
}

/// Writes a whole TIFF structure: the header and a chain of directories with all they point at.
///
/// Refuses: more than a TIFF can hold.
pub fn write(
    order: ByteOrder,
    chain: Vec<Directory>,
) -> Result<Vec<u8>, std::num::TryFromIntError> {
    let mut sheet = Sheet {
        order,
        bytes: Vec::new(),
        pictures: Vec::new(),
        sensors: Vec::new(),
    };
    sheet.bytes.extend(match order {
        ByteOrder::Little => b"II",
        ByteOrder::Big => b"MM",
    });
    sheet.bytes.extend(sheet.short(42));
    let mut link = sheet.bytes.len();
    sheet.bytes.extend([0; 4]);
    for directory in chain {
        let (start, next) = sheet.directory(directory)?;
        sheet.patch(link, start);
        link = next;
    }
    let pictures = std::mem::take(&mut sheet.pictures);
    let sensors = std::mem::take(&mut sheet.sensors);
    for (field, blob) in pictures.into_iter().chain(sensors) {
        let start = sheet.append(&blob)?;
        sheet.patch(field, start);
    }
    Ok(sheet.bytes)
}

/// The file as far as it is written.
struct Sheet {
    order: ByteOrder,
    bytes: Vec<u8>,
    pictures: Vec<(usize, Vec<u8>)>,
    sensors: Vec<(usize, Vec<u8>)>,
}

impl Sheet {
    /// Writes a directory and its values; gives its start, and the place of the link to the next one.
    fn directory(
        &mut self,
        directory: Directory,
    ) -> Result<(u32, usize), std::num::TryFromIntError> {
        let count = directory.entries.len();
        let start = self.append(&[])?;
        self.bytes.extend(self.short(u16::try_from(count)?));
        let mut field = self.bytes.len();
        let link = field + 12 * count;
        self.bytes.resize(link + 4, 0);
        for (tag, value) in directory.entries {
            let (kind, amount, encoded) = self.encode(field + 8, value)?;
            let mut entry = Vec::with_capacity(8);
            entry.extend(self.short(tag));
            entry.extend(self.short(kind));
            entry.extend(self.long(u32::try_from(amount)?));
            self.bytes[field..field + 8].copy_from_slice(&entry);
            if encoded.len() <= 4 {
                self.bytes[field + 8..field + 8 + encoded.len()].copy_from_slice(&encoded);
            } else {
                let at = self.append(&encoded)?;
                self.patch(field + 8, at);
            }
            field += 12;
        }
        Ok((start, link))
    }

    /// The type's number (TIFF 6.0, section 2), the count, and the bytes of a value.
    fn encode(
        &mut self,
        field: usize,
        value: Value,
    ) -> Result<(u16, usize, Vec<u8>), std::num::TryFromIntError> {
        Ok(match value {
            Value::Bytes(bytes) => (1, bytes.len(), bytes),
            Value::Text(text) => {
                let bytes: Vec<u8> = text.into_bytes().into_iter().chain([0]).collect();
                (2, bytes.len(), bytes)
            }
            Value::Shorts(all) => {
                let bytes = all.iter().flat_map(|&one| self.short(one)).collect();
                (3, all.len(), bytes)
            }
            Value::Longs(all) => (4, all.len(), self.longs(&all)),
            Value::Ratios(all) => {
                let flat: Vec<u32> = all.iter().flat_map(|&(n, d)| [n, d]).collect();
                (5, all.len(), self.longs(&flat))
            }
            Value::Opaque(bytes) => (7, bytes.len(), bytes),
            Value::SignedRatios(all) => {
                let flat: Vec<u32> = all
                    .iter()
                    .flat_map(|&(n, d)| [n.cast_unsigned(), d.cast_unsigned()])
                    .collect();
                (10, all.len(), self.longs(&flat))
            }
            Value::Children(all) => {
                let mut starts = Vec::with_capacity(all.len());
                for child in all {
                    starts.push(self.directory(child)?.0);
                }
                (4, starts.len(), self.longs(&starts))
            }
            Value::Picture(blob) => {
                self.pictures.push((field, blob));
                (4, 1, vec![0; 4])
            }
            Value::Sensor(blob) => {
                self.sensors.push((field, blob));
                (4, 1, vec![0; 4])
            }
        })
    }

    /// Adds bytes on an even offset, and says which.
    fn append(&mut self, bytes: &[u8]) -> Result<u32, std::num::TryFromIntError> {
        if !self.bytes.len().is_multiple_of(2) {
            self.bytes.push(0);
        }
        let start = u32::try_from(self.bytes.len())?;
        self.bytes.extend_from_slice(bytes);
        Ok(start)
    }

    fn patch(&mut self, field: usize, offset: u32) {
        let encoded = self.long(offset);
        self.bytes[field..field + 4].copy_from_slice(&encoded);
    }

    fn short(&self, number: u16) -> [u8; 2] {
        match self.order {
            ByteOrder::Little => number.to_le_bytes(),
            ByteOrder::Big => number.to_be_bytes(),
        }
    }

    fn long(&self, number: u32) -> [u8; 4] {
        match self.order {
            ByteOrder::Little => number.to_le_bytes(),
            ByteOrder::Big => number.to_be_bytes(),
        }
    }

    fn longs(&self, numbers: &[u32]) -> Vec<u8> {
        numbers.iter().flat_map(|&one| self.long(one)).collect()
    }
}
