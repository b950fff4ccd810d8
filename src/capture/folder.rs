//! Opens folders and files of a dump without changing access times on the card. Follows no entry, reads no contents.
//!
//! Linux leaves the access time unchanged if the owner asks for it (`O_NOATIME`). For a file of another user the flag
//! is refused, and the file is opened without it.

use std::ffi::OsString;
use std::fs::File;
use std::io;
use std::path::Path;

use crate::capture::shortage::patiently;

/// An entry of a folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its name, byte for byte.
    pub name: OsString,
    /// What it is.
    pub kind: EntryKind,
}

/// What an entry of a folder is. Links are not followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EntryKind {
    /// A file.
    File,
    /// A folder.
    Folder,
    /// A symbolic link.
    Link,
    /// A device, pipe or socket, in words.
    Special(&'static str),
}

/// The entries of a folder, in the order of the file system. The folder itself may be a link.
pub fn entries(folder: &Path) -> io::Result<impl Iterator<Item = io::Result<Entry>> + use<>> {
    patiently(|| system::entries(folder))
}

/// Opens a file for reading without following a link and without waiting on a pipe.
pub fn open(path: &Path) -> io::Result<File> {
    patiently(|| system::open(path, system::Links::Refused))
}

/// The same, but follows a link: the photographer named it.
pub fn open_named(path: &Path) -> io::Result<File> {
    patiently(|| system::open(path, system::Links::Followed))
}

/// Reads bytes from an offset on.
#[cfg(unix)]
pub fn read_at(file: &File, offset: u64, into: &mut [u8]) -> io::Result<usize> {
    std::os::unix::fs::FileExt::read_at(file, into, offset)
}

/// Reads bytes from an offset on.
#[cfg(windows)]
pub fn read_at(file: &File, offset: u64, into: &mut [u8]) -> io::Result<usize> {
    std::os::windows::fs::FileExt::seek_read(file, into, offset)
}

#[cfg(unix)]
mod system {
    use std::ffi::OsStr;
    use std::fs::File;
    use std::io;
    use std::os::fd::OwnedFd;
    use std::os::unix::ffi::OsStrExt;
    use std::path::Path;

    use rustix::fs::AtFlags;
    use rustix::fs::Dir;
    use rustix::fs::FileType;
    use rustix::fs::Mode;
    use rustix::fs::OFlags;

    use super::Entry;
    use super::EntryKind;

    /// What to do if a path ends in a link.
    #[derive(Clone, Copy, PartialEq, Eq)]
    pub enum Links {
        Followed,
        Refused,
    }

    pub fn open(path: &Path, links: Links) -> io::Result<File> {
        let flags = match links {
            Links::Refused => OFlags::NOFOLLOW | OFlags::NONBLOCK,
            // A named pipe blocks until it is opened at the other end.
            Links::Followed => OFlags::empty(),
        };
        let flags = flags | OFlags::RDONLY | OFlags::CLOEXEC;
        Ok(File::from(open_unnoticed(path, flags)?))
    }

    /// Opens without changing the access time, if the system allows it.
    #[cfg(any(target_os = "linux", target_os = "android"))]
    fn open_unnoticed(path: &Path, flags: OFlags) -> rustix::io::Result<OwnedFd> {
        match rustix::fs::open(path, flags | OFlags::NOATIME, Mode::empty()) {
            Err(rustix::io::Errno::PERM) => rustix::fs::open(path, flags, Mode::empty()),
            opened => opened,
        }
    }

    #[cfg(not(any(target_os = "linux", target_os = "android")))]
    fn open_unnoticed(path: &Path, flags: OFlags) -> rustix::io::Result<OwnedFd> {
        rustix::fs::open(path, flags, Mode::empty())
    }

    pub fn entries(folder: &Path) -> io::Result<impl Iterator<Item = io::Result<Entry>> + use<>> {
        let flags = OFlags::RDONLY | OFlags::DIRECTORY | OFlags::CLOEXEC;
        let mut dir = Dir::new(open_unnoticed(folder, flags)?)?;
        Ok(std::iter::from_fn(move || {
            loop {
                let found = match dir.read()? {
                    Ok(found) => found,
                    Err(error) => return Some(Err(error.into())),
                };
                let name = found.file_name();
                if name != c"." && name != c".." {
                    let kind = kind(&dir, found.file_type(), name);
                    let name = OsStr::from_bytes(name.to_bytes()).to_owned();
                    return Some(kind.map(|kind| Entry { name, kind }));
                }
            }
        }))
    }

    /// Some file systems list names without their kinds.
    fn kind(dir: &Dir, listed: FileType, name: &std::ffi::CStr) -> io::Result<EntryKind> {
        let kind = if listed == FileType::Unknown {
            let about = rustix::fs::statat(dir.fd()?, name, AtFlags::SYMLINK_NOFOLLOW)?;
            FileType::from_raw_mode(about.st_mode)
        } else {
            listed
        };
        Ok(match kind {
            FileType::RegularFile => EntryKind::File,
            FileType::Directory => EntryKind::Folder,
            FileType::Symlink => EntryKind::Link,
            FileType::Fifo => EntryKind::Special("a pipe"),
            FileType::Socket => EntryKind::Special("a socket"),
            _ => EntryKind::Special("a device"),
        })
    }
}

#[cfg(not(unix))]
mod system {
    use std::fs::File;
    use std::io;
    use std::path::Path;

    use super::Entry;
    use super::EntryKind;

    /// What to do if a path ends in a link: on this platform links are rare, and always followed.
    #[derive(Clone, Copy, PartialEq, Eq)]
    pub enum Links {
        Followed,
        Refused,
    }

    pub fn open(path: &Path, _links: Links) -> io::Result<File> {
        File::open(path)
    }

    pub fn entries(folder: &Path) -> io::Result<impl Iterator<Item = io::Result<Entry>> + use<>> {
        Ok(std::fs::read_dir(folder)?.map(|entry| {
            let entry = entry?;
            let kind = entry.file_type()?;
            Ok(Entry {
                name: entry.file_name(),
                kind: if kind.is_symlink() {
                    EntryKind::Link
                } else if kind.is_dir() {
                    EntryKind::Folder
                } else if kind.is_file() {
                    EntryKind::File
                } else {
                    EntryKind::Special("something that is neither file nor folder")
                },
            })
        }))
    }
}
