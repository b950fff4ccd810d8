//! The common result of all container readers. Fields, hardly any behaviour.

use crate::capture::block::Block;
use crate::capture::block::Found;
use crate::capture::maker::values::MakerValues;
use crate::capture::wanted::Wanted;
use crate::terms::records::Extent;

/// The most warnings kept for one file.
const MOST_COMPLAINTS: usize = 4;

/// Which directory of a TIFF block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// IFD0, IFD1, …: the chain.
    Chain(u8),
    /// One that IFD0 points at by `SubIFDs`.
    Sub,
    /// The Exif directory.
    Exif,
    /// The GPS directory.
    Gps,
}

/// What a directory contains about one picture of the file.
#[derive(Clone, Copy, Debug)]
pub struct Directory {
    /// Which directory.
    pub role: Role,
    /// `NewSubfileType`; bit 0 is set for a reduced picture.
    pub subfile: Option<u64>,
    /// Width in pixels.
    pub width: Option<u64>,
    /// Height in pixels.
    pub height: Option<u64>,
    /// How the picture is packed.
    pub compression: Option<u64>,
    /// The meaning of its numbers; 32803 is the mosaic of a sensor.
    pub photometric: Option<u64>,
    /// Its only strip, if it has just one.
    pub strip: Option<Extent>,
    /// Where its strips or tiles end, at the latest.
    pub data_end: Option<u64>,
    /// The JPEG of `JPEGInterchangeFormat`.
    pub jpeg: Option<Extent>,
}

impl Directory {
    /// An empty directory.
    pub const fn of(role: Role) -> Self {
        Self {
            role,
            subfile: None,
            width: None,
            height: None,
            compression: None,
            photometric: None,
            strip: None,
            data_end: None,
            jpeg: None,
        }
    }

    /// Width and height, if both are given and neither is zero.
    pub fn size(&self) -> Option<(u64, u64)> {
        self.width
            .zip(self.height)
            .filter(|(w, h)| *w > 0 && *h > 0)
    }

    /// Whether it is marked as a reduced picture.
    pub fn is_reduced(&self) -> bool {
        self.subfile.is_some_and(|bits| bits & 1 == 1)
    }

    /// Whether it holds sensor data: a mosaic, or a DNG's linear raw.
    pub fn is_raw(&self) -> bool {
        matches!(self.photometric, Some(32_803 | 34_892))
    }
}

/// A wanted value that is still to be fetched.
#[derive(Clone, Copy, Debug)]
pub struct Pending {
    /// Its tag.
    pub tag: Wanted,
    /// Where the tag was.
    pub found: Found,
    /// The type of its values.
    pub kind: u16,
    /// Where its bytes start in the source.
    pub at: u64,
    /// How many there are.
    pub len: usize,
}

/// Everything a container found in one file.
#[derive(Debug, Default)]
pub struct Gathered {
    /// The wanted tags.
    pub block: Block,
    /// Wanted values still to be fetched into it.
    pub pending: Vec<Pending>,
    /// What the directories contain about pictures.
    pub directories: Vec<Directory>,
    /// The main image's size, from the container or its codec.
    pub size: Option<(u64, u64)>,
    /// The main image's size, as the Exif directory has it.
    pub exif_size: Option<(u64, u64)>,
    /// Embedded JPEG files.
    pub jpegs: Vec<Extent>,
    /// Values from the maker note.
    pub maker: MakerValues,
    /// Whether IFD0 marks it as a DNG.
    pub dng: bool,
    /// The first structure that points past the end of the file.
    pub truncated: Option<String>,
    /// What could not be followed.
    pub complaints: Vec<String>,
}

impl Gathered {
    /// Clears everything; the buffers are kept.
    pub fn clear(&mut self) {
        self.block.clear();
        self.pending.clear();
        self.directories.clear();
        self.jpegs.clear();
        self.complaints.clear();
        self.size = None;
        self.maker = MakerValues::default();
        self.exif_size = None;
        self.dng = false;
        self.truncated = None;
    }

    /// Bytes held by its buffers.
    pub fn held_memory(&self) -> usize {
        self.block.held_memory()
            + self.pending.capacity() * size_of::<Pending>()
            + self.directories.capacity() * size_of::<Directory>()
            + self.jpegs.capacity() * size_of::<Extent>()
            + self.complaints.iter().map(String::capacity).sum::<usize>()
    }

    /// Records something that could not be followed; the first few are kept.
    pub fn warn(&mut self, what: impl FnOnce() -> String) {
        if self.complaints.len() < MOST_COMPLAINTS {
            self.complaints.push(what());
        }
    }

    /// Records a structure that ends at `end` in a file of `length` bytes, if it points past its end.
    pub fn promise(&mut self, what: impl std::fmt::Display, end: u64, length: u64) {
        if end > length && self.truncated.is_none() {
            self.truncated = Some(format!("{what} ends at byte {end}, the file at {length}"));
        }
    }

    /// Records an embedded JPEG, unless it is outside the file.
    pub fn jpeg(&mut self, extent: Extent, length: u64) {
        let inside = extent
            .offset
            .checked_add(extent.length)
            .is_some_and(|end| end <= length);
        if inside && extent.length > 4 && !self.jpegs.contains(&extent) {
            self.jpegs.push(extent);
        }
    }
}
