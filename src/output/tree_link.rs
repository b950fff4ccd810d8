//! One link of a tree: symbolic, hard, reflink, or a copy. Changes nothing of the file it stands for.

use std::fs;
use std::fs::File;
use std::io;
use std::io::ErrorKind::FileTooLarge;
use std::io::ErrorKind::QuotaExceeded;
use std::io::ErrorKind::ReadOnlyFilesystem;
use std::io::ErrorKind::StorageFull;
use std::path::Path;
use std::time::Duration;
use std::time::UNIX_EPOCH;

use crate::capture::folder::open_named as open_source;
use crate::capture::presence::refuse_short;
use crate::output::unwritten::unwritten;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::linktree::LinkAs;
use crate::terms::linktree::TreeLink;

/// Makes a link at a place where nothing is.
/// `tree` is the place of the whole, for messages.
pub(super) fn make_link(
    link_as: LinkAs,
    link: &TreeLink,
    at: &Path,
    tree: &Path,
) -> Result<(), Failure> {
    // A pipe would be waited for without end, a device copied without end, and a link leads out of the dump.
    let is_no_file = fs::symlink_metadata(&link.source).is_ok_and(|about| !about.is_file());
    if is_no_file && link_as != LinkAs::Symbolic {
        let message = "where this file was there is a link, a folder, a pipe or a device now";
        return Err(Failure::new(FailureKind::Output, message)
            .at_file(&link.source)
            .hint("restore the file, or leave such frames out with --allow-missing and without --check none"));
    }
    let made = match link_as {
        LinkAs::Symbolic => symbolic(&link.source, at),
        LinkAs::Hard => fs::hard_link(&link.source, at),
        LinkAs::Reflink => filled(link, at, reflink),
        LinkAs::Copy => filled(link, at, |from, to| io::copy(from, to).map(|_| ())),
    };
    made.map_err(|error| {
        if matches!(
            error.kind(),
            StorageFull | QuotaExceeded | FileTooLarge | ReadOnlyFilesystem
        ) {
            return unwritten("tree", tree, error);
        }
        let (message, cure) = told(link_as, &error);
        Failure::new(FailureKind::Output, message)
            .at_file(&link.source)
            .hint(cure)
            .because(error)
    })
}

/// What went wrong, and what helps.
fn told(link_as: LinkAs, error: &io::Error) -> (&'static str, &'static str) {
    use io::ErrorKind::CrossesDevices;
    use io::ErrorKind::NotFound;
    match (link_as, error.kind()) {
        (_, NotFound) => (
            "this file is not there",
            "leave such frames out with --allow-missing and without --check none",
        ),
        (LinkAs::Hard, CrossesDevices) => (
            "a hard link cannot reach another disk, and this file lies on one",
            "name a folder on the disk of the dump, or take --link-as symbolic or copy",
        ),
        (LinkAs::Reflink, CrossesDevices) => (
            "a reflink cannot reach another disk, and this file lies on one",
            "name a folder on the disk of the dump, or take --link-as symbolic or copy",
        ),
        (LinkAs::Symbolic, _) => (
            "a symbolic link to this file cannot be made",
            "the disk of the tree may know none, or the system may keep them to some users: take --link-as hard or copy",
        ),
        (LinkAs::Hard, _) => (
            "a hard link to this file cannot be made",
            "the disk may know none, or the file may be somebody else's: take --link-as symbolic or copy",
        ),
        (LinkAs::Reflink, _) => (
            "the disk cannot share this file's contents",
            "take --link-as symbolic, hard or copy",
        ),
        (LinkAs::Copy, _) => (
            "this file cannot be copied",
            "check that it can be read, and that there is room where the tree is made",
        ),
    }
}

#[cfg(unix)]
fn symbolic(source: &Path, at: &Path) -> io::Result<()> {
    std::os::unix::fs::symlink(source, at)
}

#[cfg(windows)]
fn symbolic(source: &Path, at: &Path) -> io::Result<()> {
    std::os::windows::fs::symlink_file(source, at)
}

#[cfg(not(any(unix, windows)))]
fn symbolic(_: &Path, _: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// A new file with the contents and the time stamp of the frame's own.
fn filled(
    link: &TreeLink,
    at: &Path,
    fill: impl Fn(&mut File, &mut File) -> io::Result<()>,
) -> io::Result<()> {
    let mut from = open_source(&link.source)?;
    let mut to = File::create_new(at)?;
    fill(&mut from, &mut to)?;
    let there = from.metadata()?;
    let made = to.metadata()?.len();
    if made != there.len() {
        let is_as_listed =
            there.len() == link.bytes && modified_ns(&there) == Some(link.modified_ns);
        if is_as_listed {
            refuse_short(made, there.len())?;
        }
        return Err(io::Error::other("it changed while it was read"));
    }
    if let Ok(modified) = there.modified() {
        // A time stamp that cannot be set loses nothing of the picture.
        let _ = to.set_modified(modified);
    }
    to.sync_all()
}

#[cfg(target_os = "linux")]
fn reflink(from: &mut File, to: &mut File) -> io::Result<()> {
    Ok(rustix::fs::ioctl_ficlone(&*to, &*from)?)
}

#[cfg(not(target_os = "linux"))]
fn reflink(_: &mut File, _: &mut File) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// The time stamp of a file, nanoseconds since 1970.
pub(super) fn modified_ns(about: &fs::Metadata) -> Option<i64> {
    let at = about.modified().ok()?;
    let ns = |span: Duration| i64::try_from(span.as_nanos()).ok();
    match at.duration_since(UNIX_EPOCH) {
        Ok(since) => ns(since),
        Err(before) => ns(before.duration()).map(std::ops::Neg::neg),
    }
}
