//! Lists of hashes beside dumps: ours written, others' read and compared. Names in a list start from the list's own folder.

use std::collections::HashMap;
use std::ffi::OsString;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::disk::Disk;
use crate::capture::hash_lists::lists_beside;
use crate::catalogue::content::ContentRow;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::names::below_of;
use crate::catalogue::names::kept_folder;
use crate::catalogue::names::os_name;
use crate::framelist::hash_list::read_list;
use crate::framelist::hash_list::write_line;
use crate::output::atomic_file::AtomicFile;
use crate::output::atomic_file::Overwrite;
use crate::terms::content::Hashes;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;

/// What lists beside a dump say of its files.
#[derive(Debug, Default)]
pub struct Listed {
    /// By the file's path below the root, as text: the lists, and the hash in each.
    files: HashMap<String, Vec<(PathBuf, [u8; 32])>>,
    /// How many lists name files of the dump.
    pub lists: usize,
}

impl Listed {
    /// Reads the lists in a dump's root and beside it.
    pub fn beside(root: &Path) -> Self {
        let mut listed = Self::default();
        for list in lists_beside(root) {
            let folder = list.path.parent().unwrap_or(root);
            let (lines, _) = read_list(&list.text);
            let mut names_files = false;
            for line in lines {
                let text = String::from_utf8_lossy(&line.name).into_owned();
                let name = PathBuf::from(os_name(text, Some(line.name)));
                let place = folder.join(name.strip_prefix(".").unwrap_or(&name));
                if let Ok(below) = place.strip_prefix(root) {
                    let key = kept_folder(below).text;
                    let known = listed.files.entry(key).or_default();
                    known.push((list.path.clone(), line.hash));
                    names_files = true;
                }
            }
            listed.lists += usize::from(names_files);
        }
        listed
    }

    /// Whether a list names this file.
    pub fn names(&self, path: &str) -> bool {
        self.files.contains_key(path)
    }

    /// What is found where a list has neither of a file's hashes for it.
    pub fn differing(&self, path: &str, hashes: &Hashes) -> Option<Finding> {
        let differs =
            |(_, hash): &&(PathBuf, [u8; 32])| *hash != hashes.sha256 && *hash != hashes.blake3;
        let (list, _) = self.files.get(path)?.iter().find(differs)?;
        Some(Finding::new(
            "list-differs",
            format!("{} has another hash for it", list.display()),
            "kept the hash of what was read",
        ))
    }
}

/// Where the list of a dump that was copied lies: beside its folder, or within it where the folder is a disk's own root.
fn place_beside(root: &Path) -> PathBuf {
    let device = |folder: &Path| Disk::of(folder).map(|disk| disk.device).ok();
    match (root.parent(), root.file_name()) {
        (Some(above), Some(name)) if device(above) == device(root) => {
            let mut name = name.to_owned();
            name.push(".sha256");
            above.join(name)
        }
        _ => root.join("framefall.sha256"),
    }
}

/// Writes the list of a dump that was copied, with every file of it whose hash is known; where it is. A list of that name
/// that says something else is left alone, and ours has another name.
pub fn write_beside(catalogue: &Catalogue, dump_id: i64, root: &Path) -> Result<PathBuf, Failure> {
    let rows = catalogue.contents_of_dump(dump_id)?;
    let place = place_beside(root);
    let mut other = place.file_stem().unwrap_or_default().to_owned();
    other.push(".framefall.sha256");
    let other = place.with_file_name(other);
    for place in [&place, &other] {
        let text = text_of(&rows, root, place);
        let there = lists_beside(root)
            .into_iter()
            .find(|list| list.path == *place);
        match there {
            Some(there) if there.text == text => return Ok(place.clone()),
            Some(there) if !is_within(&there.text, &text) => {}
            None if place.exists() => {}
            _ => {
                write(place, &text, Overwrite::Yes)?;
                return Ok(place.clone());
            }
        }
    }
    let text = text_of(&rows, root, &other);
    write(&other, &text, Overwrite::Yes)?;
    Ok(other)
}

/// Writes a list of a dump's files to a file that is named; how many files are in it.
pub fn write_named(
    rows: &[ContentRow],
    root: &Path,
    to: &Path,
    overwrite: Overwrite,
) -> Result<(), Failure> {
    let folder = match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let place = folder
        .canonicalize()
        .map_or_else(|_| to.to_path_buf(), |folder| folder.join("list"));
    write(to, &text_of(rows, root, &place), overwrite)
}

fn write(to: &Path, text: &[u8], overwrite: Overwrite) -> Result<(), Failure> {
    let mut list = AtomicFile::begin(to, overwrite, "list of hashes")?;
    let written = list.out().write_all(text);
    match written {
        Ok(()) => list.keep(),
        Err(error) => Err(list.unwritable(error)),
    }
}

/// The lines of a list at this place. Names start from its folder where the dump is below that, else from the root of all.
fn text_of(rows: &[ContentRow], root: &Path, place: &Path) -> Vec<u8> {
    let folder = place.parent().unwrap_or(Path::new(""));
    let start = root.strip_prefix(folder).unwrap_or(root);
    let mut text = Vec::new();
    for row in rows {
        if let Some(sha256) = &row.sha256 {
            let name: OsString = start.join(below_of(&row.path)).into();
            // Writing into memory does not fail.
            let _ = write_line(&mut text, sha256, name.as_encoded_bytes());
        }
    }
    text
}

/// Whether all that one list says another says too: then nothing is lost with the first.
fn is_within(one: &[u8], other: &[u8]) -> bool {
    let (one, others) = read_list(one);
    let (other, _) = read_list(other);
    let other: HashMap<Vec<u8>, [u8; 32]> = other
        .into_iter()
        .map(|line| (line.name, line.hash))
        .collect();
    others == 0
        && one
            .iter()
            .all(|line| other.get(&line.name) == Some(&line.hash))
}
