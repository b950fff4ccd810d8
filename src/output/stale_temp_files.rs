//! Temporary files and folders of killed runs. Removes nothing that may still be in use, and nothing that framefall did
//! not make.

use std::collections::BTreeSet;
use std::fs;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Mutex;
use std::time::Duration;

/// How the name of a temporary file or folder begins and ends.
pub const PART_BEGINS: &str = ".framefall-";
/// See [`PART_BEGINS`].
pub const PART_ENDS: &str = ".part";

/// A part of a killed run has not been written to for this long. A list waits in its part for as long as files are
/// hashed or copied.
const LEFT_BEHIND: Duration = Duration::from_secs(86_400);

/// Marks a temporary folder as in use for as long as the returned value lives. Not every file system supports it.
pub fn hold(folder: &Path) -> Option<File> {
    let held = File::open(folder).ok()?;
    held.try_lock().ok().map(|()| held)
}

/// The folders that this run has already cleaned.
static SWEPT: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

/// Removes the parts in a folder that are not in use and have not been written to for a day. Does so once per folder
/// and run: an export may write thousands of lists side by side, and each would check all the others.
pub fn sweep(folder: &Path) {
    let is_first = SWEPT
        .lock()
        .is_ok_and(|mut swept| swept.insert(folder.to_path_buf()));
    if !is_first {
        return;
    }
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let name = name.as_encoded_bytes();
        if !name.starts_with(PART_BEGINS.as_bytes()) || !name.ends_with(PART_ENDS.as_bytes()) {
            continue;
        }
        let Ok(about) = entry.metadata() else {
            continue;
        };
        let age = about.modified().ok().and_then(|at| at.elapsed().ok());
        if age.is_none_or(|age| age <= LEFT_BEHIND) {
            continue;
        }
        // A part that cannot be removed does no harm.
        if about.is_file() {
            let _ = fs::remove_file(entry.path());
        } else if about.is_dir() && hold(&entry.path()).is_some() {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::SystemTime;

    #[test]
    fn a_folder_is_looked_through_once_in_a_run() {
        let folder = tempfile::tempdir().unwrap();
        let left_behind = |name: &str| {
            let path = folder.path().join(name);
            let part = File::create(&path).unwrap();
            part.set_modified(SystemTime::now() - 2 * LEFT_BEHIND)
                .unwrap();
            path
        };
        let first = left_behind(".framefall-a.part");
        sweep(folder.path());
        assert!(!first.exists());
        let second = left_behind(".framefall-b.part");
        sweep(folder.path());
        assert!(second.exists());
    }
}
