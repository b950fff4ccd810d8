//! The kernel's table of mounts, parsed from its text: which mount contains a path. Opens nothing.
//!
//! Source: `proc_pid_mountinfo(5)`. One mount per line, fields separated by spaces:
//!
//! ```text
//! 36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue
//! (1)(2)(3)  (4)   (5)   (6)        (7)     (8)(9)  (10)      (11)
//! ```
//!
//! of which (3) is the device, (4) the folder of the file system that is mounted, (5) where, (7) any number of fields,
//! (8) a dash, (9) the type of file system, (10) the mount source. A space, tab, newline or backslash in a name is
//! written as a backslash and three octal digits.

use std::ffi::OsString;
use std::os::unix::ffi::OsStringExt;
use std::path::Path;
use std::path::PathBuf;

/// One mount.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mount {
    /// Major and minor number of the device, as `stat` gives them for files on it.
    pub device: (u32, u32),
    /// The folder of the file system that is mounted: `/`, or another for a bind mount or a subvolume.
    pub folder: PathBuf,
    /// Where it is mounted.
    pub at: PathBuf,
    /// The type of file system: `vfat`, `ext4`.
    pub kind: String,
    /// The mount source: `/dev/sdb1`, `server:/export`.
    pub source: PathBuf,
}

impl Mount {
    /// A path relative to the root of the file system itself.
    pub fn below(&self, path: &Path) -> Option<PathBuf> {
        let folder = self.folder.strip_prefix("/").unwrap_or(&self.folder);
        Some(folder.join(path.strip_prefix(&self.at).ok()?))
    }
}

/// The mount that contains a path.
///
/// Takes: the table's text; the path, absolute and free of links; the device that `stat` gives for it. Gives: the mount
/// of that device nearest to the path. If no mount has that device (a file system may give its parts other numbers),
/// the nearest of all. Of two mounts at one place the later hides the earlier.
pub fn mount_of(table: &[u8], path: &Path, device: Option<(u32, u32)>) -> Option<Mount> {
    let holding: Vec<Mount> = table
        .split(|byte| *byte == b'\n')
        .filter_map(mount)
        .filter(|mount| path.starts_with(&mount.at))
        .collect();
    let nearest = |of_device: Option<(u32, u32)>| {
        holding
            .iter()
            .filter(|mount| of_device.is_none_or(|device| mount.device == device))
            // The last of the greatest.
            .max_by_key(|mount| mount.at.components().count())
    };
    device
        .and_then(|device| nearest(Some(device)))
        .or_else(|| nearest(None))
        .cloned()
}

fn mount(line: &[u8]) -> Option<Mount> {
    let mut fields = line.split(|byte| *byte == b' ').filter(|f| !f.is_empty());
    let device = fields.by_ref().nth(2)?;
    let (folder, at) = (fields.next()?, fields.next()?);
    fields.by_ref().find(|field| *field == b"-")?;
    let (kind, source) = (fields.next()?, fields.next()?);
    let (major, minor) = std::str::from_utf8(device).ok()?.split_once(':')?;
    Some(Mount {
        device: (major.parse().ok()?, minor.parse().ok()?),
        folder: path(folder),
        at: path(at),
        kind: String::from_utf8_lossy(kind).into_owned(),
        source: path(source),
    })
}

fn path(field: &[u8]) -> PathBuf {
    PathBuf::from(OsString::from_vec(unescaped(field)))
}

/// A name without its octal escapes.
fn unescaped(field: &[u8]) -> Vec<u8> {
    let mut name = Vec::with_capacity(field.len());
    let mut rest = field;
    while let Some((first, after)) = rest.split_first() {
        if let (b'\\', [high, middle, low, ..]) = (first, after)
            && let Some(byte) = octal([*high, *middle, *low])
        {
            name.push(byte);
            rest = &after[3..];
        } else {
            name.push(*first);
            rest = after;
        }
    }
    name
}

