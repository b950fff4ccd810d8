//! Lists the files of a dump, in the same order every time. Reports everything it skips, opens nothing.

use std::ffi::OsStr;
use std::ffi::OsString;
use std::io;
use std::path::{Path, PathBuf};

use crate::capture::class::FileClass;
use crate::capture::class::classify;
use crate::capture::folder::Entry;
use crate::capture::folder::EntryKind;
use crate::capture::folder::entries;
use crate::capture::presence::modified_ns;
use crate::capture::shortage::is_shortage;
use crate::terms::finding::Finding;

/// One thing found in a dump.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Walked {
    /// A file.
    File(WalkedFile),
    /// Something that is not a file, or could not be listed.
    Odd {
        /// Its path, below the root.
        path: PathBuf,
        /// What is odd about it.
        finding: Finding,
    },
}

/// A file of a dump.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WalkedFile {
    /// Its folder, below the root; empty for the root itself.
    pub folder: PathBuf,
    /// Its name, byte for byte.
    pub name: OsString,
    /// Its size in bytes.
    pub bytes: u64,
    /// The file system's time stamp, in nanoseconds since 1970; 0 if the system has none.
    pub modified_ns: i64,
    /// What to do with it.
    pub class: FileClass,
}

/// A dump's root by its resolved name: absolute, without links.
pub fn root_of(dump: &Path) -> std::io::Result<PathBuf> {
    dump.canonicalize()
}

/// The names of the files of a dump: a fast look ahead.
pub fn names(root: &Path) -> impl Iterator<Item = OsString> + use<> {
    let mut waiting = vec![root.to_path_buf()];
    let mut files: Vec<OsString> = Vec::new();
    std::iter::from_fn(move || {
        loop {
            if let Some(name) = files.pop() {
                return Some(name);
            }
            let folder = waiting.pop()?;
            for entry in entries(&folder).into_iter().flatten().flatten() {
                match entry.kind {
                    EntryKind::File => files.push(entry.name),
                    EntryKind::Folder if !is_trash(&entry.name) => {
                        waiting.push(folder.join(&entry.name));
                    }
                    _ => {}
                }
            }
        }
    })
}

/// Walks a dump: every folder's entries in byte order of their names, subfolders in their places among them.
///
/// Takes: the root, which may itself be a link. Gives: the entries, one by one; memory grows only with the names in the
/// folders that the walk is in, not with the number of files. Symbolic links below the root are not followed, so no
/// walk leaves the dump or runs in a circle. Folders of deleted files are not entered; one that is not empty is
/// reported. Fails: if this computer cannot open more files or has no memory; the walk ends there.
pub fn walk(root: &Path) -> impl Iterator<Item = io::Result<Walked>> + use<> {
    walk_telling(root, Trash::WithPictures)
}

/// Which folders of deleted files are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trash {
    /// Those with pictures in them.
    WithPictures,
    /// All: whoever copies a card names everything that is not copied.
    All,
}

/// The same, telling these folders of deleted files.
pub fn walk_telling(root: &Path, trash: Trash) -> impl Iterator<Item = io::Result<Walked>> + use<> {
    let mut walk = Walk {
        root: root.to_path_buf(),
        trash,
        levels: Vec::new(),
    };
    let mut first = Some(walk.enter(PathBuf::new()));
    std::iter::from_fn(move || {
        let step = match first.take() {
            Some(Ok(None)) | None => walk.step(),
            Some(entered) => entered,
        };
        if step.is_err() {
            walk.levels.clear();
        }
        step.transpose()
    })
}

/// A walk in progress.
struct Walk {
    root: PathBuf,
    trash: Trash,
    /// The folders it is in, from the root inwards, with their remaining entries.
    levels: Vec<(PathBuf, std::vec::IntoIter<Entry>)>,
}

