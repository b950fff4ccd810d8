//! A file that appears complete or not at all: it is written beside its target and renamed when done.

use std::ffi::OsStr;
use std::fs::File;
use std::io::Error;
use std::io::ErrorKind;
use std::io::Read;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::Builder;
use std::thread::JoinHandle;

use tempfile::NamedTempFile;
use tempfile::TempPath;

use crate::catalogue::files::BESIDE_DATABASES;
use crate::catalogue::files::DATABASE_BEGINS;
use crate::catalogue::files::LOCK;
use crate::catalogue::migrations::APPLICATION_ID;
use crate::output::temp_file::begin_file;
use crate::output::temp_file::failed;
use crate::output::temp_file::folder_of;
use crate::output::temp_file::fsync_folder;
use crate::output::temp_file::is_the_same;
use crate::output::write_error::not_written;
use crate::output::write_error::with_disk_hint;
use crate::terms::failure::Failure;

/// Whether an existing file may be replaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overwrite {
    /// It may.
    Yes,
    /// It may not.
    No,
}

impl From<bool> for Overwrite {
    /// Of a flag to replace files.
    fn from(replace: bool) -> Self {
        if replace { Self::Yes } else { Self::No }
    }
}

/// A file being written. If dropped before it is kept, it leaves nothing behind.
pub struct AtomicFile<'t> {
    part: NamedTempFile,
    to: &'t Path,
    overwrite: Overwrite,
    what: &'static str,
}

impl<'t> AtomicFile<'t> {
    /// Begins a file of that name; `what` names its contents in messages: `list`, `report`.
    ///
    /// Refuses: a folder, a catalogue, an existing file that may not be replaced, a folder that cannot be written to.
    pub fn begin(to: &'t Path, overwrite: Overwrite, what: &'static str) -> Result<Self, Failure> {
        refuse_strange(to, what)?;
        refuse_catalogue(to)?;
        Self::begun(to, overwrite, what)
    }

    /// Begins a backup of a catalogue: the only file that may replace a database, and none but a catalogue's copy.
    ///
    /// Refuses: what [`AtomicFile::begin`] refuses, the catalogue itself, a catalogue in use, a file that is not a catalogue.
    pub fn begin_backup(
        to: &'t Path,
        overwrite: Overwrite,
        catalogue: &Path,
    ) -> Result<Self, Failure> {
        refuse_strange(to, "backup")?;
        let catalogue = catalogue.canonicalize();
        if catalogue.is_ok_and(|catalogue| is_the_same(to, &catalogue)) {
            return Err(failed("this is the catalogue itself", to)
                .hint("name another file, on another disk if you can"));
        }
        if to.exists() && overwrite == Overwrite::Yes && !is_catalogue(to) {
            return Err(failed(
                "this file is not a catalogue, and a backup replaces nothing else",
                to,
            )
            .hint("choose another name"));
        }
        if is_beside_database(to) {
            return Err(failed("this belongs to a catalogue", to).hint("choose another name"));
        }
        if is_in_use(to) {
            return Err(failed(
                "files that end in -wal, -shm or -journal are beside this name: a catalogue there is in use, or was not closed",
                to,
            )
            .hint("choose another name"));
        }
        Self::begun(to, overwrite, "backup")
    }

    /// Writes a file of these bytes.
    ///
    /// Refuses: what [`AtomicFile::begin`] refuses.
    pub fn write(
        to: &'t Path,
        overwrite: impl Into<Overwrite>,
        what: &'static str,
        bytes: &[u8],
    ) -> Result<(), Failure> {
        let mut file = Self::begin(to, overwrite.into(), what)?;
        let written = file.out().write_all(bytes);
        written.map_err(|error| file.unwritable(error))?;
        file.keep()
    }

    fn begun(to: &'t Path, overwrite: Overwrite, what: &'static str) -> Result<Self, Failure> {
        if overwrite == Overwrite::No && to.exists() {
            return Err(exists(to));
        }
        let part = begin_file(folder_of(to)).map_err(|e| not_written(what, to, e))?;
        Ok(Self {
            part,
            to,
            overwrite,
            what,
        })
    }

