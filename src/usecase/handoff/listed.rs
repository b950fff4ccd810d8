//! A path as a list writes it: from the root of the file system, from the list's own folder, or from a given one.

use std::path::Component;
use std::path::Path;
use std::path::PathBuf;

use crate::framelist::Format;
use crate::framelist::ends_line;
use crate::framelist::newline_in_path;
use crate::terms::failure::Failure;
use crate::terms::handoff::PathsFrom;
use crate::usecase::handoff::entry::refused;

/// Writes an absolute path in the form of the list.
///
/// Refuses: a file outside the root, and one on another drive, to which no relative path leads.
pub(super) fn listed(from: &PathsFrom, path: &Path) -> Result<PathBuf, Failure> {
    match from {
        PathsFrom::Absolute => Ok(path.to_path_buf()),
        PathsFrom::Root(root) => within(root, path).ok_or_else(|| {
            refused(format!("this file is outside {}", root.display()))
                .at_file(path)
                .hint("name a --root that contains every file of the list, or leave it out")
        }),
        PathsFrom::List(folder) => relative(folder, path)
            .map(|below| plain(&below))
            .ok_or_else(|| {
                refused("no relative path leads from the list to this file")
                    .at_file(path)
                    .hint("leave out --relative, or write the list to the file's drive")
            }),
    }
}

/// The path from a root, resolved, to a file below it. The file's path may contain links: a folder that was moved to
/// another disk often leaves one behind.
fn within(root: &Path, path: &Path) -> Option<PathBuf> {
    if let Ok(below) = path.strip_prefix(root) {
        return Some(plain(below));
    }
    true_path(path)?.strip_prefix(root).ok().map(plain)
}

/// The resolved path of a file; `None` if its folder does not exist.
pub(super) fn true_path(path: &Path) -> Option<PathBuf> {
    let folder = path.parent()?.canonicalize().ok()?;
    Some(folder.join(path.file_name()?))
}

/// The path from a folder to a file, both absolute.
fn relative(folder: &Path, path: &Path) -> Option<PathBuf> {
    let mut from = folder.components().peekable();
    let mut to = path.components().peekable();
    while from.peek().is_some() && from.peek() == to.peek() {
        from.next();
        to.next();
    }
    let mut way = PathBuf::new();
    for part in from {
        match part {
            Component::Normal(_) => way.push(".."),
            Component::CurDir => {}
            _ => return None,
        }
    }
    for part in to {
        match part {
            Component::Normal(name) => way.push(name),
            _ => return None,
        }
    }
    Some(way)
}

/// Puts `./` before a relative path that begins with a sign which a spreadsheet or a command line would interpret.
fn plain(path: &Path) -> PathBuf {
    let first = path.as_os_str().as_encoded_bytes().first();
    if first.is_some_and(|byte| !byte.is_ascii_alphanumeric() && !matches!(byte, b'.' | b'_')) {
        Path::new(".").join(path)
    } else {
        path.to_path_buf()
    }
}

/// Refuses a path with a newline in a list of lines, before anything else is done.
pub(super) fn refuse_newline(format: Format, path: &Path) -> Result<(), Failure> {
    if format == Format::Paths && ends_line(path.as_os_str().as_encoded_bytes()) {
        return Err(newline_in_path(path));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn from_list(folder: &str, path: &str) -> Option<String> {
        let from = PathsFrom::List(folder.into());
        let listed = listed(&from, Path::new(path)).ok()?;
        Some(listed.to_string_lossy().into_owned())
    }

    #[cfg(unix)]
    #[test]
    fn the_way_from_a_list_to_a_file_goes_up_and_down() {
        for (folder, path, way) in [
            ("/a/b", "/a/b/c.arw", "c.arw"),
            ("/a/b", "/a/c/d.arw", "../c/d.arw"),
            ("/a/b", "/c.arw", "../../c.arw"),
            ("/", "/a/b.arw", "a/b.arw"),
            ("/a/b", "/a/bc/d.arw", "../bc/d.arw"),
            ("/a", "/a/=1+1.arw", "./=1+1.arw"),
            ("/a", "/a/-x.arw", "./-x.arw"),
            ("/a", "/a/ x.arw", "./ x.arw"),
        ] {
            assert_eq!(from_list(folder, path).as_deref(), Some(way));
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_file_outside_the_root_is_refused_by_its_name() {
        let root = PathsFrom::Root("/archive".into());
        let listed_path = listed(&root, Path::new("/archive/a/b.arw")).unwrap();
        assert_eq!(listed_path, Path::new("a/b.arw"));
        for outside in ["/archives/b.arw", "/b.arw"] {
            let failure = listed(&root, Path::new(outside)).unwrap_err();
            assert!(format!("{:?}", failure.at).contains(outside));
        }
    }
}
