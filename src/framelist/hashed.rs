//! A writer that hashes everything written through it, so that a reader can tell whether a list is unchanged.

use std::io;
use std::io::Write;

/// The length and hash of a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListDigest {
    /// Its length in bytes.
    pub bytes: u64,
    /// The BLAKE3 hash.
    pub blake3: [u8; 32],
}

/// Passes bytes on, and hashes them.
pub struct Hashed<W: Write> {
    out: W,
    bytes: u64,
    hasher: blake3::Hasher,
}

impl<W: Write> Hashed<W> {
    /// A writer that passes its bytes to `out`.
    pub fn new(out: W) -> Self {
        Self {
            out,
            bytes: 0,
            hasher: blake3::Hasher::new(),
        }
    }

    /// The digest of the bytes so far.
    pub fn digest(&self) -> ListDigest {
        ListDigest {
            bytes: self.bytes,
            blake3: *self.hasher.finalize().as_bytes(),
        }
    }
}

impl<W: Write> Write for Hashed<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes)?;
        self.hasher.update(&bytes[..written]);
        self.bytes += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}
