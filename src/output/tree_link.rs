//! One link of a tree: symbolic, hard, reflink, or a copy. Never changes the source file.

use std::fs;
use std::fs::File;
use std::io;
use std::io::ErrorKind::FileTooLarge;
use std::io::ErrorKind::NotFound;
use std::io::ErrorKind::QuotaExceeded;
use std::io::ErrorKind::ReadOnlyFilesystem;
use std::io::ErrorKind::StorageFull;
use std::io::Seek;
use std::path::Path;
use std::time::Duration;
use std::time::UNIX_EPOCH;

use crate::capture::folder::open_named as open_source;
use crate::capture::presence::refuse_short;
use crate::capture::shortage::is_shortage;
use crate::output::write_error::not_written;
use crate::terms::failure::Failure;
use crate::terms::linktree::LinkAs;
use crate::terms::linktree::TreeLink;

/// A link that was not made.
#[derive(Debug)]
pub struct Unmade {
    /// The failure, if it ends the run.
    pub failure: Box<Failure>,
    /// A finding about the source file, if that is the only cause and other links can be made: its code, and what was
    /// found.
    pub file: Option<(&'static str, String)>,
}

impl From<Failure> for Unmade {
    fn from(failure: Failure) -> Self {
        Self {
            failure: Box::new(failure),
            file: None,
        }
    }
}

/// Makes a link at a path where nothing exists. If it fails, nothing is left there. `tree` is the place of the whole,
/// for messages.
pub(super) fn make_link(
    link_as: LinkAs,
    link: &TreeLink,
    at: &Path,
    tree: &Path,
) -> Result<(), Unmade> {
    // A pipe would block without end, a device would be copied without end, and a link leads out of the dump.
    let is_no_file = fs::symlink_metadata(&link.source).is_ok_and(|about| !about.is_file());
    if is_no_file && link_as != LinkAs::Symbolic {
        let message = "this file has been replaced by a link, a folder, a pipe or a device";
        return Err(Unmade {
            failure: Box::new(
                Failure::output(message)
                    .at_file(&link.source)
                    .hint("restore the file, or leave out such frames with --allow-missing"),
            ),
            file: Some(("changed", "a link, a folder, a pipe or a device".to_owned())),
        });
    }
    let made = match link_as {
        LinkAs::Symbolic => symbolic(&link.source, at).map_err(Cause::Place),
        LinkAs::Hard => fs::hard_link(&link.source, at).map_err(|error| match error.kind() {
            NotFound => Cause::File("missing", error),
            _ => Cause::Place(error),
        }),
        LinkAs::Reflink => filled(link, at, reflink),
        LinkAs::Copy => filled(link, at, copy),
    };
    made.map_err(|cause| {
        // An incomplete copy.
        let _ = fs::remove_file(at);
        let (file, error) = match cause {
            Cause::File(code, error) if !is_shortage(&error) => {
                (Some((code, error.to_string())), error)
            }
            Cause::File(_, error) | Cause::Place(error) => (None, error),
        };
        if matches!(
            error.kind(),
            StorageFull | QuotaExceeded | FileTooLarge | ReadOnlyFilesystem
        ) {
            return not_written("tree", tree, error).into();
        }
        let (message, cure) = told(link_as, &error);
        let failure = Failure::output(message)
            .at_file(&link.source)
            .hint(cure)
            .because(error);
        Unmade {
            failure: Box::new(failure),
            file,
        }
    })
}

/// Why a link was not made.
enum Cause {
    /// The source file: the code of a finding.
    File(&'static str, io::Error),
    /// The target, or the way of linking.
    Place(io::Error),
}

/// What went wrong, and what helps.
fn told(link_as: LinkAs, error: &io::Error) -> (&'static str, &'static str) {
    use io::ErrorKind::CrossesDevices;
    match (link_as, error.kind()) {
        (_, NotFound) => (
            "this file is missing",
            "leave out such frames with --allow-missing",
        ),
        (LinkAs::Hard, CrossesDevices) => (
            "a hard link cannot lead to another disk, and this file is on another disk",
            "name a folder on the disk of the dump, or use --link-as symbolic or copy",
        ),
        (LinkAs::Reflink, CrossesDevices) => (
            "a reflink cannot lead to another disk, and this file is on another disk",
            "name a folder on the disk of the dump, or use --link-as symbolic or copy",
        ),
        (LinkAs::Symbolic, _) => (
            "a symbolic link to this file could not be made",
            "the disk of the tree may not support them, or the system may restrict them to some \
             users: use --link-as hard or copy",
        ),
        (LinkAs::Hard, _) => (
            "a hard link to this file could not be made",
            "the disk may not support them, or the file may belong to another user: use --link-as \
             symbolic or copy",
        ),
        (LinkAs::Reflink, _) => (
            "the disk does not support reflinks for this file",
            "use --link-as symbolic, hard or copy",
        ),
        (LinkAs::Copy, _) => (
            "this file could not be copied",
            "check that it can be read, or leave out such frames with --allow-missing",
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

/// A new file with the contents and the time stamp of the source file.
fn filled(
    link: &TreeLink,
    at: &Path,
    fill: impl Fn(&mut File, &mut File) -> Result<(), Cause>,
) -> Result<(), Cause> {
    let unreadable = |error: io::Error| {
        let is_gone = error.kind() == NotFound;
        Cause::File(if is_gone { "missing" } else { "read-error" }, error)
    };
    let mut from = open_source(&link.source).map_err(unreadable)?;
    let mut to = File::create_new(at).map_err(Cause::Place)?;
    fill(&mut from, &mut to)?;
    let there = from.metadata().map_err(unreadable)?;
    let made = to.metadata().map_err(Cause::Place)?.len();
    if made != there.len() {
        let is_as_listed =
            there.len() == link.bytes && modified_ns(&there) == Some(link.modified_ns);
        if is_as_listed {
            refuse_short(made, there.len()).map_err(unreadable)?;
        }
        let changed = io::Error::other("it changed while it was read");
        return Err(Cause::File("changed", changed));
    }
    if let Ok(modified) = there.modified() {
        // If a time stamp cannot be set, nothing of the picture is lost.
        let _ = to.set_modified(modified);
    }
    to.sync_all().map_err(Cause::Place)
}

fn copy(from: &mut File, to: &mut File) -> Result<(), Cause> {
    let Err(error) = io::copy(from, to) else {
        return Ok(());
    };
    // The error does not show on which side it happened; reading alone does.
    let reading = from.rewind().and_then(|()| io::copy(from, &mut io::sink()));
    Err(match reading {
        Ok(_) => Cause::Place(error),
        Err(reading) => Cause::File("read-error", reading),
    })
}

#[cfg(target_os = "linux")]
fn reflink(from: &mut File, to: &mut File) -> Result<(), Cause> {
    rustix::fs::ioctl_ficlone(&*to, &*from).map_err(|error| Cause::Place(error.into()))
}

#[cfg(not(target_os = "linux"))]
fn reflink(_: &mut File, _: &mut File) -> Result<(), Cause> {
    Err(Cause::Place(io::ErrorKind::Unsupported.into()))
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
