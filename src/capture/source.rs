//! Positioned reads of one file: counted, capped, each block read once. Does not interpret the bytes.

use std::fs::File;
use std::io;

use crate::capture::folder::read_at;
use crate::capture::shortage::is_shortage;
use crate::capture::shortage::patiently;

/// Bytes read from the start of every file. One page-cache read-ahead on most systems; contains all metadata of most
/// JPEG files and the directories of most raw files.
pub const HEAD: usize = 16 * 1024;
/// Bytes read at the very end of a file: the sample for the fingerprint, and the place of end markers.
pub const TAIL: usize = 2 * 1024;
/// Bytes read in the middle of a file, for the fingerprint.
pub const MIDDLE: usize = 2 * 1024;
/// The most that is read of one file for its metadata. With tail and middle it stays under 128 KiB.
pub const BUDGET: u64 = 120 * 1024;
/// The most that is read of a block that was unpacked.
pub const UNPACKED_BUDGET: u64 = 256 * 1024;
/// The granularity of reads outside the head: what a disk delivers at the cost of one byte.
pub const PAGE: u64 = 4096;
/// The granularity of hops along a chain of chunks, of which only the first bytes matter.
pub const HOP: u64 = 64;

/// Why bytes are not available.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lack {
    /// They are past the end of the file.
    PastEnd,
    /// They would cost more than may be read of one file.
    OverBudget,
    /// The disk gave an error, now or before.
    Fault,
}

impl Lack {
    /// The same in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::PastEnd => "past the end",
            Self::OverBudget => "beyond the read limit for one file",
            Self::Fault => "could not be read",
        }
    }
}

/// An error of the disk.
#[derive(Debug)]
pub struct Fault {
    /// The first byte that could not be read.
    pub offset: u64,
    /// The system's message.
    pub error: io::Error,
}

/// Where bytes come from.
#[derive(Debug)]
enum Medium {
    Disk(File),
    Memory(Vec<u8>),
}

/// A part of the file in memory.
#[derive(Clone, Copy, Debug)]
struct Span {
    start: u64,
    at: usize,
    len: usize,
}

/// One file, as far as it has been read.
#[derive(Debug)]
pub struct Source {
    medium: Medium,
    length: u64,
    /// Grows to the largest need of any file and keeps its length, so that it is not zeroed for each file.
    store: Vec<u8>,
    /// How much of it belongs to this file.
    used: usize,
    spans: Vec<Span>,
    read: u64,
    budget: u64,
    fault: Option<Fault>,
}

impl Source {
    /// A source with nothing in it, whose buffers grow as files need.
    pub fn idle() -> Self {
        Self::memory(Vec::new())
    }

    /// Bytes that were unpacked or joined. The parts that are read are copied, up to [`UNPACKED_BUDGET`].
    pub fn memory(bytes: Vec<u8>) -> Self {
        let length = bytes.len() as u64;
        Self {
            medium: Medium::Memory(bytes),
            length,
            store: Vec::new(),
            used: 0,
            spans: Vec::new(),
            read: 0,
            budget: UNPACKED_BUDGET,
            fault: None,
        }
    }

    /// Switches to another file, keeping the buffers, and reads its head.
    pub fn open_file(&mut self, file: File, length: u64) {
        hint_random(&file);
        self.start(Medium::Disk(file), length);
    }

    /// Switches to bytes that represent a file, and reads their head.
    pub fn open_bytes(&mut self, bytes: Vec<u8>) {
        let length = bytes.len() as u64;
        self.start(Medium::Memory(bytes), length);
    }

    fn start(&mut self, medium: Medium, length: u64) {
        self.medium = medium;
        self.length = length;
        self.used = 0;
        self.spans.clear();
        self.read = 0;
        self.budget = BUDGET;
        self.fault = None;
        let head = usize::try_from(length).map_or(HEAD, |whole| whole.min(HEAD));
        self.load(0, head);
    }

    /// Closes the file; the buffers are kept.
    pub fn close(&mut self) {
        self.medium = Medium::Memory(Vec::new());
    }

    /// The length of the file, from the walk.
    pub const fn length(&self) -> u64 {
        self.length
    }