    /// The file to write to.
    pub fn out(&mut self) -> &mut File {
        self.part.as_file_mut()
    }

    /// Where it grows, for those who open it by its name.
    pub fn part(&self) -> &Path {
        self.part.path()
    }

    /// An error of writing it.
    pub fn unwritable(&self, error: Error) -> Failure {
        not_written(self.what, self.to, error)
    }

    /// A failure of filling it, with what to do if the disk is the cause.
    pub fn told(&self, failure: Failure) -> Failure {
        with_disk_hint(self.what, Some(self.to), failure)
    }

    /// Renames it to its target.
    pub fn keep(self) -> Result<(), Failure> {
        self.close()?.keep()
    }

    /// Closes it: everything is on the disk, and only the rename remains.
    pub fn close(self) -> Result<ClosedFile<'t>, Failure> {
        self.close_meanwhile().close()
    }

    /// Starts closing it in the background.
    pub fn close_meanwhile(self) -> ClosingFile<'t> {
        let (file, part) = self.part.into_parts();
        let file = Arc::new(file);
        let same = Arc::clone(&file);
        let syncing = match Builder::new().spawn(move || same.sync_all()) {
            Ok(thread) => Syncing::Begun(thread),
            Err(_) => Syncing::Done(file.sync_all()),
        };
        ClosingFile {
            syncing,
            closed: ClosedFile {
                part,
                to: self.to,
                overwrite: self.overwrite,
                what: self.what,
            },
        }
    }
}

/// A complete file that is being synced to the disk in the background. If dropped before it is kept, it leaves nothing
/// behind.
pub struct ClosingFile<'t> {
    syncing: Syncing,
    closed: ClosedFile<'t>,
}

enum Syncing {
    Begun(JoinHandle<std::io::Result<()>>),
    /// No thread could be started.
    Done(std::io::Result<()>),
}

impl<'t> ClosingFile<'t> {
    /// Closes it as [`AtomicFile::close`] does.
    pub fn close(self) -> Result<ClosedFile<'t>, Failure> {
        let broken_off = |_| Err(Error::other("syncing it to the disk was interrupted"));
        let synced = match self.syncing {
            Syncing::Begun(thread) => thread.join().unwrap_or_else(broken_off),
            Syncing::Done(synced) => synced,
        };
        synced.map_err(|e| not_written(self.closed.what, self.closed.to, e))?;
        Ok(self.closed)
    }
}

/// A complete file that is not yet renamed. If dropped before it is kept, it leaves nothing behind.
pub struct ClosedFile<'t> {
    part: TempPath,
    to: &'t Path,
    overwrite: Overwrite,
    what: &'static str,
}

impl ClosedFile<'_> {
    /// The resolved path of its target; `None` if its folder is gone.
    pub fn place(&self) -> Option<PathBuf> {
        let folder = folder_of(self.to).canonicalize().ok()?;
        Some(folder.join(self.to.file_name()?))
    }

    /// Renames it to its target.
    pub fn keep(self) -> Result<(), Failure> {
        let to = self.to;
        self.take_place()?;
        fsync_folder(folder_of(to));
        Ok(())
    }

    /// Renames it to its target; the folder may not be synced yet.
    fn take_place(self) -> Result<(), Failure> {
        let (to, what) = (self.to, self.what);
        let unwritable = |error: Error| not_written(what, to, error);
        match self.overwrite {
            Overwrite::Yes => self.part.persist(to).map_err(|e| unwritable(e.error)),
            Overwrite::No => self.part.persist_noclobber(to).map_err(|e| {
                if e.error.kind() == ErrorKind::AlreadyExists {
                    exists(to)
                } else {
                    unwritable(e.error)
                }
            }),
        }
    }
}

