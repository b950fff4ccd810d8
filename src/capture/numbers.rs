//! Byte order and the sizes of TIFF's value types. Knows no tags.

/// The order of bytes in a TIFF block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// `II`: least significant byte first.
    Little,
    /// `MM`: most significant byte first.
    Big,
}

impl Order {
    /// Two bytes as a number.
    pub const fn u16(self, bytes: [u8; 2]) -> u16 {
        match self {
            Self::Little => u16::from_le_bytes(bytes),
            Self::Big => u16::from_be_bytes(bytes),
        }
    }

    /// Four bytes as a number.
    pub const fn u32(self, bytes: [u8; 4]) -> u32 {
        match self {
            Self::Little => u32::from_le_bytes(bytes),
            Self::Big => u32::from_be_bytes(bytes),
        }
    }

    /// Eight bytes as a number.
    pub const fn u64(self, bytes: [u8; 8]) -> u64 {
        match self {
            Self::Little => u64::from_le_bytes(bytes),
            Self::Big => u64::from_be_bytes(bytes),
        }
    }
}

/// The TIFF value types used here. Source: TIFF 6.0 §2, `BigTIFF` for 16 to 18, EXIF 3.0 (CIPA DC-008-2023) 4.6.2 for
/// 129.
pub mod kind {
    /// Whole number of one byte.
    pub const BYTE: u16 = 1;
    /// Text.
    pub const ASCII: u16 = 2;
    /// Whole number of two bytes.
    pub const SHORT: u16 = 3;
    /// Whole number of four bytes.
    pub const LONG: u16 = 4;
    /// Signed whole number of one byte.
    pub const SBYTE: u16 = 6;
    /// Bytes without a type of their own.
    pub const UNDEFINED: u16 = 7;
    /// Signed whole number of two bytes.
    pub const SSHORT: u16 = 8;
    /// Signed whole number of four bytes.
    pub const SLONG: u16 = 9;
    /// Four bytes that point at a directory.
    pub const IFD: u16 = 13;
    /// Whole number of eight bytes.
    pub const LONG8: u16 = 16;
    /// Floating-point number of eight bytes. Source: TIFF 6.0 §2.
    pub const DOUBLE: u16 = 12;
    /// Eight bytes that point at a directory.
    pub const IFD8: u16 = 18;
    /// Text in UTF-8, which EXIF 3.0 allows where earlier editions had ASCII.
    pub const UTF8: u16 = 129;
}

/// Bytes of one value of a type, and of the byte-ordered pieces in it. `None` for undefined types.
pub const fn sizes(kind: u16) -> Option<(u64, usize)> {
    Some(match kind {
        1 | 2 | 6 | 7 | kind::UTF8 => (1, 1),
        3 | 8 => (2, 2),
        4 | 9 | 11 | 13 => (4, 4),
        5 | 10 => (8, 4),
        12 | 16 | 17 | 18 => (8, 8),
        _ => return None,
    })
}

/// One whole number of a value, according to its type. `None` for types without whole numbers, and below zero.
pub fn whole(order: Order, kind: u16, raw: &[u8]) -> Option<u64> {
    Some(match kind {
        kind::BYTE => u64::from(*raw.first()?),
        kind::SHORT => u64::from(order.u16(*raw.first_chunk()?)),
        kind::LONG | kind::IFD => u64::from(order.u32(*raw.first_chunk()?)),
        // Cameras have written pointers as signed numbers.
        kind::SSHORT => u64::try_from(order.u16(*raw.first_chunk()?).cast_signed()).ok()?,
        kind::SLONG => u64::try_from(order.u32(*raw.first_chunk()?).cast_signed()).ok()?,
        kind::LONG8 | kind::IFD8 => order.u64(*raw.first_chunk()?),
        _ => return None,
    })
}

/// One whole number of a value, signed. `None` for types without whole numbers.
pub fn integer(order: Order, kind: u16, raw: &[u8]) -> Option<i64> {
    Some(match kind {
        kind::SBYTE => i64::from(raw.first()?.cast_signed()),
        kind::UNDEFINED => i64::from(*raw.first()?),
        kind::SSHORT => i64::from(order.u16(*raw.first_chunk()?).cast_signed()),
        kind::SLONG => i64::from(order.u32(*raw.first_chunk()?).cast_signed()),
        _ => i64::try_from(whole(order, kind, raw)?).ok()?,
    })
}