    /// Bytes read from the disk so far.
    pub const fn bytes_read(&self) -> u64 {
        self.read
    }

    /// Bytes held by its buffers.
    pub const fn held_memory(&self) -> usize {
        self.store.capacity() + self.spans.capacity() * size_of::<Span>()
    }

    /// The first error of the disk, if any. After it nothing more is read: each read of a failing card takes long.
    pub const fn fault(&self) -> Option<&Fault> {
        self.fault.as_ref()
    }

    /// Takes the fault if it is a shortage of this computer, which has nothing to do with the file.
    pub fn shortage(&mut self) -> Option<io::Error> {
        self.fault
            .take_if(|fault| is_shortage(&fault.error))
            .map(|fault| fault.error)
    }

    /// The head of the file, as much of it as could be read.
    pub fn head(&self) -> &[u8] {
        match self.spans.first() {
            Some(span) if span.start == 0 => &self.store[span.at..span.at + span.len],
            _ => &[],
        }
    }

    /// Bytes of the file. Read from the disk in whole pages unless they are held.
    pub fn bytes(&mut self, offset: u64, len: usize) -> Result<&[u8], Lack> {
        self.grained(offset, len, PAGE)
    }

    /// The same, with another granularity: a power of two.
    pub fn grained(&mut self, offset: u64, len: usize, grain: u64) -> Result<&[u8], Lack> {
        let end = offset.checked_add(len as u64).ok_or(Lack::PastEnd)?;
        if end > self.length {
            return Err(Lack::PastEnd);
        }
        if self.held(offset, len).is_none() {
            let start = offset & !(grain - 1);
            let stop = end
                .checked_add(grain - 1)
                .map_or(end, |up| up & !(grain - 1))
                .min(self.length);
            let want = stop - start;
            if self.fault.is_some() {
                return Err(Lack::Fault);
            }
            if self.read.saturating_add(want) > self.budget {
                return Err(Lack::OverBudget);
            }
            self.load(start, usize::try_from(want).map_err(|_| Lack::OverBudget)?);
        }
        self.held_bytes(offset, len).ok_or(Lack::Fault)
    }

    /// Bytes of the file at the granularity of a hop.
    pub fn hop<const N: usize>(&mut self, offset: u64) -> Result<[u8; N], Lack> {
        let mut out = [0; N];
        out.copy_from_slice(self.grained(offset, N, HOP)?);
        Ok(out)
    }

    /// A few bytes by value.
    pub fn array<const N: usize>(&mut self, offset: u64) -> Result<[u8; N], Lack> {
        let mut out = [0; N];
        out.copy_from_slice(self.bytes(offset, N)?);
        Ok(out)
    }

    /// Bytes that are held already; reads nothing.
    pub fn held_bytes(&self, offset: u64, len: usize) -> Option<&[u8]> {
        let from = self.held(offset, len)?;
        self.store.get(from..from + len)
    }

    /// Whether bytes are held and differ from these. Reads nothing: bytes that are not held are assumed to match.
    pub fn is_held_otherwise(&self, offset: u64, bytes: &[u8]) -> bool {
        self.held_bytes(offset, bytes.len())
            .is_some_and(|held| held != bytes)
    }

    /// A sample of the file, outside the budget: at most [`TAIL`] or [`MIDDLE`] bytes, requested once each.
    pub fn sample(&mut self, offset: u64, len: usize) -> &[u8] {
        let len = usize::try_from(self.length.saturating_sub(offset)).map_or(len, |l| l.min(len));
        if self.held(offset, len).is_none() && self.fault.is_none() {
            self.load(offset, len);
        }
        self.held_bytes(offset, len).unwrap_or(&[])
    }

    /// The last bytes of the file.
    pub fn tail(&mut self) -> &[u8] {
        let from = self.length.saturating_sub(TAIL as u64);
        self.sample(from, TAIL)
    }

    fn held(&self, offset: u64, len: usize) -> Option<usize> {
        // The latest first: a chain of hops is in the span that grows, which must not be searched for after hundreds of
        // others.
        self.spans.iter().rev().find_map(|span| {
            let into = usize::try_from(offset.checked_sub(span.start)?).ok()?;
            (into <= span.len && len <= span.len - into).then(|| span.at + into)
        })
    }

