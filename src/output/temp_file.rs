//! What files and folders that appear whole or not at all have in common: they grow in a part beside their place, change
//! places with what was there, and are on the disk once the folder around them is.

use std::io;
use std::path::Path;

use tempfile::NamedTempFile;
use tempfile::TempDir;

use crate::output::stale_temp_files::PART_BEGINS;
use crate::output::stale_temp_files::PART_ENDS;
use crate::output::stale_temp_files::sweep;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;

/// Begins a file in a folder, once what killed runs left behind there is gone. Beside its place, so that taking the place is
/// a rename within one disk; with the permissions of any new file: what the umask leaves.
pub(super) fn begin_file(beside: &Path) -> io::Result<NamedTempFile> {
    builder(beside, 0o666).tempfile_in(beside)
}

/// The same of a folder.
pub(super) fn begin_folder(beside: &Path) -> io::Result<TempDir> {
    builder(beside, 0o777).tempdir_in(beside)
}

fn builder(beside: &Path, mode: u32) -> tempfile::Builder<'static, 'static> {
    sweep(beside);
    let mut builder = tempfile::Builder::new();
    builder.prefix(PART_BEGINS).suffix(PART_ENDS);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(mode));
    }
    #[cfg(not(unix))]
    let _ = mode;
    builder
}

/// The folder that a file or folder lies in.
pub(super) fn folder_of(to: &Path) -> &Path {
    match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Brings a folder to the disk: a name in it is there once the folder is. Some file systems cannot be asked for that.
pub(super) fn fsync_folder(folder: &Path) {
    #[cfg(unix)]
    if let Ok(folder) = std::fs::File::open(folder) {
        let _ = folder.sync_all();
    }
    #[cfg(not(unix))]
    let _ = folder;
}

/// Lets two folders change places in one step; `false` where that is not to be had, and nothing was done.
pub(super) fn exchange_at_once(one: &Path, other: &Path) -> io::Result<bool> {
    rename_at_once(one, other, Rename::Exchange)
}

/// Renames a folder in one step to a name that nothing has; `false` where that is not to be had, and nothing was done.
#[cfg(feature = "parquet")]
pub(super) fn take_at_once(from: &Path, to: &Path) -> io::Result<bool> {
    rename_at_once(from, to, Rename::New)
}

/// What becomes of what bears the new name.
#[derive(Clone, Copy, Debug)]
enum Rename {
    /// It gets the old one.
    Exchange,
    /// There must be nothing.
    #[cfg(feature = "parquet")]
    New,
}

#[cfg(any(target_os = "linux", target_os = "macos"))]
fn rename_at_once(from: &Path, to: &Path, how: Rename) -> io::Result<bool> {
    use rustix::fs::CWD;
    use rustix::fs::RenameFlags;
    use rustix::io::Errno;
    let flags = match how {
        Rename::Exchange => RenameFlags::EXCHANGE,
        #[cfg(feature = "parquet")]
        Rename::New => RenameFlags::NOREPLACE,
    };
    match rustix::fs::renameat_with(CWD, from, CWD, to, flags) {
        Ok(()) => Ok(true),
        // A file system that knows only plain renames.
        Err(Errno::INVAL | Errno::NOSYS | Errno::NOTSUP) => Ok(false),
        Err(error) => Err(error.into()),
    }
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
const fn rename_at_once(_: &Path, _: &Path, _: Rename) -> io::Result<bool> {
    Ok(false)
}

/// Whether two names are of one file or folder.
#[cfg(unix)]
pub(super) fn is_the_same(one: &Path, other: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let number = |path| {
        std::fs::symlink_metadata(path)
            .ok()
            .map(|about| (about.dev(), about.ino()))
    };
    number(one).is_some_and(|of_one| number(other) == Some(of_one))
}

/// Whether two names are of one file or folder: elsewhere than on Unix it cannot be told.
#[cfg(not(unix))]
pub(super) const fn is_the_same(_: &Path, _: &Path) -> bool {
    false
}

/// A place that cannot be written to, and why.
pub(super) fn failed(message: &str, at: &Path) -> Failure {
    Failure::new(FailureKind::Output, message).at_file(at)
}