impl Walk {
    /// Enters a folder; returns a finding if it could not be listed completely.
    fn enter(&mut self, folder: PathBuf) -> io::Result<Option<Walked>> {
        let mut found = Vec::new();
        let listed = entries(&self.root.join(&folder)).and_then(|entries| {
            for entry in entries {
                found.push(entry?);
            }
            Ok(())
        });
        found.sort_unstable_by(|a, b| a.name.cmp(&b.name));
        let unlisted = match listed {
            Ok(()) => None,
            Err(error) if is_shortage(&error) => return Err(error),
            Err(error) => Some(Walked::Odd {
                path: folder.clone(),
                finding: Finding::new(
                    "folder-unreadable",
                    error.to_string(),
                    "continued with the rest",
                ),
            }),
        };
        self.levels.push((folder, found.into_iter()));
        Ok(unlisted)
    }

    /// The next entry; `None` at the end.
    fn step(&mut self) -> io::Result<Option<Walked>> {
        while let Some((folder, left)) = self.levels.last_mut() {
            let Some(entry) = left.next() else {
                self.levels.pop();
                continue;
            };
            let path = folder.join(&entry.name);
            let found = match entry.kind {
                EntryKind::Folder if is_trash(&entry.name) => match self.trash {
                    Trash::WithPictures => trash(&self.root, path),
                    Trash::All => Some(left_out(
                        path,
                        "trash-left",
                        "a folder of deleted files".to_owned(),
                    )),
                },
                EntryKind::Folder => self.enter(path)?,
                EntryKind::File => Some(file(&self.root, folder, entry.name)),
                EntryKind::Link => {
                    let target = std::fs::read_link(self.root.join(&path))
                        .map_or_else(|e| e.to_string(), |target| target.display().to_string());
                    Some(left_out(path, "link-left", format!("a link to {target}")))
                }
                EntryKind::Special(what) => Some(left_out(path, "not-a-file", what.to_owned())),
            };
            if found.is_some() {
                return Ok(found);
            }
        }
        Ok(None)
    }
}

/// Whether a folder below the root is one in which a system keeps deleted files. Sources: the names of
/// freedesktop.org's Trash specification 1.0; those of Windows and macOS are common practice, no source.
fn is_trash(name: &OsStr) -> bool {
    let name = name.to_ascii_lowercase();
    let name = name.to_string_lossy();
    matches!(
        &*name,
        ".trash" | ".trashes" | "$recycle.bin" | "recycler" | "recycled"
    ) || name.strip_prefix(".trash-").is_some_and(is_number)
}

