//! Lists of hashes that lie in a dump's root or beside it: found by their names, and read. Understands no line of them.

use std::ffi::OsStr;
use std::io::Read;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::folder::EntryKind;
use crate::capture::folder::entries;
use crate::capture::folder::open;

/// How the names of such lists end, in small letters, or what they are as a whole. Common practice, no source.
const ENDINGS: &[&str] = &[
    ".sha256",
    ".sha256sum",
    ".sha256sums",
    ".b3",
    ".b3sum",
    ".b3sums",
    ".blake3",
];
const WHOLE_NAMES: &[&str] = &[
    "sha256sums",
    "sha256sums.txt",
    "sha256sum.txt",
    "b3sums",
    "b3sums.txt",
    "b3sum.txt",
    "checksums.txt",
];

/// The longest list that is read: a million files.
const LONGEST: u64 = 256 << 20;

/// A list that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoundList {
    /// Where it is. The names in it start from its folder.
    pub path: PathBuf,
    /// What is in it.
    pub text: Vec<u8>,
}

/// The lists in a folder and in the folder around it. What cannot be read counts as not there.
pub fn lists_beside(root: &Path) -> Vec<FoundList> {
    let mut found = Vec::new();
    for folder in [Some(root), root.parent()].into_iter().flatten() {
        let Ok(entries) = entries(folder) else {
            continue;
        };
        let mut names: Vec<_> = entries
            .flatten()
            .filter(|entry| entry.kind == EntryKind::File && is_list(&entry.name))
            .map(|entry| entry.name)
            .collect();
        names.sort_unstable();
        for name in names {
            let path = folder.join(name);
            let mut text = Vec::new();
            let read = open(&path).and_then(|file| file.take(LONGEST).read_to_end(&mut text));
            if read.is_ok() {
                found.push(FoundList { path, text });
            }
        }
    }
    found
}

fn is_list(name: &OsStr) -> bool {
    let name = name.to_string_lossy().to_lowercase();
    WHOLE_NAMES.contains(&name.as_str()) || ENDINGS.iter().any(|end| name.ends_with(end))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_are_known_by_their_names() {
        let around = tempfile::tempdir().unwrap();
        let root = around.path().join("card");
        std::fs::create_dir_all(root.join("DCIM")).unwrap();
        for name in [
            "card.sha256",
            "other.txt",
            "card/B3SUMS",
            "card/DCIM/deep.sha256",
        ] {
            std::fs::write(around.path().join(name), name).unwrap();
        }
        let found: Vec<_> = lists_beside(&root)
            .into_iter()
            .map(|list| String::from_utf8(list.text).unwrap())
            .collect();
        assert_eq!(found, ["card/B3SUMS", "card.sha256"]);
    }
}