fn octal(digits: [u8; 3]) -> Option<u8> {
    let value = digits.iter().try_fold(0_u32, |sum, digit| {
        (b'0'..=b'7')
            .contains(digit)
            .then(|| sum * 8 + u32::from(digit - b'0'))
    })?;
    u8::try_from(value).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::os::unix::ffi::OsStrExt;

    /// The example line of `proc_pid_mountinfo(5)`.
    const PUBLISHED: &[u8] =
        b"36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue\n";

    #[test]
    fn the_published_line_is_read_field_by_field() {
        let mount = mount_of(PUBLISHED, Path::new("/mnt2/a/b"), Some((98, 0))).unwrap();
        assert_eq!(mount.device, (98, 0));
        assert_eq!(mount.folder, Path::new("/mnt1"));
        assert_eq!(mount.at, Path::new("/mnt2"));
        assert_eq!(mount.kind, "ext3");
        assert_eq!(mount.source, Path::new("/dev/root"));
        assert_eq!(
            mount.below(Path::new("/mnt2/a/b")).unwrap(),
            Path::new("mnt1/a/b")
        );
        assert_eq!(mount_of(PUBLISHED, Path::new("/mnt20"), None), None);
    }

    /// From the manual: the seventh field may be missing or repeated; space, tab, newline and backslash are `\040`,
    /// `\011`, `\012` and `\134`.
    #[test]
    fn escapes_and_optional_fields_as_the_manual_has_them() {
        let table = b"90 20 8:17 / /media/MY\\040CARD\\134\\011A\\012 rw - vfat /dev/sdb1 rw\n\
            91 20 8:33 / /media/b\xFFd rw shared:1 master:2 propagate_from:3 - exfat /dev/sdc1 rw\n";
        let card = Path::new("/media/MY CARD\\\tA\n");
        let mount = mount_of(table, card, Some((8, 17))).unwrap();
        assert_eq!((mount.at.as_path(), mount.kind.as_str()), (card, "vfat"));
        assert_eq!(mount.below(card).unwrap(), Path::new(""));
        let odd = Path::new(std::ffi::OsStr::from_bytes(b"/media/b\xFFd/DCIM"));
        assert_eq!(mount_of(table, odd, Some((8, 33))).unwrap().kind, "exfat");
    }

    #[test]
    fn the_nearest_mount_of_the_files_own_device_holds_a_path() {
        let table = b"1 0 8:1 / / rw - ext4 /dev/sda1 rw\n\
            2 1 8:2 / /data rw - ext4 /dev/sda2 rw\n\
            3 2 8:3 / /data/cards rw - vfat /dev/sdb1 rw\n\
            4 1 8:4 / /data rw - xfs /dev/sdd1 rw\n\
            5 1 0:40 /@shots /pool rw - btrfs /dev/sde1 rw\n";
        let kind = |path: &str, device| {
            mount_of(table, Path::new(path), Some(device))
                .unwrap()
                .source
                .display()
                .to_string()
        };
        assert_eq!(kind("/home/x", (8, 1)), "/dev/sda1");
        // The later mount of /data hides the earlier and everything below it; the device decides.
        assert_eq!(kind("/data/cards/a", (8, 4)), "/dev/sdd1");
        assert_eq!(kind("/data/cards/a", (8, 3)), "/dev/sdb1");
        // A subvolume gives its files a device of their own that is in no line.
        assert_eq!(kind("/pool/2023", (0, 77)), "/dev/sde1");
        let pool = mount_of(table, Path::new("/pool/2023"), Some((0, 77))).unwrap();
        assert_eq!(
            pool.below(Path::new("/pool/2023")).unwrap(),
            Path::new("@shots/2023")
        );
        let last = mount_of(table, Path::new("/data/x"), None).unwrap();
        assert_eq!(last.source, Path::new("/dev/sdd1"));
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(table in proptest::collection::vec(any::<u8>(), 0..300)) {
            let _ = mount_of(&table, Path::new("/a"), Some((8, 1)));
        }

        #[test]
        fn a_name_written_with_escapes_reads_back(name in proptest::collection::vec(1_u8.., 1..40)) {
            let mut written = Vec::new();
            for byte in &name {
                if matches!(byte, b' ' | b'\t' | b'\n' | b'\\') {
                    written.extend_from_slice(format!("\\{byte:03o}").as_bytes());
                } else {
                    written.push(*byte);
                }
            }
            prop_assert_eq!(unescaped(&written), name);
        }
    }
}
