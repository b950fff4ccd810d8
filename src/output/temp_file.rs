//! The common parts of files and folders that appear complete or not at all: a temporary part beside the target, the
//! exchange with an existing one, and syncing of the folder around them.

use std::io;
use std::path::Path;

use tempfile::NamedTempFile;
use tempfile::TempDir;

use crate::output::stale_temp_files::PART_BEGINS;
use crate::output::stale_temp_files::PART_ENDS;
use crate::output::stale_temp_files::sweep;
use crate::terms::failure::Failure;

/// Begins a file in a folder, after removing parts of killed runs there. Beside its target, so that the rename stays on
/// one disk; with the permissions of any new file, according to the umask.
pub(super) fn begin_file(beside: &Path) -> io::Result<NamedTempFile> {
    builder(beside, 0o666).tempfile_in(beside)
}

/// The same for a folder.
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

/// The folder of a file or folder.
pub(super) fn folder_of(to: &Path) -> &Path {
    match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Syncs a folder to the disk, which makes the names in it permanent. Some file systems do not support that.
pub(super) fn fsync_folder(folder: &Path) {
    #[cfg(unix)]
    if let Ok(folder) = std::fs::File::open(folder) {
        let _ = folder.sync_all();
    }
    #[cfg(not(unix))]
    let _ = folder;
}

/// Exchanges two folders in one step; `false` if that is not supported, and nothing was done.
pub(super) fn exchange_at_once(one: &Path, other: &Path) -> io::Result<bool> {
    rename_at_once(one, other, Rename::Exchange)
}

/// Renames a folder in one step to a name that does not exist; `false` if that is not supported, and nothing was done.
#[cfg(feature = "parquet")]
pub(super) fn take_at_once(from: &Path, to: &Path) -> io::Result<bool> {
    rename_at_once(from, to, Rename::New)
}

/// What happens to an existing folder of the new name.
#[derive(Clone, Copy, Debug)]
enum Rename {
    /// It gets the old name.
    Exchange,
    /// There must not be one.
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
        // A file system that supports only plain renames.
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

/// Whether two names are of one file or folder: outside Unix this is not known.
#[cfg(not(unix))]
pub(super) const fn is_the_same(_: &Path, _: &Path) -> bool {
    false
}

/// A place that cannot be written to, and why.
pub(super) fn failed(message: &str, at: &Path) -> Failure {
    Failure::output(message).at_file(at)
}
