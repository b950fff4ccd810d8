//! Reads a file from its device, past the page cache, and hashes it. Where the device cannot be asked, it says so.
//!
//! Sources: open(2), `O_DIRECT`; `posix_fadvise(2)`. A drive's own cache may still answer.

use std::fs::File;
use std::io;
use std::io::Read;
use std::path::Path;
use std::thread;

use crossbeam_channel::unbounded;
use sha2::Digest;
use sha2::Sha256;

use crate::capture::folder::open;
use crate::copy::buffer::BORDER;
use crate::copy::buffer::Chunk;
use crate::copy::buffer::LENGTH;
use crate::copy::buffer::Pool;
use crate::terms::content::ReadWay;

/// Buffers of one file that is read back: one is filled, one is hashed, the others even out.
const BUFFERS: usize = 6;

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

/// An error of reading, and how far it came.
#[derive(Debug)]
pub struct ReadFault {
    /// The first byte that could not be read.
    pub offset: u64,
    /// What the system said.
    pub error: io::Error,
}

/// Reads files back, one after another, with one set of buffers.
pub struct BackReader {
    pool: Pool,
}

impl Default for BackReader {
    fn default() -> Self {
        Self::new()
    }
}

impl BackReader {
    /// A reader with its buffers.
    pub fn new() -> Self {
        Self {
            pool: Pool::new(BUFFERS),
        }
    }

    /// Reads all of a file and hashes it, past the cache if that is possible.
    ///
    /// Takes: its path; whether its file system keeps files on a device of this computer
    /// ([`crate::copy::disk::Disk::is_device`]); `each`, which is told how many bytes were read each time.
    /// Follows no link.
    pub fn read(
        &self,
        path: &Path,
        is_device: bool,
        sha256: Sha256Too,
        each: &mut dyn FnMut(u64),
    ) -> Result<Content, ReadFault> {
        let begin = |error| ReadFault { offset: 0, error };
        let mut file = open(path).map_err(begin)?;
        let mut way = ReadWay::Cached;
        if is_device && drop_pages(&file) {
            way = ReadWay::Dropped;
            if past_the_cache(&file) {
                way = ReadWay::Direct;
            }
        }
        thread::scope(|scope| {
            let (blake_out, chunks) = unbounded::<Chunk>();
            let blake = scope.spawn(move || blake3_of(chunks));
            let sha = (sha256 == Sha256Too::Yes).then(|| {
                let (sha_out, chunks) = unbounded::<Chunk>();
                (sha_out, scope.spawn(move || sha256_of(chunks)))
            });
            let (sha_out, sha) = sha.unzip();
            let mut bytes = 0_u64;
            let mut fault = None;
            loop {
                let mut space = self.pool.take();
                let got = match file.read(&mut space.space()[..LENGTH]) {
                    Ok(0) => break,
                    Ok(got) => got,
                    Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                    // The file system took the flag and refuses the read.
                    Err(error)
                        if error.kind() == io::ErrorKind::InvalidInput
                            && way == ReadWay::Direct =>
                    {
                        way = ReadWay::Dropped;
                        through_the_cache(&file);
                        continue;
                    }
                    Err(error) => {
                        fault = Some(error);
                        break;
                    }
                };
                bytes += got as u64;
                let chunk = space.filled(got);
                let _ = blake_out.send(Chunk::clone(&chunk));
                if let Some(out) = &sha_out {
                    let _ = out.send(chunk);
                }
                each(got as u64);
                // After a read that ends off a border no other may follow past the cache: it is the end, or a bad spot.
                if way == ReadWay::Direct && !got.is_multiple_of(BORDER) {
                    if file.metadata().is_ok_and(|about| about.len() <= bytes) {
                        break;
                    }
                    way = ReadWay::Dropped;
                    through_the_cache(&file);
                }
            }
            drop((blake_out, sha_out));
            let broken = || io::Error::other("hashing was broken off");
            let blake3 = blake.join().map_err(|_| broken());
            let sha256 = sha.map(|sha| sha.join().map_err(|_| broken())).transpose();
            let fail = |error| ReadFault {
                offset: bytes,
                error,
            };
            if let Some(error) = fault {
                return Err(fail(error));
            }
            // Reading it back leaves the cache as it was.
            drop_pages(&file);
            Ok(Content {
                bytes,
                blake3: blake3.map_err(fail)?,
                sha256: sha256.map_err(fail)?,
                way,
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

/// Asks the system to forget a file's pages that are on the disk already; whether it can be asked.
#[cfg(any(target_os = "linux", target_os = "android"))]
pub(super) fn drop_pages(file: &File) -> bool {
    rustix::fs::fadvise(file, 0, None, rustix::fs::Advice::DontNeed).is_ok()
}

#[cfg(not(any(target_os = "linux", target_os = "android")))]
pub(super) fn drop_pages(_: &File) -> bool {
    false
}

#[cfg(any(target_os = "linux", target_os = "android"))]
fn past_the_cache(file: &File) -> bool {
    use rustix::fs::OFlags;
    rustix::fs::fcntl_getfl(file)
        .and_then(|flags| rustix::fs::fcntl_setfl(file, flags | OFlags::DIRECT))
        .is_ok()
}

#[cfg(any(target_os = "linux", target_os = "android"))]
fn through_the_cache(file: &File) {
    use rustix::fs::OFlags;
    // Where this is refused, the next read says so.
    let _ = rustix::fs::fcntl_getfl(file)
        .and_then(|flags| rustix::fs::fcntl_setfl(file, flags - OFlags::DIRECT));
}

#[cfg(not(any(target_os = "linux", target_os = "android")))]
fn past_the_cache(_: &File) -> bool {
    false
}

#[cfg(not(any(target_os = "linux", target_os = "android")))]
fn through_the_cache(_: &File) {}

#[cfg(test)]
mod tests {
    use super::*;

    fn hashed(bytes: &[u8]) -> Content {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        std::fs::write(&path, bytes).unwrap();
        let mut told = 0;
        let content = BackReader::new()
            .read(&path, true, Sha256Too::Yes, &mut |read| told += read)
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
