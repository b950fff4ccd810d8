//! Reads a file back from its device, past the page cache, and hashes it. Where the device cannot be asked, it says so.

use std::io;
use std::path::Path;
use std::thread;

use crossbeam_channel::unbounded;
use sha2::Digest;
use sha2::Sha256;

use crate::capture::buffer::Chunk;
pub use crate::copy::pieces::BackReader;
pub use crate::copy::pieces::ReadFault;
pub use crate::copy::pieces::Reading;
use crate::terms::content::ReadWay;

/// Whether a SHA-256 is taken besides BLAKE3: it is slower than most disks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sha256Too {
    /// Both.
    Yes,
    /// BLAKE3 alone.
    No,
}

/// What a file holds, as it was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Content {
    /// How many bytes.
    pub bytes: u64,
    /// Their BLAKE3.
    pub blake3: [u8; 32],
    /// Their SHA-256, where it was asked for.
    pub sha256: Option<[u8; 32]>,
    /// How they were read.
    pub way: ReadWay,
}

impl BackReader {
    /// Reads all of a file and hashes it: [`BackReader::begin`] and [`Reading::end`].
    pub fn read(
        &self,
        path: &Path,
        wanted: ReadWay,
        sha256: Sha256Too,
        each: &mut dyn FnMut(u64),
    ) -> Result<Content, ReadFault> {
        self.begin(path, wanted)?.end(sha256, each)
    }
}

impl Reading {
    /// Hashes what is read, to the end of the file. `each` is told how many bytes were read each time.
    pub fn end(
        mut self,
        sha256: Sha256Too,
        each: &mut dyn FnMut(u64),
    ) -> Result<Content, ReadFault> {
        thread::scope(|scope| {
            let sha = (sha256 == Sha256Too::Yes).then(|| {
                let (sha_out, chunks) = unbounded::<Chunk>();
                (sha_out, scope.spawn(move || sha256_of(chunks)))
            });
            let (sha_out, sha) = sha.unzip();
            let mut bytes = 0_u64;
            let mut blake3 = blake3::Hasher::new();
            while let Some(chunk) = self.next()? {
                blake3.update(chunk.bytes());
                let read = chunk.bytes().len() as u64;
                bytes += read;
                each(read);
                if let Some(out) = &sha_out {
                    let _ = out.send(chunk);
                }
            }
            drop(sha_out);
            let sha256 = sha.map(|sha| {
                sha.join().map_err(|_| ReadFault {
                    offset: bytes,
                    error: io::Error::other("hashing was broken off"),
                })
            });
            Ok(Content {
                bytes,
                blake3: *blake3.finalize().as_bytes(),
                sha256: sha256.transpose()?,
                way: self.way(),
            })
        })
    }
}

/// The BLAKE3 of chunks as they come.
pub(super) fn blake3_of(chunks: impl IntoIterator<Item = Chunk>) -> [u8; 32] {
    let mut hasher = blake3::Hasher::new();
    for chunk in chunks {
        hasher.update(chunk.bytes());
    }
    *hasher.finalize().as_bytes()
}

/// The SHA-256 of chunks as they come. Source: FIPS 180-4.
pub(super) fn sha256_of(chunks: impl IntoIterator<Item = Chunk>) -> [u8; 32] {
    let mut hasher = Sha256::new();
    for chunk in chunks {
        hasher.update(chunk.bytes());
    }
    hasher.finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::buffer::LENGTH;

    fn hashed(bytes: &[u8]) -> Content {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        std::fs::write(&path, bytes).unwrap();
        let mut told = 0;
        let content = BackReader::new()
            .read(&path, ReadWay::Direct, Sha256Too::Yes, &mut |read| {
                told += read;
            })
            .unwrap();
        assert_eq!(
            (content.bytes, told),
            (bytes.len() as u64, bytes.len() as u64)
        );
        content
    }

    fn hex(hash: &[u8]) -> String {
        let parts: Vec<String> = hash.iter().map(|byte| format!("{byte:02x}")).collect();
        parts.concat()
    }

    /// Source: FIPS 180-4, the examples that NIST publishes with it (from memory).
    #[test]
    fn sha256_of_the_published_messages() {
        for (message, expect) in [
            (
                b"abc".to_vec(),
                "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
            ),
            (
                b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq".to_vec(),
                "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
            ),
            (
                vec![b'a'; 1_000_000],
                "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
            ),
        ] {
            assert_eq!(hex(&hashed(&message).sha256.unwrap()), expect);
        }
    }

    /// Source: BLAKE3's own test vectors (`test_vectors.json`): bytes that count from 0 to 250, again and again; from memory.
    #[test]
    fn blake3_of_the_published_inputs() {
        let input: Vec<u8> = (0..=250).cycle().take(102_400).collect();
        for (length, expect) in [
            (
                0,
                "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262",
            ),
            (
                1,
                "2d3adedff11b61f14c886e35afa036736dcd87a74d27b5c1510225d0f592e213",
            ),
            (
                1_024,
                "42214739f095a406f3fc83deb889744ac00df831c10daa55189b5d121c855af7",
            ),
            (
                102_400,
                "bc3e3d41a1146b069abffad3c0d44860cf664390afce4d9661f7902e7943e085",
            ),
        ] {
            assert_eq!(
                hex(&hashed(&input[..length]).blake3),
                expect,
                "{length} bytes"
            );
        }
    }

    /// Ends on and beside the borders of blocks and buffers.
    #[test]
    fn every_length_is_read_to_its_end() {
        for length in [
            511,
            512,
            4_095,
            4_096,
            4_097,
            LENGTH - 1,
            LENGTH,
            LENGTH + 1,
            3 * LENGTH,
        ] {
            let bytes: Vec<u8> = (0..=255).cycle().take(length).collect();
            assert_eq!(
                hashed(&bytes).blake3,
                *blake3::hash(&bytes).as_bytes(),
                "{length}"
            );
        }
    }
}
