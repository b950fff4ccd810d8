//! What a file system can hold, and whether its device can be asked: looked up before the first byte is written.

use std::io;
use std::path::Path;
use std::path::PathBuf;

/// File systems that live in memory. There is no device to read back from.
const IN_MEMORY: &[&str] = &["tmpfs", "ramfs", "devtmpfs", "hugetlbfs"];

/// File systems on another computer, or served by a program: what they give back may come from its memory.
const ELSEWHERE: &[&str] = &[
    "nfs", "nfs4", "cifs", "smb3", "9p", "virtiofs", "fuse", "fuseblk", "afs", "ceph",
];

/// File systems with the names of FAT. Source: the exFAT file system specification (2019), section 7.7.3; the same signs
/// are refused by FAT's long names and by Windows on NTFS.
const WITH_FAT_NAMES: &[&str] = &["vfat", "msdos", "exfat", "ntfs", "ntfs3", "fuseblk"];

/// The longest file on FAT: 4 GiB less one byte. Source: the FAT specification (2000), `DIR_FileSize` has 32 bits.
const LONGEST_ON_FAT: u64 = u32::MAX as u64;

/// The file system that a folder is on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Disk {
    /// Its kind, as the system names it: `ext4`, `vfat`; empty where it is not known.
    pub kind: String,
    /// The number by which the system tells devices apart: two targets with the same are on one device.
    pub device: u64,
    /// The bytes that may still be written.
    pub free: u64,
    /// The unit in which space is given to files.
    pub block: u64,
}

impl Disk {
    /// The disk of a folder, or of the nearest folder above it that is there.
    pub fn of(folder: &Path) -> io::Result<Self> {
        let there = nearest(folder)?;
        system::disk_of(&there)
    }

    /// Whether what is read past the cache comes from a device of this computer.
    pub fn is_device(&self) -> bool {
        !self.kind.is_empty()
            && !IN_MEMORY.contains(&self.kind.as_str())
            && !ELSEWHERE.contains(&self.kind.as_str())
            && !self.kind.starts_with("fuse.")
    }

    /// Whether names are limited to those of FAT, and letters' case does not tell names apart.
    pub fn has_fat_names(&self) -> bool {
        let served = self.kind.strip_prefix("fuse.").unwrap_or_default();
        WITH_FAT_NAMES.contains(&self.kind.as_str())
            || served.contains("fat")
            || served.contains("ntfs")
    }

    /// The longest file that it can hold, where there is such a limit.
    pub fn longest_file(&self) -> Option<u64> {
        matches!(self.kind.as_str(), "vfat" | "msdos").then_some(LONGEST_ON_FAT)
    }

    /// The space that a file of this length takes.
    pub fn space_of(&self, bytes: u64) -> u64 {
        bytes.div_ceil(self.block.max(1)) * self.block.max(1)
    }
}

/// The nearest place on the way up that is there, links resolved.
fn nearest(folder: &Path) -> io::Result<PathBuf> {
    let mut found = Err(io::ErrorKind::NotFound.into());
    for at in folder.ancestors() {
        let at = if at.as_os_str().is_empty() {
            Path::new(".")
        } else {
            at
        };
        found = at.canonicalize();
        if found.is_ok() {
            break;
        }
    }
    found
}

#[cfg(target_os = "linux")]
mod system {
    use std::io;
    use std::os::unix::fs::MetadataExt;
    use std::path::Path;

    use crate::capture::disk::Disk;
    use crate::terms::mountinfo::mount_of;

    pub(super) fn disk_of(folder: &Path) -> io::Result<Disk> {
        let device = std::fs::metadata(folder)?.dev();
        let numbers = (rustix::fs::major(device), rustix::fs::minor(device));
        let kind = std::fs::read("/proc/self/mountinfo")
            .ok()
            .and_then(|table| mount_of(&table, folder, Some(numbers)))
            .map_or_else(String::new, |mount| mount.kind);
        let about = rustix::fs::statvfs(folder)?;
        Ok(Disk {
            kind,
            device,
            free: about.f_bavail.saturating_mul(about.f_frsize),
            block: about.f_frsize,
        })
    }
}

#[cfg(not(target_os = "linux"))]
mod system {
    use std::io;
    use std::path::Path;

    use crate::capture::disk::Disk;

    /// Elsewhere a disk is not asked; one that is full says so when it is written to.
    pub(super) fn disk_of(folder: &Path) -> io::Result<Disk> {
        std::fs::metadata(folder)?;
        Ok(Disk {
            kind: String::new(),
            device: 0,
            free: u64::MAX,
            block: 1,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_kind(kind: &str) -> Disk {
        Disk {
            kind: kind.to_owned(),
            device: 1,
            free: 0,
            block: 4096,
        }
    }

    #[test]
    fn only_devices_of_this_computer_can_be_asked() {
        for (kind, is_device) in [
            ("ext4", true),
            ("vfat", true),
            ("exfat", true),
            ("tmpfs", false),
            ("nfs4", false),
            ("fuse.sshfs", false),
            ("", false),
        ] {
            assert_eq!(of_kind(kind).is_device(), is_device, "{kind}");
        }
        assert_eq!(of_kind("vfat").longest_file(), Some(4_294_967_295));
        assert_eq!(of_kind("exfat").longest_file(), None);
        for (kind, has) in [
            ("fuse.fusefat", true),
            ("fuse.ntfs-3g", true),
            ("fuse.sshfs", false),
            ("ext4", false),
        ] {
            assert_eq!(of_kind(kind).has_fat_names(), has, "{kind}");
        }
    }

    #[test]
    fn space_is_given_in_blocks() {
        let disk = of_kind("ext4");
        assert_eq!(
            [0, 1, 4096, 4097].map(|bytes| disk.space_of(bytes)),
            [0, 4096, 4096, 8192]
        );
    }

    #[test]
    fn a_folder_that_is_not_there_yet_is_on_the_disk_of_the_one_above() {
        let folder = tempfile::tempdir().unwrap();
        let there = Disk::of(folder.path()).unwrap();
        let not_yet = Disk::of(&folder.path().join("a/b/c")).unwrap();
        assert_eq!((there.device, there.kind), (not_yet.device, not_yet.kind));
    }
}
