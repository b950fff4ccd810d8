//! A writer that knows the hash of what went through it, so that a reader can tell whether a list is the one it was.

use std::io;
use std::io::Write;

/// The bytes of a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListDigest {
    /// How many.
    pub bytes: u64,
    /// Their BLAKE3 hash.
    pub blake3: [u8; 32],
}

/// Passes bytes on, and hashes them.
pub struct Hashed<W: Write> {
    out: W,
    bytes: u64,
    hasher: blake3::Hasher,
}

impl<W: Write> Hashed<W> {
    /// A writer on its way to `out`.
    pub fn new(out: W) -> Self {
        Self {
            out,
            bytes: 0,
            hasher: blake3::Hasher::new(),
        }
    }

    /// What has gone through it so far.
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
