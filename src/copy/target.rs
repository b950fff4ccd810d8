//! One target: a thread that writes files beside their places, and one that reads each back and puts it in its place.

use std::io;
use std::io::ErrorKind;
use std::io::Write;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;
use std::time::Duration;
use std::time::SystemTime;
use std::time::UNIX_EPOCH;

use crossbeam_channel::Receiver;
use crossbeam_channel::Sender;
use tempfile::NamedTempFile;

use crate::capture::buffer::Chunk;
use crate::capture::presence::modified_ns;
use crate::copy::order::CardFile;
use crate::copy::order::Fate;
use crate::copy::order::Found;
use crate::copy::part::begin;
use crate::copy::part::make_folder;
use crate::copy::part::take_place;
use crate::copy::read_back::BackReader;
use crate::copy::read_back::Sha256Too;
use crate::terms::content::Hashes;
use crate::terms::content::ReadWay;

/// What a target is told to do.
pub(super) enum Task {
    /// Begin to write the file of that number.
    Begin(usize),
    /// More of it.
    More(Chunk),
    /// All of it was handed over; its hashes.
    End(Hashes),
    /// It could not be read to its end.
    Abort,
    /// Read back the file of that number, which is there.
    Check(usize, Hashes),
}

/// What a target's second thread reads back.
pub(super) struct ToReadBack {
    index: usize,
    hashes: Hashes,
    /// The file that was written; none for one that was there.
    part: Option<NamedTempFile>,
}

/// One target, and what its threads share.
pub(super) struct Target<'a> {
    pub(super) root: &'a Path,
    pub(super) is_device: bool,
    pub(super) files: &'a [CardFile],
    /// It takes no more: the disk is full, or cannot be written to.
    pub(super) is_closed: AtomicBool,
    /// Bytes that were read from the card or read back, at all targets.
    pub(super) moved: &'a AtomicU64,
    /// The number of the file that is being read back.
    pub(super) reading_back: &'a AtomicUsize,
}

impl Target<'_> {
    /// Writes files as it is told, until nobody tells it any more.
    pub(super) fn write(
        &self,
        tasks: &Receiver<Task>,
        read_back: &Sender<ToReadBack>,
        tell: &dyn Fn(usize, Fate),
    ) {
        let mut open: Option<(usize, io::Result<NamedTempFile>)> = None;
        for task in tasks {
            match task {
                Task::Begin(index) => open = Some((index, self.begin(index))),
                Task::More(chunk) => {
                    if let Some((_, part)) = &mut open
                        && let Ok(file) = part
                        && let Err(error) = file.as_file_mut().write_all(chunk.bytes())
                    {
                        *part = Err(error);
                    }
                }
                Task::Abort => {
                    if let Some((index, _)) = open.take() {
                        tell(index, Fate::NotTried);
                    }
                }
                Task::End(hashes) => {
                    let Some((index, part)) = open.take() else {
                        continue;
                    };
                    match part.and_then(|part| self.bring_to_disk(index, part)) {
                        Ok(part) => {
                            let _ = read_back.send(ToReadBack {
                                index,
                                hashes,
                                part: Some(part),
                            });
                        }
                        Err(error) => self.fail(index, error, tell),
                    }
                }
                Task::Check(index, hashes) => {
                    let _ = read_back.send(ToReadBack {
                        index,
                        hashes,
                        part: None,
                    });
                }
            }
        }
    }

    fn begin(&self, index: usize) -> io::Result<NamedTempFile> {
        let place = self.root.join(&self.files[index].below);
        let folder = place.parent().unwrap_or(self.root);
        make_folder(folder)?;
        begin(folder)
    }

    /// The card's time stamp, and all bytes on the disk. A sync that failed is never tried again on the same file: the
    /// system may have forgotten the pages that it could not write.
    fn bring_to_disk(&self, index: usize, part: NamedTempFile) -> io::Result<NamedTempFile> {
        if let Some(at) = system_time(self.files[index].modified_ns) {
            // A time stamp that the file system cannot hold does not keep a picture from being copied.
            let _ = part.as_file().set_modified(at);
        }
        part.as_file().sync_all()?;
        Ok(part)
    }

    fn fail(&self, index: usize, error: io::Error, tell: &dyn Fn(usize, Fate)) {
        if matches!(
            error.kind(),
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::ReadOnlyFilesystem
        ) {
            self.is_closed.store(true, Ordering::Relaxed);
        }
        tell(index, Fate::Failed(error));
    }

    /// Reads files back, compares, and puts those that were written in their places.
    pub(super) fn read_back(&self, waiting: &Receiver<ToReadBack>, tell: &dyn Fn(usize, Fate)) {
        let reader = BackReader::new();
        for one in waiting {
            let index = one.index;
            self.reading_back.store(index, Ordering::Relaxed);
            match self.compare(&reader, one) {
                Ok(fate) => tell(index, fate),
                Err(error) => self.fail(index, error, tell),
            }
            self.reading_back.store(usize::MAX, Ordering::Relaxed);
        }
    }

    fn compare(&self, reader: &BackReader, one: ToReadBack) -> io::Result<Fate> {
        let file = &self.files[one.index];
        let place = self.root.join(&file.below);
        let at = one
            .part
            .as_ref()
            .map_or(place.as_path(), |part| part.path());
        if one.part.is_none() {
            // Another program may have written it a moment ago.
            std::fs::File::open(at)?.sync_all()?;
        }
        let found = reader
            .read(
                at,
                ReadWay::Direct.if_device(self.is_device),
                Sha256Too::No,
                &mut |bytes| {
                    self.moved.fetch_add(bytes, Ordering::Relaxed);
                },
            )
            .map_err(|fault| fault.error)?;
        let is_same = found.bytes == file.bytes && found.blake3 == one.hashes.blake3;
        let in_place = |place: &Path| -> io::Result<Found> {
            let modified_ns = modified_ns(&place.symlink_metadata()?);
            let way = found.way;
            Ok(Found { way, modified_ns })
        };
        Ok(match (one.part, is_same) {
            (Some(part), true) => match take_place(part, &place) {
                Ok(()) => Fate::Written(in_place(&place)?),
                Err(error) if error.kind() == ErrorKind::AlreadyExists => {
                    Fate::Refused("another file took the name meanwhile".to_owned())
                }
                Err(error) => return Err(error),
            },
            (Some(_), false) => Fate::Differs,
            (None, true) => Fate::There(in_place(&place)?),
            (None, false) => {
                Fate::Refused("a file of this name and size has other contents".to_owned())
            }
        })
    }
}

/// A time stamp of nanoseconds since 1970; `None` where there was none.
pub(super) fn system_time(modified_ns: i64) -> Option<SystemTime> {
    let span = Duration::from_nanos(modified_ns.unsigned_abs());
    match modified_ns {
        0 => None,
        1.. => UNIX_EPOCH.checked_add(span),
        _ => UNIX_EPOCH.checked_sub(span),
    }
}
