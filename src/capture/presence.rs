//! Whether a file is unchanged since it was read: present, with the same size, time and contents. Changes nothing.

use std::fs::Metadata;
use std::io;
use std::io::Read;
use std::path::Path;
use std::time::UNIX_EPOCH;

use crate::capture::class::classify;
use crate::capture::folder::entries;
use crate::capture::folder::open;
use crate::capture::read::FileReader;

/// Bytes read at a time for a hash.
const STRETCH: usize = 1 << 20;

/// The state of a file on the disk.
#[derive(Debug)]
pub enum Presence {
    /// Present, with the size and time it had.
    Unchanged,
    /// Missing.
    Missing,
    /// Present with the same size and another time stamp.
    Retimed,
    /// Present but different: how it differs.
    Changed(String),
    /// The disk gave an error.
    Fault(io::Error),
}

/// The contents of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Contents {
    /// The BLAKE3 hash of all its bytes.
    pub blake3: [u8; 32],
    /// The fingerprint, as an ingest would compute it.
    pub fingerprint: Option<[u8; 16]>,
}

/// The words for a different time stamp.
pub const RETIMED: &str = "its time stamp has changed";

/// The state of a dump's folder on the disk.
#[derive(Debug)]
pub enum Root {
    /// Present and not empty.
    Filled,
    /// Present and empty: a mount point remains when its disk is removed.
    Empty,
    /// Missing.
    Gone,
    /// It cannot be listed.
    Shut(io::Error),
}

fn is_gone(error: &io::Error) -> bool {
    let gone = [io::ErrorKind::NotFound, io::ErrorKind::NotADirectory];
    gone.contains(&error.kind())
}

/// Checks whether a dump's folder is there and not empty.
pub fn look_at_root(folder: &Path) -> Root {
    match entries(folder).map(|mut entries| entries.next()) {
        Ok(Some(Ok(_))) => Root::Filled,
        Ok(None) => Root::Empty,
        Err(error) if is_gone(&error) => Root::Gone,
        Ok(Some(Err(error))) | Err(error) => Root::Shut(error),
    }
}

/// Checks a file without opening it. A link in place of the file is a different file.
pub fn look(path: &Path, bytes: u64, modified_ns: i64) -> Presence {
    let there = match std::fs::symlink_metadata(path) {
        Ok(there) => there,
        Err(error) if is_gone(&error) => return Presence::Missing,
        Err(error) => return Presence::Fault(error),
    };
    if !there.is_file() {
        return Presence::Changed("no longer a file".to_owned());
    }
    if there.len() != bytes {
        return Presence::Changed(format!("{} bytes instead of {bytes}", there.len()));
    }
    if self::modified_ns(&there) != modified_ns {
        return Presence::Retimed;
    }
    Presence::Unchanged
}

/// The file system's time stamp in nanoseconds since 1970; 0 where it has none.
pub fn modified_ns(about: &Metadata) -> i64 {
    let Ok(at) = about.modified() else {
        return 0;
    };
    match at.duration_since(UNIX_EPOCH) {
        Ok(after) => i64::try_from(after.as_nanos()).unwrap_or(i64::MAX),
        Err(before) => {
            i64::try_from(before.duration().as_nanos()).map_or(i64::MIN, std::ops::Neg::neg)
        }
    }
}

/// Reads whole files, one after another, with one set of buffers. In one thread: a disk is fastest reading one file at
/// a time, and the hash is faster than most disks.
#[derive(Debug)]
pub struct ContentReader {
    reader: FileReader,
    stretch: Vec<u8>,
}

impl Default for ContentReader {
    fn default() -> Self {
        Self::new()
    }
}

impl ContentReader {
    /// A reader with its buffer.
    pub fn new() -> Self {
        Self {
            reader: FileReader::new(),
            stretch: vec![0; STRETCH],
        }
    }

    /// The contents of a file of this size. Reads all of it; follows no link.
    pub fn contents(&mut self, path: &Path, bytes: u64) -> io::Result<Contents> {
        let mut file = open(path)?;
        let mut hasher = blake3::Hasher::new();
        let mut read = 0_u64;
        loop {
            match file.read(&mut self.stretch) {
                Ok(0) => break,
                Ok(n) => {
                    hasher.update(&self.stretch[..n]);
                    read += n as u64;
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        refuse_short(read, file.metadata()?.len())?;
        let class = classify(path.file_name().unwrap_or_default());
        let fingerprint = self
            .reader
            .read(path, bytes, class)?
            .and_then(|reading| reading.fingerprint);
        Ok(Contents {
            blake3: *hasher.finalize().as_bytes(),
            fingerprint,
        })
    }
}

/// Refuses a file that ended before the size that its disk still reports: a fault of the disk or its reader, not a
/// change of the file.
pub fn refuse_short(read: u64, size: u64) -> io::Result<()> {
    if read < size {
        return Err(io::Error::new(
            io::ErrorKind::UnexpectedEof,
            format!("only {read} of its {size} bytes could be read"),
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_read_is_an_error_of_reading() {
        let error = refuse_short(4_096, 25_000_000).unwrap_err();
        assert_eq!(
            error.to_string(),
            "only 4096 of its 25000000 bytes could be read"
        );
        assert!(refuse_short(0, 0).is_ok() && refuse_short(7, 7).is_ok());
        // It grew meanwhile: the check of size and time afterwards reports it.
        assert!(refuse_short(9, 7).is_ok());
    }
}
