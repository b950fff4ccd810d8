//! Reads one file of a card, once, and hands its bytes to all who want them. A spot that cannot be read is tried again.

use std::fs::File;
use std::io;
use std::io::ErrorKind;
use std::io::Read;
use std::io::Seek;
use std::io::SeekFrom;
use std::path::Path;
use std::thread;

use crossbeam_channel::unbounded;

use crate::capture::buffer::Chunk;
use crate::capture::buffer::Pool;
use crate::capture::folder::open;
use crate::capture::presence::modified_ns;
use crate::copy::order::CardFault;
use crate::copy::order::CardFile;
use crate::copy::pieces::drop_pages;
use crate::copy::read_back::BackReader;
use crate::copy::read_back::Sha256Too;
use crate::copy::read_back::blake3_of;
use crate::copy::read_back::sha256_of;
use crate::terms::content::Hashes;
use crate::terms::content::ReadWay;

/// Reads the files of a card.
pub(super) struct CardReader {
    pool: Pool,
    again: BackReader,
    tries: u32,
}

impl CardReader {
    /// A reader that tries each spot so many times, with so many buffers.
    pub(super) fn new(tries: u32, buffers: usize) -> Self {
        Self {
            pool: Pool::new(buffers),
            again: BackReader::new(),
            tries: tries.max(1),
        }
    }

    /// Reads a file from its first byte to its last; `each` gets them in order.
    pub(super) fn read(
        &self,
        path: &Path,
        listed: &CardFile,
        each: &mut dyn FnMut(&Chunk),
    ) -> Result<Hashes, CardFault> {
        let mut file = open(path).map_err(|error| unreadable(0, error, 1))?;
        hint_sequential(&file);
        let hashes = thread::scope(|scope| {
            let (blake_out, blake_in) = unbounded::<Chunk>();
            let (sha_out, sha_in) = unbounded::<Chunk>();
            let blake3 = scope.spawn(move || blake3_of(blake_in));
            let sha256 = scope.spawn(move || sha256_of(sha_in));
            let mut read = 0_u64;
            let mut tried = 1;
            while read < listed.bytes {
                let mut space = self.pool.take();
                let error = match file.read(space.space()) {
                    Ok(0) => io::Error::new(
                        ErrorKind::UnexpectedEof,
                        format!("the file ends before its {} bytes", listed.bytes),
                    ),
                    Ok(got) => {
                        read += got as u64;
                        tried = 1;
                        let chunk = space.filled(got);
                        each(&chunk);
                        // Hashing goes on to its end whatever becomes of the copies.
                        let _ = blake_out.send(Chunk::clone(&chunk));
                        let _ = sha_out.send(chunk);
                        continue;
                    }
                    Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                    Err(error) => error,
                };
                if tried >= self.tries {
                    return Err(unreadable(read, error, tried));
                }
                tried += 1;
                drop_pages(&file);
                if let Ok(mut anew) = open(path)
                    && anew.seek(SeekFrom::Start(read)).is_ok()
                {
                    file = anew;
                }
            }
            drop((blake_out, sha_out));
            let broken = |_| unreadable(read, io::Error::other("hashing was broken off"), 1);
            Ok(Hashes {
                blake3: blake3.join().map_err(broken)?,
                sha256: sha256.join().map_err(broken)?,
            })
        })?;
        let same = file
            .metadata()
            .is_ok_and(|now| now.len() == listed.bytes && modified_ns(&now) == listed.modified_ns);
        drop_pages(&file);
        if same {
            Ok(hashes)
        } else {
            Err(CardFault::Changed)
        }
    }

    /// Reads a file a second time, past the cache, and compares.
    pub(super) fn read_again(
        &self,
        path: &Path,
        is_device: bool,
        first: &Hashes,
    ) -> Result<(), CardFault> {
        let second = self
            .again
            .read(
                path,
                ReadWay::Direct.if_device(is_device),
                Sha256Too::No,
                &mut |_| {},
            )
            .map_err(|fault| unreadable(fault.offset, fault.error, 1))?;
        if second.blake3 == first.blake3 {
            Ok(())
        } else {
            Err(CardFault::ReadsDiffer)
        }
    }
}

fn unreadable(offset: u64, error: io::Error, tries: u32) -> CardFault {
    CardFault::Unreadable {
        offset,
        error,
        tries,
    }
}

#[cfg(any(target_os = "linux", target_os = "android"))]
fn hint_sequential(file: &File) {
    // Only a hint: where it is refused the read is slower.
    let _ = rustix::fs::fadvise(file, 0, None, rustix::fs::Advice::Sequential);
}

#[cfg(not(any(target_os = "linux", target_os = "android")))]
fn hint_sequential(_: &File) {}