/// Renames several files of one folder to their targets, in order. If one fails, new ones already renamed are removed;
/// replaced files stay replaced.
pub fn keep_all(files: Vec<ClosedFile<'_>>) -> Result<(), Failure> {
    let mut placed: Vec<&Path> = Vec::with_capacity(files.len());
    let last = files.last().map(|file| file.to);
    for file in files {
        let (to, overwrite) = (file.to, file.overwrite);
        if let Err(failure) = file.take_place() {
            for new in placed {
                // If the removal fails too, nothing is worse than before.
                let _ = std::fs::remove_file(new);
            }
            return Err(failure);
        }
        if overwrite == Overwrite::No {
            placed.push(to);
        }
    }
    if let Some(last) = last {
        fsync_folder(folder_of(last));
    }
    Ok(())
}

/// Refuses the hyphen that means standard output elsewhere.
pub fn refuse_hyphen(to: &Path, what: &str) -> Result<(), Failure> {
    if to.as_os_str() == "-" {
        return Err(failed(
            &format!("the {what} needs a file, and cannot go to standard output"),
            to,
        )
        .hint("name a file (./- is one); framefall frames writes to standard output"));
    }
    Ok(())
}

/// Refuses an impossible target before any work is done: a folder, a name that is too long, a device, a pipe.
fn refuse_strange(to: &Path, what: &str) -> Result<(), Failure> {
    if to.is_dir() {
        return Err(
            failed(&format!("this is a folder; the {what} needs a file"), to)
                .hint("name a file in it"),
        );
    }
    refuse_hyphen(to, what)?;
    match std::fs::metadata(to) {
        Ok(about) if !about.is_file() => Err(failed(
            &format!("this is a device or a pipe; the {what} needs a file"),
            to,
        )
        .hint("framefall frames writes to standard output")),
        Err(error) if error.kind() == ErrorKind::InvalidFilename => {
            Err(not_written(what, to, error))
        }
        _ => Ok(()),
    }
}

/// Refuses the target if it is a catalogue, or a file of SQLite's beside one: replacing it would destroy years of work.
fn refuse_catalogue(to: &Path) -> Result<(), Failure> {
    // A link would be replaced, not the file it leads to.
    if to.is_symlink() || !belongs_to_database(to) {
        return Ok(());
    }
    Err(failed("this is a catalogue, or belongs to one", to)
        .hint("choose another name; --overwrite never replaces a catalogue"))
}

/// Whether a file is a database, or is named like a file beside one.
fn belongs_to_database(file: &Path) -> bool {
    is_database(file) || is_beside_database(file)
}

fn is_beside_database(file: &Path) -> bool {
    let name = file.file_name().and_then(OsStr::to_str);
    BESIDE_DATABASES.iter().any(|ending| {
        name.and_then(|name| name.strip_suffix(ending))
            .is_some_and(|base| is_database(&file.with_file_name(base)))
    })
}

/// Whether a log or journal of a database is beside a file.
fn is_in_use(file: &Path) -> bool {
    let name = file.file_name().unwrap_or_default();
    BESIDE_DATABASES
        .iter()
        .filter(|ending| **ending != LOCK)
        .any(|ending| {
            let mut beside = name.to_os_string();
            beside.push(ending);
            file.with_file_name(beside).exists()
        })
}

fn is_database(file: &Path) -> bool {
    head_of::<16>(file).is_some_and(|head| head == *DATABASE_BEGINS)
}

/// Whether a file is a database with the mark of a catalogue.
fn is_catalogue(file: &Path) -> bool {
    // Source: SQLite documentation, Database File Format, 1.3: the application id is at offset 68.
    head_of::<72>(file).is_some_and(|head| {
        head.starts_with(DATABASE_BEGINS) && head[68..] == APPLICATION_ID.to_be_bytes()
    })
}

/// The first bytes of a file that has so many.
fn head_of<const N: usize>(file: &Path) -> Option<[u8; N]> {
    // Opening a pipe would block until somebody writes into it.
    if !file.is_file() {
        return None;
    }
    let mut head = [0; N];
    File::open(file).ok()?.read_exact(&mut head).ok()?;
    Some(head)
}

fn exists(to: &Path) -> Failure {
    failed("this file already exists", to)
        .hint("choose another name, or replace it with --overwrite")
}