fn is_number(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// The finding for a folder of deleted files; none for an empty one, which systems leave on every card.
fn trash(root: &Path, path: PathBuf) -> Option<Walked> {
    names(&root.join(&path)).find(|name| classify(name) == FileClass::Picture)?;
    let saw = "a folder of deleted files, with pictures in it".to_owned();
    Some(left_out(path, "trash-left", saw))
}

fn left_out(path: PathBuf, code: &'static str, saw: String) -> Walked {
    Walked::Odd {
        path,
        finding: Finding::new(code, saw, "skipped it"),
    }
}

fn file(root: &Path, folder: &Path, name: OsString) -> Walked {
    let below = folder.join(&name);
    let about = match std::fs::symlink_metadata(root.join(&below)) {
        Ok(about) => about,
        Err(error) => return left_out(below, "read-error", error.to_string()),
    };
    let class = classify(&name);
    Walked::File(WalkedFile {
        folder: folder.to_path_buf(),
        name,
        bytes: about.len(),
        modified_ns: modified_ns(&about),
        class,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(root: &Path) -> Vec<String> {
        walk(root)
            .map(|step| match step.unwrap() {
                Walked::File(f) => f.folder.join(f.name).display().to_string(),
                Walked::Odd { path, finding } => format!("{}!{}", path.display(), finding.code),
            })
            .collect()
    }

    #[test]
    fn the_order_is_that_of_the_bytes() {
        let dump = tempfile::tempdir().unwrap();
        std::fs::create_dir_all(dump.path().join("DCIM/101B")).unwrap();
        std::fs::create_dir_all(dump.path().join("DCIM/100A")).unwrap();
        for name in [
            "DCIM/101B/b.NEF",
            "DCIM/100A/B.NEF",
            "DCIM/100A/a.NEF",
            "z.txt",
        ] {
            std::fs::write(dump.path().join(name), b"x").unwrap();
        }
        assert_eq!(
            names(dump.path()),
            [
                "DCIM/100A/B.NEF",
                "DCIM/100A/a.NEF",
                "DCIM/101B/b.NEF",
                "z.txt"
            ]
        );
        let first = walk(dump.path()).next().unwrap().unwrap();
        let Walked::File(first) = first else {
            panic!("{first:?}");
        };
        assert_eq!((first.bytes, first.class), (1, FileClass::Picture));
        assert!(first.modified_ns > 1_500_000_000_000_000_000);
    }

    #[cfg(unix)]
    #[test]
    fn links_and_pipes_are_named_and_left() {
        use std::os::unix::ffi::OsStringExt;
        use std::os::unix::fs::symlink;
        let dump = tempfile::tempdir().unwrap();
        let outside = tempfile::tempdir().unwrap();
        std::fs::write(outside.path().join("OUT.NEF"), b"x").unwrap();
        symlink(outside.path(), dump.path().join("a-folder")).unwrap();
        symlink(dump.path(), dump.path().join("b-loop")).unwrap();
        symlink(outside.path().join("OUT.NEF"), dump.path().join("c.NEF")).unwrap();
        rustix::fs::mknodat(
            rustix::fs::CWD,
            dump.path().join("d.NEF"),
            rustix::fs::FileType::Fifo,
            rustix::fs::Mode::from_raw_mode(0o600),
            0,
        )
        .unwrap();
        let odd_name = OsString::from_vec(b"e\xFF\n.NEF".to_vec());
        std::fs::write(dump.path().join(&odd_name), b"x").unwrap();
        let steps = names(dump.path());
        assert_eq!(
            steps[..4],
            [
                "a-folder!link-left",
                "b-loop!link-left",
                "c.NEF!link-left",
                "d.NEF!not-a-file"
            ]
        );
        let last = walk(dump.path()).last().unwrap().unwrap();
        assert!(matches!(last, Walked::File(f) if f.name == odd_name));
    }

    #[test]
    fn deleted_files_are_named_and_left() {
        let dump = tempfile::tempdir().unwrap();
        for (folder, name) in [
            (".Trashes/501", "a.NEF"),
            ("copy/.Trash-1000/files", "b.NEF"),
            ("$RECYCLE.BIN/S-1-5", "$RX1.NEF"),
            (".Trash", "desktop.ini"),
            (".Trash-others", "c.NEF"),
            ("Recycled", "d.NEF"),
        ] {
            let folder = dump.path().join(folder);
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(folder.join(name), b"x").unwrap();
        }
        std::fs::write(dump.path().join("recycler"), b"a file").unwrap();
        assert_eq!(
            names(dump.path()),
            [
                "$RECYCLE.BIN!trash-left",
                ".Trash-others/c.NEF",
                ".Trashes!trash-left",
                "Recycled!trash-left",
                "copy/.Trash-1000!trash-left",
                "recycler",
            ]
        );
        assert_eq!(super::names(dump.path()).count(), 2);
        // If it is named itself, it is a dump like any other.
        assert_eq!(names(&dump.path().join(".Trashes")), ["501/a.NEF"]);
    }

    #[test]
    fn a_root_that_is_not_there_is_odd() {
        let dump = tempfile::tempdir().unwrap();
        let steps: Vec<_> = walk(&dump.path().join("gone")).collect();
        assert!(
            matches!(&steps[..], [Ok(Walked::Odd { finding, .. })] if finding.code == "folder-unreadable")
        );
    }
}
