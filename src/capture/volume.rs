//! Which volume a folder is on, as far as the platform shows it without special rights. Writes nothing, guesses
//! nothing.

use std::path::Path;

use crate::terms::volume::Volume;

/// The volume that a folder is on.
///
/// Takes: the folder by its resolved name, from [`crate::capture::walk::root_of`]. Gives: on Linux the number and name
/// under which the system lists the disk; elsewhere what the path itself shows. Unknown in a container, on a layered
/// file system, and on one in memory.
pub fn volume_of(folder: &Path) -> Volume {
    #[cfg(target_os = "linux")]
    return linux::volume_of(folder);
    #[cfg(not(target_os = "linux"))]
    return by_path(folder);
}

/// Whether two paths lead to the same folder, for example on a disk that is mounted twice.
#[cfg(unix)]
pub fn same_folder(one: &Path, other: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (std::fs::metadata(one), std::fs::metadata(other)) {
        (Ok(one), Ok(other)) => (one.dev(), one.ino()) == (other.dev(), other.ino()),
        _ => false,
    }
}

/// Whether two paths lead to the same folder.
#[cfg(not(unix))]
pub fn same_folder(one: &Path, other: &Path) -> bool {
    matches!((one.canonicalize(), other.canonicalize()), (Ok(one), Ok(other)) if one == other)
}

/// Disks mounted under their own names, in one folder for all of them.
///
/// Source: macOS mounts disks at `/Volumes/NAME`; common practice.
#[cfg_attr(target_os = "linux", allow(dead_code))] // tested on every platform
fn by_path(folder: &Path) -> Volume {
    let Ok(named) = folder.strip_prefix("/Volumes") else {
        return Volume::default();
    };
    let mut parts = named.components();
    let Some(label) = parts.next() else {
        return Volume::default();
    };
    Volume {
        id: None,
        label: Some(label.as_os_str().to_string_lossy().into_owned()),
        below: Some(parts.as_path().to_path_buf()),
    }
}

#[cfg(target_os = "linux")]
mod linux {
    use std::fs;
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::fs::MetadataExt;
    use std::path::Path;

    use crate::terms::mountinfo::Mount;
    use crate::terms::mountinfo::mount_of;
    use crate::terms::volume::Volume;

    /// File systems whose number in `statfs` comes from a number stored on the disk. Others, FAT and exFAT among them,
    /// give the device's number: the next card in the same slot would have it too.
    ///
    /// Source: the kernel's own code for them; from memory.
    const NUMBERED_ON_DISK: &[&str] = &["ext2", "ext3", "ext4", "btrfs"];

    /// File systems on another computer; their mount source is their name.
    const SHARES: &[&str] = &["nfs", "nfs4", "cifs", "smb3"];

    pub(super) fn volume_of(folder: &Path) -> Volume {
        let Ok(table) = fs::read("/proc/self/mountinfo") else {
            return Volume::default();
        };
        volume_in(&table, Path::new("/dev/disk"), folder)
    }

    /// The same with a given table of mounts and given folders of disks by number and by name.
    pub(super) fn volume_in(table: &[u8], disks: &Path, folder: &Path) -> Volume {
        let Ok(about) = fs::metadata(folder) else {
            return Volume::default();
        };
        let device = (
            rustix::fs::major(about.dev()),
            rustix::fs::minor(about.dev()),
        );
        let Some(mount) = mount_of(table, folder, Some(device)) else {
            return Volume::default();
        };
        let id = named_in(&disks.join("by-uuid"), &mount, about.dev())
            .or_else(|| number_on_disk(&mount, folder));
        let label = named_in(&disks.join("by-label"), &mount, about.dev()).or_else(|| {
            let share = SHARES.contains(&mount.kind.as_str());
            share.then(|| mount.source.to_string_lossy().into_owned())
        });
        let known = id.is_some() || label.is_some();
        Volume {
            id,
            label,
            below: mount.below(folder).filter(|_| known),
        }
    }

    /// The name in a folder of links that leads to the disk a file system was mounted from.
    fn named_in(folder: &Path, mount: &Mount, device: u64) -> Option<String> {
        let source = mount.source.canonicalize().ok();
        let found = fs::read_dir(folder).ok()?.flatten().find(|entry| {
            let Ok(target) = entry.path().canonicalize() else {
                return false;
            };
            source.as_ref() == Some(&target)
                || fs::metadata(&target).is_ok_and(|disk| disk.rdev() == device && device != 0)
        })?;
        Some(unescaped(found.file_name().as_bytes()))
    }

    fn number_on_disk(mount: &Mount, folder: &Path) -> Option<String> {
        if !NUMBERED_ON_DISK.contains(&mount.kind.as_str()) {
            return None;
        }
        let number = rustix::fs::statvfs(folder).ok()?.f_fsid;
        (number != 0).then(|| format!("{number:016x}"))
    }

