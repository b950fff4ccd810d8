//! Reads a file in pieces past the page cache, a few of them at a time: a device that is asked for one piece after another
//! rests between them. The pieces are given in order.
//!
//! Sources: open(2), `O_DIRECT`; `posix_fadvise(2)`. A drive's own cache may still answer.

use std::collections::BTreeMap;
use std::fs::File;
use std::io;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::thread;

use crossbeam_channel::Receiver;
use crossbeam_channel::Sender;
use crossbeam_channel::unbounded;

use crate::capture::buffer::BORDER;
use crate::capture::buffer::Chunk;
use crate::capture::buffer::Pool;
use crate::capture::folder::open;
use crate::capture::folder::read_at;
use crate::terms::content::ReadWay;

/// Pieces that are asked for at a time: measured, more bring nothing.
const AT_A_TIME: usize = 4;

/// Bytes of a piece: measured, several of these in a row are answered sooner than fewer of a whole buffer.
const PIECE: usize = 256 * 1024;

/// Buffers: those being filled, one that is hashed, and what is read of the next file while a result is kept.
const BUFFERS: usize = 24;

/// An error of reading, and how far it came.
#[derive(Debug)]
pub struct ReadFault {
    /// The first byte that could not be read.
    pub offset: u64,
    /// What the system said.
    pub error: io::Error,
}

/// Reads files back, one after another, with one set of buffers and threads: pieces in the order in which they are asked for.
pub struct BackReader {
    wanted: Sender<Piece>,
}

/// A file that is being read.
pub struct Reading {
    file: Arc<OpenFile>,
    pieces: Receiver<(u64, Result<Chunk, ReadFault>)>,
    waiting: BTreeMap<u64, Result<Chunk, ReadFault>>,
    next: u64,
}

struct OpenFile {
    file: File,
    bytes: u64,
    is_dropped: bool,
    /// Reads go past the cache.
    is_direct: AtomicBool,
    /// Nobody waits for it any more.
    is_given_up: AtomicBool,
}

struct Piece {
    of: Arc<OpenFile>,
    offset: u64,
    out: Sender<(u64, Result<Chunk, ReadFault>)>,
}

impl Default for BackReader {
    fn default() -> Self {
        Self::new()
    }
}

impl BackReader {
    /// Begins the threads, with their buffers.
    pub fn new() -> Self {
        let (wanted, pieces) = unbounded::<Piece>();
        let pool = Arc::new(Pool::new(BUFFERS));
        for _ in 0..AT_A_TIME {
            let (pieces, pool) = (pieces.clone(), Arc::clone(&pool));
            // With fewer threads it is slower; with none the first piece says that it was broken off.
            let _ = thread::Builder::new().spawn(move || read_pieces(&pieces, &pool));
        }
        Self { wanted }
    }

    /// Opens a file and asks for all its pieces, to be read in the wanted way or the next that can be had. Follows no link.
    /// Files must be ended or given up in the order in which they were begun: the later ones may hold all buffers.
    ///
    /// Takes: its path; how to read it ([`ReadWay::if_device`]).
    pub fn begin(&self, path: &Path, wanted: ReadWay) -> Result<Reading, ReadFault> {
        let begin = |error| ReadFault { offset: 0, error };
        let file = open(path).map_err(begin)?;
        let bytes = file.metadata().map_err(begin)?.len();
        let is_dropped = wanted.is_from_device() && drop_pages(&file);
        let file = Arc::new(OpenFile {
            is_direct: AtomicBool::new(
                is_dropped && wanted == ReadWay::Direct && past_the_cache(&file),
            ),
            is_given_up: AtomicBool::new(false),
            is_dropped,
            bytes,
            file,
        });
        let (out, pieces) = unbounded();
        for offset in (0..bytes).step_by(PIECE) {
            let (of, out) = (Arc::clone(&file), out.clone());
            let _ = self.wanted.send(Piece { of, offset, out });
        }
        Ok(Reading {
            file,
            pieces,
            waiting: BTreeMap::new(),
            next: 0,
        })
    }
}

impl Reading {
    /// The next piece; `None` after the last.
    pub(super) fn next(&mut self) -> Result<Option<Chunk>, ReadFault> {
        if self.next >= self.file.bytes {
            return match self.file.file.metadata() {
                Ok(now) if now.len() == self.file.bytes => Ok(None),
                Ok(_) => Err(self.fault(io::Error::other("its length changed while it was read"))),
                Err(error) => Err(self.fault(error)),
            };
        }
        let piece = loop {
            if let Some(piece) = self.waiting.remove(&self.next) {
                break piece;
            }
            match self.pieces.recv() {
                Ok((offset, piece)) => self.waiting.insert(offset, piece),
                Err(_) => return Err(self.fault(io::Error::other("reading was broken off"))),
            };
        };
        self.next += PIECE as u64;
        piece.map(Some)
    }

    fn fault(&self, error: io::Error) -> ReadFault {
        ReadFault {
            offset: self.next.min(self.file.bytes),
            error,
        }
    }

    /// How it was read.
    pub(super) fn way(&self) -> ReadWay {
        match (
            self.file.is_direct.load(Ordering::Relaxed),
            self.file.is_dropped,
        ) {
            (true, _) => ReadWay::Direct,
            (false, true) => ReadWay::Dropped,
            (false, false) => ReadWay::Cached,
        }
    }
}

