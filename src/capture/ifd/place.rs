//! The position of a TIFF block, and its header.

use crate::capture::numbers::Order;
use crate::capture::source::Source;

/// Whether offsets in a block are offsets in the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Inside {
    /// The block is in the file as it is.
    File,
    /// The block was unpacked or joined: its offsets mean nothing outside it.
    Unpacked,
}

/// The position of a TIFF block in its source.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// The position of its header; every offset in the block counts from here.
    pub base: u64,
    /// Where it ends.
    pub end: u64,
    /// Whether its offsets are offsets in the file.
    pub inside: Inside,
}

impl Place {
    /// A part of the file as it is.
    pub const fn in_file(base: u64, end: u64) -> Self {
        let inside = Inside::File;
        Self { base, end, inside }
    }

    /// A whole block that was unpacked or joined.
    pub const fn unpacked(source: &Source) -> Self {
        Self {
            base: 0,
            end: source.length(),
            inside: Inside::Unpacked,
        }
    }
}

/// The header of a TIFF block.
#[derive(Clone, Copy, Debug)]
pub struct Header {
    /// The order of bytes.
    pub order: Order,
    /// 42, 43 for `BigTIFF`, or a maker's own.
    pub magic: u16,
    /// The first directory, from the base.
    pub first: u64,
}

/// Reads a block's header. `None` if the bytes are not a TIFF header of any kind.
pub fn header(source: &mut Source, base: u64) -> Option<Header> {
    let raw: [u8; 8] = source.array(base).ok()?;
    let order = match &raw[..2] {
        b"II" => Order::Little,
        b"MM" => Order::Big,
        _ => return None,
    };
    let magic = order.u16([raw[2], raw[3]]);
    let first = if magic == 43 {
        // BigTIFF: the size of offsets (always 8) and a zero come before the first directory.
        if order.u16([raw[4], raw[5]]) != 8 || raw[6..] != [0, 0] {
            return None;
        }
        order.u64(source.array(base.checked_add(8)?).ok()?)
    } else {
        u64::from(order.u32([raw[4], raw[5], raw[6], raw[7]]))
    };
    Some(Header {
        order,
        magic,
        first,
    })
}