    fn load(&mut self, start: u64, len: usize) {
        let at = self.used;
        if self.store.len() < at + len {
            self.store.resize(at + len, 0);
        }
        let into = &mut self.store[at..at + len];
        let (got, error) = match &self.medium {
            Medium::Disk(file) => fill(file, start, into),
            Medium::Memory(bytes) => {
                let from = usize::try_from(start).map_or(bytes.len(), |s| s.min(bytes.len()));
                let got = (bytes.len() - from).min(len);
                into[..got].copy_from_slice(&bytes[from..from + got]);
                (got, None)
            }
        };
        self.read += got as u64;
        self.used = at + got;
        match self.spans.as_mut_slice() {
            // A read that continues where the last one ended extends that span; the head is never extended.
            [_, .., last] if last.start + last.len as u64 == start && last.at + last.len == at => {
                last.len += got;
            }
            _ => self.spans.push(Span {
                start,
                at,
                len: got,
            }),
        }
        if got < len && self.fault.is_none() {
            let error = error.unwrap_or_else(|| {
                io::Error::new(io::ErrorKind::UnexpectedEof, "the file has become shorter")
            });
            self.fault = Some(Fault {
                offset: start + got as u64,
                error,
            });
        }
    }
}

/// Reads until the buffer is full, the file ends or the disk gives an error.
pub(super) fn fill(file: &File, start: u64, into: &mut [u8]) -> (usize, Option<io::Error>) {
    let mut got = 0;
    while got < into.len() {
        match patiently(|| read_at(file, start + got as u64, &mut into[got..])) {
            Ok(0) => return (got, None),
            Ok(n) => got += n,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return (got, Some(error)),
        }
    }
    (got, None)
}

/// Asks the system not to read ahead: with cold data the disk then transfers less than half as much.
#[cfg(any(target_os = "linux", target_os = "android", target_os = "freebsd"))]
fn hint_random(file: &File) {
    // If the hint is ignored, only time is lost.
    let _ = rustix::fs::fadvise(file, 0, None, rustix::fs::Advice::Random);
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_os = "freebsd")))]
fn hint_random(_file: &File) {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::folder::open;

    fn ramp(len: usize) -> Vec<u8> {
        (0..len)
            .map(|i| u8::try_from(i % 251).unwrap_or_default())
            .collect()
    }

    #[test]
    fn a_page_is_read_once_and_counted() {
        let bytes = ramp(200_000);
        let mut source = Source::idle();
        source.open_bytes(bytes.clone());
        assert_eq!(source.bytes_read(), HEAD as u64);
        assert_eq!(source.bytes(100_001, 10), Ok(&bytes[100_001..100_011]));
        assert_eq!(source.bytes_read(), HEAD as u64 + PAGE);
        assert_eq!(source.bytes(100_040, 3), Ok(&bytes[100_040..100_043]));
        assert_eq!(source.bytes_read(), HEAD as u64 + PAGE);
        assert_eq!(source.bytes(16_380, 8), Ok(&bytes[16_380..16_388]));
        assert_eq!(source.bytes(199_990, 11), Err(Lack::PastEnd));
        assert_eq!(source.bytes(u64::MAX, 11), Err(Lack::PastEnd));
    }

    #[test]
    fn the_budget_is_a_wall() {
        let mut source = Source::idle();
        source.open_bytes(ramp(10_000_000));
        for step in 1..1000_u64 {
            let _ = source.bytes(step * 9_000, 4);
        }
        assert!(source.bytes_read() <= BUDGET);
        assert_eq!(source.bytes(9_900_000, 4), Err(Lack::OverBudget));
        assert_eq!(source.tail().len(), TAIL);
        assert!(source.bytes_read() <= 128 * 1024);
    }

    #[test]
    fn a_file_that_shrank_is_a_fault_with_its_place() {
        let path = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(path.path(), ramp(20_000)).unwrap();
        let mut source = Source::idle();
        source.open_file(open(path.path()).unwrap(), 40_000);
        assert!(source.fault().is_none());
        assert_eq!(source.bytes(30_000, 4), Err(Lack::Fault));
        assert_eq!(source.fault().map(|f| f.offset), Some(28_672));
    }
}