    /// A name of the links without its escapes: `MY\x20CARD`.
    ///
    /// Source: udev writes unusual characters of a name as `\xNN`; udev(7), from memory.
    pub(super) fn unescaped(name: &[u8]) -> String {
        let mut plain = Vec::with_capacity(name.len());
        let mut rest = name;
        while let Some((first, after)) = rest.split_first() {
            let escaped = after
                .strip_prefix(b"x")
                .filter(|_| *first == b'\\')
                .and_then(|digits| std::str::from_utf8(digits.get(..2)?).ok())
                .filter(|digits| digits.bytes().all(|b| b.is_ascii_hexdigit()))
                .and_then(|digits| u8::from_str_radix(digits, 16).ok());
            plain.push(escaped.unwrap_or(*first));
            rest = if escaped.is_some() {
                &after[3..]
            } else {
                after
            };
        }
        String::from_utf8_lossy(&plain).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disk_mounted_under_its_name_says_it() {
        let volume = by_path(Path::new("/Volumes/ARCHIVE 2/2023/card-a"));
        assert_eq!(volume.label.as_deref(), Some("ARCHIVE 2"));
        assert_eq!(volume.below.as_deref(), Some(Path::new("2023/card-a")));
        assert_eq!(by_path(Path::new("/home/me/cards")), Volume::default());
        let own = by_path(Path::new("/Volumes/CARD"));
        assert_eq!(own.below.as_deref(), Some(Path::new("")));
    }

    #[cfg(target_os = "linux")]
    mod linux {
        use super::super::linux::*;
        use super::super::*;
        use std::os::unix::fs::MetadataExt;
        use std::os::unix::fs::symlink;

        /// A folder that acts as a disk mounted at itself, and the mount table for it.
        fn world(kind: &str) -> (tempfile::TempDir, std::path::PathBuf, Vec<u8>) {
            let world = tempfile::tempdir().unwrap();
            let at = world.path().canonicalize().unwrap();
            std::fs::create_dir_all(at.join("card/DCIM")).unwrap();
            for folder in ["disk/by-uuid", "disk/by-label"] {
                std::fs::create_dir_all(at.join(folder)).unwrap();
            }
            std::fs::write(at.join("sdb1"), b"").unwrap();
            std::fs::write(at.join("sda1"), b"").unwrap();
            let device = std::fs::metadata(&at).unwrap().dev();
            let table = format!(
                "1 0 254:99 / / rw - ext4 /dev/none rw\n90 1 {}:{} / {}/card rw shared:7 - {kind} {} rw\n",
                rustix::fs::major(device),
                rustix::fs::minor(device),
                at.display(),
                at.join("sdb1").display(),
            );
            (world, at, table.into_bytes())
        }

        #[test]
        fn a_disk_is_known_by_the_links_that_lead_to_it() {
            let (_world, at, table) = world("vfat");
            for (link, disk) in [
                ("by-uuid/0000-0001", "sda1"),
                ("by-uuid/1A2B-3C4D", "sdb1"),
                ("by-label/MY\\x20CARD", "sdb1"),
                ("by-label/OTHER", "sda1"),
                ("by-label/BROKEN", "gone"),
            ] {
                symlink(at.join(disk), at.join("disk").join(link)).unwrap();
            }
            let volume = volume_in(&table, &at.join("disk"), &at.join("card/DCIM"));
            assert_eq!(volume.id.as_deref(), Some("1A2B-3C4D"));
            assert_eq!(volume.label.as_deref(), Some("MY CARD"));
            assert_eq!(volume.below.as_deref(), Some(Path::new("DCIM")));
            let own = volume_in(&table, &at.join("disk"), &at.join("card"));
            assert_eq!(own.below.as_deref(), Some(Path::new("")));
        }

        #[test]
        fn where_nothing_is_listed_nothing_is_known() {
            for kind in ["vfat", "exfat", "overlay", "tmpfs"] {
                let (_world, at, table) = world(kind);
                let volume = volume_in(&table, &at.join("nowhere"), &at.join("card"));
                assert_eq!(volume, Volume::default(), "{kind}");
            }
            let (_world, at, _) = world("ext4");
            assert_eq!(
                volume_in(b"", &at.join("disk"), &at.join("card")),
                Volume::default()
            );
            assert_eq!(
                volume_in(b"", &at.join("disk"), &at.join("gone")),
                Volume::default()
            );
        }

        #[test]
        fn a_share_is_named_by_where_it_comes_from() {
            let (_world, at, _) = world("ext4");
            let device = std::fs::metadata(&at).unwrap().dev();
            let table = format!(
                "9 1 {}:{} / {} rw - nfs4 store:/pictures rw\n",
                rustix::fs::major(device),
                rustix::fs::minor(device),
                at.display()
            );
            let volume = volume_in(table.as_bytes(), &at.join("disk"), &at.join("card"));
            assert_eq!(volume.label.as_deref(), Some("store:/pictures"));
            assert_eq!(volume.below.as_deref(), Some(Path::new("card")));
        }

        #[test]
        fn escapes_that_are_none_stay_as_they_are() {
            assert_eq!(unescaped(b"A\\x2fB"), "A/B");
            assert_eq!(unescaped(b"A\\x2"), "A\\x2");
            assert_eq!(unescaped(b"A\\xzz\\"), "A\\xzz\\");
            assert_eq!(unescaped(b"\\x+1"), "\\x+1");
        }

        #[test]
        fn one_folder_by_two_names_is_one() {
            let (_world, at, _) = world("ext4");
            symlink(at.join("card"), at.join("other")).unwrap();
            assert!(same_folder(&at.join("card"), &at.join("other")));
            assert!(!same_folder(&at.join("card"), &at));
            assert!(!same_folder(&at.join("card"), &at.join("gone")));
        }
    }
}
