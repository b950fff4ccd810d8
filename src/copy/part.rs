//! The door: temporary files beside their places, and how one takes its place. Nothing else in the program may create a file
//! of a dump (`tests/house/door.rs`). Replaces nothing that is there.

use std::fs;
use std::fs::File;
use std::io;
use std::io::ErrorKind;
use std::path::Path;

use tempfile::NamedTempFile;

/// How the names of temporary files begin and end. Those of exported lists begin and end alike.
const BEGINS: &str = ".framefall-copy-";
const ENDS: &str = ".part";

/// Begins a file beside its place, in a folder that is there. It is locked while it is open, so that another run does not
/// take it for one that was left behind. Dropped before it takes its place, it is removed.
pub(super) fn begin(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(BEGINS).suffix(ENDS);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // What the umask leaves, as of any new file.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let part = builder.tempfile_in(folder)?;
    // Some file systems know no locks; there a second run must not be started meanwhile.
    let _ = part.as_file().try_lock();
    Ok(part)
}

/// Makes a target's folder, and whether a file can be written in it.
pub fn prepare(root: &Path) -> io::Result<()> {
    make_folder(root)?;
    begin(root).map(drop)
}

/// Puts a file that is whole in its place, and brings the folder to the disk.
///
/// Fails: where something has that name; nothing is changed then, and the temporary file is removed.
pub(super) fn take_place(part: NamedTempFile, place: &Path) -> io::Result<()> {
    let placed = match part.persist_noclobber(place) {
        Ok(_) => Ok(()),
        Err(failed) if failed.error.kind() == ErrorKind::AlreadyExists => Err(failed.error),
        // A file system that knows neither a rename that replaces nothing nor a second name for a file.
        Err(failed) => match place.symlink_metadata() {
            Err(error) if error.kind() == ErrorKind::NotFound => failed
                .file
                .persist(place)
                .map(|_| ())
                .map_err(|failed| failed.error),
            Ok(_) => Err(ErrorKind::AlreadyExists.into()),
            Err(error) => Err(error),
        },
    };
    placed?;
    sync_folder(place.parent().unwrap_or(Path::new(".")));
    Ok(())
}

/// Makes a folder and those above it, and brings the names of new ones to the disk.
pub(super) fn make_folder(folder: &Path) -> io::Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    if let Some(above) = folder.parent() {
        if !above.as_os_str().is_empty() {
            make_folder(above)?;
        }
        match fs::create_dir(folder) {
            Err(error) if error.kind() != ErrorKind::AlreadyExists || !folder.is_dir() => {
                return Err(error);
            }
            _ => sync_folder(above),
        }
    }
    Ok(())
}

/// Brings a folder to the disk: a name in it is there once the folder is. Some file systems cannot be asked for that.
fn sync_folder(folder: &Path) {
    if cfg!(unix)
        && let Ok(folder) = File::open(folder)
    {
        let _ = folder.sync_all();
    }
}

/// Removes the temporary files of runs that were killed from a folder; how many. A file that a run still holds stays.
pub fn remove_stale_parts(folder: &Path) -> u64 {
    let Ok(entries) = fs::read_dir(folder) else {
        return 0;
    };
    let is_stale = |entry: &fs::DirEntry| {
        let name = entry.file_name();
        let name = name.as_encoded_bytes();
        name.starts_with(BEGINS.as_bytes())
            && name.ends_with(ENDS.as_bytes())
            && entry.file_type().is_ok_and(|kind| kind.is_file())
            && File::open(entry.path()).is_ok_and(|file| file.try_lock().is_ok())
    };
    let stale = entries.flatten().filter(is_stale);
    let removed = stale.filter(|entry| fs::remove_file(entry.path()).is_ok());
    removed.count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    #[test]
    fn a_file_takes_its_place_and_replaces_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("a.NEF");
        let mut part = begin(folder.path()).unwrap();
        part.write_all(b"new").unwrap();
        take_place(part, &place).unwrap();
        assert_eq!(fs::read(&place).unwrap(), b"new");
        let part = begin(folder.path()).unwrap();
        let error = take_place(part, &place).unwrap_err();
        assert_eq!(error.kind(), ErrorKind::AlreadyExists);
        assert_eq!(fs::read(&place).unwrap(), b"new");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn only_what_a_killed_run_left_is_removed() {
        let folder = tempfile::tempdir().unwrap();
        let held = begin(folder.path()).unwrap();
        fs::write(folder.path().join(".framefall-copy-a1.part"), b"half").unwrap();
        fs::write(folder.path().join(".framefall-list.part"), b"another's").unwrap();
        fs::write(folder.path().join("mine.part"), b"mine").unwrap();
        assert_eq!(remove_stale_parts(folder.path()), 1);
        assert!(held.path().exists());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3);
    }
}
