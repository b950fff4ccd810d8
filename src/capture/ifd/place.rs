//! Where a TIFF block lies, and its header. Fields only.

use crate::capture::numbers::Order;

/// Whether offsets in a block are offsets in the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Inside {
    /// The block lies in the file as it is.
    File,
    /// The block was unpacked or put together: its offsets mean nothing outside it.
    Unpacked,
}

/// Where a TIFF block lies in its source.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    /// Where its header stands; every offset in it counts from here.
    pub base: u64,
    /// Where it ends.
    pub end: u64,
    /// Whether its offsets are offsets in the file.
    pub inside: Inside,
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
