//! Lists one folder briefly: its first and its last picture by name, and its subfolders. Opens no file.

use std::ffi::OsString;
use std::io;
use std::path::Path;

use crate::capture::class::FileClass;
use crate::capture::class::classify;
use crate::capture::folder::Entry;
use crate::capture::folder::EntryKind;
use crate::capture::folder::entries;

/// The result of a glance.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Glance {
    /// The names of the first and the last picture, in byte order; one name if there is one picture.
    pub pictures: Vec<OsString>,
    /// The names of the folders, in byte order. Links are not followed.
    pub folders: Vec<OsString>,
}

/// Takes a glance at a folder.
pub fn glance(folder: &Path) -> io::Result<Glance> {
    let mut seen = Glance::default();
    let mut ends: Option<(OsString, OsString)> = None;
    for entry in entries(folder)? {
        let Entry { name, kind } = entry?;
        if kind == EntryKind::Folder {
            seen.folders.push(name);
        } else if kind == EntryKind::File && classify(&name) == FileClass::Picture {
            ends = Some(match ends {
                None => (name.clone(), name),
                Some((first, last)) if name < first => (name, last),
                Some((first, last)) if name > last => (first, name),
                Some(ends) => ends,
            });
        }
    }
    seen.folders.sort_unstable();
    if let Some((first, last)) = ends {
        seen.pictures.push(first);
        seen.pictures.push(last);
        seen.pictures.dedup();
    }
    Ok(seen)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_of_the_pictures_and_all_folders() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["B.DNG", "A.JPG", "C.NEF", "0.txt", "z"] {
            std::fs::write(folder.path().join(name), b"x").unwrap();
        }
        for name in ["101", "100"] {
            std::fs::create_dir(folder.path().join(name)).unwrap();
        }
        let seen = glance(folder.path()).unwrap();
        assert_eq!(seen.pictures, ["A.JPG", "C.NEF"]);
        assert_eq!(seen.folders, ["100", "101"]);
        assert!(glance(&folder.path().join("gone")).is_err());
    }
}