impl Drop for Reading {
    fn drop(&mut self) {
        self.file.is_given_up.store(true, Ordering::Relaxed);
        // Reading it leaves the cache as it was.
        drop_pages(&self.file.file);
    }
}

fn read_pieces(pieces: &Receiver<Piece>, pool: &Pool) {
    loop {
        // The buffer first: whoever has an earlier piece has one too, so that pieces in order are never waited for in vain.
        let mut space = pool.take();
        let Ok(piece) = pieces.recv() else {
            return;
        };
        if piece.of.is_given_up.load(Ordering::Relaxed) {
            continue;
        }
        let read = piece.of.read(&mut space.space()[..PIECE], piece.offset);
        let _ = piece
            .out
            .send((piece.offset, read.map(|got| space.filled(got))));
    }
}

impl OpenFile {
    /// Fills a buffer from an offset, as far as the file goes.
    fn read(&self, space: &mut [u8], offset: u64) -> Result<usize, ReadFault> {
        let mut got = 0;
        while got < space.len() && offset + (got as u64) < self.bytes {
            let at = offset + got as u64;
            let is_direct = self.is_direct.load(Ordering::Relaxed);
            // After a read that ends off a border no other may follow past the cache.
            if is_direct && !got.is_multiple_of(BORDER) {
                self.through_the_cache();
            }
            match read_at(&self.file, at, &mut space[got..]) {
                Ok(0) => {
                    let error = io::Error::new(
                        ErrorKind::UnexpectedEof,
                        format!("the file ends before its {} bytes", self.bytes),
                    );
                    return Err(ReadFault { offset: at, error });
                }
                Ok(more) => got += more,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                // The file system took the flag and refuses the read.
                Err(error) if error.kind() == ErrorKind::InvalidInput && is_direct => {
                    self.through_the_cache();
                }
                Err(error) => return Err(ReadFault { offset: at, error }),
            }
        }
        Ok(got)
    }

    fn through_the_cache(&self) {
        self.is_direct.store(false, Ordering::Relaxed);
        clear_direct(&self.file);
    }
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
fn clear_direct(file: &File) {
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
fn clear_direct(_: &File) {}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn all_of(mut reading: Reading) -> Result<Vec<u8>, ReadFault> {
        let mut bytes = Vec::new();
        while let Some(piece) = reading.next()? {
            bytes.extend_from_slice(piece.bytes());
        }
        Ok(bytes)
    }

    /// Longer than all buffers together: a reading that is given up must give them back.
    #[test]
    fn files_begun_ahead_come_in_order_and_one_given_up_does_not_block_the_next() {
        let folder = tempfile::tempdir().unwrap();
        let long: Vec<u8> = (0..=250).cycle().take((BUFFERS + 3) * PIECE + 77).collect();
        let (one, two) = (folder.path().join("one"), folder.path().join("two"));
        fs::write(&one, &long).unwrap();
        fs::write(&two, b"short").unwrap();
        let readers = BackReader::new();
        for _ in 0..3 {
            let first = readers.begin(&one, ReadWay::Direct).unwrap();
            let second = readers.begin(&two, ReadWay::Dropped).unwrap();
            assert!(all_of(first).unwrap() == long);
            assert_eq!(all_of(second).unwrap(), b"short");
            let mut first = readers.begin(&one, ReadWay::Direct).unwrap();
            let second = readers.begin(&two, ReadWay::Dropped).unwrap();
            assert!(first.next().unwrap().unwrap().bytes() == &long[..PIECE]);
            drop(first);
            assert_eq!(all_of(second).unwrap(), b"short");
        }
    }

    /// A file system may refuse to be read past the cache, but what was not asked for is never said of a proof.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_file_is_read_in_the_wanted_way_or_the_next() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        fs::write(&path, vec![7; 2 * PIECE + 5]).unwrap();
        let readers = BackReader::new();
        let way = |wanted| {
            let mut reading = readers.begin(&path, wanted).unwrap();
            while reading.next().unwrap().is_some() {}
            reading.way()
        };
        assert!(way(ReadWay::Direct).is_from_device());
        assert_eq!(way(ReadWay::Dropped), ReadWay::Dropped);
        assert_eq!(way(ReadWay::Cached), ReadWay::Cached);
        assert_eq!(way(ReadWay::Dropped.if_device(false)), ReadWay::Cached);
        assert_eq!(way(ReadWay::Dropped.if_device(true)), ReadWay::Dropped);
    }

    #[test]
    fn a_file_whose_length_changes_is_no_content() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        for length in [0, PIECE / 2, 3 * PIECE] {
            fs::write(&path, vec![7; 2 * PIECE]).unwrap();
            // One that is read before keeps the readers from this one until its length has changed.
            let readers = BackReader::new();
            let before = folder.path().join("before");
            fs::write(&before, vec![1; (BUFFERS + 1) * PIECE]).unwrap();
            let first = readers.begin(&before, ReadWay::Direct).unwrap();
            let second = readers.begin(&path, ReadWay::Direct).unwrap();
            fs::File::options()
                .write(true)
                .open(&path)
                .unwrap()
                .set_len(length as u64)
                .unwrap();
            drop(first);
            let fault = all_of(second).unwrap_err();
            assert!(fault.offset <= 2 * PIECE as u64, "{fault:?}");
        }
    }
}
