//! Names that a target's file system cannot hold: found before the first byte is written. Looks at no disk.

use std::collections::BTreeMap;
use std::path::Path;
use std::path::PathBuf;

use crate::capture::disk::Disk;

/// Signs that FAT, exFAT and NTFS under Windows refuse in a name; control characters besides. Source: the exFAT file system
/// specification (2019), section 7.7.3.
const REFUSED: &str = "\"*/:<>?\\|";

/// The longest name: 255 bytes on most file systems, 255 UTF-16 units on FAT, exFAT and NTFS.
const LONGEST: usize = 255;

/// A name that cannot be had.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfit {
    /// The file, below the card's root.
    pub below: PathBuf,
    /// Why.
    pub why: String,
}

/// The files of a card that a disk cannot hold by their names or their length.
pub fn unfit<'a>(disk: &Disk, files: impl Iterator<Item = (&'a Path, u64)>) -> Vec<Unfit> {
    let mut found = Vec::new();
    let mut seen: BTreeMap<String, &Path> = BTreeMap::new();
    for (below, bytes) in files {
        let mut wrong = |why: String| {
            found.push(Unfit {
                below: below.to_path_buf(),
                why,
            });
        };
        if let Some(why) = below.iter().find_map(|name| name_trouble(disk, name)) {
            wrong(why);
            continue;
        }
        if disk.longest_file().is_some_and(|longest| bytes > longest) {
            wrong(format!("{} holds no file of 4 GiB or more", disk.kind));
        }
        if disk.has_fat_names() {
            let alike = below.to_string_lossy().to_lowercase();
            if let Some(other) = seen.insert(alike, below) {
                wrong(format!(
                    "{} does not tell it from {}",
                    disk.kind,
                    other.display()
                ));
            }
        }
    }
    found
}

fn name_trouble(disk: &Disk, name: &std::ffi::OsStr) -> Option<String> {
    if !disk.has_fat_names() {
        let length = name.as_encoded_bytes().len();
        return (length > LONGEST).then(|| format!("a name of {length} bytes is too long"));
    }
    let Some(text) = name.to_str() else {
        return Some(format!(
            "{} holds no name that is not valid UTF-8",
            disk.kind
        ));
    };
    let length = text.encode_utf16().count();
    if length > LONGEST {
        return Some(format!("a name of {length} characters is too long"));
    }
    if let Some(sign) = text
        .chars()
        .find(|sign| sign.is_control() || REFUSED.contains(*sign))
    {
        return Some(format!(
            "{} holds no name with {}",
            disk.kind,
            sign.escape_default()
        ));
    }
    text.ends_with(['.', ' '])
        .then(|| format!("{} holds no name that ends in a dot or a blank", disk.kind))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unfit_on(kind: &str, files: &[(&str, u64)]) -> Vec<String> {
        let disk = Disk {
            kind: kind.to_owned(),
            device: 1,
            free: 0,
            block: 4096,
        };
        unfit(
            &disk,
            files.iter().map(|(name, bytes)| (Path::new(*name), *bytes)),
        )
        .into_iter()
        .map(|one| one.below.display().to_string())
        .collect()
    }

    #[test]
    fn signs_endings_and_case_that_fat_refuses() {
        let files = [
            ("DCIM/100A/IMG_0001.CR3", 1),
            ("DCIM/100A/img_0001.cr3", 1),
            ("DCIM/100A/12:30.JPG", 1),
            ("DCIM/what?/a.JPG", 1),
            ("notes.", 1),
            ("a\nb.txt", 1),
            ("Süd.txt", 1),
            ("film.MOV", 1 << 32),
        ];
        let fat = [
            "DCIM/100A/img_0001.cr3",
            "DCIM/100A/12:30.JPG",
            "DCIM/what?/a.JPG",
            "notes.",
            "a\nb.txt",
        ];
        assert_eq!(unfit_on("exfat", &files), fat);
        assert_eq!(unfit_on("vfat", &files), [&fat[..], &["film.MOV"]].concat());
        assert!(unfit_on("ext4", &files).is_empty());
        let long = "x".repeat(256);
        assert_eq!(unfit_on("ext4", &[(&long, 1)]), [long]);
    }
}
