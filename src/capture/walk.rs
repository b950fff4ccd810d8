//! Lists the files of a dump, in the same order every time. Skips nothing without saying so, opens nothing.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use crate::capture::class::FileClass;
use crate::capture::class::classify;
use crate::capture::presence::modified_ns;
use crate::terms::finding::Finding;

/// One thing found in a dump.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Walked {
    /// A file.
    File(WalkedFile),
    /// Something that is not a file, or could not be listed.
    Odd {
        /// Where, below the root.
        path: PathBuf,
        /// What was odd.
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
    /// The file system's time stamp, in nanoseconds since 1970; 0 where the system has none.
    pub modified_ns: i64,
    /// What to do with it.
    pub class: FileClass,
}

/// A dump's root by its one true name: absolute, links on the way to it resolved.
pub fn root_of(dump: &Path) -> std::io::Result<PathBuf> {
    dump.canonicalize()
}

/// The files of a dump without their sizes: a fast look ahead.
pub fn names(root: &Path) -> impl Iterator<Item = OsString> + use<> {
    walkdir::WalkDir::new(root)
        .follow_links(false)
        .into_iter()
        .filter_entry(|entry| !is_trash(entry))
        .filter_map(|step| step.ok().filter(|entry| entry.file_type().is_file()))
        .map(|entry| entry.file_name().to_owned())
}

/// Walks a dump: every folder's entries in the order of their names' bytes, folders where their names stand.
///
/// Takes: the root, which may itself be a link.
/// Gives: what is there, one by one; memory does not grow with their number, but for the names of the folders the
/// walk is in. Symbolic links below the root are not followed, so no walk leaves the dump or goes round in it. Folders of
/// deleted files are not entered; one that holds something is told.
pub fn walk(root: &Path) -> impl Iterator<Item = Walked> + use<> {
    let root = root.to_path_buf();
    let mut steps = walkdir::WalkDir::new(&root)
        .follow_links(false)
        .sort_by_file_name()
        .into_iter();
    std::iter::from_fn(move || {
        loop {
            let found = match steps.next()? {
                Ok(entry) if is_trash(&entry) => {
                    steps.skip_current_dir();
                    trash(&root, &entry)
                }
                Ok(entry) => walked(&root, &entry),
                Err(error) => Some(unlisted(&root, &error)),
            };
            if found.is_some() {
                return found;
            }
        }
    })
}

/// Whether an entry below the root is a folder in which a system keeps deleted files. Sources: the names of freedesktop.org's
/// Trash specification 1.0; those of Windows and macOS are common practice, no source.
fn is_trash(entry: &walkdir::DirEntry) -> bool {
    let name = entry.file_name().to_ascii_lowercase();
    let name = name.to_string_lossy();
    let is_one = matches!(
        &*name,
        ".trash" | ".trashes" | "$recycle.bin" | "recycler" | "recycled"
    ) || name.strip_prefix(".trash-").is_some_and(is_number);
    entry.depth() > 0 && entry.file_type().is_dir() && is_one
}

fn is_number(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// What is said of a folder of deleted files; nothing of an empty one, as systems leave them on every card.
fn trash(root: &Path, entry: &walkdir::DirEntry) -> Option<Walked> {
    let mut inside = walkdir::WalkDir::new(entry.path()).into_iter().flatten();
    inside
        .find(|one| classify(one.file_name()) == FileClass::Picture && one.file_type().is_file())?;
    let path = entry.path().strip_prefix(root).unwrap_or(entry.path());
    Some(Walked::Odd {
        path: path.to_path_buf(),
        finding: Finding::new(
            "trash-left",
            "a folder of deleted files, with pictures in it",
            "passed it over",
        ),
    })
}

fn walked(root: &Path, entry: &walkdir::DirEntry) -> Option<Walked> {
    let kind = entry.file_type();
    if kind.is_dir() {
        return None;
    }
    let below = entry.path().strip_prefix(root).unwrap_or(entry.path());
    let odd = |code, saw: String| {
        Some(Walked::Odd {
            path: below.to_path_buf(),
            finding: Finding::new(code, saw, "passed it over"),
        })
    };
    if kind.is_symlink() {
        let target = std::fs::read_link(entry.path())
            .map_or_else(|e| e.to_string(), |target| target.display().to_string());
        return odd("link-left", format!("a link to {target}"));
    }
    if !kind.is_file() {
        return odd("not-a-file", special(kind).to_owned());
    }
    let about = match entry.metadata() {
        Ok(about) => about,
        Err(error) => return odd("read-error", error.to_string()),
    };
    let name = entry.file_name().to_os_string();
    let class = classify(&name);
    Some(Walked::File(WalkedFile {
        folder: below.parent().unwrap_or(Path::new("")).to_path_buf(),
        name,
        bytes: about.len(),
        modified_ns: modified_ns(&about),
        class,
    }))
}

#[cfg(unix)]
fn special(kind: std::fs::FileType) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    if kind.is_fifo() {
        "a pipe"
    } else if kind.is_socket() {
        "a socket"
    } else {
        "a device"
    }
}

#[cfg(not(unix))]
fn special(_kind: std::fs::FileType) -> &'static str {
    "something that is neither file nor folder"
}

fn unlisted(root: &Path, error: &walkdir::Error) -> Walked {
    let path = error.path().unwrap_or(root);
    let saw = error
        .io_error()
        .map_or_else(|| error.to_string(), ToString::to_string);
    Walked::Odd {
        path: path.strip_prefix(root).unwrap_or(path).to_path_buf(),
        finding: Finding::new("folder-unreadable", saw, "went on with the rest"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(root: &Path) -> Vec<String> {
        walk(root)
            .map(|step| match step {
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
        let first = walk(dump.path()).next().unwrap();
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
        let last = walk(dump.path()).last().unwrap();
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
        // Named itself, it is a dump as any other.
        assert_eq!(names(&dump.path().join(".Trashes")), ["501/a.NEF"]);
    }

    #[test]
    fn a_root_that_is_not_there_is_odd() {
        let dump = tempfile::tempdir().unwrap();
        let steps: Vec<_> = walk(&dump.path().join("gone")).collect();
        assert!(
            matches!(&steps[..], [Walked::Odd { finding, .. }] if finding.code == "folder-unreadable")
        );
    }
}
