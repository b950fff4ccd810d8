//! Hashes of whole files, and how a file was read when they were compared. Fields, no reading.

use crate::terms::words::words;

/// The hashes of all bytes of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hashes {
    /// BLAKE3: what the catalogue compares.
    pub blake3: [u8; 32],
    /// SHA-256 (FIPS 180-4): what stock tools compare.
    pub sha256: [u8; 32],
}

words! {
    /// How a file was read.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum ReadWay {
        /// Past the page cache (`O_DIRECT`), after its pages were dropped.
        Direct = "direct",
        /// After its pages were dropped from the cache (`POSIX_FADV_DONTNEED`).
        Dropped = "dropped",
        /// Where neither is to be had, or says nothing about the device: from memory, another computer or another program.
        Cached = "cached",
    }
}

impl ReadWay {
    /// This way where the file system keeps its files on a device of this computer; elsewhere the device cannot be asked.
    #[must_use]
    pub const fn if_device(self, is_device: bool) -> Self {
        if is_device { self } else { Self::Cached }
    }

    /// Whether the bytes came from the device: only then a copy is called verified.
    pub const fn is_from_device(self) -> bool {
        !matches!(self, Self::Cached)
    }

    /// What is said of a file whose bytes were the expected ones, read this way.
    pub const fn proof(self) -> &'static str {
        if self.is_from_device() {
            VERIFIED
        } else {
            COPIED
        }
    }
}

words! {
    /// What came of reading a file again.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum Compared {
        /// Its bytes are those of its hashes.
        Same = "same",
        /// They are others.
        Differs = "differs",
        /// The disk gave an error.
        Unreadable = "unreadable",
    }
}

/// Read back from the device, and equal.
pub const VERIFIED: &str = "verified";
/// Written and made to last, but the device could not be asked.
pub const COPIED: &str = "copied";
/// Never read whole.
pub const UNREAD: &str = "unread";
